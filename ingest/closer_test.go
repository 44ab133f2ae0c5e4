package ingest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"coverplate/ingest/catalogue"
)

// disc is a JPEG of a bright disc on grey, its edge soft over so many pixels.
func disc(t *testing.T, shade byte, soft float64) []byte {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 960, 640))
	for i := range img.Pix {
		in := (180 - math.Hypot(float64(i%960-480), float64(i/960-320))) / max(soft, 1)
		img.Pix[i] = shade + uint8(140*min(max(in+0.5, 0), 1))
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

func TestCloserStoresWhatIsSeenAndWhatCannotBe(t *testing.T) {
	b, card := newBench(t), filepath.Join(t.TempDir(), "A001")
	put(t, card, "DCIM/100ABCDE/SHARP.JPG", disc(t, 60, 1))
	put(t, card, "DCIM/100ABCDE/EVEN.JPG", disc(t, 60, 300))
	put(t, card, "DCIM/100ABCDE/GONE.JPG", disc(t, 70, 1))
	put(t, card, "DCIM/100ABCDE/HURT.JPG", disc(t, 80, 1))
	b.ingest(Options{}, card)
	at := map[string]catalogue.Frame{}
	ids := []catalogue.FrameID{"of no frame"}
	for _, f := range b.frames() {
		at[strings.TrimSuffix(f.Files[0].Name, ".JPG")] = f
		ids = append(ids, f.ID)
	}
	gone, hurt := onDisk(b.shoot, at["GONE"].Path()), onDisk(b.shoot, at["HURT"].Path())
	whole, err := os.ReadFile(hurt)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(os.Remove(gone), os.Chmod(hurt, 0o644), os.WriteFile(hurt, whole[:20], 0o644)); err != nil {
		t.Fatal(err)
	}
	said := map[string]string{}
	err = Closer(t.Context(), b.store, b.shoot, ids, func(f catalogue.Frame, err error) {
		name := strings.TrimSuffix(f.Files[0].Name, ".JPG")
		if said[name] = "read"; err != nil {
			said[name] = err.Error()
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]struct {
		says   string
		stored bool // that it can't be told
	}{
		"SHARP": {"read", false},
		"EVEN":  {"nothing in it has an edge to tell by", true},
		"GONE":  {"GONE.JPG: ", false},
		"HURT":  {"HURT.JPG: ", true},
	} {
		if !strings.Contains(said[name], want.says) {
			t.Errorf("%s: %q, want %q", name, said[name], want.says)
		}
		f, err := b.store.Frame(t.Context(), at[name].ID)
		if err != nil {
			t.Fatal(err)
		}
		got := f.Look.Focus
		if got == nil {
			t.Fatalf("%s: no focus was measured", name)
		}
		if (got.Full != nil) != (name == "SHARP") || (got.NotFull != "") != want.stored {
			t.Errorf("%s: at 1:1 %v, not for %q", name, got.Full, got.NotFull)
		}
		if f.Look.Focus.Score != at[name].Look.Focus.Score {
			t.Errorf("%s: another score than before", name)
		}
	}
}

func TestCloserEndsWithItsContext(t *testing.T) {
	b, card := newBench(t), filepath.Join(t.TempDir(), "A001")
	for i := range byte(4) {
		put(t, card, fmt.Sprintf("DCIM/100ABCDE/DSC_%04d.JPG", i+1), disc(t, 60+i, 1))
	}
	b.ingest(Options{}, card)
	var ids []catalogue.FrameID
	for _, f := range b.frames() {
		ids = append(ids, f.ID)
	}
	ctx, stop := context.WithCancel(t.Context())
	told := 0
	err := Closer(ctx, b.store, b.shoot, ids, func(catalogue.Frame, error) { told++; stop() })
	if !errors.Is(err, context.Canceled) || told == 0 {
		t.Errorf("after %d of 4: %v, want that it was cancelled", told, err)
	}
}
