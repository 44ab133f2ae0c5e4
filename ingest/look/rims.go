package look

import (
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look/rims"
)

// rims seeks the round rims of vessels and the straight edges of tables, boards
// and trays, in the codes that people see: an edge in a shadow counts as much as
// one in the light.
func (p planes) rims() ([]catalogue.Rim, []catalogue.Line) {
	found, straight := rims.Find(p.seen())
	out := make([]catalogue.Rim, len(found))
	for i, r := range found {
		out[i] = catalogue.Rim{X: r.X, Y: r.Y, A: r.A, B: r.B, Turn: r.Turn, Cover: r.Cover, Support: r.Support, Score: r.Score}
	}
	lines := make([]catalogue.Line, len(straight))
	for i, l := range straight {
		lines[i] = catalogue.Line(l)
	}
	return out, lines
}

// seen is the picture in codes of sRGB.
func (p planes) seen() rims.Picture {
	table := sRGBCodes()
	pix := make([]uint8, 4*len(p.r))
	for c, plane := range [][]float32{p.r, p.g, p.b} {
		for i, v := range plane {
			pix[4*i+c] = table[int(min(1, max(0, v))*(codes-1)+0.5)]
		}
	}
	return rims.Picture{Width: p.width, Height: p.height, Pix: pix}
}
