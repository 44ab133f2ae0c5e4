package look

import (
	"math"
	"slices"
	"testing"

	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// painted is a picture of w × h pixels in sRGB: a ground, and rectangles x0,
// y0, x1, y1 (exclusive) on it.
func painted(w, h int, ground [3]uint8, rects ...paintedRect) colour.Raster {
	s, _ := colour.SpaceNamed("sRGB")
	r := colour.Raster{Width: w, Height: h, Pix: make([]colour.XYZ, w*h)}
	for i := range r.Pix {
		c := ground
		for _, p := range rects {
			if x, y := i%w, i/w; x >= p.x0 && x < p.x1 && y >= p.y0 && y < p.y1 {
				c = p.c
			}
		}
		r.Pix[i] = s.XYZ8(c[0], c[1], c[2])
	}
	return r
}

type paintedRect struct {
	x0, y0, x1, y1 int
	c              [3]uint8
}

// The scenes and values are those of reference file 10_saliency_cases.json,
// computed there after Achanta et al., CVPR 2009, in Lab of D65; ours is of
// D50, which moves distances by a part in a hundred or so.
func TestFrequencyTunedSaliencyOfKnownScenes(t *testing.T) {
	pale := [3]uint8{230, 225, 215}
	for _, c := range []struct {
		name              string
		r                 colour.Raster
		max, mean, corner float64
		over              float64 // inside the object over outside of it; 0 none
		object            paintedRect
	}{
		{"uniform", painted(64, 64, [3]uint8{128, 128, 128}), 0, 0, 0, 0, paintedRect{}},
		{"red square on grey", painted(64, 64, [3]uint8{128, 128, 128}, paintedRect{40, 8, 56, 24, [3]uint8{200, 40, 30}}),
			71.859932, 8.674303, 4.790662, 13.1532, paintedRect{x0: 40, y0: 8, x1: 56, y1: 24}},
		{"half black, half white", painted(64, 64, [3]uint8{}, paintedRect{32, 0, 64, 64, [3]uint8{255, 255, 255}}),
			50, 48.828125, 50, 1, paintedRect{x0: 32, y0: 0, x1: 64, y1: 64}},
		{"a large and a small square", painted(64, 64, pale, paintedRect{6, 6, 16, 16, [3]uint8{60, 90, 40}}, paintedRect{30, 30, 58, 58, [3]uint8{190, 60, 40}}),
			61.283069, 23.826545, 15.383149, 3.5957, paintedRect{x0: 30, y0: 30, x1: 58, y1: 58}},
		{"touching the border", painted(64, 64, pale, paintedRect{0, 20, 20, 44, [3]uint8{190, 60, 40}}),
			67.6154, 15.410271, 8.975496, 7.1059, paintedRect{x0: 0, y0: 20, x1: 20, y1: 44}},
	} {
		lab := make([]colour.Lab, len(c.r.Pix))
		for i, p := range c.r.Pix {
			lab[i] = p.Lab()
		}
		got := tuned(softened(lab, 64, 64), meanOf(lab))
		var mean, in, out, n float64
		for i, v := range got {
			mean += v / float64(len(got))
			if x, y := i%64, i/64; x >= c.object.x0 && x < c.object.x1 && y >= c.object.y0 && y < c.object.y1 {
				in += v
				n++
			} else {
				out += v
			}
		}
		near := func(what string, got, want float64) {
			if !(math.Abs(got-want) <= 0.03*want+1e-3) {
				t.Errorf("%s: %s %.4f, want %.4f", c.name, what, got, want)
			}
		}
		near("most", slices.Max(got), c.max)
		near("mean", mean, c.mean)
		near("in the corner", got[63*64+63], c.corner)
		if c.over > 0 {
			near("object over ground", in/n/(out/(64*64-n)), c.over)
		}
	}
}

// boxOf is the box of a region in cells of a grid.
func boxOf(m *catalogue.Matters, r catalogue.Region) (x0, y0, x1, y1 float64) {
	c, w := float64(m.Columns), float64(m.Rows)
	return r.X * c, r.Y * w, (r.X + r.Width) * c, (r.Y + r.Height) * w
}

// fading lets light fall off to the right, to two fifths.
func fading(r colour.Raster) colour.Raster {
	for i := range r.Pix {
		k := 1 - 0.6*float64(i%r.Width)/float64(r.Width-1)
		r.Pix[i] = colour.XYZ{X: k * r.Pix[i].X, Y: k * r.Pix[i].Y, Z: k * r.Pix[i].Z}
	}
	return r
}

// Where the dishes of these scenes lie is known, since the test paints them.
func TestWhatMattersIsFound(t *testing.T) {
	cloth, food, plate := [3]uint8{214, 206, 190}, [3]uint8{150, 60, 30}, [3]uint8{220, 212, 197}
	// The cloth in a third of its light: sRGB's curve, IEC 61966-2-1.
	napkin, shade := [3]uint8{232, 230, 224}, [3]uint8{132, 127, 117}
	rim := func(x, y, a, b float64) catalogue.Rim {
		return catalogue.Rim{X: x, Y: y, A: a, B: b, Score: 0.9, Cover: 1, Support: 1}
	}
	half := &catalogue.Focus{Columns: 4, Rows: 4, Grid: []uint8{
		200, 200, 0, 0, 200, 200, 0, 0, 200, 200, 0, 0, 200, 200, 0, 0}}
	type box struct{ x0, y0, x1, y1 float64 } // shares of width and height
	for _, c := range []struct {
		name  string
		r     colour.Raster
		focus *catalogue.Focus
		rims  []catalogue.Rim
		want  []box
	}{
		{"one dish", painted(160, 107, cloth, paintedRect{40, 30, 90, 80, food}), nil, nil, []box{{0.25, 0.28, 0.5625, 0.75}}},
		{"a dish that fills half the picture", painted(160, 107, cloth, paintedRect{15, 8, 145, 99, food}), nil, nil, []box{{0.094, 0.075, 0.906, 0.925}}},
		{"two dishes apart, the larger first", painted(160, 107, cloth, paintedRect{10, 30, 40, 70, food}, paintedRect{80, 20, 150, 90, food}), nil, nil,
			[]box{{0.5, 0.187, 0.9375, 0.841}, {0.0625, 0.28, 0.25, 0.654}}},
		{"a plate as white as the cloth, by its rim", painted(160, 107, cloth, paintedRect{40, 17, 112, 89, plate}, paintedRect{64, 41, 88, 65, food}), nil,
			[]catalogue.Rim{rim(76.0/160, 53.0/160, 36.0/160, 36.0/160)}, []box{{0.25, 0.16, 0.7, 0.83}}},
		{"two plates that touch, by their rims", painted(160, 107, cloth, paintedRect{10, 25, 150, 80, food}), nil,
			[]catalogue.Rim{rim(45.0/160, 53.0/160, 35.0/160, 27.0/160), rim(115.0/160, 53.0/160, 34.0/160, 27.0/160)},
			[]box{{0.5, 0.234, 0.9375, 0.75}, {0.0625, 0.234, 0.5, 0.75}}},
		{"of two alike, the sharp one first", painted(160, 107, cloth, paintedRect{20, 30, 60, 70, food}, paintedRect{100, 30, 140, 70, food}), half, nil,
			[]box{{0.125, 0.28, 0.375, 0.654}, {0.625, 0.28, 0.875, 0.654}}},
		{"a square plate as white as the napkin beside it", painted(160, 107, [3]uint8{60, 66, 72}, paintedRect{0, 0, 90, 16, napkin}, paintedRect{36, 27, 124, 91, napkin}, paintedRect{60, 40, 100, 80, food}), nil, nil,
			[]box{{0.225, 0.252, 0.775, 0.85}}},
		{"a pale dish beside a blue napkin", painted(160, 107, cloth, paintedRect{20, 30, 60, 75, [3]uint8{214, 170, 110}}, paintedRect{90, 20, 150, 90, [3]uint8{20, 40, 220}}), nil, nil,
			[]box{{0.5625, 0.187, 0.9375, 0.841}, {0.125, 0.28, 0.375, 0.7}}},
		{"a dish and its shadow", painted(160, 107, cloth, paintedRect{90, 40, 112, 80, shade}, paintedRect{40, 30, 90, 80, food}), nil, nil, []box{{0.25, 0.28, 0.5625, 0.75}}},
		{"a dish on a table along which light falls off", fading(painted(160, 107, cloth, paintedRect{40, 30, 90, 80, food})), nil, nil, []box{{0.25, 0.28, 0.5625, 0.75}}},
		{"a bowl aslant stands free of its neighbour's shade", painted(160, 107, cloth, paintedRect{52, 70, 100, 107, [3]uint8{90, 110, 60}}, paintedRect{45, 38, 107, 68, food}), nil,
			[]catalogue.Rim{rim(76.0/160, 53.0/160, 31.0/160, 27.0/160)}, []box{{0.28, 0.25, 0.67, 0.88}, {0.33, 0.86, 0.62, 1}}},
		{"a rim drawn by bare table is no dish", painted(160, 107, cloth, paintedRect{20, 30, 60, 70, food}), nil,
			[]catalogue.Rim{rim(120.0/160, 53.0/160, 25.0/160, 20.0/160)}, []box{{0.125, 0.28, 0.375, 0.654}}},
		{"a dish that the frame cuts", painted(160, 107, cloth, paintedRect{0, 20, 60, 90, food}), nil, nil, []box{{0, 0.187, 0.375, 0.841}}},
		{"a crumb is no dish", painted(160, 107, cloth, paintedRect{40, 30, 90, 80, food}, paintedRect{140, 90, 145, 95, food}), nil, nil, []box{{0.25, 0.28, 0.5625, 0.75}}},
	} {
		m := weigh(c.r, c.focus, c.rims)
		if m == nil {
			t.Errorf("%s: nothing matters", c.name)
			continue
		}
		if len(m.Weight) != m.Columns*m.Rows || m.Columns*m.Rows > mattersCells {
			t.Errorf("%s: a grid of %d × %d has %d cells", c.name, m.Columns, m.Rows, len(m.Weight))
		}
		if len(m.Regions) != len(c.want) {
			t.Errorf("%s: %d regions %v, want %d", c.name, len(m.Regions), m.Regions, len(c.want))
			continue
		}
		var shares float64
		for i, w := range c.want {
			x0, y0, x1, y1 := boxOf(m, m.Regions[i])
			cw, rh := float64(m.Columns), float64(m.Rows)
			const cells = 2.5 // the blur of two pixels of the thumbnail, and where cells fall
			if math.Abs(x0-w.x0*cw) > cells || math.Abs(y0-w.y0*rh) > cells || math.Abs(x1-w.x1*cw) > cells || math.Abs(y1-w.y1*rh) > cells {
				t.Errorf("%s: region %d is %.1f %.1f %.1f %.1f of %d × %d cells, want %.1f %.1f %.1f %.1f", c.name, i+1, x0, y0, x1, y1, m.Columns, m.Rows, w.x0*cw, w.y0*rh, w.x1*cw, w.y1*rh)
			}
			shares += m.Regions[i].Share
		}
		if !(shares > 0.3 && shares <= 1) {
			t.Errorf("%s: regions are %.2f of all weight", c.name, shares)
		}
	}
}

func TestNothingMattersWhereNothingStandsOut(t *testing.T) {
	noise := painted(160, 107, [3]uint8{120, 110, 100})
	for i := range noise.Pix {
		f := 1 + 0.03*float64(i*7919%13-6)/6
		noise.Pix[i].Y *= f
	}
	for name, r := range map[string]colour.Raster{
		"one colour": painted(160, 107, [3]uint8{120, 110, 100}), "black": painted(160, 107, [3]uint8{}), "grain": noise,
		"one pixel": painted(1, 1, [3]uint8{9, 9, 9}), "three by two": painted(3, 2, [3]uint8{9, 9, 9}), "no pixel": {},
	} {
		if m := weigh(r, nil, nil); m != nil {
			t.Errorf("%s: %v", name, m.Regions)
		}
	}
	if m := weigh(painted(160, 5, [3]uint8{200, 200, 190}, paintedRect{60, 1, 90, 4, [3]uint8{150, 60, 30}}), nil, nil); m == nil || len(m.Weight) != m.Columns*m.Rows {
		t.Errorf("a panorama: %v", m)
	}
}

func BenchmarkWeigh(b *testing.B) {
	r := painted(160, 107, [3]uint8{214, 206, 190}, paintedRect{10, 30, 40, 70, [3]uint8{150, 60, 30}}, paintedRect{80, 20, 150, 90, [3]uint8{150, 60, 30}})
	b.ReportAllocs()
	for b.Loop() {
		weigh(r, nil, nil)
	}
}
