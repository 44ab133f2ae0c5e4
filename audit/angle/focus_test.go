package angle

import (
	"math"
	"strings"
	"testing"

	"coverplate/ingest/catalogue"
)

// The blur at the far edge by the geometry of a thin lens, worked out by hand
// from the similar triangles at the pupil: 50 mm f/2 on a full frame, aimed at
// a table 800 mm away at 45°. The far edge of 24 mm height stands 12/50·… of the
// axis above it and meets the table at d/(1 − t), t = 0.24.
func TestFarBlur(t *testing.T) {
	s := sight{height: 24.0 / 36}
	s.frame.Look.Width, s.frame.Look.Height = 6000, 4000
	s.frame.Exposure = catalogue.Exposure{FocalLength: 50, Focal35: 50, FNumber: 2, SubjectDistance: 0.8}
	far := 800 / (1 - 0.24)
	image := func(u float64) float64 { return 1 / (1/50.0 - 1/u) } // thin lens
	disc := 25 * (image(800) - image(far)) / image(far)            // millimetres on the sensor
	want := disc / 36 * 768
	if got, ok := s.farBlur(45); !ok || !(math.Abs(got-want) <= 0.01*want) {
		t.Errorf("blur %.3f pixels (%v), want %.3f", got, ok, want)
	}
	// Straight down there is no far edge; across the table it is the horizon.
	if got, _ := s.farBlur(90); !(got < 1e-9) {
		t.Errorf("straight down: %g", got)
	}
	horizon := 25 * (image(800) - 50) / 50 / 36 * 768
	if got, _ := s.farBlur(10); !(math.Abs(got-horizon) <= 0.01*horizon) {
		t.Errorf("over the horizon: %.2f, want %.2f", got, horizon)
	}
	// In portrait the long side is the height.
	p := s
	p.height = 1.5
	p.frame.Exposure.SubjectDistance = 0.8
	farther := 800 / (1 - 18.0/50)
	want = 25 * (image(800) - image(farther)) / image(farther) / 36 * 768
	if got, _ := p.farBlur(45); !(math.Abs(got-want) <= 0.01*want) {
		t.Errorf("portrait: %.3f, want %.3f", got, want)
	}
	// Cut, nothing is known of the far edge.
	p.frame.Exposure.Cut = true
	if _, ok := p.farBlur(45); ok {
		t.Error("a cut picture has a blur")
	}
	// Without a distance a plate of 30 cm gives it: as wide as half of the
	// picture, 36 mm at 50 mm, it is 833 mm away.
	s.frame.Exposure.SubjectDistance = 0
	s.views = []view{{rim: catalogue.Rim{A: 0.25}, trust: 0.9}}
	guessed, _ := s.farBlur(45)
	s.frame.Exposure.SubjectDistance = 300 / 0.5 * 50 / 36 / 1000
	if told, _ := s.farBlur(45); !(math.Abs(guessed-told) <= 1e-9) {
		t.Errorf("by the plate %.4f, by its distance %.4f", guessed, told)
	}
	for _, e := range []catalogue.Exposure{{}, {FocalLength: 50, FNumber: 2}, {Focal35: 50, FNumber: 2}, {FocalLength: 50, Focal35: 50}, {FocalLength: 5000, Focal35: 5000, FNumber: 2, SubjectDistance: 1}} {
		s.frame.Exposure = e
		if _, ok := s.farBlur(45); ok {
			t.Errorf("%+v: a blur", e)
		}
	}
}

// Even focus argues for an overhead where the lens would have blurred the far
// edge of a table seen aslant, and for nothing where it would not.
func TestFocusSpeaksWhereTheLensAllows(t *testing.T) {
	even := &catalogue.Focus{Columns: 12, Rows: 32, Grid: make([]uint8, 12*32)}
	for i := range even.Grid {
		even.Grid[i] = 90
	}
	read := func(fNumber float64, focus *catalogue.Focus) Reading {
		f := seen(rim(0.5, 0.33, 0.2, 79, 0.6))
		f.Look.Focus = focus
		f.Exposure = catalogue.Exposure{FocalLength: 50, Focal35: 50, FNumber: fNumber, SubjectDistance: 0.8}
		return Of(f)
	}
	// Against the same frame without a focus grid: the lens's own nudge is in both.
	adds := func(n float64) float64 { return read(n, even).Overhead - read(n, nil).Overhead }
	if open, middle, closed := adds(3), adds(6.3), adds(22); !(open > middle+0.01 && middle > 0.01 && closed == 0) {
		t.Errorf("even focus adds %.3f at f/3, %.3f at f/6.3 and %.3f at f/22", open, middle, closed)
	}
	if why := read(4, even).Why; !strings.Contains(why, "; focus even across the frame; 50 mm f/4") {
		t.Error(why)
	}
	if why := read(22, even).Why; !strings.Contains(why, "focus even across the frame, as f/22 makes it at any angle; 50 mm f/22") {
		t.Error(why)
	}
}

func TestFallOfFocus(t *testing.T) {
	grid := func(at func(row int) uint8) *catalogue.Focus {
		f := &catalogue.Focus{Columns: 12, Rows: 32, Grid: make([]uint8, 12*32)}
		for i := range f.Grid {
			f.Grid[i] = at(i / 12)
		}
		return f
	}
	even, ok := fall(grid(func(int) uint8 { return 90 }))
	if !ok || even != 0 {
		t.Errorf("even: %g, %v", even, ok)
	}
	// Of an exponential over the height the logarithm's slope is its exponent.
	soft, _ := fall(grid(func(r int) uint8 { return uint8(100*math.Exp(0.8*(float64(r)+0.5)/32) - 2) }))
	if !(math.Abs(soft-0.8*7/8) <= 0.05) { // from the middle of the first band to that of the last: 7/8 of the height
		t.Errorf("exponential: %.3f, want %.3f", soft, 0.8*7/8)
	}
	for _, f := range []*catalogue.Focus{nil, {}, grid(func(int) uint8 { return leastHeld - 1 }), {Columns: 12, Rows: 32}, {Columns: 3, Rows: 4, Grid: make([]uint8, 12)}} {
		if _, ok := fall(f); ok {
			t.Errorf("%+v: told", f)
		}
	}
	// A fall speaks against an overhead, evenness for it.
	at := func(f *catalogue.Focus) float64 {
		s := seen(rim(0.5, 0.33, 0.2, 76, 0.5))
		s.Look.Focus = f
		return Of(s).Overhead
	}
	none, flat, falls := at(nil), at(grid(func(int) uint8 { return 90 })), at(grid(func(r int) uint8 { return uint8(40 + 3*r) }))
	if !(flat > none+0.02 && falls < none-0.05) {
		t.Errorf("overhead %.2f, %.2f where focus is even, %.2f where it falls", none, flat, falls)
	}
}
