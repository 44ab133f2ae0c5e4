package plansheet

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"coverplate/audit/plan"
)

// readLines makes recipes of the lines below the header, which is there.
func (s *Sheet) readLines(lines []line) {
	at, _ := findHeader(lines)
	head := lines[at]
	s.HeaderRow = head.row
	widest := len(head.cells)
	for _, l := range lines[at+1:] {
		widest = max(widest, len(l.cells))
	}
	widest = min(widest, mostColumns)
	cells := append(make([]string, 0, widest), head.cells[:min(len(head.cells), widest)]...)
	for len(cells) < widest {
		cells = append(cells, "")
	}
	headers, doubles, slips := assign(cells)
	s.Headers = headers
	for _, t := range slips {
		t.Row = head.row
		s.Taken = append(s.Taken, t)
	}
	s.checkHeader(doubles)
	s.written = map[int]written{}
	for _, l := range lines[at+1:] {
		s.readLine(l)
	}
	s.sort(s.Faults)
}

func (s *Sheet) fault(row int, column, value, says, want string) {
	s.Faults = append(s.Faults, plan.Fault{File: s.Name, Row: row, Column: column, Value: shorten(value), Says: says, Want: want})
}

// checkHeader names fields that are missing or given twice.
func (s *Sheet) checkHeader(doubles []int) {
	given := map[string]Header{}
	for _, h := range s.Headers {
		if h.Field != "" {
			given[h.Field] = h
		}
	}
	for _, f := range plan.Columns() {
		if _, ok := given[f]; ok {
			continue
		}
		s.Missing = append(s.Missing, f)
		// Without the others a plan is thin; without these it is none.
		if f == plan.ColumnRecipe || f == plan.ColumnTitle {
			s.fault(s.HeaderRow, f, "", "there is no such column", "add a column with the header "+f)
		}
	}
	for _, i := range doubles {
		h := s.Headers[i]
		for _, sp := range spellings {
			if sp.folded == foldHeader(h.Name) {
				first := given[sp.field]
				s.fault(s.HeaderRow, h.label(), h.Name, fmt.Sprintf("names the %s a second time, in column %s: column %s is the one that counts",
					sp.field, h.Letter, first.Letter), "keep one of the two, or give this one another name")
				break
			}
		}
	}
}

// readLine makes a recipe of a line that isn't blank.
func (s *Sheet) readLine(l line) {
	r := plan.Recipe{Row: l.row, Angle: plan.AnyAngle, Needs: plan.DefaultNeeds()}
	w := written{cells: map[string]string{}}
	blank := true
	for i, h := range s.Headers {
		cell := l.cell(i)
		if strings.TrimSpace(cell) != "" {
			blank = false
		}
		if h.Field != "" {
			w.cells[h.Field] = cell
		} else if h.Name != "" || cell != "" {
			r.Extra = append(r.Extra, plan.Field{Name: h.label(), Value: cell})
		}
	}
	if blank && len(l.cells) <= len(s.Headers) {
		return
	}
	for i, h := range s.Headers {
		cell := l.cell(i)
		s.checkCell(l, i, h, cell)
		if h.Field != "" && cell != "" {
			s.readCell(&r, l.row, h, cell, l.stored(i))
		}
	}
	if len(l.cells) > len(s.Headers) {
		s.fault(l.row, "", l.cells[len(s.Headers)], fmt.Sprintf("the row has more than %d columns", len(s.Headers)),
			"is a delimiter repeated at the end of the row?")
	}
	w.recipe = r
	s.written[l.row] = w
	s.Recipes = append(s.Recipes, r)
}

var formulaError = regexp.MustCompile(`^#(?:REF!|N/A|VALUE!|NAME\?|DIV/0!|NULL!|NUM!|SPILL!|CALC!)$`)

// checkCell finds what is wrong with a cell whatever it should hold.
func (s *Sheet) checkCell(l line, column int, h Header, cell string) {
	if strings.Contains(cell, unreadable) {
		s.fault(l.row, h.label(), cell, "holds a character that is damaged", "write it again, and save the plan as UTF-8")
	}
	if h.Field != "" && formulaError.MatchString(cell) {
		s.fault(l.row, h.label(), cell, "is the error of a formula", "mend the formula, or write the value")
	}
	if h.Name == "" && strings.TrimSpace(cell) != "" {
		want := "give the column a header"
		if s.Format == "csv" {
			want += fmt.Sprintf(", or put text that holds %q in quotation marks", s.Delimiter)
		}
		s.fault(l.row, h.label(), cell, "stands under no header", want)
	}
	for _, c := range l.stray {
		if c == column {
			s.fault(l.row, h.label(), cell, "a quotation mark has no partner", "close it, or take it out")
		}
	}
	// A mark that is closed rows later by chance swallows those rows whole.
	if s.Format == "csv" && len(s.Headers) >= 4 {
		rows := strings.FieldsFunc(cell, func(r rune) bool { return r == '\n' || r == '\r' })
		for _, inner := range rows[min(1, len(rows)):] {
			if strings.Count(inner, string(s.Delimiter)) >= len(s.Headers)-2 {
				s.fault(l.row, h.label(), cell, "holds what looks like whole rows", "close the quotation mark in the row where it opens")
				break
			}
		}
	}
}

// readCell puts what a cell says into r. stored is the number behind a cell of
// XLSX, "" elsewhere.
func (s *Sheet) readCell(r *plan.Recipe, row int, h Header, cell, stored string) {
	var err error
	var as string
	value := cell
	switch h.Field {
	case plan.ColumnRecipe:
		r.ID = plan.Tidy(cell)
	case plan.ColumnTitle:
		r.Title = plan.Tidy(cell)
	case plan.ColumnChapter:
		r.Chapter = plan.Tidy(cell)
	case plan.ColumnSurface:
		r.Surface = plan.Tidy(cell)
	case plan.ColumnAllergens:
		r.Allergens = plan.Tidy(cell)
	case plan.ColumnNotes:
		r.Notes = strings.TrimSpace(cell)
	case plan.ColumnProps:
		r.Props = plan.ParseProps(cell)
	case plan.ColumnPages:
		if stored != "" {
			value = turned(stored)
		}
		r.Pages, err = plan.ParsePages(value)
		as = r.Pages.String()
		if strings.Trim(as, "-0123456789") == "" && digits(as) == digits(value) {
			as = value // only dashes and "pp." differ
		}
	case plan.ColumnSize:
		if stored != "" {
			value = turned(stored)
		}
		r.Size, err = plan.ParseSize(value)
		as = r.Size.String()
	case plan.ColumnAngle:
		if stored != "" {
			value = turned(stored)
		}
		r.Angle, err = plan.ParseAngle(value)
		as = string(r.Angle)
	case plan.ColumnOrientation:
		r.Orientation, err = plan.ParseOrientation(cell)
		as = string(r.Orientation)
	case plan.ColumnLettering:
		r.Lettering, err = plan.ParseLettering(cell)
		as = string(r.Lettering)
	case plan.ColumnNeeds:
		r.Needs, err = plan.ParseNeeds(cell)
		as = plan.FormatNeeds(r.Needs)
	case plan.ColumnDay:
		r.Day, err = readDay(cell, stored)
		as = r.Day.String()
	}
	for _, v := range parts(err) {
		at := v.Value
		if at == value {
			at = cell
		}
		s.fault(row, h.label(), at, v.Says, v.Want)
	}
	if err == nil && as != "" && foldHeader(as) != foldHeader(value) {
		s.Taken = append(s.Taken, Taken{row, h.label(), shorten(cell), as})
	}
}

func digits(s string) string {
	return strings.Map(func(r rune) rune {
		if r < '0' || r > '9' {
			return -1
		}
		return r
	}, s)
}

// The serial numbers of 2000-01-01 and 2100-01-01: what lies between is taken
// for a date. No page number comes near.
const (
	firstSerial = 36526
	lastSerial  = 73051
)

// serialDay gives the day of a spreadsheet's serial number, counted from
// 1899-12-30 so that every day from March 1900 on agrees with Excel, which
// believes in a 29 February 1900.
func serialDay(stored string) (plan.Day, bool) {
	f, err := strconv.ParseFloat(stored, 64)
	if err != nil || !(f >= firstSerial && f < lastSerial) {
		return plan.Day{}, false
	}
	return plan.Day{Year: 1899, Month: 12, Day: 30}.AddDays(int(f)), true
}

// readDay reads a day as text, or the serial number behind it.
func readDay(cell, stored string) (plan.Day, error) {
	if d, ok := serialDay(stored); ok {
		return d, nil
	}
	if d, ok := serialDay(strings.TrimSpace(cell)); ok {
		return plan.Day{}, &plan.ValueError{Value: cell, Says: "is the number that a spreadsheet keeps a day as",
			Want: fmt.Sprintf("write %v, if that is the day", d)}
	}
	return plan.ParseDay(cell)
}

// turned gives a number as it is, and "10-Nov" for the serial number of a
// date: that is what a spreadsheet makes of 10-11 or 3/4, and package plan
// knows how to take it.
func turned(stored string) string {
	d, ok := serialDay(stored)
	if !ok {
		return stored
	}
	return fmt.Sprintf("%d-%s", d.Day, d.Month.String()[:3])
}
