package ingest

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"coverplate/ingest/catalogue"
)

// lose takes the catalogue away, as a failing disk does.
func (b *bench) lose() {
	b.Helper()
	b.store.Close()
	for _, end := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(filepath.Join(b.shoot, "catalogue.db"+end)); err != nil && !errors.Is(err, os.ErrNotExist) {
			b.Fatal(err)
		}
	}
	b.open()
}

func (b *bench) examine() Health {
	b.Helper()
	h, err := Examine(b.Context(), b.store, b.shoot)
	if err != nil {
		b.Fatal(err)
	}
	return h
}

func (b *bench) rebuild() Rebuilt {
	b.Helper()
	r, err := Rebuild(b.Context(), b.store, b.shoot, nil)
	if err != nil {
		b.Fatal(err)
	}
	return r
}

// facts are frames without what a rebuild can't know: cards, and when files were
// verified.
func facts(all []catalogue.Frame) []catalogue.Frame {
	for i := range all {
		for j := range all[i].Files {
			f := &all[i].Files[j]
			f.Card, f.Source, f.Verified = "", "", time.Time{}
		}
	}
	return all
}

func TestRebuildALostCatalogue(t *testing.T) {
	b, card := newBench(t), someCard(t, 3)
	twin := body{"Model A", "111", "2026:03:04 12:00:00", 77} // the name and folder of another: a suffix
	put(t, card, "DCIM/101ABCDE/DSC_0000.JPG", twin.jpeg(t))
	put(t, card, "DCIM/101ABCDE/DSC_0000.xmp", xmp("4"))
	put(t, card, "MISC/AUTPRINT.MRK", []byte("a print order"))
	b.ingest(Options{}, card)
	chosen := b.frames()[1]
	for _, d := range []catalogue.Decision{
		{Kind: catalogue.Assign, Frame: chosen.ID, Recipe: "R07"}, {Kind: catalogue.Choose, Frame: chosen.ID, Need: "hero"},
		{Kind: catalogue.Waive, Recipe: "R08", Need: "half", Why: "the editor wants none"}, {Kind: catalogue.Undo, Undoes: 2},
	} {
		if _, err := b.store.Decide(t.Context(), d); err != nil {
			t.Fatal(err)
		}
	}
	before, err := b.store.Frames(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	decisions, err := b.store.Decisions(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	paths := b.originals()

	b.lose()
	if h := b.examine(); h.Well() || len(h.Unknown) != len(paths) || len(h.Missing)+len(h.Broken) != 0 {
		t.Errorf("a lost catalogue: %+v", h)
	}
	r := b.rebuild()
	if r.Files != len(paths) || r.Frames != 4 || len(r.Faults) != 0 || r.Manifest != "" {
		t.Errorf("%+v, want %d files, 4 frames", r, len(paths))
	}
	after, err := b.store.Frames(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range after {
		for _, file := range f.Files {
			if file.Verified.IsZero() {
				t.Errorf("%s is in the manifest and not verified", file.Path)
			}
		}
	}
	x, y := facts(before), facts(after)
	for i := range x {
		if x[i].ID != y[i].ID || names(x[i]) != names(y[i]) || x[i].Path() != y[i].Path() || !x[i].Taken.Equal(y[i].Taken) || x[i].Camera != y[i].Camera || len(y[i].Look.Palette) != len(x[i].Look.Palette) {
			t.Errorf("frame %d was\n%+v\nand is\n%+v", i, x[i], y[i])
		}
	}
	others, err := b.store.Others(t.Context())
	if err != nil || len(others) != 2 || others[0].Card != "A001" || others[0].Source != "MISC/AUTPRINT.MRK" {
		t.Errorf("others: %+v, %v", others, err)
	}
	again, err := b.store.Decisions(t.Context())
	if err != nil || !slices.EqualFunc(decisions, again, func(a, b catalogue.Decision) bool {
		return a.ID == b.ID && a.Kind == b.Kind && a.Frame == b.Frame && a.Undoes == b.Undoes
	}) {
		t.Errorf("decisions were\n%+v\nand are\n%+v, %v", decisions, again, err)
	}
	b.sound()
	if h := b.examine(); !h.Well() {
		t.Errorf("afterwards: %+v", h)
	}
	if r := b.rebuild(); r.Files != 0 || r.Frames != 0 || len(r.Faults) != 0 {
		t.Errorf("once more: %+v", r)
	}
	// The card, read again, is known by its content.
	if sum, _ := b.ingest(Options{}, card); sum.Copied != 0 || sum.NewFrames != 0 {
		t.Errorf("the card again: %+v", sum)
	}
	if s := b.cards(1, false, card)[0]; !s.Format {
		t.Errorf("what the manifest vouches for counts as verified: %s", lacking(s))
	}
}

func TestRebuildVouchesForNothingItCannot(t *testing.T) {
	b := newBench(t)
	b.ingest(Options{}, someCard(t, 2))
	folder := filepath.Join(b.shoot, "originals/2026-03-04/Model_A-111")
	spoil(t, filepath.Join(folder, "DSC_0001.JPG"), func(c []byte) []byte { c[len(c)-3] ^= 1; return c })
	put(t, folder, "DSC_0009.JPG", bodyB.jpeg(t))
	b.lose()
	r := b.rebuild()
	if r.Files != 6 || len(r.Faults) != 2 || r.Manifest == "" {
		t.Errorf("%+v", r)
	}
	for _, f := range b.frames() {
		for _, file := range f.Files {
			if doubt := strings.HasSuffix(file.Path, "1.JPG") || strings.HasSuffix(file.Path, "9.JPG"); doubt != file.Verified.IsZero() {
				t.Errorf("%s: verified %v", file.Path, file.Verified)
			}
		}
	}
	old, err := os.ReadFile(filepath.Join(b.shoot, r.Manifest))
	if err != nil || !strings.Contains(string(old), "DSC_0001.JPG") {
		t.Errorf("the old manifest: %v", err)
	}
}

func TestExamineNamesWhatIsWrong(t *testing.T) {
	b := newBench(t)
	b.ingest(Options{}, someCard(t, 2))
	folder := filepath.Join(b.shoot, "originals/2026-03-04/Model_A-111")
	if err := os.Remove(filepath.Join(folder, "DSC_0000.NEF")); err != nil {
		t.Fatal(err)
	}
	spoil(t, filepath.Join(folder, "DSC_0001.JPG"), func(c []byte) []byte { return c[:9] })
	put(t, folder, "foreign.jpg", []byte("x"))
	if err := os.RemoveAll(filepath.Join(b.shoot, previews)); err != nil {
		t.Fatal(err)
	}
	h := b.examine()
	if len(h.Missing) != 2 || h.Missing[0].Says != "is missing" && h.Missing[1].Says != "is missing" || len(h.Unknown) != 1 || h.Previews != 2 || len(h.Broken) != 0 {
		t.Errorf("%+v", h)
	}
	// A catalogue whose pages were written over.
	b.store.Close()
	name := filepath.Join(b.shoot, "catalogue.db")
	content, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	for i := 4096 * 3; i < len(content)-4096 && i < 4096*9; i++ {
		content[i] = 0xa5
	}
	if err := os.WriteFile(name, content, 0o644); err != nil {
		t.Fatal(err)
	}
	store, err := catalogue.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	if broken, err := store.Integrity(t.Context()); err != nil || len(broken) == 0 {
		t.Errorf("a spoilt catalogue is called sound: %v, %v", broken, err)
	}
}
