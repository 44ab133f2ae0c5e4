package audit

import (
	"slices"
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

func onSet(id int64, recipe, name, as string) catalogue.Decision {
	return catalogue.Decision{ID: id, Kind: catalogue.Prop, Recipe: recipe, Name: name, Need: as}
}

func thingNamed(r Report, name string) Thing {
	for _, t := range r.Things {
		if t.Name == name {
			return t
		}
	}
	return Thing{}
}

// usesOf is "R01 R02*": * logged, - taken off, ! chosen, (why) excepted.
func usesOf(t Thing) string {
	var all []string
	for _, u := range t.Uses {
		s := u.Recipe
		if u.Logged {
			s += "*"
		}
		if u.Off {
			s += "-"
		}
		if u.Chosen {
			s += "!"
		}
		if u.Again != "" {
			s += "(" + u.Again + ")"
		}
		all = append(all, s)
	}
	return strings.Join(all, " ")
}

func TestThings(t *testing.T) {
	rows := []plan.Recipe{recipe("R01", "A", 10, plan.Hero), recipe("R02", "B", 12, plan.Hero), recipe("R03", "C", 40, plan.Hero), recipe("R04", "D", 60, plan.Hero)}
	rows[0].Props = []string{"Grey bowl", "tin spoon (borrowed from Una, due 2026-03-07)", "jug", "oat linen"}
	rows[1].Props = []string{"grey bowls (again: they run through the soups)", "tin spoon"}
	rows[2].Props = []string{"jug", "linen, oat", "amber dish", "silver laddle"}
	rows[3].Props = []string{"amber dish", "silver ladle"}
	rows[1].Day, rows[3].Surface = march(9), "Amber dish"
	s := shootOf(rows, []catalogue.Frame{shotAt("a.JPG", 0)}, chose(1, "a.JPG", "hero", "R01"),
		onSet(2, "R04", "grey bowl", ""), onSet(3, "R03", "Jug", catalogue.TakenOff), onSet(4, "R02", "horn knife", ""),
		onSet(5, "R01", "brass tray", ""), onSet(6, "R01", "Brass tray", catalogue.TakenOff), onSet(7, "R09", "bowl", ""))
	r := Run(s)
	for _, c := range []struct {
		name, uses string
		repeat     bool
		nearest    int
	}{
		{"Grey bowl", "R01! R02(they run through the soups) R04*", true, 25},
		{"tin spoon", "R01! R02", true, 1},
		{"jug", "R01! R03-", false, -1},
		{"oat linen", "R01!", false, -1},
		{"horn knife", "R02*", false, -1},
		{"amber dish", "R03 R04", true, 10},
	} {
		got := thingNamed(r, c.name)
		nearest := -1
		if got.Nearest != nil {
			nearest = *got.Nearest
		}
		if usesOf(got) != c.uses || got.Repeat != c.repeat || nearest != c.nearest {
			t.Errorf("%s: %q, repeat %v, nearest %d; want %q, %v, %d", c.name, usesOf(got), got.Repeat, nearest, c.uses, c.repeat, c.nearest)
		}
	}
	if got := thingNamed(r, "brass tray"); len(got.Uses) != 0 {
		t.Errorf("logged, and not on set after all: %+v", got)
	}
	spoon := thingNamed(r, "tin spoon")
	if !spoon.Lent || spoon.From != "Una" || spoon.Due != "2026-03-07" ||
		spoon.Returns != "it should have been back on Sat 7 March; wanted after it is due: R02, planned for Mon 9 March; still wanted: R02" {
		t.Errorf("borrowed: %+v", spoon)
	}
	if ask := thingNamed(r, "oat linen").Ask; !slices.Equal(ask, []string{"linen, oat"}) {
		t.Errorf("asked of the linen: %v", ask)
	}
	if ask := thingNamed(r, "silver laddle").Ask; !slices.Equal(ask, []string{"silver ladle"}) {
		t.Errorf("asked of the ladle: %v", ask)
	}
	if !hasNote(r, "decision", "bowl was on the set of R09, but the plan has no R09") {
		t.Errorf("notes %v", r.Notes)
	}
	for _, p := range r.Props {
		if p.Prop == "Grey bowl" && (!slices.Equal(p.Recipes, []string{"R01", "R04"}) || !strings.Contains(p.Why, "on set though not planned: R04; nearest R01 and R04, 25 spreads apart")) {
			t.Errorf("the repeat %+v", p)
		}
	}
}

func TestMayBe(t *testing.T) {
	things := []Thing{{Name: "linen, oat"}, {Name: "grey bowl"}, {Name: "plate 12 cm"}}
	for _, c := range []struct{ name, same, near string }{
		{"Linen Oat", "linen, oat", ""},
		{"oat linen", "", "linen, oat"},
		{"gray bowl", "", "grey bowl"},
		{"grey bowls", "grey bowl", ""},
		{"plate 13 cm", "", ""},
		{"grey jug", "", ""},
	} {
		same, near := MayBe(things, c.name)
		if same != c.same || strings.Join(near, "|") != c.near {
			t.Errorf("%s: %q, %q; want %q, %q", c.name, same, near, c.same, c.near)
		}
	}
}

func TestOneSurfaceUnderTwoNames(t *testing.T) {
	rough := func(energy float32) *catalogue.Focus {
		f := &catalogue.Focus{Columns: 8, Rows: 8, Far: make(catalogue.Floats, 16), Fine: make(catalogue.Floats, 16)}
		for i := range f.Far {
			f.Far[i], f.Fine[i] = catalogue.FloatOf(energy), catalogue.FloatOf(energy)
		}
		f.Far[5], f.Far[0] = catalogue.FloatOf(9), catalogue.FloatOf(9) // the dish, and what of it reaches a corner
		return f
	}
	for _, c := range []struct {
		name          string
		first, second string
		apart         float64 // L
		f1, f2        *catalogue.Focus
		chosen, noted bool
		texture       string
	}{
		{"one ground, two names", "oak", "walnut", 1, rough(0.01), rough(0.012), true, true, "their texture is alike (1.1 times as rough)"},
		{"not measured", "oak", "walnut", 1, nil, rough(0.012), true, true, "their texture was not measured"},
		{"another texture", "oak", "linen", 1, rough(0.01), rough(0.09), true, false, ""},
		{"both smooth", "steel", "glass", 1, rough(0), rough(1e-9), true, true, "alike (1.0 times"},
		{"another colour", "oak", "walnut", 20, rough(0.01), rough(0.01), true, false, ""},
		{"one name", "oak", "Oak", 1, rough(0.01), rough(0.01), true, false, ""},
		{"asked about already", "oat linen", "linen, oat", 1, rough(0.01), rough(0.01), true, false, ""},
		{"nobody chose", "oak", "walnut", 1, rough(0.01), rough(0.01), false, false, ""},
		{"the plan names none", "oak", "", 1, rough(0.01), rough(0.01), true, false, ""},
	} {
		rows := []plan.Recipe{recipe("R01", "A", 10, plan.Hero), recipe("R02", "B", 40, plan.Hero)}
		rows[0].Surface, rows[1].Surface = c.first, c.second
		a, b := shotAt("a.JPG", 0, "R01"), shotAt("b.JPG", 90, "R02")
		a.Look.Surface, b.Look.Surface = &colour.Swatch{Lab: colour.Lab{L: 60, A: 5, B: 9}}, &colour.Swatch{Lab: colour.Lab{L: 60 + c.apart, A: 5, B: 9}}
		a.Look.Focus, b.Look.Focus = c.f1, c.f2
		said := []catalogue.Decision{chose(1, "a.JPG", "hero", "R01")}
		if c.chosen {
			said = append(said, chose(2, "b.JPG", "hero", "R02"))
		}
		r := Run(shootOf(rows, []catalogue.Frame{a, b}, said...))
		if got := hasNote(r, "prop", "look as if on one surface"); got != c.noted || c.noted && !hasNote(r, "prop", c.texture) {
			t.Errorf("%s: noted %v, want %v: %v", c.name, got, c.noted, r.Notes)
		}
	}
	// What was logged on set stands above the plan.
	rows := []plan.Recipe{recipe("R01", "A", 10, plan.Hero), recipe("R02", "B", 40, plan.Hero)}
	rows[0].Surface, rows[1].Surface = "oak", "walnut"
	r := Run(shootOf(rows, []catalogue.Frame{shotAt("a.JPG", 0, "R01"), shotAt("b.JPG", 90, "R02")}, chose(1, "a.JPG", "hero", "R01"), chose(2, "b.JPG", "hero", "R02"), onSet(3, "R02", "oak", catalogue.AsSurface)))
	if hasNote(r, "prop", "look as if on one surface") || !thingNamed(r, "oak").Repeat {
		t.Errorf("logged as oak: %v, %+v", r.Notes, thingNamed(r, "oak"))
	}
}
