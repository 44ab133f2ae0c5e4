package main

import (
	"encoding/base64"
	"html/template"
	"slices"

	"coverplate/audit"
	"coverplate/audit/crop"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

// cutView is a cut drawn over its picture, lengths in shares of the picture's
// width.
type cutView struct {
	Name, Says     string
	Works          string // yes, look, no: the line is whole, dashed, dotted
	X, Y, W, H     float64
	TX, TY, TW, TH float64 // what is left after the trim; TW 0 none
	FX, FW         float64 // the zone of the fold; FW 0 none
	LX, LY         float64 // where its letter stands
	Drawn          bool    // false where it doesn't serve and others do
}

// cutsView is a picture with the cuts that one need takes of it.
type cutsView struct {
	Need    string
	Picture template.URL
	Frame   string
	Tall    float64 // height of the picture in shares of its width
	Cuts    []cutView
}

// cutsViewOf is what the page shows of the cuts of one picture of w × h pixels;
// nil where there is none.
func cutsViewOf(need, frame string, picture template.URL, w, h int, cuts []audit.Cut) *cutsView {
	if picture == "" || w <= 0 || h <= 0 || len(cuts) == 0 {
		return nil
	}
	serves := slices.ContainsFunc(cuts, func(c audit.Cut) bool { return c.Works != crop.No })
	v := &cutsView{Need: need, Picture: picture, Frame: frame, Tall: float64(h) / float64(w)}
	unit := 1 / float64(w)
	for i, c := range cuts {
		if c.Rect.Width <= 0 || c.Rect.Height <= 0 {
			continue
		}
		name := c.For
		if c.Own {
			name += ", a person's"
		}
		one := cutView{Name: name, Says: c.Says, Works: string(c.Works), Drawn: !serves || c.Works != crop.No,
			X: float64(c.Rect.X) * unit, Y: float64(c.Rect.Y) * unit, W: float64(c.Rect.Width) * unit, H: float64(c.Rect.Height) * unit}
		if c.Trim != [4]float64{} {
			one.TX, one.TY = one.X+c.Trim[0]*one.W, one.Y+c.Trim[1]*one.H
			one.TW, one.TH = one.W*(1-c.Trim[0]-c.Trim[2]), one.H*(1-c.Trim[1]-c.Trim[3])
		}
		if c.Fold > 0 {
			one.FX, one.FW = one.X+one.W*(0.5-c.Fold), 2*c.Fold*one.W
		}
		// Letters stand in the corners in turn, so that none hides another.
		one.LX, one.LY = one.X+0.035, one.Y+0.05
		if i%2 == 1 {
			one.LX = one.X + one.W - 0.035
		}
		if i/2%2 == 1 {
			one.LY = one.Y + one.H - 0.05
		}
		v.Cuts = append(v.Cuts, one)
	}
	if len(v.Cuts) == 0 {
		return nil
	}
	return v
}

// boxesOf are cuts as look draws them; those that don't serve are left out where
// others do.
func boxesOf(cuts []audit.Cut, w, h int) []look.Box {
	if w <= 0 || h <= 0 {
		return nil
	}
	serves := slices.ContainsFunc(cuts, func(c audit.Cut) bool { return c.Works != crop.No })
	var out []look.Box
	for i, c := range cuts {
		if c.Rect.Width <= 0 || serves && c.Works == crop.No {
			continue
		}
		out = append(out, look.Box{X: float64(c.Rect.X) / float64(w), Y: float64(c.Rect.Y) / float64(h),
			Width: float64(c.Rect.Width) / float64(w), Height: float64(c.Rect.Height) / float64(h), Dashed: c.Works != crop.Yes, Name: letterOf(i), Corner: i % 4, Fold: c.Fold})
	}
	return out
}

// drawings are what a report draws over its pictures.
type drawings struct {
	// cuts gives the size of the frame a finding speaks of and how it is cut.
	cuts func(audit.Finding) (w, h int, cuts []audit.Cut)

	// seen draws what was measured of a frame over its preview, a JPEG; its
	// errors are not the report's.
	seen func(catalogue.FrameID) ([]byte, error)
}

// seenSide is the long side of what is drawn into a page, pixels.
const seenSide = 340

// drawingsOf are the drawings of the frames of a shoot.
func (s shoot) drawingsOf(g gathered) drawings {
	pictures := s.pictures(g.Frames)
	looks := map[catalogue.FrameID]catalogue.Look{}
	for _, f := range g.Frames {
		looks[f.ID] = f.Look
	}
	return drawings{cutter(g), func(id catalogue.FrameID) ([]byte, error) {
		preview, err := pictures(id)
		if err != nil || len(preview) == 0 {
			return nil, err
		}
		return look.Draw(preview, looks[id], look.Drawing{Side: seenSide, Bare: true})
	}}
}

// inPage is a JPEG as a page holds it; "" where there is none.
func inPage(b []byte, err error) template.URL {
	if err != nil || len(b) == 0 {
		return ""
	}
	return template.URL("data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(b))
}

// cutter gives the cuts that a page shows of a finding.
func cutter(g gathered) func(audit.Finding) (w, h int, cuts []audit.Cut) {
	c := audit.NewCutter(g.Shoot)
	looks := map[catalogue.FrameID]catalogue.Look{}
	for _, f := range g.Frames {
		looks[f.ID] = f.Look
	}
	return func(f audit.Finding) (int, int, []audit.Cut) {
		l := looks[f.FrameID]
		return l.Width, l.Height, c.Of(f)
	}
}
