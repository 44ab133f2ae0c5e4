package audit

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"

	"coverplate/colour"
)

// Relation is how two pictures meet in the book.
type Relation string

// The three ways. Pages 2n and 2n+1 face each other; the even one, the left,
// is a verso and the odd one a recto.
const (
	// Facing are two pictures on one spread, seen side by side.
	Facing Relation = "facing"
	// NextSpread is one spread, its pictures together, and the next that the
	// plan puts a picture on, however many pages of text lie between.
	NextSpread Relation = "next"
	// PageTurn is what the eye left and what it meets when one leaf is turned:
	// the last picture of a spread (its recto, where that has one) and the
	// first of the spread after it (its verso). It is between spreads n and
	// n+1 only: over pages of text there is more than one turn.
	PageTurn Relation = "turn"
)

// Contrast is the verdict on two neighbours.
type Contrast string

// The contrasts.
const (
	Alike   Contrast = "too alike" // nearer than Rules.TooAlike
	Fine    Contrast = "fine"
	Jars    Contrast = "jarring" // farther than Rules.Jarring: noted, not held against them
	Unknown Contrast = "unknown" // one of the pictures is not there, or has no palette
)

// Neighbour is one pair of neighbours and how far they are apart.
type Neighbour struct {
	Kind     Relation    `json:"kind"`
	Spreads  [2]int      `json:"spreads"` // twice the same for facing pages
	Pages    [2]string   `json:"pages"`   // of the pictures: "24", "24-25"
	Recipes  [2][]string `json:"recipes"` // one each, but for the next spread, which may have several
	Apart    *float64    `json:"apart"`   // palette distance, ΔE2000; null unknown
	Contrast Contrast    `json:"contrast"`
	// Threshold is the setting that the contrast rests on, ΔE2000: that of
	// jarring where it jars, else that of too alike.
	Threshold float64 `json:"threshold"`
	Chosen    bool    `json:"chosen"`  // a person chose every picture of both sides
	Repeats   bool    `json:"repeats"` // a turn of the very pictures that the next spread was judged by
	Why       string  `json:"why"`     // one sentence without its full stop
}

// Ground is the verdict on the surfaces of two pictures.
type Ground string

// The grounds.
const (
	SameGround    Ground = "same" // nearer than Rules.SameSurface
	OtherGround   Ground = "differs"
	UnknownGround Ground = "unknown" // one of them is not there, or its border has no one colour
)

// SurfacePair is the surfaces of two pictures that face each other (Facing)
// or stand on one spread and the next (NextSpread).
type SurfacePair struct {
	Kind      Relation          `json:"kind"`
	Spreads   [2]int            `json:"spreads"`
	Pages     [2]string         `json:"pages"`
	Recipes   [2]string         `json:"recipes"`
	Surfaces  [2]*colour.Swatch `json:"surfaces"` // null unknown
	Apart     *float64          `json:"apart"`    // ΔE2000; null unknown
	Ground    Ground            `json:"ground"`
	Threshold float64           `json:"threshold"` // Rules.SameSurface
	Why       string            `json:"why"`
}

// side is one of two neighbours.
type side struct {
	spread  int
	pages   string
	recipes []string
	palette []colour.Swatch
	chosen  bool
	missing string // what keeps the palette unknown; "" nothing
}

func sideOf(spread int, p Picture) side {
	s := side{spread: spread, pages: p.Pages, recipes: []string{p.Recipe}, palette: p.Palette, chosen: p.Chosen}
	switch {
	case p.Frame == nil:
		s.missing = p.Recipe + " has no picture yet"
	case len(p.Palette) == 0:
		s.missing = "the picture of " + p.Recipe + " has no palette"
	}
	return s
}

// meet holds the pictures of a spread against each other and against those of
// the next; nil where the book ends.
func (d *sheet) meet(s, next *Spread) {
	for i, p := range s.Pictures {
		for _, q := range s.Pictures[i+1:] {
			s.Neighbours = append(s.Neighbours, d.pair(Facing, sideOf(s.Spread, p), sideOf(s.Spread, q)))
			s.Surfaces = append(s.Surfaces, d.grounds(Facing, s, s, p, q))
		}
	}
	if next == nil {
		return
	}
	n := d.pair(NextSpread, whole(s), whole(next))
	s.ToNext = n.Apart
	s.Neighbours = append(s.Neighbours, n)
	if next.Spread == s.Spread+1 {
		t := d.pair(PageTurn, sideOf(s.Spread, s.Pictures[len(s.Pictures)-1]), sideOf(next.Spread, next.Pictures[0]))
		t.Repeats = len(s.Pictures) == 1 && len(next.Pictures) == 1
		s.Neighbours = append(s.Neighbours, t)
	}
	for _, p := range s.Pictures {
		for _, q := range next.Pictures {
			s.Surfaces = append(s.Surfaces, d.grounds(NextSpread, s, next, p, q))
		}
	}
}

// whole is a spread as one side: its pictures together.
func whole(s *Spread) side {
	all := side{spread: s.Spread, pages: s.Pages, recipes: s.Recipes, palette: s.Palette, chosen: s.Chosen}
	for _, p := range s.Pictures {
		if all.missing == "" {
			all.missing = sideOf(s.Spread, p).missing
		}
	}
	return all
}

// pair judges one pair.
func (d *sheet) pair(kind Relation, a, b side) Neighbour {
	n := Neighbour{Kind: kind, Spreads: [2]int{a.spread, b.spread}, Pages: [2]string{a.pages, b.pages}, Recipes: [2][]string{a.recipes, b.recipes},
		Contrast: Unknown, Threshold: d.Rules.TooAlike, Chosen: a.chosen && b.chosen}
	meet := fmt.Sprintf("%s and %s, the next", onPages(a), onPages(b))
	switch kind {
	case Facing:
		meet = fmt.Sprintf("%s and %s, which face each other", onPages(a), onPages(b))
		if a.pages == b.pages {
			meet = fmt.Sprintf("%s and %s, on one page", onPages(a), onPages(b))
		}
	case PageTurn:
		meet = fmt.Sprintf("over the page turn, %s and %s", onLeaf(a), onLeaf(b))
	}
	if a.missing != "" || b.missing != "" {
		n.Why = fmt.Sprintf("%s: not known, %s", meet, cmp.Or(a.missing, b.missing))
		return n
	}
	x := colour.PaletteDistance(a.palette, b.palette)
	n.Apart = &x
	switch {
	case x < d.Rules.TooAlike:
		n.Contrast = Alike
		n.Why = fmt.Sprintf("%s: %s apart, too alike under %g", meet, tenths(x, d.Rules.TooAlike), d.Rules.TooAlike)
	case d.Rules.Jarring > 0 && x > d.Rules.Jarring:
		n.Contrast, n.Threshold = Jars, d.Rules.Jarring
		n.Why = fmt.Sprintf("%s: %.1f apart, jarring over %g", meet, x, d.Rules.Jarring)
	default:
		n.Contrast = Fine
		n.Why = fmt.Sprintf("%s: %.1f apart, %g is the threshold", meet, x, d.Rules.TooAlike)
	}
	return n
}

// grounds judges the surfaces of two pictures.
func (d *sheet) grounds(kind Relation, s, next *Spread, p, q Picture) SurfacePair {
	a, b := sideOf(s.Spread, p), sideOf(next.Spread, q)
	g := SurfacePair{Kind: kind, Spreads: [2]int{a.spread, b.spread}, Pages: [2]string{a.pages, b.pages}, Recipes: [2]string{p.Recipe, q.Recipe},
		Surfaces: [2]*colour.Swatch{p.Surface, q.Surface}, Ground: UnknownGround, Threshold: d.Rules.SameSurface}
	meet := fmt.Sprintf("%s and %s", onPages(a), onPages(b))
	x := math.NaN()
	if p.Surface != nil && q.Surface != nil {
		x = colour.DeltaE2000(p.Surface.Lab, q.Surface.Lab)
	}
	if math.IsNaN(x) || math.IsInf(x, 0) {
		for _, o := range []Picture{q, p} {
			switch {
			case o.Frame == nil:
				g.Why = o.Recipe + " has no picture yet"
			case o.Surface == nil:
				g.Why = "the picture of " + o.Recipe + " has no surface of one colour"
			}
		}
		g.Why = fmt.Sprintf("%s: not known, %s", meet, cmp.Or(g.Why, "a surface has no colour"))
		return g
	}
	g.Apart = &x
	if x < d.Rules.SameSurface {
		g.Ground = SameGround
		g.Why = fmt.Sprintf("%s: one surface, %s apart, under %g", meet, tenths(x, d.Rules.SameSurface), d.Rules.SameSurface)
		return g
	}
	g.Ground = OtherGround
	g.Why = fmt.Sprintf("%s: surfaces %.1f apart, %g is the threshold", meet, x, d.Rules.SameSurface)
	return g
}

// tenths writes a distance to the tenth, or finer where rounding would lift it
// to the threshold that it does not reach.
func tenths(x, threshold float64) string {
	if math.Round(10*x) < 10*threshold {
		return fmt.Sprintf("%.1f", x)
	}
	return below(x, threshold)
}

// onPages names a side with its pages: "R07 (page 24)", "R07, R08 (pages 24-25)".
func onPages(s side) string {
	return fmt.Sprintf("%s (%s)", strings.Join(s.recipes, ", "), paged(s.pages))
}

// paged says "page 24" or "pages 24-25".
func paged(pages string) string {
	if strings.Contains(pages, "-") {
		return "pages " + pages
	}
	return "page " + pages
}

// onLeaf names a side with its page, and says which side of its leaf that is.
func onLeaf(s side) string {
	page := 0
	if n, err := strconv.Atoi(s.pages); err == nil {
		page = n
	}
	switch {
	case page == 0:
		return onPages(s)
	case page%2 == 0:
		return fmt.Sprintf("%s (%s, verso)", strings.Join(s.recipes, ", "), paged(s.pages))
	}
	return fmt.Sprintf("%s (%s, recto)", strings.Join(s.recipes, ", "), paged(s.pages))
}
