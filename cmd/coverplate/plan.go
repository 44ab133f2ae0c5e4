package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"

	"github.com/spf13/cobra"

	"coverplate/audit/plan"
	"coverplate/audit/plansheet"
)

func newPlan(at surroundings, where *string) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "plan",
		Short: "check, show, compare and begin the author's plan",
		Long:  `Reads the author's table, CSV or XLSX, as it comes.`,
		Example: `  coverplate plan check
  coverplate plan show --json`,
		Args: cobra.ArbitraryArgs,
		RunE: onlySubcommands,
	}
	cmd.AddCommand(newPlanCheck(at, where), newPlanShow(at, where), newPlanTemplate(at, where), newPlanDiff(at, where), newPlanTake(at, where))
	return cmd
}

func newPlanCheck(at surroundings, where *string) *cobra.Command {
	return &cobra.Command{
		Use:   "check [FILE]",
		Short: "name everything wrong with the plan",
		Long: `Reads the plan (CSV with comma, semicolon or tab; UTF-8, UTF-16 or
Windows-1252; XLSX) and names every fault at once: file, row, column, the
value and what would be right. Header spelling and order are forgiven; columns
of your own are kept. Exit code 3 where there is a fault.

Without FILE it checks the shoot's plan.csv or plan.xlsx. With FILE and no
shoot at hand, sizes and days can't be held against a book and are not.`,
		Example: `  coverplate plan check
  coverplate plan check ~/Downloads/shotlist.xlsx`,
		Args: usage(cobra.MaximumNArgs(1), "at most one file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runPlanCheck(at, *where, args)
		},
	}
}

func runPlanCheck(at surroundings, where string, args []string) error {
	sheet, path, s, err := planOf(where, args)
	if err != nil {
		return err
	}
	t := newSetter(at.Stdout, termOptionsOf(at))
	for _, f := range sheet.Faults {
		t.put(0, 4, f.String())
	}
	if len(sheet.Faults) > 0 {
		t.gap()
	}
	t.put(0, 2, planSays(path, sheet))
	if s == nil {
		t.put(0, 2, "No shoot is at hand, so sizes and days were not held against a book.")
	}
	if len(sheet.Faults) > 0 {
		return errors.Join(t.err, errWanting)
	}
	return t.err
}

// planOf reads the plan that a command names, or the shoot's. The shoot is nil
// where a file was named and none is at hand.
func planOf(where string, args []string) (plansheet.Sheet, string, *shoot, error) {
	s, err := openShoot(where)
	none := errors.As(err, new(wrongUse)) && where == ""
	if err != nil && !(none && len(args) == 1) {
		return plansheet.Sheet{}, "", nil, err
	}
	held := &s
	if err != nil {
		held = nil
	}
	path := ""
	if len(args) == 1 {
		path = args[0]
	} else if path, err = s.planPath(); err != nil {
		return plansheet.Sheet{}, "", nil, err
	}
	sheet, err := readPlan(path, s.Settings.Book)
	return sheet, path, held, err
}

// planSays sums up a plan in one line.
func planSays(path string, sheet plansheet.Sheet) string {
	says := fmt.Sprintf("%s: %s", filepath.Base(path), counted(len(sheet.Recipes), "recipe", "recipes"))
	if len(sheet.Recipes) == 0 {
		says += ", so fill it in: a row a dish, and coverplate help plan-columns says what each column takes"
	}
	if len(sheet.Faults) == 0 {
		return says + ", no fault found"
	}
	return says + ", " + counted(len(sheet.Faults), "fault", "faults")
}

func newPlanShow(at surroundings, where *string) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show [FILE]",
		Short: "print the plan as it was understood",
		Long: `Prints the plan as it was understood, a recipe a line. A narrow
terminal cuts cells short; a pipe or a file gets them whole. With --json: the
book, the recipes with every column, and the faults.`,
		Example: `  coverplate plan show
  coverplate plan show --json | jq '.recipes[] | select(.day == "2026-03-04")'`,
		Args: usage(cobra.MaximumNArgs(1), "at most one file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runPlanShow(at, *where, args, asJSON)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	return cmd
}

func runPlanShow(at surroundings, where string, args []string, asJSON bool) error {
	sheet, path, s, err := planOf(where, args)
	if err != nil {
		return err
	}
	if asJSON {
		return writeJSON(at.Stdout, planJSONOf(sheet, s))
	}
	width := 0 // what reads a pipe wants whole cells
	if _, ok := terminal(at.Stdout); ok {
		width = termOptionsOf(at).Width
	}
	if err := showPlan(at.Stdout, sheet, width); err != nil {
		return err
	}
	if len(sheet.Faults) > 0 || len(sheet.Recipes) == 0 {
		fmt.Fprintln(at.Stderr, "note: "+plain(planSays(path, sheet))+"; coverplate plan check names them")
	}
	return nil
}

// showPlan prints the recipes as a table.
func showPlan(w io.Writer, sheet plansheet.Sheet, width int) error {
	rows := make([][]string, len(sheet.Recipes))
	for i, r := range sheet.Recipes {
		rows[i] = []string{r.ID, r.Pages.String(), r.Size.String(), string(r.Angle), r.Day.String(), plan.FormatNeeds(r.Needs), r.Title}
	}
	return writeTable(w, width, []string{"recipe", "pages", "size", "angle", "day", "needs", "title"}, rows)
}

// planJSON is what plan show --json prints.
type planJSON struct {
	Book    *bookJSON    `json:"book"` // null where no shoot is at hand
	Recipes []recipeJSON `json:"recipes"`
	Faults  []plan.Fault `json:"faults"`
}

type bookJSON struct {
	Title      string     `json:"title"`
	TrimWidth  float64    `json:"trim_width_mm"`
	TrimHeight float64    `json:"trim_height_mm"`
	Bleed      float64    `json:"bleed_mm"`
	FirstDay   string     `json:"first_day"`
	LastDay    string     `json:"last_day"`
	DaysOff    []plan.Day `json:"days_off"` // between them, nobody shoots
}

type recipeJSON struct {
	Row         int               `json:"row"`
	ID          string            `json:"id"`
	Title       string            `json:"title"`
	Chapter     string            `json:"chapter"`
	Pages       string            `json:"pages"`
	Spread      int               `json:"spread"`
	Size        string            `json:"size"`
	Orientation string            `json:"orientation"`
	Angle       string            `json:"angle"`
	Needs       []string          `json:"needs"`
	Props       []string          `json:"props"`
	Surface     string            `json:"surface"`
	Day         string            `json:"day"`
	Lettering   string            `json:"lettering"`
	Allergens   string            `json:"allergens"` // as the plan has them; "" it says nothing
	Notes       string            `json:"notes"`
	Extra       map[string]string `json:"extra"` // the author's own columns
}

func planJSONOf(sheet plansheet.Sheet, s *shoot) planJSON {
	out := planJSON{Recipes: []recipeJSON{}, Faults: append([]plan.Fault{}, sheet.Faults...)}
	if s != nil {
		b := s.Settings.Book
		out.Book = &bookJSON{b.Title, b.TrimWidth, b.TrimHeight, b.Bleed, b.FirstDay.String(), b.LastDay.String(), append([]plan.Day{}, b.Off...)}
	}
	for _, r := range sheet.Recipes {
		j := recipeJSON{Row: r.Row, ID: r.ID, Title: r.Title, Chapter: r.Chapter, Pages: r.Pages.String(), Spread: r.Pages.Spread(),
			Size: r.Size.String(), Lettering: string(r.Lettering), Allergens: r.Allergens, Orientation: string(r.Orientation), Angle: string(r.Angle), Needs: []string{}, Props: append([]string{}, r.Props...),
			Surface: r.Surface, Day: r.Day.String(), Notes: r.Notes, Extra: map[string]string{}}
		for _, n := range r.Needs {
			j.Needs = append(j.Needs, n.String())
		}
		for _, f := range r.Extra {
			j.Extra[f.Name] = f.Value
		}
		out.Recipes = append(out.Recipes, j)
	}
	return out
}
