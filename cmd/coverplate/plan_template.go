package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"coverplate/audit/plan"
	"coverplate/audit/plansheet"
)

// templateFlags say what plan template writes.
type templateFlags struct {
	XLSX bool
	To   string
}

func newPlanTemplate(at surroundings, where *string) *cobra.Command {
	var flags templateFlags
	cmd := &cobra.Command{
		Use:   "template",
		Short: "write an empty plan with two example rows",
		Long: `Writes a plan with all columns and two example rows, sound in this shoot's book
where one is at hand. With --xlsx it is a workbook with a note on every column,
drop-downs for size, orientation, angle and lettering, and days that lie within
the shoot. It is never written over a file. coverplate help plan-columns says
what each column takes.`,
		Example: `  coverplate plan template --xlsx
  coverplate plan template --to ~/Desktop/skerry-plan.csv`,
		Args: usage(cobra.NoArgs, "no words; --to names the file"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return runPlanTemplate(at, *where, flags)
		},
	}
	cmd.Flags().BoolVar(&flags.XLSX, "xlsx", false, "write a workbook with drop-downs and notes")
	cmd.Flags().StringVar(&flags.To, "to", "", "write to `FILE` (default: plan-template.csv or .xlsx)")
	return cmd
}

func runPlanTemplate(at surroundings, where string, flags templateFlags) error {
	var book plan.Book
	if s, err := openShoot(where); err == nil {
		book = s.Settings.Book
	} else if where != "" || !errors.As(err, new(wrongUse)) {
		return err // a shoot was named, or its settings are broken
	}
	path := flags.To
	switch ext := strings.ToLower(filepath.Ext(path)); {
	case path == "" && flags.XLSX:
		path = "plan-template.xlsx"
	case path == "":
		path = "plan-template.csv"
	case ext == ".xlsx":
		flags.XLSX = true
	case flags.XLSX:
		return misused("give a name that ends in .xlsx", "--xlsx writes a workbook, and %s is none by its name", path)
	}
	var b bytes.Buffer
	write := plansheet.Template
	if flags.XLSX {
		write = plansheet.TemplateXLSX
	}
	if err := write(&b, book); err != nil {
		return err
	}
	if err := writeBeside(path, b.Bytes()); errors.Is(err, fs.ErrExist) {
		return misused("give another name with --to", "%s is there already and is kept", path)
	} else if err != nil {
		return err
	}
	_, err := fmt.Fprintf(at.Stdout, "%s is written: fill it in, save it as %s in the shoot's folder, then\ncoverplate plan check\n", plain(path), "plan"+strings.ToLower(filepath.Ext(path)))
	return err
}
