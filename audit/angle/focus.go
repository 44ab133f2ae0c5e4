package angle

import (
	"math"
	"slices"

	"coverplate/ingest/catalogue"
)

// Focus runs out towards the far edge of a table that is seen aslant, and stays
// even across one that is seen from above. fall is how much sharper the near
// edge is than the far one: the slope, over the height of the picture, of the
// logarithm of the sharpness that a fifth of the cells of each eighth of the
// rows exceed. ok is false where focus was not measured.
func fall(f *catalogue.Focus) (slope float64, ok bool) {
	if f == nil || f.Columns < 1 || f.Rows < focusBands || len(f.Grid) != f.Columns*f.Rows {
		return 0, false
	}
	var along, square float64
	for k := range focusBands {
		from, to := k*f.Rows/focusBands, (k+1)*f.Rows/focusBands
		band := slices.Clone(f.Grid[from*f.Columns : to*f.Columns])
		slices.Sort(band)
		y := (float64(k) - (focusBands-1)/2.0) / (focusBands - 1)
		// Two steps of the grid's 255, so that a plain cloth is no abyss.
		along += y * math.Log(float64(band[len(band)*4/5])+2)
		square += y * y
	}
	return along / square, true
}

const focusBands = 8

// What fall is to be expected: aslant it grows with the cosine of the
// elevation, and so does its scatter, which is far from normal (Laplace).
// Fitted by likelihood on shared/photos/food; the weight is learnt held out.
const (
	fallMean    = 0.15 // times the cosine of the elevation
	fallScatter = 0.18 // times that cosine,
	fallLeast   = 0.03 // and so much besides
)

// focusFall is what the fall of focus tells of the elevation.
func (w Weights) focusFall(s sight) (b belief, ok bool) {
	slope, ok := fall(s.frame.Look.Focus)
	if !ok || w.Focus == 0 {
		return b, false
	}
	for i := range b {
		cos := math.Sqrt(1 - sines[i]*sines[i])
		scatter := fallLeast + fallScatter*cos
		b[i] = w.Focus * (-math.Abs(slope-fallMean*cos)/scatter - math.Log(scatter))
	}
	return b, true
}
