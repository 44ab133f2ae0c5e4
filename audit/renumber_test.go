package audit

import (
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

func TestDecisionsKeepToTheirDish(t *testing.T) {
	titled := func(id, title string) plan.Recipe {
		r := recipe(id, title, 11, plan.Hero)
		return r
	}
	for _, c := range []struct {
		name         string
		plan         []plan.Recipe
		id, title    string
		want, ofNote string
	}{
		{"nothing changed", []plan.Recipe{titled("R07", "Dulse crisps")}, "R07", "Dulse crisps", "R07", ""},
		{"another case and accents", []plan.Recipe{titled("r07", "DULSE CRÌSPS")}, "R07", "Dulse crisps", "R07", ""},
		{"renumbered", []plan.Recipe{titled("R07", "Rye flatbread"), titled("R09", "Dulse crisps")}, "R07", "Dulse crisps", "R09", "is kept as of R09"},
		{"renumbered, its number gone", []plan.Recipe{titled("R09", "Dulse crisps")}, "R07", "Dulse crisps", "R09", "is kept as of R09"},
		{"called a little otherwise", []plan.Recipe{titled("R07", "Dulse crisps with salt")}, "R07", "Dulse crisps", "R07", ""},
		{"numbers exchanged with one called alike", []plan.Recipe{titled("R07", "Dulse crisps with salt"), titled("R08", "Dulse crisps")}, "R07", "Dulse crisps", "R08", "is kept as of R08"},
		{"another dish, its own cut", []plan.Recipe{titled("R07", "Rye flatbread")}, "R07", "Dulse crisps", "R07 (Dulse crisps)", "held back"},
		{"another dish, two of its title", []plan.Recipe{titled("R07", "Rye flatbread"), titled("R08", "Dulse crisps"), titled("R09", "Dulse crisps")}, "R07", "Dulse crisps", "R07 (Dulse crisps)", "held back"},
		{"cut", []plan.Recipe{titled("R08", "Rye flatbread")}, "R07", "Dulse crisps", "R07", ""},
		{"of an older version", []plan.Recipe{titled("R07", "Rye flatbread")}, "R07", "", "R07", ""},
		{"the plan has no title", []plan.Recipe{titled("R07", "")}, "R07", "Dulse crisps", "R07", ""},
	} {
		given := []catalogue.Decision{{ID: 1, Kind: catalogue.Assign, Frame: "f", Recipe: c.id, Title: c.title}, {ID: 2, Kind: catalogue.Waive, Recipe: c.id, Title: c.title, Need: "hero"}}
		got, notes := Renumbered(c.plan, given)
		if got[0].Recipe != c.want || got[1].Recipe != c.want {
			t.Errorf("%s: %s and %s, want %s", c.name, got[0].Recipe, got[1].Recipe, c.want)
		}
		if given[0].Recipe != c.id {
			t.Errorf("%s: what was handed over was changed", c.name)
		}
		switch {
		case c.ofNote == "" && len(notes) > 0, c.ofNote != "" && (len(notes) != 1 || !strings.Contains(notes[0].Says, c.ofNote)):
			t.Errorf("%s: notes %+v, want one of %q", c.name, notes, c.ofNote)
		}
	}
}

// What was decided of a dish before its plan was numbered anew is neither lost
// nor anybody else's.
func TestRunFollowsARenumberedRecipe(t *testing.T) {
	f := shotAt("a.JPG", 0, "R01")
	well(&f)
	decided := []catalogue.Decision{
		{ID: 1, Kind: catalogue.Assign, Frame: f.ID, Recipe: "R01", Title: "Dark rye"},
		{ID: 2, Kind: catalogue.Choose, Frame: f.ID, Recipe: "R01", Title: "Dark rye", Need: "hero"},
	}
	r := Run(shootOf([]plan.Recipe{recipe("R01", "Barley broth", 11, plan.Hero), recipe("R02", "Dark rye", 13, plan.Hero)}, []catalogue.Frame{f}, decided...))
	if r.Matches[0].Recipe != "R02" || finding(r, "R02", "hero").Verdict == ToShoot || finding(r, "R01", "hero").Verdict != ToShoot {
		t.Errorf("%+v", r.Recipes)
	}
	gone := Run(shootOf([]plan.Recipe{recipe("R01", "Barley broth", 11, plan.Hero)}, []catalogue.Frame{f}, decided...))
	if gone.Matches[0].Recipe != "" || finding(gone, "R01", "hero").Verdict != ToShoot {
		t.Errorf("the dish is gone, its frame is %q's", gone.Matches[0].Recipe)
	}
}
