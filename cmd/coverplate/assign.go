package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"path"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/ingest/catalogue"
)

// assignFlags say how far an assign reaches.
type assignFlags struct{ Only, Yes bool }

func newAssign(at surroundings, where *string) *cobra.Command {
	var flags assignFlags
	cmd := &cobra.Command{
		Use:   "assign FRAME… RECIPE|none",
		Short: "say which recipe frames show",
		Long: `Says that frames show a recipe, or none. A person's word stands above
everything the program finds out, in every later run.

The frame's set follows: the frames of its body about it that show the same.
They are listed first; on a terminal you are asked, elsewhere say --yes, or
--only for the named frames alone. Frames of which somebody has spoken before
stay as they are. With none the named frames alone are meant.

FRAME is a path in the shoot, a file name where it is the only one, or six or
more digits of the frame's id.`,
		Example: `  coverplate assign DSC_0412.JPG R07
  coverplate assign DSC_0412.JPG R07 --yes
  coverplate assign DSC_0412.JPG DSC_0413.JPG R07 --only
  coverplate assign 3f9a01c2 none`,
		Args: usage(cobra.MinimumNArgs(2), "one frame or more, and then a recipe or none"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if flags.Only && flags.Yes {
				return misused("leave one of them out", "--only leaves the sets as they are, --yes takes them along")
			}
			return runAssign(cmd.Context(), at, *where, args[:len(args)-1], args[len(args)-1], flags)
		},
		ValidArgsFunction: completeRecipes(where, "none"),
	}
	cmd.Flags().BoolVar(&flags.Only, "only", false, "the named frames alone, not their sets")
	cmd.Flags().BoolVar(&flags.Yes, "yes", false, "take the sets along without asking")
	return cmd
}

func runAssign(ctx context.Context, at surroundings, where string, words []string, recipe string, flags assignFlags) error {
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	id := ""
	if !strings.EqualFold(recipe, "none") {
		r, err := findRecipe(g.Recipes, recipe)
		if err != nil {
			return err
		}
		id = r.ID
	}
	var named []catalogue.Frame
	for _, word := range words { // all are found before the first is written
		f, err := findFrame(g.Frames, s.Dir, word)
		if err != nil {
			return err
		}
		named = append(named, f)
	}
	var follow []catalogue.Frame
	if id != "" && !flags.Only {
		follow = g.follow(named)
	}
	if len(follow) > 0 && !flags.Yes {
		if err := agree(at, id, named, follow); err != nil {
			return err
		}
	}
	var decisions []catalogue.Decision
	var says []string
	for _, f := range append(named, follow...) {
		decisions = append(decisions, catalogue.Decision{Kind: catalogue.Assign, Frame: f.ID, Recipe: id})
		shows := id
		if id == "" {
			shows = "no recipe"
		}
		says = append(says, f.Path()+" shows "+shows)
	}
	return s.decide(ctx, at, g, decisions, says)
}

// follow is the frames of the sets of others, without those.
func (g gathered) follow(named []catalogue.Frame) []catalogue.Frame {
	ids := make([]catalogue.FrameID, len(named))
	for i, f := range named {
		ids[i] = f.ID
	}
	byID := map[catalogue.FrameID]catalogue.Frame{}
	for _, f := range g.Frames {
		byID[f.ID] = f
	}
	var out []catalogue.Frame
	for _, id := range audit.Along(g.Shoot, audit.Run(g.Shoot), ids) {
		out = append(out, byID[id])
	}
	return out
}

// agree shows which frames follow and asks whether they shall. Nobody there to
// ask is a wrong use.
func agree(at surroundings, recipe string, named, follow []catalogue.Frame) error {
	names := []string{}
	for i, f := range follow {
		if i == 10 && len(follow) > 11 {
			names = append(names, fmt.Sprintf("and %d more", len(follow)-i))
			break
		}
		names = append(names, path.Base(f.Path()))
	}
	first, last := follow[0], follow[0]
	for _, f := range follow {
		if f.Taken.Before(first.Taken) {
			first = f
		}
		if f.Taken.After(last.Taken) {
			last = f
		}
	}
	when := ""
	if !first.Taken.IsZero() {
		when = ", " + first.Taken.Format("2006-01-02 15:04:05") + " to " + last.Taken.Format("15:04:05")
	}
	says := fmt.Sprintf("with %s its set follows: %s%s\n  %s", path.Base(named[0].Path()), counted(len(follow), "frame", "frames"), when, strings.Join(names, " "))
	in, ok := terminal(at.Stdin)
	if !ok {
		return misused("--yes takes them along, --only leaves them as they are", "%s", says)
	}
	yes, err := askYes(at, in, fmt.Sprintf("%s\nDo all %d show %s?", plainLines(says), len(named)+len(follow), plain(recipe)))
	if err == nil && !yes {
		err = misused("--only is for the named frames alone", "nothing was changed")
	}
	return err
}

// askYes asks the person at the terminal in.
func askYes(at surroundings, in io.Reader, question string) (bool, error) {
	if _, err := fmt.Fprint(at.Stderr, question+" yes or no: "); err != nil {
		return false, err
	}
	answer, err := bufio.NewReader(in).ReadString('\n')
	if err != nil && answer == "" {
		return false, err
	}
	return slices.Contains([]string{"y", "yes"}, strings.ToLower(strings.TrimSpace(answer))), nil
}
