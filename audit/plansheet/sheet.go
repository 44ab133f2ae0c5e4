// Package plansheet reads the author's plan from a CSV or XLSX table and
// writes it as CSV. What can be read is read; everything else is a fault with
// its file, row, column and value, all of them at once.
package plansheet

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"coverplate/audit/plan"
)

// Sheet is a plan as it was read. It remembers how each cell was written, so
// that Write gives back what nobody has changed, readable or not.
type Sheet struct {
	Name      string // of the file, as given
	Format    string // "csv" or "xlsx"
	Tab       string // of XLSX: the worksheet that was read
	Encoding  string // of CSV: "UTF-8", "UTF-16LE", "UTF-16BE", "Windows-1252"
	BOM       bool   // of CSV: a byte order mark stood first
	Delimiter rune   // of CSV
	HeaderRow int    // counted from 1
	Headers   []Header
	Missing   []string // of plan.Columns, those that no column gives
	Recipes   []plan.Recipe
	Faults    []plan.Fault // of reading; Check adds those of meaning
	Taken     []Taken      // what was read as something else than it is spelt

	written map[int]written // by row
}

// Taken is a value that was read as something other than it is spelt, for the
// author to confirm: "flat lay" as overhead, "4.3.2026" as 2026-03-04.
type Taken struct {
	Row    int    // as the sheet counts
	Column string // the header as written
	Value  string
	As     string
}

// written is a row as the author wrote it, and what was made of it.
type written struct {
	cells  map[string]string // by field
	recipe plan.Recipe
}

// FormatError is a file that is broken or holds no plan. Nothing of it could
// be read.
type FormatError struct {
	Name string // of the file
	Says string // what is wrong
	Want string // what to do
	Err  error  // the cause, or nil
}

func (e *FormatError) Error() string {
	if e.Err != nil {
		return fmt.Sprintf("%s: %s: %v", e.Name, e.Says, e.Err)
	}
	return e.Name + ": " + e.Says
}

// Unwrap gives the cause.
func (e *FormatError) Unwrap() error { return e.Err }

// UnsupportedError is a file of a kind that is not read.
type UnsupportedError struct {
	Name string // of the file
	Says string // what it is
	Want string // what to do
}

func (e *UnsupportedError) Error() string { return e.Name + ": " + e.Says }

// Read reads a plan from CSV or XLSX; which of them it is shows in the bytes,
// and name serves for messages only.
//
// CSV is delimited by comma, semicolon, tab or bar, or as its "sep=" line
// says, in UTF-8, UTF-16 or Windows-1252. Of XLSX the first worksheet with a
// header is read. The header is the row that names the most columns among the
// first 30; the order of columns is free, their spelling is forgiven, and
// columns of the author's own go to Recipe.Extra. Every row below that isn't
// blank becomes a Recipe, also where parts of it are faulty: those stay zero.
// Formulas are never computed: XLSX gives the value stored beside one, and in
// CSV a formula is text.
//
// The error is a *FormatError or an *UnsupportedError, and means that there is
// no Sheet. Everything less is in Sheet.Faults.
func Read(r io.Reader, name string) (Sheet, error) {
	b, err := io.ReadAll(io.LimitReader(r, mostPacked+1))
	if err != nil {
		return Sheet{}, &FormatError{name, "can't be read", "is the disk still there?", err}
	}
	s := Sheet{Name: name}
	var lines []line
	switch {
	case len(bytes.TrimSpace(b)) == 0:
		return Sheet{}, &FormatError{name, "the file is empty", wantHeader, nil}
	case bytes.HasPrefix(b, []byte("PK\x03\x04")):
		lines, err = s.readWorkbook(b)
	default:
		if err := unsupported(b, name); err != nil {
			return Sheet{}, err
		}
		lines, err = s.readText(b)
	}
	if err != nil {
		return Sheet{}, err
	}
	s.readLines(lines)
	return s, nil
}

var wantHeader = "the first row names the columns: " + strings.Join(plan.Columns(), ", ")

// unsupported knows some kinds of file by their first bytes.
func unsupported(b []byte, name string) error {
	for _, kind := range []struct{ magic, says string }{
		{"\xD0\xCF\x11\xE0\xA1\xB1\x1A\xE1", "is an old Excel workbook, or one behind a password"},
		{"%PDF-", "is a PDF"},
		{"{\\rtf", "is a text document"},
		{"<", "is a web page or XML, whatever its name says"},
	} {
		if bytes.HasPrefix(bytes.TrimLeft(bytes.TrimPrefix(b, []byte("\xEF\xBB\xBF")), " \t\r\n"), []byte(kind.magic)) {
			return &UnsupportedError{name, kind.says, "save it as XLSX without a password, or as CSV"}
		}
	}
	return nil
}

func (s *Sheet) readText(b []byte) ([]line, error) {
	if len(b) > mostBytes {
		return nil, &FormatError{s.Name, fmt.Sprintf("has more than %d MB, which no plan has", mostBytes>>20),
			"is it the right file?", nil}
	}
	text, encoding, mark, ok := decode(b)
	if !ok {
		return nil, &FormatError{s.Name, "is neither text nor a workbook", "save the plan as CSV or XLSX", nil}
	}
	s.Format, s.Encoding, s.BOM = "csv", encoding, mark
	text, delimiter := cutSeparator(text)
	if delimiter == 0 {
		delimiter = sniff(text)
	}
	if delimiter == 0 {
		return nil, &FormatError{s.Name, fmt.Sprintf("none of the first %d rows names the columns of a plan", headerDepth), wantHeader, nil}
	}
	s.Delimiter = rune(delimiter)
	t := table{text: text, delimiter: delimiter}
	var lines []line
	held := 0
	for row := 1; t.at < len(t.text); row++ {
		l := t.line(row)
		if len(l.cells) == 0 && len(l.stray) == 0 {
			continue
		}
		for i, c := range l.cells {
			l.cells[i] = unguard(c)
		}
		lines = append(lines, l)
		if held++; held > mostRows {
			return nil, tooLong(s.Name)
		}
	}
	if t.strays >= mostStray {
		s.Faults = append(s.Faults, plan.Fault{File: s.Name, Says: "the quotation marks don't pair up, so none of the later ones is taken for one",
			Want: "put text that holds a delimiter in quotation marks, and double those within"})
	}
	if at, _ := findHeader(lines); at < 0 {
		return nil, &FormatError{s.Name, fmt.Sprintf("none of the first %d rows names the columns of a plan", headerDepth), wantHeader, nil}
	}
	return lines, nil
}

func tooLong(name string) error {
	return &FormatError{name, fmt.Sprintf("has more than %d rows, which no plan has", mostRows), "is it the right file?", nil}
}

// sniff gives the delimiter under which the header names the most fields; of
// equals the first of comma, semicolon, tab and bar. 0 is none.
func sniff(text string) byte {
	best, most := byte(0), 0
	for _, d := range []byte(",;\t|") {
		t := table{text: text, delimiter: d}
		// Blank rows may stand above the header.
		if _, score := findHeader(t.lines(10 * headerDepth)); score > most {
			best, most = d, score
		}
	}
	return best
}

// Check gives the faults of reading and those of plan.Check together, in the
// order of rows and columns, with headers and values as the author wrote them.
// Where the column of ids or titles is missing that is said once, not again
// for every row.
func (s Sheet) Check(b plan.Book) []plan.Fault {
	faults := slices.Clone(s.Faults)
	headers := map[string]string{}
	for _, h := range s.Headers {
		if h.Field != "" {
			headers[h.Field] = h.label()
		}
	}
	for _, f := range plan.Check(b, s.Recipes, s.Name) {
		if slices.Contains(s.Missing, f.Column) {
			continue
		}
		if f.Column != plan.ColumnNeeds { // there the value is a part of the cell
			if w, ok := s.written[f.Row].cells[f.Column]; ok && w != "" {
				f.Value = plan.Tidy(w)
			}
		}
		if h := headers[f.Column]; h != "" {
			f.Column = h
		}
		faults = append(faults, f)
	}
	s.sort(faults)
	return faults
}

// sort orders faults by row, then by where the column stands in the sheet.
func (s Sheet) sort(faults []plan.Fault) {
	at := map[string]int{}
	for i, h := range s.Headers {
		if _, ok := at[h.label()]; !ok {
			at[h.label()] = i + 1
		}
	}
	slices.SortStableFunc(faults, func(a, b plan.Fault) int {
		if a.Row != b.Row {
			return a.Row - b.Row
		}
		return at[a.Column] - at[b.Column]
	})
}

// shorten keeps a value fit to be printed in a message.
func shorten(s string) string {
	const most = 80
	s = plan.Tidy(s)
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:most-1]) + "…"
}

// parts gives the faults that a parser of plan found in one cell.
func parts(err error) []*plan.ValueError {
	var all []*plan.ValueError
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range joined.Unwrap() {
			all = append(all, parts(e)...)
		}
		return all
	}
	var v *plan.ValueError
	if errors.As(err, &v) {
		all = append(all, v)
	}
	return all
}
