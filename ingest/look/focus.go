package look

import (
	"math"
	"slices"

	"coverplate/ingest/catalogue"
)

// The scales of the two gradients: the variance in pixels² of the Gaussian that
// leaves a step as much slope energy. A difference over two pixels sees a step
// as a box of two, and the mean over a pixel makes that a trapezium of energy
// 5/12; a Gaussian of σ has the energy 1/(2√π·σ). At the coarse scale all is
// four times as wide.
const (
	fineScale   = 1 / (4 * math.Pi * (5.0 / 12) * (5.0 / 12))
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
// energies that they have at the fine and the coarse scale.
//
// A step edge of blur s has the energy 1/√(s² + σ²) at scale σ (a Gaussian
// edge's, integrated), so q, the two energies' ratio squared, is (s² + c²)/(s² + f²)
// and q − 1 is (c² − f²)/(s² + f²): contrast and exposure fall out.
// The sharpness is 1/(1 + (s² + f²)/halfSharp), which needs no s: texture finer
// than any edge, for which there is none, still has its place above.
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

// noise is the gradient energy that grain alone has in a cell. overlap is how
// far the grain of neighbouring pixels goes together, as averaging made it:
// 0 independent.
//
// The measure is Immerkær's (Computer Vision and Image Understanding 64 (1996)
// 300–302): the difference of two Laplacians, which edges and slopes hardly
// touch. It is read where the picture is flattest, since what texture adds
// anywhere is no noise; cells near black and white, whose grain is cut off,
// don't count.
func (d details) noise(overlap float64) float64 {
	grain := make([]float64, 0, len(d.cell))
	for _, c := range d.cell {
		if c.tone > 0.03 && c.tone < 0.98 {
			grain = append(grain, c.grain)
		}
	}
	if len(grain) == 0 {
		return 0
	}
	slices.Sort(grain)
	const (
		tenth = 0.1
		// What the tenth-flattest of cells of grain alone reads of their
		// mean; measured on made grain (TestNoiseIsNoDetail).
		ofMean = 0.84
	)
	g := grain[int(tenth*float64(len(grain)-1))] / ofMean

	// Sums of the squared kernels, one factor a direction: of [1 −2 1] it is
	// 6 − 8ρ, of [1 2 1] 6 + 8ρ, and of [−1 0 1] 2.
	own := (6 - 8*overlap) * (6 - 8*overlap)
	sobel := 2 * 2 * (6 + 8*overlap) / (8 * 8)
	return g / own * sobel
}

// focus says how sharp the picture is in what matters; where that is not
// known, the middle counts more than the border. nil where there is too little
// detail to tell.
//
// The score is the mean of the cells' sharpness, each weighted by how much it
// matters, by the fine detail that it holds and by the sharpness itself: a
// sharp dish before a soft table is nearly as sharp as a frame sharp all over.
// (With the sharpness squared the weight would lean on what grain makes of soft
// cells; then 4 % of grain disturbs the order of blurs.)
func (d details) focus(overlap float64, matters *catalogue.Matters) *catalogue.Focus {
	floor := d.noise(overlap)
	weight := d.central()
	if matters != nil {
		if w := d.weights(*matters); w != nil {
			weight = w
		}
	}
	f := catalogue.Focus{Columns: d.cols, Rows: d.rows, Grid: make([]uint8, len(d.cell))}
	var sum, total, most float64
	for i, c := range d.cell {
		fine, far := c.fineAndFar(floor)
		sure := max(0, fine-noiseSpread*floor)
		s := sharpness(fine, far)
		most = max(most, weight[i]*sure)
		heard := weight[i] * sure * s
		sum += heard * s
		total += heard
		f.Grid[i] = uint8(math.Round(255 * s * sure / (sure + leastDetail)))
	}
	if !(most > leastDetail) || !(total > 0) {
		return nil
	}
	f.Score = sum / total
	f.Motion, f.Direction = d.motion(weight, floor)
	return &f
}

// noiseSpread is how far beyond the mean the gradient energy of grain strays in
// a cell, as a share of that mean: what is less is not called detail.
const noiseSpread = 0.5

// fineAndFar are the cell's gradient energies at the two scales without what
// grain gives: at the coarse one its variance is coarse² times less, and so is
// its slope's square.
func (c detail) fineAndFar(floor float64) (fine, far float64) {
	const quantum = 1e-7 // about what rounding to 8 bits leaves in a flat cell
	return max(0, c.xx+c.yy-floor), max(0, c.far-floor/(coarse*coarse*coarse*coarse)) + quantum
}

// central is how much each cell matters where nothing is known: most in the
// middle, a quarter of that in the corners. No source.
func (d details) central() []float64 {
	w := make([]float64, len(d.cell))
	for i := range w {
		x := (float64(i%d.cols)+0.5)/float64(d.cols)*2 - 1
		y := (float64(i/d.cols)+0.5)/float64(d.rows)*2 - 1
		w[i] = math.Exp(-(x*x + y*y) * math.Ln2)
	}
	return w
}

// weights brings what matters to the focus grid, 1 the most; nil where it is
// no grid or has no weight at all. Where dishes are told from their ground,
// the ground weighs nothing: a table that is sharp behind a soft bowl has all
// the fine detail there is.
func (d details) weights(m catalogue.Matters) []float64 {
	if m.Columns <= 0 || m.Rows <= 0 || len(m.Weight) != m.Columns*m.Rows || slices.Max(m.Weight) == 0 {
		return nil
	}
	least := uint8(0)
	if slices.Max(m.Weight) >= catalogue.MattersFrom {
		least = catalogue.MattersFrom
	}
	w := make([]float64, len(d.cell))
	for i := range w {
		x := (2*(i%d.cols) + 1) * m.Columns / (2 * d.cols)
		y := (2*(i/d.cols) + 1) * m.Rows / (2 * d.rows)
		if v := m.Weight[y*m.Columns+x]; v >= least {
			w[i] = float64(v) / 255
		}
	}
	return w
}
