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

// Light falls off along one table; two cloths are two surfaces.
func TestHowFarASurfaceReaches(t *testing.T) {
	for _, c := range []struct {
		name    string
		lightAt func(x int) float64 // L, from x = 0 … 199
		share   float64
		l       float64
	}{
		{"one table under a window", func(x int) float64 { return 60 + 8*float64(x)/199 }, 1, 64},
		{"two cloths", func(x int) float64 {
			if x < 130 {
				return 50
			}
			return 66
		}, 0.59, 50}, // 130 of 200 above and below, all of the left
	} {
		r := Raster{Width: 200, Height: 150}
		for i := range 200 * 150 {
			r.Pix = append(r.Pix, Lab{c.lightAt(i % 200), 4, 12}.XYZ())
		}
		_, s := extract(t, r)
		if math.Abs(s.Share-c.share) > 0.05 || math.Abs(s.Lab.L-c.l) > 0.5 {
			t.Errorf("%s: %+v", c.name, s)
		}
	}
}

// A speck that is too small counts with what is nearest and leaves its colour
// as it is; two that are alike make one colour, their mean.
func TestSpecks(t *testing.T) {
	r := Raster{100, 100, slices.Repeat([]XYZ{Lab{50, 0, 0}.XYZ()}, 100*100)}
	for i := range 40 {
		r.Pix[(30+i/8)*100+30+i%8] = Lab{90, 0, 0}.XYZ()
	}
	palette, _ := extract(t, r)
	if len(palette) != 1 || palette[0].Lab != (Lab{50, 0, 0}) {
		t.Errorf("a speck of 0.4 %%: %+v", palette)
	}
	for i := range 40 {
		r.Pix[(60+i/8)*100+60+i%8] = Lab{82, 0, 0}.XYZ()
	}
	palette, _ = extract(t, r)
	if len(palette) != 2 || palette[1].Share != 0.008 || math.Abs(palette[1].Lab.L-86) > 0.01 {
		t.Errorf("two specks: %+v", palette)
	}
}

// Where most pixels lie between their neighbours they are no edges but the
// picture itself.
func TestAPictureOfNothingButEdges(t *testing.T) {
	r := Raster{Width: 120, Height: 60}
	for i := range 120 * 60 {
		r.Pix = append(r.Pix, Lab{[]float64{20, 40, 60, 80, 60, 40}[i%6], 0, 0}.XYZ())
	}
	palette, _ := extract(t, r)
	var got []float64
	for _, s := range palette {
		got = append(got, s.Share)
	}
	if want := []float64{0.3334, 0.3333, 0.1667, 0.1666}; len(got) != 4 || math.Abs(got[0]-want[0]) > 0.001 || math.Abs(got[3]-want[3]) > 0.001 {
		t.Errorf("shares %v, want about %v", got, want)
	}
}

// What is finite but absurd is held at the edge of what there is.
func TestAbsurdLight(t *testing.T) {
	for _, v := range []float64{math.MaxFloat64, -math.MaxFloat64} {
		palette, _ := extract(t, Raster{1, 1, []XYZ{{v, v, v}}})
		if c := palette[0].Lab; c.L < 0 || c.L > 100 || math.Abs(c.A) > 250 || math.Abs(c.B) > 250 {
			t.Errorf("light of %v is %v", v, c)
		}
	}
}

func TestMeansAreRoundedAlikeBelowNothing(t *testing.T) {
	for _, c := range [][3]int64{{7, 4, 2}, {6, 4, 2}, {5, 4, 1}, {-5, 4, -1}, {-6, 4, -2}, {-7, 4, -2}, {0, 3, 0}} {
		if got := roundDiv(c[0], c[1]); got != c[2] {
			t.Errorf("%d / %d is %d, want %d", c[0], c[1], got, c[2])
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
	odd := []float64{0, -1, 1, 1e-320, 1e300, -1e300, math.MaxFloat64, -math.MaxFloat64, 0.5, 100}
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
			if !s.Lab.finite() || !(s.Share >= 0 && s.Share <= 1) || len(s.Hex) != 7 || s.Name == "" ||
				s.Lab.L < 0 || s.Lab.L > 100 || max(math.Abs(s.Lab.A), math.Abs(s.Lab.B)) > 250 {
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
			was := r.Pix[at]
			*[]*float64{&r.Pix[at].X, &r.Pix[at].Y, &r.Pix[at].Z}[rapid.IntRange(0, 2).Draw(t, "channel")] = bad
			_, _, err := Extract(r)
			if want := fmt.Sprintf("pixel %d, %d is not a finite colour", at%w, at/w); err == nil || err.Error() != want {
				t.Errorf("%v: error %v, want %q", bad, err, want)
			}
			r.Pix[at] = was
		}
	})
}
