package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"coverplate/ingest"
	"coverplate/ingest/fixity"
)

func newBag(at surroundings, where *string) *cobra.Command {
	return &cobra.Command{
		Use:   "bag DIR",
		Short: "copy all originals into a BagIt bag",
		Long: `Copies every original of the shoot into a BagIt 1.0 bag (RFC 8493) at DIR, an
archive that other programs can check: checksums of SHA-512 and SHA-256, read
back whole before the folder gets its name. DIR must not be there. An original
that is not what it was when it was taken is named, and no bag is made; nor is
one of no originals.`,
		Example: `  coverplate bag /media/archive/skerry-bag
  coverplate verify /media/archive/skerry-bag`,
		Args: usage(cobra.ExactArgs(1), "one folder that is not there yet"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openShoot(*where)
			if err != nil {
				return err
			}
			return runBag(cmd.Context(), at, s, args[0])
		},
	}
}

func runBag(ctx context.Context, at surroundings, s shoot, dir string) error {
	store, err := s.catalogue()
	if err != nil {
		return err
	}
	defer store.Close()
	abs, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	if rel, err := filepath.Rel(filepath.Join(s.Dir, "originals"), abs); err == nil && filepath.IsLocal(rel) {
		return misused("give a folder outside of originals", "%s lies among the originals", dir)
	}
	show := newCount(at)
	tags := []fixity.Tag{{Label: "External-Identifier", Value: s.Settings.Book.Title}, {Label: "Bag-Software-Agent", Value: version()}}
	files, inPlace, err := ingest.Bag(ctx, store, s.Dir, abs, tags, time.Now().In(s.Settings.Where), show.bytes)
	show.end()
	var changed *fixity.ChangedError
	switch {
	case errors.Is(err, ingest.ErrNoOriginals) && inPlace > 0:
		return misused("a bag holds the shoot's own copies; ingest without --in-place makes them", "no bag was made: %s taken in place, and none is the shoot's own", counted(inPlace, "file was", "files were"))
	case errors.Is(err, ingest.ErrNoOriginals):
		return misused("coverplate ingest brings a card in", "no bag was made: the shoot has no original yet")
	case errors.Is(err, fs.ErrExist):
		return misused("give a folder that is not there yet", "%s is there already", dir)
	case errors.As(err, &changed), errors.Is(err, fs.ErrNotExist):
		return withHint(fmt.Errorf("no bag was made:\n%w", err), "coverplate verify reads them all; bring those files back from a second copy")
	case err != nil:
		return err
	}
	t := newSetter(at.Stdout, termOptionsOf(at))
	t.put(0, 2, fmt.Sprintf("%s in a bag, read back whole:", counted(files, "original is", "originals are")))
	t.put(2, 2, plain(filepath.ToSlash(dir)))
	if inPlace > 0 {
		t.put(0, 2, fmt.Sprintf("%s taken in place, and not in it: they are not copies of this shoot's.", counted(inPlace, "file was", "files were")))
	}
	t.put(0, 2, "coverplate verify "+plain(dir)+" checks it; so does any program for RFC 8493.")
	return t.err
}
