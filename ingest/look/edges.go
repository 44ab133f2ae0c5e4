package look

import (
	"cmp"
	"image"
	"math"
	"slices"

	"coverplate/ingest/catalogue"
)

// A picture at 1:1 is read in square tiles.
const (
	tileSide  = 96 // pixels: a sixtieth of a frame's width, so that focus hardly changes in one
	tileEdges = 24 // edge pixels a tile must have to be heard
	tilesRead = 48 // tiles, those with the sharpest gradients, whose edges are measured
	tilesBest = 5  // of which the sharpest are heard; their median is the answer
)

// The two Gaussians by which an edge's width is told, σ in pixels.
const (
	narrow = 1.0
	wide   = 2.0
)

// leastEdge is the slope in tone a pixel below which an edge is not heard: a
// JPEG's blocks have steps of a few codes.
const leastEdge = 0.012

// fullPeriod is the period in pixels of the detail whose contrast Full is.
const fullPeriod = 8.0

// contrastKept is the modulation transfer function of a Gaussian of sigma
// pixels at fullPeriod: exp(−2π²σ²f²), reference 09.
func contrastKept(sigma float64) float64 {
	const f = 1 / fullPeriod
	return math.Exp(-2 * math.Pi * math.Pi * sigma * sigma * f * f)
}

// sharpest measures the tiles of the regions, which are of the upright
// picture; of all of it where there are none.
func (l luma) sharpest(orientation int, regions []catalogue.Region) Close {
	tiles := l.tiles(l.stored(orientation, regions))
	type found struct {
		at    image.Rectangle
		sigma float64
	}
	var best []found
	for _, t := range tiles {
		if s, ok := l.edgeBlur(t); ok {
			best = append(best, found{t, s})
		}
	}
	if len(best) == 0 {
		return Close{}
	}
	slices.SortStableFunc(best, func(a, b found) int { return cmp.Compare(a.sigma, b.sigma) })
	f := best[min(tilesBest, len(best))/2]
	full := contrastKept(f.sigma)
	return Close{Full: &full, Blur: f.sigma, Where: l.seen(orientation, f.at)}
}

// stored turns regions of the upright picture to rectangles of the stored one.
func (l luma) stored(orientation int, regions []catalogue.Region) []image.Rectangle {
	all := image.Rect(0, 0, l.w, l.h)
	if len(regions) == 0 {
		return []image.Rectangle{all}
	}
	var out []image.Rectangle
	for _, g := range regions {
		x0, y0, x1, y1 := turnedBack(orientation, g.X, g.Y, g.X+g.Width, g.Y+g.Height)
		r := image.Rect(
			int(math.Floor(x0*float64(l.w))), int(math.Floor(y0*float64(l.h))),
			int(math.Ceil(x1*float64(l.w))), int(math.Ceil(y1*float64(l.h))),
		).Intersect(all)
		if !r.Empty() {
			out = append(out, r)
		}
	}
	return out
}

// turnedBack takes a rectangle in shares of the upright picture to shares of
// the stored one, by Exif's Orientation.
func turnedBack(orientation int, x0, y0, x1, y1 float64) (sx0, sy0, sx1, sy1 float64) {
	at := func(x, y float64) (float64, float64) {
		switch orientation {
		case 2:
			return 1 - x, y
		case 3:
			return 1 - x, 1 - y
		case 4:
			return x, 1 - y
		case 5:
			return y, x
		case 6:
			return y, 1 - x
		case 7:
			return 1 - y, 1 - x
		case 8:
			return 1 - y, x
		}
		return x, y
	}
	ax, ay := at(x0, y0)
	bx, by := at(x1, y1)
	return min(ax, bx), min(ay, by), max(ax, bx), max(ay, by)
}

// seen is a rectangle of the stored picture as a region of the upright one.
func (l luma) seen(orientation int, r image.Rectangle) catalogue.Region {
	w, h := float64(l.w), float64(l.h)
	x0, y0, x1, y1 := turnedBack(back(orientation), float64(r.Min.X)/w, float64(r.Min.Y)/h, float64(r.Max.X)/w, float64(r.Max.Y)/h)
	return catalogue.Region{X: x0, Y: y0, Width: x1 - x0, Height: y1 - y0, Share: 1}
}

// tiles chooses by a quick look the tiles whose edges are worth measuring:
// those whose differences between neighbours, squared, are the largest part of
// the differences over four pixels, as far as there are any.
func (l luma) tiles(rects []image.Rectangle) []image.Rectangle {
	type found struct {
		at    image.Rectangle
		worth float64
	}
	var all []found
	for _, r := range rects {
		nx, ny := max(1, r.Dx()/tileSide), max(1, r.Dy()/tileSide)
		xs, ys := cells(r.Dx(), nx), cells(r.Dy(), ny)
		for ty := range ny {
			for tx := range nx {
				t := image.Rect(xs[tx], ys[ty], xs[tx+1], ys[ty+1]).Add(r.Min)
				if w := l.worth(t); w > 0 {
					all = append(all, found{t, w})
				}
			}
		}
	}
	slices.SortStableFunc(all, func(a, b found) int { return cmp.Compare(b.worth, a.worth) })
	var out []image.Rectangle
	for _, f := range all[:min(tilesRead, len(all))] {
		out = append(out, f.at)
	}
	return out
}

// worth ranks a tile for tiles.
func (l luma) worth(t image.Rectangle) float64 {
	const far = 4
	var near2, far2 float32
	for y := t.Min.Y; y+far < min(t.Max.Y, l.h); y += 2 {
		row, below, deep := l.pix[y*l.stride:][:l.w], l.pix[(y+1)*l.stride:][:l.w], l.pix[(y+far)*l.stride:][:l.w]
		for x := t.Min.X; x+far < t.Max.X; x += 2 {
			v := l.tone[row[x]]
			a, b := l.tone[row[x+1]]-v, l.tone[below[x]]-v
			c, d := l.tone[row[x+far]]-v, l.tone[deep[x]]-v
			near2 += a*a + b*b
			far2 += c*c + d*d
		}
	}
	if near2 == 0 || far2 == 0 {
		return 0
	}
	return float64(near2) * float64(near2) / float64(far2)
}

// kernels of a Gaussian and of its slope, for edgeBlur.
type kernels struct {
	smooth, slope []float32
	reach         int
}

func kernelsOf(sigma float64) kernels {
	n := int(math.Ceil(3.5 * sigma))
	k := kernels{smooth: make([]float32, 2*n+1), slope: make([]float32, 2*n+1), reach: n}
	var sum, moment float64
	g := func(i int) float64 { return math.Exp(-float64(i*i) / (2 * sigma * sigma)) }
	for i := -n; i <= n; i++ {
		sum += g(i)
		moment += float64(i*i) * g(i)
	}
	for i := -n; i <= n; i++ {
		k.smooth[i+n] = float32(g(i) / sum)
		k.slope[i+n] = float32(float64(i) * g(i) / moment) // a ramp of 1 a pixel gives 1
	}
	return k
}

// edgeBlur is the blur of the edges of a tile: the σ in pixels of the Gaussian
// that makes a step so soft, the median over the pixels on edges. ok is false
// where there are too few.
//
// The slope of a step blurred by s is 1/√(s² + σ²) under a Gaussian of σ, so
// of the squares of its slopes under two, R = (s² + wide²)/(s² + narrow²), and
// s² = (wide² − R·narrow²)/(R − 1) whatever the step's height (Zhuo and Sim,
// "Defocus map estimation from a single image", Pattern Recognition 44 (2011)
// 1852–1858, who blur the picture again; from memory). Of a line instead of a step R is
// larger, so fine lines seem sharper than they are, by √2 at most.
func (l luma) edgeBlur(t image.Rectangle) (sigma float64, ok bool) {
	kn, kw := kernelsOf(narrow), kernelsOf(wide)
	n := kw.reach + 1 // one pixel more, to see whether a slope is the steepest
	area := t.Inset(-n).Intersect(image.Rect(0, 0, l.w, l.h))
	w, h := area.Dx(), area.Dy()
	if w < 2*n+3 || h < 2*n+3 {
		return 0, false
	}
	tone := make([]float32, w*h)
	for y := range h {
		row := l.pix[(area.Min.Y+y)*l.stride+area.Min.X:][:w]
		for x, v := range row {
			tone[y*w+x] = l.tone[v]
		}
	}
	nx, ny := slopes(tone, w, h, kn)
	wx, wy := slopes(tone, w, h, kw)
	square := func(gx, gy []float32, i int) float64 {
		return float64(gx[i])*float64(gx[i]) + float64(gy[i])*float64(gy[i])
	}

	// Grain: of the tile's flattest tenth, by slopes under the narrow Gaussian.
	all := make([]float64, 0, w*h)
	for y := n; y < h-n; y++ {
		for x := n; x < w-n; x++ {
			all = append(all, square(nx, ny, y*w+x))
		}
	}
	slices.Sort(all)
	// Squares of two slopes of grain are exponentially distributed: their tenth
	// is at −ln 0.9 of their mean.
	grain := all[len(all)/10] / -math.Log(0.9)
	grainWide := grain * math.Pow(narrow/wide, 4) // of white grain, a slope's variance goes with σ⁻⁴
	least := max(leastEdge*leastEdge, 12*grain)

	var sigmas []float64
	for y := n; y < h-n; y++ {
		for x := n; x < w-n; x++ {
			i := y*w + x
			e := square(nx, ny, i)
			if e < least {
				continue
			}
			// The steepest along its own direction, to the nearest of eight,
			// under the wide Gaussian: under the narrow one grain would choose.
			broad := square(wx, wy, i)
			dx, dy := 0, 0
			ax, ay := math.Abs(float64(wx[i])), math.Abs(float64(wy[i]))
			if ax > 0.414*ay {
				dx = 1
			}
			if ay > 0.414*ax {
				dy = 1
				if wx[i]*wy[i] < 0 {
					dy = -1
				}
			}
			if dx == 0 {
				dy = 1
			}
			if square(wx, wy, i+dy*w+dx) > broad || square(wx, wy, i-dy*w-dx) >= broad {
				continue
			}
			e, far := e-grain, broad-grainWide
			if far <= 0 {
				continue
			}
			r := e / far
			switch {
			case r >= wide*wide/(narrow*narrow):
				sigmas = append(sigmas, 0)
			case r > 1.01:
				sigmas = append(sigmas, math.Sqrt((wide*wide-r*narrow*narrow)/(r-1)))
			default: // no edge at all, or one of σ 17 and more
				sigmas = append(sigmas, 17)
			}
		}
	}
	if len(sigmas) < tileEdges {
		return 0, false
	}
	return median(sigmas), true
}

// slopes are the derivatives of a plane under a Gaussian; nothing is said
// within the kernel's reach of the border.
func slopes(tone []float32, w, h int, k kernels) (gx, gy []float32) {
	room := make([]float32, 4*w*h)
	sx, sy := room[:w*h], room[w*h:2*w*h] // down the columns: smoothed, and their slope
	gx, gy = room[2*w*h:3*w*h], room[3*w*h:]
	n := k.reach
	for y := n; y < h-n; y++ {
		a, b := sx[y*w:][:w], sy[y*w:][:w]
		for i := range k.smooth {
			ks, kd := k.smooth[i], k.slope[i]
			for x, v := range tone[(y+i-n)*w:][:w] {
				a[x] += ks * v
				b[x] += kd * v
			}
		}
	}
	for y := n; y < h-n; y++ {
		for x := n; x < w-n; x++ {
			var u, v float32
			for i := range k.smooth {
				u += k.slope[i] * sx[y*w+x+i-n]
				v += k.smooth[i] * sy[y*w+x+i-n]
			}
			gx[y*w+x], gy[y*w+x] = u, v
		}
	}
	return gx, gy
}
