package colour

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func drawLab(t *rapid.T, label string) Lab {
	return Lab{
		rapid.Float64Range(0, 100).Draw(t, label+" L"),
		rapid.Float64Range(-128, 127).Draw(t, label+" a"),
		rapid.Float64Range(-128, 127).Draw(t, label+" b"),
	}
}

// drawEdgeLab often lies on the axis or has a hue on an axis of a, b: the edges
// of ΔE2000.
func drawEdgeLab(t *rapid.T, label string) Lab {
	return Lab{
		rapid.SampledFrom([]float64{0, 50, 100}).Draw(t, label+" L"),
		rapid.SampledFrom([]float64{-60, -1e-9, 0, 1e-9, 60}).Draw(t, label+" a"),
		rapid.SampledFrom([]float64{-60, -1e-9, 0, 1e-9, 60}).Draw(t, label+" b"),
	}
}

func TestDifferenceIsSymmetricFiniteAndZeroForEqualsOnly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := rapid.SampledFrom([]func(*rapid.T, string) Lab{drawLab, drawEdgeLab}).Draw(t, "how")
		a, b := draw(t, "a"), draw(t, "b")
		there, back := DeltaE2000(a, b), DeltaE2000(b, a)
		if there != back {
			t.Errorf("%v there, %v back", there, back)
		}
		if !finite(there) || there < 0 {
			t.Errorf("difference %v", there)
		}
		if d := DeltaE2000(a, a); d != 0 {
			t.Errorf("%v is %v from itself", a, d)
		}
		if low := byLightness(a, b); there < low-1e-12 {
			t.Errorf("difference %v is less than its bound by lightness %v", there, low)
		}
		if a != b && a.distinct(b) && there == 0 {
			t.Errorf("%v and %v are not told apart", a, b)
		}
	})
}

// distinct tells whether two colours differ by more than a square can lose.
func (c Lab) distinct(d Lab) bool {
	return math.Abs(c.L-d.L)+math.Abs(c.A-d.A)+math.Abs(c.B-d.B) > 1e-6
}

func TestDifferenceOfAbsurdColoursIsFinite(t *testing.T) {
	for _, c := range []Lab{{1e6, 0, 0}, {50, 1e9, -1e9}, {-1e6, 1e-300, 0}, {0, 0, 5e-324}} {
		if d := DeltaE2000(c, Lab{50, 10, 10}); !finite(d) {
			t.Errorf("DeltaE2000(%v, …) = %v", c, d)
		}
	}
}

func TestPolarFormLeadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawLab(t, "c")
		p := c.LCh()
		if p.H < 0 || p.H >= 360 || p.C < 0 {
			t.Errorf("LCh of %v is %v", c, p)
		}
		if back := p.Lab(); back.distinct(c) {
			t.Errorf("%v led back to %v", c, back)
		}
	})
	if got := (Lab{50, 1, -1e-20}).LCh().H; got != 0 {
		t.Errorf("hue %v, want 0: never a whole turn", got)
	}
}

// Every code of a grid of sRGB survives the rounding that Extract does.
func TestHexOfARoundedLabIsTheCodeItCameFrom(t *testing.T) {
	for r := 0; r < 256; r += 15 {
		for g := 0; g < 256; g += 15 {
			for b := 0; b < 256; b += 15 {
				want := fmt.Sprintf("#%02x%02x%02x", r, g, b)
				if got := swatch(SRGB.Lab8(uint8(r), uint8(g), uint8(b)), 1).Hex; got != want {
					t.Fatalf("%s came back as %s", want, got)
				}
			}
		}
	}
}

func TestHexGivesUpChromaOnly(t *testing.T) {
	outside := 0
	rapid.Check(t, func(t *rapid.T) {
		c := drawLab(t, "c")
		if _, ok := c.srgb(); ok {
			return
		}
		outside++
		var r, g, b uint8
		if _, err := fmt.Sscanf(c.Hex(), "#%02x%02x%02x", &r, &g, &b); err != nil {
			t.Fatal(err)
		}
		got, want := SRGB.Lab8(r, g, b).LCh(), c.LCh()
		// Half a code of each channel is all that may be lost: up to 0.8 of L
		// and, in hue, 1.6 of Lab across.
		if math.Abs(got.L-want.L) > 0.8 || got.C > want.C+1.6 {
			t.Errorf("%v became %v", want, got)
		}
		turn := math.Mod(got.H-want.H+540, 360) - 180
		if across := got.C * math.Abs(math.Sin(turn*math.Pi/180)); got.C > 5 && across > 1.6 {
			t.Errorf("%v turned its hue: %v", want, got)
		}
	})
	if outside == 0 {
		t.Error("no colour outside sRGB was drawn")
	}
}

func TestHexAtTheEdges(t *testing.T) {
	for _, c := range []struct {
		name string
		lab  Lab
		want string
	}{
		{"white", Lab{100, 0, 0}, "#ffffff"},
		{"brighter than white", Lab{130, 40, 0}, "#ffffff"},
		{"black", Lab{}, "#000000"},
		{"darker than black", Lab{-5, 10, 0}, "#000000"},
		{"no number", Lab{50, math.NaN(), 0}, ""},
		{"no end", Lab{50, math.Inf(1), 0}, ""},
	} {
		if got := c.lab.Hex(); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	if got := (Lab{50, 1e200, 0}).Hex(); len(got) != 7 {
		t.Errorf("absurd chroma: %q", got)
	}
}

func TestCodesOutsideTheGamutLeadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		for _, s := range []*Space{SRGB, AdobeRGB, DisplayP3} {
			e := Encoded{rapid.Float64Range(-0.5, 1.5).Draw(t, "r"), rapid.Float64Range(-0.5, 1.5).Draw(t, "g"), rapid.Float64Range(-0.5, 1.5).Draw(t, "b")}
			b := s.Encode(s.FromXYZ(s.ToXYZ(s.Linearise(e))))
			// 1e-6, since sRGB's printed break, 0.0031308, is rounded.
			if math.Abs(b.R-e.R)+math.Abs(b.G-e.G)+math.Abs(b.B-e.B) > 1e-6 {
				t.Errorf("%s: %v led back to %v", s.Name(), e, b)
			}
		}
	})
}

func TestSpacesByName(t *testing.T) {
	for name, want := range map[string]*Space{"sRGB": SRGB, "Adobe RGB (1998)": AdobeRGB, "Display P3": DisplayP3} {
		if got, ok := SpaceNamed(name); !ok || got != want || got.Name() != name {
			t.Errorf("SpaceNamed(%q) = %v, %v", name, got, ok)
		}
	}
	for _, name := range []string{"", "uncalibrated", "srgb"} {
		if s, ok := SpaceNamed(name); ok || s != nil {
			t.Errorf("SpaceNamed(%q) found %s", name, s.Name())
		}
	}
}

func TestLabInJSON(t *testing.T) {
	text, err := json.Marshal(Swatch{Hex: "#b5651d", Lab: Lab{48.1, 22, 40.3}, Share: 0.41, Name: "strong brown"})
	if want := `{"hex":"#b5651d","lab":[48.1,22,40.3],"share":0.41,"name":"strong brown","accent":false}`; err != nil || string(text) != want {
		t.Errorf("got %s, %v", text, err)
	}
	var s Swatch
	if err := json.Unmarshal(text, &s); err != nil || s.Lab != (Lab{48.1, 22, 40.3}) {
		t.Errorf("read back as %v, %v", s, err)
	}
	for _, bad := range []string{`[1,2]`, `[1,2,3,4]`, `{"L":1}`, `"red"`, `[1,"2",3]`} {
		if err := json.Unmarshal([]byte(bad), &s.Lab); err == nil {
			t.Errorf("%s was read as %v", bad, s.Lab)
		}
	}
	if _, err := json.Marshal(Lab{50, math.NaN(), 0}); err == nil {
		t.Error("a NaN was written")
	}
}

func TestNames(t *testing.T) {
	// Codes whose everyday colour nobody doubts; the words are ISCC-NBS's.
	for code, want := range map[[3]uint8]string{
		{255, 255, 255}: "white",
		{0, 0, 0}:       "black",
		{132, 132, 130}: "medium gray",
		{128, 70, 27}:   "strong brown",
		{190, 0, 50}:    "vivid red",
		{133, 66, 30}:   "strong brown",
		{250, 214, 165}: "pale orange yellow",
	} {
		if got := Name(SRGB.Lab8(code[0], code[1], code[2])); got != want {
			t.Errorf("%v is %q, want %q", code, got, want)
		}
	}
	if got := Name(Lab{math.NaN(), 0, 0}); got != "" {
		t.Errorf("no colour is named %q", got)
	}
	if len(centroids) != 267 {
		t.Fatalf("%d centroids, want the 267 of ISCC-NBS", len(centroids))
	}
	seen := map[string]bool{}
	for i, c := range centroids {
		if seen[c.name] {
			t.Errorf("%q stands twice", c.name)
		}
		seen[c.name] = true
		if got := Name(centroidLabs[i]); got != c.name {
			t.Errorf("centroid of %q is named %q", c.name, got)
		}
	}
}

func drawPalette(t *rapid.T, label string, most int) []Swatch {
	n := rapid.IntRange(1, most).Draw(t, label)
	out := make([]Swatch, n)
	for i := range out {
		out[i] = Swatch{Lab: drawLab(t, label), Share: rapid.Float64Range(0.001, 1).Draw(t, "share")}
	}
	return out
}

func TestPaletteDistanceLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawPalette(t, "a", 12), drawPalette(t, "b", 12)
		there, back := PaletteDistance(a, b), PaletteDistance(b, a)
		if there != back {
			t.Errorf("%v there, %v back", there, back)
		}
		if !finite(there) || there < 0 {
			t.Errorf("distance %v", there)
		}
		for _, p := range a { // nothing moved: each colour is in both
			twin := slices.ContainsFunc(b, func(q Swatch) bool { return !p.Lab.distinct(q.Lab) })
			if there == 0 && !twin {
				t.Errorf("distance 0, but %v is in one palette only", p.Lab)
			}
		}
		if d := PaletteDistance(a, a); d != 0 {
			t.Errorf("%v from itself", d)
		}
		// Between the cheapest and the dearest pair there is.
		lo, hi := math.Inf(1), 0.0
		for _, p := range a {
			for _, q := range b {
				d := DeltaE2000(p.Lab, q.Lab)
				lo, hi = min(lo, d), max(hi, d)
			}
		}
		if there < lo-1e-9 || there > hi+1e-9 {
			t.Errorf("%v outside %v … %v", there, lo, hi)
		}
	})
}

// The dual of the transport problem proves each answer: no linear programming
// library is needed to know that a cheaper plan does not exist. On palettes of
// n equal shares the optimum is an assignment, found here by trying all.
func TestDistanceIsTheCheapestOfAllAssignments(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "n")
		a, b := make([]Swatch, n), make([]Swatch, n)
		for i := range n {
			a[i] = Swatch{Lab: drawLab(t, "a"), Share: 1}
			b[i] = Swatch{Lab: drawLab(t, "b"), Share: 1}
		}
		best := math.Inf(1)
		var try func(i int, used uint, sum float64)
		try = func(i int, used uint, sum float64) {
			if i == n {
				best = min(best, sum/float64(n))
				return
			}
			for j := range n {
				if used&(1<<j) == 0 {
					try(i+1, used|1<<j, sum+DeltaE2000(a[i].Lab, b[j].Lab))
				}
			}
		}
		try(0, 0, 0)
		if got := PaletteDistance(a, b); !(math.Abs(got-best) <= 1e-8) {
			t.Errorf("got %v, cheapest of all assignments %v", got, best)
		}
	})
}

func TestDistanceToAnUnknownPaletteIsInfinite(t *testing.T) {
	known := []Swatch{{Lab: Lab{50, 0, 0}, Share: 1}}
	for name, unknown := range map[string][]Swatch{
		"empty":         nil,
		"no share":      {{Lab: Lab{50, 0, 0}}},
		"share of NaN":  {{Lab: Lab{50, 0, 0}, Share: math.NaN()}},
		"colour of NaN": {{Lab: Lab{math.NaN(), 0, 0}, Share: 1}},
	} {
		if d := PaletteDistance(known, unknown); !math.IsInf(d, 1) {
			t.Errorf("%s: %v", name, d)
		}
		if d := PaletteDistance(unknown, known); !math.IsInf(d, 1) {
			t.Errorf("%s, the other way: %v", name, d)
		}
	}
}

func TestASwatchWithoutAShareDoesNotCount(t *testing.T) {
	a := []Swatch{{Lab: Lab{50, 0, 0}, Share: 0.5}, {Lab: Lab{70, 20, 0}, Share: 0.5}}
	b := []Swatch{{Lab: Lab{30, 0, 40}, Share: 1}}
	want := PaletteDistance(a, b)
	for _, share := range []float64{0, -0.2} {
		if got := PaletteDistance(append(slices.Clone(a), Swatch{Lab: Lab{10, 0, 0}, Share: share}), b); got != want {
			t.Errorf("with a swatch of share %v: %v, without %v", share, got, want)
		}
	}
}

func TestMoreThanTwelveSwatches(t *testing.T) {
	var a []Swatch
	for i := range 20 {
		a = append(a, Swatch{Lab: Lab{float64(5 * i), 0, 0}, Share: 0.05})
	}
	if d := PaletteDistance(a, a[:10]); !finite(d) || d <= 0 {
		t.Errorf("distance %v", d)
	}
	if d := PaletteDistance(a, a); d != 0 {
		t.Errorf("distance from itself %v", d)
	}
}

func TestErrorsOfExtract(t *testing.T) {
	_, _, err := Extract(Raster{})
	if !errors.Is(err, ErrNoPixels) {
		t.Errorf("zero pixels: %v", err)
	}
	if _, _, err := Extract(Raster{Width: 2, Height: 2, Pix: make([]XYZ, 3)}); err == nil {
		t.Error("a raster of three pixels for 2 × 2 was read")
	}
	_, _, err = Extract(Raster{Width: 2, Height: 1, Pix: []XYZ{{}, {Y: math.NaN()}}})
	var bad *PixelError
	if !errors.As(err, &bad) || bad.X != 1 || bad.Y != 0 {
		t.Errorf("pixel of NaN: %v", err)
	}
}
