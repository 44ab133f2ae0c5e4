package audit

import (
	"slices"
	"strings"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// ChangeKind tells what became of a recipe in a changed plan.
type ChangeKind string

// The kinds of change. One that is renumbered or retitled is the same dish.
const (
	Added        ChangeKind = "added"
	Gone         ChangeKind = "gone"
	Reidentified ChangeKind = "renumbered" // its title has another id now
	Changed      ChangeKind = "changed"    // its id is the same, what is asked of it is not
)

// DishChange is one dish of which two plans say different things.
type DishChange struct {
	Kind      ChangeKind
	Old, New  *plan.Recipe // nil: the plan has no such dish
	Cells     []CellChange
	Frames    []catalogue.FrameID // that show it, by the old plan, in capture order
	Decisions []Touched           // that hold of it, by the old plan, in the order they were made
}

// CellChange is one column of a recipe that is no longer what it was.
type CellChange struct{ Column, Old, New string }

// Becomes tells what a changed plan does to a decision.
type Becomes string

// What becomes of decisions.
const (
	Kept     Becomes = "kept"      // of the same dish, whatever its id
	HeldBack Becomes = "held back" // its dish is not in the plan, or can't be told
	Unasked  Becomes = "unasked"   // the dish is, its need no longer
	Strays   Becomes = "strays"    // to another dish: it was said before decisions kept titles
	Yields   Becomes = "yields"    // another decision of the same matter comes before it now
)

// Touched is a decision and what becomes of it.
type Touched struct {
	Decision catalogue.Decision // as the old plan numbers its recipe
	Becomes  Becomes
}

// Moved is a frame that shows another dish by the new plan, or one of a dish
// that is gone; "" is unplaced.
type Moved struct {
	Frame    catalogue.FrameID
	Old, New string // recipes, each as its own plan numbers them
}

// Replanned is what a changed plan would do to a shoot.
type Replanned struct {
	Changes []DishChange // those of the old plan in its order, then what was added
	Moved   []Moved      // in capture order; frames that follow their dish are not among them
}

// Loses reports whether a frame or a decision would lose its dish.
func (r Replanned) Loses() bool {
	lost := slices.ContainsFunc(r.Moved, func(m Moved) bool { return m.Old != "" })
	for _, c := range r.Changes {
		lost = lost || slices.ContainsFunc(c.Decisions, func(t Touched) bool { return t.Becomes != Kept })
	}
	return lost
}

// Replan holds the shoot's plan against next, dish by dish, and tells which
// frames and decisions each change touches. Nothing is changed.
func Replan(s Shoot, next []plan.Recipe) Replanned {
	heirs := heirsOf(s.Recipes, next)
	var out Replanned
	at := make([]int, len(s.Recipes)) // by old recipe: its place in out.Changes, −1 none
	for i := range s.Recipes {
		old := &s.Recipes[i]
		at[i] = len(out.Changes)
		if heirs[i] < 0 {
			out.Changes = append(out.Changes, DishChange{Kind: Gone, Old: old})
			continue
		}
		c := DishChange{Kind: Changed, Old: old, New: &next[heirs[i]], Cells: cellsChanged(*old, next[heirs[i]])}
		if folding(c.Old.ID) != folding(c.New.ID) {
			c.Kind = Reidentified
		} else if len(c.Cells) == 0 {
			at[i] = -1
			continue
		}
		out.Changes = append(out.Changes, c)
	}
	for i := range next {
		if !slices.Contains(heirs, i) {
			out.Changes = append(out.Changes, DishChange{Kind: Added, New: &next[i]})
		}
	}
	after := s
	after.Recipes = next
	after.Earlier = slices.Concat(s.Earlier, TitledOf(s.Recipes))
	was, is := placesOf(s.Recipes), placesOf(next)
	out.frames(Matches(s), Matches(after), was, is, heirs, at)
	out.decisions(s, next, was, is, heirs, at)
	return out
}

// heirsOf gives for each recipe of old the place of the same dish in next, −1
// none: that of its title, else that of its id where the titles may be one's.
func heirsOf(old, next []plan.Recipe) []int {
	n := numberingOf(next)
	heirs := make([]int, len(old))
	taken := map[int]bool{}
	for _, renumbered := range [2]bool{false, true} {
		for i, r := range old {
			to, how := n.follow(r.ID, r.Title)
			if !renumbered {
				heirs[i] = -1
			}
			if (how == sameDish && !renumbered || how == elsewhere && renumbered) && !taken[to] {
				heirs[i], taken[to] = to, true
			}
		}
	}
	return heirs
}

// frames tells which frames each change touches, and which lose their dish.
func (r *Replanned) frames(before, after []Match, was, is map[string]int, heirs, at []int) {
	now := map[catalogue.FrameID]string{}
	for _, m := range after {
		now[m.Frame] = m.Recipe
	}
	for _, m := range before {
		heir := -1
		if i, ok := was[folding(m.Recipe)]; ok {
			heir = heirs[i]
			if at[i] >= 0 {
				c := &r.Changes[at[i]]
				c.Frames = append(c.Frames, m.Frame)
			}
		}
		to, shown := is[folding(now[m.Frame])]
		if m.Recipe == "" && !shown || shown && to == heir {
			continue
		}
		r.Moved = append(r.Moved, Moved{m.Frame, m.Recipe, now[m.Frame]})
	}
}

// decisions tells which of those that hold each change touches.
func (r *Replanned) decisions(s Shoot, next []plan.Recipe, was, is map[string]int, heirs, at []int) {
	before, _ := Renumbered(s.Recipes, s.Decisions)
	after, _ := Renumbered(next, s.Decisions)
	now := map[int64]catalogue.Decision{}
	for _, d := range catalogue.Current(after) {
		now[d.ID] = d
	}
	for _, d := range catalogue.Current(before) {
		i, ok := was[folding(d.Recipe)]
		if !ok {
			continue
		}
		t := Touched{d, Kept}
		n, holds := now[d.ID]
		to, shown := is[folding(n.Recipe)]
		switch {
		case !holds:
			t.Becomes = Yields
		case !shown:
			t.Becomes = HeldBack
		case to != heirs[i]:
			t.Becomes = Strays
		case d.Need != "" && asked(s.Recipes[i], d.Need) && !asked(next[to], d.Need):
			t.Becomes = Unasked
		}
		if at[i] < 0 {
			if t.Becomes == Kept {
				continue
			}
			at[i] = len(r.Changes) // its dish is as it was, and this is not
			r.Changes = append(r.Changes, DishChange{Kind: Changed, Old: &s.Recipes[i], New: &next[heirs[i]]})
		}
		c := &r.Changes[at[i]]
		c.Decisions = append(c.Decisions, t)
	}
}

// asked tells whether a recipe has a need.
func asked(r plan.Recipe, need string) bool {
	return slices.ContainsFunc(r.Needs, func(n plan.Need) bool { return needKey(n.String()) == needKey(need) })
}

// cells are the columns of a recipe but its id, as a plan writes them.
func cells(r plan.Recipe) []plan.Field {
	all := []plan.Field{{Name: plan.ColumnTitle, Value: r.Title}, {Name: plan.ColumnChapter, Value: r.Chapter},
		{Name: plan.ColumnPages, Value: r.Pages.String()}, {Name: plan.ColumnSize, Value: r.Size.String()},
		{Name: plan.ColumnOrientation, Value: string(r.Orientation)}, {Name: plan.ColumnAngle, Value: string(r.Angle)},
		{Name: plan.ColumnNeeds, Value: plan.FormatNeeds(r.Needs)}, {Name: plan.ColumnProps, Value: strings.Join(r.Props, "; ")},
		{Name: plan.ColumnSurface, Value: r.Surface}, {Name: plan.ColumnDay, Value: r.Day.String()},
		{Name: plan.ColumnLettering, Value: string(r.Lettering)}, {Name: plan.ColumnAllergens, Value: r.Allergens}, {Name: plan.ColumnNotes, Value: r.Notes}}
	return append(all, r.Extra...)
}

// cellsChanged are the columns that differ, also those that one plan lacks.
func cellsChanged(old, next plan.Recipe) []CellChange {
	was, is := cells(old), cells(next)
	var out []CellChange
	for _, f := range was {
		if v := valueOf(is, f.Name); v != f.Value {
			out = append(out, CellChange{f.Name, f.Value, v})
		}
	}
	for _, f := range is {
		if f.Value != "" && !slices.ContainsFunc(was, func(o plan.Field) bool { return o.Name == f.Name }) {
			out = append(out, CellChange{f.Name, "", f.Value})
		}
	}
	return out
}

func valueOf(all []plan.Field, name string) string {
	for _, f := range all {
		if f.Name == name {
			return f.Value
		}
	}
	return ""
}
