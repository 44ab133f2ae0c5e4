package audit

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

func callsIt(id int64, recipe, name, frame string, from time.Time) catalogue.Decision {
	d := catalogue.Decision{ID: id, Kind: catalogue.Variant, Recipe: recipe, Name: name, From: from}
	if frame != "" {
		d.Frame = catalogue.FrameID("id-" + frame)
	}
	return d
}

func TestVariants(t *testing.T) {
	rows := []plan.Recipe{recipe("R01", "Rye", 10, plan.Hero, plan.Options), recipe("R02", "Broth", 12, plan.Hero)}
	var frames []catalogue.Frame
	for i, name := range []string{"a", "b", "c", "d", "e"} {
		frames = append(frames, shotAt(name, float64(i), "R01"))
	}
	next := shotAt("f", 0, "R01")
	next.Taken = next.Taken.Add(24 * time.Hour)
	frames = append(frames, next, shotAt("g", 2.5, "R02"))
	nine := frames[0].Taken
	r := Run(shootOf(rows, frames, chose(1, "c", "hero", "R01"),
		callsIt(2, "R01", "bare", "b", time.Time{}), callsIt(3, "R01", "With Garnish", "", nine.Add(2*time.Minute)),
		callsIt(4, "R01", "", "", nine.Add(4*time.Minute)), callsIt(5, "R01", "torn herbs", "", nine.Add(time.Hour)),
		callsIt(6, "R09", "x", "", nine), callsIt(7, "R01", "gone", "zz", time.Time{})))
	var got []string
	for _, v := range r.Recipes[0].Variants {
		got = append(got, fmt.Sprintf("%q %d %s|%s", v.Name, v.Frames, strings.Join(v.Chosen, ","), strings.Join(v.May, ",")))
	}
	// a, e and the next day's f are of none; g is of another dish.
	want := `"" 3 |hero,options 2; "bare" 1 |hero,options 2; "With Garnish" 2 hero|options 2; "torn herbs" 0 |`
	if s := strings.Join(got, "; "); s != want {
		t.Errorf("%s\nwant %s", s, want)
	}
	if f := finding(r, "R01", "hero"); f.Variant != "With Garnish" {
		t.Errorf("the hero shows %q", f.Variant)
	}
	if len(r.Recipes[1].Variants) != 0 {
		t.Errorf("nothing was named of R02: %+v", r.Recipes[1].Variants)
	}
	if !hasNote(r, "decision", `a variant of R09 is named "x", but the plan has no R09`) || !hasNote(r, "decision", `the frame at which "gone" of R01 begins is no longer`) {
		t.Errorf("notes %v", r.Notes)
	}
}

// Two frames of one picture are one set-up, until a person names what differs
// or the camera was turned.
func TestOptionsTellSetUpsApart(t *testing.T) {
	light := func(f catalogue.Frame) catalogue.Frame { // surfaces by which one picture is known
		f.Look.Focus, f.Look.Light = &catalogue.Focus{Score: 0.8}, &catalogue.Light{}
		cellsOf(&f.Look, 7, 1)
		return f
	}
	turned := func(f catalogue.Frame) catalogue.Frame {
		f.Look.Width, f.Look.Height = f.Look.Height, f.Look.Width
		return f
	}
	both := []catalogue.Decision{chose(1, "a", "options 2", "R01"), chose(2, "b", "options 2", "R01")}
	for _, c := range []struct {
		name    string
		a, b    catalogue.Frame
		said    []catalogue.Decision
		verdict Verdict
		why     string
	}{
		{"one picture twice", light(shotAt("a", 0, "R01")), light(shotAt("b", 1, "R01")), both, ToLook, "2 frames chosen, but a and b seem to show one"},
		{"one picture twice, nobody chose", light(shotAt("a", 0, "R01")), light(shotAt("b", 1, "R01")), nil, ToLook, "they seem to show 1 set-up alone"},
		{"two variants", light(shotAt("a", 0, "R01")), light(shotAt("b", 1, "R01")), append(both, callsIt(3, "R01", "bare", "b", time.Time{})), Settled, "a (portrait), b (bare, portrait)"},
		{"not known to be one picture", shotAt("a", 0, "R01"), shotAt("b", 1, "R01"), both, Settled, "2 chosen by hand"},
		{"turned", light(shotAt("a", 0, "R01")), turned(light(shotAt("b", 1, "R01"))), both, Settled, "b (landscape)"},
	} {
		row := recipe("R01", "Rye", 10, plan.Options)
		row.Orientation = plan.AnyOrientation
		f := finding(Run(shootOf([]plan.Recipe{row}, []catalogue.Frame{c.a, c.b}, c.said...)), "R01", "options 2")
		if f.Verdict != c.verdict || !strings.Contains(f.Why, c.why) {
			t.Errorf("%s: %s, %q; want %s, %q", c.name, f.Verdict, f.Why, c.verdict, c.why)
		}
	}
}
