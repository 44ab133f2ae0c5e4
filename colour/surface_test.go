package colour

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// speckled is granite: grains of 3 × 3 pixels, light and dark in turn, with a
// plate of another colour on it.
func speckled(w, h int) Raster {
	light, dark := SRGB.XYZ8(0xc8, 0xc8, 0xc8), SRGB.XYZ8(0x40, 0x40, 0x40)
	r := Raster{Width: w, Height: h}
	for i := range w * h {
		x, y := i%w, i/w
		switch {
		case x > w/4 && x < 3*w/4 && y > h/4 && y < 3*h/4:
			r.Pix = append(r.Pix, SRGB.XYZ8(0xc0, 0x60, 0x20))
		case (x/3+y/3)%2 == 0:
			r.Pix = append(r.Pix, light)
		default:
			r.Pix = append(r.Pix, dark)
		}
	}
	return r
}

func TestTheSurfaceOfGraniteIsItsGrey(t *testing.T) {
	light, dark := SRGB.XYZ8(0xc8, 0xc8, 0xc8), SRGB.XYZ8(0x40, 0x40, 0x40)
	y := (light.Y + dark.Y) / 2 // light adds up; codes do not
	want := XYZ{y * d50[0], y, y * d50[2]}.Lab()
	_, surface := extract(t, speckled(160, 120))
	if d := DeltaE2000(surface.Lab, want); !(d <= 2) || surface.Share < 0.9 {
		t.Errorf("surface %+v, want %v", surface, want)
	}
}

func TestTheSurfaceIsTheBorderNotTheDish(t *testing.T) {
	for _, size := range [][2]int{{160, 120}, {120, 160}, {97, 61}, {30, 30}} {
		w, h := size[0], size[1]
		r := Raster{Width: w, Height: h}
		for i := range w * h {
			c := SRGB.XYZ8(0x8e, 0x34, 0x20)
			if x, y := i%w, i/w; min(x, y, w-1-x, h-1-y) < min(w, h)/10 {
				c = SRGB.XYZ8(0x40, 0x58, 0x70)
			}
			r.Pix = append(r.Pix, c)
		}
		palette, surface := extract(t, r)
		if palette[0].Hex != "#8e3420" || surface.Hex != "#405870" {
			t.Errorf("%v: palette begins with %+v, surface %+v", size, palette[0], surface)
		}
	}
}

func TestSquaresLieTheSameFromBothEnds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := rapid.IntRange(1, 700).Draw(t, "length")
		side := rapid.IntRange(1, max(1, length/(2*borderParts))).Draw(t, "side")
		cuts := squares(length, side)
		turned := slices.Clone(cuts)
		slices.Reverse(turned)
		for i, c := range turned {
			turned[i] = length - c
		}
		if !slices.Equal(cuts, turned) || cuts[0] != 0 || cuts[len(cuts)-1] != length {
			t.Fatalf("%d by %d: %v", length, side, cuts)
		}
		for i := range len(cuts) - 1 {
			if w := cuts[i+1] - cuts[i]; w < side || w > 3*side {
				t.Errorf("%d by %d: a part %d long in %v", length, side, w, cuts)
			}
		}
	})
}

func TestQuickCurveIsTheCurve(t *testing.T) {
	worst := 0.0
	for i := range 1_000_000 {
		v := float64(i) / 990_000
		worst = max(worst, math.Abs(quickCurve(v)-labCurve(v)))
	}
	if !(worst <= 1.1e-6) {
		t.Errorf("off by %g", worst)
	}
}

// Whatever is finite has a palette without NaN; whatever is not is named.
func TestExtractOfAnyFinitePixels(t *testing.T) {
	odd := []float64{0, -1, 1, 1e-320, 1e300, -1e300, math.MaxFloat64, 0.5, 100}
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 9).Draw(t, "w"), rapid.IntRange(1, 9).Draw(t, "h")
		value := rapid.OneOf(rapid.SampledFrom(odd), rapid.Float64Range(-0.2, 1.4))
		r := Raster{Width: w, Height: h}
		for range w * h {
			r.Pix = append(r.Pix, XYZ{value.Draw(t, "X"), value.Draw(t, "Y"), value.Draw(t, "Z")})
		}
		palette, surface, err := Extract(r)
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, s := range append(slices.Clone(palette), *surface) {
			if !s.Lab.finite() || !(s.Share >= 0 && s.Share <= 1) || len(s.Hex) != 7 || s.Name == "" {
				t.Errorf("swatch %+v", s)
			}
			sum += s.Share
		}
		if sum -= surface.Share; !(math.Abs(sum-1) <= 1e-12) || len(palette) > mostSwatches {
			t.Errorf("%d swatches, shares sum to %v", len(palette), sum)
		}
		for i, p := range palette {
			for _, q := range palette[:i] {
				if d := DeltaE2000(p.Lab, q.Lab); d < eyeSeparates-0.01 { // Labs are rounded
					t.Errorf("%v and %v are only %v apart", p.Lab, q.Lab, d)
				}
			}
		}
		at := rapid.IntRange(0, w*h-1).Draw(t, "at")
		for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
			r.Pix[at].Z = bad
			_, _, err := Extract(r)
			if want := fmt.Sprintf("pixel %d, %d is not a finite colour", at%w, at/w); err == nil || err.Error() != want {
				t.Errorf("%v: error %v, want %q", bad, err, want)
			}
		}
	})
}
