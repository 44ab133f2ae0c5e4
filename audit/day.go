package audit

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"coverplate/audit/plan"
)

// Day is what one shooting day must include.
type Day struct {
	Day    string `json:"day"`
	Number int    `json:"number"` // of the shooting days, from 1; 0 outside of them
	Of     int    `json:"of"`     // shooting days; 0 not known

	Over     []Dish     `json:"over"`    // planned for an earlier day that has come, or begun though planned for none, and not covered
	Planned  []Dish     `json:"planned"` // planned for the day and not covered, in the plan's order
	Covered  []Dish     `json:"covered"` // covered on the day, or planned for it and covered before
	Loose    []Dish     `json:"loose"`   // of no planned day, not begun and not covered
	Shared   []OnTables `json:"shared"`  // props and surfaces that two or more of Over and Planned have
	Notes    []string   `json:"notes"`
	Cautions []string   `json:"cautions"`
}

// Dish is a recipe as a day's sheet has it.
type Dish struct {
	Recipe      string    `json:"recipe"`
	Title       string    `json:"title"`
	Pages       string    `json:"pages"`
	Size        string    `json:"size"`
	Orientation string    `json:"orientation"`
	Angle       string    `json:"angle"`
	Props       []string  `json:"props"`
	Surface     string    `json:"surface"`
	Allergens   string    `json:"allergens"` // as the plan has them; "" it says nothing
	Notes       string    `json:"notes"`
	Planned     string    `json:"planned"` // day; "" none
	OnDay       bool      `json:"on_day"`  // of Covered: its last frame is of this day
	Needs       []Finding `json:"needs"`   // those that are neither settled nor waived; all of a covered dish
	With        []string  `json:"with"`    // recipes of the day that it shares a prop or surface with
	Begun       bool      `json:"begun"`   // it has frames
}

// OnTables is a prop or surface that dishes of one day share.
type OnTables struct {
	Name    string   `json:"name"`
	Kind    string   `json:"kind"` // "prop", "surface"
	Recipes []string `json:"recipes"`
}

// DayOf tells what a day must include, by a report on the shoot. What was
// planned for an earlier day and is not covered comes first, the latest day
// first, for its set may still stand; then the day's own in the plan's order.
func DayOf(s Shoot, r Report, day plan.Day) Day {
	out := Day{Day: day.String(), Over: []Dish{}, Planned: []Dish{}, Covered: []Dish{}, Loose: []Dish{}, Shared: []OnTables{}, Notes: []string{}}
	first, last := s.Book.FirstDay, s.Book.LastDay
	if !first.IsZero() && !last.Before(first) {
		out.Of = s.Book.ShootingDays(first, last)
		switch {
		case day.Before(first):
			out.Notes = append(out.Notes, fmt.Sprintf("the shoot begins on %s", first.Says()))
		case last.Before(day):
			out.Notes = append(out.Notes, fmt.Sprintf("the shoot ended on %s", last.Says()))
		case !s.Book.Shoots(day):
			next := day.AddDays(1)
			for !s.Book.Shoots(next) {
				next = next.AddDays(1)
			}
			out.Notes = append(out.Notes, fmt.Sprintf("nobody shoots on this day; the next shooting day is %s", next.Says()))
		default:
			out.Number = s.Book.ShootingDays(first, day)
		}
	}
	rows := map[string]plan.Recipe{}
	for _, p := range slices.Backward(s.Recipes) {
		rows[p.ID] = p // the first of each id stays
	}
	recipes := slices.Clone(r.Recipes)
	slices.SortStableFunc(recipes, func(a, b Recipe) int { return cmp.Compare(rows[a.ID].Row, rows[b.ID].Row) })
	for _, rec := range recipes {
		p := rows[rec.ID]
		dish := Dish{Recipe: rec.ID, Title: rec.Title, Pages: rec.Pages, Size: p.Size.String(), Orientation: string(p.Orientation),
			Angle: string(p.Angle), Props: append([]string{}, p.Props...), Surface: p.Surface, Allergens: p.Allergens, Notes: p.Notes, Planned: rec.Day,
			Needs: []Finding{}, With: []string{}, Begun: rec.Frames > 0}
		covered := rec.Strike == MayStrike
		for _, f := range rec.Needs {
			if covered || f.Verdict != Settled && f.Verdict != Waived {
				dish.Needs = append(dish.Needs, f)
			}
		}
		switch {
		case covered && (p.Day == day || rec.Covered == out.Day):
			dish.OnDay = rec.Covered == out.Day
			out.Covered = append(out.Covered, dish)
		case covered:
		case p.Day == day:
			out.Planned = append(out.Planned, dish)
		case !p.Day.IsZero() && p.Day.Before(day) && (s.Today.IsZero() || !s.Today.Before(p.Day)) || p.Day.IsZero() && dish.Begun:
			out.Over = append(out.Over, dish)
		case p.Day.IsZero():
			out.Loose = append(out.Loose, dish)
		}
	}
	slices.SortStableFunc(out.Over, func(a, b Dish) int { return cmp.Compare(b.Planned, a.Planned) })
	out.share()
	out.Cautions = out.cautions()
	return out
}

// share finds what dishes of the day have in common.
func (d *Day) share() {
	at := map[string]int{}
	var all []OnTables
	add := func(recipe, kind, name string) {
		key := propKey(name)
		if key == "" {
			return
		}
		i, ok := at[key]
		if !ok {
			i = len(all)
			at[key] = i
			p, _ := plan.ParseProp(name)
			all = append(all, OnTables{Name: p.Name, Kind: kind})
		}
		if !slices.Contains(all[i].Recipes, recipe) {
			all[i].Recipes = append(all[i].Recipes, recipe)
		}
	}
	dishes := []*Dish{}
	for _, list := range [][]Dish{d.Over, d.Planned} {
		for i := range list {
			dishes = append(dishes, &list[i])
			for _, p := range list[i].Props {
				add(list[i].Recipe, "prop", p)
			}
			add(list[i].Recipe, "surface", list[i].Surface)
		}
	}
	for _, t := range all {
		if len(t.Recipes) < 2 {
			continue
		}
		d.Shared = append(d.Shared, t)
		for _, dish := range dishes {
			if !slices.Contains(t.Recipes, dish.Recipe) {
				continue
			}
			for _, id := range t.Recipes {
				if id != dish.Recipe && !slices.Contains(dish.With, id) {
					dish.With = append(dish.With, id)
				}
			}
		}
	}
}

// cautions says what a crew must not forget on such a day. They are common
// practice, no source, and never call anything safe.
func (d *Day) cautions() []string {
	out := []string{}
	var told, silent, above, hands []string
	for _, list := range [][]Dish{d.Over, d.Planned} {
		for _, dish := range list {
			if dish.Allergens != "" {
				told = append(told, dish.Recipe+" "+dish.Allergens)
			} else {
				silent = append(silent, dish.Recipe)
			}
			shot := dish.Angle == string(plan.Overhead)
			for _, f := range dish.Needs {
				shot = shot || f.Need == string(plan.NeedOverhead)
				if f.Need == string(plan.Process) {
					hands = append(hands, dish.Recipe)
				}
			}
			if shot {
				above = append(above, dish.Recipe)
			}
		}
	}
	if len(told)+len(silent) == 0 {
		return out
	}
	if len(told) > 0 {
		out = append(out, "allergens, as the plan has them: "+strings.Join(told, "; "))
	}
	if len(silent) > 0 {
		out = append(out, "the plan says nothing of the allergens of "+strings.Join(silent, ", ")+": ask the kitchen before anyone tastes")
	}
	out = append(out, "food that stood on a set was out of safe temperature for a time that no picture tells: local rules and licensed practice decide what may be eaten")
	if len(above) > 0 {
		out = append(out, "from above: "+strings.Join(above, ", ")+"; camera and lights over a table hang on a safety wire, stands are weighted, ladders held, and nobody reaches under what is being moved")
	}
	if len(hands) > 0 {
		out = append(out, "hands or faces may be seen: "+strings.Join(hands, ", ")+"; get their releases signed while they are there")
	}
	return out
}
