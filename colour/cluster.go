package colour

import (
	"cmp"
	"math/bits"
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

func (c *cell) remove(d cell) {
	c.n -= d.n
	c.l -= d.l
	c.a -= d.a
	c.b -= d.b
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

// shade is one colour of a picture while it is sought.
type shade struct {
	core  cell  // the pixels that say what colour it is
	area  int64 // the pixels that it stands for: core, speckle and edges
	lab   Lab   // mean of core
	light XYZ   // the same
	row   int   // of its differences in grouping.differ
}

// grouping is the colours of a picture, or of its border.
type grouping struct {
	shades []shade
	cells  []cell
	tones  []tone // mean of each cell
	of     []int  // the shade of each cell; follows the joins
	total  int64  // pixels

	// differ is DeltaE2000 of each two shades by their row, kept since the
	// joins ask for the same ones over and over.
	differ [mostSeeds][mostSeeds]float64
}

// mostSeeds is how many colours k-means starts with: enough that a garnish is
// among them.
const mostSeeds = 20

// apart is DeltaE2000 of shades i and j.
func (g *grouping) apart(i, j int) float64 {
	return g.differ[g.shades[i].row][g.shades[j].row]
}

// measure renews the differences of shade i to all others.
func (g *grouping) measure(i int) {
	for j := range g.shades {
		d := DeltaE2000(g.shades[i].lab, g.shades[j].lab)
		p, q := g.shades[i].row, g.shades[j].row
		g.differ[p][q], g.differ[q][p] = d, d
	}
}

// group finds the colours of the pixels that in tells: k-means in Lab from
// seeds that cover first what is far from all others, then the two nearest by
// DeltaE2000 become one until all are at least apart from each other. The
// pixels of edges have no say in the colours; each counts with whichever of
// the colours beside it is nearest.
func (p *picture) group(in func(x, y int) bool, apart float64) *grouping {
	cells, at, edges := p.histogram(in)
	tones := make([]tone, len(cells))
	for i := range cells {
		tones[i] = cells[i].tone()
	}
	g := means(cells, tones, seeds(cells, tones, mostSeeds))
	for i := range g.shades {
		g.shades[i].row = i
	}
	for i := range g.shades {
		g.measure(i)
	}
	g.merge(apart)
	for i := range g.shades {
		g.shades[i].light = g.shades[i].lab.XYZ()
	}
	counted := make([]int64, len(g.shades))
	for _, i := range edges {
		counted[p.edgeShade(i, g, at)]++
	}
	for i := range g.shades {
		g.shades[i].area = g.shades[i].core.n + counted[i]
		g.total += g.shades[i].area
	}
	return g
}

// histogram sorts the pixels that in tells into cells, in an order that
// depends on the colours alone. at is the cell of each pixel, −1 where it is
// not told or lies on an edge; edges are the latter.
func (p *picture) histogram(in func(x, y int) bool) (cells []cell, at []int32, edges []int) {
	collect := func(skip bool) {
		const side = 2 * grain // 2 units of Lab
		slots := newSlots(len(p.tones))
		var keys []uint32
		at = make([]int32, len(p.tones))
		for i, t := range p.tones {
			at[i] = -1
			if !in(i%p.width, i/p.width) {
				continue
			}
			if skip && p.blend[i] {
				edges = append(edges, i)
				continue
			}
			k := uint32(t.l/side+128)<<18 | uint32((t.a+256*grain)/side)<<9 | uint32((t.b+256*grain)/side)
			j := slots.of(k)
			if int(j) == len(cells) {
				cells = append(cells, cell{})
				keys = append(keys, k)
			}
			cells[j].add(cell{1, int64(t.l), int64(t.a), int64(t.b)})
			at[i] = j
		}
		order := make([]int32, len(cells))
		for i := range order {
			order[i] = int32(i)
		}
		slices.SortFunc(order, func(i, j int32) int { return cmp.Compare(keys[i], keys[j]) })
		sorted, place := make([]cell, len(cells)), make([]int32, len(cells))
		for i, j := range order {
			sorted[i], place[j] = cells[j], int32(i)
		}
		for i, j := range at {
			if j >= 0 {
				at[i] = place[j]
			}
		}
		cells = sorted
	}
	collect(true)
	if len(cells) == 0 { // a thin border that is nothing but edges
		edges = nil
		collect(false)
	}
	return cells, at, edges
}

// slots numbers keys in the order in which they first come: a map of whole
// numbers that is never emptied, open addressing, at most half full.
type slots struct {
	keys  []uint32 // the key + 1; 0 where there is none
	place []int32
	n     int32
}

func newSlots(most int) *slots {
	size := 1 << bits.Len(uint(2*most))
	return &slots{keys: make([]uint32, size), place: make([]int32, size)}
}

// of returns the number of key.
func (s *slots) of(key uint32) int32 {
	mask := uint32(len(s.keys) - 1)
	i := key * 2654435769 >> 7 & mask // Knuth's multiplicative hash
	for ; s.keys[i] != key+1; i = (i + 1) & mask {
		if s.keys[i] == 0 {
			s.keys[i], s.place[i] = key+1, s.n
			s.n++
			break
		}
	}
	return s.place[i]
}

// edgeShade is the shade that pixel i, which lies on an edge, counts with: the
// nearest of those around it, or of all where there is none. Nearness is that
// of light here, not of Lab: a pixel that is half one colour and half another
// lies midway in light, but in Lab it is nearer to the lighter one.
func (p *picture) edgeShade(i int, g *grouping, at []int32) int {
	best, least := -1, 0.0
	consider := func(s int) {
		c, e := &g.shades[s].light, &p.light[i]
		x, y, z := c.X-e.X, c.Y-e.Y, c.Z-e.Z
		d := x*x + y*y + z*z
		if best < 0 || d < least || d == least && s < best {
			best, least = s, d
		}
	}
	x, y := i%p.width, i/p.width
	for v := max(0, y-1); v <= min(p.height-1, y+1); v++ {
		for u := max(0, x-1); u <= min(p.width-1, x+1); u++ {
			if c := at[v*p.width+u]; c >= 0 {
				consider(g.of[c])
			}
		}
	}
	if best < 0 {
		for s := range g.shades {
			consider(s)
		}
	}
	return best
}

// seeds chooses at most k starting points: the fullest cell, and then always
// the one that is farthest from those chosen, weighed by its pixels.
func seeds(cells []cell, tones []tone, k int) []tone {
	var out []tone
	far := make([]int64, len(cells))
	best := 0
	for i := range cells {
		far[i] = 1 << 40 // farther than any two tones
		if cells[i].n > cells[best].n {
			best = i
		}
	}
	for len(out) < k && far[best] > 0 {
		s := tones[best]
		out = append(out, s)
		best = 0
		for i, t := range tones {
			far[i] = min(far[i], t.apart(s))
			if far[i]*cells[i].n > far[best]*cells[best].n {
				best = i
			}
		}
	}
	return out
}

// means is Lloyd's k-means; it ends when nothing moves, or after 12 rounds,
// since what it finds is joined afterwards anyway.
func means(cells []cell, tones []tone, centres []tone) *grouping {
	g := &grouping{cells: cells, tones: tones, of: make([]int, len(cells))}
	for range 12 {
		sums := make([]cell, len(centres))
		for i, t := range tones {
			best, least := 0, t.apart(centres[0])
			for j := 1; j < len(centres); j++ {
				if d := t.apart(centres[j]); d < least {
					best, least = j, d
				}
			}
			g.of[i] = best
			sums[best].add(cells[i])
		}
		// A centre that lost all its cells goes; none of them points there.
		kept := make([]int, len(sums))
		g.shades = g.shades[:0]
		var next []tone
		moved := false
		for j := range sums {
			if sums[j].n == 0 {
				moved = true
				continue
			}
			kept[j] = len(next)
			t := sums[j].tone()
			moved = moved || t != centres[j]
			next = append(next, t)
			g.shades = append(g.shades, shade{core: sums[j], area: sums[j].n, lab: sums[j].mean()})
		}
		for i := range g.of {
			g.of[i] = kept[g.of[i]]
		}
		centres = next
		if !moved {
			break
		}
	}
	return g
}

// closest returns the two shades with the least DeltaE2000, i < j.
func (g *grouping) closest() (i, j int, d float64) {
	j, d = 1, g.apart(0, 1)
	for q := range g.shades {
		for p := range q {
			if e := g.apart(p, q); e < d {
				i, j, d = p, q, e
			}
		}
	}
	return i, j, d
}

// join makes shade j part of shade i.
func (g *grouping) join(i, j int) {
	g.shades[i].core.add(g.shades[j].core)
	g.shades[i].lab = g.shades[i].core.mean()
	g.measure(i)
	g.absorb(i, j)
}

// absorb counts shade j with shade i and leaves the colour of i as it is.
func (g *grouping) absorb(i, j int) {
	g.shades[i].area += g.shades[j].area
	g.shades = slices.Delete(g.shades, j, j+1)
	for c, s := range g.of {
		if s == j {
			s = i
		}
		if s > j {
			s--
		}
		g.of[c] = s
	}
}

// absorbSpeckle leaves no shade under leastShare: two that are too small make
// one, and a lone one counts with its nearest without turning its colour.
func (g *grouping) absorbSpeckle() {
	least := leastShare * float64(g.total)
	for len(g.shades) > 1 {
		small := 0
		for i := range g.shades {
			if g.shades[i].area < g.shades[small].area {
				small = i
			}
		}
		if float64(g.shades[small].area) >= least {
			return
		}
		near, d := -1, 0.0
		for i := range g.shades {
			if e := g.apart(i, small); i != small && (near < 0 || e < d) {
				near, d = i, e
			}
		}
		if float64(g.shades[near].area) < least {
			g.join(near, small)
		} else {
			g.absorb(near, small)
		}
	}
}

// reduce joins shades until at most most are left, always the pair whose loss,
// DeltaE2000 squared by the area concerned (Ward's), is least. An accent is
// joined with what is like it only.
func (g *grouping) reduce(most int) {
	for len(g.shades) > most {
		kept := make([]bool, len(g.shades))
		left := mostAccents
		for _, i := range g.byArea() {
			if left > 0 && g.accent(i) {
				kept[i] = true
				left--
			}
		}
		bi, bj, least := 0, 0, 0.0
		for q := range g.shades {
			for p := range q {
				d := g.apart(p, q)
				if d >= accentDistance && (kept[p] || kept[q]) {
					continue
				}
				m, n := float64(g.shades[p].area), float64(g.shades[q].area)
				if loss := d * d * (m * n / (m + n)); bj == 0 || loss < least {
					bi, bj, least = p, q, loss
				}
			}
		}
		g.join(bi, bj)
	}
}

// merge joins shades until all are at least apart from each other.
func (g *grouping) merge(apart float64) {
	for len(g.shades) > 1 {
		i, j, d := g.closest()
		if d >= apart {
			return
		}
		g.join(i, j)
	}
}

// settle moves the borders between the colours, which the joins left where
// they were, until each cell is with the colour nearest to it.
func (g *grouping) settle() {
	fixed := make([]bool, len(g.shades))
	for i := range g.shades {
		fixed[i] = g.accent(i)
	}
	for range 30 {
		centres := make([]tone, len(g.shades))
		for i := range g.shades {
			centres[i] = g.shades[i].core.tone()
		}
		moved := false
		for c, t := range g.tones {
			own := g.of[c]
			if fixed[own] {
				continue
			}
			best, least := own, t.apart(centres[own])
			for j := range centres {
				if d := t.apart(centres[j]); d < least && !fixed[j] {
					best, least = j, d
				}
			}
			if best != own && g.shades[own].core.n > g.cells[c].n { // none is left without a colour
				g.shades[own].core.remove(g.cells[c])
				g.shades[own].area -= g.cells[c].n
				g.shades[best].core.add(g.cells[c])
				g.shades[best].area += g.cells[c].n
				g.of[c] = best
				moved = true
			}
		}
		if !moved {
			break
		}
	}
	for i := range g.shades {
		g.shades[i].lab = g.shades[i].core.mean()
	}
	for i := range g.shades {
		g.measure(i)
	}
}

// byArea lists the shades, the largest first.
func (g *grouping) byArea() []int {
	order := make([]int, len(g.shades))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		p, q := g.shades[i], g.shades[j]
		return cmp.Or(cmp.Compare(q.area, p.area), cmp.Compare(p.lab.L, q.lab.L), cmp.Compare(p.lab.A, q.lab.A), cmp.Compare(p.lab.B, q.lab.B))
	})
	return order
}

// swatches describes the shades, the largest first; their shares, in whole
// parts of 1/10000, add up to 1.
func (g *grouping) swatches() []Swatch {
	order := g.byArea()
	out := make([]Swatch, len(order))
	left := int64(10000)
	for k := len(order) - 1; k >= 0; k-- {
		s := g.shades[order[k]]
		part := roundDiv(s.area*10000, g.total)
		if k == 0 {
			part = left
		}
		left -= part
		out[k] = swatch(s.lab, float64(part)/10000)
		out[k].Accent = g.accent(order[k])
	}
	return out
}
