package audit

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// says puts a diff on one line.
func (r Replanned) says() string {
	var all []string
	for _, c := range r.Changes {
		one := string(c.Kind)
		if c.Old != nil {
			one += " " + c.Old.ID
		}
		if c.New != nil {
			one += ">" + c.New.ID
		}
		for _, cell := range c.Cells {
			one += " " + cell.Column
		}
		for _, f := range c.Frames {
			one += " " + string(f)
		}
		for _, d := range c.Decisions {
			one += fmt.Sprintf(" %d:%s", d.Decision.ID, d.Becomes)
		}
		all = append(all, one)
	}
	for _, m := range r.Moved {
		all = append(all, fmt.Sprintf("%s %s>%s", m.Frame, m.Old, m.New))
	}
	return strings.Join(all, "; ")
}

func TestReplanTellsWhatIsTouched(t *testing.T) {
	rye, broth, crisps := recipe("R01", "Dark rye", 11, plan.Hero, plan.Half), recipe("R02", "Barley broth", 13, plan.Hero), recipe("R03", "Dulse crisps", 15, plan.Hero)
	as := func(r plan.Recipe, id string) plan.Recipe { r.ID = id; return r }
	titled := func(r plan.Recipe, title string) plan.Recipe { r.Title = title; return r }
	old := []plan.Recipe{rye, broth, crisps}
	frames := []catalogue.Frame{shotAt("a", 0, "Dark rye"), shotAt("b", 90, "Barley broth"), shotAt("c", 180)}
	said := []catalogue.Decision{
		{ID: 1, Kind: catalogue.Assign, Frame: "id-c", Recipe: "R03", Title: "Dulse crisps"},
		{ID: 2, Kind: catalogue.Waive, Recipe: "R01", Title: "Dark rye", Need: "half", Why: "no post"},
		{ID: 3, Kind: catalogue.Waive, Recipe: "R02", Need: "hero", Why: "said before titles were kept"},
	}
	moved := rye
	moved.Pages, moved.Angle = plan.Pages{First: 24, Last: 25}, plan.Overhead
	noHalf := rye
	noHalf.Needs = needs(plan.Hero)
	milky := broth
	milky.Allergens = "milk"
	extra := broth
	extra.Extra = []plan.Field{{Name: "cook", Value: "A"}}
	for _, c := range []struct {
		name  string
		next  []plan.Recipe
		want  string
		loses bool
	}{
		{"the same", old, "", false},
		{"another order", []plan.Recipe{crisps, rye, broth}, "", false},
		{"pages and angle", []plan.Recipe{moved, broth, crisps}, "changed R01>R01 pages angle id-a 2:kept", false},
		{"a need less", []plan.Recipe{noHalf, broth, crisps}, "changed R01>R01 needs id-a 2:unasked", true},
		{"allergens", []plan.Recipe{rye, milky, crisps}, "changed R02>R02 allergens id-b 3:kept", false},
		{"a column of the author's own", []plan.Recipe{rye, extra, crisps}, "changed R02>R02 cook id-b 3:kept", false},
		{"called a little otherwise", []plan.Recipe{rye, broth, titled(crisps, "Dulse crisps with salt")}, "changed R03>R03 title id-c 1:kept", false},
		{"renumbered", []plan.Recipe{rye, broth, as(crisps, "R09")}, "renumbered R03>R09 id-c 1:kept", false},
		{"gone", []plan.Recipe{broth, crisps}, "gone R01 id-a 2:held back; id-a R01>", true},
		{"gone, its number another's", []plan.Recipe{titled(rye, "Kelp soup"), broth, crisps}, "gone R01 id-a 2:held back; added>R01; id-a R01>", true},
		{"exchanged", []plan.Recipe{as(rye, "R02"), as(broth, "R01"), crisps}, "renumbered R01>R02 id-a 2:kept; renumbered R02>R01 id-b 3:strays", true},
		{"added", append(slices.Clone(old), recipe("R04", "Kelp soup", 17, plan.Hero)), "added>R04", false},
		{"nothing left", nil, "gone R01 id-a 2:held back; gone R02 id-b 3:held back; gone R03 id-c 1:held back; id-a R01>; id-b R02>; id-c R03>", true},
	} {
		s := shootOf(old, frames, said...)
		got := Replan(s, c.next)
		if got.says() != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got.says(), c.want)
		}
		if got.Loses() != c.loses {
			t.Errorf("%s: loses %v", c.name, got.Loses())
		}
	}
}

// However a plan is numbered, no frame and no decision with a title leaves its
// dish, and each dish is told once.
func TestReplanOfEveryNumberingKeepsAll(t *testing.T) {
	var old []plan.Recipe
	var frames []catalogue.Frame
	var said []catalogue.Decision
	for i, title := range []string{"Dark rye", "Barley broth", "Dulse crisps", "Smoked roe", "Kelp soup", "Leek tart"} {
		old = append(old, recipe(fmt.Sprintf("R%02d", i+1), title, 11+2*i, plan.Hero))
		frames = append(frames, shotAt(fmt.Sprint(i), float64(90*i), title))
		said = append(said, catalogue.Decision{ID: int64(i + 1), Kind: catalogue.Assign, Frame: frames[i].ID, Recipe: old[i].ID, Title: title})
	}
	r := rand.New(rand.NewPCG(6, 1))
	for range 50 {
		next := slices.Clone(old)
		fixed := 0
		for i, to := range r.Perm(len(old)) {
			next[i].ID = old[to].ID
			if i == to {
				fixed++
			}
		}
		got := Replan(shootOf(old, frames, said...), next)
		if len(got.Moved) != 0 || got.Loses() || len(got.Changes) != len(old)-fixed {
			t.Fatalf("%s", got.says())
		}
		for _, c := range got.Changes {
			if c.Kind != Reidentified || c.Old.Title != c.New.Title || len(c.Frames) != 1 || len(c.Decisions) != 1 {
				t.Fatalf("%s", got.says())
			}
		}
	}
}
