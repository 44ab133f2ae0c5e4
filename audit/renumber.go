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
	n := numberingOf(recipes)
	all = slices.Clone(all)
	var notes []Note
	said := map[[2]string]bool{}
	for i, d := range all {
		if d.Recipe == "" || folding(d.Title) == "" {
			continue
		}
		at, how := n.follow(d.Recipe, d.Title)
		note := Note{Kind: "decision"}
		switch how {
		case elsewhere:
			all[i].Recipe = recipes[at].ID
			note.Recipe = recipes[at].ID
			note.Says = fmt.Sprintf("%s, %q, has another number in the plan now: what was decided of it is kept as of %s", d.Recipe, d.Title, recipes[at].ID)
		case anotherDish:
			all[i].Recipe = fmt.Sprintf("%s (%s)", d.Recipe, d.Title)
			note.Says = fmt.Sprintf("%s was %q when things were decided of it, and is %q in the plan now: those decisions are held back; say again what still holds", d.Recipe, d.Title, recipes[at].Title)
		default:
			continue // where it is nowhere, whoever uses it says that the plan has no such recipe
		}
		if key := [2]string{d.Recipe, d.Title}; !said[key] {
			said[key] = true
			notes = append(notes, note)
		}
	}
	return all, notes
}

// numbering is the places of a plan's recipes by id and by title, both folded.
type numbering struct {
	recipes []plan.Recipe
	ids     map[string]int   // the first of each
	titles  map[string][]int // all of each
}

func numberingOf(recipes []plan.Recipe) numbering {
	n := numbering{recipes, placesOf(recipes), map[string][]int{}}
	for i, r := range recipes {
		if key := folding(r.Title); key != "" {
			n.titles[key] = append(n.titles[key], i)
		}
	}
	return n
}

// placesOf gives the place of each recipe by its folded id, the first of each.
func placesOf(recipes []plan.Recipe) map[string]int {
	places := map[string]int{}
	for i, r := range recipes {
		key := folding(r.ID)
		if _, twice := places[key]; !twice && key != "" {
			places[key] = i
		}
	}
	return places
}

// found tells how a dish was found in a plan.
type found int

const (
	nowhere     found = iota
	sameDish          // under its id
	elsewhere         // under another id, by its title
	anotherDish       // its id stands for another dish, and itself is not there, or can't be told
)

// follow finds a dish by the id and the title that it had. The very title goes
// before the id: of "Leek tart" and "Leek tart with thyme" with their numbers
// exchanged neither is the other. A title that is not known, here or there, is
// not asked.
func (n numbering) follow(id, title string) (at int, how found) {
	at, known := n.ids[folding(id)]
	key := folding(title)
	if known && (key == "" || folding(n.recipes[at].Title) == "" || folding(n.recipes[at].Title) == key) {
		return at, sameDish
	}
	switch as := n.titles[key]; {
	case len(as) == 1:
		return as[0], elsewhere
	case known && len(as) == 0 && sameTitle(n.recipes[at].Title, title):
		return at, sameDish
	case known:
		return at, anotherDish
	}
	return -1, nowhere
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
