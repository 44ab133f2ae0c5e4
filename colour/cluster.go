package colour

import (
	"cmp"
	"slices"
)

// cell is all pixels of a small cube of Lab, or of several.
type cell struct {
	n       int64 // pixels
	l, a, b int64 // sums of their tones
}

func (c *cell) add(d cell) {
	c.n += d.n
	c.l += d.l
	c.a += d.a
	c.b += d.b
}

// tone returns the mean to the nearest part.
func (c *cell) tone() tone {
	return tone{int32(roundDiv(c.l, c.n)), int32(roundDiv(c.a, c.n)), int32(roundDiv(c.b, c.n))}
}

func (c *cell) mean() Lab {
	n := float64(c.n) * grain
	return Lab{float64(c.l) / n, float64(c.a) / n, float64(c.b) / n}
}

// roundDiv is p / q to the nearest whole number, halves away from zero.
func roundDiv(p, q int64) int64 {
	if p < 0 {
		return -((-p + q/2) / q)
	}
	return (p + q/2) / q
}

// cells is the histogram of the pixels of p that in tells of, in an order that
// depends on the colours alone.
func (p *picture) cells(in func(x, y int) bool) []cell {
	const side = 2 * grain // 2 units of Lab
	at := make(map[[3]int32]int)
	var cells []cell
	var keys [][3]int32
	for i, t := range p.tones {
		if !in(i%p.width, i/p.width) {
			continue
		}
		k := [3]int32{t.l / side, (t.a + 1024*grain) / side, (t.b + 1024*grain) / side}
		j, ok := at[k]
		if !ok {
			j = len(cells)
			at[k] = j
			cells = append(cells, cell{})
			keys = append(keys, k)
		}
		cells[j].add(cell{1, int64(t.l), int64(t.a), int64(t.b)})
	}
	order := make([]int, len(cells))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return slices.Compare(keys[i][:], keys[j][:]) })
	sorted := make([]cell, len(cells))
	for i, j := range order {
		sorted[i] = cells[j]
	}
	return sorted
}

// group finds the colours of cells: k-means in Lab from seeds that cover what
// is far from all others first, then the two nearest by DeltaE2000 become one
// until all are at least apart from each other. The largest comes first.
func group(cells []cell, apart float64) []cell {
	groups := means(cells, seeds(cells, 20))
	for len(groups) > 1 {
		i, j, d := closest(groups)
		if d >= apart {
			break
		}
		groups = join(groups, i, j)
	}
	sortGroups(groups)
	return groups
}

func sortGroups(groups []cell) {
	slices.SortFunc(groups, func(p, q cell) int {
		return cmp.Or(cmp.Compare(q.n, p.n), cmp.Compare(p.l, q.l), cmp.Compare(p.a, q.a), cmp.Compare(p.b, q.b))
	})
}

func seeds(cells []cell, k int) []tone {
	var out []tone
	far := make([]int64, len(cells))
	best := 0
	for i := range cells {
		far[i] = 1 << 40
		if cells[i].n > cells[best].n {
			best = i
		}
	}
	for len(out) < k && far[best] > 0 {
		s := cells[best].tone()
		out = append(out, s)
		for i := range cells {
			far[i] = min(far[i], cells[i].tone().apart(s))
		}
		best = 0
		for i := range cells {
			if float64(far[i])*float64(cells[i].n) > float64(far[best])*float64(cells[best].n) {
				best = i
			}
		}
	}
	return out
}

func means(cells []cell, centres []tone) []cell {
	var groups []cell
	for range 12 {
		groups = make([]cell, len(centres))
		for i := range cells {
			t := cells[i].tone()
			best := 0
			for j := range centres {
				if t.apart(centres[j]) < t.apart(centres[best]) {
					best = j
				}
			}
			groups[best].add(cells[i])
		}
		moved := false
		for j := range groups {
			if groups[j].n > 0 {
				t := groups[j].tone()
				moved = moved || t != centres[j]
				centres[j] = t
			}
		}
		if !moved {
			break
		}
	}
	return slices.DeleteFunc(groups, func(c cell) bool { return c.n == 0 })
}

func closest(groups []cell) (i, j int, d float64) {
	d = 1e9
	for p := range groups {
		for q := range p {
			if e := DeltaE2000(groups[p].mean(), groups[q].mean()); e < d {
				i, j, d = q, p, e
			}
		}
	}
	return i, j, d
}

func join(groups []cell, i, j int) []cell {
	groups[i].add(groups[j])
	return slices.Delete(groups, j, j+1)
}

// reduce joins groups until at most most are left.
func reduce(groups []cell, most int) []cell {
	for len(groups) > most {
		bi, bj, least := 0, 1, -1.0
		for p := range groups {
			for q := range p {
				d := DeltaE2000(groups[p].mean(), groups[q].mean())
				a, b := float64(groups[p].n), float64(groups[q].n)
				if cost := d * d * a * b / (a + b); least < 0 || cost < least {
					bi, bj, least = q, p, cost
				}
			}
		}
		groups = join(groups, bi, bj)
	}
	sortGroups(groups)
	return groups
}

// swatches describes groups, whose shares in 1/10000 add up to 1.
func (p *picture) swatches(groups []cell) []Swatch {
	var total int64
	for _, g := range groups {
		total += g.n
	}
	out := make([]Swatch, len(groups))
	left := int64(10000)
	for i := len(groups) - 1; i >= 0; i-- {
		part := roundDiv(groups[i].n*10000, total)
		if i == 0 {
			part = left
		}
		left -= part
		out[i] = swatch(groups[i].mean(), float64(part)/10000)
		c := out[i].Lab.LCh().C
		out[i].Accent = out[i].Share <= accentMost && c >= accentChroma
	}
	return out
}
