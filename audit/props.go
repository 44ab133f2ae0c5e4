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
		key := strings.Join(words(name), " ")
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

// pace holds what is done against the days that are left. A recipe is done
// when its set may be struck. The shoot is on pace while the share that is
// done is not below the share of days that have ended.
func (d *sheet) pace(recipes []Recipe) Pace {
	p := Pace{Of: len(recipes)}
	var late []string
	for i, r := range recipes {
		if r.Strike == MayStrike {
			p.Done++
		} else if day := d.recipes[i].Day; !day.IsZero() && !d.Today.IsZero() && day.Before(d.Today) {
			late = append(late, r.ID)
		}
	}
	left := p.Of - p.Done
	first, last := d.Book.FirstDay, d.Book.LastDay
	if d.Today.IsZero() || last.IsZero() || last.Before(first) {
		p.OnPace = left == 0
		p.Why = "the shooting days are not known"
		return p
	}
	from := d.Today
	if from.Before(first) {
		from = first
	}
	p.DaysLeft = max(last.Sub(from)+1, 0)
	if p.DaysLeft > 0 {
		n := float64(left) / float64(p.DaysLeft)
		p.NeededPerDay = &n
	}
	var says []string
	if first.IsZero() {
		p.OnPace = left == 0
	} else {
		days := last.Sub(first) + 1
		ended := days - p.DaysLeft
		p.OnPace = p.Done*days >= p.Of*ended
		if ended > 0 && left > 0 && p.DaysLeft > 0 {
			// Today's frames count, so today counts among the days.
			rate := float64(p.Done) / float64(ended+1)
			says = append(says, fmt.Sprintf("%.2g a day so far, today included", rate))
			if p.Done > 0 {
				needs := (left*(ended+1) + p.Done - 1) / p.Done // days, rounded up
				says = append(says, "at that pace done on "+d.Today.AddDays(needs).String())
			}
		}
	}
	if p.DaysLeft == 0 && left > 0 {
		says = append(says, "the last day has passed")
	}
	if len(late) > 0 {
		says = append(says, fmt.Sprintf("planned for a day that has ended and not done: %s", strings.Join(late, ", ")))
	}
	p.Why = strings.Join(says, "; ")
	return p
}
