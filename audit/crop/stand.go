package crop

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"sync"
)

// Scene is what is known of a picture when it is cut.
type Scene struct {
	Width, Height int // upright pixels

	// Weight says where the picture holds what matters, Columns × Rows, row by
	// row from the top, 255 the most; Part numbers the region of each cell,
	// 1 the weightiest, 0 none. Both are empty where that is not known.
	Columns, Rows int
	Weight        []uint8
	Part          []uint8

	// Sharp is local sharpness, SharpColumns × SharpRows, 255 the most; empty
	// where it is not known.
	SharpColumns, SharpRows int
	Sharp                   []uint8
}

// Works says whether a crop serves.
type Works string

// The three answers. Unsure is Look, never Yes.
const (
	Yes  Works = "yes"
	Look Works = "look"
	No   Works = "no"
)

// Part is one side of a judgement: how good it is, 0 … 1, and why in words.
type Part struct {
	Name  string
	Score float64
	Says  string
}

// Standing is a half and whether it stands alone as a picture.
type Standing struct {
	Half
	Works Works
	Score float64 // 0 … 1: the least of its parts
	Parts []Part
}

// Why says in words what the judgement rests on.
func (s Standing) Why() string {
	says := make([]string, len(s.Parts))
	for i, p := range s.Parts {
		says[i] = p.Says
	}
	return strings.Join(says, "; ")
}

// The marks of a half that stands alone. All are choices of this project, made
// before they were held against photographs; no source.
const (
	wholeFrom   = 0.94 // share of a dish that must be inside for it to count as whole
	strayTo     = 0.06 // share of another dish that may reach in
	cutYes      = 0.03 // share of what matters in the crop that may be cut
	cutNo       = 0.20 // from here on a crop does not work
	dishFrom    = 0.30 // least share of the picture's weight that is a dish to post
	fillsFrom   = 0.05 // least share of the crop that the dish fills
	fillsTo     = 0.92 // beyond it the crop shows food without an edge: a pattern
	sharpYes    = 0.60 // of the picture's sharpest part that matters
	sharpNo     = 0.30
	edgeYes     = 0.45 // weight along the crop's edge against the mean inside
	roomYes     = 0.015
	textureFrom = 0.80 // share of the picture that one region covers: no dish, a texture
)

// scales are the sizes tried of a crop, of the largest: a tighter one may
// leave out what reaches in from the other half.
var scales = [...]float64{1, 0.85, 0.7}

// steps is how many places are tried along each axis that a crop can move on.
const (
	steps      = 9
	tightSteps = 5 // of a tighter crop
)

// Stand judges every half of the scene for every shape, in the order of
// Halves: the best place for the crop in it, whether it works, and why. Where
// what matters is not known, the answer is that of geometry alone, and Look.
func Stand(s Scene, shapes []Shape) []Standing {
	halves := Halves(s.Width, s.Height, shapes)
	out := make([]Standing, 0, len(halves))
	g := newGauge(s)
	defer g.free()
	for _, h := range halves {
		var box Rect
		for _, b := range boxes(s.Width, s.Height) {
			if b.side == h.Side {
				box = b.box
			}
		}
		i := slices.IndexFunc(shapes, func(x Shape) bool { return x.Name == h.Shape })
		out = append(out, g.best(h, box, shapes[i]))
	}
	return out
}

// span is a box in shares of the picture.
type span struct{ x0, y0, x1, y1 float64 }

func (b *span) take(x, y, w, h float64) {
	b.x0, b.y0, b.x1, b.y1 = min(b.x0, x), min(b.y0, y), max(b.x1, x+w), max(b.y1, y+h)
}

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

// gauge measures rectangles of a scene by a table of sums from the top left,
// one wider and taller than the grid.
type gauge struct {
	Scene
	known  bool
	table  []float64 // stride figures a node
	stride int       // figures in use
	all    figures
	parts  int
	spans  []span  // of each region
	peak   float64 // sharpness of the sharpest region; 0 not known
}

func newGauge(s Scene) *gauge {
	g := &gauge{Scene: s}
	n := s.Columns * s.Rows
	g.known = s.Columns > 0 && s.Rows > 0 && len(s.Weight) == n && len(s.Part) == n
	if !g.known {
		return g
	}
	g.parts = min(mostParts, int(slices.Max(s.Part)))
	g.spans = make([]span, g.parts)
	for i := range g.spans {
		g.spans[i] = span{1, 1, 0, 0}
	}
	seen := len(s.Sharp) > 0 && len(s.Sharp) == s.SharpColumns*s.SharpRows
	g.stride = firstPart + g.parts
	nodes := (s.Columns + 1) * (s.Rows + 1)
	if lent, ok := tables.Get().(*[]float64); ok && cap(*lent) >= nodes*g.stride {
		g.table = *lent
	} else {
		g.table = make([]float64, nodes*(firstPart+mostParts))
	}
	g.table = g.table[:nodes*g.stride]
	clear(g.table[:(s.Columns+1)*g.stride])
	for y := range s.Rows {
		var row figures
		clear(g.node((y + 1) * (s.Columns + 1)))
		for x := range s.Columns {
			i := y*s.Columns + x
			w := float64(s.Weight[i])
			row[allWeight] += w
			if p := int(s.Part[i]); p > 0 && p <= g.parts {
				row[dishes] += w
				row[area]++
				row[firstPart+p-1] += w
				if seen {
					row[sharpness] += w * float64(s.Sharp[(y*s.SharpRows/s.Rows)*s.SharpColumns+x*s.SharpColumns/s.Columns])
				}
				g.spans[p-1].take(float64(x)/float64(s.Columns), float64(y)/float64(s.Rows), 1/float64(s.Columns), 1/float64(s.Rows))
			}
			at := (y+1)*(s.Columns+1) + x + 1
			below, above := g.node(at), g.node(at-s.Columns-1)
			for k := range below {
				below[k] = above[k] + row[k]
			}
		}
	}
	copy(g.all[:], g.node(nodes-1))
	if seen {
		for _, b := range g.spans {
			f := g.of(b)
			g.peak = max(g.peak, f[sharpness]/f[dishes])
		}
	}
	return g
}

// node is the figures at one node of the table.
func (g *gauge) node(i int) []float64 { return g.table[i*g.stride:][:g.stride:g.stride] }

// free gives the table back; the gauge measures nothing after it.
func (g *gauge) free() {
	if g.table != nil {
		lent := g.table
		tables.Put(&lent)
		g.table = nil
	}
}

// tables are lent to gauges: a season makes thousands of them, one after the
// other.
var tables sync.Pool

// of is the sums over a rectangle in shares of the picture; cells that it cuts
// count by area.
func (g *gauge) of(r span) figures {
	var f figures
	g.corner(&f, r.x1, r.y1, 1)
	g.corner(&f, r.x0, r.y1, -1)
	g.corner(&f, r.x1, r.y0, -1)
	g.corner(&f, r.x0, r.y0, 1)
	return f
}

func (g *gauge) corner(f *figures, x, y, sign float64) {
	x, y = min(1, max(0, x))*float64(g.Columns), min(1, max(0, y))*float64(g.Rows)
	cx, cy := min(int(x), g.Columns-1), min(int(y), g.Rows-1)
	fx, fy := x-float64(cx), y-float64(cy)
	at := cy*(g.Columns+1) + cx
	a, b := g.node(at), g.node(at+1)
	c, d := g.node(at+g.Columns+1), g.node(at+g.Columns+2)
	wa, wb, wc, wd := sign*(1-fx)*(1-fy), sign*fx*(1-fy), sign*(1-fx)*fy, sign*fx*fy
	for k := range a {
		f[k] += wa*a[k] + wb*b[k] + wc*c[k] + wd*d[k]
	}
}

// best finds the best place of a crop in a half.
func (g *gauge) best(h Half, box Rect, shape Shape) Standing {
	if !h.Large {
		return Standing{Half: h, Works: No, Parts: []Part{{"pixels", 0, fmt.Sprintf("%d×%d px for %s, %d×%d are needed", h.Rect.Width, h.Rect.Height, shape.Name, shape.Width, shape.Height)}}}
	}
	if !g.known || g.all[allWeight] == 0 {
		return Standing{Half: h, Works: Look, Parts: []Part{{"matters", 0, "large enough; where its dish stands is not known: look"}}}
	}
	if g.parts == 0 {
		return Standing{Half: h, Works: Look, Parts: []Part{{"matters", 0, "nothing stands out in the picture: look"}}}
	}
	rw, rh := shape.Ratio()
	reachable := g.reachable(h, box)
	var found Standing
	var why measured
	first := true
	for _, scale := range scales {
		k := int(scale * float64(h.Rect.Width/rw))
		w, ht := k*rw, k*rh
		if w < shape.Width || ht < shape.Height {
			break
		}
		at := box
		if h.Slide > 0 { // the window slides along the whole frame
			if h.Side == BetweenLR {
				at.X, at.Width = 0, g.Width
			} else {
				at.Y, at.Height = 0, g.Height
			}
		}
		across, down := steps, steps
		switch {
		case !reachable && scale < 1:
			found.Parts = why.say()
			return found
		case !reachable:
			across, down = 1, 1
		case scale < 1:
			across, down = tightSteps, tightSteps
		}
		for _, y := range places(at.Y, at.Height-ht, down) {
			for _, x := range places(at.X, at.Width-w, across) {
				half := h
				half.Rect = Rect{x, y, w, ht}
				half.Scale = float64(w) / float64(shape.Width)
				m := g.measure(half.Rect)
				s := Standing{Half: half, Works: m.works(), Score: m.score()}
				if first || better(s, found) {
					found, why, first = s, m, false
				}
			}
		}
		if found.Works == Yes {
			break // a tighter crop is only wanted where the largest does not serve
		}
	}
	found.Parts = why.say()
	return found
}

// reachable tells whether a half holds enough of any dish for a crop in it to
// work: a crop holds no more than its half.
func (g *gauge) reachable(h Half, box Rect) bool {
	windows := []Rect{box}
	if h.Slide > 0 {
		windows = windows[:0]
		for i := range 2*steps + 1 {
			at := box
			if h.Side == BetweenLR {
				at.X = i * (g.Width - box.Width) / (2 * steps)
			} else {
				at.Y = i * (g.Height - box.Height) / (2 * steps)
			}
			windows = append(windows, at)
		}
	}
	for _, w := range windows {
		f := g.of(g.spanOf(w))
		for p := range g.parts {
			if f[firstPart+p] >= (1-cutNo)*g.all[firstPart+p] {
				return true
			}
		}
	}
	return false
}

// places spreads the tries over the room that a crop has, the middle first,
// whole pixels.
func places(from, room, steps int) []int {
	if room <= 0 {
		return []int{from}
	}
	n := min(steps, room+1)
	all := make([]int, 0, n)
	for i := range n {
		all = append(all, from+i*room/max(1, n-1))
	}
	middle := from + room/2
	slices.SortStableFunc(all, func(a, b int) int { return cmp.Compare(abs(a-middle), abs(b-middle)) })
	return all
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}
