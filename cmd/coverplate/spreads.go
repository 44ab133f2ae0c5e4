package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/cmd/coverplate/paper"
)

// flatplanOptions is how a flat plan is asked for.
type flatplanOptions struct {
	Suggest, JSON bool
	HTML          string // file to write; "" none
}

func newFlatplan(at surroundings, where *string) *cobra.Command {
	var o flatplanOptions
	cmd := &cobra.Command{
		Use:   "flatplan",
		Short: "show the book spread by spread, with its palettes",
		Long: `Shows the book spread by spread, in page order: its pictures, their swatches
in proportion, and how far each is from what it meets: the facing page, the
next spread and the picture over the page turn. Each distance has its word (too
alike, fine, jarring, unknown) and the threshold that it rests on; a picture
that is not there is unknown, never fine. Colours are shown where the terminal
has them, and always named.

--suggest looks among the frames that may serve as heroes for those by which
neighbours differ most, and prints what would change, by how much, and what to
type to take it. Nothing is changed by it; what a person has chosen is argued
with and left alone.
--html writes one page that opens offline and prints: the book as a strip of
spreads, a value check in grey, every spread against every other, near twins
anywhere in the book, and what --suggest says.
--json prints "spreads" with "neighbours" and "surfaces", and "likeness": every
distance and the "twins". With --suggest: "changes", "arguments", "before",
"after", "unknown". null means not known.`,
		Example: `  coverplate flatplan
  coverplate flatplan --suggest
  coverplate flatplan --html flatplan.html
  coverplate flatplan --json | jq '.likeness.twins[] | [.recipes, .apart]'
  NO_COLOR=1 coverplate flatplan | less`,
		Args: usage(cobra.NoArgs, "no words"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runFlatplan(cmd.Context(), at, *where, o)
		},
	}
	f := cmd.Flags()
	f.BoolVar(&o.Suggest, "suggest", false, "print which other heroes would make neighbours differ more")
	f.BoolVar(&o.JSON, "json", false, "print JSON")
	f.StringVar(&o.HTML, "html", "", "write one self-contained page to `FILE`")
	return cmd
}

// flatplanJSON is what flatplan --json prints.
type flatplanJSON struct {
	Book     string         `json:"book"`
	Spreads  []audit.Spread `json:"spreads"`
	Likeness audit.Likeness `json:"likeness"`
}

// suggestionJSON is what flatplan --suggest --json prints.
type suggestionJSON struct {
	Book string `json:"book"`
	audit.Suggestion
}

func runFlatplan(ctx context.Context, at surroundings, where string, o flatplanOptions) error {
	if o.HTML != "" && (o.JSON || o.Suggest) {
		return misused("run flatplan once for each; the page holds what --suggest says", "--html goes with neither --json nor --suggest")
	}
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	r := audit.Run(g.Shoot)
	switch {
	case o.Suggest && o.JSON:
		err = writeJSON(at.Stdout, suggestionJSON{r.Book, audit.Suggest(g.Shoot)})
	case o.Suggest:
		err = renderSuggestion(at.Stdout, r.Book, audit.Suggest(g.Shoot), paper.TitlesOf(r), takeWord(g.Frames, s.Dir), termOptionsOf(at))
	case o.JSON:
		err = writeJSON(at.Stdout, flatplanJSON{r.Book, r.Spreads, audit.Compare(r, g.Rules)})
	case o.HTML != "":
		if err = s.writeFlatplan(o.HTML, r, g); err == nil {
			_, err = fmt.Fprintf(at.Stdout, "%s is written; open it in a browser, it needs no network\n", plain(o.HTML))
		}
	default:
		err = renderFlatplan(at.Stdout, r, termOptionsOf(at))
	}
	if err != nil {
		return err
	}
	if note := g.faultsNote(); note != "" {
		fmt.Fprintln(at.Stderr, plain(note))
	}
	return nil
}
