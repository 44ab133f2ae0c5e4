package look

import "math"

// cellSide is about how many pixels of the planes each cell of the focus grid
// is wide and high: 48 × 32 cells of a 3:2 picture.
const cellSide = 16

// coarse is by how much the coarse plane is smaller than the fine one.
const coarse = 4

// detail is the gradient energy of one cell of the focus grid at two scales,
// in one unit: tone² a pixel², a pixel being one of the fine plane.
type detail struct {
	xx, yy, xy float64 // means of gx², gy² and gx·gy at the fine scale
	grain      float64 // mean square of the 3 × 3 difference that sees noise rather than edges
	far        float64 // mean of gx² + gy² at the coarse scale
	tone       float64 // mean

	// Mean gx and gy at the fine scale. Shading is one slope all over a cell
	// and no edge; motion is told without it.
	x, y float64

	// Of the coarse slopes less the cell's mean one: the mean of their squares,
	// and that weighted by the cosine and sine of twice and four times the
	// angle to which they point.
	edge, cos2, sin2, cos4, sin4 float64
}

// details is the focus grid of a picture.
type details struct {
	cols, rows int
	cell       []detail // row by row from the top
}

// detailsOf measures the gradients of a luminance plane.
//
// They are Sobel's (Tenenbaum 1970; Krotkov 1987), whose mean square orders
// blurred pictures where the variance of the Laplacian orders their noise
// (reference 09). They are taken of the square root of the light: that is as
// steep in the shade as in the light for one contrast, and it has the noise of
// photons, and nearly that of 8-bit codes, alike over all tones (Anscombe 1948).
func detailsOf(y []float32, w, h int) details {
	tone := make([]float32, w*h)
	for i, v := range y {
		tone[i] = float32(math.Sqrt(float64(v)))
	}
	d := details{cols: max(1, (w+cellSide/2)/cellSide), rows: max(1, (h+cellSide/2)/cellSide)}
	d.cell = make([]detail, d.cols*d.rows)
	xs, ys := cells(w, d.cols), cells(h, d.rows)
	for cy := range d.rows {
		for cx := range d.cols {
			d.cell[cy*d.cols+cx].fine(tone, w, h, xs[cx], ys[cy], xs[cx+1], ys[cy+1])
		}
	}
	d.coarse(tone, w, h)
	return d
}

// fine measures the pixels of one cell, those on the picture's border left
// out.
func (d *detail) fine(tone []float32, w, h, x0, y0, x1, y1 int) {
	x0, y0, x1, y1 = max(x0, 1), max(y0, 1), min(x1, w-1), min(y1, h-1)
	if x0 >= x1 || y0 >= y1 {
		return
	}
	var xx, yy, xy, sx, sy, grain, sum float32
	n := x1 - x0 + 2
	for y := y0; y < y1; y++ {
		up := tone[(y-1)*w+x0-1:][:n]
		on := tone[y*w+x0-1:][:n]
		down := tone[(y+1)*w+x0-1:][:n]
		// Of each column of three: its smoothed value, its slope, its bend.
		s0, d0, b0 := up[0]+2*on[0]+down[0], down[0]-up[0], up[0]-2*on[0]+down[0]
		s1, d1, b1 := up[1]+2*on[1]+down[1], down[1]-up[1], up[1]-2*on[1]+down[1]
		for i := 2; i < n; i++ {
			u, o, v := up[i], on[i], down[i]
			s2, d2, b2 := u+2*o+v, v-u, u-2*o+v
			gx, gy := s2-s0, d0+2*d1+d2
			g := b0 - 2*b1 + b2
			xx += gx * gx
			yy += gy * gy
			xy += gx * gy
			sx += gx
			sy += gy
			grain += g * g
			sum += s1
			s0, d0, b0, s1, d1, b1 = s1, d1, b1, s2, d2, b2
		}
	}
	count := float64((x1 - x0) * (y1 - y0))
	const unit = 8 * 8 // Sobel's kernel is eight times a slope
	d.xx, d.yy, d.xy = float64(xx)/count/unit, float64(yy)/count/unit, float64(xy)/count/unit
	d.x, d.y = float64(sx)/count/8, float64(sy)/count/8
	d.grain = float64(grain) / count
	d.tone = float64(sum) / count / 4
}

// coarse measures the gradients of tone brought down by the factor coarse, and
// how they point.
func (d *details) coarse(tone []float32, w, h int) {
	cw, ch := w/coarse, h/coarse
	if cw < 3 || ch < 3 {
		return
	}
	small := make([]float32, cw*ch)
	for y := range ch {
		line := small[y*cw:][:cw]
		for r := range coarse {
			from := tone[(y*coarse+r)*w:][:cw*coarse]
			for x := range line {
				q := from[coarse*x:][:coarse:coarse]
				line[x] += q[0] + q[1] + q[2] + q[3]
			}
		}
	}
	const scale = 1.0 / (coarse * coarse) / (8 * coarse) // the mean; Sobel's kernel over pixels so far apart
	xs, ys := cells(cw, d.cols), cells(ch, d.rows)
	for cy := range d.rows {
		for cx := range d.cols {
			d.cell[cy*d.cols+cx].coarse(small, cw, scale,
				max(1, xs[cx]), max(1, ys[cy]), min(cw-1, xs[cx+1]), min(ch-1, ys[cy+1]))
		}
	}
}

// coarse measures the coarse pixels of one cell.
func (d *detail) coarse(small []float32, w int, scale float32, x0, y0, x1, y1 int) {
	if x0 >= x1 || y0 >= y1 {
		return
	}
	slope := func(x, y int) (gx, gy float64) {
		a, b, c := small[(y-1)*w+x-1:][:3], small[y*w+x-1:][:3], small[(y+1)*w+x-1:][:3]
		return float64(scale * (a[2] + 2*b[2] + c[2] - a[0] - 2*b[0] - c[0])),
			float64(scale * (c[0] + 2*c[1] + c[2] - a[0] - 2*a[1] - a[2]))
	}
	var mx, my float64
	n := float64((x1 - x0) * (y1 - y0))
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			gx, gy := slope(x, y)
			mx += gx / n
			my += gy / n
			d.far += (gx*gx + gy*gy) / n
		}
	}
	for y := y0; y < y1; y++ {
		for x := x0; x < x1; x++ {
			gx, gy := slope(x, y)
			gx, gy = gx-mx, gy-my
			e := gx*gx + gy*gy
			if e < 1e-18 {
				continue
			}
			c2, s2 := gx*gx-gy*gy, 2*gx*gy
			d.edge += e / n
			d.cos2 += c2 / n
			d.sin2 += s2 / n
			d.cos4 += (c2*c2 - s2*s2) / e / n
			d.sin4 += 2 * c2 * s2 / e / n
		}
	}
}
