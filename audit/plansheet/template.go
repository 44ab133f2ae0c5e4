package plansheet

import (
	"fmt"
	"io"
	"time"

	"github.com/xuri/excelize/v2"

	"coverplate/audit/plan"
)

// templateRows is how many rows of a template have drop-downs: more dishes
// than any cookbook is shot with.
const templateRows = 500

// column is what a template says of one column.
type column struct {
	field  string
	width  float64 // characters of the standard font
	note   string
	choose []string // drop-down; nil free text
}

func templateColumns(b plan.Book) []column {
	days := "The shooting day, as 2026-03-04. Leave it empty while it is not settled."
	if !b.FirstDay.IsZero() {
		days = fmt.Sprintf("The shooting day, of %s. Leave it empty while it is not settled.", b.Days())
	}
	return []column{
		{plan.ColumnRecipe, 9, "A short id of its own for each dish: R07. Letters, figures, - and _.", nil},
		{plan.ColumnTitle, 36, "The dish as the book names it.", nil},
		{plan.ColumnChapter, 16, "The chapter, in words of your own.", nil},
		{plan.ColumnPages, 9, "The page that the picture stands on, 24, or both pages of a spread, 24-25. Not those of the text.", nil},
		{plan.ColumnSize, 10, "Choose one, or write the width and height: 120x80 mm.", []string{"full", "double", "half", "quarter"}},
		{plan.ColumnOrientation, 12, "Leave it empty where either will do.", []string{"portrait", "landscape", "square"}},
		{plan.ColumnAngle, 14, "From where the camera looks: overhead from 75° above the table, high from 50°, three-quarter from 25°, low below.", []string{"overhead", "high", "three-quarter", "low", "any"}},
		{plan.ColumnNeeds, 30, "What the dish must leave the studio with, with ; between: hero; overhead; half; palette (what an empty cell means), portrait, landscape, detail, process, opener, options 3 (that many set-ups for the editor to choose from).", nil},
		{plan.ColumnProps, 36, "What stands on set, with ; between. Behind a name: (again: why it may be seen twice), (borrowed from Una, due 2026-03-09).", nil},
		{plan.ColumnSurface, 20, "What the dish stands on: a board, a cloth, a table.", nil},
		{plan.ColumnDay, 12, days, nil},
		{plan.ColumnLettering, 11, "Where the picture must leave calm room for text. Empty: nowhere.", []string{"top", "bottom", "left", "right", "any"}},
		{plan.ColumnAllergens, 24, "In words, for the day's sheet. Empty says nothing, not that there are none.", nil},
		{plan.ColumnNotes, 40, "For you and the crew.", nil},
	}
}

// TemplateXLSX writes the plan that Template writes as a workbook, with a note
// on every column, drop-downs where a cell holds one of a few words, and days
// that must lie within the shoot. A value that is not in a list is warned of
// and kept, since Read takes more spellings than any list holds.
func TemplateXLSX(w io.Writer, b plan.Book) (err error) {
	f := excelize.NewFile()
	defer f.Close()
	const tab = "plan"
	do := func(e error) {
		if err == nil {
			err = e
		}
	}
	do(f.SetSheetName(f.GetSheetName(0), tab))
	head, e := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}, Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"E8E4DA"}}})
	do(e)
	iso := "yyyy-mm-dd"
	date, e := f.NewStyle(&excelize.Style{CustomNumFmt: &iso})
	do(e)
	words, e := f.NewStyle(&excelize.Style{NumFmt: 49}) // text: 10-11 stays a range of pages
	do(e)
	for i, c := range templateColumns(b) {
		name := letter(i)
		do(f.SetColWidth(tab, name, name, c.width))
		style := words
		if c.field == plan.ColumnDay {
			style = date
		}
		do(f.SetColStyle(tab, name, style))
		do(f.SetCellStr(tab, name+"1", c.field))
		do(f.SetCellStyle(tab, name+"1", name+"1", head))
		do(f.AddComment(tab, excelize.Comment{Cell: name + "1", Author: "coverplate", Text: c.note, Width: 320, Height: 110}))
		v := excelize.NewDataValidation(true)
		v.Sqref = fmt.Sprintf("%s2:%s%d", name, name, templateRows+1)
		switch {
		case c.choose != nil:
			do(v.SetDropList(c.choose))
		case c.field == plan.ColumnDay && !b.FirstDay.IsZero() && !b.LastDay.Before(b.FirstDay):
			do(v.SetRange(serialOf(b.FirstDay), serialOf(b.LastDay), excelize.DataValidationTypeDate, excelize.DataValidationOperatorBetween))
		default:
			continue
		}
		v.SetError(excelize.DataValidationErrorStyleWarning, "Not in the list", c.note)
		do(f.AddDataValidation(tab, v))
	}
	for i, r := range examples(b) {
		for j, c := range templateColumns(b) {
			cell := fmt.Sprintf("%s%d", letter(j), i+2)
			if c.field == plan.ColumnDay {
				if !r.Day.IsZero() {
					do(f.SetCellValue(tab, cell, serialOf(r.Day)))
					do(f.SetCellStyle(tab, cell, cell, date))
				}
				continue
			}
			if v := format(r, c.field); v != "" {
				do(f.SetCellStr(tab, cell, v))
				do(f.SetCellStyle(tab, cell, cell, words))
			}
		}
	}
	do(f.SetPanes(tab, &excelize.Panes{Freeze: true, YSplit: 1, XSplit: 2, TopLeftCell: "C2", ActivePane: "bottomRight"}))
	long := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC).Format(time.RFC3339) // the same bytes whenever it is made
	do(f.SetDocProps(&excelize.DocProperties{Creator: "coverplate", Created: long, Modified: long, Title: "plan"}))
	if err != nil {
		return fmt.Errorf("make the template: %w", err)
	}
	if _, err := f.WriteTo(w); err != nil {
		return fmt.Errorf("write plan: %w", err)
	}
	return nil
}

// serialOf is a day as a spreadsheet keeps it; serialDay reads it.
func serialOf(d plan.Day) int { return d.Sub(plan.Day{Year: 1899, Month: 12, Day: 30}) }
