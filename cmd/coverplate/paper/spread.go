package paper

import (
	"fmt"
	"html/template"
	"strings"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// Letter is the letter of the i-th of a few, from A.
func Letter(i int) string { return string(rune('A' + i%26)) }

// Spread is one spread as it lies open.
type Spread struct {
	Spread   int
	Pages    string
	Leaves   []Leaf
	Pictures []Picture // those on the leaves, in page order
	Facing   []Meeting // within the spread
	Turns    []Meeting // to the next
	Same     []string  // what is said of one surface twice
	Verdict  string
	Why      string
}

// Leaf is a page, or both pages where one picture runs over the gutter.
type Leaf struct {
	Side     string // "verso", "recto", "both"
	Folios   []int
	Pictures []Picture
}

// Picture is one picture on its page with its palette.
type Picture struct {
	Recipe, Title string
	Pages         string
	Picture       template.URL
	Missing       string // why there is no picture to be seen; "" there is
	Says          string
	Bars          []Bar
	Swatches      []Swatch
	Surface       *Swatch
}

// Bar is one swatch of a palette bar a hundred units wide.
type Bar struct{ X, Width, Hex, Grey string }

// Swatch is one colour of a palette, in hue and as a grey as light.
type Swatch struct{ Hex, Grey, Says, Light string }

// SpreadOf is a spread as it lies open; picture gives the address of a frame's
// picture, "" none.
func SpreadOf(s audit.Spread, titles map[string]string, picture func(catalogue.FrameID) template.URL) Spread {
	v := Spread{Spread: s.Spread, Pages: s.Pages, Verdict: string(s.Verdict), Why: s.Why}
	leaf := map[string]*Leaf{"verso": {Side: "verso"}, "recto": {Side: "recto"}, "both": {Side: "both"}}
	if s.Spread > 0 {
		leaf["verso"].Folios = []int{2 * s.Spread}
	}
	leaf["recto"].Folios = []int{2*s.Spread + 1}
	leaf["both"].Folios = []int{2 * s.Spread, 2*s.Spread + 1}
	for _, p := range PicturesOf(s) {
		pv := Picture{Recipe: p.Recipe, Title: titles[p.Recipe], Pages: p.Pages, Picture: picture(p.FrameID), Says: PictureSays(p.Frame, p.Chosen), Bars: barsOf(p.Palette)}
		switch {
		case p.Frame == nil:
			pv.Missing = "no picture yet"
		case pv.Picture == "":
			pv.Missing = "its small picture can't be shown"
		}
		for _, w := range p.Palette {
			pv.Swatches = append(pv.Swatches, swatchOf(w, unbroken(SwatchSays(w))))
		}
		if p.Surface != nil {
			w := swatchOf(*p.Surface, p.Surface.Name+" "+p.Surface.Hex)
			pv.Surface = &w
		}
		v.Pictures = append(v.Pictures, pv)
		side := "recto"
		switch pages, err := plan.ParsePages(p.Pages); {
		case err == nil && pages.IsSpread():
			side = "both"
		case err == nil && pages.First%2 == 0:
			side = "verso"
		}
		leaf[side].Pictures = append(leaf[side].Pictures, pv)
	}
	if both := leaf["both"]; len(both.Pictures) > 0 {
		// A single page that shares the spread of a double one is a fault of the
		// plan; its picture is shown all the same.
		both.Pictures = v.Pictures
		v.Leaves = []Leaf{*both}
	} else {
		v.Leaves = []Leaf{*leaf["verso"], *leaf["recto"]}
	}
	for _, m := range MeetingsOf(s) {
		if m.Kind == "facing" {
			v.Facing = append(v.Facing, m)
		} else {
			v.Turns = append(v.Turns, m)
		}
	}
	for _, g := range s.Surfaces {
		if g.Ground == audit.SameGround {
			v.Same = append(v.Same, g.Why)
		}
	}
	return v
}

// unbroken keeps a figure and its sign on one line.
func unbroken(s string) string { return strings.ReplaceAll(s, " %", "\u00a0%") }

// GreyOf is the grey as light as the swatch: the same L* without its hue.
func GreyOf(s colour.Swatch) string { return colour.Lab{L: s.Lab.L}.Hex() }

func swatchOf(s colour.Swatch, says string) Swatch {
	return Swatch{s.Hex, GreyOf(s), says, fmt.Sprintf("L %.0f", s.Lab.L)}
}

// barsOf lays a palette out in proportion along a hundred units.
func barsOf(p []colour.Swatch) []Bar {
	var bars []Bar
	x := 0.0
	for _, s := range p {
		bars = append(bars, Bar{fmt.Sprintf("%.2f", 100*x), fmt.Sprintf("%.2f", 100*s.Share), s.Hex, GreyOf(s)})
		x += s.Share
	}
	return bars
}
