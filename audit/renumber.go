package audit

import (
	"fmt"
	"slices"
	"strings"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// A plan is numbered anew now and then, and R07 is another dish. What people
// decided keeps to the dish: it holds the title that the recipe had.

// Renumbered returns decisions with the ids that their recipes have in this
// plan, in the same order; all is not changed. One whose title only another
// recipe has follows it there. One whose id now stands for another dish, and
// whose own is not in the plan, is held back: its id gets the title besides, so
// that no recipe has it. Notes say both, once a recipe. A decision without a
// title, as older versions made them, is taken by its id.
func Renumbered(recipes []plan.Recipe, all []catalogue.Decision) ([]catalogue.Decision, []Note) {
	ids, titles := map[string]plan.Recipe{}, map[string][]plan.Recipe{}
	for _, r := range recipes {
		if key := folding(r.ID); key != "" {
			if _, twice := ids[key]; !twice {
				ids[key] = r
			}
		}
		if key := folding(r.Title); key != "" {
			titles[key] = append(titles[key], r)
		}
	}
	all = slices.Clone(all)
	var notes []Note
	said := map[[2]string]bool{}
	for i, d := range all {
		if d.Recipe == "" || folding(d.Title) == "" {
			continue
		}
		r, known := ids[folding(d.Recipe)]
		if known && (folding(r.Title) == "" || sameTitle(r.Title, d.Title)) {
			continue
		}
		as := titles[folding(d.Title)]
		note := Note{Kind: "decision"}
		switch {
		case len(as) == 1:
			all[i].Recipe = as[0].ID
			note.Recipe = as[0].ID
			note.Says = fmt.Sprintf("%s, %q, has another number in the plan now: what was decided of it is kept as of %s", d.Recipe, d.Title, as[0].ID)
		case known:
			all[i].Recipe = fmt.Sprintf("%s (%s)", d.Recipe, d.Title)
			note.Says = fmt.Sprintf("%s was %q when things were decided of it, and is %q in the plan now: those decisions are held back; say again what still holds", d.Recipe, d.Title, r.Title)
		default:
			continue // whoever uses it says that the plan has no such recipe
		}
		if key := [2]string{d.Recipe, d.Title}; !said[key] {
			said[key] = true
			notes = append(notes, note)
		}
	}
	return all, notes
}

// folding is a name as it is compared: its words, whatever their case and
// accents.
func folding(name string) string { return strings.Join(words(name), " ") }

// sameTitle tells whether two titles may be one dish's, the one as it was
// called before: half of their words are common.
func sameTitle(a, b string) bool {
	x, y := words(a), words(b)
	common := 0
	for _, w := range x {
		if i := slices.Index(y, w); i >= 0 {
			common++
			y = slices.Delete(y, i, i+1)
		}
	}
	return 2*common >= len(x)+len(y)
}
