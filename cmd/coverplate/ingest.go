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
	var again bool
	var second string
	cmd := &cobra.Command{
		Use:   "ingest SRC…",
		Short: "bring a card into the shoot, copied and verified",
		Long: `Copies the pictures of cards or folders into the shoot, reads every copy back
and compares it, and stores what the camera wrote and what the pixels show.
Nothing is ever written to a card. A second run over the same card copies
nothing; after Ctrl-C the next run goes on where this one stopped. Exit code 3
where a file could not be read; the others are in.

Pixels are measured when all is copied: the cards may be pulled then. With
--later they are not measured in this run; pictures are shown, and judged by
what the camera wrote. That is for a battery, or a next card at the door.

What waits to be measured, and frames that an older version measured, are
measured at the end of the next run, from their originals in the shoot. --renew
does that alone, without a card.

--second DIR keeps a second copy of everything on another disk, written in
the same read of the card and read back too; copies.second in coverplate.toml
says it once for all. A second disk that is full, slow or gone never harms the
first. What it lacks is made good at the end of a run, or by --second without
a card.

Format a card only when coverplate cards says that it may be.`,
		Example: `  coverplate ingest /media/A001 /media/B001
  coverplate ingest /media/A001 --second /media/backup/skerry
  coverplate ingest ~/Pictures/tethered --in-place
  coverplate ingest /media/A001 --later
  coverplate ingest --renew`,
		Args: func(cmd *cobra.Command, args []string) error {
			if (again || cmd.Flags().Changed("second")) && len(args) == 0 {
				return nil
			}
			return usage(cobra.MinimumNArgs(1), "the folder of one card or more")(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openShoot(*where)
			if err != nil {
				return err
			}
			o.Shoot, o.Sources = s.Dir, args
			if again && second != "" && len(args) == 0 {
				return misused("run them one after the other", "--renew and --second without a card are two things")
			}
			if o.Second = s.Settings.second(s.Dir); second != "" {
				o.Second = second
			}
			if o.InPlace {
				if second != "" {
					return misused("leave one of them out", "--in-place copies nothing, --second copies")
				}
				o.Second = ""
			}
			if again {
				o.Second = ""
			}
			if o.Later && len(args) == 0 {
				return misused("leave it out, or give a card", "--later is for a run with a card")
			}
			return runIngest(cmd.Context(), at, s, o)
		},
	}
	f := cmd.Flags()
	f.BoolVar(&o.InPlace, "in-place", false, "copy nothing; remember where the files are")
	f.BoolVar(&o.Rehash, "rehash", false, "read every file whole, also those that look as last time")
	f.BoolVar(&o.Later, "later", false, "copy and show; --renew or the next run measures")
	f.StringVar(&second, "second", "", "folder on another disk for second copies")
	f.BoolVar(&again, "renew", false, "measure what waits or an older version did; no card")
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
	o.DayEnds = s.Settings.Book.DayEnds
	var missed, behind []unread
	show := newProgress(at)
	hear := func(e ingest.Event) {
		if e.Err != nil && e.State == ingest.StateSecond {
			behind = append(behind, unread{e.Source, pathless(e.Err, e.Source)})
		} else if e.Err != nil {
			missed = append(missed, unread{e.Source, pathless(e.Err, e.Source)})
		}
		show.event(e)
	}
	hear, over := s.noting(hear)
	defer over()
	var sum ingest.Summary
	switch {
	case len(o.Sources) > 0:
		sum, err = ingest.Run(ctx, store, o, hear)
	case o.Second != "":
		sum, err = ingest.Second(ctx, store, o, hear)
	default:
		sum, err = ingest.Renew(ctx, store, o.Shoot, o.Workers, hear)
	}
	show.end()
	if ctx.Err() != nil && err != nil {
		sayIngested(at.Stdout, sum, o, missed, behind)
		return withHint(err, "what was copied is whole and in the catalogue; run the same command again and it goes on from there")
	}
	if err != nil {
		return err
	}
	sayIngested(at.Stdout, sum, o, missed, behind)
	t := newSetter(at.Stdout, termOptionsOf(at))
	if len(o.Sources) > 0 {
		t.gap()
	}
	switch {
	case len(o.Sources) == 0:
	case o.InPlace:
		t.put(0, 0, "Caution: nothing was copied; what was read here is still the only copy this shoot knows of.")
	default:
		t.put(0, 0, "Caution: format a card only when two verified copies of it exist on different devices: coverplate cards looks at that, file by file.")
	}
	if len(missed) > 0 || sum.Second.Waiting > 0 || sum.Second.Fault != nil {
		return errors.Join(t.err, errWanting)
	}
	return t.err
}

// sayIngested sums up a run.
func sayIngested(w io.Writer, sum ingest.Summary, o ingest.Options, missed, behind []unread) {
	t := newSetter(w, termOptions{Width: 80})
	done, verb := fmt.Sprintf("%d copied and read back (%s)", sum.Copied, bytesOf(sum.Bytes)), "copied"
	if o.InPlace {
		done, verb = fmt.Sprintf("%d taken in place", sum.Copied), "taken"
	}
	if sum.Copied == 0 {
		done = "nothing was " + verb
	}
	if len(o.Sources) > 0 {
		sayTaken(t, sum, done)
	}
	saySecond(t, sum.Second)
	sayRenewed(t, sum, len(o.Sources) == 0 && o.Second == "")
	list := func(head string, all []unread) {
		if len(all) == 0 {
			return
		}
		t.gap()
		t.put(0, 2, fmt.Sprintf("%s (%d):", head, len(all)))
		for _, m := range all {
			t.put(2, 4, cutLeft(plain(filepath.ToSlash(m.file)), 74))
			t.put(6, 2, m.why)
		}
	}
	list("Could not be read", missed)
	list("Second copies that could not be made", behind)
}

// saySecond tells what became of the second copies.
func saySecond(t *setter, s ingest.SecondCopies) {
	if s.Root == "" {
		return
	}
	made := "none made"
	if s.Copied > 0 {
		made = fmt.Sprintf("%d made and read back", s.Copied)
	}
	t.put(0, 2, fmt.Sprintf("Second copies: %s; %d of %s there.", made, s.Whole, counted(s.Whole+s.Waiting, "original is", "originals are")))
	t.put(2, 2, "In "+plain(filepath.ToSlash(s.Root)))
	if s.Waiting > 0 {
		t.put(2, 2, "The first copies are whole. When the disk is well again, coverplate ingest --second makes good what it lacks.")
	}
	if !s.Apart && s.Whole > 0 {
		t.put(2, 2, "It lies on the same device as the shoot, as far as can be told, and doesn't count as a second one.")
	}
}

// sayTaken sums up what was found on cards. done says what was copied.
func sayTaken(t *setter, sum ingest.Summary, done string) {
	t.put(0, 2, fmt.Sprintf("%s found: %s, %d already here.", counted(sum.Files, "file", "files"), done, sum.AlreadyHere))
	line := fmt.Sprintf("%s, %d new.", counted(sum.Frames, "frame", "frames"), sum.NewFrames)
	if sum.Others > 0 {
		line += fmt.Sprintf(" %s kept that belong to no frame.", counted(sum.Others, "file", "files"))
	}
	if sum.Skipped > 0 {
		line += fmt.Sprintf(" %s passed over (hidden, system files or links).", counted(sum.Skipped, "entry", "entries"))
	}
	t.put(0, 2, line)
}

// sayRenewed tells of the frames that an older version measured; asked, also
// that there is none.
func sayRenewed(t *setter, sum ingest.Summary, asked bool) {
	switch {
	case sum.Renewed > 0:
		t.put(0, 2, fmt.Sprintf("%s that an older version measured: measured again.", counted(sum.Renewed, "frame", "frames")))
	case asked && sum.Measured > 0:
		t.put(0, 2, fmt.Sprintf("%s that waited: measured.", counted(sum.Measured, "frame", "frames")))
	case asked && sum.Away == 0:
		t.put(0, 2, "Every frame was measured by this version: nothing to measure again.")
	}
	if sum.Waiting > 0 {
		t.put(0, 2, fmt.Sprintf("%s to be measured: coverplate ingest --renew does it, and so does the next ingest.", counted(sum.Waiting, "frame waits", "frames wait")))
	}
	if sum.Away > 0 {
		t.put(0, 2, fmt.Sprintf("%s that an older version measured could not be: the original is not where it was. Bring it back, or mount its disk, and run coverplate ingest --renew.", counted(sum.Away, "frame", "frames")))
	}
}

// plainProgress tells of each frame by a line of its own.
type plainProgress struct{ w io.Writer }

func (p plainProgress) event(e ingest.Event) {
	switch {
	case e.Source == "", e.Err != nil, e.State == ingest.StateMeasured, e.State == ingest.StateShown: // the unread are listed at the end
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
