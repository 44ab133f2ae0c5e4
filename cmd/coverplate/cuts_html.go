package main

import (
	"encoding/base64"
	"html/template"
	"slices"

	"coverplate/audit"
	"coverplate/audit/crop"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

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
			Width: float64(c.Rect.Width) / float64(w), Height: float64(c.Rect.Height) / float64(h), Dashed: c.Works != crop.Yes, Name: paper.Letter(i), Corner: i % 4, Fold: c.Fold})
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

// unfold gives the frames that findings of a report speak of their maps, where g
// came without.
func (g *gathered) unfold(r audit.Report) error {
	at := map[catalogue.FrameID]int{}
	for i, f := range g.Frames {
		at[f.ID] = i
	}
	var ids []catalogue.FrameID
	for _, rec := range r.Recipes {
		for _, f := range rec.Needs {
			if _, ok := at[f.FrameID]; ok && !slices.Contains(ids, f.FrameID) {
				ids = append(ids, f.FrameID)
			}
		}
	}
	if g.Maps == nil || len(ids) == 0 {
		return nil
	}
	maps, err := g.Maps(ids)
	if err != nil {
		return err
	}
	for k, id := range ids {
		l := &g.Frames[at[id]].Look
		*l = l.With(maps[k])
	}
	return nil
}

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
