package look

import (
	"math"
	"sync"
)

// cellSide is about how many pixels of the planes each cell of the focus grid
// is wide and high: 48 × 32 cells of a 3:2 picture.
const cellSide = 16

// detail is the gradient energy of one cell of the focus grid, in one unit at
// all scales: tone² a pixel², a pixel being one of the planes.
type detail struct {
	xx, yy, xy float64 // means of gx², gy² and gx·gy, of single pixels
	grain      float64 // mean square of the 3 × 3 difference that sees noise rather than edges
	fine       float64 // mean of gx² + gy² of pixels twice as wide
	far        float64 // the same of pixels four times as wide
	tone       float64 // mean

	// Mean gx and gy of single pixels. Shading is one slope all over a cell
	// and no edge; motion is told without it.
	x, y float64

	// Of the far slopes less the cell's mean one: the mean of their squares,
	// and that weighted by the cosine and sine of twice and four times the
	// angle to which they point.
	edge, cos2, sin2, cos4, sin4 float64
}

// details is the focus grid of a picture.
type details struct {
	cols, rows int
	cell       []detail // row by row from the top
}

// gridOf is how many columns and rows of cells w × h pixels have.
func gridOf(w, h int) (cols, rows int) {
	return max(1, (w+cellSide/2)/cellSide), max(1, (h+cellSide/2)/cellSide)
}

// bench is what detailsOf works on, kept from picture to picture.
type bench struct{ tone, half, quarter, gx, gy []float32 }

var benches = sync.Pool{New: func() any { return new(bench) }}

// room is n values of a bench's, of whatever was left there.
func room(v *[]float32, n int) []float32 {
	if cap(*v) < n {
		*v = make([]float32, n)
	}
	*v = (*v)[:n]
	return *v
}

// detailsOf measures the gradients of a luminance plane.
//
// They are Sobel's (Tenenbaum 1970; Krotkov 1987), whose mean square orders
// blurred pictures where the variance of the Laplacian orders their noise
// (reference 09). They are taken of the square root of the light: that is as
// steep in the shade as in the light for one contrast, and it has the noise of
// photons, and nearly that of 8-bit codes, alike over all tones (Anscombe 1948).
func detailsOf(y []float32, w, h int) details {
	d := details{}
	d.cols, d.rows = gridOf(w, h)
	d.cell = make([]detail, d.cols*d.rows)
	b := benches.Get().(*bench)
	defer benches.Put(b)
	tone := room(&b.tone, w*h)
	for i, v := range y[:len(tone)] {
		tone[i] = float32(math.Sqrt(float64(v)))
	}
	half, hw, hh := halved(room(&b.half, (w/2)*(h/2)), tone, w, h)
	quarter, qw, qh := halved(room(&b.quarter, (hw/2)*(hh/2)), half, hw, hh)

	d.each(w, h, func(c *detail, x0, y0, x1, y1 int) { c.single(tone, w, h, x0, y0, x1, y1) })
	d.each(hw, hh, func(c *detail, x0, y0, x1, y1 int) { c.fine = energy(half, hw, hh, x0, y0, x1, y1) / (2 * 2) })
	if qw >= 3 && qh >= 3 {
		gx, gy := slopesOf(room(&b.gx, qw*qh), room(&b.gy, qw*qh), quarter, qw, qh)
		d.each(qw, qh, func(c *detail, x0, y0, x1, y1 int) { c.ways(gx, gy, qw, qh, x0, y0, x1, y1) })
	}
	return d
}

// each calls do for each cell with the pixels it has of w × h.
func (d *details) each(w, h int, do func(c *detail, x0, y0, x1, y1 int)) {
	xs, ys := cells(w, d.cols), cells(h, d.rows)
	for cy := range d.rows {
		for cx := range d.cols {
			do(&d.cell[cy*d.cols+cx], xs[cx], ys[cy], xs[cx+1], ys[cy+1])
		}
	}
}

// halved is a plane brought down to the means of two by two pixels; an odd last
// row or column is left out.
func halved(out, plane []float32, w, h int) ([]float32, int, int) {
	hw, hh := w/2, h/2
	for y := range hh {
		a, b := plane[2*y*w:][:2*hw], plane[(2*y+1)*w:][:2*hw]
		line := out[y*hw:][:hw]
		for x := range line {
			p, q := a[2*x:][:2:2], b[2*x:][:2:2]
			line[x] = 0.25 * ((p[0] + p[1]) + (q[0] + q[1]))
		}
	}
	return out[:hw*hh], hw, hh
}

// sobelUnit is by how much Sobel's kernel is more than a slope, squared.
const sobelUnit = 8 * 8

// single measures the single pixels of one cell, those on the picture's border
// left out.
func (d *detail) single(tone []float32, w, h, x0, y0, x1, y1 int) {
	x0, y0, x1, y1 = max(x0, 1), max(y0, 1), min(x1, w-1), min(y1, h-1)
	if x0 >= x1 || y0 >= y1 {
		return
	}
	var xx, yy, xy, sx, sy, grain, sum float32
	n := x1 - x0 + 2
	for y := y0; y < y1; y++ {
		up := tone[(y-1)*w+x0-1:][:n]
		on := tone[y*w+x0-1:][:len(up)]
		down := tone[(y+1)*w+x0-1:][:len(up)]
		// Of each column of three: its smoothed value, its slope, its bend.
		column := func(i int) (s, d, b float32) {
			t, m := up[i]+down[i], on[i]+on[i]
			return t + m, down[i] - up[i], t - m
		}
		s0, d0, b0 := column(0)
		s1, d1, b1 := column(1)
		sx -= s0 + s1 // of the differences of next but one only the ends are left
		for i := 2; i < len(up); i++ {
			u, o, v := up[i], on[i], down[i]
			t, m := u+v, o+o
			s2, d2, b2 := t+m, v-u, t-m
			gx, gy := s2-s0, d0+(d1+d1)+d2
			g := b0 - (b1 + b1) + b2
			xx += gx * gx
			yy += gy * gy
			xy += gx * gy
			sy += gy
			grain += g * g
			sum += s1
			s0, d0, b0, s1, d1, b1 = s1, d1, b1, s2, d2, b2
		}
		sx += s0 + s1
	}
	count := float64((x1 - x0) * (y1 - y0))
	d.xx, d.yy, d.xy = float64(xx)/count/sobelUnit, float64(yy)/count/sobelUnit, float64(xy)/count/sobelUnit
	d.x, d.y = float64(sx)/count/8, float64(sy)/count/8
	d.grain = float64(grain) / count
	d.tone = float64(sum) / count / 4
}

// energy is the mean of gx² + gy² of a part of a plane, its border left out.
func energy(plane []float32, w, h, x0, y0, x1, y1 int) float64 {
	x0, y0, x1, y1 = max(x0, 1), max(y0, 1), min(x1, w-1), min(y1, h-1)
	if x0 >= x1 || y0 >= y1 {
		return 0
	}
	var xx, yy float32
	n := x1 - x0 + 2
	for y := y0; y < y1; y++ {
		up := plane[(y-1)*w+x0-1:][:n]
		on := plane[y*w+x0-1:][:len(up)]
		down := plane[(y+1)*w+x0-1:][:len(up)]
		s0, d0 := up[0]+(on[0]+on[0])+down[0], down[0]-up[0]
		s1, d1 := up[1]+(on[1]+on[1])+down[1], down[1]-up[1]
		for i := 2; i < len(up); i++ {
			u, o, v := up[i], on[i], down[i]
			s2, d2 := u+(o+o)+v, v-u
			gx, gy := s2-s0, d0+(d1+d1)+d2
			xx += gx * gx
			yy += gy * gy
			s0, d0, s1, d1 = s1, d1, s2, d2
		}
	}
	return float64(xx+yy) / float64((x1-x0)*(y1-y0)) / sobelUnit
}

// slopesOf are the slopes of the far plane, a pixel being one of the planes;
// nothing is said on the border.
func slopesOf(gx, gy, plane []float32, w, h int) ([]float32, []float32) {
	const scale = 1.0 / 8 / 4 // Sobel's kernel; pixels four times as wide
	for y := 1; y < h-1; y++ {
		up := plane[(y-1)*w:][:w]
		on := plane[y*w:][:len(up)]
		down := plane[(y+1)*w:][:len(up)]
		ax, ay := gx[y*w:][:len(up)], gy[y*w:][:len(up)]
		s0, d0 := up[0]+(on[0]+on[0])+down[0], down[0]-up[0]
		s1, d1 := up[1]+(on[1]+on[1])+down[1], down[1]-up[1]
		for i := 2; i < len(up); i++ {
			s2, d2 := up[i]+(on[i]+on[i])+down[i], down[i]-up[i]
			ax[i-1], ay[i-1] = scale*(s2-s0), scale*(d0+(d1+d1)+d2)
			s0, d0, s1, d1 = s1, d1, s2, d2
		}
	}
	return gx, gy
}

// ways measures the far slopes of one cell and how they point.
func (d *detail) ways(gx, gy []float32, w, h, x0, y0, x1, y1 int) {
	x0, y0, x1, y1 = max(x0, 1), max(y0, 1), min(x1, w-1), min(y1, h-1)
	if x0 >= x1 || y0 >= y1 {
		return
	}
	var mx, my, far float32
	for y := y0; y < y1; y++ {
		ax := gx[y*w+x0:][:x1-x0]
		ay := gy[y*w+x0:][:len(ax)]
		for i, p := range ax {
			q := ay[i]
			mx += p
			my += q
			far += p*p + q*q
		}
	}
	n := float32((x1 - x0) * (y1 - y0))
	mx, my = mx/n, my/n
	var edge, cos2, sin2, cos4, sin4 float32
	for y := y0; y < y1; y++ {
		ax := gx[y*w+x0:][:x1-x0]
		ay := gy[y*w+x0:][:len(ax)]
		for i, p := range ax {
			q := ay[i] - my
			p -= mx
			pp, qq, pq := p*p, q*q, p*q
			e := pp + qq
			if e < 1e-18 {
				continue
			}
			c2, s2 := pp-qq, pq+pq
			edge += e
			cos2 += c2
			sin2 += s2
			c2e := c2 / e
			cos4 += (c2+c2)*c2e - e // cos 4φ = 2·cos² 2φ − 1
			sin4 += (s2 + s2) * c2e
		}
	}
	per := func(v float32) float64 { return float64(v / n) }
	d.far, d.edge, d.cos2, d.sin2, d.cos4, d.sin4 = per(far), per(edge), per(cos2), per(sin2), per(cos4), per(sin4)
}
