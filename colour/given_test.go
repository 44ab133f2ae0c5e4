package colour

import (
	"math"
	"strings"
	"testing"
)

func square(v float64) float64 { return v * v }

func TestASpaceOfOurOwnIsTheSameWhenGiven(t *testing.T) {
	for _, own := range []*Space{SRGB, AdobeRGB, DisplayP3} {
		var primaries [3]XYZ
		for i, l := range []Linear{{R: 1}, {G: 1}, {B: 1}} {
			primaries[i] = own.ToXYZ(l)
		}
		s, err := NewSpace("given", own.decode, primaries)
		if err != nil {
			t.Fatal(err)
		}
		if d := s.Apart(own); !(d < 1e-9) {
			t.Errorf("%s is %g ΔE2000 from itself given", own.Name(), d)
		}
		if k, ok := Known(s); !ok || k != own {
			t.Errorf("%s is known as %v", own.Name(), k)
		}
		for code := range 256 {
			c := uint8(code)
			if s.XYZ8(c, 255-c, 7) != own.XYZ8(c, 255-c, 7) {
				t.Fatalf("%s: code %d by table is %v, want %v", own.Name(), code, s.XYZ8(c, 255-c, 7), own.XYZ8(c, 255-c, 7))
			}
		}
		for i := -20; i <= 120; i++ {
			v := float64(i) / 100
			e := Encoded{v, 1 - v, v / 2}
			back := s.Encode(s.FromXYZ(s.ToXYZ(s.Linearise(e))))
			// Near black the curves of power alone are too flat to lead back
			// to many digits.
			if !(math.Abs(back.R-e.R) < 1e-6 && math.Abs(back.G-e.G) < 1e-6 && math.Abs(back.B-e.B) < 1e-6) {
				t.Errorf("%s: %v leads back to %v", own.Name(), e, back)
			}
		}
	}
}

// Each channel keeps its own curve and column.
func TestEachChannelHasItsOwnCurve(t *testing.T) {
	cube := func(v float64) float64 { return v * v * v }
	same := func(v float64) float64 { return v }
	s, err := NewSpace("three", [3]func(float64) float64{same, square, cube}, [3]XYZ{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}})
	if err != nil {
		t.Fatal(err)
	}
	want := XYZ{0.5, 0.25, 0.125}
	if got := s.ToXYZ(s.Linearise(Encoded{0.5, 0.5, 0.5})); got != want {
		t.Errorf("half of each is %v, want %v", got, want)
	}
	if got := s.XYZ8(51, 51, 51); !(math.Abs(got.X-0.2) < 1e-12 && math.Abs(got.Y-0.04) < 1e-12 && math.Abs(got.Z-0.008) < 1e-12) {
		t.Errorf("a fifth of each by table is %v", got)
	}
}

func TestSpacesThatAreNoneAreRefused(t *testing.T) {
	unit := [3]XYZ{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	nan := func(float64) float64 { return math.NaN() }
	flat := func(float64) float64 { return 0.5 }
	for _, c := range []struct {
		name      string
		curve     func(float64) float64
		primaries [3]XYZ
		says      string
	}{
		{"no number in the curve", nan, unit, "curve of green has no value at code 0"},
		{"a flat curve", flat, unit, "curve of green does not rise"},
		{"no primaries", square, [3]XYZ{}, "span no space"},
		{"two equal primaries", square, [3]XYZ{{1, 0, 0}, {1, 0, 0}, {0, 0, 1}}, "span no space"},
		{"an infinite primary", square, [3]XYZ{{math.Inf(1), 0, 0}, {0, 1, 0}, {0, 0, 1}}, "span no space"},
		{"a primary that is no number", square, [3]XYZ{{math.NaN(), 0, 0}, {0, 1, 0}, {0, 0, 1}}, "span no space"},
	} {
		if s, err := NewSpace("", [3]func(float64) float64{square, c.curve, square}, c.primaries); err == nil || s != nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, %v", c.name, s, err)
		}
	}
}

// Rec. 709's curve over the primaries that it shares with sRGB is not sRGB.
func TestAnotherCurveIsAnotherSpace(t *testing.T) {
	rec709 := func(v float64) float64 { // ITU-R BT.709, item 1.2 turned round
		if v < 0.081 {
			return v / 4.5
		}
		return math.Pow((v+0.099)/1.099, 1/0.45)
	}
	s, err := NewSpace("", [3]func(float64) float64{rec709, rec709, rec709}, [3]XYZ{SRGB.ToXYZ(Linear{R: 1}), SRGB.ToXYZ(Linear{G: 1}), SRGB.ToXYZ(Linear{B: 1})})
	if err != nil {
		t.Fatal(err)
	}
	if k, ok := Known(s); ok {
		t.Errorf("taken for %s, %.2f ΔE2000 apart", k.Name(), s.Apart(k))
	}
}
