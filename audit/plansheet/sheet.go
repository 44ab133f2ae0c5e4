// Package plansheet reads the author's plan from a CSV or XLSX table and
// writes it as CSV. What can be read is read; everything else is a fault with
// its file, row, column and value, all of them at once.
package plansheet

import (
	"errors"
	"io"

	"coverplate/audit/plan"
)

// Header is one column of the sheet.
type Header struct {
	Name   string // as written
	Letter string // as a spreadsheet names the column: "A" … "XFD"
	Field  string // "recipe" … "notes"; "" a column of the author's own
}

// Taken is a value that was read as something other than it is spelt.
type Taken struct {
	Row    int
	Column string // the header as written
	Value  string
	As     string
}

// Sheet is a plan as it was read.
type Sheet struct {
	Name      string // of the file, as given
	Format    string // "csv" or "xlsx"
	Tab       string // of XLSX: the worksheet that was read
	Encoding  string // of CSV: "UTF-8", "UTF-16LE", "UTF-16BE", "Windows-1252"
	BOM       bool   // of CSV: a byte order mark stood first
	Delimiter rune   // of CSV
	HeaderRow int    // counted from 1
	Headers   []Header
	Missing   []string // fields that no column gives
	Recipes   []plan.Recipe
	Faults    []plan.Fault // of reading; Check adds those of meaning
	Taken     []Taken
}

// FormatError is a file that is broken or holds no plan.
type FormatError struct {
	Name string // of the file
	Says string // what is wrong
	Want string // what to do
	Err  error  // the cause, or nil
}

func (e *FormatError) Error() string { return e.Name + ": " + e.Says }
func (e *FormatError) Unwrap() error { return e.Err }

// UnsupportedError is a file of a kind that is not read.
type UnsupportedError struct {
	Name string // of the file
	Says string // what it is
	Want string // what to do
}

func (e *UnsupportedError) Error() string { return e.Name + ": " + e.Says }

// Read reads a plan.
func Read(r io.Reader, name string) (Sheet, error) { return Sheet{}, errors.New("not written yet") }

// Check gives the faults of reading and those of plan.Check in row order,
// with the headers as the sheet writes them.
func (s Sheet) Check(b plan.Book) []plan.Fault { return plan.Check(b, s.Recipes, s.Name) }

// Write writes the sheet as CSV.
func Write(w io.Writer, s Sheet) error { return errors.New("not written yet") }

// Template writes a plan with headers and two example rows that fit the book.
func Template(w io.Writer, b plan.Book) error { return errors.New("not written yet") }
