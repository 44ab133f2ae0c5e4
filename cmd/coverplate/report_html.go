package main

import (
	_ "embed"
	"html/template"
	"io"

	"coverplate/audit"
	"coverplate/audit/angle"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

//go:embed html/report.html
var reportPage string

// reportView is all that the page shows; the template decides nothing.
type reportView struct {
	Policy         string
	Style          template.CSS
	Book           string
	Seen, Pace     string
	Todo           []paper.Tasks
	AllDone        bool
	Dockets        []paper.Docket
	Spreads        []paper.Spread
	Props          []propView
	Notes          []noteView
	Unplaced       []unplacedView
	StrikeN, HoldN int
}

type propView struct{ Prop, Recipes, Why string }

type noteView struct{ Says, Frame string }

type unplacedView struct {
	Frame, Why, Guesses string
	Picture             template.URL
}

// writeReportHTML writes a report as one page that needs no other file and no
// network; book gives its leaves their shape. pictures gives a small upright JPEG of a frame, or nothing where
// there is none; its errors are not the report's: the page then says that the
// picture is missing.
//
// show is what is drawn over them; a zero field is not shown.
func writeReportHTML(w io.Writer, r audit.Report, book plan.Book, pictures func(catalogue.FrameID) ([]byte, error), show drawings) error {
	set, err := pageTemplates()
	if err != nil {
		return err
	}
	v := reportView{Book: r.Book, Seen: paper.SeenSays(r.Seen), Pace: paper.PaceSays(r.Days), Todo: paper.Todo(r)}
	v.AllDone = len(v.Todo) == 0
	v.Style, v.Policy = dress(book)
	picture := embedder(pictures)
	titles := paper.TitlesOf(r)
	views := map[catalogue.FrameID]angle.Reading{}
	for i, v := range r.Views {
		views[r.Matches[i].Frame] = v
	}
	for _, rec := range r.Recipes {
		d := paper.DocketOf(rec, picture, views)
		if show.seen != nil && d.Picture != "" {
			d.Seen = inPage(show.seen(d.PictureID))
		}
		for _, f := range rec.Needs {
			if show.cuts == nil || f.Frame == nil || f.Verdict == audit.Waived {
				continue
			}
			w, h, all := show.cuts(f)
			if v := paper.CutsOf(f.Need, *f.Frame, picture(f.FrameID), w, h, all); v != nil {
				d.Cuts = append(d.Cuts, v)
			}
		}
		if rec.Strike == audit.MayStrike {
			v.StrikeN++
		} else {
			v.HoldN++
		}
		v.Dockets = append(v.Dockets, d)
	}
	for _, s := range r.Spreads {
		v.Spreads = append(v.Spreads, paper.SpreadOf(s, titles, picture))
	}
	for _, p := range r.Props {
		v.Props = append(v.Props, propView{p.Prop, joinAnd(p.Recipes) + paper.SpreadSuffix(p.Spreads), p.Why})
	}
	for _, n := range r.Notes {
		v.Notes = append(v.Notes, noteView{paper.NoteSays(n), n.Frame})
	}
	for _, u := range r.Unplaced {
		v.Unplaced = append(v.Unplaced, unplacedView{u.Frame, u.Why, joinAnd(u.Guesses), picture(u.FrameID)})
	}
	return paper.Execute(w, set, "report", v)
}
