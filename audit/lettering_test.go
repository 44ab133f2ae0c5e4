package audit

import (
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// Where the plan wants text on the picture, its place is looked at: each verdict
// that can come of it.
func TestRoomForText(t *testing.T) {
	// A dish in the lower part of a standing page: centre and radius in shares
	// of the width, the page 1.5 as tall as it is wide.
	low, high, wide := dish(0.5, 1.1, 0.3), dish(0.5, 0.35, 0.3), dish(0.5, 0.75, 0.47)
	busy := func(f *catalogue.Frame) {
		m := f.Look.Matters
		for i := range m.Weight {
			if m.Weight[i] == 0 {
				m.Weight[i] = 120 // a woven cloth: it stands out, and is no dish
			}
		}
	}
	for _, c := range []struct {
		name  string
		frame change
		where plan.Lettering
		want  Verdict
		why   string // "" nothing is said of text
	}{
		{"nothing is asked", low, "", ToChoose, ""},
		{"room above", low, plan.LetteringTop, ToChoose, "room for text at the top"},
		{"the dish is where the text goes", high, plan.LetteringTop, ToReshoot, "of what matters lies at the top, where text is to stand: leave room there"},
		{"below it there is room", high, plan.LetteringBottom, ToChoose, "room for text at the bottom"},
		{"any edge that has room", high, plan.LetteringAny, ToChoose, "room for text at the bottom"},
		{"no edge has room", wide, plan.LetteringLeft, ToReshoot, "lies at the left"},
		{"empty, and not calm", with(low, busy), plan.LetteringTop, ToLook, "the top is empty but not calm"},
		{"nothing is known of the picture", sharpAs(0.8, 0.6), plan.LetteringTop, ToLook, "whether there is room for text at the top"},
	} {
		f := shotAt("a.JPG", 1, "R01")
		with(litAs(0, 0), sized(4000, 6000), c.frame)(&f)
		r := recipe("R01", "Dark rye", 12, plan.Hero)
		r.Orientation, r.Lettering = plan.AnyOrientation, c.where
		got := finding(Run(shootOf([]plan.Recipe{r}, []catalogue.Frame{f})), "R01", "hero")
		if got.Verdict != c.want || !strings.Contains(got.Why, c.why) || c.why == "" && strings.Contains(got.Why, "text") {
			t.Errorf("%s: %s (%s), want %s (%s)", c.name, got.Verdict, got.Why, c.want, c.why)
		}
	}
}
