package main

import (
	"bytes"
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"

	"coverplate/audit"
	"coverplate/colour"
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
	Strike, StrikeWhy              string
	Needs                          []needView
}

type needView struct {
	Need, Verdict, Why, Frame string
	Others                    int
}

type spreadView struct {
	Spread          int
	Pages, Titles   string
	Picture         template.URL
	PictureOf       string
	Bars            []barView
	Names, Surface  string
	SurfaceHex      string
	ToNext, Verdict string
	Why             string
	SaysOfPicture   string
}

// barView is one swatch of a palette bar a hundred units wide.
type barView struct {
	X, Width string
	Hex      string
}

type propView struct{ Prop, Recipes, Why string }

type noteView struct{ Says, Frame string }

type unplacedView struct {
	Frame, Why, Guesses string
	Picture             template.URL
}

// writeReportHTML writes a report as one page that needs no other file and no
// network. pictures gives a small upright JPEG of a frame, or nothing where
// there is none; its errors are not the report's: the page then says that the
// picture is missing.
func writeReportHTML(w io.Writer, r audit.Report, pictures func(catalogue.FrameID) ([]byte, error)) error {
	page, err := template.New("report").Parse(reportPage)
	if err != nil {
		return fmt.Errorf("read the report's template: %w", err)
	}
	sum := sha256.Sum256([]byte(reportStyle))
	v := reportView{
		Policy: "default-src 'none'; img-src data:; style-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'",
		Style:  template.CSS(reportStyle),
		Book:   r.Book, Seen: seenSays(r.Seen), Pace: paceSays(r.Days), Todo: todo(r),
	}
	v.AllDone = len(v.Todo) == 0
	picture := func(id catalogue.FrameID) template.URL {
		if id == "" || pictures == nil {
			return ""
		}
		b, err := pictures(id)
		if err != nil || len(b) == 0 {
			return ""
		}
		return template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(b))
	}
	titles := map[string]string{}
	for _, rec := range r.Recipes {
		titles[rec.ID] = rec.Title
		d := docketOf(rec, picture)
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
	// Rendered whole before the first byte goes out: half a report is none.
	var b bytes.Buffer
	if err := page.Execute(&b, v); err != nil {
		return fmt.Errorf("render the report: %w", err)
	}
	_, err = w.Write(b.Bytes())
	return err
}

func docketOf(rec audit.Recipe, picture func(catalogue.FrameID) template.URL) docketView {
	d := docketView{ID: rec.ID, Title: rec.Title, Chapter: rec.Chapter, Pages: rec.Pages, Day: dayName(rec.Day),
		Frames: counted(rec.Frames, "frame", "frames"), Strike: string(rec.Strike), StrikeWhy: rec.StrikeWhy}
	for _, f := range rec.Needs {
		n := needView{Need: f.Need, Verdict: string(f.Verdict), Why: f.Why, Others: len(f.Others)}
		if f.Frame != nil {
			n.Frame = *f.Frame
		}
		d.Needs = append(d.Needs, n)
		if d.Picture == "" && f.Frame != nil {
			d.Picture, d.PictureOf = picture(f.FrameID), f.Need
		}
	}
	return d
}

func spreadOf(s audit.Spread, titles map[string]string, picture func(catalogue.FrameID) template.URL) spreadView {
	v := spreadView{Spread: s.Spread, Pages: s.Pages, Picture: picture(s.FrameID), Verdict: string(s.Verdict), Why: s.Why,
		ToNext: toNextSays(s.ToNext), Bars: barsOf(s.Palette), Names: paletteSays(s.Palette), SaysOfPicture: pictureSays(s)}
	for i, id := range s.Recipes {
		if i > 0 {
			v.Titles += "; "
		}
		v.Titles += id + " " + titles[id]
	}
	if s.Surface != nil {
		v.Surface, v.SurfaceHex = s.Surface.Name+" "+s.Surface.Hex, s.Surface.Hex
	}
	return v
}

// barsOf lays a palette out in proportion along a hundred units.
func barsOf(p []colour.Swatch) []barView {
	var bars []barView
	x := 0.0
	for _, s := range p {
		bars = append(bars, barView{fmt.Sprintf("%.2f", 100*x), fmt.Sprintf("%.2f", 100*s.Share), s.Hex})
		x += s.Share
	}
	return bars
}
