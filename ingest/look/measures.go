package look

import "coverplate/ingest/catalogue"

// measure fills into l all that is measured on planes.
func (p planes) measure(l *catalogue.Look) {
	l.Rims = p.rims()
}
