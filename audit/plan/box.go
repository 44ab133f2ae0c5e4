package plan

import "math"

// edge is how far a length may miss another and still be meant as the same,
// in millimetres: sizes are written to the millimetre, inches are rounded.
const edge = 0.5

// squareness is how far the sides of a page or a box may differ, as a ratio,
// and every orientation still fill it. The project's own choice.
const squareness = 1.05

// Box gives the printed box of r's picture in millimetres, bleed included:
// what a frame must cover at the printer's resolution. It is !ok where the
// book has no trim, and where the plan doesn't say how large the picture is.
//
// Bleed is added on outer edges only, none in the fold, since Book.Bleed is
// per outer edge. With a page of w × h and a bleed of b:
//
//	full     (w+b) × (h+2b)
//	double   (2w+2b) × (h+2b)
//	half     (w+b) × (h/2+b), the page cut across; (w/2+b) × (h+2b) where the
//	         orientation asks for the other shape
//	quarter  (w/2+b) × (h/2+b), turned where the orientation asks for it
//	W×H mm   as it is, and grown to the bleed on a side that reaches the trim
//
// A half or quarter is taken to touch the outer edges it can: that asks for a
// few pixels more than one inside the margins, never for fewer. A square half
// or quarter is the largest square in its place. Where the plan names pages
// and no size, the picture is taken to fill them, since none there is larger;
// but not where its orientation says that it doesn't fill them.
func (b Book) Box(r Recipe) (w, h float64, ok bool) {
	w, h, ok = b.trimBox(r)
	if !ok {
		return 0, 0, false
	}
	bleed := max(b.Bleed, 0)
	switch b.sizeOf(r) {
	case FullPage:
		return w + bleed, h + 2*bleed, true
	case DoublePage:
		return w + 2*bleed, h + 2*bleed, true
	case Measured:
		pages := 1.0
		if r.Pages.IsSpread() || w > b.TrimWidth+2*bleed+edge {
			pages = 2
		}
		if w >= pages*b.TrimWidth-edge {
			w = max(w, pages*b.TrimWidth+pages*bleed)
		}
		if h >= b.TrimHeight-edge {
			h = max(h, b.TrimHeight+2*bleed)
		}
		return w, h, true
	}
	if h >= b.TrimHeight-edge {
		return w + bleed, h + 2*bleed, true
	}
	return w + bleed, h + bleed, true
}

// sizeOf is the size as written, or the one that fills the pages.
func (b Book) sizeOf(r Recipe) SizeKind {
	switch {
	case r.Size.Kind != "" || r.Pages.IsZero():
		return r.Size.Kind
	case r.Pages.IsSpread():
		return DoublePage
	}
	return FullPage
}

// trimBox is Box before bleed.
func (b Book) trimBox(r Recipe) (w, h float64, ok bool) {
	if !b.hasTrim() {
		return 0, 0, false
	}
	w, h = b.TrimWidth, b.TrimHeight
	switch b.sizeOf(r) {
	case FullPage:
		return w, h, r.Size.Kind != "" || fills(r.Orientation, w, h)
	case DoublePage:
		return 2 * w, h, r.Size.Kind != "" || fills(r.Orientation, 2*w, h)
	case Measured:
		says, _ := r.Size.unsound()
		return r.Size.Width, r.Size.Height, says == ""
	case HalfPage, Quarter:
		places := b.places(r)
		for _, p := range places {
			if r.Orientation != Square && fills(r.Orientation, p.w, p.h) {
				return p.w, p.h, true
			}
		}
		p := places[0]
		if r.Orientation == Square {
			p.w = min(p.w, p.h)
			p.h = p.w
		}
		return p.w, p.h, true
	}
	return 0, 0, false
}

func (b Book) hasTrim() bool {
	// Written so that a NaN has no trim either.
	return b.TrimWidth > 0 && b.TrimHeight > 0 && !math.IsInf(b.TrimWidth, 0) && !math.IsInf(b.TrimHeight, 0)
}

// places are the shapes a half or a quarter can have on a page, the usual one
// first.
func (b Book) places(r Recipe) []place {
	w, h := b.TrimWidth, b.TrimHeight
	if r.Size.Kind == HalfPage {
		return []place{{w, h / 2}, {w / 2, h}}
	}
	return []place{{w / 2, h / 2}, {h / 2, w / 2}}
}

// fills tells whether a picture of the orientation fills a box of w × h
// without being cut to another orientation.
func fills(o Orientation, w, h float64) bool {
	if w <= h*squareness && h <= w*squareness {
		return true
	}
	switch o {
	case Portrait:
		return h > w
	case Landscape:
		return w > h
	case Square:
		return false
	}
	return true
}
