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

	measured measured
	plain    string // said of all that is not measured; "" where it is
}

// Parts are the sides of the judgement, the first the one that weighs most.
func (s Standing) Parts() []Part {
	if s.plain != "" {
		return []Part{{Name: "all", Says: s.plain}}
	}
	return s.measured.say()
}

// Why says in words what the judgement rests on.
func (s Standing) Why() string {
	var says []string
	for _, p := range s.Parts() {
		says = append(says, p.Says)
	}
	return strings.Join(says, "; ")
}

// The marks of a half that stands alone: choices of this project, no source. A
// few were moved on the photographs that TestHalvesAgreeWithTheEye calls tuned
// on.
const (
	wholeFrom   = 0.97 // share of a dish that must be inside for it to count as whole
	strayTo     = 0.06 // share of another dish that may reach in
	cutYes      = 0.03 // share of what matters in the crop that may be cut
	cutNo       = 0.20 // from here on a crop does not work
	dishFrom    = 0.30 // least share of the picture's weight that is a dish to post
	fillsFrom   = 0.05 // least share of the crop that the dish fills
	fillsTo     = 0.92 // beyond it the crop shows food without an edge: a pattern
	sharpYes    = 0.60 // of the picture's sharpest part that matters
	sharpNo     = 0.30
	edgeYes     = 0.45  // weight along the crop's edge against the mean inside
	roomYes     = 0.01  // share of the crop that must be left on every side that it cuts anew
	loses       = 0.003 // share of the dish by which it is seen to reach into that
	textureFrom = 0.80  // share of the picture that one region covers: no dish, a texture
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
	g := Of(s)
	defer g.Free()
	return g.Stand(shapes)
}

// Stand is the function of that name, of a scene that is measured already.
func (g *Gauge) Stand(shapes []Shape) []Standing {
	halves := Halves(g.Width, g.Height, shapes)
	out := make([]Standing, 0, len(halves))
	for _, h := range halves {
		var box Rect
		for _, b := range boxes(g.Width, g.Height) {
			if b.side == h.Side {
				box = b.box
			}
		}
		i := slices.IndexFunc(shapes, func(x Shape) bool { return x.Name == h.Shape })
		out = append(out, g.best(h, box, shapes[i]))
	}
	return out
}

// best finds the best place of a crop in a half.
func (g *Gauge) best(h Half, box Rect, shape Shape) Standing {
	if !h.Large {
		return Standing{Half: h, Works: No, plain: fmt.Sprintf("%d×%d px for %s, %d×%d are needed", h.Rect.Width, h.Rect.Height, shape.Name, shape.Width, shape.Height)}
	}
	if !g.known || g.all[allWeight] == 0 {
		return Standing{Half: h, Works: Look, plain: "large enough; where its dish stands is not known: look"}
	}
	if g.parts == 0 {
		return Standing{Half: h, Works: Look, plain: "nothing stands out in the picture: look"}
	}
	rw, rh := shape.Ratio()
	room := box
	switch { // a window slides along the whole frame
	case h.Slide > 0 && h.Side == BetweenLR:
		room.X, room.Width = 0, g.Width
	case h.Slide > 0:
		room.Y, room.Height = 0, g.Height
	}
	reachable := g.reachable(h, box)
	var found Standing
	first := true
	for _, scale := range scales {
		k := int(scale * float64(h.Rect.Width/rw))
		w, ht := k*rw, k*rh
		// A tighter crop leaves out what reaches in, and holds no more of a dish.
		if w < shape.Width || ht < shape.Height || scale < 1 && (!reachable || found.Works == Yes || found.measured.inside < wholeFrom) {
			break
		}
		across, down := steps, steps
		switch {
		case !reachable:
			across, down = 1, 1
		case scale < 1:
			across, down = tightSteps, tightSteps
		}
		columns := places(room.X, room.Width-w, across)
		for _, y := range places(room.Y, room.Height-ht, down) {
			for _, x := range columns {
				half := h
				half.Rect = Rect{x, y, w, ht}
				half.Scale = float64(w) / float64(shape.Width)
				m := g.measure(half.Rect, false)
				s := Standing{Half: half, Works: m.works(), Score: m.score(), measured: m}
				if first || better(s, found) {
					found, first = s, false
				}
			}
		}
	}
	if found.measured.hasty {
		found.measured = g.measure(found.Rect, true)
	}
	return found
}

// reachable tells whether a half holds enough of any dish for a crop in it to
// work: a crop holds no more than its half.
func (g *Gauge) reachable(h Half, box Rect) bool {
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
