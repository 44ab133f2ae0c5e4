package audit

import (
	"fmt"
	"slices"
	"strings"

	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// enoughCuts is how many frames that pass are offered for a recipe's half or
// hero; how the others may be cut is not judged any more. A season of frames
// must be judged in a moment, and nobody compares twenty posts.
const enoughCuts = 4

// cuts judges how frames may be cut for a need: into halves, or into their
// printed place. The best come first, chosen ones in any case. It reports
// whether it judged any.
func (d *sheet) cuts(r int, kind plan.NeedKind, all []fit, chosen []int) bool {
	if kind != plan.Half && kind != plan.Hero {
		return false
	}
	enough := 0
	for i := range all {
		f := &all[i]
		mine := slices.Contains(chosen, f.frame)
		switch {
		case !mine && !f.may():
		case !mine && enough >= enoughCuts:
			f.ask(string(kind), "how it may be cut: not judged, others serve")
		case kind == plan.Half:
			d.half(f)
		default:
			d.inPlace(f, d.recipes[r])
		}
		if f.whole() {
			enough++
		}
	}
	return true
}

// SceneOf is what is known of a picture when it is cut.
func SceneOf(l catalogue.Look) crop.Scene {
	s := crop.Scene{Width: l.Width, Height: l.Height}
	if m := l.Matters; m != nil {
		s.Columns, s.Rows, s.Weight, s.Part = m.Columns, m.Rows, m.Weight, m.Parts()
	}
	if f := l.Focus; f != nil {
		s.SharpColumns, s.SharpRows, s.Sharp = f.Columns, f.Rows, f.Grid
	}
	return s
}

// OwnCrop judges a person's crop for a post: only whether it fills a shape
// without being scaled up. shape is the one that it fits best.
func OwnCrop(rect crop.Rect, w, h int, shapes []Shape) (shape string, ok bool, says string) {
	if rect.X < 0 || rect.Y < 0 || rect.Width < 1 || rect.Height < 1 || rect.X+rect.Width > w || rect.Y+rect.Height > h {
		return "", false, fmt.Sprintf("a person's crop leaves the picture of %d×%d px: crop it again", w, h)
	}
	var best Shape
	var bestW, bestH, most int
	for _, s := range shapes {
		rw, rh := s.Ratio()
		if cw, ch := crop.Largest(rect.Width, rect.Height, rw, rh); cw*ch > most {
			best, bestW, bestH, most = s, cw, ch, cw*ch
		}
	}
	switch {
	case most == 0:
		return "", false, fmt.Sprintf("a person's crop of %d×%d px holds no shape of a post", rect.Width, rect.Height)
	case bestW < best.Width || bestH < best.Height:
		return best.Name, false, fmt.Sprintf("a person's crop gives %d×%d px for %s, %d×%d are needed", bestW, bestH, best.Name, best.Width, best.Height)
	}
	return best.Name, true, fmt.Sprintf("a person's crop gives %d×%d px for %s", bestW, bestH, best.Name)
}

// half judges whether a half of the frame works as a post.
func (d *sheet) half(f *fit) {
	look := d.frames[f.frame].Look
	w, h, shapes := look.Width, look.Height, d.Rules.Shapes
	switch {
	case len(shapes) == 0:
		f.miss("half", "no shape of a post is set")
		return
	case w <= 0 || h <= 0:
		return
	}
	if own, ok := d.crops[part{f.frame, string(plan.Half)}]; ok {
		if _, ok, says := OwnCrop(own, w, h, shapes); ok {
			f.pass("half", says)
		} else {
			f.fail("half", says)
		}
		return
	}
	of := d.halvesOf(f.frame)
	best, nearest, works := of.best, of.nearest, of.works
	switch {
	case best.Shape != "":
		f.ppi = best.Score
		f.pass("half", fmt.Sprintf("%s: %s", halfName(best), best.Why()))
		if len(works) > 1 {
			f.note("half", "halves of it work for "+strings.Join(works, ", "))
		}
		if says := turn(w, h, shapes); says != "" && !slices.ContainsFunc(shapes, func(s Shape) bool { return s.Height > s.Width && slices.Contains(works, s.Name) }) {
			f.note("half", "none of it is tall"+says)
		}
	case nearest.Shape == "":
		f.fail("half", fmt.Sprintf("at %d×%d px no half of it holds a post%s", w, h, turn(w, h, shapes)))
	case nearest.Works == crop.Look:
		f.ppi = nearest.Score
		f.ask("half", fmt.Sprintf("whether a half holds the dish (%s: %s%s)", halfName(nearest), nearest.Why(), turn(w, h, shapes)))
	case !nearest.Large:
		f.ppi = nearest.Scale
		f.fail("half", fmt.Sprintf("no half of it is large enough; the largest, %s half, gives %s%s", nearest.Side, nearest.Why(), turn(w, h, shapes)))
	default:
		f.ppi = nearest.Score
		f.fail("half", fmt.Sprintf("no half of it stands alone; %s: %s: leave room on one side of the dish%s", halfName(nearest), nearest.Why(), turn(w, h, shapes)))
	}
}

// halfName names a half and its shape: "right half, 4:5".
func halfName(s crop.Standing) string {
	if s.Side == crop.BetweenLR || s.Side == crop.BetweenTB {
		return fmt.Sprintf("half %s, %s", s.Side, s.Shape)
	}
	return fmt.Sprintf("%s half, %s", s.Side, s.Shape)
}

// better prefers what works, what is large enough, and the better score.
func better(a, b crop.Standing) bool {
	if a.Works != b.Works {
		return a.Works.Rank() > b.Works.Rank()
	}
	if a.Large != b.Large {
		return a.Large
	}
	if !a.Large {
		return a.Scale > b.Scale
	}
	return a.Score > b.Score
}

// turn says what to do about a tall post out of a standing frame, half of
// which is rarely tall: the upper half of a frame of 2:3 is a box of 4:3.
func turn(w, h int, shapes []Shape) string {
	tall := false
	for _, s := range shapes {
		tall = tall || s.Height > s.Width
	}
	if w < h && tall {
		return "; half of a standing frame rarely gives a tall post: step back, or turn the camera"
	}
	return ""
}

// inPlace judges how the frame lies in its printed place.
func (d *sheet) inPlace(f *fit, r plan.Recipe) {
	if rect, ok := d.printedPart(f, r); ok && r.Lettering != "" {
		d.lettering(f, r, rect)
	}
}

// lettering judges whether text can be set on the printed part of the frame,
// where the plan wants it.
func (d *sheet) lettering(f *fit, r plan.Recipe, rect crop.Rect) {
	edges := []crop.Side{crop.Top, crop.Bottom, crop.Left, crop.Right}
	if r.Lettering != plan.LetteringAny {
		edges = []crop.Side{crop.Side(r.Lettering)}
	}
	var best crop.Room
	for i, e := range edges {
		if room := d.room(f.frame, rect, e); i == 0 || room.Works().Rank() > best.Works().Rank() || room.Works() == best.Works() && room.Matters < best.Matters {
			best = room
		}
	}
	switch best.Works() {
	case crop.Yes:
		f.pass("lettering", best.Says())
	case crop.No:
		f.fail("lettering", best.Says()+": leave room there, or set the text elsewhere")
	default:
		f.ask("lettering", best.Says())
	}
}

// printedPart judges how the frame is laid into its place, and returns the part of it
// that is printed; false where it can't be laid.
func (d *sheet) printedPart(f *fit, r plan.Recipe) (crop.Rect, bool) {
	look := d.frames[f.frame].Look
	b, ok := printBox(d.Book, r)
	if !ok || look.Width <= 0 || look.Height <= 0 || f.failed("pixels") || f.failed("orientation") {
		return crop.Rect{}, false // said already
	}
	if own, ok := d.crops[part{f.frame, string(plan.Hero)}]; ok {
		at := d.lies(f.frame, lying{b, own, true})
		switch {
		case at.PPI <= 0:
			f.fail("place", fmt.Sprintf("a person's crop leaves the picture of %d×%d px: crop it again", look.Width, look.Height))
		case at.PPI < d.Book.FloorPPI:
			f.fail("place", fmt.Sprintf("a person's crop gives %s ppi; %g is the floor", below(at.PPI, d.Book.FloorPPI), d.Book.FloorPPI))
		default:
			f.pass("place", fmt.Sprintf("a person's crop gives %s ppi", below(at.PPI, d.Book.FloorPPI, d.Book.GoodPPI)))
		}
		return own, at.PPI > 0
	}
	at := d.lies(f.frame, lying{box: b})
	switch {
	case at.Kept < 0 && b.Gutter > 0:
		f.ask("place", "whether what matters lies in the fold")
	case at.Kept < 0: // what of a page's picture is cut is no test of DESIGN's, only the fold is
	case at.Fold > crop.FoldTo:
		f.fail("place", at.Says()+": move the dish off the middle, or give it another place")
	case at.Kept < crop.KeptFrom:
		f.ask("place", "whether it may be cut: "+at.Says())
	default:
		f.pass("place", at.Says())
	}
	return at.Rect, at.PPI > 0
}
