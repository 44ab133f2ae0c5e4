package plansheet

import (
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strings"

	"coverplate/audit/plan"
)

// Write writes a plan as CSV in UTF-8, with the delimiter that it was read
// with, else commas. Read gives the same recipes again.
//
// Columns keep their order, names and place; a field or an Extra that has no
// column yet gets one at the end. A cell that nobody has changed since Read is
// written as the author wrote it, also where it could not be read. What stood
// above the header and blank rows are left out. A file that needed a byte
// order mark, or had another encoding, gets the mark, so that the program it
// came from reads it rightly.
//
// A spreadsheet program would compute a cell that begins with = + - @, a tab
// or a CR, or their full-width forms, so such a cell gets an apostrophe in
// front (OWASP, "CSV Injection"); Read takes it off again.
func Write(w io.Writer, s Sheet) error {
	headers := columnsOf(s)
	out := csv.NewWriter(w)
	if s.Delimiter != 0 {
		out.Comma = s.Delimiter
	}
	if s.BOM || s.Encoding != "" && s.Encoding != utf8Text {
		if _, err := io.WriteString(w, "\uFEFF"); err != nil {
			return fmt.Errorf("write plan: %w", err)
		}
	}
	record := make([]string, len(headers))
	for i, h := range headers {
		record[i] = Guard(h.Name)
	}
	if err := out.Write(record); err != nil {
		return fmt.Errorf("write plan: %w", err)
	}
	for _, r := range s.Recipes {
		was, known := s.written[r.Row]
		extra := slices.Clone(r.Extra)
		for i, h := range headers {
			record[i] = ""
			if h.Field != "" {
				record[i] = format(r, h.Field)
				if known && record[i] == format(was.recipe, h.Field) {
					record[i] = was.cells[h.Field]
				}
			} else if n := slices.IndexFunc(extra, func(f plan.Field) bool { return f.Name == h.label() }); n >= 0 {
				record[i] = extra[n].Value
				extra = slices.Delete(extra, n, n+1) // two columns may have one name
			}
			record[i] = Guard(record[i])
		}
		if err := out.Write(record); err != nil {
			return fmt.Errorf("write plan: %w", err)
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("write plan: %w", err)
	}
	return nil
}

// columnsOf gives the sheet's columns and those that its recipes need besides.
func columnsOf(s Sheet) []Header {
	headers := slices.Clone(s.Headers)
	if len(headers) == 0 {
		for _, f := range plan.Columns() {
			headers = append(headers, Header{Name: f, Field: f})
		}
	}
	for _, f := range plan.Columns() {
		has := slices.ContainsFunc(headers, func(h Header) bool { return h.Field == f })
		if !has && slices.ContainsFunc(s.Recipes, func(r plan.Recipe) bool { return differs(s, r, f) }) {
			headers = append(headers, Header{Name: f, Letter: letter(len(headers)), Field: f})
		}
	}
	for _, r := range s.Recipes {
		has := map[string]int{}
		for _, h := range headers {
			if h.Field == "" {
				has[h.label()]++
			}
		}
		for _, f := range r.Extra {
			if has[f.Name]--; has[f.Name] < 0 {
				headers = append(headers, Header{Name: f.Name, Letter: letter(len(headers))})
			}
		}
	}
	return headers
}

// differs tells whether a field says something that its absence doesn't.
func differs(s Sheet, r plan.Recipe, field string) bool {
	was, known := s.written[r.Row]
	if known {
		return format(r, field) != format(was.recipe, field)
	}
	blank := plan.Recipe{Angle: plan.AnyAngle, Needs: plan.DefaultNeeds()}
	return format(r, field) != format(blank, field)
}

// format prints one field of a recipe as a plan writes it.
func format(r plan.Recipe, field string) string {
	switch field {
	case plan.ColumnRecipe:
		return r.ID
	case plan.ColumnTitle:
		return r.Title
	case plan.ColumnChapter:
		return r.Chapter
	case plan.ColumnPages:
		return r.Pages.String()
	case plan.ColumnSize:
		return r.Size.String()
	case plan.ColumnOrientation:
		return string(r.Orientation)
	case plan.ColumnAngle:
		return string(r.Angle)
	case plan.ColumnNeeds:
		return plan.FormatNeeds(r.Needs)
	case plan.ColumnProps:
		return strings.Join(r.Props, "; ")
	case plan.ColumnSurface:
		return r.Surface
	case plan.ColumnDay:
		return r.Day.String()
	case plan.ColumnLettering:
		return string(r.Lettering)
	case plan.ColumnAllergens:
		return r.Allergens
	}
	return r.Notes
}

// computed tells whether a spreadsheet program may take a cell for a formula.
func computed(s string) bool {
	if strings.HasPrefix(s, "\t") || strings.HasPrefix(s, "\r") {
		return true
	}
	for _, sign := range []string{"=", "+", "-", "@", "＝", "＋", "－", "＠"} {
		if strings.HasPrefix(strings.TrimLeft(s, " "), sign) {
			return true
		}
	}
	return false
}

// Guard gives a cell that a spreadsheet program takes for text: it puts an
// apostrophe before what would be computed, and before what Read would strip
// (OWASP, "CSV Injection"). Every CSV that people open is written through it.
func Guard(s string) string {
	if computed(strings.TrimLeft(s, "'")) {
		return "'" + s
	}
	return s
}

// unguard takes off the apostrophe that Guard puts on.
func unguard(s string) string {
	if strings.HasPrefix(s, "'") && computed(strings.TrimLeft(s, "'")) {
		return s[1:]
	}
	return s
}

// Template writes a plan with all columns and two example rows of the invented
// book "Skerry Table" that are sound in book b: one page, and a spread, on the
// first days of the shoot.
func Template(w io.Writer, b plan.Book) error {
	return Write(w, Sheet{Recipes: examples(b)})
}

// examples are the rows of a template.
func examples(b plan.Book) []plan.Recipe {
	shape := func(width, height float64) plan.Orientation {
		switch {
		case width > height:
			return plan.Landscape
		case height > width:
			return plan.Portrait
		}
		return plan.AnyOrientation
	}
	second := b.FirstDay
	if next := b.FirstDay.AddDays(1); !b.FirstDay.IsZero() && !b.LastDay.Before(next) {
		second = next
	}
	return []plan.Recipe{
		{ID: "R01", Title: "Rye flatbread with smoked trout", Chapter: "Shore", Pages: plan.Pages{First: 13, Last: 13},
			Size: plan.Size{Kind: plan.FullPage}, Orientation: shape(b.TrimWidth, b.TrimHeight), Angle: plan.ThreeQuarter,
			Needs: plan.DefaultNeeds(), Props: []string{"grey stoneware plate", "oat linen napkin"}, Surface: "tarred board",
			Allergens: "rye (gluten), fish, milk",
			Day:       b.FirstDay, Notes: "an example: put your own recipe here"},
		{ID: "R02", Title: "Beetroot and barley broth", Chapter: "Field", Pages: plan.Pages{First: 24, Last: 25},
			Size: plan.Size{Kind: plan.DoublePage}, Orientation: shape(2*b.TrimWidth, b.TrimHeight), Angle: plan.Overhead,
			Needs: append(plan.DefaultNeeds(), plan.Need{Kind: plan.Options, N: 2}), Props: []string{"blue enamel bowl"},
			Surface: "whitewashed table", Day: second, Notes: "an example: the picture runs over both pages"},
	}
}
