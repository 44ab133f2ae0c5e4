package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/ingest"
)

// watchOptions is how a folder is watched.
type watchOptions struct {
	Still time.Duration // for how long nothing may have changed in what is taken
	Once  bool          // end when all that is there was taken
	Every time.Duration // between two looks
}

func newWatch(at surroundings, where *string) *cobra.Command {
	o := watchOptions{Every: time.Second}
	cmd := &cobra.Command{
		Use:   "watch DIR",
		Short: "take in each card that is dropped into a folder",
		Long: `Takes each card's folder and each file that is dropped into DIR: waits until it
has stopped growing, copies and verifies it like ingest, and says what changed
in coverage. What is in DIR already is taken first, and nothing twice. Nothing
is written to DIR. Second copies are made where copies.second asks for them.

Ctrl-C ends it; what was copied is whole. --once ends by itself when all that
is there was taken. Exit code 3 where a file could not be read.`,
		Example: `  coverplate watch /media
  coverplate watch ~/incoming --still 10s
  coverplate watch ~/incoming --once`,
		Args: usage(cobra.ExactArgs(1), "the folder that cards are dropped into"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runWatch(cmd.Context(), at, *where, args[0], o)
		},
	}
	f := cmd.Flags()
	f.DurationVar(&o.Still, "still", 4*time.Second, "how long it must not have grown")
	f.BoolVar(&o.Once, "once", false, "end when all that is there was taken")
	return cmd
}

// drop is something that lies in the watched folder: a folder, or all its
// loose files together, since raw and JPEG of one frame are one.
type drop struct {
	name    string
	sources []string
	shape   string // another text whenever something in it changed
}

// dropState is what is known of a drop.
type dropState struct {
	shape string
	since time.Time // when it was first seen in this shape
	taken string    // the shape in which it was taken; "" not yet
}

func runWatch(ctx context.Context, at surroundings, where, dir string, o watchOptions) error {
	if o.Still < 0 || o.Still > time.Hour {
		return misused("give it like --still 4s", "--still %s is out of range", o.Still)
	}
	s, err := openShoot(where)
	if err != nil {
		return err
	}
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return misused("make it, or mount its disk", "%s is no folder", dir)
	}
	t := newSetter(at.Stdout, termOptionsOf(at))
	t.put(0, 2, "Watching "+plain(dir)+"; Ctrl-C ends it.")
	known := map[string]*dropState{}
	wanting := false
	every := time.NewTicker(o.Every)
	defer every.Stop()
	for {
		drops, left, err := ready(dir, known, o.Still)
		if err != nil {
			t.put(0, 2, plain("note: "+pathless(err, dir)+"; it is looked at again"))
		}
		for _, d := range drops {
			missed, err := s.takeDrop(ctx, at, t, d)
			switch {
			case errors.Is(err, ingest.ErrBusy):
				left = true // another ingest is at work: next time
				continue
			case ctx.Err() != nil:
				return nil
			case err != nil && !o.Once && !fatal(err):
				t.put(0, 2, plain(fmt.Sprintf("%s was not taken: %v", d.name, err)))
			case err != nil:
				return err
			}
			wanting = wanting || missed
			known[d.name].taken = d.shape
		}
		if t.err != nil {
			return t.err
		}
		if o.Once && !left {
			break
		}
		select {
		case <-ctx.Done():
			if wanting {
				return errWanting
			}
			return nil
		case <-every.C:
		}
	}
	if wanting {
		return errWanting
	}
	return nil
}

// fatal tells whether no other drop would fare better.
func fatal(err error) bool {
	return errors.As(err, new(*ingest.LibraryError)) || errors.Is(err, ingest.ErrOwnFolder)
}

// ready finds what has stopped growing and was not taken as it is now; left
// tells whether something is there that has not.
func ready(dir string, known map[string]*dropState, atLeast time.Duration) (still []drop, left bool, err error) {
	drops, err := dropsIn(dir)
	if err != nil {
		return nil, true, err
	}
	now := time.Now()
	for _, d := range drops {
		k := known[d.name]
		if k == nil {
			k = &dropState{}
			known[d.name] = k
		}
		if k.shape != d.shape {
			k.shape, k.since = d.shape, now
		}
		switch {
		case k.taken == d.shape:
		case now.Sub(k.since) >= atLeast:
			still = append(still, d)
		default:
			left = true
		}
	}
	return still, left, nil
}

// dropsIn lists what lies in the folder. Hidden entries and links are passed
// over, and folders with nothing in them.
func dropsIn(dir string) ([]drop, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var all []drop
	loose := drop{name: ""}
	for _, e := range entries {
		path := filepath.Join(dir, e.Name())
		if strings.HasPrefix(e.Name(), ".") {
			continue
		}
		switch {
		case e.IsDir():
			shape, n := growthOf(path)
			if n > 0 {
				all = append(all, drop{e.Name(), []string{path}, shape})
			}
		case e.Type().IsRegular():
			if info, err := e.Info(); err == nil {
				loose.sources = append(loose.sources, path)
				loose.shape += fmt.Sprintf("%s %d %d\n", e.Name(), info.Size(), info.ModTime().UnixNano())
			}
		}
	}
	if len(loose.sources) > 0 {
		loose.name = "loose files"
		all = append(all, loose)
	}
	return all, nil
}

// growthOf sums up the files of a folder: how many, how large, the latest time.
// What can't be read makes it another each time, so that it is not taken half.
func growthOf(dir string) (shape string, files int) {
	var bytes, latest int64
	err := filepath.WalkDir(dir, func(_ string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if !d.Type().IsRegular() {
			return nil
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		files++
		bytes += info.Size()
		latest = max(latest, info.ModTime().UnixNano())
		return nil
	})
	if err != nil {
		return fmt.Sprintf("unread at %d: %v", time.Now().UnixNano(), err), max(files, 1)
	}
	return fmt.Sprintf("%d %d %d", files, bytes, latest), files
}

// takeDrop takes one drop in and says what that changed.
func (s shoot) takeDrop(ctx context.Context, at surroundings, t *setter, d drop) (missed bool, err error) {
	before, err := s.gather(ctx, at.Now())
	if err != nil {
		return false, err
	}
	old := audit.Run(before.Shoot)
	t.head(d.name, "")
	err = runIngest(ctx, at, s, ingest.Options{Shoot: s.Dir, Sources: d.sources, Second: s.Settings.second(s.Dir)})
	if missed = errors.Is(err, errWanting); err != nil && !missed {
		return false, err
	}
	g, err := s.gather(ctx, at.Now())
	if err != nil {
		return missed, err
	}
	now := audit.Run(g.Shoot)
	if dishes := touched(old, now); len(dishes) > 0 {
		var unread []unread
		if now, unread, err = s.auditCloser(ctx, at, &g, dishes); err != nil {
			return missed, err
		}
		sayMissed(at, unread)
	}
	t.gap()
	lines := changed(old, now)
	if len(lines) == 0 {
		lines = []string{"Nothing changed in coverage."}
	}
	for _, l := range lines {
		t.put(0, 2, l)
	}
	return missed, t.err
}

// touched are the recipes with other frames than before.
func touched(old, now audit.Report) []string {
	frames := map[string]int{}
	for _, r := range old.Recipes {
		frames[r.ID] = r.Frames
	}
	var ids []string
	for _, r := range now.Recipes {
		if n, ok := frames[r.ID]; !ok || n != r.Frames {
			ids = append(ids, r.ID)
		}
	}
	return ids
}

// changed says what differs in coverage: needs by their verdict, sets that may
// be struck or must be held, frames that no one could place.
func changed(old, now audit.Report) []string {
	verdicts, strikes := map[[2]string]audit.Verdict{}, map[string]audit.Strike{}
	for _, r := range old.Recipes {
		strikes[r.ID] = r.Strike
		for _, f := range r.Needs {
			verdicts[[2]string{r.ID, f.Need}] = f.Verdict
		}
	}
	var lines []string
	for _, r := range now.Recipes {
		for _, f := range r.Needs {
			if was := verdicts[[2]string{r.ID, f.Need}]; was != f.Verdict && was != "" {
				lines = append(lines, fmt.Sprintf("%s %s, %s: was %s, now %s: %s", r.ID, r.Title, f.Need, was, f.Verdict, f.Why))
			}
		}
		if was := strikes[r.ID]; was != "" && was != r.Strike {
			lines = append(lines, fmt.Sprintf("%s %s: its set was %s, now %s", r.ID, r.Title, was, r.Strike))
		}
	}
	seen := map[string]bool{}
	for _, u := range old.Unplaced {
		seen[u.Frame] = true
	}
	n := 0
	for _, u := range now.Unplaced {
		if !seen[u.Frame] {
			n++
		}
	}
	if n > 0 {
		lines = append(lines, counted(n, "new frame is", "new frames are")+" without a dish: coverplate desk or coverplate assign places them")
	}
	return lines
}
