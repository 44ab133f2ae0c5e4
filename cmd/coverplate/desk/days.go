package desk

import (
	"cmp"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

// daysView is one shooting day: its dishes in the order of the plan, what each
// still wants, and the props that must be there.
type daysView struct {
	Chrome     chrome
	Day, Says  string
	Days       []choiceView
	Dishes     []dayDish
	Props      []propView
	Standing   []dayDish // of other days, still held
	Today      bool
	Tomorrow   bool
	Left       int // needs still wanting today
	Undated    int // dishes without a day
	Back, Next *link
}

type dayDish struct {
	paper.Docket
	To, Surface, Props, Notes string
	Wants                     []paper.NeedLine
	Done                      bool
}

func (d *Desk) days(w http.ResponseWriter, r *http.Request, st *state, v visitor) {
	p := daysView{Chrome: d.around(r, st, v, "Days")}
	today := st.shoot.Today
	day := today
	switch want := r.URL.Query().Get("day"); {
	case want == "tomorrow":
		day = today.AddDays(1)
	case want != "":
		if x, err := plan.ParseDay(want); err == nil {
			day = x
		}
	}
	p.Day, p.Says, p.Today, p.Tomorrow = day.String(), paper.DayName(day.String()), day == today, day == today.AddDays(1)
	p.Days = filterOf(st, r.URL.Query()).Days
	for i := range p.Days {
		p.Days[i].On = p.Days[i].Value == p.Day
	}
	p.Back = &link{To: "/days?day=" + day.AddDays(-1).String(), Says: "the day before"}
	p.Next = &link{To: "/days?day=" + day.AddDays(1).String(), Says: "the day after"}
	props := map[string][]string{}
	var order []string
	picture := func(id catalogue.FrameID) template.URL { return st.pictureAt(id, midSide) }
	for _, rec := range st.report.Recipes {
		if rec.Day == "" {
			p.Undated++
		}
		plan := st.recipes[rec.ID]
		dd := dayDish{Docket: paper.DocketOf(rec, picture, nil), To: dishAt(rec.ID), Surface: plan.Surface, Props: strings.Join(plan.Props, ", "), Notes: plan.Notes, Done: true}
		for _, n := range dd.Needs {
			if n.Verdict != string(audit.Settled) && n.Verdict != string(audit.Waived) {
				dd.Wants, dd.Done = append(dd.Wants, n), false
			}
		}
		if rec.Day != p.Day {
			if rec.Strike == audit.Hold && rec.Frames > 0 && rec.Day < p.Day {
				p.Standing = append(p.Standing, dd)
			}
			continue
		}
		p.Left += len(dd.Wants)
		p.Dishes = append(p.Dishes, dd)
		for _, x := range append(slices.Clone(plan.Props), plan.Surface) {
			if x == "" {
				continue
			}
			if props[x] == nil {
				order = append(order, x)
			}
			props[x] = append(props[x], rec.ID)
		}
	}
	for _, x := range order {
		pv := propView{Prop: x}
		for _, id := range props[x] {
			pv.Dishes = append(pv.Dishes, link{To: dishAt(id), Says: id})
		}
		p.Props = append(p.Props, pv)
	}
	d.show(w, r, http.StatusOK, "days", p)
}

// propsView is the ledger of props and surfaces.
type propsView struct {
	Chrome  chrome
	Repeats []propView
	Once    []propView
}

// repeats are the props and surfaces of more than one dish.
func repeats(st *state) []propView {
	var all []propView
	for _, x := range st.report.Props {
		v := propView{Prop: x.Prop, Kind: x.Kind, Why: x.Why, Repeats: true}
		for _, id := range x.Recipes {
			v.Dishes = append(v.Dishes, link{To: dishAt(id), Says: strings.TrimSpace(id + " " + st.titles[id])})
		}
		for i, s := range x.Spreads {
			if i > 0 {
				v.Spreads += ", "
			}
			v.Spreads += strconv.Itoa(s)
		}
		all = append(all, v)
	}
	return all
}

func (d *Desk) props(w http.ResponseWriter, r *http.Request, st *state, v visitor) {
	p := propsView{Chrome: d.around(r, st, v, "Props"), Repeats: repeats(st)}
	taken := map[string]bool{}
	for _, x := range st.report.Props {
		for _, id := range x.Recipes {
			taken[id+"\x00"+strings.ToLower(x.Prop)] = true
		}
	}
	for _, rec := range st.report.Recipes {
		recipe := st.recipes[rec.ID]
		add := func(kind, name string) {
			if name != "" && !taken[rec.ID+"\x00"+strings.ToLower(name)] {
				p.Once = append(p.Once, propView{Prop: name, Kind: kind, Dishes: []link{{To: dishAt(rec.ID), Says: strings.TrimSpace(rec.ID + " " + rec.Title)}}})
			}
		}
		for _, x := range recipe.Props {
			add("prop", x)
		}
		add("surface", recipe.Surface)
	}
	slices.SortStableFunc(p.Once, func(a, b propView) int {
		return cmp.Compare(strings.ToLower(a.Prop), strings.ToLower(b.Prop))
	})
	d.show(w, r, http.StatusOK, "props", p)
}
