package slate

import (
	"cmp"
	"math"
	"slices"
)

// Of a code with a mark in glare two are seen. Their squares alone tell a
// perspective, and so where the third must be; which of the three it is, and on
// which side of the two, is tried, and the check of our own payloads tells. Others'
// codes are not read that way.

// pair is two marks that may be of one code.
type pair struct {
	a, b   sighting
	size   int     // modules on a side, 4k + 1
	misfit float64 // 0 best: how little the two agree
}

// Bounds of what is tried of one picture in which no code was read.
const (
	mostPairs        = 4
	mostPairRestores = 12
	mostFit          = 0.3 // modules: the root of the mean square by which edges may lie off
)

// pairs are the marks that may be two of one code of ours, the likeliest first.
func pairs(marks []sighting) []pair {
	var seen []sighting // each mark once, as the strictest pass saw it
	for _, m := range marks {
		if !slices.ContainsFunc(seen, func(o sighting) bool { return math.Hypot(m.x-o.x, m.y-o.y) < 2*max(m.unit, o.unit) }) {
			seen = append(seen, m)
		}
	}
	var out []pair
	for i, a := range seen {
		for _, b := range seen[i+1:] {
			dx, dy := b.x-a.x, b.y-a.y
			d := math.Hypot(dx, dy)
			au, ok1 := a.module(dx/d, dy/d)
			bu, ok2 := b.module(dx/d, dy/d)
			if !ok1 || !ok2 || max(a.unit, b.unit) > 2.2*min(a.unit, b.unit) {
				continue
			}
			// Along a side as along the diagonal the middles lie size − 7 modules apart.
			n := d/math.Sqrt(au*bu) + 2*middle
			size := 4*int(math.Round((n-1)/4)) + 1
			if size < leastSize || size > mostRestored {
				continue
			}
			out = append(out, pair{a: a, b: b, size: size, misfit: math.Abs(n-float64(size))/4 + math.Abs(math.Log(au/bu))})
		}
	}
	slices.SortStableFunc(out, func(p, q pair) int { return cmp.Compare(p.misfit, q.misfit) })
	return out[:min(len(out), mostPairs)]
}

// edge is a place where a line out of the middle of a mark crosses one of its
// edges, pixels, which is so many modules from its middle; bleed moves it outwards
// where ink is at its inside.
type edge struct {
	x, y   float64
	second bool // of the pair's other mark
	half   float64
	inked  float64 // 1 ink inside, −1 outside
}

// edges are those of a mark along 24 lines.
func (m sighting) edges(second bool) []edge {
	const lines = 24
	var out []edge
	for i := range lines {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / lines)
		var along []edge
		if m.by.walk(m.own.x, m.own.y, cos, sin, 2*math.Sqrt2*m.own.unit, func(k int, r float64) {
			along = append(along, edge{m.scale * (m.own.x + r*cos), m.scale * (m.own.y + r*sin), second, 1.5 + float64(k), float64(1 - 2*(k%2))})
		}) {
			out = append(out, along...)
		}
	}
	return out
}

// roles are which marks a pair may be: places of the first's and the second's
// middle and of that which is not seen, by their column and row, 0 or 1.
var roles = [6][3][2]float64{
	{{0, 0}, {1, 0}, {0, 1}}, {{1, 0}, {0, 0}, {0, 1}},
	{{0, 0}, {0, 1}, {1, 0}}, {{0, 1}, {0, 0}, {1, 0}},
	{{1, 0}, {0, 1}, {0, 0}}, {{0, 1}, {1, 0}, {0, 0}},
}

// readPairs reads the code that two of the marks may be of; "" where they are of
// none of ours.
func (r *reading) readPairs() string {
	restores := 0
	for _, p := range pairs(r.marks) {
		edges := append(p.a.edges(false), p.b.edges(true)...)
		for _, role := range roles {
			to, ok := p.perspective(edges, role)
			if !ok {
				continue
			}
			g := newGrid(r.levels, p.size, to)
			g.forget(role[2])
			g.sample()
			g.part()
			if g.agreement() < 0.45 {
				continue
			}
			g.settle()
			if g.agreement() >= 0.7 {
				text := g.read()
				if _, err := Parse(text); err == nil {
					return text
				}
			}
			if g.to = to; restores < mostPairRestores {
				restores++
				text := g.restored()
				if _, err := Parse(text); err == nil {
					return text
				}
			}
		}
	}
	return ""
}

// forget takes a mark out of what is known of the code: it can't be seen.
func (g *grid) forget(at [2]float64) {
	far := g.size - 8
	u, v := int(at[0])*far, int(at[1])*far // modules from the code's corner
	for y := v; y < v+9; y++ {
		for x := u; x < u+9; x++ {
			if x < g.size+1 && y < g.size+1 {
				g.known[y*g.edge+x] = 0
			}
		}
	}
}

// perspective is the one that lays the edges of a pair's marks where those of a
// code are, if they have these roles; false where none does. It is found by Gauss
// and Newton's steps from the picture to the code, beginning with a code that
// faces the lens.
func (p pair) perspective(edges []edge, role [3][2]float64) (to perspective, ok bool) {
	if len(edges) < 48 {
		return to, false
	}
	// The picture in units of the marks' distance about the first, the code in
	// modules about its first mark.
	dx, dy := p.b.x-p.a.x, p.b.y-p.a.y
	d := math.Hypot(dx, dy)
	far := float64(p.size) - 2*middle
	ux, uy := (role[1][0]-role[0][0])*far, (role[1][1]-role[0][1])*far
	// As complex numbers (ux + i·uy)/(dx + i·dy)·d turns and scales.
	re, im := (ux*dx+uy*dy)/d, (uy*dx-ux*dy)/d
	h := [9]float64{re, -im, 0, im, re, 0, 0, 0, 0} // the last is how far ink bleeds, modules
	const unknowns = len(h)
	rms := 0.0
	for range 12 {
		m := make([][]float64, unknowns)
		for i := range m {
			m[i] = make([]float64, unknowns+1)
			m[i][i] = 1e-6
		}
		count := 0.0
		rms = 0
		for _, e := range edges {
			x, y := (e.x-p.a.x)/d, (e.y-p.a.y)/d
			w := h[6]*x + h[7]*y + 1
			if w < 0.2 {
				return to, false
			}
			u, v := (h[0]*x+h[1]*y+h[2])/w, (h[3]*x+h[4]*y+h[5])/w
			cu, cv := u, v
			if e.second {
				cu, cv = u-ux, v-uy
			}
			if least, most := min(math.Abs(cu), math.Abs(cv)), max(math.Abs(cu), math.Abs(cv)); least > 0.85*most {
				continue // blur makes corners round
			}
			row := [unknowns]float64{}
			sign, off := 1.0, 0.0
			if math.Abs(cu) > math.Abs(cv) {
				sign = math.Copysign(1, cu)
				row[0], row[1], row[2], row[6], row[7] = x/w, y/w, 1/w, -u*x/w, -u*y/w
				off = math.Abs(cu)
			} else {
				sign = math.Copysign(1, cv)
				row[3], row[4], row[5], row[6], row[7] = x/w, y/w, 1/w, -v*x/w, -v*y/w
				off = math.Abs(cv)
			}
			row[8] = -sign * e.inked
			miss := sign * (e.half + e.inked*h[8] - off)
			rms += miss * miss
			count++
			for i, a := range row {
				for j, b := range row {
					m[i][j] += a * b
				}
				m[i][unknowns] += a * miss
			}
		}
		if count < 36 {
			return to, false
		}
		rms = math.Sqrt(rms / count)
		by, solvable := solved(m)
		if !solvable {
			return to, false
		}
		for i := range h {
			h[i] += by[i]
		}
	}
	if !(rms < mostFit) || math.Abs(h[8]) > 0.4 {
		return to, false
	}
	// Back from the code's corner to pixels.
	code := perspective{h[0] / d, h[1] / d, 0, h[3] / d, h[4] / d, 0, h[6] / d, h[7] / d, 1}
	code[2], code[5], code[8] = h[2]-code[0]*p.a.x-code[1]*p.a.y, h[5]-code[3]*p.a.x-code[4]*p.a.y, 1-code[6]*p.a.x-code[7]*p.a.y
	for i := range 3 {
		code[i] += (middle + role[0][0]*far) * code[6+i]
		code[3+i] += (middle + role[0][1]*far) * code[6+i]
	}
	return code.inverse(), true
}

// inverse is the perspective back, by cofactors.
func (m perspective) inverse() perspective {
	return perspective{
		m[4]*m[8] - m[5]*m[7], m[2]*m[7] - m[1]*m[8], m[1]*m[5] - m[2]*m[4],
		m[5]*m[6] - m[3]*m[8], m[0]*m[8] - m[2]*m[6], m[2]*m[3] - m[0]*m[5],
		m[3]*m[7] - m[4]*m[6], m[1]*m[6] - m[0]*m[7], m[0]*m[4] - m[1]*m[3],
	}
}
