package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/audit/plansheet"
	"coverplate/ingest/catalogue"
)

// shoot is a shoot's folder with its settings.
type shoot struct {
	Dir      string
	Settings settings
}

// openShoot finds the shoot in where, or where that is "" in the working
// directory or the nearest folder above that holds one.
func openShoot(where string) (shoot, error) {
	dir := where
	if dir == "" {
		wd, err := os.Getwd()
		if err != nil {
			return shoot{}, err
		}
		if dir = shootAbove(wd); dir == "" {
			return shoot{}, misused("go to the shoot's folder, give it with --shoot DIR, or make one with coverplate new", "there is no shoot in %s or above", wd)
		}
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return shoot{}, err
	}
	path := filepath.Join(dir, settingsFile)
	s, err := readSettings(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return shoot{}, misused("a shoot's folder holds "+settingsFile+"; make one with coverplate new", "%s holds no shoot", where)
	case errors.As(err, new(settingsError)):
		return shoot{}, withHint(err, "mend "+settingsFile+" and run the command again; nothing else was touched")
	case err != nil:
		return shoot{}, err
	}
	return shoot{dir, s}, nil
}

// shootAbove is dir or the nearest folder above it that holds a shoot; "" none.
func shootAbove(dir string) string {
	for {
		if _, err := os.Stat(filepath.Join(dir, settingsFile)); err == nil {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			return ""
		}
		dir = up
	}
}

// planPath is the shoot's plan: plan.csv or plan.xlsx.
func (s shoot) planPath() (string, error) {
	var found []string
	for _, name := range []string{"plan.csv", "plan.xlsx"} {
		path := filepath.Join(s.Dir, name)
		if _, err := os.Stat(path); err == nil {
			found = append(found, path)
		}
	}
	switch len(found) {
	case 1:
		return found[0], nil
	case 2:
		return "", misused("move away the one that is out of date", "there are two plans in %s, plan.csv and plan.xlsx", s.Dir)
	}
	return "", misused("put the author's table there; coverplate plan template writes one to start from", "there is neither plan.csv nor plan.xlsx in %s", s.Dir)
}

// readPlan reads a plan and holds it against the book; all faults, those of
// the sheet and those of the plan, come in the sheet's order.
func readPlan(path string, book plan.Book) (plansheet.Sheet, error) {
	f, err := os.Open(path)
	if err != nil {
		return plansheet.Sheet{}, err
	}
	defer f.Close()
	sheet, err := plansheet.Read(f, filepath.Base(path))
	if err != nil {
		return sheet, err
	}
	sheet.Faults = sheet.Check(book)
	return sheet, nil
}

// catalogue opens the shoot's catalogue.
func (s shoot) catalogue() (*catalogue.Store, error) {
	return catalogue.Open(s.cataloguePath())
}

func (s shoot) cataloguePath() string { return filepath.Join(s.Dir, "catalogue.db") }

// gathered is all that a report rests on, and what was wrong with the plan.
type gathered struct {
	audit.Shoot
	Plan   string // the plan's path
	Faults []plan.Fault
}

// gather reads the plan and the catalogue.
func (s shoot) gather(ctx context.Context, now time.Time) (gathered, error) {
	g, err := s.planned(now)
	if err != nil {
		return g, err
	}
	store, err := s.catalogue()
	if err != nil {
		return g, err
	}
	defer store.Close()
	err = s.fill(ctx, store, &g)
	return g, err
}

// planned reads the plan.
func (s shoot) planned(now time.Time) (g gathered, err error) {
	if g.Plan, err = s.planPath(); err != nil {
		return g, err
	}
	sheet, err := readPlan(g.Plan, s.Settings.Book)
	if err != nil {
		return g, err
	}
	g.Faults = sheet.Faults
	g.Shoot = audit.Shoot{ID: s.Settings.ID, Book: s.Settings.Book, Recipes: sheet.Recipes, Rules: s.Settings.Rules, Zone: s.Settings.Where, Today: s.Settings.today(now)}
	return g, nil
}

// fill adds what the catalogue knows to g.
func (s shoot) fill(ctx context.Context, store *catalogue.Store, g *gathered) (err error) {
	if g.Frames, err = store.Frames(ctx); err != nil {
		return err
	}
	return s.fillRest(ctx, store, g)
}

// fillBare is fill, but that frames come without their maps: those are asked of
// the store, which must stay open, while g is judged. Of frames that it holds
// already only those that changed are read.
func (s shoot) fillBare(ctx context.Context, store *catalogue.Store, g *gathered) (err error) {
	if g.Frames, err = store.Bare(ctx, g.Frames); err != nil {
		return err
	}
	g.Maps = func(ids []catalogue.FrameID) ([]catalogue.Maps, error) { return store.Maps(ctx, ids) }
	return s.fillRest(ctx, store, g)
}

func (s shoot) fillRest(ctx context.Context, store *catalogue.Store, g *gathered) (err error) {
	if audit.Unexplained(g.Recipes, g.Frames) {
		g.Earlier = s.earlierPlans()
	}
	if g.Decisions, err = store.Decisions(ctx); err != nil {
		return err
	}
	g.Cards, err = store.Cards(ctx)
	return err
}

// gatherBare is gather by fillBare; done lets go of the catalogue.
func (s shoot) gatherBare(ctx context.Context, now time.Time) (g gathered, done func(), err error) {
	if g, err = s.planned(now); err != nil {
		return g, nil, err
	}
	store, err := s.catalogue()
	if err != nil {
		return g, nil, err
	}
	if err = s.fillBare(ctx, store, &g); err != nil {
		store.Close()
		return g, nil, err
	}
	return g, func() { store.Close() }, nil
}

// holds are the decisions that hold, of recipes as this plan numbers them.
func (g gathered) holds() []catalogue.Decision {
	decided, _ := audit.Renumbered(g.Recipes, g.Decisions)
	return catalogue.Current(decided)
}

// faultsNote says that a plan is not sound, for commands that go on all the
// same; "" where it is.
func (g gathered) faultsNote() string {
	if len(g.Faults) == 0 {
		return ""
	}
	return fmt.Sprintf("note: %s has %s; coverplate plan check names them", filepath.Base(g.Plan), counted(len(g.Faults), "fault", "faults"))
}
