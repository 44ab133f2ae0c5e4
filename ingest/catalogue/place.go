package catalogue

import (
	"math"
	"slices"
)

// Cells is how many columns and rows of Fine and Far there are: each stands
// for two by two cells of Grid, or fewer where those are odd.
func (f *Focus) Cells() (columns, rows int) { return (f.Columns + 1) / 2, (f.Rows + 1) / 2 }

// The scales at which Fine and Far were measured: the variance, in pixels² of
// the picture of 768 that is measured, of the Gaussian that leaves a step as
// much slope energy. Sobel's difference over two pixels sees a step as a box of
// two, and the mean over a pixel makes that a trapezium of energy 5/12; a
// Gaussian of σ has the energy 1/(2√π·σ). Fine is taken of pixels twice as
// wide, Far of pixels four times.
const (
	oneScale  = 1 / (4 * math.Pi * (5.0 / 12) * (5.0 / 12))
	fineScale = 2 * 2 * oneScale
	farScale  = 4 * 4 * oneScale
)

// halfSharp is the variance in pixels² of the blur, the fine measure's own with
// it, at which the score is a half: that of an edge of σ 1 pixel. No source: it
// puts the middle of the scale there, which is 8 pixels where the picture
// measured stands for 6000.
const halfSharp = 1 + fineScale

// leastFar is the far energy below which there is nothing to tell sharpness by:
// half a code of 8 bits from one of its pixels to the next, squared.
const leastFar = (0.5 / 255 / 4) * (0.5 / 255 / 4)

// Over is how sharp the picture is in a place: cells of weight 0 and more, as
// many as Cells has. 0 … 1; ok is false where too little is measured there, or
// there is no detail at all.
//
// A step edge of blur s has the slope energy 1/√(s² + σ²) at scale σ (a
// Gaussian edge's, integrated), so q, the square of the ratio of fine energy to
// far, is (s² + c²)/(s² + f²) and (q − 1)/(c² − f²) is 1/(s² + f²): contrast
// and exposure fall out. The score is x²/(1 + x²) of x = halfSharp/(s² + f²); it
// needs no s, so texture finer than any edge still has its place above.
//
// The energies are summed over the place before their ratio is taken. A mean of
// cells' ratios, or of the sharpest, hears the grain of cells that hold
// nothing; of the sums, of which grain's share was taken, hardly any is left.
// What both sums stand on must be one place to be compared.
func (f *Focus) Over(place []float64) (score float64, ok bool) {
	if len(place) != len(f.Fine) || len(place) != len(f.Far) || len(place) == 0 {
		return 0, false
	}
	var fine, far, all float64
	for i, w := range place {
		fine += w * float64(f.Fine[i].Value())
		far += w * float64(f.Far[i].Value())
		all += w
	}
	if !(far > leastFar*all) {
		return 0, false
	}
	q := max(0, fine) / far
	x := max(0, q*q-1) * halfSharp / (farScale - fineScale)
	return x * x / (1 + x*x), true
}

// Place brings what matters to a grid of so many cells, 1 the most; nil where
// nothing matters. Where dishes are told from their ground, the ground weighs
// nothing: a table that is sharp behind a soft bowl has all the fine detail
// there is.
func (m *Matters) Place(columns, rows int) []float64 {
	if m == nil || columns <= 0 || rows <= 0 || !grid(len(m.Weight), m.Columns, m.Rows) {
		return nil
	}
	least := uint8(MattersFrom)
	if !slices.ContainsFunc(m.Weight, func(w uint8) bool { return w >= MattersFrom }) {
		if slices.Max(m.Weight) == 0 {
			return nil
		}
		least = 1
	}
	xs, ys := bounds(m.Columns, columns), bounds(m.Rows, rows)
	out := make([]float64, columns*rows)
	for cy := range rows {
		for cx := range columns {
			sum := 0
			for y := ys[cy][0]; y < ys[cy][1]; y++ {
				for _, v := range m.Weight[y*m.Columns:][xs[cx][0]:xs[cx][1]] {
					if v >= least {
						sum += int(v)
					}
				}
			}
			n := (xs[cx][1] - xs[cx][0]) * (ys[cy][1] - ys[cy][0])
			out[cy*columns+cx] = float64(sum) / float64(255*n)
		}
	}
	return out
}

// Middle is how much each of so many cells matters where nothing is known: 1 in
// the middle, a quarter of that in the corners, row by row. No source.
func Middle(cols, rows int) []float64 {
	w := make([]float64, cols*rows)
	for i := range w {
		x := (float64(i%cols)+0.5)/float64(cols)*2 - 1
		y := (float64(i/cols)+0.5)/float64(rows)*2 - 1
		w[i] = math.Exp(-(x*x + y*y) * math.Ln2)
	}
	return w
}

// bounds divides n cells among parts: each has those that it covers with their
// middle, one at least.
func bounds(n, parts int) [][2]int {
	out := make([][2]int, parts)
	for i := range out {
		from, to := (2*i*n+parts)/(2*parts), (2*(i+1)*n+parts)/(2*parts)
		if to <= from {
			from = min((2*i+1)*n/(2*parts), n-1)
			to = from + 1
		}
		out[i] = [2]int{from, to}
	}
	return out
}
