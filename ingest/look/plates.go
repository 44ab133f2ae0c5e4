package look

import (
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// plated adds to each region the plate that goes round it: an oval or square
// dish draws no round rim, and a white one may be of the colour of the cloth
// beside it. A plate is even, lies along half of the food's outline at least,
// and ends before the picture does; what reaches the picture's edge is ground.
// cells are the colours of the cells of m. The figures are choices of this
// project, no source.
func plated(m *catalogue.Matters, cells []colour.Lab) {
	const (
		even   = 4.0  // ΔE*ab from cell to cell
		alike  = 12.0 // ΔE*ab from where the plate was met
		round  = 0.5  // share of the food's outline
		most   = 0.35 // share of the picture
		inside = catalogue.MattersFrom
	)
	parts := m.Parts()
	regions := 0
	for _, p := range parts {
		regions = max(regions, int(p))
	}
	// The cells that touch a region are half its colour: the plate is met in
	// those beyond them.
	near := make([]uint8, len(parts))
	for i, p := range parts {
		for _, j := range beside(m, i) {
			if p == 0 && j >= 0 && parts[j] > 0 {
				near[i] = parts[j]
			}
		}
	}
	outline := make([][]int, regions+1)
	for i, p := range parts {
		for _, j := range beside(m, i) {
			if p > 0 || near[i] > 0 || j < 0 || near[j] == 0 {
				continue
			}
			if o := outline[near[j]]; len(o) == 0 || o[len(o)-1] != i { // once, though it meets it twice
				outline[near[j]] = append(o, i)
			}
		}
	}
	for _, edge := range outline {
		seen := make([]bool, len(parts))
		for _, seed := range edge {
			if seen[seed] {
				continue
			}
			found, open := []int{seed}, false
			seen[seed] = true
			for n := 0; n < len(found); n++ {
				at := found[n]
				for _, j := range beside(m, at) {
					switch {
					case j < 0:
						open = true
					case !seen[j] && parts[j] == 0 && apartSquare(cells[j], cells[at]) < even*even && apartSquare(cells[j], cells[seed]) < alike*alike:
						seen[j] = true
						found = append(found, j)
					}
				}
			}
			if open || float64(len(found)) > most*float64(len(parts)) {
				continue
			}
			plate := make(map[int]bool, len(found))
			for _, i := range found {
				plate[i] = true
			}
			along := 0
			for _, i := range edge {
				if plate[i] {
					along++
				}
			}
			if float64(along) >= round*float64(len(edge)) {
				for _, i := range found {
					m.Weight[i] = max(m.Weight[i], inside)
				}
			}
		}
	}
}

// beside are the four cells next to one, −1 beyond the picture's edge.
func beside(m *catalogue.Matters, i int) [4]int {
	out := [4]int{i - 1, i + 1, i - m.Columns, i + m.Columns}
	if i%m.Columns == 0 {
		out[0] = -1
	}
	if out[1]%m.Columns == 0 {
		out[1] = -1
	}
	if out[3] >= len(m.Weight) {
		out[3] = -1
	}
	return out
}

// inCells averages a picture into a grid.
func inCells(lab []colour.Lab, w, h, columns, rows int) []colour.Lab {
	pix := make([][3]float32, len(lab))
	for i, c := range lab {
		pix[i] = [3]float32{float32(c.L), float32(c.A), float32(c.B)}
	}
	out := make([]colour.Lab, columns*rows)
	for i, v := range averaged(pix, w, h, columns, rows) {
		out[i] = colour.Lab{L: float64(v[0]), A: float64(v[1]), B: float64(v[2])}
	}
	return out
}
