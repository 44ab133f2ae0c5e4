package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

// auditOptions is how a report is asked for.
type auditOptions struct {
	JSON, CSV bool
	HTML      string // file to write; "" none
}

func newAudit(at surroundings, where *string) *cobra.Command {
	var o auditOptions
	cmd := &cobra.Command{
		Use:   "audit [RECIPE…]",
		Short: "report what is missing, why, and what to do",
		Long: `Holds the shoot against its plan and reports, for every need of every recipe,
what a person must now do: shoot, reshoot, look, choose; or that it is settled
or waived. What can't be told is never shown as done. With RECIPE it answers
for those alone, and its last line is: strike or hold, why, and what would turn
it. Above it stands when the last frame was seen, and what the numbers of files
tell of frames that no card read so far holds.

Frames whose verdict needs it are read at 1:1 from their originals, once; that
takes about a second each, and is kept. A frame whose original is not at hand
is named, and its verdict stays look.

--json prints the report: "seen" (what it rests on), "recipes" with their
"needs", "spreads" with palettes and "to_next" (the palette distance to the
next spread), "days", "props", "unplaced", "notes". null means not known.
--csv is a line a need. --html is one file that opens offline and prints.

Exit code 3 where a need is neither settled nor waived.`,
		Example: `  coverplate audit
  coverplate audit R07
  coverplate audit --html report.html
  coverplate audit --json | jq '.recipes[] | select(.strike == "hold") | .id'`,
		RunE: func(cmd *cobra.Command, args []string) error {
			return runAudit(cmd.Context(), at, *where, args, o)
		},
		ValidArgsFunction: completeRecipes(where),
	}
	f := cmd.Flags()
	f.BoolVar(&o.JSON, "json", false, "print JSON")
	f.BoolVar(&o.CSV, "csv", false, "print CSV, a line a need")
	f.StringVar(&o.HTML, "html", "", "write one self-contained page to `FILE`")
	return cmd
}

func runAudit(ctx context.Context, at surroundings, where string, recipes []string, o auditOptions) error {
	if o.JSON && o.CSV || o.HTML != "" && (o.JSON || o.CSV) {
		return misused("run audit once for each", "--json, --csv and --html are three reports")
	}
	s, err := openShoot(where)
	if err != nil {
		return err
	}
	g, done, err := s.gatherBare(ctx, at.Now())
	if err != nil {
		return err
	}
	defer done()
	asked, err := recipeIDs(g.Recipes, recipes)
	if err != nil {
		return err
	}
	r, missed, err := s.auditCloser(ctx, at, &g, asked)
	if err != nil {
		return err
	}
	sayMissed(at, missed)
	if len(recipes) > 0 {
		r = only(r, asked)
	}
	switch {
	case o.JSON:
		err = writeJSON(at.Stdout, r)
	case o.CSV:
		err = writeReportCSV(at.Stdout, r)
	case o.HTML != "":
		if err = g.unfold(r); err == nil {
			err = s.writeReport(o.HTML, r, g)
		}
		if err == nil {
			_, err = fmt.Fprintf(at.Stdout, "%s is written; open it in a browser, it needs no network\n", plain(o.HTML))
		}
	default:
		err = renderReport(at.Stdout, r, termOptionsOf(at))
		if err == nil && len(recipes) > 0 {
			err = renderStrikes(at.Stdout, r, termOptionsOf(at))
		}
	}
	if err != nil {
		return err
	}
	if note := g.faultsNote(); note != "" {
		fmt.Fprintln(at.Stderr, plain(note))
	}
	if gaps(r) > 0 {
		return errWanting
	}
	return nil
}

// gaps counts the needs that are neither settled nor waived.
func gaps(r audit.Report) int {
	n := 0
	for _, rec := range r.Recipes {
		for _, f := range rec.Needs {
			if f.Verdict != audit.Settled && f.Verdict != audit.Waived {
				n++
			}
		}
	}
	return n
}

// recipeIDs are those of the recipes that words name.
func recipeIDs(all []plan.Recipe, words []string) ([]string, error) {
	var ids []string
	for _, w := range words {
		rec, err := findRecipe(all, w)
		if err != nil {
			return nil, err
		}
		ids = append(ids, rec.ID)
	}
	return ids, nil
}

// only is what a report says of some recipes. What it rests on and the pace
// stay whole, for they are true of the shoot.
func only(r audit.Report, ids []string) audit.Report {
	wanted := map[string]bool{}
	for _, id := range ids {
		wanted[id] = true
	}
	without := func(ids []string) bool {
		return !slices.ContainsFunc(ids, func(id string) bool { return wanted[id] })
	}
	r.Recipes = slices.DeleteFunc(slices.Clone(r.Recipes), func(x audit.Recipe) bool { return !wanted[x.ID] })
	r.Spreads = slices.DeleteFunc(slices.Clone(r.Spreads), func(x audit.Spread) bool { return without(x.Recipes) })
	r.Props = slices.DeleteFunc(slices.Clone(r.Props), func(x audit.Prop) bool { return without(x.Recipes) })
	r.Unplaced = slices.DeleteFunc(slices.Clone(r.Unplaced), func(x audit.UnplacedNote) bool { return without(x.Guesses) })
	r.Notes = slices.DeleteFunc(slices.Clone(r.Notes), func(x audit.Note) bool { return x.Recipe != "" && !wanted[x.Recipe] })
	return r
}

// pictures gives the small picture that the shoot keeps of a frame.
func (s shoot) pictures(frames []catalogue.Frame) func(catalogue.FrameID) ([]byte, error) {
	kept := map[catalogue.FrameID]string{}
	for _, f := range frames {
		kept[f.ID] = f.Look.Picture
	}
	return func(id catalogue.FrameID) ([]byte, error) {
		if kept[id] == "" {
			return nil, nil
		}
		b, err := os.ReadFile(filepath.Join(s.Dir, filepath.FromSlash(kept[id])))
		if err != nil {
			return nil, err
		}
		return look.Kept(b)
	}
}

// writeReport writes the report's page.
func (s shoot) writeReport(path string, r audit.Report, g gathered) error {
	return writePage(path, func(w io.Writer) error { return writeReportHTML(w, r, g.Book, s.pictures(g.Frames), s.drawingsOf(g)) })
}

// writePage writes a page. One that was there is replaced in one step; a file
// that is no page is left alone.
func writePage(path string, write func(io.Writer) error) error {
	ext := strings.ToLower(filepath.Ext(path))
	if _, err := os.Stat(path); err == nil && ext != ".html" && ext != ".htm" {
		return misused("give a name that ends in .html", "%s is there already and is no page", path)
	}
	var page bytes.Buffer
	if err := write(&page); err != nil {
		return err
	}
	return writeOver(path, page.Bytes())
}
