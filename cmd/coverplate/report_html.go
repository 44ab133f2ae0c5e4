package main

import (
	_ "embed"
	"html/template"
	"io"

	"coverplate/audit"
	"coverplate/audit/angle"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

//go:embed html/report.html
var reportPage string

//go:embed html/report.css
var reportStyle string

// reportView is all that the page shows; the template decides nothing.
type reportView struct {
	Policy         string
	Style          template.CSS
	Book           string
	Seen, Pace     string
	Todo           []tasks
	AllDone        bool
	Dockets        []docketView
	Spreads        []spreadView
	Props          []propView
	Notes          []noteView
	Unplaced       []unplacedView
	StrikeN, HoldN int
}

type docketView struct {
	ID, Title, Chapter, Pages, Day string
	Frames                         string
	Picture                        template.URL
	PictureOf                      string
	pictureID                      catalogue.FrameID
	Angle                          *angleView // nil where nothing is known of it
	Cuts                           []*cutsView
	Seen                           template.URL // what was measured, drawn over Picture; "" not drawn
	Strike, StrikeWhy              string
	Needs                          []needView
}

type needView struct {
	Need, Verdict, Why, Frame string
	Others                    int
}

// angleView is from where a picture was seen: in words, and drawn over it.
type angleView struct {
	Says, Why string
	Tall      float64 // height of the picture in shares of its width
	Rims      []angle.Seen
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
	v := reportView{Book: r.Book, Seen: seenSays(r.Seen), Pace: paceSays(r.Days), Todo: todo(r)}
	v.AllDone = len(v.Todo) == 0
	v.Style, v.Policy = dress(book)
	picture := embedder(pictures)
	titles := titlesOf(r)
	views := map[catalogue.FrameID]angle.Reading{}
	for i, v := range r.Views {
		views[r.Matches[i].Frame] = v
	}
	for _, rec := range r.Recipes {
		d := docketOf(rec, picture, views)
		if show.seen != nil && d.Picture != "" {
			d.Seen = inPage(show.seen(d.pictureID))
		}
		for _, f := range rec.Needs {
			if show.cuts == nil || f.Frame == nil || f.Verdict == audit.Waived {
				continue
			}
			w, h, all := show.cuts(f)
			if v := cutsViewOf(f.Need, *f.Frame, picture(f.FrameID), w, h, all); v != nil {
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
		v.Spreads = append(v.Spreads, spreadOf(s, titles, picture))
	}
	for _, p := range r.Props {
		v.Props = append(v.Props, propView{p.Prop, joinAnd(p.Recipes) + spreadSuffix(p.Spreads), p.Why})
	}
	for _, n := range r.Notes {
		v.Notes = append(v.Notes, noteView{noteSays(n), n.Frame})
	}
	for _, u := range r.Unplaced {
		v.Unplaced = append(v.Unplaced, unplacedView{u.Frame, u.Why, joinAnd(u.Guesses), picture(u.FrameID)})
	}
	return execute(w, set, "report", v)
}

func docketOf(rec audit.Recipe, picture func(catalogue.FrameID) template.URL, views map[catalogue.FrameID]angle.Reading) docketView {
	d := docketView{ID: rec.ID, Title: rec.Title, Chapter: rec.Chapter, Pages: rec.Pages, Day: dayName(rec.Day),
		Frames: counted(rec.Frames, "frame", "frames"), Strike: string(rec.Strike), StrikeWhy: rec.StrikeWhy}
	for _, f := range rec.Needs {
		n := needView{Need: f.Need, Verdict: string(f.Verdict), Why: f.Why, Others: len(f.Others)}
		if f.Frame != nil {
			n.Frame = *f.Frame
		}
		d.Needs = append(d.Needs, n)
		if d.Picture == "" && f.Frame != nil {
			d.Picture, d.PictureOf, d.pictureID = picture(f.FrameID), f.Need, f.FrameID
			d.Angle = angleViewOf(views[f.FrameID])
		}
	}
	return d
}

// angleViewOf is what the page shows of a reading, nothing where it holds none.
func angleViewOf(r angle.Reading) *angleView {
	if !r.Known {
		return nil
	}
	v := &angleView{Says: string(r.Class), Why: r.Why, Tall: r.Tall}
	if r.Class == plan.UnknownAngle {
		v.Says = "not sure"
	}
	if r.Tall > 0 {
		v.Rims = r.Rims
	}
	return v
}
