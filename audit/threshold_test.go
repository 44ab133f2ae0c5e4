package audit

import (
	"fmt"
	"image"
	_ "image/jpeg"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"coverplate/colour"
)

// paletteOf reads a picture as sRGB, averaged in linear light to about 120
// pixels, from some four of the picture's pixels each.
func paletteOf(path string) ([]colour.Swatch, *colour.Swatch, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, err
	}
	defer f.Close()
	m, _, err := image.Decode(f)
	if err != nil {
		return nil, nil, err
	}
	b := m.Bounds()
	side := max(b.Dx(), b.Dy())
	step := max(side/120, 1)
	r := colour.Raster{Width: b.Dx() / step, Height: b.Dy() / step}
	srgb, ok := colour.SpaceNamed("sRGB")
	if !ok {
		return nil, nil, fmt.Errorf("no sRGB")
	}
	for y := range r.Height {
		for x := range r.Width {
			var sum colour.XYZ
			n := 0.0
			for dy := 0; dy < step; dy += max(step/2, 1) {
				for dx := 0; dx < step; dx += max(step/2, 1) {
					cr, cg, cb, _ := m.At(b.Min.X+x*step+dx, b.Min.Y+y*step+dy).RGBA()
					c := srgb.XYZ8(uint8(cr>>8), uint8(cg>>8), uint8(cb>>8))
					sum.X, sum.Y, sum.Z = sum.X+c.X, sum.Y+c.Y, sum.Z+c.Z
					n++
				}
			}
			r.Pix = append(r.Pix, colour.XYZ{X: sum.X / n, Y: sum.Y / n, Z: sum.Z / n})
		}
	}
	return colour.Extract(r)
}

// TestDefaultThresholdsAgainstPhotographs prints how far apart the palettes
// of real food photographs are, pair by pair, and holds the defaults to the
// places in that distribution that tooAlike and jarring state.
func TestDefaultThresholdsAgainstPhotographs(t *testing.T) {
	all, _ := filepath.Glob("../../shared/photos/food/*.jpg")
	if len(all) == 0 {
		t.Skip("../shared/photos/food is not here: the distribution can't be measured")
	}
	var palettes [][]colour.Swatch
	for i := 0; i < len(all); i += 6 { // every sixth, for time
		p, _, err := paletteOf(all[i])
		if err != nil {
			t.Fatalf("%s: %v", all[i], err)
		}
		palettes = append(palettes, p)
	}
	var apart []float64
	for i := range palettes {
		for j := range i {
			apart = append(apart, colour.PaletteDistance(palettes[i], palettes[j]))
		}
	}
	slices.Sort(apart)
	at := func(q float64) float64 { return apart[int(q*float64(len(apart)-1))] }
	t.Logf("%d pairs of %d photographs: min %.1f, 1 %% %.1f, 2 %% %.1f, 5 %% %.1f, 10 %% %.1f, median %.1f, 90 %% %.1f, 95 %% %.1f, 99 %% %.1f, max %.1f",
		len(apart), len(palettes), apart[0], at(.01), at(.02), at(.05), at(.1), at(.5), at(.9), at(.95), at(.99), apart[len(apart)-1])
	rules := DefaultRules()
	if rules.TooAlike < at(.005) || rules.TooAlike > at(.05) {
		t.Errorf("TooAlike %.1f: want the distance that 0.5 to 5 %% of pairs fall short of, %.1f to %.1f", rules.TooAlike, at(.005), at(.05))
	}
	if rules.Jarring < at(.95) || rules.Jarring > at(.995) {
		t.Errorf("Jarring %.1f: want the distance that 0.5 to 5 %% of pairs exceed, %.1f to %.1f", rules.Jarring, at(.95), at(.995))
	}
}
