package look

import (
	"encoding/json"
	"image"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"testing"

	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// sharpnessFile is testdata/sharpness_cases.json, reference 09 unchanged.
type sharpnessFile struct {
	Cases map[string]struct {
		Image [][]float64
		TENG  float64
	}
	MTF struct {
		Rows [][3]float64
	} `json:"gaussian_mtf"`
}

func sharpnessCases(t *testing.T) sharpnessFile {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", "sharpness_cases.json"))
	if err != nil {
		t.Fatal(err)
	}
	var f sharpnessFile
	if err := json.Unmarshal(b, &f); err != nil {
		t.Fatal(err)
	}
	return f
}

// The fine energy is Tenengrad as reference 09 defines it: the mean over
// interior pixels of Sobel's gx² + gy², its kernel unscaled.
func TestTheFineEnergyIsTenengrad(t *testing.T) {
	cases := sharpnessCases(t).Cases
	if len(cases) != 5 {
		t.Fatalf("%d cases, want 5", len(cases))
	}
	for name, c := range cases {
		h, w := len(c.Image), len(c.Image[0])
		var tone []float32
		for _, row := range c.Image {
			for _, v := range row {
				tone = append(tone, float32(v))
			}
		}
		var d detail
		d.single(tone, w, h, 0, 0, w, h)
		for _, got := range []float64{64 * (d.xx + d.yy), 64 * energy(tone, w, h, 0, 0, w, h)} {
			if !(math.Abs(got-c.TENG) <= 1e-6*max(1, c.TENG)) {
				t.Errorf("%s: %v, want %v", name, got, c.TENG)
			}
		}
	}
}

// scoreOfEdge is what the score's formula says of an edge of σ s, from scratch:
// 1/(1 + y²), y the variance of the blur and of the measure over that at which
// it is a half, σ 1. A measure over a box of two pixels twice as wide, of means
// over those, sees a step with the energy 5/12 of a pixel's; a Gaussian has
// 1/(2√π·σ).
func scoreOfEdge(s float64) float64 {
	own := math.Pow(2/(2*math.SqrtPi*5.0/12), 2)
	y := (s*s + own) / (1 + own)
	return 1 / (1 + y*y)
}

// A step edge of known blur has the sharpness that its formula says, whatever
// its contrast and exposure.
func TestSharpnessOfAnEdge(t *testing.T) {
	for _, s := range []float64{0.5, 1, 1.5, 2, 3, 4} {
		want := scoreOfEdge(s)
		for _, c := range [][2]float64{{0.2, 0.3}, {0.02, 0.03}, {0.3, 0.6}} {
			g := stripes(768, 512, s, c[0], c[1], 12)
			f := detailsOf(g.pix, g.w, g.h).focus(floors{})
			if f == nil {
				t.Fatalf("σ %v of %v: nothing told", s, c)
			}
			// Sobel's kernels are not Gaussians and tone bends the edge: a
			// twentieth of the scale is allowed.
			if !(math.Abs(f.Score-want) <= 0.05) {
				t.Errorf("σ %v of %v: %.3f, want %.3f", s, c, f.Score, want)
			}
		}
	}
}

// A frame is as sharp as what matters in it, whatever lies around that.
func TestFocusOfAPlaceIsOfThatPlace(t *testing.T) {
	const w, h = 768, 512
	sharp, soft := stripes(w, h, 0.7, 0.2, 0.4, 12), stripes(w, h, 4, 0.2, 0.4, 12)
	mixed := func(inner, outer grey) grey {
		g := grey{w, h, make([]float32, w*h)}
		for i := range g.pix {
			g.pix[i] = outer.pix[i]
			if math.Hypot(float64(i%w-w/2), float64(i/w-h/2)) < 150 {
				g.pix[i] = inner.pix[i]
			}
		}
		return g
	}
	m := &catalogue.Matters{Columns: 24, Rows: 16, Weight: make([]uint8, 24*16)}
	for i := range m.Weight {
		if math.Hypot(float64(i%24)-11.5, float64(i/24)-7.5) < 3.5 { // 112 pixels: inside the dish
			m.Weight[i] = 200
		}
	}
	score := func(g grey) float64 {
		f := detailsOf(g.pix, w, h).focus(floors{})
		if f == nil {
			t.Fatal("nothing told")
		}
		s, ok := f.Over(m.Place(f.Cells()))
		if !ok {
			t.Fatal("nothing told of the place")
		}
		return s
	}
	all, none := score(sharp), score(soft)
	if got := score(mixed(sharp, soft)); !(math.Abs(got-all) <= 0.03) {
		t.Errorf("a sharp dish on a soft table: %.3f, all sharp %.3f", got, all)
	}
	if got := score(mixed(soft, sharp)); !(math.Abs(got-none) <= 0.03) {
		t.Errorf("a soft dish on a sharp table: %.3f, all soft %.3f", got, none)
	}
}

// The grid lies as the picture is seen: its sharp half is where the picture's
// is.
func TestTheGridLiesUpright(t *testing.T) {
	const w, h = 768, 512
	sharp, soft := stripes(w, h, 0.7, 0.2, 0.4, 45), stripes(w, h, 4, 0.2, 0.4, 45)
	for i := range soft.pix {
		if i%w < w/2 {
			soft.pix[i] = sharp.pix[i] // left, as stored
		}
	}
	img := soft.coded(0, 0)
	for o, sharpLeft := range map[int]func(x, y float64) bool{
		1: func(x, y float64) bool { return x < 0.5 }, 2: func(x, y float64) bool { return x > 0.5 },
		3: func(x, y float64) bool { return x > 0.5 }, 4: func(x, y float64) bool { return x < 0.5 },
		5: func(x, y float64) bool { return y < 0.5 }, 6: func(x, y float64) bool { return y < 0.5 },
		7: func(x, y float64) bool { return y > 0.5 }, 8: func(x, y float64) bool { return y > 0.5 },
	} {
		p := planesFrom(img, o, planesSide)
		d := detailsOf(p.y, p.width, p.height)
		f := d.focus(d.noise(p.overlap))
		var in, out float64
		for i, v := range f.Grid {
			x, y := (float64(i%f.Columns)+0.5)/float64(f.Columns), (float64(i/f.Columns)+0.5)/float64(f.Rows)
			if sharpLeft(x, y) {
				in += float64(v)
			} else {
				out += float64(v)
			}
		}
		if !(in > 2*out) {
			t.Errorf("orientation %d: sharpness %v in the sharp half, %v in the other", o, in, out)
		}
		if o < 5 && (f.Columns != 48 || f.Rows != 32) || o >= 5 && (f.Columns != 32 || f.Rows != 48) {
			t.Errorf("orientation %d: a grid of %d × %d", o, f.Columns, f.Rows)
		}
	}
}

// Where nothing can be told nothing is said, and no number is not one.
func TestPicturesThatTellNothing(t *testing.T) {
	flat := func(w, h int, v uint8) image.Image {
		m := image.NewGray(image.Rect(0, 0, w, h))
		for i := range m.Pix {
			m.Pix[i] = v
		}
		return m
	}
	deep := image.NewNRGBA64(image.Rect(0, 0, 300, 200))
	for i := range 300 * 200 {
		v := uint16(20000 + 200*(i%300)) // a slope
		deep.SetNRGBA64(i%300, i/300, color.NRGBA64{v, v, v, 65535})
	}
	for name, c := range map[string]struct {
		img   image.Image
		focus bool
	}{
		"1 × 1": {flat(1, 1, 90), false}, "3 × 2": {flat(3, 2, 90), false}, "1 × 4000": {flat(1, 4000, 120), false},
		"one colour": {flat(600, 400, 120), false}, "black": {flat(600, 400, 0), false}, "white": {flat(600, 400, 255), false},
		"panorama": {stripes(4000, 150, 1, 0.1, 0.5, 10).coded(0, 0), true}, "tall": {stripes(60, 3000, 1, 0.1, 0.5, 80).coded(0, 0), true},
		"16 bits": {deep, true},
	} {
		for o := 1; o <= 8; o += 5 {
			seen := gather(c.img, c.img.Bounds(), curveOf(colour.SRGB), pictureSide, false)
			p := seen.planes(colour.SRGB, o, planesSide)
			var l catalogue.Look
			p.measure(&l, seen.raster(colour.SRGB, o))
			if (l.Focus != nil) != c.focus {
				t.Errorf("%s: focus %+v", name, l.Focus)
			}
			if l.Light == nil {
				t.Fatalf("%s: no light", name)
			}
			if _, err := json.Marshal(l); err != nil { // refuses NaN and infinity
				t.Errorf("%s: %v", name, err)
			}
			if f := l.Focus; f != nil && (!(f.Score >= 0 && f.Score <= 1 && f.Motion >= 0 && f.Motion <= 1 && f.Direction >= 0 && f.Direction < 180) || len(f.Grid) != f.Columns*f.Rows) {
				t.Errorf("%s: %+v", name, f)
			}
		}
	}
}

// Grain alone is no detail, at any strength and however it was brought down,
// and a soft frame does not gain by it.
func TestNoiseIsNoDetail(t *testing.T) {
	for _, w := range []int{700, 1200, 2600} {
		for _, noise := range []float64{0.01, 0.04} {
			h := w * 2 / 3
			flat := grey{w, h, make([]float32, w*h)}
			for i := range flat.pix {
				flat.pix[i] = 0.18
			}
			p := planesFrom(flat.coded(noise, 7), 1, planesSide)
			d := detailsOf(p.y, p.width, p.height)
			floor := d.noise(p.overlap)
			var mean floors
			n := float64(len(d.cell))
			for _, c := range d.cell {
				mean.single += (c.xx + c.yy) / n
				mean.fine += c.fine / n
				mean.far += c.far / n
			}
			for scale, got := range map[string]float64{"single": floor.single / mean.single, "fine": floor.fine / mean.fine, "far": floor.far / mean.far} {
				if !(math.Abs(got-1) <= 0.1) {
					t.Errorf("%d pixels, noise %v: floor of %s pixels %.2f of the mean energy", w, noise, scale, got)
				}
			}
			if f := d.focus(floor); f != nil {
				t.Errorf("%d pixels, noise %v: focus %.3f of grain alone", w, noise, f.Score)
			}
		}
	}
}
