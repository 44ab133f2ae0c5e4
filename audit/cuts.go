package audit

import (
	"fmt"

	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// Cut is a part of a frame for a place: what is printed of it, or one of its
// halves for a post.
type Cut struct {
	For   string     // "print", or the shape of a post
	Rect  crop.Rect  // upright pixels of the original
	Works crop.Works // whether it serves
	Says  string     // why, in words
	Own   bool       // a person's

	// Of what is printed: what each edge loses to the trim, left, top, right,
	// bottom, and how far the zone of the fold reaches from the middle to either
	// side; shares of Rect's width and height. 0 none, or not known.
	Trim [4]float64
	Fold float64
}

// HalfCuts are the best half of a picture for each shape of a post, in their
// order; none where the picture's size is not known.
func HalfCuts(l catalogue.Look, shapes []Shape) []Cut {
	var out []Cut
	var best crop.Standing
	flush := func() {
		if best.Shape != "" {
			out = append(out, Cut{For: best.Shape, Rect: best.Rect, Works: best.Works, Says: halfName(best) + ": " + best.Why()})
		}
	}
	for _, s := range crop.Stand(SceneOf(l), shapes) {
		if s.Shape != best.Shape {
			flush()
			best = s
		} else if better(s, best) {
			best = s
		}
	}
	flush()
	return out
}

// PrintCut is what a recipe's place in the book prints of a picture; false where
// the plan gives it no place, or the picture's size is not known.
func PrintCut(l catalogue.Look, book plan.Book, r plan.Recipe) (Cut, bool) {
	b, ok := printBox(book, r)
	if !ok || l.Width <= 0 || l.Height <= 0 {
		return Cut{}, false
	}
	return printed(crop.Place(SceneOf(l), b), b, book, r), true
}

// printed puts a place in the words and measures of a cut.
func printed(at crop.Placed, b crop.Box, book plan.Book, r plan.Recipe) Cut {
	c := Cut{For: "print", Rect: at.Rect, Works: at.Fits(), Says: fmt.Sprintf("%s ppi", below(at.PPI, book.FloorPPI, book.GoodPPI))}
	if says := at.Says(); says != "" {
		c.Says += "; " + says
	}
	if at.PPI < book.FloorPPI {
		c.Works = crop.No
		c.Says += fmt.Sprintf("; %g is the floor", book.FloorPPI)
	}
	if b.Gutter > 0 {
		c.Fold = b.Gutter / b.Width
	}
	x, y := max(book.Bleed, 0)/b.Width, max(book.Bleed, 0)/b.Height
	switch {
	case asLong(b.Width, 2*book.TrimWidth+2*max(book.Bleed, 0)) && asLong(b.Height, book.TrimHeight+2*max(book.Bleed, 0)):
		c.Trim = [4]float64{x, y, x, y}
	case asLong(b.Width, book.TrimWidth+max(book.Bleed, 0)) && asLong(b.Height, book.TrimHeight+2*max(book.Bleed, 0)):
		// One page bleeds on its outer side: a left one is even.
		c.Trim = [4]float64{0, y, x, y}
		if r.Pages.First%2 == 0 {
			c.Trim = [4]float64{x, y, 0, y}
		}
	}
	return c
}

// asLong compares millimetres.
func asLong(a, b float64) bool { return a-b < 0.01 && b-a < 0.01 }

// Cutter cuts the frames of a shoot for what findings say of them.
type Cutter struct {
	shoot   Shoot
	frames  map[catalogue.FrameID]catalogue.Look
	recipes map[string]plan.Recipe
	own     map[owned]crop.Rect
}

// owned is a frame as a person cut it for a need.
type owned struct {
	frame catalogue.FrameID
	need  string
}

// NewCutter makes ready to cut the frames of s.
func NewCutter(s Shoot) Cutter {
	c := Cutter{s, map[catalogue.FrameID]catalogue.Look{}, map[string]plan.Recipe{}, map[owned]crop.Rect{}}
	for _, f := range s.Frames {
		c.frames[f.ID] = f.Look
	}
	for _, r := range s.Recipes {
		if _, twice := c.recipes[r.ID]; !twice {
			c.recipes[r.ID] = r
		}
	}
	for _, d := range catalogue.Current(s.Decisions) {
		if d.Kind == catalogue.Crop {
			c.own[owned{d.Frame, needKey(d.Need)}] = crop.Rect{X: d.Rect[0], Y: d.Rect[1], Width: d.Rect[2], Height: d.Rect[3]}
		}
	}
	return c
}

// Of are the cuts of the frame that a finding on a hero or a half speaks of: its
// printed place, or the best half for each shape; a person's own cut instead of
// ours.
func (c Cutter) Of(f Finding) []Cut {
	l, ok := c.frames[f.FrameID]
	if !ok || l.Width <= 0 || l.Height <= 0 {
		return nil
	}
	own, mine := c.own[owned{f.FrameID, needKey(f.Need)}]
	switch plan.NeedKind(needKey(f.Need)) {
	case plan.Half:
		if !mine {
			return HalfCuts(l, c.shoot.Rules.Shapes)
		}
		shape, ok, says := OwnCrop(own, l.Width, l.Height, c.shoot.Rules.Shapes)
		cut := Cut{For: shape, Rect: own, Works: crop.No, Says: says, Own: true}
		if ok {
			cut.Works = crop.Yes
		}
		return []Cut{cut}
	case plan.Hero:
		r := c.recipes[f.Recipe]
		if !mine {
			if cut, ok := PrintCut(l, c.shoot.Book, r); ok {
				return []Cut{cut}
			}
			return nil
		}
		b, ok := printBox(c.shoot.Book, r)
		at := crop.PlaceAt(SceneOf(l), own, b)
		if !ok || at.PPI <= 0 {
			return nil
		}
		cut := printed(at, b, c.shoot.Book, r)
		cut.Own = true
		return []Cut{cut}
	}
	return nil
}

// printBox is the printed place of a recipe, with the fold where it runs through
// it.
func printBox(book plan.Book, r plan.Recipe) (crop.Box, bool) {
	w, h, ok := book.Box(r)
	b := crop.Box{Width: w, Height: h}
	if w > book.TrimWidth+2*max(book.Bleed, 0)+1 { // wider than a page
		b.Gutter = book.Gutter
	}
	return b, ok
}
