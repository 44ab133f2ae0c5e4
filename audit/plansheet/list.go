package plansheet

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"
)

// Table is rows below a head, for people to open in a spreadsheet program.
type Table struct {
	Name string // of its worksheet, at most 31 letters
	Head []string
	Rows [][]string
}

// WriteList writes a table as CSV (RFC 4180) with a byte order mark, so that
// a spreadsheet program takes it for UTF-8; cells that it would compute are
// guarded. ReadList gives the same cells again.
func WriteList(w io.Writer, t Table) error {
	if _, err := io.WriteString(w, "\uFEFF"); err != nil {
		return err
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	for _, row := range append([][]string{t.Head}, t.Rows...) {
		cells := make([]string, len(row))
		for i, c := range row {
			cells[i] = Guard(c)
		}
		if err := out.Write(cells); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// ReadList reads what WriteList wrote; rows may be short or long.
func ReadList(r io.Reader) (head []string, rows [][]string, err error) {
	b, err := io.ReadAll(io.LimitReader(r, mostUnpacked+1))
	if err != nil {
		return nil, nil, err
	}
	if len(b) > mostUnpacked || !utf8.Valid(b) {
		return nil, nil, errors.New("it is no list that coverplate wrote")
	}
	in := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))))
	in.FieldsPerRecord = -1
	all, err := in.ReadAll()
	if err != nil {
		return nil, nil, err
	}
	if len(all) == 0 {
		return nil, nil, errors.New("it is empty")
	}
	for _, row := range all {
		for i := range row {
			row[i] = unguard(row[i])
		}
	}
	return all[0], all[1:], nil
}

// mostShown is the most letters that a cell of XLSX holds (ECMA-376).
const mostShown = 32767

// WriteWorkbook writes tables as XLSX, a worksheet each, the head bold and
// held in sight. Every cell is text, so that nothing in it is ever computed.
func WriteWorkbook(w io.Writer, tables []Table) error {
	f := excelize.NewFile()
	defer f.Close()
	bold, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil {
		return err
	}
	// 49 is the built-in format "text": also what is typed there is not computed.
	plain, err := f.NewStyle(&excelize.Style{NumFmt: 49, Alignment: &excelize.Alignment{WrapText: true, Vertical: "top"}})
	if err != nil {
		return err
	}
	for i, t := range tables {
		if i == 0 {
			err = f.SetSheetName("Sheet1", t.Name)
		} else {
			_, err = f.NewSheet(t.Name)
		}
		if err != nil {
			return fmt.Errorf("worksheet %q: %w", t.Name, err)
		}
		for y, row := range append([][]string{t.Head}, t.Rows...) {
			for x, cell := range row {
				at, err := excelize.CoordinatesToCellName(x+1, y+1)
				if err != nil {
					return err
				}
				style := plain
				if y == 0 {
					style = bold
				}
				if utf8.RuneCountInString(cell) > mostShown {
					cell = string([]rune(cell)[:mostShown-1]) + "…"
				}
				if err := errors.Join(f.SetCellStr(t.Name, at, cell), f.SetCellStyle(t.Name, at, at, style)); err != nil {
					return err
				}
			}
		}
		for x := range t.Head {
			widest := 8
			for _, row := range append([][]string{t.Head}, t.Rows...) {
				if x < len(row) {
					widest = max(widest, utf8.RuneCountInString(row[x]))
				}
			}
			column, err := excelize.ColumnNumberToName(x + 1)
			if err != nil {
				return err
			}
			if err := f.SetColWidth(t.Name, column, column, float64(min(widest, 48))+2); err != nil {
				return err
			}
		}
		if err := f.SetPanes(t.Name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
			return err
		}
	}
	return f.Write(w)
}
