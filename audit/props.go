package audit

import (
	"fmt"
	"slices"
	"strings"

	"coverplate/audit/plan"
)

// thing is a prop or surface with the recipes it is planned for.
type thing struct {
	name string // as first written, in page order
	kind string
	rows []int
}

// props lists what is planned for more than one recipe. Names are one where
// they differ in case, accents, punctuation, spaces and a plural s alone;
// names of the same words in another order are said to be alike, never merged.
func (d *sheet) props() []Prop {
	at := map[string]int{}
	var all []thing
	add := func(row int, kind, name string) {
		key := propKey(name)
		if key == "" {
			return
		}
		i, ok := at[key]
		if !ok {
			i = len(all)
			at[key] = i
			all = append(all, thing{plan.Tidy(name), kind, nil})
		}
		if n := len(all[i].rows); n == 0 || all[i].rows[n-1] != row {
			all[i].rows = append(all[i].rows, row)
		}
	}
	for i, r := range d.recipes {
		for _, p := range r.Props {
			add(i, "prop", p)
		}
		add(i, "surface", r.Surface)
	}
	d.alikeProps(all)
	out := []Prop{}
	for _, t := range all {
		if len(t.rows) < 2 {
			continue
		}
		p := Prop{Prop: t.name, Recipes: []string{}, Spreads: []int{}, Kind: t.kind}
		var used, planned []string
		for _, r := range t.rows {
			id := d.recipes[r].ID
			p.Recipes = append(p.Recipes, id)
			if pages := d.recipes[r].Pages; !pages.IsZero() {
				p.Spreads = append(p.Spreads, pages.Spread())
			}
			if len(d.chosen[wish{r, string(plan.Hero)}]) > 0 {
				used = append(used, id)
			} else {
				planned = append(planned, id)
			}
		}
		slices.Sort(p.Spreads)
		p.Spreads = slices.Compact(p.Spreads)
		var says []string
		if len(used) > 0 {
			says = append(says, "planned and a hero chosen: "+strings.Join(used, ", "))
		}
		if len(planned) > 0 {
			says = append(says, "planned, no hero chosen yet: "+strings.Join(planned, ", "))
		}
		if a, b := closest(p.Spreads); b > 0 {
			says = append(says, fmt.Sprintf("nearest on spreads %d and %d", a, b))
		}
		p.Why = strings.Join(says, "; ")
		out = append(out, p)
	}
	return out
}

// closest returns the two spreads that lie nearest, the first of equals.
func closest(spreads []int) (a, b int) {
	for i := 1; i < len(spreads); i++ {
		if b == 0 || spreads[i]-spreads[i-1] < b-a {
			a, b = spreads[i-1], spreads[i]
		}
	}
	return a, b
}

// alikeProps notes names of the same words in another order.
func (d *sheet) alikeProps(all []thing) {
	by := map[string][]thing{}
	var order []string
	for _, t := range all {
		ws := words(t.name)
		slices.Sort(ws)
		key := strings.Join(ws, " ")
		if _, ok := by[key]; !ok {
			order = append(order, key)
		}
		by[key] = append(by[key], t)
	}
	for _, key := range order {
		if len(by[key]) < 2 {
			continue
		}
		var says []string
		for _, t := range by[key] {
			var ids []string
			for _, r := range t.rows {
				ids = append(ids, d.recipes[r].ID)
			}
			says = append(says, fmt.Sprintf("%q (%s)", t.name, strings.Join(ids, ", ")))
		}
		d.note("prop", "", "", strings.Join(says, " and ")+" may be one thing: write them alike if they are")
	}
}
