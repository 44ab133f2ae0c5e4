package main

import (
	"bytes"
	"image"
	"image/jpeg"
	"testing"

	"coverplate/audit/crop"
	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
	"coverplate/ingest/rehearsal"
)

// seenAs measures a picture stored as JPEG in an Exif orientation.
func seenAs(t *testing.T, img image.Image, orientation int) catalogue.Look {
	t.Helper()
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	seen, err := look.At(bytes.NewReader(buf.Bytes()), int64(buf.Len()), catalogue.JPEG, camera.Shot{Orientation: orientation})
	if err != nil {
		t.Fatal(err)
	}
	return seen.Look
}

// insideOf is the share of a frame's food that lies within a part of it.
func insideOf(s rehearsal.Shown, r crop.Rect, w, h int) float64 {
	var all, in float64
	for i, thing := range s.Things {
		if thing != rehearsal.Food {
			continue
		}
		all++
		x, y := (2*(i%s.Columns)+1)*w/(2*s.Columns), (2*(i/s.Columns)+1)*h/(2*s.Rows)
		if x >= r.X && x < r.X+r.Width && y >= r.Y && y < r.Y+r.Height {
			in++
		}
	}
	return in / all
}

// The renderer knows where the food of its frames is: a half that is called
// good must hold it.
func TestHalvesThatStandHoldTheFood(t *testing.T) {
	each := map[string]int{}
	want := func(tr rehearsal.Truth) bool {
		few := testing.Short() && tr.Recipe != "R03" && tr.Recipe != "R08" && tr.Recipe != "R10"
		if few || tr.Role == "test" || tr.Role == "detail" || tr.Width < tr.Height {
			return false
		}
		each[tr.Recipe]++
		return true
	}
	called, frames := 0, 0
	err := rehearsal.Show(480, want, func(s rehearsal.Shown) {
		l := seenAs(t, s.Image, 1)
		frames++
		for side, x := range bestHalves(l) {
			if x.Works != crop.Yes {
				continue
			}
			called++
			if in := insideOf(s, x.Rect, l.Width, l.Height); !(in >= 0.95) {
				t.Errorf("%s %s, %s %s: called good (%s) and holds %.0f %% of the food", s.Truth.Recipe, s.Truth.Role, side, x.Shape, x.Why(), 100*in)
			}
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d halves of %d frames are called good", called, frames)
	if called == 0 {
		t.Errorf("of %d frames no half is called good", frames)
	}
}

// A frame that is stored lying on its side is judged as it is seen.
func TestHalvesOfATurnedFile(t *testing.T) {
	done := false
	err := rehearsal.Show(480, func(tr rehearsal.Truth) bool { return tr.Recipe == "R10" && tr.Role == "overhead" && !done }, func(s rehearsal.Shown) {
		done = true
		w, h := s.Image.Rect.Dx(), s.Image.Rect.Dy()
		lain := image.NewRGBA(image.Rect(0, 0, h, w)) // its first row is the right-hand side of what is seen: orientation 6
		for y := range h {
			for x := range w {
				lain.Set(y, w-1-x, s.Image.At(x, y))
			}
		}
		upright, turned := seenAs(t, s.Image, 1), seenAs(t, lain, 6)
		if turned.Width != w || turned.Height != h {
			t.Fatalf("%d × %d upright pixels, want %d × %d", turned.Width, turned.Height, w, h)
		}
		a, b := bestHalves(upright), bestHalves(turned)
		for side, x := range a {
			// Two JPEGs of one picture differ by their blocks: no half goes
			// from good to bad by that, nor moves by more than a tenth.
			y := b[side]
			if d := x.Works.Rank() - y.Works.Rank(); d > 1 || d < -1 {
				t.Errorf("%s: upright %s (%s), turned %s (%s)", side, x.Works, x.Why(), y.Works, y.Why())
			}
			if far := max(x.Rect.X-y.Rect.X, y.Rect.X-x.Rect.X, x.Rect.Y-y.Rect.Y, y.Rect.Y-x.Rect.Y); x.Shape == y.Shape && x.Works == crop.Yes && y.Works == crop.Yes && far > max(w, h)/10 {
				t.Errorf("%s: upright %+v, turned %+v", side, x.Rect, y.Rect)
			}
		}
	})
	if err != nil || !done {
		t.Fatal(err, done)
	}
}
