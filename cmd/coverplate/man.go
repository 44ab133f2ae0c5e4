package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime/debug"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
)

func newMan(at surroundings) *cobra.Command {
	var to string
	cmd := &cobra.Command{
		Use:   "man --to DIR",
		Short: "write the manual, a page a command",
		Long: `Writes the manual as pages for man(1), one a command, from the help that the
commands carry. Pages of an earlier run are replaced; other files are left.`,
		Example: `  coverplate man --to ~/.local/share/man/man1
  coverplate man --to man && man -l man/coverplate-day.1`,
		Args: usage(cobra.NoArgs, "no words; --to names the folder"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runMan(at, cmd.Root(), to)
		},
	}
	cmd.Flags().StringVar(&to, "to", "", "folder for the pages; made where it is not there")
	return cmd
}

func runMan(at surroundings, root *cobra.Command, to string) error {
	if to == "" {
		return misused("coverplate man --to man", "the manual needs a folder, and none was given")
	}
	if err := os.MkdirAll(to, 0o777); err != nil {
		return err
	}
	day := builtOn(at.Now())
	root.DisableAutoGenTag = true
	pages := 0
	for all := []*cobra.Command{root}; len(all) > 0; all = all[1:] {
		c := all[0]
		if c.Hidden {
			continue
		}
		all = append(all, c.Commands()...)
		var b bytes.Buffer
		head := doc.GenManHeader{Title: "COVERPLATE", Section: "1", Date: &day, Source: "coverplate", Manual: "coverplate"}
		if err := doc.GenMan(c, &head, &b); err != nil {
			return err
		}
		name := filepath.Join(to, manName(c))
		if err := writeOver(name, b.Bytes()); err != nil {
			return err
		}
		pages++
	}
	_, err := fmt.Fprintf(at.Stdout, "%s written to %s; read one with man -l %s\n", counted(pages, "page", "pages"), plain(to), plain(shellWord(filepath.Join(to, manName(root)))))
	return err
}

// manName is the file of a command's page: coverplate-plan-check.1.
func manName(c *cobra.Command) string {
	name := c.Name()
	for up := c.Parent(); up != nil; up = up.Parent() {
		name = up.Name() + "-" + name
	}
	return name + ".1"
}

// writeOver replaces a file in one step, so that none is ever half written.
func writeOver(path string, b []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".coverplate-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // gone already where all went well
	_, err = f.Write(b)
	if err := errors.Join(err, f.Chmod(0o644), f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// builtOn is the day of the commit that the program was built from; now where
// the toolchain recorded none.
func builtOn(now time.Time) time.Time {
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if t, err := time.Parse(time.RFC3339, s.Value); s.Key == "vcs.time" && err == nil {
				return t
			}
		}
	}
	return now
}
