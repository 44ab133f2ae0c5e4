package main

import (
	"context"
	"time"

	"github.com/spf13/cobra"

	"coverplate/ingest/catalogue"
)

// The log: which dish came on set and when, for crews that work without slates.

// logOptions are when and for which body a line of the log holds.
type logOptions struct{ At, Body string }

func (o *logOptions) flags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&o.At, "at", "", "`WHEN` it was by the studio's clock: 10:42 of this shooting\nday, or \"2026-03-04 10:42\" (default: now)")
	cmd.Flags().StringVar(&o.Body, "body", "", "of one body alone, by a part of its `NAME` (default: all)")
}

func newOn(at surroundings, where *string) *cobra.Command {
	var o logOptions
	cmd := &cobra.Command{
		Use:   "on RECIPE",
		Short: "note that a dish is on set now",
		Long: `Notes in the log that a dish came on set, for crews that work without slates.
The frames that follow are likelier of it: those up to the next long pause
directly, and others as far as nothing tells of a change. Slates, folders and
names weigh more. coverplate undo takes a line back.`,
		Example: `  coverplate on R07
  coverplate on R07 --at 10:42
  coverplate on R08 --body SK-2 --at "2026-03-04 15:10"`,
		Args: usage(cobra.ExactArgs(1), "a recipe"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runOn(cmd.Context(), at, *where, args[0], o)
		},
		ValidArgsFunction: completeRecipes(where),
	}
	o.flags(cmd)
	return cmd
}

func newOff(at surroundings, where *string) *cobra.Command {
	var o logOptions
	cmd := &cobra.Command{
		Use:   "off",
		Short: "note that no dish is on set",
		Long: `Notes in the log that no dish is on set: what follows up to the next long pause
is likelier no dish of the plan. coverplate undo takes a line back.`,
		Example: `  coverplate off
  coverplate off --at 12:30`,
		Args: usage(cobra.NoArgs, "no words"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runOn(cmd.Context(), at, *where, "", o)
		},
	}
	o.flags(cmd)
	return cmd
}

// runOn writes a line of the log; recipe "" is that nothing is on set.
func runOn(ctx context.Context, at surroundings, where, recipe string, o logOptions) error {
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	d := catalogue.Decision{Kind: catalogue.On}
	if recipe != "" {
		r, err := findRecipe(g.Recipes, recipe)
		if err != nil {
			return err
		}
		d.Recipe = r.ID
	}
	if d.From, err = s.Settings.logTime(o.At, at.Now()); err != nil {
		return err
	}
	if o.Body != "" {
		if d.Body, err = g.findBody(o.Body); err != nil {
			return err
		}
	}
	return s.decide(ctx, at, g, []catalogue.Decision{d}, []string{onSays(d)})
}

// logTime is a time of the studio's clock, its digits held in UTC: a time of
// day is one of the shooting day that now is in, and "" is now.
func (s settings) logTime(word string, now time.Time) (time.Time, error) {
	wall := s.wallClock(now)
	if word == "" {
		return wall, nil
	}
	of, err := time.Parse("15:04", word)
	if err != nil {
		at, err := parseWall(word)
		if err != nil {
			return at, misused(`write it like 10:42 or "2026-03-04 10:42"`, "--at: %w", err)
		}
		return at, nil
	}
	day := s.today(now)
	at := time.Date(day.Year, time.Month(day.Month), day.Day, of.Hour(), of.Minute(), 0, 0, time.UTC)
	if time.Duration(of.Hour())*time.Hour+time.Duration(of.Minute())*time.Minute < s.Book.DayEnds {
		at = at.AddDate(0, 0, 1)
	}
	if at.After(wall) {
		return at, misused(`give the day too: --at "2026-03-04 10:42"`, "%s is still to come on this shooting day", word)
	}
	return at, nil
}

// onSays puts a line of the log into words.
func onSays(d catalogue.Decision) string {
	says := d.From.Format("2006-01-02 15:04") + ": "
	if d.Recipe == "" {
		says += "nothing is on set"
	} else {
		says += d.Recipe + " is on set"
	}
	if d.Body != "" {
		says += ", for " + d.Body + " alone"
	}
	return says
}
