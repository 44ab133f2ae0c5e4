package look

import (
	"cmp"
	"math"
	"slices"

	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// What matters in a picture is found by colour first: what stands out from the
// surface that the picture's border shows, and from the picture's mean
// (frequency-tuned saliency). Detail in focus adds to it, and what lies inside
// of a round rim belongs together: a white plate on a white cloth is part of
// the dish. The figures below are choices of this project, no source.
const (
	mattersCells = 96 * 64 // cells of the grid, about, whatever the picture's shape

	// standsOut is the distance in Lab, ΔE*ab, below which nothing stands out
	// of a picture: its grain and the fall of its light.
	standsOut = 8

	leastRegion = 0.006 // share of the picture below which a spot is no dish
	rimCounts   = 0.5   // least score of a rim whose inside belongs together
)

// weigh makes the grid of what matters from the upright picture r. focus and
// rims may be nil. It returns nil where nothing stands out: the picture is of
// one colour, or of one texture all over.
func weigh(r colour.Raster, focus *catalogue.Focus, rims []catalogue.Rim) *catalogue.Matters {
	if r.Width < 4 || r.Height < 4 || len(r.Pix) != r.Width*r.Height {
		return nil
	}
	lab := make([]colour.Lab, len(r.Pix))
	for i, p := range r.Pix {
		lab[i] = p.Lab()
	}
	lab = softened(lab, r.Width, r.Height)
	out := outstanding(lab, r.Width, r.Height)
	top := percentile(out, 0.98)
	if top < standsOut {
		return nil
	}
	m := &catalogue.Matters{}
	m.Columns = min(r.Width, max(1, int(math.Round(math.Sqrt(mattersCells*float64(r.Width)/float64(r.Height))))))
	m.Rows = min(r.Height, max(1, mattersCells/m.Columns))
	pix := make([][1]float32, len(out))
	for i, v := range out {
		pix[i][0] = float32(v)
	}
	grid := make([]float64, m.Columns*m.Rows)
	for i, v := range averaged(pix, r.Width, r.Height, m.Columns, m.Rows) {
		x, y := (float64(i%m.Columns)+0.5)/float64(m.Columns), (float64(i/m.Columns)+0.5)/float64(m.Rows)
		grid[i] = min(1, float64(v[0])/top) * sharpAt(focus, x, y) * central(x, y)
	}
	high := float64(r.Height) / float64(r.Width)
	vessels := vesselsOf(rims)
	gathered(grid, m.Columns, m.Rows, high, vessels)
	cut := threshold(grid)
	m.Weight = make([]uint8, len(grid))
	for i, v := range grid {
		m.Weight[i] = weightOf(v, cut)
	}
	whole(m)
	part(m, high, vessels)
	m.Regions = regions(*m)
	return m
}

// softened is the 5 × 5 binomial blur of Achanta et al. (2009), by which grain
// and the finest texture do not stand out. Borders are held.
func softened(lab []colour.Lab, w, h int) []colour.Lab {
	kernel := [...]float64{1.0 / 16, 4.0 / 16, 6.0 / 16, 4.0 / 16, 1.0 / 16}
	pass := func(in []colour.Lab, step, length int, along func(i int) int) []colour.Lab {
		out := make([]colour.Lab, len(in))
		for i := range in {
			at := along(i)
			var c colour.Lab
			for k, f := range kernel {
				j := i + (min(max(at+k-2, 0), length-1)-at)*step
				c.L += f * in[j].L
				c.A += f * in[j].A
				c.B += f * in[j].B
			}
			out[i] = c
		}
		return out
	}
	lab = pass(lab, 1, w, func(i int) int { return i % w })
	return pass(lab, w, h, func(i int) int { return i / w })
}

// tuned is the frequency-tuned saliency of Achanta, Hemami, Estrada and
// Süsstrunk, CVPR 2009: how far each softened pixel lies from the mean of the
// picture before it was softened, which the softening all but keeps. ΔE*ab.
func tuned(lab []colour.Lab, mean colour.Lab) []float64 {
	out := make([]float64, len(lab))
	for i, c := range lab {
		out[i] = math.Sqrt(apartSquare(c, mean))
	}
	return out
}

// apartSquare is the square of ΔE*ab.
func apartSquare(a, b colour.Lab) float64 {
	return square(a.L-b.L) + square(a.A-b.A) + square(a.B-b.B)
}

func square(x float64) float64 { return x * x }

func meanOf(lab []colour.Lab) colour.Lab {
	var m colour.Lab
	for _, c := range lab {
		m.L, m.A, m.B = m.L+c.L, m.A+c.A, m.B+c.B
	}
	n := float64(len(lab))
	return colour.Lab{L: m.L / n, A: m.A / n, B: m.B / n}
}

// outstanding says of each pixel how far it stands out. A dish that fills half
// the picture draws the mean towards itself, so that the table would stand
// out from it: the colours of the border count for as much of the answer as
// they account for of the border.
func outstanding(lab []colour.Lab, w, h int) []float64 {
	out := tuned(lab, meanOf(lab))
	grounds, share := surfaces(lab, w, h)
	for i, c := range lab {
		if len(grounds) == 0 {
			break
		}
		d := math.Inf(1)
		for _, g := range grounds {
			d = min(d, apartSquare(c, g))
		}
		out[i] = share*math.Sqrt(d) + (1-share)*out[i]
	}
	return out
}

// surfaces returns the colours that the border is made of, at most four, each
// a seventh of it or more, and which share of the border they account for.
func surfaces(lab []colour.Lab, w, h int) ([]colour.Lab, float64) {
	const near, least, most = 11.0, 1.0 / 7, 4 // ΔE*ab; share; count
	const sample = 512                         // pixels of the border that stand for all
	ring := max(1, min(w, h)/14)
	var border []colour.Lab
	for i, c := range lab {
		if x, y := i%w, i/w; x < ring || y < ring || x >= w-ring || y >= h-ring {
			border = append(border, c)
		}
	}
	if step := len(border) / sample; step > 1 {
		for i := range len(border) / step {
			border[i] = border[i*step]
		}
		border = border[:len(border)/step]
	}
	taken := make([]bool, len(border))
	var found []colour.Lab
	var count int
	for len(found) < most {
		// The seed with the most of the border about it, of an even sample.
		best, bestN := -1, 0
		for s := 0; s < len(border); s += max(1, len(border)/96) {
			if taken[s] {
				continue
			}
			n := 0
			for i, c := range border {
				if !taken[i] && apartSquare(c, border[s]) < near*near {
					n++
				}
			}
			if n > bestN {
				best, bestN = s, n
			}
		}
		if best < 0 || float64(bestN) < least*float64(len(border)) {
			break
		}
		var members []colour.Lab
		seed := border[best]
		for i, c := range border {
			if !taken[i] && apartSquare(c, seed) < near*near {
				taken[i] = true
				members = append(members, c)
			}
		}
		count += len(members)
		found = append(found, meanOf(members))
	}
	return found, float64(count) / float64(len(border))
}

// central favours the middle a little: models of what people look at do better
// with it (reference file 10_saliency_cases.json quotes the benchmark). x and
// y are shares.
func central(x, y float64) float64 {
	return 0.7 + 0.3*math.Exp(-(square(x-0.5)+square(y-0.5))/0.12)
}

// sharpAt is how much detail in focus there is at a place, as a factor: what
// is soft keeps half of its weight, since a bare plate has no detail either.
func sharpAt(f *catalogue.Focus, x, y float64) float64 {
	if f == nil || f.Columns <= 0 || f.Rows <= 0 || len(f.Grid) != f.Columns*f.Rows {
		return 1
	}
	cx, cy := min(int(x*float64(f.Columns)), f.Columns-1), min(int(y*float64(f.Rows)), f.Rows-1)
	// The sharpest of the neighbourhood: food lies between its own edges.
	var best uint8
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			if px, py := cx+dx, cy+dy; px >= 0 && py >= 0 && px < f.Columns && py < f.Rows {
				best = max(best, f.Grid[py*f.Columns+px])
			}
		}
	}
	top := slices.Max(f.Grid)
	if top == 0 {
		return 1
	}
	return 0.5 + 0.5*float64(best)/float64(top)
}

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

// part draws a line between vessels that touch, so that each is a region of
// its own: what lies between belongs to the nearer.
func part(m *catalogue.Matters, high float64, vessels []catalogue.Rim) {
	if len(vessels) < 2 {
		return
	}
	nearest := make([]int, len(m.Weight))
	for i := range nearest {
		x, y := (float64(i%m.Columns)+0.5)/float64(m.Columns), (float64(i/m.Columns)+0.5)/float64(m.Rows)*high
		best := math.Inf(1)
		for n, r := range vessels {
			if d := within(r, x, y); d < best {
				best, nearest[i] = d, n
			}
		}
	}
	for i, w := range m.Weight {
		right, below := i%m.Columns < m.Columns-1 && nearest[i] != nearest[i+1], i+m.Columns < len(m.Weight) && nearest[i] != nearest[i+m.Columns]
		if w >= catalogue.MattersFrom && (right || below) {
			m.Weight[i] = catalogue.MattersFrom - 1
		}
	}
}

// threshold is Otsu's (1979) of the values, held to where a dish can end.
func threshold(grid []float64) float64 {
	const bins = 64
	var count [bins]float64
	var total float64
	for _, v := range grid {
		b := min(bins-1, max(0, int(v*bins)))
		count[b]++
		total += float64(b)
	}
	n := float64(len(grid))
	var below, sum, best float64
	at := bins / 3
	for b := range bins - 1 {
		below += count[b]
		sum += float64(b) * count[b]
		if below == 0 || below == n {
			continue
		}
		between := below * (n - below) * square(sum/below-(total-sum)/(n-below))
		if between > best {
			best, at = between, b
		}
	}
	return min(0.5, max(0.22, float64(at+1)/bins))
}

// weightOf lays a value out so that the threshold comes to MattersFrom.
func weightOf(v, cut float64) uint8 {
	if v < cut {
		return uint8(v / cut * (catalogue.MattersFrom - 1))
	}
	return uint8(catalogue.MattersFrom + min(1, (v-cut)/(1-cut))*(255-catalogue.MattersFrom))
}

func percentile(in []float64, p float64) float64 {
	all := slices.Clone(in)
	slices.Sort(all)
	return all[int(p*float64(len(all)-1))]
}

// whole makes each dish one region: gaps of a cell close, holes fill (the bare
// middle of a plate), and spots too small for a dish fall back.
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
	parts := m.Parts()
	var size [256]int
	for _, p := range parts {
		size[p]++
	}
	for i, w := range m.Weight {
		if belongs(w) && (parts[i] == 0 || float64(size[parts[i]]) < leastRegion*float64(len(parts))) {
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
