package crop

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
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
var scales = [...]float64{1, 0.9, 0.8, 0.7}

// steps is how many places are tried along each axis that a crop can move on.
const steps = 9

// Stand judges every half of the scene for every shape, in the order of
// Halves: the best place for the crop in it, whether it works, and why. Where
// what matters is not known, the answer is that of geometry alone, and Look.
func Stand(s Scene, shapes []Shape) []Standing {
	halves := Halves(s.Width, s.Height, shapes)
	out := make([]Standing, 0, len(halves))
	g := newGauge(s)
	bySide := map[Side]Rect{}
	for _, b := range boxes(s.Width, s.Height) {
		bySide[b.side] = b.box
	}
	for _, h := range halves {
		i := slices.IndexFunc(shapes, func(x Shape) bool { return x.Name == h.Shape })
		out = append(out, g.best(h, bySide[h.Side], shapes[i]))
	}
	return out
}

// span is a box in shares of the picture.
type span struct{ x0, y0, x1, y1 float64 }

func (b *span) take(x, y, w, h float64) {
	b.x0, b.y0, b.x1, b.y1 = min(b.x0, x), min(b.y0, y), max(b.x1, x+w), max(b.y1, y+h)
}

// gauge measures rectangles of a scene by tables of sums.
type gauge struct {
	Scene
	known  bool
	weight sums      // of what matters
	parts  []sums    // of each region's weight, the weightiest first
	spans  []span    // of each region
	full   []float64 // all weight of each region
	dishes sums      // the weight of all regions
	area   sums      // cells that belong to a region
	sharp  sums      // the weight of regions × their sharpness
	peak   float64
}

// sums is a table of sums over rectangles from the top left, one wider and
// taller than the grid.
type sums struct {
	columns, rows int
	at            []float64
}

func newSums(columns, rows int, value func(i int) float64) sums {
	t := sums{columns, rows, make([]float64, (columns+1)*(rows+1))}
	for y := range rows {
		var row float64
		for x := range columns {
			row += value(y*columns + x)
			t.at[(y+1)*(columns+1)+x+1] = t.at[y*(columns+1)+x+1] + row
		}
	}
	return t
}

// of is the sum over a rectangle in shares of the picture; cells that it cuts
// count by area.
func (t sums) of(x0, y0, x1, y1 float64) float64 {
	return t.corner(x1, y1) - t.corner(x0, y1) - t.corner(x1, y0) + t.corner(x0, y0)
}

func (t sums) corner(x, y float64) float64 {
	x, y = min(1, max(0, x))*float64(t.columns), min(1, max(0, y))*float64(t.rows)
	cx, cy := min(int(x), t.columns-1), min(int(y), t.rows-1)
	fx, fy := x-float64(cx), y-float64(cy)
	w := t.columns + 1
	a, b := t.at[cy*w+cx], t.at[cy*w+cx+1]
	c, d := t.at[(cy+1)*w+cx], t.at[(cy+1)*w+cx+1]
	return a + (b-a)*fx + (c-a)*fy + (a-b-c+d)*fx*fy
}

// mostParts is how many regions are told apart; a table is laid with fewer
// dishes.
const mostParts = 6

func newGauge(s Scene) *gauge {
	g := &gauge{Scene: s}
	n := s.Columns * s.Rows
	g.known = s.Columns > 0 && s.Rows > 0 && len(s.Weight) == n && len(s.Part) == n && slices.Max(s.Weight) > 0
	if !g.known {
		return g
	}
	g.weight = newSums(s.Columns, s.Rows, func(i int) float64 { return float64(s.Weight[i]) })
	g.dishes = newSums(s.Columns, s.Rows, func(i int) float64 { return float64(s.Weight[i]) * float64(min(1, s.Part[i])) })
	g.area = newSums(s.Columns, s.Rows, func(i int) float64 { return float64(min(1, s.Part[i])) })
	parts := min(mostParts, int(slices.Max(s.Part)))
	g.spans = make([]span, parts)
	for i := range g.spans {
		g.spans[i] = span{1, 1, 0, 0}
	}
	for i, p := range s.Part {
		if p > 0 && int(p) <= parts {
			g.spans[p-1].take(float64(i%s.Columns)/float64(s.Columns), float64(i/s.Columns)/float64(s.Rows), 1/float64(s.Columns), 1/float64(s.Rows))
		}
	}
	for p := range parts {
		g.parts = append(g.parts, newSums(s.Columns, s.Rows, func(i int) float64 {
			if int(s.Part[i]) != p+1 {
				return 0
			}
			return float64(s.Weight[i])
		}))
	}
	for _, p := range g.parts {
		g.full = append(g.full, p.of(0, 0, 1, 1))
	}
	if len(s.Sharp) > 0 && len(s.Sharp) == s.SharpColumns*s.SharpRows {
		at := func(i int) float64 {
			x, y := i%s.Columns, i/s.Columns
			return float64(s.Sharp[(y*s.SharpRows/s.Rows)*s.SharpColumns+x*s.SharpColumns/s.Columns])
		}
		g.sharp = newSums(s.Columns, s.Rows, func(i int) float64 {
			if s.Part[i] == 0 {
				return 0
			}
			return at(i) * float64(s.Weight[i])
		})
		for i := range g.parts {
			b := g.spans[i]
			g.peak = max(g.peak, g.sharpness(b.x0, b.y0, b.x1, b.y1))
		}
	}
	return g
}

// sharpness is the mean sharpness of what matters within a rectangle, 0 … 255.
func (g *gauge) sharpness(x0, y0, x1, y1 float64) float64 {
	w := g.dishes.of(x0, y0, x1, y1)
	if w <= 0 {
		return 0
	}
	return g.sharp.of(x0, y0, x1, y1) / w
}

// best finds the best place of a crop in a half.
func (g *gauge) best(h Half, box Rect, shape Shape) Standing {
	if !h.Large {
		return Standing{Half: h, Works: No, Parts: []Part{{"pixels", 0, fmt.Sprintf("%d × %d px, and the post needs %d × %d", h.Rect.Width, h.Rect.Height, shape.Width, shape.Height)}}}
	}
	if !g.known {
		return Standing{Half: h, Works: Look, Parts: []Part{{"matters", 0, "large enough; where its dish stands is not known: look"}}}
	}
	if len(g.parts) == 0 {
		return Standing{Half: h, Works: Look, Parts: []Part{{"matters", 0, "nothing stands out in the picture: look"}}}
	}
	rw, rh := shape.Ratio()
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
		for _, y := range places(at.Y, at.Height-ht) {
			for _, x := range places(at.X, at.Width-w) {
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
	}
	found.Parts = why.say()
	return found
}

// places spreads the tries over the room that a crop has, the middle first,
// whole pixels.
func places(from, room int) []int {
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
