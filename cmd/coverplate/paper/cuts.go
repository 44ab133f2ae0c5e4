package paper

import (
	"html/template"
	"slices"

	"coverplate/audit"
	"coverplate/audit/crop"
)

// CutLine is a cut drawn over its picture, lengths in shares of the picture's
// width.
type CutLine struct {
	Name, Says     string
	Works          string // yes, look, no: the line is whole, dashed, dotted
	X, Y, W, H     float64
	TX, TY, TW, TH float64 // what is left after the trim; TW 0 none
	FX, FW         float64 // the zone of the fold; FW 0 none
	LX, LY         float64 // where its letter stands
	Drawn          bool    // false where it doesn't serve and others do
}

// Cuts is a picture with the cuts that one need takes of it.
type Cuts struct {
	Need    string
	Picture template.URL
	Frame   string
	Tall    float64 // height of the picture in shares of its width
	Cuts    []CutLine
}

// CutsOf is what the page shows of the cuts of one picture of w × h pixels;
// nil where there is none.
func CutsOf(need, frame string, picture template.URL, w, h int, cuts []audit.Cut) *Cuts {
	if picture == "" || w <= 0 || h <= 0 || len(cuts) == 0 {
		return nil
	}
	serves := slices.ContainsFunc(cuts, func(c audit.Cut) bool { return c.Works != crop.No })
	v := &Cuts{Need: need, Picture: picture, Frame: frame, Tall: float64(h) / float64(w)}
	unit := 1 / float64(w)
	for i, c := range cuts {
		if c.Rect.Width <= 0 || c.Rect.Height <= 0 {
			continue
		}
		name := c.For
		if c.Own {
			name += ", a person's"
		}
		one := CutLine{Name: name, Says: c.Says, Works: string(c.Works), Drawn: !serves || c.Works != crop.No,
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
