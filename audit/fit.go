package audit

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"coverplate/audit/crop"
	"coverplate/audit/plan"
)

// fit is what the tool can tell of one frame for one need.
type fit struct {
	frame int
	role  string   // why it is not this kind of picture at all; "" it is, or may be
	fails []string // tests that it failed, with their figures
	blind []string // tests that could not be made and that eyes can't make either
	eyes  []string // what is not measured and rests on eyes
	says  []string // tests that it passed, with their figures
	ppi   float64
}

func (f fit) may() bool { return f.role == "" && len(f.fails) == 0 }

// fits tests the frames of a recipe for a need, the best first: by failed
// tests, then unknown ones, then rating, pixels and time.
func (d *sheet) fits(r int, kind plan.NeedKind, chosen []int) []fit {
	all := make([]fit, 0, len(d.shows[r]))
	for _, i := range d.shows[r] {
		all = append(all, d.fit(d.recipes[r], kind, i, slices.Contains(chosen, i)))
	}
	rating := func(f fit) float64 {
		if x := d.frames[f.frame].Rating; x != nil {
			return *x
		}
		return 0
	}
	misses := func(f fit) int {
		if f.role != "" {
			return len(f.fails) + 100 // no such picture comes before any fault
		}
		return len(f.fails)
	}
	slices.SortStableFunc(all, func(a, b fit) int {
		return cmp.Or(cmp.Compare(misses(a), misses(b)), cmp.Compare(len(a.blind), len(b.blind)),
			cmp.Compare(rating(b), rating(a)), cmp.Compare(b.ppi, a.ppi), cmp.Compare(a.frame, b.frame))
	})
	return all
}

// fit tests one frame.
func (d *sheet) fit(r plan.Recipe, kind plan.NeedKind, at int, chosen bool) fit {
	f := fit{frame: at}
	frame := d.frames[at]
	if frame.Rating != nil && *frame.Rating < 0 && !chosen {
		f.fails = append(f.fails, "it is rated −1, rejected, in its metadata: shoot it again or change the rating")
	}
	w, h := frame.Look.Width, frame.Look.Height
	if w <= 0 || h <= 0 {
		says := "its size in pixels is not known"
		if frame.Unread != "" {
			says += " (" + frame.Unread + ")"
		}
		f.blind = append(f.blind, says)
	}
	switch kind {
	case plan.Hero:
		f.stands(r.Orientation, w, h)
		f.pixels(d.Book, r, w, h, false)
		f.seenFrom(r.Angle, frame.Exposure.Elevation)
		f.eyes = append(f.eyes, "focus and light")
	case plan.NeedOverhead:
		f.pixels(d.Book, r, w, h, true)
		f.above(frame.Exposure.Elevation)
		f.eyes = append(f.eyes, "focus and light")
	case plan.NeedPortrait, plan.NeedLandscape:
		want := plan.Portrait
		if kind == plan.NeedLandscape {
			want = plan.Landscape
		}
		if w > 0 && h > 0 && stands(w, h) != want {
			f.role = fmt.Sprintf("it stands %s, not %s: turn the camera", stands(w, h), want)
		}
		f.pixels(d.Book, r, w, h, true)
		f.eyes = append(f.eyes, "focus and light")
	case plan.Half:
		f.halves(d.Rules.Shapes, w, h)
		f.eyes = append(f.eyes, "whether a half holds the dish", "focus")
	case plan.Detail, plan.Process, plan.Opener:
		if kind == plan.Opener {
			f.pixels(d.Book, r, w, h, true)
		}
		f.eyes = append(f.eyes, fmt.Sprintf("whether it is the %s that is meant", kind), "focus and light")
	default:
		f.pixels(d.Book, r, w, h, true)
		f.eyes = append(f.eyes, "whether set-ups differ", "focus and light")
	}
	return f
}

// stands says how a frame of w × h upright pixels stands.
func stands(w, h int) plan.Orientation {
	switch {
	case w < h:
		return plan.Portrait
	case w > h:
		return plan.Landscape
	}
	return plan.Square
}

// stands tests the planned orientation. Of any frame a square can be cut.
func (f *fit) stands(want plan.Orientation, w, h int) {
	if want != plan.Portrait && want != plan.Landscape || w <= 0 || h <= 0 {
		return
	}
	if got := stands(w, h); got != want {
		f.fails = append(f.fails, fmt.Sprintf("it stands %s (%d×%d px), the plan wants %s: turn the camera", got, w, h, want))
		return
	}
	f.says = append(f.says, "stands "+string(want))
}

// pixels holds the frame against its printed box. Where the plan speaks of
// another picture (free), the box may be taken either way round.
func (f *fit) pixels(b plan.Book, r plan.Recipe, w, h int, free bool) {
	boxW, boxH, ok := b.Box(r)
	switch {
	case !ok:
		f.blind = append(f.blind, "the plan does not say how large it is printed, so its pixels an inch are not known: give it pages or a size")
		return
	case !(b.FloorPPI > 0):
		f.blind = append(f.blind, "the book has no floor of pixels an inch: set one")
		return
	case w <= 0 || h <= 0:
		return
	}
	f.ppi = crop.PPI(w, h, boxW, boxH)
	if turned := crop.PPI(w, h, boxH, boxW); free && turned > f.ppi {
		f.ppi, boxW, boxH = turned, boxH, boxW
	}
	says := fmt.Sprintf("%s ppi on %.0f×%.0f mm", below(f.ppi, b.FloorPPI, b.GoodPPI), boxW, boxH)
	switch {
	case f.ppi < b.FloorPPI:
		f.fails = append(f.fails, fmt.Sprintf("it gives %s; %g is the floor: move closer or print it smaller", says, b.FloorPPI))
	case f.ppi < b.GoodPPI:
		f.says = append(f.says, fmt.Sprintf("%s (%g is good, %g the floor)", says, b.GoodPPI, b.FloorPPI))
	default:
		f.says = append(f.says, says)
	}
}

// below writes a figure to the unit, or finer where rounding would lift it to
// a mark that it does not reach.
func below(x float64, marks ...float64) string {
	for digits := range 6 {
		s := fmt.Sprintf("%.*f", digits, x)
		var got float64
		fmt.Sscan(s, &got)
		if !slices.ContainsFunc(marks, func(m float64) bool { return x < m && got >= m }) {
			return s
		}
	}
	return fmt.Sprintf("%g", x)
}

// seenFrom tests the planned angle by the camera's elevation.
func (f *fit) seenFrom(want plan.Angle, elevation *float64) {
	if want == "" || want == plan.AnyAngle {
		return
	}
	if elevation == nil {
		f.eyes = append(f.eyes, fmt.Sprintf("whether it is seen %s, as planned", want))
		return
	}
	above := -*elevation // Exif counts upwards; the camera looks down
	if got := plan.AngleOf(above); got != want {
		f.fails = append(f.fails, fmt.Sprintf("the camera looked down at %s° (%s), the plan wants %s", below(above, 75, 50, 25), got, want))
		return
	}
	f.says = append(f.says, fmt.Sprintf("seen at %.0f° (%s)", above, want))
}

// above tells an overhead by the camera's elevation.
func (f *fit) above(elevation *float64) {
	if elevation == nil {
		f.eyes = append(f.eyes, "whether it is seen from above: the camera did not write its elevation")
		return
	}
	above := -*elevation
	if plan.AngleOf(above) != plan.Overhead {
		f.role = fmt.Sprintf("it looks down at %s°, an overhead is from 75°", below(above, 75))
		f.ppi = above // the steepest is the one to speak of
		return
	}
	f.says = append(f.says, fmt.Sprintf("taken from %.0f°", above))
}

// halves tests by geometry whether a half of the frame fills a post.
func (f *fit) halves(shapes []Shape, w, h int) {
	switch {
	case len(shapes) == 0:
		f.blind = append(f.blind, "no shape of a post is set")
		return
	case w <= 0 || h <= 0:
		return
	}
	var large []string
	var best crop.Half
	var nearest crop.Half
	for _, half := range crop.Halves(w, h, shapes) {
		if half.Scale > nearest.Scale {
			nearest = half
		}
		if !half.Large {
			continue
		}
		if !slices.Contains(large, half.Shape) {
			large = append(large, half.Shape)
		}
		if half.Scale > best.Scale {
			best = half
		}
	}
	f.ppi = best.Scale
	if len(large) == 0 {
		f.ppi = nearest.Scale
		for _, s := range shapes {
			if s.Name == nearest.Shape {
				f.fails = append(f.fails, fmt.Sprintf("its largest half gives %d×%d px for %s, %d×%d are needed: shoot it with more pixels",
					nearest.Rect.Width, nearest.Rect.Height, s.Name, s.Width, s.Height))
			}
		}
		if len(f.fails) == 0 {
			f.fails = append(f.fails, fmt.Sprintf("at %d×%d px no half of it holds a post", w, h))
		}
		return
	}
	f.says = append(f.says, fmt.Sprintf("its %s half gives %d×%d px for %s; halves are large enough for %s",
		best.Side, best.Rect.Width, best.Rect.Height, best.Shape, strings.Join(large, ", ")))
}
