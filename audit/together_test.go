package audit

import (
	"slices"
	"testing"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

func TestTogether(t *testing.T) {
	var frames []catalogue.Frame
	for i, name := range []string{"a.JPG", "b.JPG", "c.JPG"} { // a set that its subject names
		frames = append(frames, shotAt(name, float64(i), "Dark rye"))
	}
	for i, name := range []string{"k.JPG", "l.JPG", "m.JPG", "n.JPG"} { // nobody knows
		frames = append(frames, shotAt(name, 300+[]float64{0, 1, 2, 60}[i]))
	}
	other := shotAt("x.JPG", 301)
	other.Camera.Serial = "SK-2"
	frames = append(frames, other)
	s := shootOf([]plan.Recipe{recipe("R01", "Dark rye", 11, plan.Hero)}, frames)
	for _, c := range []struct {
		frame string
		want  []catalogue.FrameID
	}{
		{"b.JPG", []catalogue.FrameID{"id-b.JPG", "id-a.JPG", "id-c.JPG"}},
		{"l.JPG", []catalogue.FrameID{"id-l.JPG", "id-k.JPG", "id-m.JPG"}},
		{"n.JPG", []catalogue.FrameID{"id-n.JPG"}},
		{"x.JPG", []catalogue.FrameID{"id-x.JPG"}},
	} {
		if got := Together(s, Run(s), catalogue.FrameID("id-"+c.frame)); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.frame, got, c.want)
		}
	}
	s.Decisions = []catalogue.Decision{{ID: 1, Kind: catalogue.Assign, Frame: "id-k.JPG"}}
	if got := Together(s, Run(s), "id-l.JPG"); slices.Contains(got, "id-k.JPG") {
		t.Errorf("%v: a person has spoken of k.JPG", got)
	}
}
