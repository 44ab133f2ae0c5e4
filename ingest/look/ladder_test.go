package look

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"coverplate/audit"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// blur is one known blur: Gaussian of sigma pixels, or motion over length
// pixels at angle degrees counter-clockwise from the width.
type blur struct {
	sigma, length, angle float64
}

func (b blur) String() string {
	switch {
	case b.sigma > 0:
		return fmt.Sprintf("gauss %.1f", b.sigma)
	case b.length > 0:
		return fmt.Sprintf("motion %.0f at %.0f", b.length, b.angle)
	}
	return "none"
}

// grey is a photograph's luminance in linear light at its own size.
type grey struct {
	w, h int
	pix  []float32
}

// of applies the blur in linear light; the border is repeated outwards.
func (b blur) of(g grey) grey {
	switch {
	case b.sigma > 0:
		return gaussOf(g, b.sigma)
	case b.length > 0:
		return motionOf(g, b.length, b.angle)
	}
	return g
}

func gaussOf(g grey, sigma float64) grey {
	n := int(math.Ceil(4 * sigma))
	k := make([]float32, 2*n+1)
	var sum float64
	for i := range k {
		// The Gaussian's mean over each pixel, which holds for a σ of half a
		// pixel too.
		x := float64(i - n)
		v := math.Erf((x+0.5)/sigma/math.Sqrt2) - math.Erf((x-0.5)/sigma/math.Sqrt2)
		k[i] = float32(v)
		sum += v
	}
	for i := range k {
		k[i] /= float32(sum)
	}
	across := func(in []float32, w, h int) []float32 { // along x, transposed on the way out
		out := make([]float32, len(in))
		line := make([]float32, w+2*n)
		for y := range h {
			for x := range line {
				line[x] = in[y*w+min(w-1, max(0, x-n))]
			}
			for x := range w {
				var s float32
				for i, c := range k {
					s += c * line[x+i]
				}
				out[x*h+y] = s
			}
		}
		return out
	}
	return grey{g.w, g.h, across(across(g.pix, g.w, g.h), g.h, g.w)}
}

// motionOf spreads each pixel evenly over a straight line of length pixels.
func motionOf(g grey, length, angle float64) grey {
	type tap struct{ dx, dy int }
	weights := map[tap]float64{}
	const steps = 64
	n := int(length*steps) + 1
	sin, cos := math.Sincos(angle * math.Pi / 180)
	for i := range n {
		at := length * ((float64(i)+0.5)/float64(n) - 0.5)
		x, y := at*cos, -at*sin
		fx, fy := math.Floor(x), math.Floor(y)
		ax, ay := x-fx, y-fy
		for _, c := range []struct {
			dx, dy int
			w      float64
		}{{0, 0, (1 - ax) * (1 - ay)}, {1, 0, ax * (1 - ay)}, {0, 1, (1 - ax) * ay}, {1, 1, ax * ay}} {
			weights[tap{int(fx) + c.dx, int(fy) + c.dy}] += c.w / float64(n)
		}
	}
	taps := make([]tap, 0, len(weights))
	for t, w := range weights {
		if w > 1e-7 {
			taps = append(taps, t)
		}
	}
	slices.SortFunc(taps, func(a, b tap) int { return 1000*(a.dy-b.dy) + a.dx - b.dx })
	out := make([]float32, len(g.pix))
	m := int(length/2) + 2
	line := make([]float32, g.w+2*m)
	for y := range g.h {
		dst := out[y*g.w:][:g.w]
		last := -1 << 30
		for _, t := range taps {
			if t.dy != last {
				last = t.dy
				src := g.pix[min(g.h-1, max(0, y+t.dy))*g.w:][:g.w]
				copy(line[m:], src)
				for i := range m {
					line[i], line[m+g.w+i] = src[0], src[g.w-1]
				}
			}
			w := float32(weights[t])
			for x, v := range line[m+t.dx:][:g.w] {
				dst[x] += w * v
			}
		}
	}
	return grey{g.w, g.h, out}
}

// encoded is sRGB's curve times 255 over 65536 steps of linear light.
var encoded = sync.OnceValue(func() *[codes]float32 {
	t := new([codes]float32)
	for i := range t {
		t[i] = float32(255 * encodeSRGB(float64(i)/(codes-1)))
	}
	return t
})

// bell is a field of normal deviates that all noise of these tests is cut from.
var bell = sync.OnceValue(func() []float32 {
	rnd := rand.New(rand.NewPCG(20261125, 4))
	f := make([]float32, 1<<22)
	for i := range f {
		f[i] = float32(rnd.NormFloat64())
	}
	return f
})

// coded is g as 8-bit codes of sRGB, with Gaussian noise of the given share of
// 255 added to the codes first. Pictures of another seed have other noise.
func (g grey) coded(noise float64, seed int) *image.Gray {
	img := image.NewGray(image.Rect(0, 0, g.w, g.h))
	table, field := encoded(), bell()
	at := seed * 104729 % (len(field) / 2)
	scale := float32(noise * 255)
	for i, v := range g.pix {
		c := table[int(min(1, max(0, v))*(codes-1)+0.5)] + scale*field[(at+i)%len(field)]
		img.Pix[i] = uint8(min(255, max(0, c+0.5)))
	}
	return img
}

// texture is a made picture: octaves of smooth noise, each half as wide and
// half as strong as the last, which is a spectrum of amplitude 1/f; discs with
// sharp rims on it. Linear light.
func texture(w, h, seed int) grey {
	g := grey{w, h, make([]float32, w*h)}
	rnd := rand.New(rand.NewPCG(uint64(seed), 11))
	for i := range g.pix {
		g.pix[i] = 0.3
	}
	for cell, strength := 128, float32(0.16); cell >= 1; cell, strength = cell/2, strength/2 {
		gw, gh := w/cell+2, h/cell+2
		knots := make([]float32, gw*gh)
		for i := range knots {
			knots[i] = strength * float32(rnd.NormFloat64())
		}
		for y := range h {
			fy := float32(y%cell) / float32(cell)
			for x := range w {
				fx := float32(x%cell) / float32(cell)
				k := knots[y/cell*gw+x/cell:]
				g.pix[y*w+x] += (k[0]*(1-fx)+k[1]*fx)*(1-fy) + (k[gw]*(1-fx)+k[gw+1]*fx)*fy
			}
		}
	}
	for range 6 {
		cx, cy, r, more := rnd.Float64()*float64(w), rnd.Float64()*float64(h), 40+80*rnd.Float64(), float32(0.25*rnd.NormFloat64())
		for i := range g.pix {
			if math.Hypot(float64(i%w)-cx, float64(i/w)-cy) < r {
				g.pix[i] += more
			}
		}
	}
	for i, v := range g.pix {
		g.pix[i] = min(0.9, max(0.02, v))
	}
	return g
}

// photograph reads the luminance of one of the shared food photographs.
func photograph(t testing.TB, path string) grey {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	img, err := jpeg.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	l := gather(img, img.Bounds(), curveOf(colour.SRGB), 1<<20, false)
	return grey{l.width, l.height, l.planes(colour.SRGB, 1, 1<<20).y}
}

type foodPhoto struct{ path, source string }

// foodPhotos lists the shared food photographs with the repository that each
// is from.
func foodPhotos(t testing.TB) []foodPhoto {
	t.Helper()
	root := filepath.Join("..", "..", "..", "shared", "photos", "food")
	f, err := os.Open(filepath.Join(root, "MANIFEST.csv"))
	if err != nil {
		t.Skipf("no photographs at %s: the folder is not part of the project", root)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []foodPhoto
	for _, r := range rows[1:] {
		out = append(out, foodPhoto{filepath.Join(root, r[0]), r[1]})
	}
	return out
}

// spearman is the rank correlation of a and b; ranks of ties are shared.
func spearman(a, b []float64) float64 {
	ranks := func(v []float64) []float64 {
		r := make([]float64, len(v))
		for i := range v {
			for j := range v {
				switch {
				case v[j] < v[i]:
					r[i]++
				case v[j] == v[i] && i != j:
					r[i] += 0.5
				}
			}
		}
		return r
	}
	ra, rb := ranks(a), ranks(b)
	var ma, mb float64
	for i := range ra {
		ma += ra[i] / float64(len(ra))
		mb += rb[i] / float64(len(rb))
	}
	var ab, aa, bb float64
	for i := range ra {
		ab += (ra[i] - ma) * (rb[i] - mb)
		aa += (ra[i] - ma) * (ra[i] - ma)
		bb += (rb[i] - mb) * (rb[i] - mb)
	}
	if aa == 0 || bb == 0 {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}

// tunedOn is the repository on whose photographs the constants of focus.go and
// motion.go were chosen; the ladder climbs with the others.
const tunedOn = "Anduin2017/HowToCook"

// rungs of the ladder of blurs, the sharpest first.
var (
	sigmas  = []float64{0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4}
	lengths = []float64{1, 3, 5, 9, 15}
	angles  = []float64{0, 35, 110}
	noises  = []float64{0, 0.02, 0.04}
)

// climbed is what the ladder of one photograph gave at one strength of noise.
type climbed struct {
	alone, set order                 // by each frame's own score, and as audit judges a set of them
	still      []float64             // Motion of the original and its Gaussian copies
	moved      map[float64][]float64 // Motion by length
	off        map[float64][]float64 // error of Direction in degrees by length
	untold     int                   // copies of which nothing could be said
	strange    int                   // copies that audit takes for another picture
}

// order is how well scores are in the order of the blurs.
type order struct {
	gauss, motion []float64 // rank correlations, one an order of blurs
	above         int       // blurred copies not below their original
}

// orderOf compares scores, the original's first, with the blurs of the others.
func orderOf(scores []float64, blurs []blur) (o order) {
	along := func(which func(b blur) (strength float64, ok bool)) float64 {
		strength, score := []float64{0}, scores[:1:1]
		for i, b := range blurs {
			if s, ok := which(b); ok {
				strength, score = append(strength, -s), append(score, scores[i+1])
			}
		}
		return spearman(strength, score)
	}
	o.gauss = append(o.gauss, along(func(b blur) (float64, bool) { return b.sigma, b.sigma > 0 }))
	for _, a := range angles {
		o.motion = append(o.motion, along(func(b blur) (float64, bool) { return b.length, b.length > 0 && b.angle == a }))
	}
	for _, s := range scores[1:] {
		if !(s < scores[0]) {
			o.above++
		}
	}
	return o
}

// measured is what At makes of the light of a grey picture, but for its rims.
func measured(g grey, noise float64, seed int) *catalogue.Look {
	img := g.coded(noise, seed)
	l := gather(img, img.Bounds(), curveOf(colour.SRGB), pictureSide, false)
	p := l.planes(colour.SRGB, 1, planesSide)
	d := detailsOf(p.y, p.width, p.height)
	floor := d.noise(p.overlap)
	look := &catalogue.Look{Preview: fromFile, Focus: d.focus(floor)}
	look.Matters = weigh(l.raster(colour.SRGB, 1), look.Focus, nil)
	if f := look.Focus; f != nil {
		f.Motion, f.Direction = d.motion(placeOf(look.Matters, d.cols, d.rows), floor.single)
	}
	look.Light = p.light(look.Matters)
	return look
}

// climb blurs a photograph step by step and measures each copy as look does,
// what matters found anew in each, and holds them against each other.
func climb(g grey, noise float64, copies []grey, blurs []blur) climbed {
	c := climbed{moved: map[float64][]float64{}, off: map[float64][]float64{}}
	looks := []*catalogue.Look{measured(g, noise, int(noise*50))}
	for i, q := range copies {
		looks = append(looks, measured(q, noise, 3*(i+1)+int(noise*50)))
	}
	alone := make([]float64, len(looks))
	for i, l := range looks {
		if l.Focus == nil {
			c.untold++
			continue
		}
		alone[i] = l.Focus.Score
		if i == 0 || blurs[i-1].sigma > 0 {
			c.still = append(c.still, l.Focus.Motion)
			continue
		}
		b := blurs[i-1]
		c.moved[b.length] = append(c.moved[b.length], l.Focus.Motion)
		off := math.Abs(l.Focus.Direction - b.angle)
		c.off[b.length] = append(c.off[b.length], min(off, 180-off))
	}
	set, scene := audit.OnOnePlace(looks)
	for _, n := range scene {
		if n != 0 {
			c.strange++
		}
	}
	c.alone, c.set = orderOf(alone, blurs), orderOf(set, blurs)
	return c
}

// known is a picture to blur.
type known struct {
	name, source string
	pix          func() grey
}

// Focus falls with every known blur of real photographs, also under noise, each
// frame measured alone or judged as audit judges a set, and Motion tells which
// blur it was. Ordinary runs climb with one photograph;
// COVERPLATE_ALL_PHOTOS=1 with 42 of repositories that nothing was tuned on,
// and prints the table of DEVELOPERS.md; COVERPLATE_ALL_PHOTOS=tuned with 42 of
// the one that constants were chosen on.
func TestFocusFallsWithEveryBlur(t *testing.T) {
	which := os.Getenv("COVERPLATE_ALL_PHOTOS")
	var all []known
	for _, p := range foodPhotos(t) {
		if (p.source == tunedOn) == (which == "tuned") {
			all = append(all, known{filepath.Base(p.path), p.source, func() grey { return photograph(t, p.path) }})
		}
	}
	want := 1
	if which != "" {
		want = 42
	} else if testing.Short() {
		t.Skip("some seconds a photograph")
	}
	var chosen []known
	for i := range want {
		chosen = append(chosen, all[i*(len(all)/want)])
	}
	climbAll(t, chosen, noises)
}

// The same of made textures, which hold wherever the photographs are not: noise
// whose amplitude falls with the frequency, as that of natural scenes does
// (Field, Journal of the Optical Society of America A 4 (1987) 2379–2394), lit
// unevenly, over plates with edges.
func TestFocusFallsWithEveryBlurOfMadeTextures(t *testing.T) {
	if testing.Short() {
		t.Skip("arithmetic of one goroutine a picture, slow under the race detector")
	}
	climbAll(t, []known{{"made", "made", func() grey { return texture(720, 480, 1) }}}, noises)
}

// climbAll climbs the ladder with each picture.
func climbAll(t *testing.T, chosen []known, noises []float64) {
	t.Helper()
	var blurs []blur
	for _, s := range sigmas {
		blurs = append(blurs, blur{sigma: s})
	}
	for _, a := range angles {
		for _, l := range lengths {
			blurs = append(blurs, blur{length: l, angle: a})
		}
	}
	results := make([][]climbed, len(chosen)) // by picture and noise
	var wg sync.WaitGroup
	next := make(chan int)
	for range 2 {
		wg.Go(func() {
			for i := range next {
				g := chosen[i].pix()
				copies := make([]grey, len(blurs))
				for k, b := range blurs {
					copies[k] = b.of(g)
				}
				for _, n := range noises {
					results[i] = append(results[i], climb(g, n, copies, blurs))
				}
			}
		})
	}
	for i := range chosen {
		next <- i
	}
	close(next)
	wg.Wait()

	for n, noise := range noises {
		var all climbed
		all.moved, all.off = map[float64][]float64{}, map[float64][]float64{}
		sources := map[string]int{}
		join := func(all *order, one order, name, how string) {
			all.gauss, all.motion = append(all.gauss, one.gauss...), append(all.motion, one.motion...)
			all.above += one.above
			for _, rho := range append(slices.Clone(one.gauss), one.motion...) {
				if !(rho >= 0.98) {
					t.Errorf("%s, noise %v, %s: rank correlation %.3f", name, noise, how, rho)
				}
			}
			if one.above > 0 {
				t.Errorf("%s, noise %v, %s: %d blurred copies not below the original", name, noise, how, one.above)
			}
		}
		for i, r := range results {
			c, name := r[n], chosen[i].name
			join(&all.alone, c.alone, name, "alone")
			join(&all.set, c.set, name, "in their set")
			all.still = append(all.still, c.still...)
			for l := range c.moved {
				all.moved[l], all.off[l] = append(all.moved[l], c.moved[l]...), append(all.off[l], c.off[l]...)
			}
			sources[chosen[i].source]++
			if c.untold > 0 {
				t.Errorf("%s, noise %v: nothing said of %d copies", name, noise, c.untold)
			}
			if c.strange > 0 {
				t.Errorf("%s, noise %v: %d copies taken for another picture", name, noise, c.strange)
			}
		}
		share := func(v []float64, mark float64) float64 {
			k := 0
			for _, m := range v {
				if m >= mark {
					k++
				}
			}
			return 100 * float64(k) / float64(len(v))
		}
		mean := func(v []float64) float64 {
			var s float64
			for _, x := range v {
				s += x / float64(len(v))
			}
			return s
		}
		tenth := func(v []float64) float64 { // the largest but a tenth
			v = slices.Clone(v)
			slices.Sort(v)
			return v[len(v)*9/10]
		}
		t.Logf("noise %.0f %%: %d pictures of %d sources", noise*100, len(chosen), len(sources))
		for how, o := range map[string]order{"alone": all.alone, "in their set": all.set} {
			t.Logf("  %s: rank correlation Gaussian min %.3f mean %.4f, motion min %.3f mean %.4f; not below the original %d",
				how, slices.Min(o.gauss), mean(o.gauss), slices.Min(o.motion), mean(o.motion), o.above)
		}
		for mark := 0.25; mark < 0.55; mark += 0.05 {
			told := ""
			for _, l := range lengths {
				told += fmt.Sprintf(" %5.1f", share(all.moved[l], mark))
			}
			t.Logf("  moved from %.2f: %4.1f %% of %d unmoved; of motions of %v px%s %%", mark, share(all.still, mark), len(all.still), lengths, told)
		}
		for _, l := range lengths {
			t.Logf("  motion %2.0f px: direction off by %.1f° (median), %.1f° (nine of ten)", l, median(slices.Clone(all.off[l])), tenth(all.off[l]))
		}
	}
}
