package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// A person's decision is a fact: stored, dated, never overruled by a
// computation and never erased, only taken back.

func newChoose(at surroundings, where *string) *cobra.Command {
	var undo bool
	cmd := &cobra.Command{
		Use:   "choose FRAME NEED",
		Short: "choose the frame for a need of its recipe",
		Long: `Chooses a frame for a need of the recipe it shows: hero, overhead, half and
what else the plan asks for. A later choice for the same need replaces it;
--undo takes the last choice back and brings back the one before.`,
		Example: `  coverplate choose DSC_0419.JPG hero
  coverplate choose 3f9a01c2 half
  coverplate choose --undo`,
		Args: func(cmd *cobra.Command, args []string) error {
			if undo {
				return usage(cobra.NoArgs, "no words with --undo")(cmd, args)
			}
			return usage(cobra.ExactArgs(2), "a frame and a need")(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if undo {
				return runUndo(cmd.Context(), at, *where, catalogue.Choose)
			}
			return runChoose(cmd.Context(), at, *where, args[0], args[1])
		},
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			if len(args) == 1 {
				return []string{"hero", "overhead", "half", "portrait", "landscape", "detail", "process", "opener", "options"}, cobra.ShellCompDirectiveNoFileComp
			}
			return nil, cobra.ShellCompDirectiveDefault
		},
	}
	cmd.Flags().BoolVar(&undo, "undo", false, "take the last choice back")
	return cmd
}

func runChoose(ctx context.Context, at surroundings, where, word, needWord string) error {
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	f, err := findFrame(g.Frames, s.Dir, word)
	if err != nil {
		return err
	}
	recipe := ""
	for _, m := range audit.Matches(g.Shoot) {
		if m.Frame == f.ID {
			recipe = m.Recipe
		}
	}
	if recipe == "" {
		return misused("say it first: coverplate assign "+shellWord(word)+" RECIPE", "%s shows no recipe that the program knows of", f.Path())
	}
	r, err := findRecipe(g.Recipes, recipe)
	if err != nil {
		return err
	}
	need, err := findNeed(r, needWord)
	if err != nil {
		return err
	}
	if need.Kind == plan.Palette {
		return misused("choose the hero; the palette is taken from it", "a palette is measured, not chosen")
	}
	d := catalogue.Decision{Kind: catalogue.Choose, Frame: f.ID, Recipe: r.ID, Need: need.String()}
	return s.decide(ctx, at, g, []catalogue.Decision{d}, []string{r.ID + " " + need.String() + ": " + f.Path()})
}

func newWaive(at surroundings, where *string) *cobra.Command {
	var why string
	cmd := &cobra.Command{
		Use:   "waive RECIPE NEED --why REASON",
		Short: "say that a need is not wanted after all",
		Long: `Says that a need of a recipe is not wanted after all, and why. The report
shows it as waived, with the reason. coverplate undo takes it back.`,
		Example: `  coverplate waive R07 half --why "no post planned for the crispbread"`,
		Args:    usage(cobra.ExactArgs(2), "a recipe and a need"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runWaive(cmd.Context(), at, *where, args[0], args[1], why)
		},
		ValidArgsFunction: completeRecipes(where),
	}
	cmd.Flags().StringVar(&why, "why", "", "the reason, for whoever reads the report")
	return cmd
}

func runWaive(ctx context.Context, at surroundings, where, recipe, needWord, why string) error {
	if strings.TrimSpace(why) == "" {
		return misused(`give one: --why "no post planned"`, "a need is waived with a reason, and none was given")
	}
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	r, err := findRecipe(g.Recipes, recipe)
	if err != nil {
		return err
	}
	need, err := findNeed(r, needWord)
	if err != nil {
		return err
	}
	d := catalogue.Decision{Kind: catalogue.Waive, Recipe: r.ID, Need: need.String(), Why: strings.TrimSpace(why)}
	return s.decide(ctx, at, g, []catalogue.Decision{d}, []string{r.ID + " " + need.String() + " is not wanted: " + d.Why})
}

func newUndo(at surroundings, where *string) *cobra.Command {
	return &cobra.Command{
		Use:   "undo",
		Short: "take the last decision back",
		Long: `Takes back the last decision that holds, whether an assign, a choose, a crop,
a waive, a prop, a variant, a clock or a line of the log; what held before it
holds again. Run it again to go further back.`,
		Example: `  coverplate undo`,
		Args:    usage(cobra.NoArgs, "no words"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runUndo(cmd.Context(), at, *where, "")
		},
	}
}

// runUndo takes back the last decision of a kind that holds, of any where kind
// is "".
func runUndo(ctx context.Context, at surroundings, where string, kind catalogue.DecisionKind) error {
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	var last *catalogue.Decision
	all := catalogue.Current(g.Decisions)
	for _, d := range all {
		if (kind == "" || d.Kind == kind) && (last == nil || d.ID > last.ID) {
			last = &d
		}
	}
	if last == nil {
		what := "decision"
		switch kind {
		case catalogue.Choose:
			what = "choice"
		case catalogue.Crop:
			what = "cut"
		}
		return misused("nothing was changed", "there is no %s to take back", what)
	}
	says := "taken back: " + g.decisionSays(*last)
	for _, d := range all {
		if last.Act != 0 && d.Act == last.Act && d.ID != last.ID {
			says += "\ntaken back: " + g.decisionSays(d)
		}
	}
	return s.decide(ctx, at, g, []catalogue.Decision{{Kind: catalogue.Undo, Undoes: last.ID}}, []string{says})
}

// decisionSays puts a decision into words.
func (g gathered) decisionSays(d catalogue.Decision) string {
	frame := string(d.Frame)
	for _, f := range g.Frames {
		if f.ID == d.Frame {
			frame = f.Path()
		}
	}
	switch {
	case d.Kind == catalogue.Assign && d.Recipe == "":
		return frame + " shows no recipe"
	case d.Kind == catalogue.Assign:
		return frame + " shows " + d.Recipe
	case d.Kind == catalogue.Crop:
		use := "half"
		if d.Need != string(plan.Half) {
			use = "printed"
		}
		return fmt.Sprintf("%s, %s: cut to %d,%d,%d,%d", frame, use, d.Rect[0], d.Rect[1], d.Rect[2], d.Rect[3])
	case d.Kind == catalogue.Variant:
		since := "from " + frame + " on"
		if d.Frame == "" {
			since = "from " + d.From.Format("15:04 on 2 January 2006") + " on"
		}
		if d.Name == "" {
			return d.Recipe + ": no named variant " + since
		}
		return d.Recipe + ": " + d.Name + ", " + since
	case d.Kind == catalogue.Prop:
		switch d.Need {
		case catalogue.TakenOff:
			return d.Recipe + ": " + d.Name + " is not on set"
		case catalogue.AsSurface:
			return d.Recipe + ": on " + d.Name
		}
		return d.Recipe + ": on set, " + d.Name
	case d.Kind == catalogue.Choose:
		return d.Recipe + " " + d.Need + ": " + frame
	case d.Kind == catalogue.On:
		return onSays(d)
	case d.Kind == catalogue.Clock:
		says := d.Body + ": " + saysShift(d.Shift)
		if d.Need == catalogue.AsTold {
			says = d.Body + ": as codes and zones tell"
		}
		if !d.From.IsZero() {
			says += " from " + d.From.Format("2006-01-02 15:04:05") + " on by its own clock"
		}
		return says + " (" + d.Why + ")"
	}
	return d.Recipe + " " + d.Need + " is not wanted: " + d.Why
}

// decide stores decisions, all or none, dated, with the person's name and the
// titles that their recipes have now, and says each.
func (s shoot) decide(ctx context.Context, at surroundings, g gathered, decisions []catalogue.Decision, says []string) error {
	store, err := s.catalogue()
	if err != nil {
		return err
	}
	defer store.Close()
	titles := map[string]string{}
	for _, r := range g.Recipes {
		titles[r.ID] = r.Title
	}
	for i := range decisions {
		d := &decisions[i]
		d.At, d.Who, d.Title = at.Now().UTC(), at.Who(), titles[d.Recipe]
	}
	if _, err := store.DecideAll(ctx, decisions); err != nil {
		return err
	}
	for _, line := range says {
		for _, one := range strings.Split(line, "\n") {
			if _, err := fmt.Fprintln(at.Stdout, plain(one)); err != nil {
				return err
			}
		}
	}
	return nil
}

// openAndGather finds the shoot and reads it.
func openAndGather(ctx context.Context, at surroundings, where string) (shoot, gathered, error) {
	s, err := openShoot(where)
	if err != nil {
		return s, gathered{}, err
	}
	g, err := s.gather(ctx, at.Now())
	return s, g, err
}

// completeRecipes completes the ids of the plan's recipes, and files.
func completeRecipes(where *string, more ...string) cobra.CompletionFunc {
	return func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		words := append([]string{}, more...)
		if sheet, _, _, err := planOf(*where, nil); err == nil {
			for _, r := range sheet.Recipes {
				words = append(words, cobra.CompletionWithDesc(plain(r.ID), plain(r.Title)))
			}
		}
		return words, cobra.ShellCompDirectiveDefault
	}
}
