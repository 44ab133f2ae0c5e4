package angle

import (
	"math"
	"slices"

	"coverplate/ingest/catalogue"
)

// A disc is as round a curve as a plate: a moon, a logo, a lamp, a target drawn
// on paper. What it lacks is what a vessel holds. So a rim inside of which
// nothing has an edge is no vessel, as far as can be seen: over the 198
// photographs of shared/photos/food with a rim of score 0.4 or more, a tenth of
// the cells inside of it reach 167 of the grid's 255 and nearly always 200, of
// clear soup and white plates too.
const (
	leastHeld  = 80   // of the grid's 255
	wellInside = 0.7  // of the half axes, so that the rim itself is left out
	leastCells = 8    // fewer show nothing
	emptyTrust = 0.25 // of what the score is worth otherwise
)

// empty tells whether the inside of a rim is plain.
func empty(r catalogue.Rim, f *catalogue.Focus, height float64) bool {
	if f == nil || f.Columns < 1 || f.Rows < 1 || len(f.Grid) != f.Columns*f.Rows {
		return false
	}
	sin, cos := math.Sincos(r.Turn * math.Pi / 180)
	var inside []uint8
	for i, v := range f.Grid {
		dx := (float64(i%f.Columns)+0.5)/float64(f.Columns) - r.X
		dy := (float64(i/f.Columns)+0.5)/float64(f.Rows)*height - r.Y
		u, w := (dx*cos+dy*sin)/r.A, (dy*cos-dx*sin)/r.B
		if u*u+w*w <= wellInside*wellInside {
			inside = append(inside, v)
		}
	}
	if len(inside) < leastCells {
		return false
	}
	slices.Sort(inside)
	return inside[len(inside)*9/10] < leastHeld
}
