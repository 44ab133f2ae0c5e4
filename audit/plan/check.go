package plan

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// The columns of a plan, by the names that Fault.Column has from Check and
// that a template's header has.
const (
	ColumnRecipe      = "recipe"
	ColumnTitle       = "title"
	ColumnChapter     = "chapter"
	ColumnPages       = "pages"
	ColumnSize        = "size"
	ColumnOrientation = "orientation"
	ColumnAngle       = "angle"
	ColumnNeeds       = "needs"
	ColumnProps       = "props"
	ColumnSurface     = "surface"
	ColumnDay         = "day"
	ColumnLettering   = "lettering"
	ColumnAllergens   = "allergens"
	ColumnNotes       = "notes"
)

// Columns gives the columns of a plan in their usual order.
func Columns() []string {
	return []string{ColumnRecipe, ColumnTitle, ColumnChapter, ColumnPages, ColumnSize, ColumnOrientation,
		ColumnAngle, ColumnNeeds, ColumnProps, ColumnSurface, ColumnDay, ColumnLettering, ColumnAllergens, ColumnNotes}
}

// SortFaults puts faults in the order of their rows, then of the columns;
// faults of one cell keep their order.
func SortFaults(faults []Fault) {
	columns := Columns()
	slices.SortStableFunc(faults, func(a, b Fault) int {
		return cmp.Or(cmp.Compare(a.Row, b.Row),
			cmp.Compare(slices.Index(columns, a.Column), slices.Index(columns, b.Column)))
	})
}

// Check names all that is unsound in a plan, in the order of rows and
// columns; none is nil. Fault.File is the file handed in.
//
// A recipe needs an id and a title, and an id is unique whatever its case.
// Empty pages, size and day are no faults: the plan may come to them later. A
// page may carry several pictures where each has a size and all of them fit on
// it: two halves, a half and two quarters, two of 120×80 mm. A prop planned
// twice is no fault here; the audit finds it.
func Check(b Book, rs []Recipe, file string) []Fault {
	c := checker{book: b, file: file, ids: map[string]Recipe{}, pages: map[int][]standing{}}
	for _, r := range rs {
		c.names(r)
		c.picture(r)
		c.wants(r)
		c.props(r)
		c.day(r)
		c.place(r)
	}
	SortFaults(c.faults)
	return c.faults
}

type checker struct {
	book   Book
	file   string
	ids    map[string]Recipe // by folded id, the first of each
	pages  map[int][]standing
	faults []Fault
}

// standing is a picture that stands on a page.
type standing struct {
	recipe Recipe
	shapes []place // nil: its size is not known
}

func (c *checker) fault(r Recipe, column, value, says, want string) {
	c.faults = append(c.faults, Fault{File: c.file, Row: r.Row, Column: column, Value: value, Says: says, Want: want})
}

func (c *checker) names(r Recipe) {
	id := Tidy(r.ID)
	switch {
	case id == "":
		c.fault(r, ColumnRecipe, r.ID, "the recipe has no id", "give it a short one of its own, as in R07")
	case strings.EqualFold(id, "none"):
		c.fault(r, ColumnRecipe, r.ID, "is the word for no recipe", "give it another id, as in R07")
	case strings.HasPrefix(id, "-"):
		c.fault(r, ColumnRecipe, r.ID, "begins as an option on the command line does", "begin the id with a letter or a figure")
	case strings.ContainsFunc(id, func(x rune) bool { return strings.ContainsRune(`/\:*?"<>|;`, x) || unicode.IsControl(x) }):
		c.fault(r, ColumnRecipe, r.ID, "holds a sign that names of files and folders can't have",
			"keep to letters, figures, - and _")
	}
	if id != "" {
		folded := strings.ToLower(id)
		if first, ok := c.ids[folded]; ok {
			says := fmt.Sprintf("is the id of row %d already", first.Row)
			if first.ID != r.ID {
				says = fmt.Sprintf("differs only in case or spaces from %q in row %d", first.ID, first.Row)
			}
			c.fault(r, ColumnRecipe, r.ID, says, "give each recipe an id of its own")
		} else {
			c.ids[folded] = r
		}
	}
	if Tidy(r.Title) == "" {
		c.fault(r, ColumnTitle, r.Title, "the recipe has no title", "write the dish as the book names it")
	}
}

// picture checks pages, size, orientation and angle.
func (c *checker) picture(r Recipe) {
	pagesSound := true
	if !r.Pages.IsZero() {
		if says, want := r.Pages.unsound(); says != "" {
			c.fault(r, ColumnPages, fmt.Sprintf("%d-%d", r.Pages.First, r.Pages.Last), says, want)
			pagesSound = false
		}
	}
	sizeSound := true
	if says, want := r.Size.unsound(); says != "" {
		c.fault(r, ColumnSize, r.Size.String(), says, want)
		sizeSound = false
	}
	if pagesSound && sizeSound {
		c.size(r)
	}
	switch r.Orientation {
	case AnyOrientation, Portrait, Landscape, Square:
		if sizeSound {
			c.orientation(r)
		}
	default:
		c.fault(r, ColumnOrientation, string(r.Orientation), "is not a known orientation", "write one of "+knownOrientations)
	}
	switch r.Angle {
	case "", AnyAngle, Overhead, High, ThreeQuarter, Low:
	default:
		c.fault(r, ColumnAngle, string(r.Angle), "is not a known angle", "write one of "+knownAngles)
	}
}

// size holds the size against the pages and the paper.
func (c *checker) size(r Recipe) {
	b, p, s := c.book, r.Pages, r.Size
	switch s.Kind {
	case DoublePage:
		if !p.IsZero() && !p.IsSpread() {
			even := max(p.First-p.First%2, 2)
			c.fault(r, ColumnSize, s.String(), fmt.Sprintf("a double page takes two pages, and pages names one, %v", p),
				fmt.Sprintf("write %d-%d as pages, or full as size", even, even+1))
		}
	case FullPage, HalfPage, Quarter:
		if p.IsSpread() {
			c.fault(r, ColumnSize, s.String(), fmt.Sprintf("a %s page takes one page, and pages names two, %v", s.Kind, p),
				fmt.Sprintf("write double as size, or %d or %d as pages", p.First, p.Last))
		}
	case Measured:
		if !b.hasTrim() {
			return
		}
		// With no page written only what no spread can hold is surely wrong.
		pages, on := 2.0, "a spread"
		if !p.IsZero() && !p.IsSpread() {
			pages, on = 1, "a page"
		}
		bleed := max(b.Bleed, 0)
		w, h := pages*b.TrimWidth, b.TrimHeight
		if s.Width <= w+2*bleed+edge && s.Height <= h+2*bleed+edge {
			return
		}
		want := fmt.Sprintf("write at most %sx%s mm", millimetres(w), millimetres(h))
		if pages == 1 && s.Width <= 2*b.TrimWidth+2*bleed+edge && s.Height <= h+2*bleed+edge {
			even := max(p.First-p.First%2, 2)
			want += fmt.Sprintf(", or %d-%d as pages", even, even+1)
		}
		c.fault(r, ColumnSize, s.String(), fmt.Sprintf("is larger than %s of this book, %s x %s mm", on, millimetres(w), millimetres(h)), want)
	}
}

// orientation refuses what the written size can't be.
func (c *checker) orientation(r Recipe) {
	switch r.Size.Kind {
	case FullPage, DoublePage, Measured:
	default:
		return // a half and a quarter can be turned
	}
	w, h, ok := c.book.trimBox(r)
	if r.Size.Kind == Measured {
		w, h, ok = r.Size.Width, r.Size.Height, true // needs no book
	}
	if !ok || fills(r.Orientation, w, h) {
		return
	}
	is := Portrait
	if w > h {
		is = Landscape
	}
	want := fmt.Sprintf("write %s or leave it empty, or change the size", is)
	if r.Size.Kind == Measured && r.Orientation != Square {
		want = fmt.Sprintf("write %s, or %v as size", is, Size{Measured, h, w})
	}
	c.fault(r, ColumnOrientation, string(r.Orientation),
		fmt.Sprintf("can't fill the size %v, %s x %s mm", r.Size, millimetres(w), millimetres(h)), want)
}

func (c *checker) wants(r Recipe) {
	seen := map[NeedKind]bool{}
	for _, n := range r.Needs {
		if says, want := n.unsound(); says != "" {
			c.fault(r, ColumnNeeds, n.String(), says, want)
		} else if seen[n.Kind] {
			c.fault(r, ColumnNeeds, n.String(), "is named twice", "name each need once")
		}
		seen[n.Kind] = true
	}
}

// props checks what stands in brackets behind props and the surface.
func (c *checker) props(r Recipe) {
	check := func(column, value string) {
		p, err := ParseProp(value)
		var v *ValueError
		switch {
		case errors.As(err, &v):
			c.fault(r, column, value, v.Says, v.Want)
		case p.Name == "" && Tidy(value) != "":
			c.fault(r, column, value, "has no name", propWant)
		case !p.Due.IsZero() && p.Due.Before(r.Day):
			c.fault(r, column, value, fmt.Sprintf("is due back before the dish is shot, on %v", r.Day), "write a later day, or shoot the dish before")
		}
	}
	for _, p := range r.Props {
		check(ColumnProps, p)
	}
	check(ColumnSurface, r.Surface)
}

func (c *checker) day(r Recipe) {
	b, d := c.book, r.Day
	if d.IsZero() {
		return
	}
	if !d.Valid() {
		c.fault(r, ColumnDay, d.String(), "is not in the calendar", dayWant)
		return
	}
	if !b.FirstDay.IsZero() && d.Before(b.FirstDay) || !b.LastDay.IsZero() && b.LastDay.Before(d) {
		want := fmt.Sprintf("write a day from %v to %v", b.FirstDay, b.LastDay)
		switch {
		case b.FirstDay.IsZero():
			want = fmt.Sprintf("write a day up to %v", b.LastDay)
		case b.LastDay.IsZero():
			want = fmt.Sprintf("write a day from %v on", b.FirstDay)
		}
		c.fault(r, ColumnDay, d.String(), "is outside the shoot", want)
	} else if !b.Shoots(d) {
		c.fault(r, ColumnDay, d.String(), "is a day on which nobody shoots", "write one of "+b.Days())
	}
}

// place puts the picture on its pages and says where there is no room. The
// fault is the later row's; a picture without room is not put down, so that
// what follows is held against what was there first.
func (c *checker) place(r Recipe) {
	if says, _ := r.Pages.unsound(); says != "" || r.Pages.IsZero() {
		return
	}
	s := standing{r, c.shapes(r)}
	for page := r.Pages.First; page <= r.Pages.Last; page++ {
		there := c.pages[page]
		if len(there) == 0 {
			continue
		}
		all, known := [][]place{s.shapes}, s.shapes != nil
		for _, o := range there {
			all, known = append(all, o.shapes), known && o.shapes != nil
		}
		if paper := c.paper(); known && fit(all, paper.TrimWidth, paper.TrimHeight) {
			continue
		}
		last := there[len(there)-1].recipe
		says := fmt.Sprintf("page %d is used already by %s in row %d", page, name(last), last.Row)
		if more := len(there) - 1; more > 0 {
			says += fmt.Sprintf(" and by %d more", more)
		}
		want := "give it another page, or give each picture a size that leaves room: two halves, or four quarters"
		if known {
			says += ", and the sizes don't fit on it together"
			want = "give it another page or a smaller size"
		}
		c.fault(r, ColumnPages, r.Pages.String(), says, want)
		return
	}
	for page := r.Pages.First; page <= r.Pages.Last; page++ {
		c.pages[page] = append(c.pages[page], s)
	}
}

// shapes are the rectangles that the picture can take on one of its pages;
// nil where its size is not written or not sound.
func (c *checker) shapes(r Recipe) []place {
	b := c.paper()
	if r.Size.Kind == "" {
		return nil
	}
	if r.Size.Kind == Measured && !c.book.hasTrim() {
		return []place{{}} // nobody can tell: it is given the benefit of the doubt
	}
	w, h, ok := b.trimBox(r)
	switch {
	case !ok:
		return nil
	case r.Pages.IsSpread():
		// A picture across the fold takes its height of both pages.
		return []place{{b.TrimWidth, min(h, b.TrimHeight)}}
	case r.Size.Kind == HalfPage || r.Size.Kind == Quarter:
		if r.Orientation == AnyOrientation {
			return b.places(r)
		}
	}
	return []place{{min(w, b.TrimWidth), min(h, b.TrimHeight)}}
}

// paper is the book's page, and some page where there is no book: two halves
// fill a page whatever it measures.
func (c *checker) paper() Book {
	if c.book.hasTrim() {
		return c.book
	}
	return Book{TrimWidth: 210, TrimHeight: 297} // A4, ISO 216
}

func name(r Recipe) string {
	if id := Tidy(r.ID); id != "" {
		return id
	}
	return "the recipe"
}
