package main

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"coverplate/audit"
	"coverplate/ingest"
	"coverplate/ingest/catalogue"
)

// closerRounds is how often an audit asks for frames at 1:1 and judges again.
// What is wanted still after them stays `look`, and the next audit goes on.
const closerRounds = 12

// auditCloser runs the audit, reads at 1:1 the frames whose verdict needs it,
// and runs it again, until no more is wanted. Only frames of the recipes asked
// for are read; of all where asked is empty. Each is tried once. What could not
// be told is returned with its reason; g holds the frames as they are now, with
// their maps or without as it did before.
func (s shoot) auditCloser(ctx context.Context, at surroundings, g *gathered, asked []string) (audit.Report, []unread, error) {
	r := audit.Run(g.Shoot)
	if r.Fault != nil {
		return r, nil, r.Fault
	}
	tried := map[catalogue.FrameID]bool{}
	var missed []unread
	for range closerRounds {
		todo := wanted(r, asked, tried)
		if len(todo) == 0 {
			break
		}
		if err := s.lookCloser(ctx, at, todo, &missed); err != nil {
			return r, missed, err
		}
		store, err := s.catalogue()
		if err != nil {
			return r, missed, err
		}
		if g.Maps != nil {
			g.Frames, err = store.Bare(ctx, g.Frames)
		} else {
			g.Frames, err = store.Frames(ctx)
		}
		store.Close()
		if err != nil {
			return r, missed, err
		}
		g.Before = r.Memory
		if r = audit.Run(g.Shoot); r.Fault != nil {
			return r, missed, r.Fault
		}
	}
	slices.SortFunc(missed, func(a, b unread) int { return cmp.Compare(a.file, b.file) })
	return r, missed, nil
}

// wanted are the frames that a report wants at 1:1 and that were not tried;
// they count as tried from now on.
func wanted(r audit.Report, asked []string, tried map[catalogue.FrameID]bool) []catalogue.FrameID {
	recipe := map[catalogue.FrameID]string{}
	for _, m := range r.Matches {
		recipe[m.Frame] = m.Recipe
	}
	var todo []catalogue.FrameID
	for _, id := range r.Wants {
		if tried[id] || len(asked) > 0 && !slices.Contains(asked, recipe[id]) {
			continue
		}
		tried[id] = true
		todo = append(todo, id)
	}
	return todo
}

// lookCloser reads frames at 1:1, and tells on a terminal how far it is.
func (s shoot) lookCloser(ctx context.Context, at surroundings, ids []catalogue.FrameID, missed *[]unread) error {
	store, err := s.catalogue()
	if err != nil {
		return err
	}
	defer store.Close()
	_, live := terminal(at.Stderr)
	live = live && at.Getenv("TERM") != "dumb"
	done := 0
	tell := func() {
		if live {
			fmt.Fprintf(at.Stderr, "\rlooking at %s at 1:1: %d done\x1b[K", counted(len(ids), "frame", "frames"), done)
		}
	}
	tell()
	err = ingest.Closer(ctx, store, s.Dir, ids, func(f catalogue.Frame, why error) {
		done++
		if why != nil {
			*missed = append(*missed, unread{f.Path(), why.Error()})
		}
		tell()
	})
	if live {
		fmt.Fprint(at.Stderr, "\r\x1b[K")
	}
	if ctx.Err() != nil && err != nil {
		return withHint(err, "what was read is kept; run the same command again and it goes on from there")
	}
	return err
}

// sayMissed tells on stderr which frames could not be read at 1:1.
func sayMissed(at surroundings, missed []unread) {
	for _, m := range missed {
		fmt.Fprintln(at.Stderr, plain(fmt.Sprintf("note: %s could not be judged at 1:1: %s", m.file, m.why)))
	}
}
