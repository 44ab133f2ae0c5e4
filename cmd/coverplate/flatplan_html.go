package main

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"html/template"
	"io"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

//go:embed html/flatplan.html
var flatplanPage string

// embedSide is the long side in pixels of the pictures that a page carries:
// twice what a docket or a page of the strip is drawn at, so that they are
// crisp on a fine screen and in print, and a book of 74 dishes stays a file
// that can be sent.
const embedSide = 420

// pageTemplates holds both pages and the parts they share.
func pageTemplates() (*template.Template, error) {
	return paper.Templates(map[string]string{"report": reportPage, "flatplan": flatplanPage}, paper.Eager, nil)
}

// dress is the style of a page whose leaves have the book's trim, and the
// policy that lets this style in and nothing from outside.
func dress(b plan.Book) (style template.CSS, policy string) {
	css := paper.Style(b)
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
	Spreads             []paper.Spread
	Matrix              paper.Matrix
	Twins               []paper.Twin
	Variety, Why        string
	Changes, Arguments  []paper.Change
	Unknown, LeftOut    []string
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
	titles, picture := paper.TitlesOf(r), embedder(pictures)
	v := flatplanView{Book: r.Book, Turns: paper.TurnsSay(r.Spreads), Matrix: paper.MatrixOf(l, r.Spreads, titles), Twins: paper.TwinsOf(l, titles),
		Variety: paper.VarietySays(g), Why: paper.VarietyWhy(g)}
	v.Style, v.Policy = dress(book)
	for _, s := range r.Spreads {
		v.Spreads = append(v.Spreads, paper.SpreadOf(s, titles, picture))
	}
	typed := func(c audit.Change) string { return "coverplate choose " + shellWord(take(c.ToID, c.To)) + " hero" }
	v.Changes, v.Arguments = paper.ChangesOf(g.Changes, titles, picture, typed), paper.ChangesOf(g.Arguments, titles, picture, typed)
	v.Unknown, v.LeftOut = paper.NotWeighed(g, titles)
	return paper.Execute(w, set, "flatplan", v)
}
