package main

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"

	"coverplate/audit"
	"coverplate/audit/plansheet"
)

// writeReportCSV writes a report as RFC 4180 text, a line a need, in page
// order. Cells that a spreadsheet would take for a formula get a leading
// apostrophe.
func writeReportCSV(w io.Writer, r audit.Report) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	out.Write([]string{"recipe", "title", "chapter", "pages", "spread", "day", "frames", "need", "verdict", "frame", "why", "others", "strike", "strike_why"})
	for _, rec := range r.Recipes {
		for _, f := range rec.Needs {
			frame := ""
			if f.Frame != nil {
				frame = *f.Frame
			}
			row := []string{rec.ID, rec.Title, rec.Chapter, rec.Pages, strconv.Itoa(rec.Spread), rec.Day, strconv.Itoa(rec.Frames),
				f.Need, string(f.Verdict), frame, f.Why, strings.Join(f.Others, "; "), string(rec.Strike), rec.StrikeWhy}
			for i := range row {
				row[i] = plansheet.Guard(row[i])
			}
			out.Write(row)
		}
	}
	out.Flush()
	return out.Error()
}
