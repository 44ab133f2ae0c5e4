package look

import (
	"cmp"
	"math"
	"slices"

	"coverplate/ingest/catalogue"
)

// leastLevel is the level of black in stops from white: one step of 16-bit
// linear light.
const leastLevel = -16

// Where the light of a cell can't be told.
const (
	leastStop   = -7.0     // stops from white, code 22 of sRGB: below, grain in codes is no longer even in light
	mostStop    = -0.15    // above, the grain is cut off: three codes of it reach white
	mostClipped = 1.0 / 32 // share of its pixels
)

// light measures how the picture is exposed. Where what matters is not known,
// the middle counts more than the border.
//
// Clipping is that of the pixels that were decoded, which a camera's preview
// has fewer of than its raw: it says what the camera's own rendering lost.
func (p planes) light(matters *catalogue.Matters) *catalogue.Light {
	c := p.clips
	out := catalogue.Light{High: c.high, Low: c.low}
	var high, low, total float64
	var by [3]float64
	for i, w := range placeOf(matters, c.cols, c.rows) {
		k := &c.cell[i]
		high += w * float64(k.any)
		low += w * float64(k.allLow)
		for channel, n := range k.high {
			by[channel] += w * float64(n)
		}
		total += w * float64(k.n)
	}
	out.MattersHigh, out.MattersLow = high/total, low/total
	for channel := range by {
		out.MattersBy[channel] = by[channel] / total
	}

	out.Columns, out.Rows = (c.cols+1)/2, (c.rows+1)/2
	light := [3][]float32{cellMeans(p.r, p.width, p.height, out.Columns, out.Rows), cellMeans(p.g, p.width, p.height, out.Columns, out.Rows), cellMeans(p.b, p.width, p.height, out.Columns, out.Rows)}
	var mean float64
	total = 0
	for i, w := range placeOf(matters, out.Columns, out.Rows) {
		for channel, l := range light {
			mean += w * luminance[channel] * float64(l[i])
		}
		total += w
	}
	out.Level = max(leastLevel, math.Log2(max(0, min(1, mean/total))))
	for channel := range light {
		out.Stops[channel] = c.stops(light[channel], out.Columns, out.Rows)
	}
	return &out
}

// cellMeans are the means of a plane over a grid of cells.
func cellMeans(plane []float32, w, h, cols, rows int) []float32 {
	out := make([]float32, cols*rows)
	xs, ys := cells(w, cols), cells(h, rows)
	for cy := range rows {
		line := out[cy*cols:][:cols]
		for y := ys[cy]; y < ys[cy+1]; y++ {
			row := plane[y*w:][:w]
			for cx := range line {
				var a, b float32
				part := row[xs[cx]:xs[cx+1]]
				for len(part) >= 4 { // two sums, since each waits for its last
					a += part[0] + part[1]
					b += part[2] + part[3]
					part = part[4:]
				}
				for _, v := range part {
					a += v
				}
				line[cx] += a + b
			}
		}
		for cx := range line {
			line[cx] /= float32((xs[cx+1] - xs[cx]) * (ys[cy+1] - ys[cy]))
		}
	}
	return out
}

// stops turns light by the cells of a grid half as fine as that of c to stops
// from white.
func (c clips) stops(light []float32, cols, rows int) catalogue.Floats {
	lost, n := make([]uint64, len(light)), make([]uint64, len(light))
	columnOf, rowOf := placesIn(c.cols, cols), placesIn(c.rows, rows)
	for i, k := range c.cell {
		at := rowOf[i/c.cols]*cols + columnOf[i%c.cols]
		lost[at] += k.any + k.allLow
		n[at] += k.n
	}
	out := make([]float32, len(light))
	for i, l := range light {
		out[i] = catalogue.Untold
		if v := math.Log2(float64(l)); v >= leastStop && v <= mostStop && float64(lost[i]) <= mostClipped*float64(n[i]) {
			out[i] = float32(v)
		}
	}
	return catalogue.FloatsOf(out...)
}

// median orders v and returns its middle.
func median[T cmp.Ordered](v []T) T {
	slices.Sort(v)
	return v[len(v)/2]
}
