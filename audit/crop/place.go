package crop

import "fmt"

// Box is a printed place.
type Box struct {
	Width, Height float64 // millimetres with bleed

	// Gutter is how far from the fold, in millimetres on either side, nothing
	// that matters may lie; the fold runs down the middle of the box. 0: no
	// fold runs through it.
	Gutter float64
}

// Placed is a picture laid into a printed place.
type Placed struct {
	Rect    Rect    // of the picture's pixels; zero where it can't be laid
	PPI     float64 // effective pixels an inch
	Kept    float64 // share of what matters that is inside, 0 … 1; −1 not known
	Fold    float64 // share of what matters that lies within the gutter; −1 not known, 0 where no fold runs
	InFold  float64 // sharpness of what lies in the gutter against the picture's sharpest dish, 0 … 1; −1 not known
	Outside string  // which edge most of what is cut lies beyond: "left", "right", "top", "bottom"; "" nothing is
}

// The marks of a place. Both are choices of this project, no source.
const (
	KeptFrom = 0.90 // least share of what matters that must be printed
	FoldTo   = 0.05 // largest share of what matters that may lie in the gutter
)

// tries is how many places along the free side are held against each other.
const tries = 49

// Place lays the scene into a box: the largest crop of the box's shape, which
// uses the whole of one side, where it keeps most of what matters; among
// places that keep as much, where least of it falls into the gutter, then the
// most central. A picture is never turned.
func Place(s Scene, b Box) Placed {
	g := Of(s)
	defer g.Free()
	return g.Place(b)
}

// Place is the function of that name, of a scene that is measured already.
func (g *Gauge) Place(b Box) Placed {
	out := Placed{Kept: -1, Fold: -1, InFold: -1}
	out.PPI = PPI(g.Width, g.Height, b.Width, b.Height)
	if out.PPI <= 0 {
		return out
	}
	usedW, usedH := Cover(g.Width, g.Height, b.Width, b.Height)
	w, h := min(g.Width, max(1, int(usedW+1e-6))), min(g.Height, max(1, int(usedH+1e-6)))
	roomX, roomY := g.Width-w, g.Height-h // one of them is 0, or 1 by rounding
	all := places(0, max(roomX, roomY), tries)
	var best Rect
	var kept, fold float64
	for i, at := range all {
		r := Rect{min(at, roomX), min(at, roomY), w, h}
		if !g.known || g.parts == 0 {
			best = r
			break
		}
		s := g.spanOf(r)
		k := g.one(dishes, s) / g.all[dishes]
		if i > 0 && k <= kept-0.005 {
			continue
		}
		var f float64
		if b.Gutter > 0 {
			f = g.one(dishes, s.fold(b)) / g.all[dishes]
		}
		if i == 0 || k > kept+0.005 || f < fold-0.005 {
			best, kept, fold = r, k, f
		}
	}
	p := g.place(best, b)
	p.PPI = out.PPI
	return p
}

// PlaceAt measures the part r of a scene laid into a box; its PPI is 0 where r
// is no part of the picture.
func PlaceAt(s Scene, r Rect, b Box) Placed {
	if r.X < 0 || r.Y < 0 || r.Width < 1 || r.Height < 1 || r.X+r.Width > s.Width || r.Y+r.Height > s.Height {
		return Placed{Kept: -1, Fold: -1, InFold: -1}
	}
	g := Of(s)
	defer g.Free()
	p := g.place(r, b)
	p.PPI = PPI(r.Width, r.Height, b.Width, b.Height)
	return p
}

// fold is the gutter of a box whose picture is the part s.
func (s span) fold(b Box) span {
	middle, half := (s.x0+s.x1)/2, b.Gutter/b.Width*(s.x1-s.x0)
	return span{middle - half, s.y0, middle + half, s.y1}
}

// place measures one place.
func (g *Gauge) place(r Rect, b Box) Placed {
	p := Placed{Rect: r, Kept: -1, Fold: -1, InFold: -1}
	if b.Gutter <= 0 {
		p.Fold = 0
	}
	if !g.known || g.parts == 0 {
		return p
	}
	at := g.spanOf(r)
	in := g.of(at)
	all := g.all[dishes]
	p.Kept = in[dishes] / all
	most := 0.0
	for _, e := range [...]struct {
		name string
		part span
	}{{"left", span{0, 0, at.x0, 1}}, {"right", span{at.x1, 0, 1, 1}}, {"top", span{0, 0, 1, at.y0}}, {"bottom", span{0, at.y1, 1, 1}}} {
		if cut := g.one(dishes, e.part); cut > most+1e-9*all {
			most, p.Outside = cut, e.name
		}
	}
	if b.Gutter > 0 {
		fold := g.of(at.fold(b))
		p.Fold = fold[dishes] / all
		if fold[dishes] > 0 && g.peak > 0 {
			p.InFold = fold[sharpness] / fold[dishes] / g.peak
		}
	}
	return p
}

// Says puts the place in words, what is wrong first; "" where nothing can be
// said of what it holds.
func (p Placed) Says() string {
	switch {
	case p.Kept < 0:
		return ""
	case p.Kept < KeptFrom:
		return fmt.Sprintf("its printed place cuts %s of what matters, on the %s", percent(1-p.Kept), p.Outside)
	case p.Fold > FoldTo && p.InFold >= sharpYes:
		return fmt.Sprintf("%s of what matters lies in the fold, and it is sharp there", percent(p.Fold))
	case p.Fold > FoldTo:
		return fmt.Sprintf("%s of what matters lies in the fold", percent(p.Fold))
	}
	return fmt.Sprintf("its printed place keeps %s of what matters", percent(p.Kept))
}

// Fits tells whether the place holds what matters: Look where it isn't known.
func (p Placed) Fits() Works {
	switch {
	case p.Kept < 0:
		return Look
	case p.Kept < KeptFrom || p.Fold > FoldTo:
		return No
	}
	return Yes
}
