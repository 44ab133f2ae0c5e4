package look

import (
	"cmp"
	"math"
	"slices"

	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// leastLevel is the level of black in stops from white: one step of 16-bit
// linear light.
const leastLevel = -16

// light measures how the picture is exposed. Where what matters is not known,
// the middle counts more than the border.
//
// Clipping is that of the pixels that were decoded, which a camera's preview
// has fewer of than its raw: it says what the camera's own rendering lost.
func (p planes) light(d details, matters *catalogue.Matters) *catalogue.Light {
	weight := d.central()
	if matters != nil {
		if w := d.weights(*matters); w != nil {
			weight = w
		}
	}
	out := catalogue.Light{High: p.high, Low: p.low}
	xs, ys := cells(p.width, d.cols), cells(p.height, d.rows)
	var mean, high, low, total float64
	for cy := range d.rows {
		for cx := range d.cols {
			var y float64
			var h, l int
			for at := ys[cy]; at < ys[cy+1]; at++ {
				from, to := at*p.width+xs[cx], at*p.width+xs[cx+1]
				for i := from; i < to; i++ {
					y += float64(p.y[i])
					h += int(p.clipHigh[i])
					l += int(p.clipLow[i])
				}
			}
			w := weight[cy*d.cols+cx]
			mean += w * y
			high += w * float64(h) / 255
			low += w * float64(l) / 255
			total += w * float64((xs[cx+1]-xs[cx])*(ys[cy+1]-ys[cy]))
		}
	}
	out.MattersHigh, out.MattersLow = high/total, low/total
	out.Level = max(leastLevel, math.Log2(mean/total))
	out.White = p.cast()
	return &out
}

// What may be a neutral surface under the light of a set. No source: an
// unpainted wall under a household bulb, with the camera set to daylight, is
// beyond; a camera that balances at all is within.
const (
	castReach   = 25.0 // Lab chroma, about the first guess: none
	castSpread  = 7.0  // the same, about every later one
	castLeastL  = 35.0 // darker is too coarse in 8 bits
	castMostL   = 97.0
	castLeast   = 0.005 // share of the picture that must agree
	castRounds  = 6
	castStride  = 4 // of pixels asked, each way
	castClipped = 8 // of 255: more of a pixel clipped, and its colour is not its own
)

// cast is the Lab a and b of the surfaces nearest to neutral: the median about
// neutral, and from there the median of what lies closer and closer to it. A
// large area of one pale colour wins over a small neutral one; between frames
// of one set that is the same area. nil where too little is near.
func (p planes) cast() *[2]float64 {
	type ab struct{ a, b float64 }
	var near []ab
	all := 0
	for y := castStride / 2; y < p.height; y += castStride {
		for x := castStride / 2; x < p.width; x += castStride {
			all++
			i := y*p.width + x
			if p.clipHigh[i] > castClipped || p.clipLow[i] > castClipped {
				continue
			}
			c := colour.SRGB.ToXYZ(colour.Linear{R: float64(p.r[i]), G: float64(p.g[i]), B: float64(p.b[i])}).Lab()
			if c.L >= castLeastL && c.L <= castMostL && math.Hypot(c.A, c.B) <= castReach {
				near = append(near, ab{c.A, c.B})
			}
		}
	}
	var at ab
	reach := castReach
	var as, bs []float64
	for range castRounds {
		as, bs = as[:0], bs[:0]
		for _, c := range near {
			if math.Hypot(c.a-at.a, c.b-at.b) <= reach {
				as, bs = append(as, c.a), append(bs, c.b)
			}
		}
		if float64(len(as)) < max(1, castLeast*float64(all)) {
			return nil
		}
		at = ab{median(as), median(bs)}
		reach = max(castSpread, reach/2)
	}
	// Three digits: the last bits differ between processors.
	round := func(v float64) float64 { return math.Round(v*1000)/1000 + 0 }
	return &[2]float64{round(at.a), round(at.b)}
}

// median orders v and returns its middle.
func median[T cmp.Ordered](v []T) T {
	slices.Sort(v)
	return v[len(v)/2]
}
