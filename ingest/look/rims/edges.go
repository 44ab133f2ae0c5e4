package rims

import "math"

// point is where an edge passes, to a fraction of a pixel, and the direction
// in which it grows brighter.
type point struct {
	x, y   float32 // pixels
	nx, ny float32 // unit
}

// edges are the edge points of a plane, at most one a pixel.
type edges struct {
	w, h   int
	points []point
	at     []int32 // by pixel, one more than the point's place in points; 0 none
	pixel  []int32 // by point
}

// Steps of brightness a pixel, in 8-bit codes: an edge must rise above the
// mean around it, so that the texture of food is passed over and white
// crockery on white cloth is found. shared/ANGLE.md step 4.
const (
	faintest   = 1.2  // below it nothing is an edge
	aboveMean  = 1.1  // of the mean step around
	leastEdge  = 1.4  // bounds of the above
	surestEdge = 5.0  //
	follows    = 0.45 // of the threshold suffices beside an edge
)

const cell = 4 // pixels; the mean is taken by cells

// edgesOf finds the edges of p.
func edgesOf(p plane) edges {
	w, h := p.w, p.h
	b := p.blurred()
	gx := make([]float32, w*h)
	gy := make([]float32, w*h)
	step := make([]float32, w*h)
	cw, ch := (w+cell-1)/cell, (h+cell-1)/cell
	sums := make([]float32, cw*ch)

	// Of the three channels the one that changes most.
	const (
		bias  = uint64(ones) << (field - 1) // keeps differences positive in their fields
		scale = 1.0 / 2 / (1 << (fraction + 8))
	)
	for y := 1; y < h-1; y++ {
		up, row, down := b.pix[(y-1)*w:][:w], b.pix[y*w:][:w], b.pix[(y+1)*w:][:w]
		lineX, lineY, line := gx[y*w:][:w], gy[y*w:][:w], step[y*w:][:w]
		cells := sums[y/cell*cw:][:cw]
		for x := 1; x < w-1; x++ {
			// One bit is dropped so that a difference of 21 bits has room for
			// its sign.
			const mask = (fields >> 1) * ones
			dx := row[x+1]>>1&mask + bias - row[x-1]>>1&mask
			dy := down[x]>>1&mask + bias - up[x]>>1&mask
			const half = 1 << (field - 1)
			rx, ry := int64(dx&fields)-half, int64(dy&fields)-half
			hx, hy := int64(dx>>field&fields)-half, int64(dy>>field&fields)-half
			bx, by := int64(dx>>(2*field)&fields)-half, int64(dy>>(2*field)&fields)-half
			q := rx*rx + ry*ry
			if t := hx*hx + hy*hy; t > q {
				q, rx, ry = t, hx, hy
			}
			if t := bx*bx + by*by; t > q {
				q, rx, ry = t, bx, by
			}
			lineX[x], lineY[x] = float32(rx)*(2*scale), float32(ry)*(2*scale)
			g := float32(math.Sqrt(float64(q)) * (2 * scale))
			line[x] = g
			cells[x/cell] += g
		}
	}
	limit := thresholds(sums, cw, ch, w, h)

	e := edges{w: w, h: h, at: make([]int32, w*h), points: make([]point, 0, w*h/8), pixel: make([]int32, 0, w*h/8)}
	var strong []int32
	for y := 2; y < h-2; y++ {
		limits := limit[y/cell*cw:][:cw]
		for x := 2; x < w-2; x++ {
			i := y*w + x
			g := step[i]
			t := limits[x/cell]
			if g < faintest || g < follows*t {
				continue
			}
			// The step on either side along the direction of growth, where it
			// leaves the ring of neighbours.
			ux, uy := gx[i], gy[i]
			ax, ay := abs(ux), abs(uy)
			sx, sy := 1, w
			if ux < 0 {
				sx = -1
			}
			if uy < 0 {
				sy = -w
			}
			var p, q, slope float32
			if ax >= ay {
				slope = ay / ax
				p = step[i+sx]*(1-slope) + step[i+sx+sy]*slope
				q = step[i-sx]*(1-slope) + step[i-sx-sy]*slope
			} else {
				slope = ax / ay
				p = step[i+sy]*(1-slope) + step[i+sx+sy]*slope
				q = step[i-sy]*(1-slope) + step[i-sx-sy]*slope
			}
			if g < p || g <= q {
				continue
			}
			ux, uy = ux/g, uy/g
			var d float32 // of the top of the parabola through p, g, q
			if bend := p - 2*g + q; bend < 0 {
				d = 0.5 * (q - p) / bend
				d = min(0.6, max(-0.6, d)) * float32(math.Sqrt(float64(1+slope*slope)))
			}
			e.points = append(e.points, point{float32(x) + d*ux, float32(y) + d*uy, ux, uy})
			e.pixel = append(e.pixel, int32(i))
			e.at[i] = int32(len(e.points))
			if g >= t {
				strong = append(strong, int32(i))
			}
		}
	}
	e.keepLinked(strong)
	return e
}

func abs(v float32) float32 {
	if v < 0 {
		return -v
	}
	return v
}

// thresholds gives the least step of an edge for each cell, from the sums of
// steps by cell: the mean is taken over a window of some 1/15 of the picture.
func thresholds(sums []float32, cw, ch, w, h int) []float32 {
	r := max(8, max(w, h)/30) / cell
	rows := make([]float32, cw*ch)
	for y := range ch {
		row, out := sums[y*cw:][:cw], rows[y*cw:][:cw]
		var sum float64
		for x := -r; x < cw; x++ {
			if x+r < cw {
				sum += float64(row[x+r])
			}
			if x-r-1 >= 0 {
				sum -= float64(row[x-r-1])
			}
			if x >= 0 {
				pixels := min(w, (x+r+1)*cell) - max(0, (x-r)*cell)
				out[x] = float32(sum / float64(pixels))
			}
		}
	}
	out := make([]float32, cw*ch)
	for x := range cw {
		var sum float64
		for y := -r; y < ch; y++ {
			if y+r < ch {
				sum += float64(rows[(y+r)*cw+x])
			}
			if y-r-1 >= 0 {
				sum -= float64(rows[(y-r-1)*cw+x])
			}
			if y >= 0 {
				pixels := min(h, (y+r+1)*cell) - max(0, (y-r)*cell)
				out[y*cw+x] = min(surestEdge, max(leastEdge, aboveMean*float32(sum/float64(pixels))))
			}
		}
	}
	return out
}

// keepLinked drops the points that no chain of neighbours joins to a strong
// one.
func (e *edges) keepLinked(strong []int32) {
	kept := make([]bool, len(e.points))
	var stack []int32
	w := int32(e.w)
	around := [8]int32{-w - 1, -w, -w + 1, -1, 1, w - 1, w, w + 1}
	for _, i := range strong {
		if kept[e.at[i]-1] {
			continue
		}
		kept[e.at[i]-1] = true
		stack = append(stack[:0], i)
		for len(stack) > 0 {
			j := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			for _, d := range around { // points keep two pixels from the border
				if k := e.at[j+d]; k > 0 && !kept[k-1] {
					kept[k-1] = true
					stack = append(stack, j+d)
				}
			}
		}
	}
	n := 0
	for i, pixel := range e.pixel {
		if !kept[i] {
			e.at[pixel] = 0
			continue
		}
		e.points[n], e.pixel[n] = e.points[i], pixel
		n++
		e.at[pixel] = int32(n)
	}
	e.points, e.pixel = e.points[:n], e.pixel[:n]
}

// longestChain bounds a chain, so that splitting it stays cheap on any picture.
const longestChain = 1500

// shortestArc is the points that an arc must have, and a chain.
const (
	shortestChain = 12
	shortestArc   = 16
)

// chains links the points by direction: each goes on to the neighbour that
// lies ahead and whose edge runs most like its own.
func (e *edges) chains() [][]point {
	used := make([]bool, len(e.points))
	w := int32(e.w)
	type stepTo struct {
		at     int32
		dx, dy float32 // unit
		length float32
	}
	const diagonal = math.Sqrt2
	steps := [8]stepTo{
		{-w - 1, -1 / diagonal, -1 / diagonal, diagonal}, {-w, 0, -1, 1}, {-w + 1, 1 / diagonal, -1 / diagonal, diagonal},
		{-1, -1, 0, 1}, {1, 1, 0, 1},
		{w - 1, -1 / diagonal, 1 / diagonal, diagonal}, {w, 0, 1, 1}, {w + 1, 1 / diagonal, 1 / diagonal, diagonal},
	}
	walk := func(out []point, from int32, sign float32) []point {
		cur := from
		for len(out) < longestChain {
			p := e.points[cur]
			tx, ty := -sign*p.ny, sign*p.nx
			next, best := int32(-1), float32(0.2)
			for i := range steps {
				s := &steps[i]
				k := e.at[e.pixel[cur]+s.at] - 1
				if k < 0 || used[k] {
					continue
				}
				ahead := s.dx*tx + s.dy*ty
				if ahead <= 0.2 {
					continue
				}
				q := &e.points[k]
				like := p.nx*q.nx + p.ny*q.ny
				if like < 0.75 {
					continue
				}
				if fit := ahead + 0.5*like - 0.15*s.length; fit > best {
					best, next = fit, k
				}
			}
			if next < 0 {
				break
			}
			used[next] = true
			out = append(out, e.points[next])
			cur = next
		}
		return out
	}
	var out [][]point
	all := make([]point, 0, len(e.points))
	var back, on []point
	for i := range e.points {
		if used[i] {
			continue
		}
		used[i] = true
		back = walk(back[:0], int32(i), -1)
		from := len(all)
		for k := len(back) - 1; k >= 0; k-- {
			all = append(all, back[k])
		}
		all = append(all, e.points[i])
		on = walk(on[:0], int32(i), 1)
		all = append(all, on...)
		if len(all)-from < shortestChain {
			all = all[:from]
			continue
		}
		out = append(out, all[from:len(all):len(all)])
	}
	return out
}
