package colour

import (
	"image/color"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// dish draws a table under falling light with a plate and food on it, every
// pixel of another brightness, and pieces of garnish strewn over the food
// until they are share of the picture. It returns the true share too.
func dish(table, plate, food, garnish color.RGBA, share float64) (Raster, float64) {
	const w, h = 160, 120
	r := Raster{Width: w, Height: h, Pix: make([]XYZ, 0, w*h)}
	lit := func(c color.RGBA, k float64) XYZ {
		x := SRGB.XYZ8(c.R, c.G, c.B)
		return XYZ{x.X * k, x.Y * k, x.Z * k}
	}
	for i := range w * h {
		x, y := float64(i%w-w/2), float64(i/w-h/2)
		k := (1 - 0.15*x/w) * (0.95 + 0.1*float64(i*7919%101)/100) // light and grain
		switch d := math.Sqrt(x*x + y*y); {
		case d < 28:
			r.Pix = append(r.Pix, lit(food, k))
		case d < 46:
			r.Pix = append(r.Pix, lit(plate, k))
		default:
			r.Pix = append(r.Pix, lit(table, k))
		}
	}
	strewn := 0
	for piece := 0; float64(strewn) < share*w*h; piece++ { // 4 × 3 pixels each, 7 × 6 apart
		x0, y0 := w/2-32+piece%9*7, h/2-30+piece/9*6
		for v := range 3 {
			for u := range 4 {
				r.Pix[(y0+v)*w+x0+u] = lit(garnish, 0.9+0.2*float64((piece*31+v*5+u)%10)/9)
			}
		}
		strewn += 12
	}
	return r, float64(strewn) / (w * h)
}

var (
	tables = []color.RGBA{{0xd8, 0xd2, 0xc4, 0xff}, {0x6e, 0x4a, 0x2c, 0xff}, {0x2a, 0x2c, 0x2f, 0xff}, {0x8e, 0xa0, 0xac, 0xff}}
	plates = []color.RGBA{{0xee, 0xec, 0xe6, 0xff}, {0x55, 0x5e, 0x62, 0xff}, {0xb9, 0xae, 0x9b, 0xff}}
	foods  = []color.RGBA{{0xb8, 0x86, 0x3a, 0xff}, {0x9a, 0x5a, 0x32, 0xff}, {0xdc, 0xc8, 0x92, 0xff}}
	herbs  = []color.RGBA{{0x2f, 0x7a, 0x24, 0xff}, {0xc8, 0x18, 0x38, 0xff}, {0x6a, 0x2c, 0x86, 0xff}, {0x9c, 0xc8, 0x2c, 0xff}}
)

func TestAGarnishOfOneToThreePerCentIsKeptAndMarked(t *testing.T) {
	shares := []float64{0.01, 0.02, 0.03}
	if testing.Short() {
		shares = shares[:1]
	}
	for _, table := range tables {
		for _, plate := range plates {
			for _, food := range foods {
				for _, herb := range herbs {
					for _, share := range shares {
						r, true := dish(table, plate, food, herb, share)
						palette, surface := extract(t, r)
						want := SRGB.Lab8(herb.R, herb.G, herb.B)
						i := slices.IndexFunc(palette, func(s Swatch) bool { return s.Accent })
						if i < 0 {
							t.Errorf("%v on %v, %v, %v, %.3f: no accent in %+v", herb, food, plate, table, true, palette)
							continue
						}
						// The light on the pieces varies by a tenth, and some
						// of their pixels fall to the edge between.
						if d := DeltaE2000(palette[i].Lab, want); d > 3 || math.Abs(palette[i].Share-true) > 0.005 {
							t.Errorf("%v on %v, %v, %v, %.3f: accent %+v is %.1f off", herb, food, plate, table, true, palette[i], d)
						}
						if slices.ContainsFunc(palette[i+1:], func(s Swatch) bool { return s.Accent }) {
							t.Errorf("%v on %v, %v, %v: a second accent in %+v", herb, food, plate, table, palette)
						}
						if d := DeltaE2000(surface.Lab, SRGB.Lab8(table.R, table.G, table.B)); d > 4 {
							t.Errorf("surface %+v is %.1f from the table %v", surface, d, table)
						}
					}
				}
			}
		}
	}
}

func TestWithoutAGarnishThereIsNoAccent(t *testing.T) {
	for _, table := range tables {
		for _, plate := range plates {
			for _, food := range foods {
				r, _ := dish(table, plate, food, food, 0)
				palette, _ := extract(t, r)
				if slices.ContainsFunc(palette, func(s Swatch) bool { return s.Accent }) {
					t.Errorf("%v on %v, %v: %+v", food, plate, table, palette)
				}
			}
		}
	}
}

// A patch of the food in deep shadow, or with a gloss on it, is as small as a
// garnish and as far from the rest, but its colour is the food's.
func TestShadowAndGlossAreNoAccents(t *testing.T) {
	for _, food := range []color.RGBA{{0xd2, 0x6a, 0x14, 0xff}, {0x8c, 0xb0, 0x20, 0xff}, {0xc8, 0x18, 0x38, 0xff}} {
		for _, c := range []struct {
			name         string
			light, white float64
		}{{"shadow", 0.3, 0}, {"gloss", 1, 0.15}} {
			whole := SRGB.XYZ8(food.R, food.G, food.B)
			r := Raster{100, 100, slices.Repeat([]XYZ{SRGB.XYZ8(0xe0, 0xe0, 0xe0)}, 100*100)}
			for y := 20; y < 80; y++ {
				for x := 20; x < 80; x++ {
					p := whole
					if x < 40 && y < 40 && (x < 37 || y < 37) { // 3.9 %
						p = XYZ{whole.X*c.light + 0.9642*c.white, whole.Y*c.light + c.white, whole.Z*c.light + 0.8249*c.white}
					}
					r.Pix[y*100+x] = p
				}
			}
			palette, _ := extract(t, r)
			if len(palette) != 3 || palette[2].Share > accentMost {
				t.Errorf("%s of %v: want three swatches, the last small: %+v", c.name, food, palette)
			}
			if slices.ContainsFunc(palette, func(s Swatch) bool { return s.Accent }) {
				t.Errorf("%s of %v is an accent: %+v", c.name, food, palette)
			}
		}
	}
}

// The bounds of an accent, one by one: a grey picture with one small patch.
func TestWhatAnAccentIs(t *testing.T) {
	patchOf := func(pixels int, c Lab) Swatch {
		r := Raster{100, 100, slices.Repeat([]XYZ{Lab{50, 0, 0}.XYZ()}, 100*100)}
		for i := range pixels {
			r.Pix[(30+i/20)*100+30+i%20] = c.XYZ()
		}
		palette, _ := extract(t, r)
		return palette[len(palette)-1]
	}
	for _, c := range []struct {
		name   string
		pixels int
		lab    Lab
		want   bool
	}{
		{"as large as may be", 500, Lab{50, 40, 0}, true},
		{"larger", 520, Lab{50, 40, 0}, false},
		{"vivid enough", 200, Lab{50, 0, 26}, true},
		{"not vivid", 200, Lab{30, 0, 24}, false},
		{"white is no accent", 200, Lab{95, 0, 0}, false},
	} {
		if got := patchOf(c.pixels, c.lab); got.Accent != c.want {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
	// Two vivid colours: the small one 12 and 15 ΔE2000 from the large.
	for _, c := range []struct {
		turn float64 // degrees
		want bool
	}{{20, false}, {60, true}} {
		large, small := LCh{50, 40, 30}, LCh{50, 40, 30 + c.turn}
		r := Raster{100, 100, slices.Repeat([]XYZ{large.Lab().XYZ()}, 100*100)}
		for i := range 200 {
			r.Pix[(30+i/20)*100+30+i%20] = small.Lab().XYZ()
		}
		palette, _ := extract(t, r)
		if len(palette) != 2 || palette[1].Accent != c.want {
			t.Errorf("hue turned by %v°: %+v", c.turn, palette)
		}
	}
}

// CIELAB is a cube root of light: in any light a, b and L + 16 keep their
// ratios, on which shadeOf rests.
func TestLightKeepsHueAndPurity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := SRGB.XYZ8(rapid.Byte().Draw(t, "r"), rapid.Byte().Draw(t, "g"), rapid.Byte().Draw(t, "b"))
		k := rapid.Float64Range(0.2, 1).Draw(t, "light")
		dim := XYZ{c.X * k, c.Y * k, c.Z * k}
		if min(dim.X/d50[0], dim.Y, dim.Z/d50[2]) <= labBreak {
			return // the straight part of the curve
		}
		p, q := c.Lab(), dim.Lab()
		for _, v := range [][2]float64{{p.A, q.A}, {p.B, q.B}} {
			if got, want := v[1]/(q.L+16), v[0]/(p.L+16); !(math.Abs(got-want) <= 1e-9) {
				t.Errorf("%v in light %v is %v", p, k, q)
			}
		}
		if p.LCh().C > 0.01 && !q.shadeOf(p) {
			t.Errorf("%v is no shade of %v", q, p)
		}
	})
}

// One small colour on one large: when is it an accent?
func TestWhatIsAnAccentBesideALargerColour(t *testing.T) {
	for _, c := range []struct {
		name         string
		large, small LCh
		least, most  float64 // of their ΔE2000
		want         bool
	}{
		{"of another hue, but near", LCh{50, 40, 30}, LCh{50, 40, 57}, 9.5, 13.5, false},
		{"of another hue and far enough", LCh{50, 40, 30}, LCh{50, 40, 75}, 14.5, 25, true},
		{"a shadow, somewhat purer", LCh{60, 50, 50}, LCh{25, 35, 50}, 25, 45, false},
		{"a berry on pink cloth", LCh{70, 20, 20}, LCh{40, 60, 25}, 25, 45, true},
		{"a shadow whose hue is over the turn of the circle", LCh{50, 60, 355}, LCh{25, 32, 5}, 15, 35, false},
	} {
		if d := DeltaE2000(c.large.Lab(), c.small.Lab()); d < c.least || d > c.most {
			t.Errorf("%s: they are %.1f apart, the case wants %v to %v", c.name, d, c.least, c.most)
		}
		r := Raster{100, 100, slices.Repeat([]XYZ{c.large.Lab().XYZ()}, 100*100)}
		for i := range 200 {
			r.Pix[(30+i/20)*100+30+i%20] = c.small.Lab().XYZ()
		}
		palette, _ := extract(t, r)
		if len(palette) != 2 || palette[1].Share != 0.02 || palette[1].Accent != c.want {
			t.Errorf("%s: %+v", c.name, palette)
		}
	}
}

// Seven large colours, far from each other, leave no room for three small
// ones; the two largest of these are kept all the same, and not the third.
func TestTwoAccentsAreKeptWhereRoomIsScarce(t *testing.T) {
	large := []LCh{{95, 0, 0}, {10, 0, 0}, {55, 0, 0}, {40, 22, 60}, {45, 22, 260}, {75, 22, 90}, {30, 22, 340}}
	small := []LCh{{55, 40, 140}, {50, 45, 20}, {60, 38, 300}}
	r := Raster{140, 100, nil}
	for i := range 140 * 100 {
		r.Pix = append(r.Pix, large[i%140/20].Lab().XYZ())
	}
	for i, c := range small {
		for p := range 182 - 14*i { // 1.3, 1.2 and 1.1 per cent
			r.Pix[(20+20*i+p/14)*140+42+p%14] = c.Lab().XYZ()
		}
	}
	palette, _ := extract(t, r)
	var accents []Lab
	for _, s := range palette {
		if s.Accent {
			accents = append(accents, s.Lab)
		}
	}
	if len(palette) != 6 || len(accents) != 2 || DeltaE2000(accents[0], small[0].Lab()) > 1 || DeltaE2000(accents[1], small[1].Lab()) > 1 {
		t.Errorf("accents %v in %+v", accents, palette)
	}
}

// What was joined with a larger colour, but is nearer to a garnish, does not
// go over to it: the garnish keeps its colour and its share.
func TestAnAccentTakesNothingFromOthers(t *testing.T) {
	large := []LCh{{95, 0, 0}, {55, 0, 0}, {55, 0, 0}, {30, 22, 210}, {45, 22, 260}, {75, 22, 20}, {30, 22, 340}}
	olive, herb := LCh{55, 34, 102}, LCh{52, 40, 140}
	if d := DeltaE2000(olive.Lab(), herb.Lab()); d < accentDistance {
		t.Fatalf("olive and herb are %.1f apart", d)
	}
	r := Raster{140, 100, nil}
	for i := range 140 * 100 {
		r.Pix = append(r.Pix, large[i%140/20].Lab().XYZ())
	}
	for p := range 840 { // 6 %: too large for an accent
		r.Pix[(p/14)*140+42+p%14] = olive.Lab().XYZ()
	}
	for p := range 182 { // 1.3 %
		r.Pix[(70+p/14)*140+42+p%14] = herb.Lab().XYZ()
	}
	palette, _ := extract(t, r)
	i := slices.IndexFunc(palette, func(s Swatch) bool { return s.Accent })
	if i < 0 || palette[i].Share != 0.013 || DeltaE2000(palette[i].Lab, herb.Lab()) > 0.01 {
		t.Errorf("%+v", palette)
	}
}
