package audit

import (
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// Restated gives the decisions that must be said again when a shoot takes next
// as its plan, so that they keep to their dishes: those that hold, whose dish
// next has, and whose title is not the one that it has there. Without that a
// dish retitled now and renumbered later would lose them. Each has the id and
// the title of its dish in next; when and by whom it was said stays.
func Restated(s Shoot, next []plan.Recipe) []catalogue.Decision {
	was := placesOf(s.Recipes)
	heirs := heirsOf(s.Recipes, next)
	before, _ := Renumbered(s.Recipes, s.Decisions)
	var out []catalogue.Decision
	for _, d := range catalogue.Current(before) {
		i, ok := was[folding(d.Recipe)]
		if d.Recipe == "" || !ok || heirs[i] < 0 {
			continue
		}
		heir := next[heirs[i]]
		if folding(d.Title) == folding(heir.Title) && folding(d.Title) != "" {
			continue
		}
		d.ID, d.Act = 0, 0
		d.Recipe, d.Title = heir.ID, heir.Title
		out = append(out, d)
	}
	return out
}
