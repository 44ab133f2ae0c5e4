package audit

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// fit is what the tool can tell of one frame for one need.
type fit struct {
	frame    int
	role     string   // why it is not this kind of picture at all; "" it is, or may be
	fails    []string // tests that it failed, with their figures
	blind    []string // tests that could not be made and that eyes can't make either
	eyes     []string // what the tool can't tell and rests on eyes
	says     []string // tests that it passed, with their figures
	notes    []string // what a person should know of it and is no test
	evidence []Evidence
	closer   bool    // a look at 1:1 would tell more
	lowered  bool    // it is likelier a test or a chart
	standing float64 // how likely it is meant for this need, 0 … 1
	ppi      float64
}

// What a test weighs in the evidence of a finding: no odds, but which way it
// went. What could not be made weighs nothing.
const (
	testPassed = 1.0
	testFailed = -1.0
)

func (f *fit) pass(kind, says string) {
	f.says = append(f.says, says)
	f.evidence = append(f.evidence, Evidence{kind, testPassed, says})
}

func (f *fit) fail(kind, says string) {
	f.fails = append(f.fails, says)
	f.evidence = append(f.evidence, Evidence{kind, testFailed, says})
}

// ask leaves a test to eyes.
func (f *fit) ask(kind, what string) {
	f.eyes = append(f.eyes, what)
	f.evidence = append(f.evidence, Evidence{kind, 0, "not told: " + what})
}

// miss leaves a test unmade that eyes can't make either.
func (f *fit) miss(kind, why string) {
	f.blind = append(f.blind, why)
	f.evidence = append(f.evidence, Evidence{kind, 0, why})
}

func (f *fit) note(kind, says string) {
	f.notes = append(f.notes, says)
	f.evidence = append(f.evidence, Evidence{kind, 0, says})
}

func (f *fit) failed(kind string) bool {
	return slices.ContainsFunc(f.evidence, func(e Evidence) bool { return e.Kind == kind && e.Weight == testFailed })
}

// may reports whether nothing that is known speaks against the frame.
func (f fit) may() bool { return f.role == "" && len(f.fails) == 0 }

// whole reports whether every test was made and passed.
func (f fit) whole() bool { return f.may() && len(f.blind) == 0 && len(f.eyes) == 0 }

// contest is one need of one recipe, with the choices of people or without.
type contest struct {
	recipe int
	kind   plan.NeedKind
	chosen bool
}

// fits tests the frames of a recipe for a need, the best first: by failed
// tests, then unknown ones, then what is likelier a test shot or a chart, then
// rating, standing for this need, pixels and time. Chosen is what people chose
// for it, or nothing.
func (d *sheet) fits(r int, kind plan.NeedKind, chosen []int) []fit {
	key := contest{r, kind, len(chosen) > 0}
	if all, ok := d.tested[key]; ok {
		return all
	}
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
	lowered := func(f fit) int {
		if f.lowered {
			return 1
		}
		return 0
	}
	order := func(a, b fit) int {
		return cmp.Or(cmp.Compare(misses(a), misses(b)), cmp.Compare(len(a.blind), len(b.blind)), cmp.Compare(len(a.eyes), len(b.eyes)),
			cmp.Compare(lowered(a), lowered(b)), cmp.Compare(rating(b), rating(a)), cmp.Compare(b.standing, a.standing),
			cmp.Compare(b.ppi, a.ppi), cmp.Compare(a.frame, b.frame))
	}
	slices.SortStableFunc(all, order)
	if d.cuts(r, kind, all, chosen) {
		slices.SortStableFunc(all, order)
	}
	d.tested[key] = all
	return all
}

// forget lets go of how the frames of a recipe were tested, but for its hero,
// which others are held against.
func (d *sheet) forget(r int) {
	for key := range d.tested {
		if key.recipe == r && key.kind != plan.Hero {
			delete(d.tested, key)
		}
	}
}

// fit tests one frame.
func (d *sheet) fit(r plan.Recipe, kind plan.NeedKind, at int, chosen bool) fit {
	f := fit{frame: at}
	frame := d.frames[at]
	if d.barred[at] != "" && (!chosen || d.frames[at].Look.Slate != nil) {
		f.role = d.barred[at]
	}
	if frame.Rating != nil && *frame.Rating < 0 && !chosen {
		f.fail("rating", "it is rated −1, rejected, in its metadata: shoot it again or change the rating")
	}
	if frame.Look.Preview == catalogue.Damaged {
		f.fail("damage", "its file is damaged: "+frame.Unread)
	}
	w, h := frame.Look.Width, frame.Look.Height
	if w <= 0 || h <= 0 {
		says := "its size in pixels is not known"
		if frame.Unread != "" {
			says += " (" + frame.Unread + ")"
		}
		f.miss("pixels", says)
	}
	fine := true
	switch kind {
	case plan.Hero:
		f.stands(r.Orientation, w, h)
		f.pixels(d.Book, r, w, h, false)
		f.seenFrom(r.Angle, d.views[at])
	case plan.NeedOverhead:
		f.pixels(d.Book, r, w, h, true)
		if f.role == "" {
			f.above(d.views[at])
		}
	case plan.NeedPortrait, plan.NeedLandscape:
		want := plan.Portrait
		if kind == plan.NeedLandscape {
			want = plan.Landscape
		}
		if w > 0 && h > 0 && stands(w, h) != want && f.role == "" {
			f.role = fmt.Sprintf("it stands %s, not %s: turn the camera", stands(w, h), want)
		}
		f.pixels(d.Book, r, w, h, true)
	case plan.Half:
		fine = false // a post is smaller than the preview that was measured
	case plan.Detail, plan.Process, plan.Opener:
		if kind == plan.Opener {
			f.pixels(d.Book, r, w, h, true)
		}
		f.ask("role", fmt.Sprintf("whether it is the %s that is meant", kind))
	default:
		f.pixels(d.Book, r, w, h, true)
		f.ask("role", "whether set-ups differ")
	}
	d.sharp(&f, fine)
	d.lit(&f)
	f.standing, f.lowered = d.standing(at, kind)
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
		f.fail("orientation", fmt.Sprintf("it stands %s (%d×%d px), the plan wants %s: turn the camera", got, w, h, want))
		return
	}
	f.pass("orientation", "stands "+string(want))
}

// pixels holds the frame against its printed box. Where the plan speaks of
// another picture (free), the box may be taken either way round.
func (f *fit) pixels(b plan.Book, r plan.Recipe, w, h int, free bool) {
	boxW, boxH, ok := b.Box(r)
	switch {
	case !ok:
		f.miss("pixels", "the plan does not say how large it is printed, so its pixels an inch are not known: give it pages or a size")
		return
	case !(b.FloorPPI > 0):
		f.miss("pixels", "the book has no floor of pixels an inch: set one")
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
		f.fail("pixels", fmt.Sprintf("it gives %s; %g is the floor: move closer or print it smaller", says, b.FloorPPI))
	case f.ppi < b.GoodPPI:
		f.pass("pixels", fmt.Sprintf("%s (%g is good, %g the floor)", says, b.GoodPPI, b.FloorPPI))
	default:
		f.pass("pixels", says)
	}
}

// below writes a figure to the unit, or finer where rounding would lift it to
// a mark that it does not reach.
func below(x float64, marks ...float64) string {
	for digits := range 6 {
		s := fmt.Sprintf("%.*f", digits, x)
		got, _ := strconv.ParseFloat(s, 64)
		if !slices.ContainsFunc(marks, func(m float64) bool { return x < m && got >= m }) {
			return s
		}
	}
	return fmt.Sprintf("%g", x)
}
