package look

import (
	"coverplate/colour"
)

// planesSide is the long side of the planes that focus, light, rims and what
// matters are measured on, in pixels.
const planesSide = 768

// planes is the upright picture that measures look at, made once a frame. A
// long side of planesSide, or the picture's own where that is shorter: nothing
// is ever enlarged. Each pixel is the mean of the light that fell on its area.
type planes struct {
	width, height int

	// Linear light, width × height each, row by row from the top. r, g and b
	// have the primaries of sRGB, 1 its white: a colour that sRGB does not hold
	// is below 0 or above 1. y is luminance, 0 … 1.
	r, g, b, y []float32

	// How far the grain of neighbouring pixels goes together because they share
	// pixels of what they were averaged from: a correlation, 0 none.
	overlap float64

	clips clips // upright
}

// luminance is what red, green and blue of linear sRGB count in it, under D50
// as all of our Lab is.
var luminance = toXYZ(colour.SRGB)[1]

// planes averages l down to side pixels on its long side, upright, in the
// primaries of sRGB.
func (l light) planes(s *colour.Space, orientation, side int) planes {
	w, h := fit(l.width, l.height, side)
	xs, ys := reaches(l.width, w), reaches(l.height, h)
	var p planes
	p.width, p.height = uprightSize(w, h, orientation)
	offset, dx, dy := steps(p.width, p.height, back(orientation)) // where the stored ones are seen
	room := make([]float32, 4*w*h)
	p.r, p.g, p.b, p.y = room[:w*h:w*h], room[w*h:2*w*h:2*w*h], room[2*w*h:3*w*h:3*w*h], room[3*w*h:]
	own, plain := toSRGB(s)
	var m [3][3]float32
	for i := range m {
		for j := range m[i] {
			m[i][j] = float32(own[i][j])
		}
	}
	yr, yg, yb := float32(luminance[0]), float32(luminance[1]), float32(luminance[2])
	row := make([][3]float32, l.width)
	for y, ry := range ys {
		blend(row, l.pix[ry.first*l.width:], ry.weights)
		at := offset + y*dy
		for _, rx := range xs {
			var r, g, b float32
			part := row[rx.first:][:len(rx.weights)]
			for i, weight := range rx.weights {
				v := &part[i]
				r += weight * v[0]
				g += weight * v[1]
				b += weight * v[2]
			}
			if !plain {
				r, g, b = m[0][0]*r+m[0][1]*g+m[0][2]*b, m[1][0]*r+m[1][1]*g+m[1][2]*b, m[2][0]*r+m[2][1]*g+m[2][2]*b
			}
			p.r[at], p.g[at], p.b[at] = r, g, b
			y := yr*r + yg*g + yb*b
			if y < 0 { // min and max take longer, for the sake of NaN
				y = 0
			} else if y > 1 {
				y = 1
			}
			p.y[at] = y
			at += dx
		}
	}
	p.clips = l.clips.upright(orientation)
	p.overlap = (overlapOf(xs) + overlapOf(ys)) / 2
	return p
}

// blend is the weighted sum of as many rows of pix as there are weights.
func blend(row, pix [][3]float32, weights []float32) {
	for i, weight := range weights {
		line := pix[i*len(row):][:len(row)]
		if i == 0 {
			for x := range line {
				p, q := &line[x], &row[x]
				q[0], q[1], q[2] = weight*p[0], weight*p[1], weight*p[2]
			}
			continue
		}
		for x := range line {
			p, q := &line[x], &row[x]
			q[0] += weight * p[0]
			q[1] += weight * p[1]
			q[2] += weight * p[2]
		}
	}
}

// reach is the part of a line of pixels that one pixel of a smaller line
// covers: weights of the pixels from first on, which sum to 1.
type reach struct {
	first   int
	weights []float32
}

// reaches divides a line of n pixels into m equal parts, m ≤ n, pixels that
// two parts share cut where they must be. Whole pixels only, as cells has it,
// would make some parts half as wide as their neighbours, and those sharper.
func reaches(n, m int) []reach {
	out := make([]reach, m)
	room := make([]float32, 0, n+m) // each cut pixel stands in two parts
	for i := range out {
		// In units of 1/m pixel, so that the bounds are whole numbers.
		from, to := i*n, (i+1)*n
		first, last := from/m, (to+m-1)/m
		start := len(room)
		for p := first; p < last; p++ {
			room = append(room, float32(float64(min(to, (p+1)*m)-max(from, p*m))/float64(n)))
		}
		out[i] = reach{first: first, weights: room[start:len(room):len(room)]}
	}
	return out
}

// overlapOf is the correlation of neighbours among means over the reaches of
// values that have none.
func overlapOf(rs []reach) float64 {
	var own, next float64
	for i, r := range rs {
		for _, w := range r.weights {
			own += float64(w * w)
		}
		if i+1 < len(rs) && rs[i+1].first == r.first+len(r.weights)-1 {
			next += float64(r.weights[len(r.weights)-1] * rs[i+1].weights[0])
		}
	}
	return next / own
}

// averaged brings w × h pixels down to nw × nh by area, always into memory of
// its own.
func averaged[T [1]float32 | [3]float32](pix []T, w, h, nw, nh int) []T {
	out := make([]T, nw*nh)
	if w == nw && h == nh {
		copy(out, pix)
		return out
	}
	xs, ys := reaches(w, nw), reaches(h, nh)
	row := make([]T, w)
	for y, ry := range ys {
		clear(row)
		for i, weight := range ry.weights {
			for x, p := range pix[(ry.first+i)*w:][:w] {
				for c := range len(p) {
					row[x][c] += weight * p[c]
				}
			}
		}
		line := out[y*nw:][:nw]
		for x, rx := range xs {
			var sum T
			for i, p := range row[rx.first:][:len(rx.weights)] {
				for c := range len(p) {
					sum[c] += rx.weights[i] * p[c]
				}
			}
			line[x] = sum
		}
	}
	return out
}
