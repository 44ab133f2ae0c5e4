package look

import (
	"bytes"
	"math"
	"testing"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// stripes is w × h of slanted bars with edges that a Gaussian of sigma pixels
// has softened, from the error function, so that no filter of ours is in it.
// low and high are linear light.
func stripes(w, h int, sigma, low, high, degrees float64) grey {
	g := grey{w, h, make([]float32, w*h)}
	sin, cos := math.Sincos(degrees * math.Pi / 180)
	const bar = 64.0
	for y := range h {
		for x := range w {
			d := float64(x)*cos + float64(y)*sin
			at := math.Mod(d, 2*bar)
			if at < 0 {
				at += 2 * bar
			}
			// Up at bar/2, down at 3·bar/2; others are too far to matter.
			v := 0.5 * (math.Erf((at-bar/2)/sigma/math.Sqrt2) - math.Erf((at-3*bar/2)/sigma/math.Sqrt2))
			g.pix[y*w+x] = float32(low + (high-low)*v)
		}
	}
	return g
}

// mtfRow is one row of reference 09's gaussian_mtf: σ in pixels, the frequency
// in cycles a pixel at which half of the contrast is kept, the edge's rise.
type mtfRow struct{ sigma, half, rise float64 }

func mtfRows(t *testing.T) []mtfRow {
	t.Helper()
	var out []mtfRow
	for _, r := range sharpnessCases(t).MTF.Rows {
		out = append(out, mtfRow{r[0], r[1], r[2]})
	}
	if len(out) != 7 {
		t.Fatalf("%d rows, want 7", len(out))
	}
	return out
}

// What Full is of a known σ: half at the frequency where reference 09 has half.
func TestContrastKeptIsTheMTF(t *testing.T) {
	for _, r := range mtfRows(t) {
		// MTF depends on σ·f alone: at f = 1/8 the σ of one half is 8·σ·half.
		if got := contrastKept(r.sigma * r.half * fullPeriod); !(math.Abs(got-0.5) <= 1e-5) {
			t.Errorf("σ %v: %v of the contrast at %v cycles, want 0.5", r.sigma, got, r.half)
		}
	}
}

// Edges of a known blur are told it, whatever their contrast and slant, also
// with grain.
func TestCloserKnowsTheBlurOfAnEdge(t *testing.T) {
	for i, r := range mtfRows(t) {
		if testing.Short() && i%4 != 0 { // the race detector is slow at arithmetic that no other hand touches
			continue
		}
		for _, c := range []struct{ low, high, degrees, noise float64 }{
			{0.18, 0.35, 5, 0}, {0.05, 0.6, 5, 0}, {0.18, 0.35, 33, 0}, {0.05, 0.6, 84, 0}, {0.1, 0.5, 5, 0.01}, {0.1, 0.5, 33, 0.02},
		} {
			img := stripes(640, 480, r.sigma, c.low, c.high, c.degrees).coded(c.noise, 3)
			data := asJPEG(t, img, 95)
			got, err := Closer(bytes.NewReader(data), int64(len(data)), catalogue.JPEG, camera.Shot{})
			if err != nil || got.Full == nil {
				t.Errorf("σ %v %+v: nothing told: %v", r.sigma, c, err)
				continue
			}
			// A tenth, and 0.15 of a pixel at least, is what we ask of it: a
			// soft original lies a whole pixel from a sharp one.
			if tol := max(0.15, 0.1*r.sigma); !(math.Abs(got.Blur-r.sigma) <= tol) {
				t.Errorf("σ %v %+v: told %.2f", r.sigma, c, got.Blur)
			}
			if want := contrastKept(got.Blur); !(math.Abs(*got.Full-want) <= 1e-12) {
				t.Errorf("σ %v: full %v of a blur of %v, want %v", r.sigma, *got.Full, got.Blur, want)
			}
		}
	}
}
