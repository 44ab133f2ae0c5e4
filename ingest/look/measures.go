package look

import (
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// measure fills into l all that is measured on planes; raster is the same
// picture for what goes by colour. What matters stands out the more the sharper
// it is, and the focus of the frame is that of what matters: so the grid of
// focus comes first, and its score, with the light, last.
func (p planes) measure(l *catalogue.Look, raster colour.Raster) {
	d := detailsOf(p.y, p.width, p.height)
	l.Focus = d.focus(p.overlap, nil)
	l.Rims = p.rims()
	l.Matters = weigh(raster, l.Focus, l.Rims)
	l.Focus = d.focus(p.overlap, l.Matters)
	l.Light = p.light(d, l.Matters)
}
