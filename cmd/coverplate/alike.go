package main

import (
	"context"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"coverplate/colour"
)

func newAlike(at surroundings, where *string) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "alike FILE FILE…",
		Short: "tell how far the palettes of pictures are apart",
		Long: `Prints the palette distance of each pair of pictures: the earth mover's
distance of their palettes, with ΔE2000 between two colours. 0 is the same
palette. Under the setting too_alike neighbouring spreads count as too alike;
that threshold is this project's choice, for no published value says when two
spreads look different.`,
		Example: `  coverplate alike DSC_0412.JPG DSC_0431.JPG
  coverplate alike --json *.JPG`,
		Args: usage(cobra.MinimumNArgs(2), "two pictures or more"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runAlike(cmd.Context(), at, *where, args, asJSON)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

// pairJSON is what alike --json says of one pair.
type pairJSON struct {
	Files    [2]string `json:"files"`
	Distance float64   `json:"distance"` // ΔE2000
	TooAlike bool      `json:"too_alike"`
}

func runAlike(ctx context.Context, at surroundings, where string, files []string, asJSON bool) error {
	s, err := settingsAtHand(where)
	if err != nil {
		return err
	}
	wanting := false
	var names []string
	var palettes [][]colour.Swatch
	for i, m := range measured(ctx, files) {
		got, ok := <-m
		if !ok {
			return context.Cause(ctx)
		}
		says := got.frame.Unread
		if got.err != nil {
			says = got.whyNot(files[i])
		}
		if len(got.frame.Look.Palette) == 0 {
			if says == "" {
				says = "no colours could be measured"
			}
			wanting = true
			fmt.Fprintf(at.Stderr, "%s: %s\n", plain(files[i]), plain(says))
			continue
		}
		names, palettes = append(names, files[i]), append(palettes, got.frame.Look.Palette)
	}
	pairs := []pairJSON{}
	for i := range names {
		for j := i + 1; j < len(names); j++ {
			d := colour.PaletteDistance(palettes[i], palettes[j])
			pairs = append(pairs, pairJSON{[2]string{names[i], names[j]}, d, d < s.Rules.TooAlike})
		}
	}
	if asJSON {
		err = writeJSON(at.Stdout, pairs)
	} else {
		err = showPairs(at, pairs, s.Rules.TooAlike)
	}
	if wanting {
		return errors.Join(err, errWanting)
	}
	return err
}

func showPairs(at surroundings, pairs []pairJSON, tooAlike float64) error {
	o := termOptionsOf(at)
	side := (o.Width - 24) / 2
	for _, p := range pairs {
		note := ""
		if p.TooAlike {
			note = "  too alike"
		}
		a, b := cutLeft(plain(p.Files[0]), side), cutLeft(plain(p.Files[1]), side)
		if _, err := fmt.Fprintf(at.Stdout, "%5.1f  %s  %s%s\n", p.Distance, a, b, note); err != nil {
			return err
		}
	}
	if len(pairs) > 0 {
		t := newSetter(at.Stdout, o)
		t.put(0, 2, fmt.Sprintf("Palette distance, ΔE2000; under %s two neighbouring spreads count as too alike (this project's choice).", number(tooAlike)))
		return t.err
	}
	return nil
}
