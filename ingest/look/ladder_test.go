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

	"coverplate/colour"
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
