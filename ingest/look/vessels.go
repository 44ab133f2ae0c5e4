package look

import (
	"cmp"
	"math"
	"slices"

	"coverplate/ingest/catalogue"
)

// vesselsOf returns the rims that count, one a vessel: a bowl draws its outer
// edge, its inner edge and the edge of what is in it.
func vesselsOf(rims []catalogue.Rim) []catalogue.Rim {
	var all []catalogue.Rim
	for _, r := range rims {
		if r.Score >= rimCounts && r.A > 0 && r.B > 0 {
			all = append(all, r)
		}
	}
	slices.SortStableFunc(all, func(a, b catalogue.Rim) int { return cmp.Compare(b.A*b.B, a.A*a.B) })
	var out []catalogue.Rim
	for _, r := range all {
		if !slices.ContainsFunc(out, func(larger catalogue.Rim) bool { return within(larger, r.X, r.Y) < 0.8 }) {
			out = append(out, r)
		}
	}
	return out
}

// laden returns the vessels in which something stands out: a round of bare
// table is none, whatever curve of its grain looked like a rim.
func laden(vessels []catalogue.Rim, grid []float64, columns, rows int, high, cut float64) []catalogue.Rim {
	const least = 0.05 // share of the cells within
	var out []catalogue.Rim
	for _, r := range vessels {
		var all, above int
		for i, v := range grid {
			if x, y := middleOf(i, columns, rows, high); within(r, x, y) <= 1 {
				all++
				if v >= cut {
					above++
				}
			}
		}
		if all > 0 && float64(above) >= least*float64(all) {
			out = append(out, r)
		}
	}
	return out
}

// middleOf is the middle of a cell in shares of the picture's width; high is
// the picture's height in widths.
func middleOf(i, columns, rows int, high float64) (x, y float64) {
	return (float64(i%columns) + 0.5) / float64(columns), (float64(i/columns) + 0.5) / float64(rows) * high
}

// within tells how far out a place lies: 0 at the rim's centre, 1 on the rim.
// x and y are shares of the picture's width.
func within(r catalogue.Rim, x, y float64) float64 {
	sin, cos := math.Sincos(r.Turn * math.Pi / 180)
	x, y = x-r.X, y-r.Y
	return math.Sqrt(square((x*cos+y*sin)/r.A) + square((y*cos-x*sin)/r.B))
}

// gathered lifts all that lies inside of a rim to what a dish weighs. high is
// the picture's height in widths.
func gathered(grid []float64, columns, rows int, high float64, vessels []catalogue.Rim) {
	for i := range grid {
		x, y := (float64(i%columns)+0.5)/float64(columns), (float64(i/columns)+0.5)/float64(rows)*high
		for _, r := range vessels {
			if within(r, x, y) <= 1 {
				grid[i] = max(grid[i], 0.6+0.4*grid[i])
			}
		}
	}
}

// spanned is how far from a vessel a place lies, 1 at most where it may show a
// part of the vessel or of what is in it. Seen aslant a bowl shows its outside
// below its rim, and what is heaped in it stands above; seen from straight
// above there is nothing but the rim, and sin of the elevation is B/A (the
// asin of the axes, without perspective).
func spanned(r catalogue.Rim, x, y float64) float64 {
	const (
		brim  = 1.08 // of the rim: its lip, and the blur
		deep  = 0.8  // of the radius: as deep as bowls are, no source
		piled = 0.6  // of the radius
	)
	aslant := math.Sqrt(max(0, 1-square(r.B/r.A)))
	// The nearest of the rims that lie between the heap and the foot.
	y -= min(max(y, r.Y-piled*r.A*aslant), r.Y+deep*r.A*aslant) - r.Y
	return within(r, x, y) / brim
}

// part draws a line between vessels that touch, and between a vessel and what
// lies about it, so that each vessel is a region of its own: what lies between
// two belongs to the nearer.
func part(m *catalogue.Matters, high float64, vessels []catalogue.Rim) {
	if len(vessels) == 0 {
		return
	}
	owner := make([]int, len(m.Weight)) // 1 … n, 0 none
	for i := range owner {
		x, y := middleOf(i, m.Columns, m.Rows, high)
		best := 1.0
		for n, r := range vessels {
			if d := spanned(r, x, y); d <= best {
				best, owner[i] = d, n+1
			}
		}
	}
	apart := func(i, j int) bool {
		return owner[i] != owner[j] && m.Weight[i] >= catalogue.MattersFrom && m.Weight[j] >= catalogue.MattersFrom
	}
	lower := func(i, j int) {
		if owner[j] == 0 { // the line runs outside of a vessel
			i = j
		}
		m.Weight[i] = catalogue.MattersFrom - 1
	}
	for i := range m.Weight {
		if j := i + 1; j%m.Columns != 0 && apart(i, j) {
			lower(i, j)
		}
		if j := i + m.Columns; j < len(m.Weight) && apart(i, j) {
			lower(i, j)
		}
	}
}
