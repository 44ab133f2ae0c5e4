package look

import (
	"cmp"
	"slices"

	"coverplate/ingest/catalogue"
)

// whole makes each dish one region: gaps of a cell close and holes fill (the
// bare middle of a plate).
func whole(m *catalogue.Matters) {
	belongs := func(w uint8) bool { return w >= catalogue.MattersFrom }
	grown := spread(m.Weight, m.Columns, m.Rows, func(any, self bool) bool { return any || self })
	closed := spread(grown, m.Columns, m.Rows, func(any, self bool) bool { return !any && self })
	for i, w := range closed {
		if belongs(w) && !belongs(m.Weight[i]) {
			m.Weight[i] = catalogue.MattersFrom
		}
	}
	outside := flooded(m.Weight, m.Columns, m.Rows)
	for i := range m.Weight {
		if !outside[i] && !belongs(m.Weight[i]) {
			m.Weight[i] = catalogue.MattersFrom
		}
	}
}

// sparse takes spots that are too small for a dish out of the regions.
func sparse(m *catalogue.Matters) {
	parts := m.Parts()
	var size [256]int
	for _, p := range parts {
		size[p]++
	}
	for i, w := range m.Weight {
		if w >= catalogue.MattersFrom && (parts[i] == 0 || float64(size[parts[i]]) < leastRegion*float64(len(parts))) {
			m.Weight[i] = catalogue.MattersFrom - 1
		}
	}
}

// spread says anew of each cell whether it belongs: by whether any of its
// eight neighbours is of the other side, and by itself.
func spread(weight []uint8, columns, rows int, rule func(any, self bool) bool) []uint8 {
	out := make([]uint8, len(weight))
	for i, w := range weight {
		self := w >= catalogue.MattersFrom
		other := false
		x, y := i%columns, i/columns
		for dy := max(y-1, 0); dy <= min(y+1, rows-1); dy++ {
			for dx := max(x-1, 0); dx <= min(x+1, columns-1); dx++ {
				other = other || weight[dy*columns+dx] >= catalogue.MattersFrom != self
			}
		}
		if rule(other, self) {
			out[i] = catalogue.MattersFrom
		}
	}
	return out
}

// flooded says which cells that belong to nothing the picture's border reaches.
func flooded(weight []uint8, columns, rows int) []bool {
	seen := make([]bool, len(weight))
	var stack []int
	push := func(i int) {
		if !seen[i] && weight[i] < catalogue.MattersFrom {
			seen[i] = true
			stack = append(stack, i)
		}
	}
	for i := range weight {
		if x, y := i%columns, i/columns; x == 0 || y == 0 || x == columns-1 || y == rows-1 {
			push(i)
		}
	}
	for len(stack) > 0 {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if i%columns > 0 {
			push(i - 1)
		}
		if i%columns < columns-1 {
			push(i + 1)
		}
		if i >= columns {
			push(i - columns)
		}
		if i+columns < len(weight) {
			push(i + columns)
		}
	}
	return seen
}

// regions describes the regions of m, the weightiest first.
func regions(m catalogue.Matters) []catalogue.Region {
	type box struct {
		x0, y0, x1, y1 int
		sum            float64
	}
	var boxes []box
	var all float64
	for i, p := range m.Parts() {
		all += float64(m.Weight[i])
		if p == 0 {
			continue
		}
		for len(boxes) < int(p) {
			boxes = append(boxes, box{m.Columns, m.Rows, 0, 0, 0})
		}
		b := &boxes[p-1]
		x, y := i%m.Columns, i/m.Columns
		b.x0, b.y0, b.x1, b.y1 = min(b.x0, x), min(b.y0, y), max(b.x1, x+1), max(b.y1, y+1)
		b.sum += float64(m.Weight[i])
	}
	out := make([]catalogue.Region, 0, len(boxes))
	for _, b := range boxes {
		c, r := float64(m.Columns), float64(m.Rows)
		out = append(out, catalogue.Region{X: float64(b.x0) / c, Y: float64(b.y0) / r,
			Width: float64(b.x1-b.x0) / c, Height: float64(b.y1-b.y0) / r, Share: b.sum / all})
	}
	slices.SortStableFunc(out, func(a, b catalogue.Region) int { return cmp.Compare(b.Share, a.Share) })
	return out
}
