package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"

	"github.com/spf13/cobra"

	"coverplate/ingest"
)

func newIngest(at surroundings, where *string) *cobra.Command {
	var o ingest.Options
	cmd := &cobra.Command{
		Use:   "ingest SRC…",
		Short: "bring a card into the shoot, copied and verified",
		Long: `Copies the pictures of cards or folders into the shoot, reads every copy back
and compares it, and stores what the camera wrote and the palette. Nothing is
ever written to a card. A second run over the same card copies nothing; after
Ctrl-C the next run goes on where this one stopped. Exit code 3 where a file
could not be read; the others are in.

Format a card only when two verified copies of it exist on different devices.`,
		Example: `  coverplate ingest /media/A001 /media/B001
  coverplate ingest ~/Pictures/tethered --in-place`,
		Args: usage(cobra.MinimumNArgs(1), "the folder of one card or more"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openShoot(*where)
			if err != nil {
				return err
			}
			o.Shoot, o.Sources = s.Dir, args
			return runIngest(cmd.Context(), at, s, o)
		},
	}
	f := cmd.Flags()
	f.BoolVar(&o.InPlace, "in-place", false, "copy nothing; remember where the files are")
	f.BoolVar(&o.Rehash, "rehash", false, "read every file whole, also those that look as last time")
	f.IntVar(&o.Workers, "workers", 0, "frames in hand at a time (default: one a processor)")
	return cmd
}

// unread is a file that could not be read, and why.
type unread struct{ file, why string }

func runIngest(ctx context.Context, at surroundings, s shoot, o ingest.Options) error {
	if o.Workers < 0 || o.Workers > 64 {
		return misused("leave --workers out, or give 1 to 64", "--workers %d is out of range", o.Workers)
	}
	for _, src := range o.Sources {
		if _, err := os.Stat(src); err != nil {
			return misused("is the card mounted? give the folder that holds DCIM, or any folder of pictures", "%s: %s", src, pathless(err, src))
		}
	}
	store, err := s.catalogue()
	if err != nil {
		return err
	}
	defer store.Close()
	var missed []unread
	show := newProgress(at)
	sum, err := ingest.Run(ctx, store, o, func(e ingest.Event) {
		if e.Err != nil {
			missed = append(missed, unread{e.Source, pathless(e.Err, e.Source)})
		}
		show.event(e)
	})
	show.end()
	if ctx.Err() != nil && err != nil {
		sayIngested(at.Stdout, sum, o, missed)
		return withHint(err, "what was copied is whole and in the catalogue; run the same command again and it goes on from there")
	}
	if err != nil {
		return err
	}
	sayIngested(at.Stdout, sum, o, missed)
	t := newSetter(at.Stdout, termOptionsOf(at))
	t.gap()
	if o.InPlace {
		t.put(0, 0, "Caution: nothing was copied; what was read here is still the only copy this shoot knows of.")
	} else {
		t.put(0, 0, "Caution: format a card only when two verified copies of it exist on different devices. This shoot is one.")
	}
	if len(missed) > 0 {
		return errors.Join(t.err, errWanting)
	}
	return t.err
}

// sayIngested sums up a run.
func sayIngested(w io.Writer, sum ingest.Summary, o ingest.Options, missed []unread) {
	t := newSetter(w, termOptions{Width: 80})
	done, verb := fmt.Sprintf("%d copied and read back (%s)", sum.Copied, bytesOf(sum.Bytes)), "copied"
	if o.InPlace {
		done, verb = fmt.Sprintf("%d taken in place", sum.Copied), "taken"
	}
	if sum.Copied == 0 {
		done = "nothing was " + verb
	}
	t.put(0, 2, fmt.Sprintf("%s found: %s, %d already here.", counted(sum.Files, "file", "files"), done, sum.AlreadyHere))
	line := fmt.Sprintf("%s, %d new.", counted(sum.Frames, "frame", "frames"), sum.NewFrames)
	if sum.Others > 0 {
		line += fmt.Sprintf(" %s kept that belong to no frame.", counted(sum.Others, "file", "files"))
	}
	if sum.Skipped > 0 {
		line += fmt.Sprintf(" %s passed over (hidden, system files or links).", counted(sum.Skipped, "entry", "entries"))
	}
	t.put(0, 2, line)
	if len(missed) > 0 {
		t.gap()
		t.put(0, 2, fmt.Sprintf("Could not be read (%d):", len(missed)))
		for _, m := range missed {
			t.put(2, 4, cutLeft(plain(filepath.ToSlash(m.file)), 74))
			t.put(6, 2, m.why)
		}
	}
}

// plainProgress tells of each frame by a line of its own.
type plainProgress struct{ w io.Writer }

func (p plainProgress) event(e ingest.Event) {
	switch {
	case e.Source == "", e.Err != nil: // the unread are listed at the end
		return
	case e.Frame == nil:
		fmt.Fprintf(p.w, "%-12s  %s\n", e.State, plain(filepath.ToSlash(e.Source)))
	default:
		fmt.Fprintf(p.w, "%-12s  %s\n", e.State, plain(e.Frame.Path()))
	}
}

func (p plainProgress) end() {}

// lastName is the last part of a path with either kind of slash.
func lastName(p string) string { return path.Base(filepath.ToSlash(p)) }

// bytesOf writes a size as card makers do, powers of a thousand.
func bytesOf(n int64) string {
	f, unit := float64(n), "bytes"
	for _, u := range []string{"kB", "MB", "GB", "TB"} {
		if f < 1000 {
			break
		}
		f, unit = f/1000, u
	}
	if unit == "bytes" {
		return counted(int(n), "byte", "bytes")
	}
	return fmt.Sprintf("%.3g %s", f, unit)
}
