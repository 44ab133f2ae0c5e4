package look

import (
	"math"
	"slices"

	"coverplate/ingest/catalogue"
)

// The scales of the two gradients whose ratio local sharpness is told by: the
// variance in pixels² of the Gaussian that leaves a step as much slope energy,
// as catalogue.Focus.Over has it. Of single pixels, and of such four times as
// wide.
const (
	fineScale   = 1 / (4 * math.Pi * (5.0 / 12) * (5.0 / 12))
	coarse      = 4
	coarseScale = coarse * coarse * fineScale
)

// halfSharp is the variance in pixels² of the blur, the fine gradient's own
// with it, at which local sharpness is a half. No source: it puts the middle
// of the scale at an edge of σ 1 pixel of the planes, which is one of 8 pixels
// where they stand for 6000.
const halfSharp = 1.5

// leastDetail is the mean squared slope of tone below which a cell shows
// nothing to tell sharpness by: half a code of 8 bits a pixel, squared.
const leastDetail = 4e-6

// sharpness is how sharp the edges of a cell are, 0 … 1, from the gradient
// energies that they have at the fine and the coarse scale: 1/(1 + (s² + f²)/
// halfSharp) of a blur s, told as catalogue.Focus.Over tells it.
func sharpness(fine, far float64) float64 {
	if fine <= 0 || far <= 0 {
		return 0
	}
	q := fine / far
	x := (q*q - 1) * halfSharp / (coarseScale - fineScale)
	if x <= 0 {
		return 0
	}
	return x / (1 + x)
}

// floors is the gradient energy that grain alone has in a cell, at each scale.
type floors struct{ single, fine, far float64 }

// noise is the gradient energy of the grain. overlap is how far the grain of
// neighbouring pixels goes together, as averaging made it: 0 independent.
//
// The measure is Immerkær's (Computer Vision and Image Understanding 64 (1996)
// 300–302): the difference of two Laplacians, which edges and slopes hardly
// touch. It is read where the picture is flattest, since what texture adds
// anywhere is no noise; cells near black and white, whose grain is cut off,
// don't count.
func (d details) noise(overlap float64) floors {
	grain := make([]float64, 0, len(d.cell))
	for _, c := range d.cell {
		if c.tone > 0.03 && c.tone < 0.98 {
			grain = append(grain, c.grain)
		}
	}
	if len(grain) == 0 {
		return floors{}
	}
	slices.Sort(grain)
	const (
		tenth = 0.1
		// What the tenth-flattest of cells of grain alone reads of their
		// mean; measured on made grain (TestNoiseIsNoDetail).
		ofMean = 0.84
	)
	g := grain[int(tenth*float64(len(grain)-1))] / ofMean

	// The variance of single pixels, by the sum of the squared kernel: of
	// [1 −2 1] each way it is 6 − 8ρ.
	variance := g / ((6 - 8*overlap) * (6 - 8*overlap))
	// Of [1 2 1] it is 6 + 8ρ, of [−1 0 1] 2, and there are two slopes. Bringing
	// down by two takes the mean of two neighbours each way: its variance is
	// (1 + ρ)/2, and of what they share with the next two ρ/4 goes together. A
	// pixel twice as wide has half the slope.
	var f floors
	for i, out := range []*float64{&f.single, &f.fine, &f.far} {
		wide := float64(int(1) << i)
		*out = variance * 2 * 2 * (6 + 8*overlap) / sobelUnit / (wide * wide)
		pair := (1 + overlap) / 2
		variance *= pair * pair
		overlap = overlap / 4 / pair
	}
	return f
}

// focus says how sharp the picture is, the middle counting most: what matters
// in it is for whoever compares it. nil where there is too little detail to
// tell. Motion is left to whoever knows what matters.
func (d details) focus(floor floors) *catalogue.Focus {
	f := catalogue.Focus{Columns: d.cols, Rows: d.rows, Grid: make([]uint8, len(d.cell))}
	weight := catalogue.Middle(d.cols, d.rows)
	var most, heard float64
	for i, c := range d.cell {
		fine := max(0, c.xx+c.yy-floor.single)
		s := sharpness(fine, max(0, c.far-floor.far)+quantum)
		sure := max(0, fine-noiseSpread*floor.single)
		most = max(most, weight[i]*sure)
		heard = max(heard, weight[i]*sure*s)
		f.Grid[i] = uint8(math.Round(255 * s * sure / (sure + leastDetail)))
	}
	if !(most > leastDetail) || heard == 0 {
		return nil
	}
	cols, rows := f.Cells()
	fine, far, n := make([]float32, cols*rows), make([]float32, cols*rows), make([]float32, cols*rows)
	columnOf, rowOf := placesIn(d.cols, cols), placesIn(d.rows, rows)
	for i, c := range d.cell {
		at := rowOf[i/d.cols]*cols + columnOf[i%d.cols]
		fine[at] += float32(c.fine - floor.fine)
		far[at] += float32(c.far - floor.far)
		n[at]++
	}
	for i := range n {
		fine[i] /= n[i]
		far[i] /= n[i]
	}
	f.Fine, f.Far = catalogue.FloatsOf(fine...), catalogue.FloatsOf(far...)
	var ok bool
	if f.Score, ok = f.Over(catalogue.Middle(cols, rows)); !ok {
		return nil
	}
	return &f
}

// noiseSpread is how far beyond the mean the gradient energy of grain strays in
// a cell, as a share of that mean: what is less is not called detail.
const noiseSpread = 0.5

// quantum is about what rounding to 8 bits leaves of far energy in a flat cell.
const quantum = 1e-7

// placeOf is how much each of so many cells matters: as m has it, where it is
// known.
func placeOf(m *catalogue.Matters, cols, rows int) []float64 {
	if w := m.Place(cols, rows); w != nil {
		return w
	}
	return catalogue.Middle(cols, rows)
}
