package desk

import (
	"fmt"
	"net/http"
	"strings"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
)

// daysView is one shooting day, as audit tells it.
type daysView struct {
	Chrome   chrome
	Title    string   // "Day 3 of 8: Wednesday 4 March 2026"
	Pace     string   // how much is covered
	Ahead    []string // what is left, and whether it will do
	Any      bool     // whether the plan has a dish
	Notes    []string
	Days     []choiceView
	Back     string
	Next     string
	Lists    []dishList
	Shared   []propView
	Today    bool
	Tomorrow bool
}

// dishList is some dishes of a day under a heading.
type dishList struct {
	Head   string
	Dishes []dayDish
}

type dayDish struct {
	To, Name, Pages string
	Facts           string
	Props           string
	Notes           string
	Needs           []paper.NeedLine
	With            string
}

func (d *Desk) days(w http.ResponseWriter, r *http.Request, st *state, v visitor) {
	today := st.shoot.Today
	day := today
	switch want := r.URL.Query().Get("day"); {
	case want == "tomorrow":
		day = today.AddDays(1)
	case want != "":
		if x, err := plan.ParseDay(want); err == nil && !x.IsZero() {
			day = x
		}
	}
	of := audit.DayOf(st.shoot, st.report, day)
	p := daysView{Chrome: d.around(r, st, v, "Days"), Title: paper.DayName(day.String()), Notes: of.Notes, Any: len(st.report.Recipes) > 0,
		Today: day == today, Tomorrow: day == today.AddDays(1), Back: day.AddDays(-1).String(), Next: day.AddDays(1).String()}
	p.Pace, p.Ahead = paceOf(st)
	if day.IsZero() { // neither the plan nor the settings were read
		p.Title, p.Today, p.Tomorrow, p.Back, p.Next = "No day is known yet", false, false, "", ""
	}
	if of.Number > 0 {
		p.Title = fmt.Sprintf("Day %d of %d: %s", of.Number, of.Of, p.Title)
	}
	p.Days = filterOf(st, r.URL.Query()).Days
	for i := range p.Days {
		p.Days[i].On = p.Days[i].Value == day.String()
	}
	list := func(head string, all []audit.Dish) {
		if len(all) == 0 {
			return
		}
		l := dishList{Head: head}
		for _, x := range all {
			l.Dishes = append(l.Dishes, dayDishOf(x))
		}
		p.Lists = append(p.Lists, l)
	}
	list("Over from earlier days", of.Over)
	list("Planned, in the plan's order", of.Planned)
	list("Covered", of.Covered)
	list("Planned for no day", of.Loose)
	for _, x := range of.Shared {
		pv := propView{Prop: x.Name, Kind: x.Kind}
		for _, id := range x.Recipes {
			pv.Dishes = append(pv.Dishes, link{To: dishAt(id), Says: id})
		}
		p.Shared = append(p.Shared, pv)
	}
	d.show(w, r, http.StatusOK, "days", p)
}

func dayDishOf(x audit.Dish) dayDish {
	out := dayDish{To: dishAt(x.Recipe), Name: strings.TrimSpace(x.Recipe + " " + x.Title), Pages: x.Pages, Notes: x.Notes, Props: strings.Join(x.Props, ", "), With: strings.Join(x.With, ", ")}
	var facts []string
	for _, f := range []string{x.Size, x.Orientation, x.Angle} {
		if f != "" && f != string(plan.AnyAngle) {
			facts = append(facts, f)
		}
	}
	if x.Surface != "" {
		facts = append(facts, "on "+x.Surface)
	}
	out.Facts = strings.Join(facts, ", ")
	for _, f := range x.Needs {
		out.Needs = append(out.Needs, paper.NeedLine{Need: f.Need, Verdict: string(f.Verdict), Why: f.Why})
	}
	return out
}

// propsView is the ledger of props and surfaces.
type propsView struct {
	Chrome  chrome
	Repeats []propView
	Once    []propView
}

// propView is a prop or surface with the dishes it is for.
type propView struct {
	Prop, Kind, Why string
	Dishes          []link
	More            []string
}

// ledger are the props and surfaces: those that repeat without a reason, or
// those that don't.
func ledger(st *state, repeat bool) []propView {
	var all []propView
	for _, t := range st.report.Things {
		if t.Repeat != repeat {
			continue
		}
		v := propView{Prop: t.Name, Kind: t.Kind}
		for _, u := range t.Uses {
			says := strings.TrimSpace(u.Recipe+" "+u.Title) + paper.PageSuffix(u.Pages)
			says += ", " + useSays(u)
			if u.Again != "" {
				says += " (again: " + u.Again + ")"
			}
			v.Dishes = append(v.Dishes, link{To: dishAt(u.Recipe), Says: says})
		}
		if t.Nearest != nil {
			v.Why = "nearest: " + paper.JoinAnd(t.Between) + ", " + paper.Counted(*t.Nearest, "spread", "spreads") + " apart"
		}
		if t.Lent {
			says := "borrowed"
			if t.From != "" {
				says += " from " + t.From
			}
			if t.Due != "" {
				says += ", due " + paper.DayName(t.Due)
			}
			v.More = append(v.More, says)
		}
		if t.Returns != "" {
			v.More = append(v.More, t.Returns)
		}
		if len(t.Ask) > 0 {
			v.More = append(v.More, "the same as "+strings.Join(t.Ask, ", ")+"? It was not merged")
		}
		all = append(all, v)
	}
	return all
}

func (d *Desk) props(w http.ResponseWriter, r *http.Request, st *state, v visitor) {
	d.show(w, r, http.StatusOK, "props", propsView{d.around(r, st, v, "Props"), ledger(st, true), ledger(st, false)})
}
