package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"coverplate/ingest"
	"coverplate/ingest/catalogue"
)

func newDoctor(at surroundings, where *string) *cobra.Command {
	var rebuild bool
	cmd := &cobra.Command{
		Use:   "doctor",
		Short: "hold the catalogue against the originals and mend it",
		Long: `Checks that catalogue.db is sound, and names rows without originals, originals
that are not in it, and decisions that it and the journal beside it
(` + catalogue.JournalName + `) do not share. Nothing is changed, and no file is read
whole: coverplate verify does that.

--rebuild mends: a catalogue that is broken or lost is made anew from the
originals, with what people decided from the journal; the old file is kept
beside it. An original that manifest-sha256.txt does not vouch for is taken in
and named. Exit code 3 where anything is wrong.`,
		Example: `  coverplate doctor
  coverplate doctor --rebuild`,
		Args: usage(cobra.NoArgs, "no arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := openShoot(*where)
			if err != nil {
				return err
			}
			if rebuild {
				return runRebuild(cmd.Context(), at, s)
			}
			return runDoctor(cmd.Context(), at, s)
		},
	}
	cmd.Flags().BoolVar(&rebuild, "rebuild", false, "mend what is wrong")
	return cmd
}

func runDoctor(ctx context.Context, at surroundings, s shoot) error {
	t := newSetter(at.Stdout, termOptionsOf(at))
	path := s.cataloguePath()
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		t.put(0, 2, "There is no catalogue. coverplate doctor --rebuild makes one from the originals; so does the next ingest for what is on its card.")
		return errors.Join(t.err, errWanting)
	}
	store, err := s.catalogue()
	if errors.Is(err, catalogue.ErrForeign) {
		return withHint(err, "coverplate doctor --rebuild sets it aside and makes a new one from the originals")
	}
	if err != nil {
		return err
	}
	defer store.Close()
	h, err := ingest.Examine(ctx, store, s.Dir)
	if err != nil {
		return err
	}
	if sayHealth(t, h); h.Well() {
		return t.err
	}
	return errors.Join(t.err, errWanting)
}

func sayHealth(t *setter, h ingest.Health) {
	if h.Well() {
		t.put(0, 2, "The catalogue is sound: every file in it is there, every original is in it, and the journal has the same decisions.")
	}
	list := func(head, way string, all []string) {
		if len(all) == 0 {
			return
		}
		t.put(0, 2, fmt.Sprintf("%s (%d):", head, len(all)))
		for _, x := range all[:min(len(all), 20)] {
			t.put(2, 4, plain(x))
		}
		if more := len(all) - 20; more > 0 {
			t.put(2, 4, fmt.Sprintf("and %d more", more))
		}
		t.put(2, 2, way)
		t.gap()
	}
	var missing []string
	for _, f := range h.Missing {
		missing = append(missing, f.Path+" "+f.Says)
	}
	list("The catalogue is broken", "coverplate doctor --rebuild sets it aside and makes a new one from the originals.", h.Broken)
	list("In the catalogue and not as it says", "Bring them back from a second copy or the card; coverplate verify says which are whole.", missing)
	list("Originals that are not in the catalogue", "coverplate doctor --rebuild takes them in.", h.Unknown)
	if h.Unread != nil {
		list("The journal can't be read", "Mend that line in a text editor; keep a copy of the file first.", []string{h.Unread.Error()})
	}
	if u := h.Journal; !u.None() {
		if len(u.Other) > 0 {
			list("Decisions that the journal has otherwise", "A person must say which is right; nothing is done about them.", []string{fmt.Sprintf("number %v", u.Other)})
		}
		if n := len(u.Lost) + len(u.Unwritten); n > 0 {
			t.put(0, 2, fmt.Sprintf("%s in the journal alone, %d in the catalogue alone: coverplate doctor --rebuild brings them together.",
				counted(len(u.Lost), "decision is", "decisions are"), len(u.Unwritten)))
		}
	}
	if h.Previews > 0 {
		t.put(0, 2, fmt.Sprintf("%s gone: coverplate ingest of their card makes them anew.", counted(h.Previews, "preview is", "previews are")))
	}
}

func runRebuild(ctx context.Context, at surroundings, s shoot) error {
	t := newSetter(at.Stdout, termOptionsOf(at))
	aside, err := setAsideIfBroken(ctx, s)
	if err != nil {
		return err
	}
	if aside != "" {
		t.put(0, 2, "The old catalogue could not be used. It is kept as "+plain(filepath.Base(aside))+".")
	}
	store, err := s.catalogue()
	if err != nil {
		return err
	}
	defer store.Close()
	show := newProgress(at)
	r, err := ingest.Rebuild(ctx, store, s.Dir, show.event)
	show.end()
	if err != nil {
		return err
	}
	t.put(0, 2, fmt.Sprintf("%s taken into the catalogue, %s new.", counted(r.Files, "original was", "originals were"), counted(r.Frames, "frame", "frames")))
	if u := r.Decisions; len(u.Other) > 0 {
		t.put(0, 2, fmt.Sprintf("The journal has decisions of the numbers %v otherwise than the catalogue: none was touched, look at %s.", u.Other, catalogue.JournalName))
	} else if n := len(u.Lost) + len(u.Unwritten); n > 0 {
		t.put(0, 2, fmt.Sprintf("%s brought back from the journal, %d written to it.", counted(len(u.Lost), "decision was", "decisions were"), len(u.Unwritten)))
	}
	if len(r.Faults) > 0 {
		t.put(0, 2, fmt.Sprintf("Not vouched for (%d):", len(r.Faults)))
		for _, f := range r.Faults {
			t.put(2, 4, cutLeft(plain(f.Path), 76))
			t.put(6, 2, plain(f.Says))
		}
		if r.Manifest != "" {
			t.put(0, 2, "What the manifest said before is kept in "+r.Manifest+".")
		}
	}
	h, err := ingest.Examine(ctx, store, s.Dir)
	if err != nil {
		return err
	}
	t.gap()
	sayHealth(t, h)
	if !h.Well() || len(r.Faults) > 0 {
		return errors.Join(t.err, errWanting)
	}
	return t.err
}

// setAsideIfBroken gives a catalogue that can't be used another name, and
// returns it; "" where it can be used or is not there. One of a newer version is
// left alone.
func setAsideIfBroken(ctx context.Context, s shoot) (string, error) {
	path := s.cataloguePath()
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		return "", nil
	}
	store, err := s.catalogue()
	switch {
	case errors.Is(err, catalogue.ErrNewer):
		return "", err
	case err != nil:
		return catalogue.SetAside(path, time.Now())
	}
	broken, err := store.Integrity(ctx)
	if err := errors.Join(err, store.Close()); err != nil && ctx.Err() != nil {
		return "", err
	}
	if len(broken) == 0 {
		return "", nil
	}
	return catalogue.SetAside(path, time.Now())
}
