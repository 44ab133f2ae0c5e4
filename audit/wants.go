package audit

import (
	"slices"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// How many frames are wanted at 1:1 at once: full size costs a second each.
const (
	wantsNeed   = 2 // for one need that nobody has chosen for
	wantsRecipe = 4
)

// wants lists the frames of a recipe whose verdict needs a look at 1:1: what
// people chose, and the rest: where nobody chose and no frame passes every
// test, the best candidates.
func (d *sheet) wants(r int) (chosen, rest []catalogue.FrameID) {
	var mine []int
	add := func(to *[]catalogue.FrameID, f fit) {
		if f.closer && f.may() && len(mine) < wantsRecipe && !slices.Contains(mine, f.frame) {
			mine = append(mine, f.frame)
			*to = append(*to, d.frames[f.frame].ID)
		}
	}
	for _, n := range needsOf(d.recipes[r]) {
		w := wish{r, needKey(n.String())}
		if _, ok := d.waivers[w]; ok || n.Kind == plan.Palette {
			continue
		}
		fits := d.fits(r, n.Kind, d.chosen[w])
		if len(d.chosen[w]) > 0 {
			for _, f := range fits {
				if slices.Contains(d.chosen[w], f.frame) {
					add(&chosen, f)
				}
			}
			continue
		}
		if slices.ContainsFunc(fits, fit.whole) {
			continue
		}
		candidates := 0
		for _, f := range fits {
			if candidates < wantsNeed && f.closer && f.may() {
				candidates++
				add(&rest, f)
			}
		}
	}
	return chosen, rest
}

func needsOf(r plan.Recipe) []plan.Need {
	if len(r.Needs) == 0 {
		return plan.DefaultNeeds()
	}
	return r.Needs
}
