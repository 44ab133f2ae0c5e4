package audit

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// Thing is a prop or surface with all that is known of where it stands.
type Thing struct {
	Name    string   `json:"name"` // as first written, in page order
	Kind    string   `json:"kind"` // "prop", "surface"
	Uses    []Use    `json:"uses"` // by page
	Repeat  bool     `json:"repeat"`
	Nearest *int     `json:"nearest_spreads"` // between the nearest two uses of a repeat; null none, or no pages
	Between []string `json:"between"`         // the recipes of those two
	Lent    bool     `json:"borrowed"`
	From    string   `json:"from"`    // whom it is borrowed from
	Due     string   `json:"due"`     // back on this day; "" not written
	Returns string   `json:"returns"` // what is to be known before it goes back; "" nothing
	Ask     []string `json:"ask"`     // other names that may be this thing's
}

// Use is a thing in one recipe. That it can be seen in a frame is not known:
// a chosen frame of a recipe counts as a use of all that stood there.
type Use struct {
	Recipe  string `json:"recipe"`
	Title   string `json:"title"`
	Pages   string `json:"pages"`
	Spread  int    `json:"spread"` // 0 no page
	Day     string `json:"day"`    // planned
	Planned bool   `json:"planned"`
	Logged  bool   `json:"logged"` // a person said so on set
	Off     bool   `json:"off"`    // planned, and a person said that it was not there
	Chosen  bool   `json:"chosen"` // a frame of the recipe is chosen as its hero
	Covered bool   `json:"covered"`
	Again   string `json:"again"` // the plan's reason why it may be seen again; "" none
}

// counts tells whether a use makes a repeat of another.
func (u Use) counts() bool { return !u.Off && u.Again == "" }

// propKey is the name of a prop or surface as it is compared: case, accents,
// punctuation, spaces and a plural s do not count, nor what a plan adds in
// brackets.
func propKey(name string) string {
	p, _ := plan.ParseProp(name)
	return strings.Join(words(p.Name), " ")
}

// things lists every prop and surface of the shoot. Names are one where propKey
// says so; names that may be one are told, never merged.
func (d *sheet) things(recipes []Recipe) []Thing {
	at := map[string]int{}
	var all []Thing
	use := func(row int, kind, written string) *Use {
		p, _ := plan.ParseProp(written)
		key := propKey(written)
		if key == "" {
			return nil
		}
		i, ok := at[key]
		if !ok {
			i = len(all)
			at[key] = i
			all = append(all, Thing{Name: p.Name, Kind: kind, Uses: []Use{}, Between: []string{}, Ask: []string{}})
		}
		t := &all[i]
		t.Lent = t.Lent || p.Borrowed
		if t.From == "" {
			t.From = p.From
		}
		if due := p.Due.String(); due != "" && (t.Due == "" || due < t.Due) {
			t.Due = due // of two days the earlier is the safe one
		}
		r := d.recipes[row]
		if n := len(t.Uses); n == 0 || t.Uses[n-1].Recipe != r.ID {
			u := Use{Recipe: r.ID, Title: r.Title, Pages: r.Pages.String(), Day: r.Day.String(),
				Chosen: len(d.chosen[wish{row, string(plan.Hero)}]) > 0, Covered: row < len(recipes) && recipes[row].Strike == MayStrike}
			if !r.Pages.IsZero() {
				u.Spread = r.Pages.Spread()
			}
			t.Uses = append(t.Uses, u)
		}
		u := &t.Uses[len(t.Uses)-1]
		if u.Again == "" {
			u.Again = p.Again
		}
		return u
	}
	for i, r := range d.recipes {
		for _, p := range r.Props {
			if u := use(i, "prop", p); u != nil {
				u.Planned = true
			}
		}
		if u := use(i, "surface", r.Surface); u != nil {
			u.Planned = true
		}
		for _, w := range d.logged[i] {
			switch {
			case w.Need == catalogue.TakenOff:
				if _, planned := at[propKey(w.Name)]; planned {
					if u := use(i, "prop", w.Name); u != nil && u.Planned {
						u.Off = true
					} else { // logged once, and not on set after all
						t := &all[at[propKey(w.Name)]]
						t.Uses = t.Uses[:len(t.Uses)-1]
					}
				}
			default:
				kind := "prop"
				if w.Need == catalogue.AsSurface {
					kind = "surface"
				}
				if u := use(i, kind, w.Name); u != nil {
					u.Logged, u.Off = true, false
				}
			}
		}
	}
	all = slices.DeleteFunc(all, func(t Thing) bool { return len(t.Uses) == 0 })
	for i := range all {
		all[i].weigh(d.Today)
	}
	d.ask(all)
	return all
}

// weigh finds out whether a thing repeats, and what its return asks.
func (t *Thing) weigh(today plan.Day) {
	var counted []Use
	for _, u := range t.Uses {
		if u.counts() {
			counted = append(counted, u)
		}
	}
	t.Repeat = len(counted) > 1
	for i, u := range counted {
		for _, v := range counted[i+1:] {
			if u.Spread == 0 || v.Spread == 0 {
				continue
			}
			if n := int(math.Abs(float64(v.Spread - u.Spread))); t.Nearest == nil || n < *t.Nearest {
				t.Nearest, t.Between = &n, []string{u.Recipe, v.Recipe}
			}
		}
	}
	if !t.Lent {
		return
	}
	var wanting, late []string
	for _, u := range t.Uses {
		if u.Off || u.Covered {
			continue
		}
		wanting = append(wanting, u.Recipe)
		if t.Due != "" && u.Day > t.Due {
			late = append(late, fmt.Sprintf("%s, planned for %s", u.Recipe, daySays(u.Day)))
		}
	}
	var says []string
	if day := today.String(); t.Due != "" && !today.IsZero() && t.Due < day {
		says = append(says, "it should have been back on "+daySays(t.Due))
	} else if t.Due == day && t.Due != "" {
		says = append(says, "it goes back today")
	}
	if len(late) > 0 {
		says = append(says, "wanted after it is due: "+strings.Join(late, "; "))
	}
	if len(wanting) == 0 {
		says = append(says, "every dish that has it is covered: it may go back")
	} else {
		says = append(says, "still wanted: "+strings.Join(wanting, ", "))
	}
	t.Returns = strings.Join(says, "; ")
}

// ask finds names that may be one thing's: the same words in another order, or
// a word misspelt.
func (d *sheet) ask(all []Thing) {
	bags := make([]string, len(all))
	for i, t := range all {
		ws := words(t.Name)
		slices.Sort(ws)
		bags[i] = strings.Join(ws, " ")
	}
	for i := range all {
		for j := i + 1; j < len(all); j++ {
			if bags[i] == bags[j] || misspelling(bags[i], bags[j]) {
				all[i].Ask, all[j].Ask = append(all[i].Ask, all[j].Name), append(all[j].Ask, all[i].Name)
			}
		}
	}
	told := map[string]bool{}
	for _, t := range all {
		if len(t.Ask) == 0 || told[t.Name] {
			continue
		}
		var says []string
		for _, o := range all {
			if o.Name == t.Name || slices.Contains(t.Ask, o.Name) {
				told[o.Name] = true
				var ids []string
				for _, u := range o.Uses {
					ids = append(ids, u.Recipe)
				}
				says = append(says, fmt.Sprintf("%q (%s)", o.Name, strings.Join(ids, ", ")))
			}
		}
		d.note("prop", "", "", strings.Join(says, " and ")+" may be one thing: write them alike if they are")
	}
}

// misspelling tells whether two names differ by a slip of the pen: one letter
// in eight, or two letters changing places, and no figure.
func misspelling(a, b string) bool {
	short := min(len([]rune(a)), len([]rune(b)))
	return short >= 8 && plan.Slips(a, b) == 1 && !strings.ContainsAny(a+b, "0123456789")
}

// MayBe gives the names of things that a name may be meant as: itself alone
// where a thing has it, whatever its case, accents and punctuation; else those
// of the same words in another order or with a slip of the pen.
func MayBe(things []Thing, name string) (same string, near []string) {
	ws := words(name)
	slices.Sort(ws)
	bag := strings.Join(ws, " ")
	for _, t := range things {
		if propKey(t.Name) == propKey(name) {
			return t.Name, nil
		}
		other := words(t.Name)
		slices.Sort(other)
		if o := strings.Join(other, " "); o == bag || misspelling(o, bag) {
			near = append(near, t.Name)
		}
	}
	return "", near
}

// repeats lists what is planned for, or was on set with, more than one recipe
// and has no reason to be.
func repeats(things []Thing) []Prop {
	out := []Prop{}
	for _, t := range things {
		if !t.Repeat {
			continue
		}
		p := Prop{Prop: t.Name, Recipes: []string{}, Spreads: []int{}, Kind: t.Kind}
		var used, planned, logged []string
		for _, u := range t.Uses {
			if !u.counts() {
				continue
			}
			p.Recipes = append(p.Recipes, u.Recipe)
			if u.Spread > 0 {
				p.Spreads = append(p.Spreads, u.Spread)
			}
			switch {
			case !u.Planned:
				logged = append(logged, u.Recipe)
			case u.Chosen:
				used = append(used, u.Recipe)
			default:
				planned = append(planned, u.Recipe)
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
		if len(logged) > 0 {
			says = append(says, "on set though not planned: "+strings.Join(logged, ", "))
		}
		if t.Nearest != nil {
			says = append(says, t.apart())
		}
		p.Why = strings.Join(says, "; ")
		out = append(out, p)
	}
	return out
}

// apart tells how far the nearest two uses lie from each other.
func (t Thing) apart() string {
	switch *t.Nearest {
	case 0:
		return fmt.Sprintf("nearest %s and %s, on one spread", t.Between[0], t.Between[1])
	case 1:
		return fmt.Sprintf("nearest %s and %s, on spreads that follow each other", t.Between[0], t.Between[1])
	}
	return fmt.Sprintf("nearest %s and %s, %d spreads apart", t.Between[0], t.Between[1], *t.Nearest)
}
