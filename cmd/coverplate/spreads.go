package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"coverplate/audit"
)

func newFlatplan(at surroundings, where *string) *cobra.Command {
	return &cobra.Command{
		Use:   "flatplan",
		Short: "show the book spread by spread, with its palettes",
		Long: `Shows the book spread by spread: the picture, the swatches of its palette, and
how far the palette is from that of the next spread. The same stands in the
report that audit --html writes.`,
		Example: `  coverplate flatplan
  NO_COLOR=1 coverplate flatplan | less`,
		Args: usage(cobra.NoArgs, "no words"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, g, err := openAndGather(cmd.Context(), at, *where)
			if err != nil {
				return err
			}
			if err := renderFlatplan(at.Stdout, audit.Run(g.Shoot), termOptionsOf(at)); err != nil {
				return err
			}
			if note := g.faultsNote(); note != "" {
				fmt.Fprintln(at.Stderr, plain(note))
			}
			return nil
		},
	}
}
