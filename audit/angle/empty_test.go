package angle

import (
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// A plate with something on it is an overhead; the same curve around nothing is
// a moon or a logo, and the other frames of its kind don't make it surer than a
// person's look.
func TestAMereDiscIsNoVessel(t *testing.T) {
	read := func(inside, outside uint8) Reading {
		f := seen(rim(0.5, 0.33, 0.2, 88, 0.95))
		g := &catalogue.Focus{Columns: 48, Rows: 32, Grid: make([]uint8, 48*32)}
		for i := range g.Grid {
			dx, dy := (float64(i%48)+0.5)/48-0.5, (float64(i/48)+0.5)/48-0.33
			g.Grid[i] = outside
			if dx*dx+dy*dy < 0.18*0.18 {
				g.Grid[i] = inside
			}
		}
		f.Look.Focus = g
		return Of(f)
	}
	if r := read(200, 0); r.Class != plan.Overhead {
		t.Errorf("a plate on a plain cloth: %+v", r)
	}
	if r := read(0, 200); r.Class != plan.UnknownAngle || !strings.Contains(r.Why, "mere disc") {
		t.Errorf("a disc on a cloth: %+v", r)
	}
	if r := read(0, 0); r.Class != plan.UnknownAngle {
		t.Errorf("a disc on nothing: %+v", r)
	}
	for _, f := range []*catalogue.Focus{nil, {}, {Columns: 4, Rows: 4, Grid: make([]uint8, 3)}, {Columns: 4, Rows: 3, Grid: make([]uint8, 12)}} {
		if empty(rim(0.5, 0.33, 0.2, 88, 0.95), f, 2.0/3) {
			t.Errorf("%+v: said to be empty", f)
		}
	}
}
