package crop

import (
	"slices"
	"sync"
)

// span is a box in shares of the picture.
type span struct{ x0, y0, x1, y1 float64 }

// What a gauge sums: four figures, and the weight of each region told apart.
const (
	allWeight   = iota // the weight of every cell
	dishes             // the weight of cells that belong to a region
	area               // their number
	sharpness          // their weight × sharpness
	firstPart          // the weight of the first region, the others after it
	mostParts   = 6    // regions told apart; a table is laid with fewer dishes
	figureCount = firstPart + mostParts
)

// figures are the sums over a rectangle.
type figures [figureCount]float64

// Gauge measures rectangles of a scene by a table of sums from the top left,
// one wider and taller than the grid. The sums are whole numbers: a cell adds
// at most 255², so that 66,051 of them fit. One gauge serves all halves and
// places of a picture; it is for one goroutine at a time.
type Gauge struct {
	Scene
	known   bool
	table   []uint32 // stride figures a node
	stride  int      // figures in use
	all     figures
	parts   int
	spans   []span  // of each region
	runs    []bool  // whether the picture itself cuts a region
	peak    float64 // sharpness of the sharpest region; 0 not known
	texture float64 // share of the picture that its largest region covers
}

// mostCells is how many cells a grid may have for its sums to be held.
const mostCells = 1<<32/(255*255) - 1

// runsFrom is how much of its own width and height, taken together, a region may
// lie along the edges of the picture before the picture is said to cut it. A circle that is cut
// where the chord is half its diameter loses a share of (θ − sin θ cos θ)/π
// with sin θ = ½, 3 %.
const runsFrom = 0.5

// Of makes the gauge of a scene. Free gives back what it holds.
func Of(s Scene) *Gauge {
	g := &Gauge{Scene: s}
	n := s.Columns * s.Rows
	g.known = s.Columns > 0 && s.Rows > 0 && n <= mostCells && len(s.Weight) == n && len(s.Part) == n
	if !g.known {
		return g
	}
	g.parts = min(mostParts, int(slices.Max(s.Part)))
	boxes := make([]cellBox, g.parts)
	for i := range boxes {
		boxes[i] = cellBox{x0: s.Columns, y0: s.Rows}
	}
	seen := len(s.Sharp) > 0 && len(s.Sharp) == s.SharpColumns*s.SharpRows
	g.stride = firstPart + g.parts
	nodes := (s.Columns + 1) * (s.Rows + 1)
	if lent, ok := tables.Get().(*[]uint32); ok && cap(*lent) >= nodes*g.stride {
		g.table = *lent
	} else {
		g.table = make([]uint32, nodes*figureCount)
	}
	g.table = g.table[:nodes*g.stride]
	clear(g.table[:(s.Columns+1)*g.stride])
	for y := range s.Rows {
		var row [figureCount]uint32
		clear(g.node((y + 1) * (s.Columns + 1)))
		for x := range s.Columns {
			i := y*s.Columns + x
			w := uint32(s.Weight[i])
			row[allWeight] += w
			if p := int(s.Part[i]); p > 0 && p <= g.parts {
				row[dishes] += w
				row[area]++
				row[firstPart+p-1] += w
				if seen {
					row[sharpness] += w * uint32(s.Sharp[(y*s.SharpRows/s.Rows)*s.SharpColumns+x*s.SharpColumns/s.Columns])
				}
				boxes[p-1].take(x, y, s.Columns, s.Rows)
			}
			at := (y+1)*(s.Columns+1) + x + 1
			below, above := g.node(at), g.node(at-s.Columns-1)
			for k := range below {
				below[k] = above[k] + row[k]
			}
		}
	}
	for k, v := range g.node(nodes - 1) {
		g.all[k] = float64(v)
	}
	g.spans, g.runs = make([]span, g.parts), make([]bool, g.parts)
	for i, b := range boxes {
		c, r := float64(s.Columns), float64(s.Rows)
		g.spans[i] = span{float64(b.x0) / c, float64(b.y0) / r, float64(b.x1) / c, float64(b.y1) / r}
		g.runs[i] = b.runs()
		if seen {
			f := g.of(g.spans[i])
			g.peak = max(g.peak, f[sharpness]/f[dishes])
		}
	}
	if g.parts > 0 {
		g.texture = g.all[firstPart] / g.all[dishes] * g.of(g.spans[0])[area] / float64(n)
	}
	return g
}

// cellBox is the box of a region in cells, and how many of its cells lie along
// the picture's left, right, upper and lower edge.
type cellBox struct {
	x0, y0, x1, y1 int
	along          [4]int
}

func (b *cellBox) take(x, y, columns, rows int) {
	b.x0, b.y0, b.x1, b.y1 = min(b.x0, x), min(b.y0, y), max(b.x1, x+1), max(b.y1, y+1)
	for i, at := range [...]bool{x == 0, x == columns-1, y == 0, y == rows-1} {
		if at {
			b.along[i]++
		}
	}
}

// runs tells whether the picture's edge cuts the region, by more than a sliver.
func (b cellBox) runs() bool {
	wide, high := float64(b.x1-b.x0), float64(b.y1-b.y0)
	return float64(b.along[0]+b.along[1])/high+float64(b.along[2]+b.along[3])/wide > runsFrom
}

// node is the figures at one node of the table.
func (g *Gauge) node(i int) []uint32 { return g.table[i*g.stride:][:g.stride:g.stride] }

// Free gives the table back; after it the gauge knows nothing of what matters.
func (g *Gauge) Free() {
	if g.table != nil {
		lent := g.table
		tables.Put(&lent)
		g.table, g.known = nil, false
	}
}

// tables are lent to gauges: a season makes thousands of them, one after the
// other.
var tables sync.Pool

// of is the sums over a rectangle in shares of the picture; cells that it cuts
// count by area.
func (g *Gauge) of(r span) figures {
	var f figures
	for _, c := range [...]struct{ x, y, sign float64 }{{r.x1, r.y1, 1}, {r.x0, r.y1, -1}, {r.x1, r.y0, -1}, {r.x0, r.y0, 1}} {
		at, w := g.corner(c.x, c.y)
		upper, lower := g.table[at*g.stride:][:2*g.stride], g.table[(at+g.Columns+1)*g.stride:][:2*g.stride]
		for k := range g.stride {
			f[k] += c.sign * (w[0]*float64(upper[k]) + w[1]*float64(upper[g.stride+k]) + w[2]*float64(lower[k]) + w[3]*float64(lower[g.stride+k]))
		}
	}
	return f
}

// one is one of the sums of of.
func (g *Gauge) one(k int, r span) float64 {
	var f float64
	for _, c := range [...]struct{ x, y, sign float64 }{{r.x1, r.y1, 1}, {r.x0, r.y1, -1}, {r.x1, r.y0, -1}, {r.x0, r.y0, 1}} {
		at, w := g.corner(c.x, c.y)
		a, b := at*g.stride+k, (at+g.Columns+1)*g.stride+k
		f += c.sign * (w[0]*float64(g.table[a]) + w[1]*float64(g.table[a+g.stride]) + w[2]*float64(g.table[b]) + w[3]*float64(g.table[b+g.stride]))
	}
	return f
}

// corner is the node at or before a place, and the weights of it, of the next,
// and of the two below them.
func (g *Gauge) corner(x, y float64) (at int, w [4]float64) {
	x, y = min(1, max(0, x))*float64(g.Columns), min(1, max(0, y))*float64(g.Rows)
	cx, cy := min(int(x), g.Columns-1), min(int(y), g.Rows-1)
	fx, fy := x-float64(cx), y-float64(cy)
	return cy*(g.Columns+1) + cx, [4]float64{(1 - fx) * (1 - fy), fx * (1 - fy), (1 - fx) * fy, fx * fy}
}
