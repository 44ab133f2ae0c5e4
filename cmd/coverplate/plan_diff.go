package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/audit/plansheet"
	"coverplate/ingest/catalogue"
)

func newPlanDiff(at surroundings, where *string) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "diff [OLD] NEW",
		Short: "what a changed plan would touch",
		Long: `Holds one plan against another, dish by dish: what was added, what is gone,
what has another number or title, which columns differ; and for each which
frames and which decisions it touches. A dish is told by its title first, so
that one renumbered is the same. Nothing is changed.

Without OLD it is the shoot's own plan. Where no shoot is at hand plans alone
are held against each other. Exit code 3 where a frame or a decision would lose
its dish.`,
		Example: `  coverplate plan diff ~/Downloads/plan-3.xlsx
  coverplate plan diff plan.csv plan-new.csv --json`,
		Args: usage(cobra.RangeArgs(1, 2), "an old plan, or none, and a new one"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runPlanDiff(cmd.Context(), at, *where, args, asJSON)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

// planDiff is two plans and what lies between them.
type planDiff struct {
	Old, New string // file names
	Between  audit.Replanned
	frames   map[catalogue.FrameID]catalogue.Frame
	g        gathered
	shot     bool // a shoot is at hand
}

func runPlanDiff(ctx context.Context, at surroundings, where string, args []string, asJSON bool) error {
	d, err := planDiffOf(ctx, at, where, args)
	if err != nil {
		return err
	}
	if asJSON {
		err = writeJSON(at.Stdout, d.facts())
	} else {
		err = d.put(at)
	}
	if err == nil && d.Between.Loses() {
		err = errWanting
	}
	return err
}

// planDiffOf reads the plans that the words name, and the shoot where there is
// one.
func planDiffOf(ctx context.Context, at surroundings, where string, args []string) (d planDiff, err error) {
	s, err := openShoot(where)
	d.shot = err == nil
	if err != nil && (where != "" || len(args) < 2 || !errors.As(err, new(wrongUse))) {
		return d, err
	}
	if len(args) < 2 {
		own, err := s.planPath()
		if err != nil {
			return d, err
		}
		args = []string{own, args[0]}
	}
	var sheets [2]plansheet.Sheet
	for i, path := range args {
		if sheets[i], err = readPlan(path, s.Settings.Book); err != nil {
			return d, err
		}
		if n := len(sheets[i].Faults); n > 0 && d.shot {
			fmt.Fprintf(at.Stderr, "note: %s has %s; coverplate plan check %s names them\n", plain(filepath.Base(path)), counted(n, "fault", "faults"), plain(shellWord(path)))
		}
	}
	d.Old, d.New = filepath.Base(args[0]), filepath.Base(args[1])
	if d.shot {
		if d.g, err = s.gather(ctx, at.Now()); err != nil {
			return d, err
		}
	}
	d.g.Recipes = sheets[0].Recipes
	d.frames = map[catalogue.FrameID]catalogue.Frame{}
	for _, f := range d.g.Frames {
		d.frames[f.ID] = f
	}
	d.Between = audit.Replan(d.g.Shoot, sheets[1].Recipes)
	return d, nil
}

// put sets the differences for people.
func (d planDiff) put(at surroundings) error {
	t := newSetter(at.Stdout, termOptionsOf(at))
	if len(d.Between.Changes)+len(d.Between.Moved) == 0 {
		t.put(0, 2, fmt.Sprintf("%s and %s plan the same.", d.Old, d.New))
		return t.err
	}
	count := map[audit.ChangeKind]int{}
	for _, c := range d.Between.Changes {
		count[c.Kind]++
	}
	var sums []string
	for _, k := range []audit.ChangeKind{audit.Added, audit.Gone, audit.Reidentified, audit.Changed} {
		if count[k] > 0 {
			sums = append(sums, fmt.Sprintf("%d %s", count[k], k))
		}
	}
	says := fmt.Sprintf("From %s to %s: %s.", d.Old, d.New, cmp.Or(strings.Join(sums, ", "), "no dish differs"))
	if !d.shot {
		says += " No shoot is at hand, so frames and decisions were not looked at."
	}
	t.put(0, 2, says)
	for _, c := range d.Between.Changes {
		d.putChange(t, c)
	}
	if len(d.Between.Moved) > 0 {
		t.gap()
		t.put(0, 2, "Frames that would not be of the dish that they are of now:")
		for _, m := range d.Between.Moved {
			t.put(2, 4, fmt.Sprintf("%s: %s → %s", d.frames[m.Frame].Path(), cmp.Or(m.Old, "unplaced"), cmp.Or(m.New, "unplaced")))
		}
	}
	if count[audit.Reidentified] > 0 {
		t.gap()
		t.put(0, 2, "Cards that are printed say the old numbers to people: print them anew. The tool tells a dish by the title in its code, so frames after an old card follow it.")
	}
	return t.err
}

func (d planDiff) putChange(t *setter, c audit.DishChange) {
	t.gap()
	switch c.Kind {
	case audit.Added:
		t.put(0, 2, fmt.Sprintf("%s, %s: added; pages %s, %s", c.New.ID, c.New.Title, cmp.Or(c.New.Pages.String(), "not said"), plan.FormatNeeds(c.New.Needs)))
	case audit.Reidentified:
		t.put(0, 2, fmt.Sprintf("%s → %s, %s: renumbered", c.Old.ID, c.New.ID, c.New.Title))
	default:
		t.put(0, 2, fmt.Sprintf("%s, %s: %s", c.Old.ID, c.Old.Title, c.Kind))
	}
	for _, cell := range c.Cells {
		t.put(2, 4, fmt.Sprintf("%s: %s → %s", cell.Column, cmp.Or(cell.Old, "nothing"), cmp.Or(cell.New, "nothing")))
	}
	if len(c.Frames) > 0 {
		t.put(2, 4, counted(len(c.Frames), "frame shows it", "frames show it")+": "+d.some(c.Frames))
	}
	for _, what := range []struct {
		becomes audit.Becomes
		says    string
	}{
		{audit.Kept, "kept"}, {audit.HeldBack, "held back, since the plan no longer has its dish"},
		{audit.Unasked, "kept, but its need is no longer asked for"},
		{audit.Strays, "now of another dish, since it was said before titles were kept: say it again"},
		{audit.Yields, "overruled by another"},
	} {
		for _, o := range c.Decisions {
			if o.Becomes == what.becomes {
				t.put(2, 4, fmt.Sprintf("decided: %s (%s)", d.g.decisionSays(o.Decision), what.says))
			}
		}
	}
}

// some names the first and the last of frames.
func (d planDiff) some(ids []catalogue.FrameID) string {
	first, last := d.frames[ids[0]], d.frames[ids[len(ids)-1]]
	if len(ids) == 1 {
		return first.Path()
	}
	return first.Path() + " to " + last.Path()
}

// planDiffJSON is what plan diff --json prints.
type planDiffJSON struct {
	Old     string           `json:"old"`
	New     string           `json:"new"`
	Looked  bool             `json:"shoot_looked_at"` // false: frames and decisions are not known
	Changes []planChangeJSON `json:"changes"`
	Moved   []planMovedJSON  `json:"moved"`
}

type planChangeJSON struct {
	Change    audit.ChangeKind `json:"change"`
	Old       *string          `json:"old_recipe"` // null: the plan has no such dish
	New       *string          `json:"new_recipe"`
	Title     string           `json:"title"` // the new one, where it is
	Cells     []planCellJSON   `json:"cells"`
	Frames    []string         `json:"frames"`
	Decisions []planSaidJSON   `json:"decisions"`
}

type planCellJSON struct {
	Column string `json:"column"`
	Old    string `json:"old"`
	New    string `json:"new"`
}

type planSaidJSON struct {
	ID      int64         `json:"id"`
	Says    string        `json:"says"`
	Becomes audit.Becomes `json:"becomes"`
}

type planMovedJSON struct {
	Frame string  `json:"frame"`
	Old   *string `json:"old_recipe"` // null: unplaced
	New   *string `json:"new_recipe"`
}

func (d planDiff) facts() planDiffJSON {
	out := planDiffJSON{Old: d.Old, New: d.New, Looked: d.shot, Changes: []planChangeJSON{}, Moved: []planMovedJSON{}}
	for _, c := range d.Between.Changes {
		j := planChangeJSON{Change: c.Kind, Cells: []planCellJSON{}, Frames: []string{}, Decisions: []planSaidJSON{}}
		if c.Old != nil {
			j.Old, j.Title = &c.Old.ID, c.Old.Title
		}
		if c.New != nil {
			j.New, j.Title = &c.New.ID, c.New.Title
		}
		for _, cell := range c.Cells {
			j.Cells = append(j.Cells, planCellJSON(cell))
		}
		for _, id := range c.Frames {
			j.Frames = append(j.Frames, d.frames[id].Path())
		}
		for _, o := range c.Decisions {
			j.Decisions = append(j.Decisions, planSaidJSON{o.Decision.ID, d.g.decisionSays(o.Decision), o.Becomes})
		}
		out.Changes = append(out.Changes, j)
	}
	for _, m := range d.Between.Moved {
		out.Moved = append(out.Moved, planMovedJSON{d.frames[m.Frame].Path(), written(m.Old), written(m.New)})
	}
	return out
}
