package ingest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// age makes the frames of the shoot what an older version left: what it knew
// of them, a title, that the file does not have, and nothing newer.
func (b *bench) age() {
	b.Helper()
	for _, f := range b.frames() {
		f.Measured, f.Title = Measures-1, "of old"
		f.Look.Focus, f.Look.Light, f.Look.Rims, f.Look.Matters, f.Look.Profile = nil, nil, nil, nil, ""
		if err := b.store.Put(b.Context(), f); err != nil {
			b.Fatal(err)
		}
	}
}

func cardOf(t *testing.T, n int) string {
	card := filepath.Join(t.TempDir(), "A001")
	for i := range n {
		one := bodyA
		one.shade, one.taken = byte(10+i), fmt.Sprintf("2026:03:04 12:00:%02d", i)
		put(t, card, fmt.Sprintf("DCIM/100ABCDE/DSC_%04d.JPG", i+1), one.jpeg(t))
	}
	return card
}

func TestOldFramesAreMeasuredAgainWithoutTheirCard(t *testing.T) {
	b, first, second := newBench(t), cardOf(t, 5), filepath.Join(t.TempDir(), "A002")
	b.ingest(Options{}, first)
	want := b.frames()
	for _, f := range want {
		if f.Measured != Measures {
			t.Errorf("a new frame is measured in way %d, want %d", f.Measured, Measures)
		}
	}
	b.age()
	if err := os.RemoveAll(first); err != nil {
		t.Fatal(err)
	}
	later := bodyB
	later.taken = "2026:03:04 18:00:00"
	put(t, second, "DCIM/100ABCDE/DSC_0099.JPG", later.jpeg(t))
	sum, events := b.ingest(Options{}, second)
	if sum.Renewed != 5 || sum.Away != 0 || sum.Unread != 0 || sum.NewFrames != 1 || sum.Files != 1 {
		t.Errorf("%+v; want 5 measured again beside 1 new", sum)
	}
	told := 0
	for _, e := range events {
		if e.State == StateRenewed {
			if told++; e.Renewed != told || e.ToRenew != 5 || e.Frame == nil || e.Err != nil {
				t.Errorf("event %d: %+v", told, e)
			}
		}
	}
	if told != 5 {
		t.Errorf("%d were told of, want 5", told)
	}
	got := b.frames()[:5]
	if d := cmp.Diff(want, got, cmpopts.EquateEmpty()); d != "" {
		t.Errorf("a frame measured again is what it was when new (-want +got):\n%s", d)
	}
	// Once is enough.
	if sum, _ := b.ingest(Options{}, second); sum.Renewed != 0 {
		t.Errorf("again: %+v", sum)
	}
}

func TestRenew(t *testing.T) {
	b, card := newBench(t), cardOf(t, 6)
	b.ingest(Options{}, card)
	b.age()
	// One original is gone, and one is broken though of its size.
	frames := b.frames()
	lost, broken := onDisk(b.shoot, frames[0].Path()), onDisk(b.shoot, frames[1].Path())
	if err := os.Rename(lost, lost+".elsewhere"); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(broken, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(broken, make([]byte, frames[1].Files[0].Size), 0o644); err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancelCause(t.Context())
	enough := errors.New("enough")
	sum, err := Renew(ctx, b.store, b.shoot, 1, func(e Event) { stop(enough) })
	if !errors.Is(err, enough) || sum.Renewed == 0 || sum.Renewed > 2 {
		t.Fatalf("stopped after the first: %+v, %v", sum, err)
	}
	done := sum.Renewed
	sum, err = Renew(t.Context(), b.store, b.shoot, 2, nil)
	if err != nil || sum.Renewed != 5-done || sum.Away != 1 {
		t.Errorf("the next run: %+v, %v; want %d measured again, 1 away", sum, err, 5-done)
	}
	for i, f := range b.frames() {
		switch {
		case i == 0 && (f.Measured != Measures-1 || f.Title != "of old" || f.Unread != ""):
			t.Errorf("the lost one was touched: %+v", f)
		case i == 1 && (f.Unread == "" || f.Look.Preview == "" || len(f.Look.Palette) == 0):
			t.Errorf("the broken one: unread %q, look %+v; want the fault told and the old look kept", f.Unread, f.Look)
		case i == 1 && f.Taken.IsZero():
			t.Error("the broken one lost its time")
		case i > 0 && f.Measured != Measures, i > 1 && f.Title != "":
			t.Errorf("frame %d was not measured again: %+v", i, f)
		}
	}
	if _, err := b.store.MeasuredBefore(t.Context(), Measures); err != nil {
		t.Fatal(err)
	}
	// A run at work keeps another out.
	release, err := lock(b.shoot)
	if err != nil {
		t.Fatal(err)
	}
	defer release()
	if _, err := Renew(t.Context(), b.store, b.shoot, 0, nil); !errors.Is(err, ErrBusy) {
		t.Errorf("beside another run: %v, want ErrBusy", err)
	}
}

func TestNothingIsMeasuredAgainInAStoppedRun(t *testing.T) {
	b, card := newBench(t), cardOf(t, 2)
	b.ingest(Options{}, card)
	b.age()
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, err := Run(ctx, b.store, Options{Shoot: b.shoot, Sources: []string{card}}, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("err = %v", err)
	}
	for _, f := range b.frames() {
		if f.Measured == Measures {
			t.Error("a frame was measured")
		}
	}
}

// Pixels are measured when everything is copied, read back and in the
// catalogue: the card may be pulled then.
func TestTheCardIsLetGoBeforePixelsAreMeasured(t *testing.T) {
	b, card := newBench(t), cardOf(t, 6)
	put(t, card, "DCIM/100ABCDE/DSC_0007.JPG", bodyB.jpeg(t)[:700])
	put(t, card, "DCIM/100ABCDE/DSC_0008.MP4", []byte("clip"))
	pulled, measured := false, 0
	sum, err := Run(t.Context(), b.store, Options{Shoot: b.shoot, Sources: []string{card}, Workers: 1}, func(e Event) {
		if e.ToMeasure == 0 {
			if e.State == StateMeasured {
				t.Errorf("%s is measured before the card is done with", e.Source)
			}
			return
		}
		if !pulled {
			cards, err := b.store.Cards(t.Context())
			if err != nil || len(cards) != 1 || !cards[0].Whole || e.FilesDone != 8 || len(b.originals()) != 8 {
				t.Errorf("cards %+v, %v; %d files done, %d originals", cards, err, e.FilesDone, len(b.originals()))
			}
			b.manifest()
			if err := os.RemoveAll(card); err != nil {
				t.Fatal(err)
			}
			pulled = true
		}
		if e.State == "" {
			return
		}
		if measured++; e.Measured != measured || e.ToMeasure != 7 {
			t.Errorf("event %d: %d of %d measured", measured, e.Measured, e.ToMeasure)
		}
		if cut := filepath.Base(e.Source) == "DSC_0007.JPG"; cut != (e.Err != nil) || cut != (e.State == StateUnread) {
			t.Errorf("%s: %q, %v", e.Source, e.State, e.Err)
		}
	})
	if err != nil || measured != 7 || sum.NewFrames != 7 || sum.Unread != 1 || sum.Renewed != 0 {
		t.Errorf("%d measured, %+v, %v", measured, sum, err)
	}
	for _, f := range b.frames() {
		if f.Measured != Measures || f.Unread == "" && f.Look.Preview == "" {
			t.Errorf("%s: measured in way %d, preview %q", f.Path(), f.Measured, f.Look.Preview)
		}
	}
	b.sound()
}
