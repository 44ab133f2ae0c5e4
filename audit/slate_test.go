package audit

import (
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

func slated(recipe string) change {
	return func(f *catalogue.Frame) {
		f.Look.Slate = &catalogue.Slate{Text: "slate " + recipe, Recipe: recipe}
		f.Subjects = nil
	}
}

// A frame with a slate is never coverage, well as it may pass every other test
// and whoever chose it.
func TestASlateIsNeverCoverage(t *testing.T) {
	recipes := []plan.Recipe{recipe("R01", "Dark rye", 11, plan.Hero, plan.NeedOverhead, plan.Half, plan.Palette)}
	f := shotAt("a.JPG", 0, "R01")
	well(&f)
	if got := finding(Run(shootOf(recipes, []catalogue.Frame{f})), "R01", "hero").Verdict; got != ToChoose {
		t.Fatalf("without a slate: %s", got)
	}
	slated("R01")(&f)
	for name, said := range map[string][]catalogue.Decision{
		"nobody chose it": nil,
		"a person chose":  {chose(1, "a.JPG", "hero", "R01")},
	} {
		r := Run(shootOf(recipes, []catalogue.Frame{f}, said...))
		got := finding(r, "R01", "hero")
		if got.Verdict == ToChoose || got.Verdict == Settled || got.Verdict == ToLook || !strings.Contains(got.Why, "it is a slate") {
			t.Errorf("%s: %s, %s", name, got.Verdict, got.Why)
		}
		for _, need := range []string{"overhead", "half", "palette"} {
			if got := finding(r, "R01", need); got.Verdict == ToChoose || got.Verdict == Settled || got.Verdict == ToLook {
				t.Errorf("%s: %s: %s, %s", name, need, got.Verdict, got.Why)
			}
		}
		if roles := r.Roles[0].Roles; len(roles) == 0 || r.Roles[0].Set != 0 {
			t.Errorf("%s: roles %+v", name, r.Roles[0])
		}
	}
	// A clock's code is a card in the picture as well.
	f.Look.Slate = &catalogue.Slate{Text: "clock"}
	if got := finding(Run(shootOf(recipes, []catalogue.Frame{f}, assigned(1, "a.JPG", "R01"))), "R01", "hero"); got.Verdict == ToChoose {
		t.Errorf("clock: %s, %s", got.Verdict, got.Why)
	}
}

// A slate that another shoot printed is named, and places nothing.
func TestASlateOfAnotherShootPlacesNothing(t *testing.T) {
	for _, c := range []struct {
		ours, theirs string
		placed       bool
	}{{"K7Q2M", "K7Q2M", true}, {"K7Q2M", "ZZZZZ", false}, {"K7Q2M", "", true}} {
		f := shotAt("a.JPG", 0, "")
		slated("R01")(&f)
		f.Look.Slate.Shoot = c.theirs
		s := shootOf(dishes, []catalogue.Frame{f})
		s.ID = c.ours
		if got := matchOf(t, s, "a.JPG").Recipe == "R01"; got != c.placed {
			t.Errorf("a slate of %q in the shoot %q: placed %v, want %v", c.theirs, c.ours, got, c.placed)
		}
		named := false
		for _, n := range Run(s).Notes {
			named = named || strings.Contains(n.Says, "its slate is of another shoot, "+c.theirs)
		}
		if named == c.placed {
			t.Errorf("a slate of %q in the shoot %q: named %v", c.theirs, c.ours, named)
		}
	}
}
