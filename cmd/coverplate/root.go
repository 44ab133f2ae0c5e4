package main

import (
	"fmt"
	"os"
	"runtime"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"
)

// newRoot is the whole tree of commands.
func newRoot(at surroundings) *cobra.Command {
	var where string
	root := &cobra.Command{
		Use:   "coverplate",
		Short: "what a cookbook shoot still lacks",
		Long: `coverplate holds the photographs of a cookbook shoot against the author's plan
and tells what must still be shot, shot again, looked at or chosen, before the
set is struck and the studio is gone.

It reads cards and never writes to them. What it can't tell, it says.

Exit codes: 0 well; 1 failed; 2 used wrongly; 3 ran, and something is wanting
(gaps in an audit, faults in a plan, files that could not be read).`,
		Example: `  coverplate demo
  coverplate new skerry --title "Skerry Table" --trim 189x246 \
      --days 2026-03-02..2026-03-11
  cd skerry
  coverplate plan check
  coverplate ingest /media/A001
  coverplate audit`,
		Version:       version(),
		Args:          cobra.ArbitraryArgs,
		SilenceErrors: true,
		SilenceUsage:  true,
		RunE:          onlySubcommands,
	}
	root.SetIn(at.Stdin)
	root.SetOut(at.Stdout)
	root.SetErr(at.Stderr)
	root.SetVersionTemplate("{{.Version}}\n")
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return misused(cmd.CommandPath()+" --help shows how it is called", "%w", err)
	})
	root.PersistentFlags().StringVar(&where, "shoot", "", "work in the shoot in `DIR` (default: here, or a folder above)")
	root.CompletionOptions.DisableDefaultCmd = true
	root.AddGroup(
		&cobra.Group{ID: "before", Title: "Before the shoot:"},
		&cobra.Group{ID: "studio", Title: "In the studio:"},
		&cobra.Group{ID: "report", Title: "What is missing:"},
		&cobra.Group{ID: "loose", Title: "Without a shoot:"},
	)
	in := func(group string, cmds ...*cobra.Command) {
		for _, c := range cmds {
			c.GroupID = group
		}
		root.AddCommand(cmds...)
	}
	in("before", newNew(at), newPlan(at, &where), newSlates(at, &where))
	in("studio",
		newDay(at, &where),
		newProps(at, &where),
		newVariant(at, &where),
		newIngest(at, &where),
		newWatch(at, &where),
		newCards(at, &where),
		newVerify(at, &where),
		newBag(at, &where),
		newDoctor(at, &where),
		newSlateClock(at, &where),
		newClock(at, &where),
		newFrames(at, &where),
		newOn(at, &where),
		newOff(at, &where),
		newAssign(at, &where),
		newChoose(at, &where),
		newCrop(at, &where),
		newWaive(at, &where),
		newUndo(at, &where),
	)
	in("report", newAudit(at, &where), newDesk(at, &where), newFlatplan(at, &where), newPost(at, &where), newDeliver(at, &where), newWall(at, &where), newContact(at, &where))
	in("loose", newMeasure(at, &where), newDepth(at, &where), newAlike(at, &where), newDemo(at))
	root.AddCommand(newCompletion(at), newMan(at))
	root.AddCommand(newTopics()...)
	return root
}

// onlySubcommands is the run of a command that does nothing by itself.
func onlySubcommands(cmd *cobra.Command, args []string) error {
	if len(args) == 0 {
		return cmd.Help()
	}
	hint := cmd.CommandPath() + " --help lists the commands"
	cmd.SuggestionsMinimumDistance = 2
	if near := cmd.SuggestionsFor(args[0]); len(near) > 0 {
		hint = "did you mean " + cmd.CommandPath() + " " + strings.Join(near, " or ") + "?"
	}
	return misused(hint, "there is no command %q", args[0])
}

// usage makes a wrong number of arguments a wrong use.
func usage(check cobra.PositionalArgs, want string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if check(cmd, args) == nil {
			return nil
		}
		got := "none was given"
		if len(args) > 0 {
			got = fmt.Sprintf("%d given", len(args))
		}
		return misused(cmd.CommandPath()+" --help shows examples", "%s takes %s; %s", cmd.CommandPath(), want, got)
	}
}

// version is the module's version with the commit it was built from, as the
// Go toolchain recorded them.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "coverplate, version not recorded, " + runtime.Version()
	}
	words := []string{"coverplate", info.Main.Version}
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision" && len(s.Value) >= 12:
			words = append(words, "commit "+s.Value[:12])
		case s.Key == "vcs.time":
			words = append(words, "of "+s.Value)
		case s.Key == "vcs.modified" && s.Value == "true":
			words = append(words, "with changes")
		}
	}
	return strings.Join(append(words, runtime.Version()), " ")
}

// termOptionsOf tells how to set a report on w: a terminal's own width up to
// 100 columns and colour unless NO_COLOR or a dumb terminal forbid it; 80
// columns and no colour elsewhere.
func termOptionsOf(at surroundings) termOptions {
	o := termOptions{Width: 80}
	f, ok := terminal(at.Stdout)
	if !ok {
		return o
	}
	if w, _, err := term.GetSize(int(f.Fd())); err == nil && w > 0 {
		o.Width = min(w, 100)
	}
	o.Colour = at.Getenv("NO_COLOR") == "" && at.Getenv("TERM") != "dumb"
	o.Hues = huesOf(f, at.Getenv)
	return o
}

// terminal returns the file behind w where it is a terminal.
func terminal(w any) (*os.File, bool) {
	if k, ok := w.(*keptError); ok {
		w = k.w
	}
	f, ok := w.(*os.File)
	return f, ok && term.IsTerminal(int(f.Fd()))
}
