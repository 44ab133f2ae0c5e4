package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"coverplate/audit"
)

// takeFlags say what plan take may do unasked.
type takeFlags struct{ Yes, Faulty bool }

func newPlanTake(at surroundings, where *string) *cobra.Command {
	var flags takeFlags
	cmd := &cobra.Command{
		Use:   "take NEW",
		Short: "make a changed plan the shoot's own",
		Long: `Makes a changed plan the shoot's own: pages that moved, dishes cut and added,
numbers given anew. What it touches is shown first, as plan diff does, and you
are asked; where nobody can be asked say --yes. Every decision whose dish is
still planned keeps to it, whatever its number and title are now; those that no
longer make sense are listed. They are kept too, and hold again where the dish
comes back.

The plan before is kept in the folder plans. A plan with faults is refused,
unless --faulty takes it all the same. Exit code 3 where a frame or a decision
loses its dish.`,
		Example: `  coverplate plan take ~/Downloads/plan-3.xlsx
  coverplate plan take plan-new.csv --yes`,
		Args: usage(cobra.ExactArgs(1), "the new plan"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runPlanTake(cmd.Context(), at, *where, args[0], flags)
		},
	}
	cmd.Flags().BoolVar(&flags.Yes, "yes", false, "take it without asking")
	cmd.Flags().BoolVar(&flags.Faulty, "faulty", false, "take a plan that has faults")
	return cmd
}

func runPlanTake(ctx context.Context, at surroundings, where, path string, flags takeFlags) error {
	s, err := openShoot(where)
	if err != nil {
		return err
	}
	own, err := s.planPath()
	if err != nil {
		return err
	}
	if sameFile(own, path) {
		return misused("give the changed plan's file", "%s is the shoot's own plan already", path)
	}
	next, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	sheet, err := readPlan(path, s.Settings.Book)
	if err != nil {
		return err
	}
	if n := len(sheet.Faults); n > 0 && !flags.Faulty {
		return misused("coverplate plan check "+shellWord(path)+" names them; --faulty takes it all the same", "%s has %s; nothing was changed", filepath.Base(path), counted(n, "fault", "faults"))
	}
	d, err := planDiffOf(ctx, at, s.Dir, []string{path})
	if err != nil {
		return err
	}
	if err := d.put(at); err != nil {
		return err
	}
	if len(d.Between.Changes)+len(d.Between.Moved) == 0 {
		return nil
	}
	if err := agreeToPlan(at, flags.Yes); err != nil {
		return err
	}
	if now, err := os.ReadFile(path); err != nil {
		return err
	} else if !bytes.Equal(now, next) {
		return misused("run the command again", "%s was changed while it was looked at; nothing was changed", filepath.Base(path))
	}
	kept, err := s.putPlan(at, own, next, sheet.Format)
	if err != nil {
		return err
	}
	again := audit.Restated(d.g.Shoot, sheet.Recipes)
	if len(again) > 0 {
		store, err := s.catalogue()
		if err == nil {
			_, err = store.DecideAll(ctx, again)
			err = errors.Join(err, store.Close())
		}
		if err != nil {
			return withHint(err, "the plan is taken, and decisions of dishes with another title are not; run coverplate plan take "+shellWord(kept)+" to go back")
		}
	}
	t := newSetter(at.Stdout, termOptionsOf(at))
	t.gap()
	t.whole(fmt.Sprintf("%s is the plan now; the one before is kept as %s", filepath.Base(path), kept))
	if len(again) > 0 {
		t.put(0, 2, fmt.Sprintf("%s kept under new titles.", counted(len(again), "decision is", "decisions are")))
	}
	lost := 0
	for _, c := range d.Between.Changes {
		for _, o := range c.Decisions {
			if o.Becomes != audit.Kept && o.Becomes != audit.Strays {
				lost++
			}
		}
	}
	if lost > 0 {
		t.put(0, 2, fmt.Sprintf("%s, named above, no longer %s sense.", counted(lost, "decision", "decisions"), map[bool]string{true: "makes", false: "make"}[lost == 1]))
	}
	if t.err == nil && d.Between.Loses() {
		return errWanting
	}
	return t.err
}

// agreeToPlan asks whether the plan shall be taken.
func agreeToPlan(at surroundings, yes bool) error {
	if yes {
		return nil
	}
	in, ok := terminal(at.Stdin)
	if !ok {
		return misused("--yes takes it", "nobody can be asked here; nothing was changed")
	}
	take, err := askYes(at, in, "\nTake this plan?")
	if err == nil && !take {
		err = misused("coverplate plan diff shows what it would touch", "nothing was changed")
	}
	return err
}

// putPlan keeps the shoot's plan in the folder plans and puts another in its
// place, each in one step. It returns where the old one is kept, below the
// shoot's folder.
func (s shoot) putPlan(at surroundings, own string, next []byte, format string) (kept string, err error) {
	old, err := os.ReadFile(own)
	if err != nil {
		return "", err
	}
	if kept, err = s.keepPlan(at, old, filepath.Ext(own)); err != nil {
		return "", err
	}
	target := filepath.Join(s.Dir, "plan."+format)
	if err := writeOver(target, next); err != nil {
		return "", err
	}
	if target != own {
		if err := os.Remove(own); err != nil {
			return "", withHint(err, "take "+own+" away by hand: it is kept as "+kept)
		}
	}
	return kept, nil
}

// keepPlan keeps a plan in the folder plans, under a name of its own that it
// returns.
func (s shoot) keepPlan(at surroundings, old []byte, ext string) (kept string, err error) {
	if err := os.MkdirAll(filepath.Join(s.Dir, "plans"), 0o777); err != nil {
		return "", err
	}
	stamp := s.Settings.wallClock(at.Now()).Format("2006-01-02T150405")
	for n := 1; ; n++ {
		kept = filepath.Join("plans", "plan-"+stamp+ext)
		if n > 1 {
			kept = filepath.Join("plans", fmt.Sprintf("plan-%s-%d%s", stamp, n, ext))
		}
		path := filepath.Join(s.Dir, kept)
		if _, err := os.Lstat(path); err == nil {
			continue
		} else if !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
		return kept, writeOver(path, old)
	}
}

// plansKept are the files of the folder plans.
func (s shoot) plansKept() (paths []string) {
	dir := filepath.Join(s.Dir, "plans")
	all, _ := os.ReadDir(dir) // where there is none, none is kept
	for _, f := range all {
		paths = append(paths, filepath.Join(dir, f.Name()))
	}
	return paths
}

// earlierPlans are the dishes of the plans that are kept. One that can't be read
// is passed over: a slate that only it explains is left to a person.
func (s shoot) earlierPlans() (all []audit.Titled) {
	for _, path := range s.plansKept() {
		if sheet, err := readPlan(path, s.Settings.Book); err == nil {
			all = append(all, audit.TitledOf(sheet.Recipes)...)
		}
	}
	return all
}

// sameFile tells whether two paths are one file.
func sameFile(a, b string) bool {
	x, err := os.Stat(a)
	if err != nil {
		return false
	}
	y, err := os.Stat(b)
	return err == nil && os.SameFile(x, y)
}
