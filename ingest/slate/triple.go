package slate

import (
	"cmp"
	"math"
	"slices"
)

// triple is three marks that may be of one code: its corner, the one to its
// right and the one below it, as they stand in an upright code.
type triple struct {
	corner, right, below sighting

	// By how much nearer to the lens the others are than the corner, as the
	// modules there tell: the third coordinates of a perspective.
	nearRight, nearBelow float64

	size   int     // modules on a side, 4k + 1
	misfit float64 // 0 best: how little the three agree
}

// sizes of a code: versions 1 … 40 (ISO/IEC 18004 section 5.3.1).
const (
	leastSize = 21
	mostSize  = 177
)

// maxTriples bounds how many triples are looked at closely.
const maxTriples = 24

// triples are the sets of three marks that may be corners of one code, the
// likeliest first; of sets of marks before fresh alone there are none.
func triples(marks []sighting, fresh int) []triple {
	var out []triple
	for i := range marks {
		for j := range marks {
			for k := j + 1; k < len(marks); k++ {
				if i == j || i == k || max(i, j, k) < fresh {
					continue
				}
				if t, ok := tripleOf(marks[i], marks[j], marks[k]); ok {
					out = append(out, t)
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b triple) int { return cmp.Compare(a.misfit, b.misfit) })
	return out[:min(len(out), maxTriples)]
}

// tripleOf makes one of three marks with a at the corner; ok is false where they
// can't be of one code.
func tripleOf(a, b, c sighting) (t triple, ok bool) {
	least, most := min(a.unit, b.unit, c.unit), max(a.unit, b.unit, c.unit)
	if most > 2.2*least {
		return t, false
	}
	ux, uy := b.x-a.x, b.y-a.y
	vx, vy := c.x-a.x, c.y-a.y
	if cross := ux*vy - uy*vx; cross < 0 { // right and below change places
		b, c = c, b
		ux, uy, vx, vy = vx, vy, ux, uy
	}
	lu, lv := math.Hypot(ux, uy), math.Hypot(vx, vy)
	// A code has 14 modules between marks at least, tilted to a quarter perhaps.
	if lu < 5*least || lv < 5*least || max(lu, lv) > 4.5*min(lu, lv) || max(lu, lv) > float64(mostSize)*2*most {
		return t, false
	}
	cosine := (ux*vx + uy*vy) / (lu * lv)
	if math.Abs(cosine) > 0.87 { // 30°
		return t, false
	}
	t = triple{corner: a, right: b, below: c}
	// Modules along the code's two sides, at each end.
	au, ok1 := a.module(ux/lu, uy/lu)
	bu, ok2 := b.module(ux/lu, uy/lu)
	av, ok3 := a.module(vx/lv, vy/lv)
	cv, ok4 := c.module(vx/lv, vy/lv)
	if !ok1 || !ok2 || !ok3 || !ok4 {
		return t, false
	}
	// Along a line a perspective is x(t) = (αt + β)/(γt + δ): its slopes at two
	// places are as the squares of the denominators, inversely, and the distance
	// of the places is that in modules times the root of the slopes' product.
	t.nearRight, t.nearBelow = math.Sqrt(au/bu), math.Sqrt(av/cv)
	across, down := lu/math.Sqrt(au*bu), lv/math.Sqrt(av*cv)
	n := (across+down)/2 + 7
	apart := math.Abs(across-down) / (across + down)
	if n < leastSize-3.5 || n > mostSize+3 || apart > 0.18 {
		return t, false
	}
	t.size = max(leastSize, min(mostSize, 4*int(math.Round((n-1)/4))+1))
	t.misfit = apart*8 + math.Abs(cosine) + math.Abs(math.Log(lu/lv))/2 + math.Log(most/least)
	return t, true
}

// perspective maps places in a code, in modules from its top left corner, to
// pixels: (x, y) = (m₀u + m₁v + m₂, m₃u + m₄v + m₅) / (m₆u + m₇v + m₈).
type perspective [9]float64

func (m *perspective) at(u, v float64) (x, y float64) {
	w := m[6]*u + m[7]*v + m[8]
	return (m[0]*u + m[1]*v + m[2]) / w, (m[3]*u + m[4]*v + m[5]) / w
}

// middle is where the middle of a mark lies from the code's corner, modules.
const middle = 3.5

// perspective is what three marks and the modules in them tell: their places
// in homogeneous coordinates are linear in u and v.
func (t triple) perspective(size int) perspective {
	d := float64(size) - 2*middle
	a := [3]float64{t.corner.x, t.corner.y, 1}
	b := [3]float64{t.nearRight * t.right.x, t.nearRight * t.right.y, t.nearRight}
	c := [3]float64{t.nearBelow * t.below.x, t.nearBelow * t.below.y, t.nearBelow}
	var m perspective
	for i := range a {
		m[3*i] = (b[i] - a[i]) / d
		m[3*i+1] = (c[i] - a[i]) / d
		m[3*i+2] = a[i] - middle*(m[3*i]+m[3*i+1])
	}
	return m
}

// corners is where a perspective puts the corners of a code of so many modules:
// top left, top right, bottom right, bottom left.
type corners [4][2]float64

func (m *perspective) corners(size int) corners {
	n := float64(size)
	var c corners
	c[0][0], c[0][1] = m.at(0, 0)
	c[1][0], c[1][1] = m.at(n, 0)
	c[2][0], c[2][1] = m.at(n, n)
	c[3][0], c[3][1] = m.at(0, n)
	return c
}

// perspective is the one that puts the corners of a code of so many modules
// there: Heckbert's for the unit square (Fundamentals of Texture Mapping and
// Image Warping, 1989, section 2.2.3; from memory), scaled.
func (c corners) perspective(size int) perspective {
	n := float64(size)
	x0, y0, x1, y1, x2, y2, x3, y3 := c[0][0], c[0][1], c[1][0], c[1][1], c[2][0], c[2][1], c[3][0], c[3][1]
	sx, sy := x0-x1+x2-x3, y0-y1+y2-y3
	dx1, dx2, dy1, dy2 := x1-x2, x3-x2, y1-y2, y3-y2
	det := dx1*dy2 - dx2*dy1
	g, h := (sx*dy2-dx2*sy)/det, (dx1*sy-sx*dy1)/det
	return perspective{
		(x1 - x0 + g*x1) / n, (x3 - x0 + h*x3) / n, x0,
		(y1 - y0 + g*y1) / n, (y3 - y0 + h*y3) / n, y0,
		g / n, h / n, 1,
	}
}
