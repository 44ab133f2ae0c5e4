package look

import (
	"math"

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

	// Shares of the decoded pixels under each pixel that were clipped, 255 all:
	// high in any channel, low in all.
	clipHigh, clipLow []uint8

	// How far the grain of neighbouring pixels goes together because they share
	// pixels of what they were averaged from: a correlation, 0 none.
	overlap float64

	high, low [3]float64 // share of all decoded pixels clipped high and low, by channel R, G, B of the file
}

// planes averages l down to side pixels on its long side, upright, in the
// primaries of sRGB.
func (l light) planes(s *colour.Space, orientation, side int) planes {
	w, h := fit(l.width, l.height, side)
	pix := averaged(l.pix, l.width, l.height, w, h)
	clips := l.clipped
	if w != l.width || h != l.height {
		clips = averagedClips(l.clipped, l.width, l.height, w, h)
	}
	if m, plain := toSRGB(s); !plain {
		for i, p := range pix {
			r, g, b := float64(p[0]), float64(p[1]), float64(p[2])
			pix[i] = [3]float32{
				float32(m[0][0]*r + m[0][1]*g + m[0][2]*b),
				float32(m[1][0]*r + m[1][1]*g + m[1][2]*b),
				float32(m[2][0]*r + m[2][1]*g + m[2][2]*b),
			}
		}
	}
	pix, uw, uh := upright(pix, w, h, orientation)
	clips, _, _ = upright(clips, w, h, orientation)
	p := planesOf(pix, uw, uh)
	for i, c := range clips {
		p.clipHigh[i], p.clipLow[i] = c[0], c[1]
	}
	p.high, p.low = l.high, l.low
	p.overlap = (overlapOf(reaches(l.width, w)) + overlapOf(reaches(l.height, h))) / 2
	return p
}

// planesOf lays upright pixels in linear sRGB out as planes, none of them
// clipped.
func planesOf(pix [][3]float32, w, h int) planes {
	n := len(pix)
	room := make([]float32, 4*n)
	clip := make([]uint8, 2*n)
	p := planes{
		width: w, height: h,
		r: room[:n:n], g: room[n : 2*n : 2*n], b: room[2*n : 3*n : 3*n], y: room[3*n:],
		clipHigh: clip[:n:n], clipLow: clip[n:],
	}
	srgb, _ := colour.SpaceNamed("sRGB")
	y := toXYZ(srgb)[1] // under D50, as all of our Lab is
	yr, yg, yb := float32(y[0]), float32(y[1]), float32(y[2])
	for i, v := range pix {
		p.r[i], p.g[i], p.b[i] = v[0], v[1], v[2]
		p.y[i] = min(1, max(0, yr*v[0]+yg*v[1]+yb*v[2]))
	}
	return p
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
	for i := range out {
		// In units of 1/m pixel, so that the bounds are whole numbers.
		from, to := i*n, (i+1)*n
		first, last := from/m, (to+m-1)/m
		r := reach{first: first, weights: make([]float32, last-first)}
		for p := first; p < last; p++ {
			r.weights[p-first] = float32(float64(min(to, (p+1)*m)-max(from, p*m)) / float64(n))
		}
		out[i] = r
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

// averagedClips is averaged for shares of clipped pixels, by whole cells: a
// cell's neighbours in a burnt area are burnt too.
func averagedClips(clips [][2]uint8, w, h, nw, nh int) [][2]uint8 {
	xs, ys := cells(w, nw), cells(h, nh)
	out := make([][2]uint8, nw*nh)
	for y := range nh {
		for x := range nw {
			var high, low, n int
			for sy := ys[y]; sy < ys[y+1]; sy++ {
				for _, c := range clips[sy*w+xs[x] : sy*w+xs[x+1]] {
					high += int(c[0])
					low += int(c[1])
					n++
				}
			}
			out[y*nw+x] = [2]uint8{uint8(math.Round(float64(high) / float64(n))), uint8(math.Round(float64(low) / float64(n)))}
		}
	}
	return out
}
