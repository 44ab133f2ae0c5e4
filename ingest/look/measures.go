package look

import (
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// measure fills into l all that is measured on planes; raster is the same
// picture for what goes by colour. What matters stands out the more the sharper
// it is, and motion and light are of what matters: so the grid of focus comes
// first.
func (p planes) measure(l *catalogue.Look, raster colour.Raster) {
	d := detailsOf(p.y, p.width, p.height)
	floor := d.noise(p.overlap)
	l.Focus = d.focus(floor)
	l.Rims, l.Lines = p.rims()
	l.Matters = weigh(raster, l.Focus, l.Rims)
	if f := l.Focus; f != nil {
		f.Motion, f.Direction = d.motion(placeOf(l.Matters, d.cols, d.rows), floor.single)
	}
	l.Light = p.light(l.Matters)
}
