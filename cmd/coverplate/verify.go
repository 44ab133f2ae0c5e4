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

	"coverplate/ingest"
	"coverplate/ingest/fixity"
)

func newVerify(at surroundings, where *string) *cobra.Command {
	var second, anew, asJSON bool
	cmd := &cobra.Command{
		Use:   "verify [DIR]",
		Short: "read every original again and compare it",
		Long: `Reads every original of the shoot again, holds it against the catalogue, and
names each file that is missing, was changed, can't be read, or is known to
nobody. Ctrl-C stops it; the next run goes on from there, --anew from the
beginning. --second reads the second copies instead, wherever they are plugged
in. Nothing is written but the date of the check.

With DIR it checks that folder instead: a BagIt bag (RFC 8493), or a folder with
manifest-sha256.txt as sha256sum writes it. No shoot is needed for that, and it
always begins at the beginning. --json prints one object; exit code 3 where
anything is wrong.`,
		Example: `  coverplate verify
  coverplate verify --second
  coverplate verify /media/archive/skerry-bag`,
		Args: usage(cobra.MaximumNArgs(1), "one folder, or none for the shoot"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) == 1 {
				if second || anew {
					return misused("leave the flag out", "--second and --anew are of the shoot, not of a folder")
				}
				return runVerifyFolder(cmd.Context(), at, args[0], asJSON)
			}
			s, err := openShoot(*where)
			if err != nil {
				return err
			}
			return runVerify(cmd.Context(), at, s, second, anew, asJSON)
		},
	}
	f := cmd.Flags()
	f.BoolVar(&second, "second", false, "the second copies")
	f.BoolVar(&anew, "anew", false, "from the beginning, whatever was read before")
	f.BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

// verifiedFacts is what verify --json says of one folder.
type verifiedFacts struct {
	Root     string      `json:"root"`
	Files    int         `json:"files"` // read whole and equal, or with a checksum compared
	Bytes    int64       `json:"bytes"`
	Before   int         `json:"before"`  // read by a run that was cut off
	Waiting  int         `json:"waiting"` // originals without a copy there yet
	Faults   []faultJSON `json:"faults"`
	Warnings []faultJSON `json:"warnings"`
}

type faultJSON struct {
	Path string `json:"path"`
	Says string `json:"says"`
}

func faultsJSON(all []fixity.Fault) []faultJSON {
	out := []faultJSON{}
	for _, f := range all {
		out = append(out, faultJSON{f.Path, f.Says})
	}
	return out
}

func runVerify(ctx context.Context, at surroundings, s shoot, second, anew, asJSON bool) error {
	store, err := s.catalogue()
	if err != nil {
		return err
	}
	defer store.Close()
	roots := []string{""}
	if second {
		copies, err := store.Copies(ctx)
		if err != nil {
			return err
		}
		roots = nil
		for _, c := range copies {
			if len(roots) == 0 || roots[len(roots)-1] != c.Root { // they come by root
				roots = append(roots, c.Root)
			}
		}
		if len(roots) == 0 {
			return misused("coverplate ingest --second makes them", "this shoot has no second copies")
		}
	}
	wrong := false
	var all []verifiedFacts
	for _, root := range roots {
		show := newCount(at)
		v, err := ingest.Verify(ctx, store, ingest.VerifyOptions{Shoot: s.Dir, Root: root, Anew: anew}, show.files)
		show.end()
		f := verifiedFacts{Root: s.Dir, Files: v.Files, Bytes: v.Bytes, Before: v.Before, Waiting: v.Skipped, Faults: faultsJSON(v.Faults), Warnings: []faultJSON{}}
		if root != "" {
			f.Root = root
		}
		switch {
		case errors.Is(err, ingest.ErrGone):
			f.Faults = []faultJSON{{"", "is not plugged in now: nothing of it was read"}}
		case err != nil && ctx.Err() != nil:
			if !asJSON {
				sayVerified(newSetter(at.Stdout, termOptionsOf(at)), f)
			}
			return withHint(err, "coverplate verify goes on from there")
		case err != nil:
			return err
		}
		all = append(all, f)
		wrong = wrong || len(f.Faults) > 0 || f.Waiting > 0
	}
	return endVerify(at, all, wrong, asJSON)
}

func runVerifyFolder(ctx context.Context, at surroundings, dir string, asJSON bool) error {
	show := newCount(at)
	got, err := fixity.CheckBag(ctx, dir, show.bytes)
	if errors.Is(err, fixity.ErrNoBag) {
		got, err = fixity.CheckFolder(ctx, dir, ingest.ManifestName, show.bytes)
		if errors.Is(err, fs.ErrNotExist) {
			err = misused("give the folder that holds bagit.txt or "+ingest.ManifestName, "%s holds neither bagit.txt nor %s", dir, ingest.ManifestName)
		}
	} else if errors.Is(err, fs.ErrNotExist) {
		err = misused("give the folder of a bag, or one with "+ingest.ManifestName, "%s: no such folder", dir)
	}
	show.end()
	if err != nil {
		return err
	}
	f := verifiedFacts{Root: dir, Files: got.Files, Bytes: got.Bytes, Faults: faultsJSON(got.Faults), Warnings: faultsJSON(got.Warnings)}
	return endVerify(at, []verifiedFacts{f}, len(f.Faults) > 0, asJSON)
}

func endVerify(at surroundings, all []verifiedFacts, wrong, asJSON bool) error {
	var err error
	if asJSON {
		err = writeJSON(at.Stdout, struct {
			Verified []verifiedFacts `json:"verified"`
		}{all})
	} else {
		t := newSetter(at.Stdout, termOptionsOf(at))
		for i, f := range all {
			if i > 0 {
				t.gap()
			}
			sayVerified(t, f)
		}
		err = t.err
	}
	if err == nil && wrong {
		err = errWanting
	}
	return err
}

func sayVerified(t *setter, f verifiedFacts) {
	t.put(0, 2, plain(filepath.ToSlash(f.Root)))
	line := fmt.Sprintf("%s read whole (%s): what they were.", counted(f.Files, "file", "files"), bytesOf(f.Bytes))
	if f.Files == 1 {
		line = fmt.Sprintf("1 file read whole (%s): what it was.", bytesOf(f.Bytes))
	}
	if f.Files+f.Before+f.Waiting == 0 {
		line += " coverplate ingest brings a card in."
	}
	t.put(2, 2, line)
	if f.Before > 0 {
		t.put(2, 2, fmt.Sprintf("%s read by a run before that was stopped.", counted(f.Before, "file was", "files were")))
	}
	if f.Waiting > 0 {
		t.put(2, 2, fmt.Sprintf("%s no second copy there yet: coverplate ingest --second.", counted(f.Waiting, "original has", "originals have")))
	}
	list := func(head string, all []faultJSON) {
		if len(all) == 0 {
			return
		}
		t.put(2, 2, fmt.Sprintf("%s (%d):", head, len(all)))
		for _, x := range all {
			if x.Path != "" {
				t.put(4, 4, cutLeft(plain(x.Path), 74))
			}
			t.put(6, 2, plain(x.Says))
		}
	}
	list("Wrong", f.Faults)
	list("To know", f.Warnings)
}

// count is a line of progress on a terminal, and nothing elsewhere.
type count struct {
	w    *os.File // nil where there is no terminal
	sum  int64
	last time.Time
}

func newCount(at surroundings) *count {
	f, ok := terminal(at.Stderr)
	if !ok || at.Getenv("TERM") == "dumb" {
		return &count{}
	}
	return &count{w: f}
}

func (c *count) say(format string, args ...any) {
	if c.w == nil || time.Since(c.last) < 100*time.Millisecond {
		return
	}
	c.last = time.Now()
	fmt.Fprintf(c.w, "\r%-79s", cut(fmt.Sprintf(format, args...), 79))
}

func (c *count) files(done, all int, bytes int64) {
	c.say("%d of %s, %s", done, counted(all, "file", "files"), bytesOf(bytes))
}

func (c *count) bytes(n int) {
	c.sum += int64(n)
	c.say("%s read", bytesOf(c.sum))
}

func (c *count) end() {
	if c.w != nil && !c.last.IsZero() {
		fmt.Fprint(c.w, "\r"+strings.Repeat(" ", 79)+"\r")
	}
}
