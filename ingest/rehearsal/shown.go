package rehearsal

import (
	"fmt"
	"image"
	"math"
)

// Thing is what a pixel of a frame shows.
type Thing uint8

// What a pixel can show. Food is all that lies on or in the dish's vessel, what
// was laid on it for the eye among it.
const (
	Ground Thing = iota // the table and the room behind it
	Vessel              // the plate, bowl, board or pan of the dish
	Food
	Prop // what stands about: cloths, cutlery, pots; glasses count as what is behind them
)

// Shown is a frame and what it truly shows.
type Shown struct {
	Truth Truth
	Image *image.YCbCr // upright, as it would be stored without compression

	// Things is what each cell shows at its middle, Columns × Rows, row by row
	// from the top, over the whole of the frame.
	Columns, Rows int
	Things        []Thing
}

// shownCell is how many pixels of the frame one cell of Shown is wide and high.
const shownCell = 4

// Show renders the frames that want picks, with a long side of longSide
// pixels, 240 to LongSide, in capture order, and hands them to see one by one.
// Frames without a dish are never handed over.
func Show(longSide int, want func(Truth) bool, see func(Shown)) error {
	if longSide < 240 || longSide > LongSide {
		return fmt.Errorf("long side %d px: want 240 to %d", longSide, LongSide)
	}
	var d darkroom
	var laid *scene
	key := ""
	for _, e := range (Script{LongSide: longSide}).exposures() {
		t := e.truth()
		if e.recipe == "" || e.damaged || !want(t) {
			continue
		}
		if k := e.sceneKey(); laid == nil || k != key {
			laid, key = sceneOf(e), k
		}
		if e.hold == turned {
			e.hold = standing // the same picture, stored as it is seen
		}
		s := Shown{Truth: t, Image: d.develop(laid, e)}
		s.Columns, s.Rows = e.width/shownCell, e.height/shownCell
		s.Things = d.cover.things(laid, lensOf(e, s.Columns, s.Rows))
		see(s)
	}
	return nil
}

// things tells what each pixel of a lens shows. The vessel of every dish is the
// first thing that is laid, around the middle of the table.
func (c *cover) things(s *scene, l lens) []Thing {
	c.begin(s, &l)
	c.draw(s, &l, 0, s.clearFrom)
	const vessel, turns = 0, 72
	var reach [turns]float64 // the vessel's outline, by angle about the middle
	about := func(p vec) (turn int, r float64) {
		a := math.Atan2(p.y, p.x)/(2*math.Pi) + 0.5
		return min(int(a*turns), turns-1), math.Hypot(p.x, p.y)
	}
	for _, t := range s.triangles {
		if t.part == vessel {
			for _, v := range [...]int32{t.a, t.b, t.c} {
				k, r := about(s.vertices[v].p)
				reach[k] = max(reach[k], r)
			}
		}
	}
	out := make([]Thing, l.w*l.h)
	for i := range out {
		k := c.tri[i]
		if k < 0 {
			continue
		}
		if s.triangles[k].part == vessel {
			out[i] = Vessel
			continue
		}
		p, _, _, _, _ := c.hit(s, k, float64(i%l.w)+0.5, float64(i/l.w)+0.5)
		out[i] = Prop
		if turn, r := about(p); r <= reach[turn] {
			out[i] = Food
		}
	}
	return out
}
