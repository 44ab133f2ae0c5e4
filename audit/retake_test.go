package audit

import (
	"fmt"
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// A dish is retitled, then renumbered while its number goes to another dish,
// then retitled again: what was decided of it holds at every step.
func TestDecisionsKeepToADishThroughManyPlans(t *testing.T) {
	waived := func(id int64, recipe, title, need string) catalogue.Decision {
		return catalogue.Decision{ID: id, Kind: catalogue.Waive, Recipe: recipe, Title: title, Need: need, Who: "una"}
	}
	row := func(id, title string) plan.Recipe { return recipe(id, title, 10, plan.Hero, plan.Half) }
	s := shootOf([]plan.Recipe{row("R07", "Leek tart"), row("R08", "Kelp soup"), row("R09", "Plums")}, nil,
		waived(1, "R07", "Leek tart", "half"),
		waived(2, "R08", "", "half"), // of a version that kept no titles
		waived(3, "R09", "Plums", "half"))
	holds := func() string {
		decided, _ := Renumbered(s.Recipes, s.Decisions)
		titles := map[string]string{}
		for _, r := range s.Recipes {
			titles[r.ID] = r.Title
		}
		var all []string
		for _, d := range catalogue.Current(decided) {
			if titles[d.Recipe] != "" {
				all = append(all, titles[d.Recipe]+" by "+d.Who)
			}
		}
		return strings.Join(all, ", ")
	}
	for i, c := range []struct {
		next []plan.Recipe
		said int
		want string
	}{
		{[]plan.Recipe{row("R07", "Leek tart with thyme"), row("R08", "Kelp soup"), row("R09", "Plums")}, 2, "Plums, Leek tart with thyme, Kelp soup"},
		{[]plan.Recipe{row("R07", "Barley"), row("R08", "Leek tart with thyme"), row("R10", "Kelp soup")}, 0, "Leek tart with thyme, Kelp soup"},
		{[]plan.Recipe{row("R08", "Thyme tart with leek"), row("R10", "Kelp soup")}, 1, "Kelp soup, Thyme tart with leek"},
		{[]plan.Recipe{row("R01", "Thyme tart with leek"), row("R08", "Kelp soup")}, 0, "Kelp soup, Thyme tart with leek"},
	} {
		again := Restated(s, c.next)
		if len(again) != c.said {
			t.Errorf("plan %d: %d said again, want %d: %+v", i, len(again), c.said, again)
		}
		for _, d := range again {
			d.ID = int64(len(s.Decisions) + 1)
			s.Decisions = append(s.Decisions, d)
		}
		s.Recipes = c.next
		want := strings.ReplaceAll(c.want, ",", " by una,") + " by una"
		if got := holds(); got != want {
			t.Errorf("plan %d: %s, want %s", i, got, want)
		}
		if again := Restated(s, c.next); len(again) != 0 {
			t.Errorf("plan %d: taken a second time it says again %s", i, fmt.Sprint(again))
		}
	}
}
