package audit

import (
	"math"

	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// Frames that show one picture from one place, as a camera on its stand takes
// them, are held against each other on one place of it: what matters in them
// taken together. What matters is found in each frame alone, and of two frames
// a hair apart the one may have a dish more; judged each on its own, the one
// with the crisper place would seem the sharper.

// What makes two frames of one picture. All are choices; TestOnePictureIsKnown
// says what they let through.
const (
	sameLight  = 0.9  // of the variance of the light of cells that the other frame's explains, no cell counting for more than half of it
	leastCells = 0.3  // share of cells whose light can be told in both
	leastLight = 0.15 // stops by which that light strays at least: of a bare wall nothing is known
	outlier    = 0.25 // stops off the common change from which a cell shows something else
)

// exposedBeside tells how much more light the surfaces got in a than in b, in
// stops by channel of linear sRGB. ok is false where the two don't show the
// same surfaces in the same place, or it can't be told.
func exposedBeside(a, b *catalogue.Light) (gain [3]float64, ok bool) {
	if a == nil || b == nil || a.Columns != b.Columns || a.Rows != b.Rows {
		return gain, false
	}
	n := a.Columns * a.Rows
	var left, all float64
	var most [3]float64 // of what a cell may count: half of the variance
	for c := range gain {
		x, y := a.Stops[c], b.Stops[c]
		if len(x) != n || len(y) != n || n == 0 {
			return gain, false
		}
		var told, off, off2, light, light2 float64
		for i, v := range x {
			if v, w := v.Value(), y[i].Value(); v < catalogue.Untold && w < catalogue.Untold {
				d, l := float64(v-w), float64(w)
				told++
				off += d
				off2 += d * d
				light += l
				light2 += l * l
			}
		}
		strays := light2 - light*light/told
		if told < leastCells*float64(n) || !(strays >= leastLight*leastLight*told) {
			return gain, false
		}
		gain[c] = off / told
		left += off2 - off*off/told
		all += strays
		most[c] = strays / told / 2
	}
	if !(left <= all/2) { // it is far from it
		return gain, false
	}
	left = 0
	for c := range gain {
		for range 2 { // what a cook's hand covers is left out, by and by
			gain[c] += commonChange(a.Stops[c], b.Stops[c], gain[c])
		}
		for i, v := range a.Stops[c] {
			if v, w := v.Value(), b.Stops[c][i].Value(); v < catalogue.Untold && w < catalogue.Untold {
				d := float64(v-w) - gain[c]
				left += min(d*d, most[c])
			}
		}
	}
	return gain, left <= (1-sameLight)*all
}

// commonChange is the mean of how much farther the cells of x are above those of
// y than gain, outliers left out.
func commonChange(x, y catalogue.Floats, gain float64) float64 {
	var sum, n float64
	for i, v := range x {
		if v, w := v.Value(), y[i].Value(); v < catalogue.Untold && w < catalogue.Untold {
			if d := float64(v-w) - gain; d > -outlier && d < outlier {
				sum += d
				n++
			}
		}
	}
	if n == 0 {
		return 0
	}
	return sum / n
}

// stopsOf is how much brighter a neutral surface is for a change of light by
// channel, in stops.
func stopsOf(gain [3]float64) float64 {
	return math.Log2(neutral(gain, 1).Y)
}

// neutral is a neutral surface of luminance 1 under so much more light by channel,
// times a factor.
func neutral(gain [3]float64, factor float64) colour.XYZ {
	return colour.SRGB.ToXYZ(colour.Linear{R: factor * math.Exp2(gain[0]), G: factor * math.Exp2(gain[1]), B: factor * math.Exp2(gain[2])})
}

// pale is the luminance of the crockery that a cast is told on: it is bright,
// and not so bright that it would clip. No source.
const pale = 0.6

// castBy is how far a change of light by channel takes pale crockery from
// neutral: the difference in Lab a and b.
func castBy(gain [3]float64) float64 {
	c := neutral(gain, pale/math.Exp2(stopsOf(gain))).Lab()
	return math.Hypot(c.A, c.B)
}

// Drift tells how the light of a differs from that of b, both as measured of one
// picture from one place: by how many stops a is brighter, and how far the
// neutral of b lies from neutral in a, in Lab a and b. ok is false where they
// show other things, or it can't be told.
func Drift(a, b *catalogue.Light) (stops, cast float64, ok bool) {
	gain, ok := exposedBeside(a, b)
	if !ok {
		return 0, 0, false
	}
	return stopsOf(gain), castBy(gain), true
}

// scene is frames that show one picture from one place.
type scene struct {
	frames []int        // their places in what was handed to scenesOf
	gains  [][3]float64 // how much more light each got than the first, stops by channel
	place  []float64    // what matters in them, weights of Focus.Fine's cells; nil not known
}

// scenesOf sorts pictures by what they show: each joins the first scene whose
// first picture it shows too.
func scenesOf(looks []*catalogue.Look) []scene {
	var all []scene
next:
	for i, l := range looks {
		for n := range all {
			if gain, ok := samePicture(l, looks[all[n].frames[0]]); ok {
				all[n].frames, all[n].gains = append(all[n].frames, i), append(all[n].gains, gain)
				continue next
			}
		}
		all = append(all, scene{frames: []int{i}, gains: make([][3]float64, 1)})
	}
	for n := range all {
		all[n].place = placeOf(looks, all[n].frames)
	}
	return all
}

// samePicture reports whether two pictures were taken from one place of the
// same things, and measured alike, and how much more light a got.
func samePicture(a, b *catalogue.Look) (gain [3]float64, ok bool) {
	if a.Preview != b.Preview || a.Focus == nil || b.Focus == nil || a.Focus.Columns != b.Focus.Columns || a.Focus.Rows != b.Focus.Rows {
		return gain, false
	}
	return exposedBeside(a.Light, b.Light)
}

// placeOf is what matters in frames of one picture, taken together: each has
// one vote, and one in which nothing is known to matter votes for the middle, as
// it is judged alone. nil where nothing is known to matter in any.
func placeOf(looks []*catalogue.Look, frames []int) []float64 {
	var sum []float64
	known := false
	for _, i := range frames {
		f := looks[i].Focus
		if f == nil {
			continue
		}
		columns, rows := f.Cells()
		w := looks[i].Matters.Place(columns, rows)
		known = known || w != nil
		if w == nil {
			w = catalogue.Middle(columns, rows)
		}
		var all float64
		for _, v := range w {
			all += v
		}
		if sum == nil {
			sum = make([]float64, len(w))
		}
		for k, v := range w[:min(len(w), len(sum))] {
			sum[k] += v / all
		}
	}
	if !known {
		return nil
	}
	return sum
}

// sharpIn is how sharp a picture is in a place, 0 … 1: the score of the whole
// where the place is not known or tells nothing.
func sharpIn(f *catalogue.Focus, place []float64) float64 {
	if s, ok := f.Over(place); ok && share(s) {
		return s
	}
	return f.Score
}

// ownPart is the part of a place where the frame itself is sharp, weighed by
// how sharp: a dish whose front alone is in focus, as meant, is judged by its
// front.
func ownPart(f *catalogue.Focus, place []float64) []float64 {
	columns, rows := f.Cells()
	if len(place) != columns*rows || len(f.Grid) != f.Columns*f.Rows {
		return place
	}
	out := make([]float64, len(place))
	for y := range f.Rows {
		from := y * rows / f.Rows * columns
		line, own := out[from:][:columns], place[from:][:columns]
		for x, v := range f.Grid[y*f.Columns:][:f.Columns] {
			at := uint32(x) * uint32(columns) / uint32(f.Columns)
			line[at] += own[at] * float64(v) * float64(v)
		}
	}
	return out
}

// OnOnePlace tells how sharp pictures are, 0 … 1, those that show one picture
// from one place on one place of it: what matters in them together. −1 where
// nothing was measured. scene numbers what they show from 0 on.
func OnOnePlace(looks []*catalogue.Look) (sharp []float64, scene []int) {
	sharp, scene = make([]float64, len(looks)), make([]int, len(looks))
	for n, v := range scenesOf(looks) {
		for _, i := range v.frames {
			sharp[i], scene[i] = -1, n
			if f := looks[i].Focus; f != nil {
				sharp[i] = sharpIn(f, v.place)
			}
		}
	}
	return sharp, scene
}
