package main

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"strings"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

//go:embed html/book.html
var bookParts string

//go:embed html/flatplan.html
var flatplanPage string

//go:embed html/book.css
var bookStyle string

// embedSide is the long side in pixels of the pictures that a page carries:
// twice what a docket or a page of the strip is drawn at, so that they are
// crisp on a fine screen and in print, and a book of 74 dishes stays a file
// that can be sent.
const embedSide = 420

// pageTemplates holds both pages and the parts they share.
func pageTemplates() (*template.Template, error) {
	set := template.New("pages").Funcs(template.FuncMap{"letter": letterOf})
	for _, p := range []struct{ name, text string }{{"report", reportPage}, {"parts", bookParts}, {"flatplan", flatplanPage}} {
		if _, err := set.New(p.name).Parse(p.text); err != nil {
			return nil, fmt.Errorf("read the template %s: %w", p.name, err)
		}
	}
	return set, nil
}

// letterOf is the letter of the i-th of a few, from A.
func letterOf(i int) string { return string(rune('A' + i%26)) }

// dress is the style of a page whose leaves have the book's trim, and the
// policy that lets this style in and nothing from outside.
func dress(b plan.Book) (style template.CSS, policy string) {
	w, h := b.TrimWidth, b.TrimHeight
	if !(w > 0 && h > 0) {
		w, h = 3, 4
	}
	css := reportStyle + bookStyle + fmt.Sprintf(".page { aspect-ratio: %.4g / %.4g; } .page.both { aspect-ratio: %.4g / %.4g; }\n", w, h, 2*w, h)
	sum := sha256.Sum256([]byte(css))
	return template.CSS(css), "default-src 'none'; img-src data:; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}

// embedder turns frames into pictures that stand in the page itself, each
// made smaller once. A picture that is missing or broken is "": the page says
// so where it would stand.
func embedder(pictures func(catalogue.FrameID) ([]byte, error)) func(catalogue.FrameID) template.URL {
	made := map[catalogue.FrameID]template.URL{}
	return func(id catalogue.FrameID) template.URL {
		if id == "" || pictures == nil {
			return ""
		}
		if url, ok := made[id]; ok {
			return url
		}
		made[id] = ""
		if b, err := pictures(id); err == nil && len(b) > 0 {
			if small, err := look.Smaller(b, embedSide); err == nil {
				made[id] = inPage(small, nil)
			}
		}
		return made[id]
	}
}

// flatplanView is all that the flat plan's page shows.
type flatplanView struct {
	Policy, Book, Turns string
	Style               template.CSS
	Spreads             []spreadView
	Matrix              matrixView
	Twins               []twinView
	Variety, Why        string
	Changes, Arguments  []changeView
	Unknown, LeftOut    []string
}

// spreadView is one spread as it lies open.
type spreadView struct {
	Spread   int
	Pages    string
	Leaves   []leafView
	Pictures []pictureView // those on the leaves, in page order
	Facing   []meeting     // within the spread
	Turns    []meeting     // to the next
	Same     []string      // what is said of one surface twice
	Verdict  string
	Why      string
}

// leafView is a page, or both pages where one picture runs over the gutter.
type leafView struct {
	Side     string // "verso", "recto", "both"
	Folios   []int
	Pictures []pictureView
}

type pictureView struct {
	Recipe, Title string
	Pages         string
	Picture       template.URL
	Missing       string // why there is no picture to be seen; "" there is
	Says          string
	Bars          []barView
	Swatches      []swatchView
	Surface       *swatchView
}

// barView is one swatch of a palette bar a hundred units wide.
type barView struct{ X, Width, Hex, Grey string }

type swatchView struct{ Hex, Grey, Says, Light string }

// changeView is one hero for another.
type changeView struct {
	Recipe, Title, Pages string
	From, To, Why        string
	FromPicture          template.URL
	ToPicture            template.URL
	Before, After        string
	Take                 string // what to type
}

// writeFlatplan writes the flat plan's page. Rendered whole before the first
// byte goes out: half a page is none.
func (s shoot) writeFlatplan(path string, r audit.Report, g gathered) error {
	return writePage(path, func(w io.Writer) error {
		return writeFlatplanHTML(w, r, audit.Compare(r, g.Rules), audit.Suggest(g.Shoot), g.Book, s.pictures(g.Frames), takeWord(g.Frames, s.Dir))
	})
}

func writeFlatplanHTML(w io.Writer, r audit.Report, l audit.Likeness, g audit.Suggestion, book plan.Book,
	pictures func(catalogue.FrameID) ([]byte, error), take func(catalogue.FrameID, string) string) error {
	set, err := pageTemplates()
	if err != nil {
		return err
	}
	titles, picture := titlesOf(r), embedder(pictures)
	v := flatplanView{Book: r.Book, Turns: turnsSay(r.Spreads), Matrix: matrixOf(l, r.Spreads, titles), Twins: twinsOf(l, titles),
		Variety: varietySays(g), Why: g.Why}
	v.Style, v.Policy = dress(book)
	for _, s := range r.Spreads {
		v.Spreads = append(v.Spreads, spreadOf(s, titles, picture))
	}
	changes := func(all []audit.Change) (views []changeView) {
		for _, c := range all {
			views = append(views, changeView{c.Recipe, titles[c.Recipe], c.Pages, c.From, c.To, c.Why, picture(c.FromID), picture(c.ToID),
				fmt.Sprintf("%.1f", c.Before), fmt.Sprintf("%.1f", c.After), "coverplate choose " + shellWord(take(c.ToID, c.To)) + " hero"})
		}
		return views
	}
	v.Changes, v.Arguments = changes(g.Changes), changes(g.Arguments)
	for _, u := range g.Unknown {
		v.Unknown = append(v.Unknown, strings.TrimSpace(u.Recipe+" "+titles[u.Recipe])+pageSuffix(u.Pages)+": "+u.Why)
	}
	for _, u := range g.LeftOut {
		v.LeftOut = append(v.LeftOut, fmt.Sprintf("%s %s: %d of %d frames weighed", u.Recipe, titles[u.Recipe], u.Weighed, u.Of))
	}
	return execute(w, set, "flatplan", v)
}

// execute renders a page whole and then writes it.
func execute(w io.Writer, set *template.Template, name string, view any) error {
	var b bytes.Buffer
	if err := set.ExecuteTemplate(&b, name, view); err != nil {
		return fmt.Errorf("render the page: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

func spreadOf(s audit.Spread, titles map[string]string, picture func(catalogue.FrameID) template.URL) spreadView {
	v := spreadView{Spread: s.Spread, Pages: s.Pages, Verdict: string(s.Verdict), Why: s.Why}
	leaf := map[string]*leafView{"verso": {Side: "verso"}, "recto": {Side: "recto"}, "both": {Side: "both"}}
	if s.Spread > 0 {
		leaf["verso"].Folios = []int{2 * s.Spread}
	}
	leaf["recto"].Folios = []int{2*s.Spread + 1}
	leaf["both"].Folios = []int{2 * s.Spread, 2*s.Spread + 1}
	for _, p := range picturesOf(s) {
		pv := pictureView{Recipe: p.Recipe, Title: titles[p.Recipe], Pages: p.Pages, Picture: picture(p.FrameID), Says: pictureSays(p.Frame, p.Chosen), Bars: barsOf(p.Palette)}
		switch {
		case p.Frame == nil:
			pv.Missing = "no picture yet"
		case pv.Picture == "":
			pv.Missing = "its small picture can't be shown"
		}
		for _, w := range p.Palette {
			pv.Swatches = append(pv.Swatches, swatchViewOf(w, unbroken(swatchSays(w))))
		}
		if p.Surface != nil {
			w := swatchViewOf(*p.Surface, p.Surface.Name+" "+p.Surface.Hex)
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
		v.Leaves = []leafView{*both}
	} else {
		v.Leaves = []leafView{*leaf["verso"], *leaf["recto"]}
	}
	for _, m := range meetingsOf(s) {
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

// greyOf is the grey as light as the swatch: the same L* without its hue.
func greyOf(s colour.Swatch) string { return colour.Lab{L: s.Lab.L}.Hex() }

func swatchViewOf(s colour.Swatch, says string) swatchView {
	return swatchView{s.Hex, greyOf(s), says, fmt.Sprintf("L %.0f", s.Lab.L)}
}

// barsOf lays a palette out in proportion along a hundred units.
func barsOf(p []colour.Swatch) []barView {
	var bars []barView
	x := 0.0
	for _, s := range p {
		bars = append(bars, barView{fmt.Sprintf("%.2f", 100*x), fmt.Sprintf("%.2f", 100*s.Share), s.Hex, greyOf(s)})
		x += s.Share
	}
	return bars
}
