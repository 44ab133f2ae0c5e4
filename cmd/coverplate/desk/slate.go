package desk

import (
	"fmt"
	"html/template"
	"net/http"
	"strings"
	"time"

	"coverplate/audit"
	"coverplate/audit/clock"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/slate"
)

// slateView is the page for a tablet beside the set: what is on it, as code
// and in large type, the running clock, and what comes next.
type slateView struct {
	Chrome chrome
	On     dishLine // what is on set; ID "" nothing
	Since  string
	Code   template.URL // of the dish; "" there is none
	Clock  template.URL
	Time   string
	Next   []dishLine
	All    []choiceView
	NoDish string
}

type dishLine struct {
	ID, Title, Pages, Facts, Wants string
}

// mostComing is how many dishes are named that come next.
const mostComing = 3

func (d *Desk) slate(w http.ResponseWriter, r *http.Request, st *state, v visitor) {
	now := d.o.Now().In(d.o.Where)
	p := slateView{Chrome: d.around(r, st, v, "Slate"), Clock: "/code/clock", Time: now.Format("15:04:05"), NoDish: noDish}
	p.Chrome.Wide = true
	on, since := onSet(st, clock.Digits(now, d.o.Where))
	day := audit.DayOf(st.shoot, st.report, st.shoot.Today)
	for _, x := range append(append([]audit.Dish{}, day.Over...), day.Planned...) {
		if x.Recipe != on && len(p.Next) < mostComing {
			p.Next = append(p.Next, lineOf(st, x.Recipe))
		}
	}
	if on != "" {
		p.On, p.Since = lineOf(st, on), since.Format("15:04")
		if st.dishCode(on) != nil {
			p.Code = template.URL("/code/dish" + strings.TrimPrefix(dishAt(on), "/dish"))
		}
	}
	p.All = recipesOf(st, on)
	d.show(w, r, http.StatusOK, "slate", p)
}

// onSet is the recipe that a person said is on set at a moment of the studio's
// clock, "" none, and since when. A day's end ends it.
func onSet(st *state, at time.Time) (recipe string, since time.Time) {
	for _, x := range catalogue.Current(st.shoot.Decisions) {
		if x.Kind == catalogue.On && x.Body == "" && !x.From.After(at) && !x.From.Before(since) {
			recipe, since = x.Recipe, x.From
		}
	}
	if st.shoot.Book.DayAt(since) != st.shoot.Book.DayAt(at) {
		return "", time.Time{}
	}
	return recipe, since
}

func lineOf(st *state, id string) dishLine {
	l := dishLine{ID: id, Title: st.titles[id]}
	r := st.recipes[id]
	l.Pages = r.Pages.String()
	var facts []string
	for _, f := range []string{string(r.Orientation), string(r.Angle), r.Surface, strings.Join(r.Props, ", ")} {
		if f != "" {
			facts = append(facts, f)
		}
	}
	l.Facts = strings.Join(facts, ", ")
	var wants []string
	for _, rec := range st.report.Recipes {
		if rec.ID != id {
			continue
		}
		for _, f := range rec.Needs {
			if f.Verdict != audit.Settled && f.Verdict != audit.Waived {
				wants = append(wants, f.Need+": "+string(f.Verdict))
			}
		}
	}
	l.Wants = strings.Join(wants, ", ")
	return l
}

// DishCode is the code of a dish's slate, as slate.Make draws it: with the shoot's
// id, the dish's own and the mark of its title. The error says what of these can't
// be written.
func DishCode(shoot, recipe, title string) ([][]bool, error) {
	return slate.Make(slate.Payload{Kind: slate.Dish, Shoot: shoot, Recipe: recipe, Title: audit.TitleMark(title)})
}

// dishCode is the code of a dish; nil where the shoot has no id for its slates,
// or the recipe's can't be written.
func (st *state) dishCode(recipe string) [][]bool {
	if st.shoot.ID == "" {
		return nil
	}
	code, err := DishCode(st.shoot.ID, recipe, st.recipes[recipe].Title)
	if err != nil {
		return nil
	}
	return code
}

func (d *Desk) codeOfDish(w http.ResponseWriter, r *http.Request, st *state, _ visitor) {
	code := st.dishCode(r.PathValue("recipe"))
	if _, ok := st.recipes[r.PathValue("recipe")]; !ok || code == nil {
		http.NotFound(w, r)
		return
	}
	sendCode(w, code)
}

// codeOfClock is the studio's time, as it is now, in a code.
func (d *Desk) codeOfClock(w http.ResponseWriter, r *http.Request, st *state, _ visitor) {
	sendClock(w, d.o.Now().In(d.o.Where), st.shoot.ID)
}

// sendCode draws a code as SVG, a unit a module.
func sendCode(w http.ResponseWriter, code [][]bool) {
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" shape-rendering="crispEdges"><rect width="100%%" height="100%%" fill="#fff"/><path d="`, len(code), len(code))
	for y, row := range code {
		for x := 0; x < len(row); x++ {
			from := x
			for x < len(row) && row[x] {
				x++
			}
			if x > from {
				fmt.Fprintf(&b, "M%d %dh%dv1h-%dz", from, y, x-from, x-from)
			}
		}
	}
	b.WriteString(`"/></svg>`)
	w.Header().Set("Content-Type", "image/svg+xml")
	w.Header().Set("Cache-Control", "no-store")
	fmt.Fprint(w, b.String())
}

// onOf reads which dish comes on set now.
func (d *Desk) onOf(st *state, recipe string) ([]catalogue.Decision, error) {
	switch _, ok := st.recipes[recipe]; {
	case recipe == noDish:
		recipe = ""
	case !ok:
		return nil, wrongf("the plan has no recipe %q", recipe)
	}
	return []catalogue.Decision{{Kind: catalogue.On, Recipe: recipe, From: clock.Digits(d.o.Now(), d.o.Where)}}, nil
}
