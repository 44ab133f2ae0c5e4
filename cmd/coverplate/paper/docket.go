package paper

import (
	"html/template"

	"coverplate/audit"
	"coverplate/audit/angle"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// Docket is what a page shows of one recipe.
type Docket struct {
	ID, Title, Chapter, Pages, Day string
	Frames                         string
	Picture                        template.URL
	PictureOf                      string
	PictureID                      catalogue.FrameID
	Angle                          *Angle // nil where nothing is known of it
	Cuts                           []*Cuts
	Seen                           template.URL // what was measured, drawn over Picture; "" not drawn
	Strike, StrikeWhy              string       // why, and what would turn it
	Variants                       []string     // as named on set
	Needs                          []NeedLine
}

// NeedLine is one need on a docket.
type NeedLine struct {
	Need, Verdict, Why, Frame string
	Others                    int
}

// Angle is from where a picture was seen: in words, and drawn over it.
type Angle struct {
	Says, Why string
	Tall      float64 // height of the picture in shares of its width
	Rims      []angle.Seen
}

// DocketOf is the docket of a recipe; picture gives the address of a frame's
// picture, "" none, and views from where frames were seen.
func DocketOf(rec audit.Recipe, picture func(catalogue.FrameID) template.URL, views map[catalogue.FrameID]angle.Reading) Docket {
	d := Docket{ID: rec.ID, Title: rec.Title, Chapter: rec.Chapter, Pages: rec.Pages, Day: DayName(rec.Day),
		Frames: Counted(rec.Frames, "frame", "frames"), Strike: string(rec.Strike), StrikeWhy: StrikeSays(rec)}
	for _, v := range rec.Variants {
		d.Variants = append(d.Variants, VariantSays(v))
	}
	for _, f := range rec.Needs {
		n := NeedLine{Need: f.Need, Verdict: string(f.Verdict), Why: f.Why, Others: len(f.Others)}
		if f.Frame != nil {
			n.Frame = *f.Frame
		}
		d.Needs = append(d.Needs, n)
		if d.Picture == "" && f.Frame != nil {
			d.Picture, d.PictureOf, d.PictureID = picture(f.FrameID), f.Need, f.FrameID
			d.Angle = AngleOf(views[f.FrameID])
		}
	}
	return d
}

// AngleOf is what the page shows of a reading, nothing where it holds none.
func AngleOf(r angle.Reading) *Angle {
	if !r.Known {
		return nil
	}
	v := &Angle{Says: string(r.Class), Why: r.Why, Tall: r.Tall}
	if r.Class == plan.UnknownAngle {
		v.Says = "not sure"
	}
	if r.Tall > 0 {
		v.Rims = r.Rims
	}
	return v
}
