package main

import (
	"context"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/audit/clock"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

// variantFlags say where a variant begins.
type variantFlags struct {
	From string // a frame; "" now
	End  bool
}

func newVariant(at surroundings, where *string) *cobra.Command {
	var flags variantFlags
	cmd := &cobra.Command{
		Use:   "variant RECIPE [NAME]",
		Short: "name the variant of a dish that is on set",
		Long: `Names the variant of a dish that is on set: with the garnish, say, or without.
Frames of the dish taken from now on show it, by the studio's clock, or with
--from those from a frame on; until the next variant of that dish is named, or
--end, at the latest until the shooting day ends. The report tells variants
apart and counts them as set-ups where the plan asks for options N. Without
NAME the dish's variants are listed.`,
		Example: `  coverplate variant R07 "with garnish"
  coverplate variant R07 "without garnish" --from DSC_0419.JPG
  coverplate variant R07 --end
  coverplate variant R07`,
		Args: usage(cobra.RangeArgs(1, 2), "a recipe and a name"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runVariant(cmd.Context(), at, *where, args, flags)
		},
		ValidArgsFunction: completeRecipes(where),
	}
	cmd.Flags().StringVar(&flags.From, "from", "", "it begins with `FRAME`")
	cmd.Flags().BoolVar(&flags.End, "end", false, "no named variant is on set any more")
	return cmd
}

func runVariant(ctx context.Context, at surroundings, where string, args []string, flags variantFlags) error {
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	r, err := findRecipe(g.Recipes, args[0])
	if err != nil {
		return err
	}
	name := ""
	if len(args) == 2 {
		if name = strings.Join(strings.Fields(args[1]), " "); name == "" {
			return misused("give it a name, or --end to end the one before", "a variant's name is empty")
		}
	}
	if flags.End && name != "" {
		return misused("coverplate variant "+r.ID+" --end, without a name", "--end ends a variant, %q begins one", name)
	}
	report := audit.Run(g.Shoot)
	i := slices.IndexFunc(report.Recipes, func(x audit.Recipe) bool { return x.ID == r.ID })
	var all []audit.Variant
	if i >= 0 {
		all = report.Recipes[i].Variants
	}
	if name == "" && !flags.End {
		if flags.From != "" {
			return misused("coverplate variant "+r.ID+" NAME --from FRAME", "--from says where a variant begins, and none is named")
		}
		t := newSetter(at.Stdout, termOptionsOf(at))
		if len(all) == 0 {
			t.put(0, 2, "No variant of "+r.ID+" is named. Name the one on set: coverplate variant "+r.ID+" \"with garnish\"")
		}
		for _, v := range all {
			t.put(0, 2, paper.VariantSays(v))
		}
		return t.err
	}
	d := catalogue.Decision{Kind: catalogue.Variant, Recipe: r.ID, Name: name}
	for _, v := range all { // one spelling a variant
		if same, _ := audit.MayBe([]audit.Thing{{Name: v.Name}}, name); name != "" && same != "" {
			d.Name = same
		}
	}
	if flags.From != "" {
		f, err := findFrame(g.Frames, s.Dir, flags.From)
		if err != nil {
			return err
		}
		m := slices.IndexFunc(report.Matches, func(m audit.Match) bool { return m.Frame == f.ID })
		switch {
		case f.Taken.IsZero():
			return misused("name a frame that has one", "%s has no time, so nothing can begin with it", f.Path())
		case m >= 0 && report.Matches[m].Recipe != r.ID:
			shows := "no recipe that is known"
			if report.Matches[m].Recipe != "" {
				shows = report.Matches[m].Recipe
			}
			return misused("if that is wrong, say it first: coverplate assign "+shellWord(flags.From)+" "+shellWord(r.ID), "%s shows %s, not %s", f.Path(), shows, r.ID)
		}
		d.Frame = f.ID
	} else {
		d.From = s.Settings.wallClock(at.Now())
	}
	return s.decide(ctx, at, g, []catalogue.Decision{d}, []string{g.decisionSays(d)})
}

// wallClock is the studio's wall clock at a moment, to the second, its digits held
// in UTC.
func (s settings) wallClock(now time.Time) time.Time {
	return clock.Digits(now, s.Where).Truncate(time.Second)
}
