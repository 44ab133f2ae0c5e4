package plansheet

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"
)

// Bounds of a workbook. Pictures in it are never unpacked and don't count.
const (
	mostPacked   = 128 << 20 // bytes of the file
	mostUnpacked = 32 << 20  // bytes of all XML in it
	mostParts    = 2000      // files in it
	mostMerged   = 10000     // ranges of merged cells
)

var (
	errTooBig = errors.New("it unpacks to more than a plan can need")
	errBroken = errors.New("a part of it breaks the rules of the format")
)

// readWorkbook gives the lines of the first worksheet with a header.
func (s *Sheet) readWorkbook(b []byte) ([]line, error) {
	if len(b) > mostPacked {
		return nil, &FormatError{s.Name, fmt.Sprintf("has more than %d MB, which no plan has", mostPacked>>20),
			"is it the right file?", nil}
	}
	const want = "open it in a spreadsheet program and save it anew as XLSX, or as CSV"
	slim, err := slimmed(b)
	if errors.Is(err, errNoWorkbook) {
		return nil, &UnsupportedError{s.Name, "is a ZIP archive and no XLSX workbook", "save the plan as XLSX or CSV"}
	}
	if err != nil {
		return nil, &FormatError{s.Name, "the workbook can't be unpacked", want, err}
	}
	tabs, err := worksheets(slim)
	if err != nil {
		return nil, &FormatError{s.Name, "the workbook can't be read", want, err}
	}
	for _, t := range tabs {
		if at, _ := findHeader(t.lines); at < 0 {
			continue
		}
		if len(t.lines) > mostRows {
			return nil, tooLong(s.Name)
		}
		s.Format, s.Tab = "xlsx", t.name
		return t.lines, nil
	}
	return nil, &FormatError{s.Name, fmt.Sprintf("no worksheet names the columns of a plan in its first %d rows", headerDepth),
		wantHeader, nil}
}

var errNoWorkbook = errors.New("no workbook in the archive")

// slimmed copies a workbook without its pictures, charts and macros, unpacked,
// and so finds out what it really unpacks to before anything reads it whole:
// the sizes that an archive states need not be true.
func slimmed(b []byte) ([]byte, error) {
	from, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return nil, err
	}
	if len(from.File) > mostParts {
		return nil, errTooBig
	}
	var out bytes.Buffer
	to := zip.NewWriter(&out)
	left, workbook := int64(mostUnpacked), false
	for _, f := range from.File {
		name := strings.ToLower(strings.ReplaceAll(f.Name, "\\", "/"))
		if !strings.HasSuffix(name, ".xml") && !strings.HasSuffix(name, ".rels") ||
			strings.HasPrefix(name, "xl/drawings/") || strings.HasPrefix(name, "xl/charts/") {
			continue
		}
		workbook = workbook || strings.HasPrefix(name, "xl/workbook")
		r, err := f.Open()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f.Name, err)
		}
		w, err := to.CreateHeader(&zip.FileHeader{Name: f.Name, Method: zip.Store})
		if err != nil {
			return nil, err
		}
		n, err := io.Copy(w, io.LimitReader(r, left+1))
		r.Close() // a reader of memory holds nothing back
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f.Name, err)
		}
		if left -= n; left < 0 {
			return nil, errTooBig
		}
	}
	if !workbook {
		return nil, errNoWorkbook
	}
	if err := to.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// tab is one worksheet.
type tab struct {
	name  string
	lines []line
}

// worksheets reads a slim workbook up to the first worksheet with a header.
// The reader underneath may panic on a broken one; that is an error here.
func worksheets(b []byte) (tabs []tab, err error) {
	defer func() {
		if p := recover(); p != nil {
			tabs, err = nil, fmt.Errorf("%w (%v)", errBroken, p)
		}
	}()
	f, err := excelize.OpenReader(bytes.NewReader(b), excelize.Options{
		// Equal limits keep every part in memory: no temporary files.
		UnzipSizeLimit: 2 * mostUnpacked, UnzipXMLSizeLimit: 2 * mostUnpacked,
		ShortDatePattern: "yyyy-mm-dd",
	})
	if err != nil {
		return nil, err
	}
	defer f.Close()
	from1904 := false
	if p, err := f.GetWorkbookProps(); err == nil && p.Date1904 != nil {
		from1904 = *p.Date1904
	}
	var first error
	for _, name := range f.GetSheetList() {
		lines, err := worksheet(f, name, from1904)
		if err != nil {
			// A chart is a sheet too, without rows.
			if first == nil {
				first = fmt.Errorf("worksheet %q: %w", name, err)
			}
			continue
		}
		tabs = append(tabs, tab{name, lines})
		if at, _ := findHeader(lines); at >= 0 {
			return tabs, nil
		}
	}
	if len(tabs) == 0 && first != nil {
		return nil, first
	}
	return tabs, nil
}

// worksheet reads one worksheet twice in step: once as it is shown, which is
// how the author knows an id like R07 that is a 7 with a format, and once as
// it is stored, which is how a day keeps its year.
func worksheet(f *excelize.File, name string, from1904 bool) ([]line, error) {
	shown, err := f.Rows(name)
	if err != nil {
		return nil, err
	}
	defer shown.Close()
	stored, err := f.Rows(name)
	if err != nil {
		return nil, err
	}
	defer stored.Close()
	var lines []line
	for row := 1; shown.Next() && stored.Next(); row++ {
		cells, err := shown.Columns()
		if err != nil {
			return nil, err
		}
		raw, err := stored.Columns(excelize.Options{RawCellValue: true})
		if err != nil {
			return nil, err
		}
		l := line{row: row, cells: trimmed(cells), raw: numbers(raw, from1904)}
		if len(l.cells) == 0 {
			continue
		}
		if lines = append(lines, l); len(lines) > mostRows {
			return lines, nil
		}
	}
	if err := errors.Join(shown.Error(), stored.Error()); err != nil {
		return nil, err
	}
	return lines, spreadMerged(f, name, lines)
}

// trimmed drops empty cells at the end. Of what lies beyond every plan it keeps
// the first value, one column further, for the row to be named.
func trimmed(cells []string) []string {
	if len(cells) > mostColumns {
		for _, beyond := range cells[mostColumns:] {
			if strings.TrimSpace(beyond) != "" {
				cells[mostColumns] = beyond
				break
			}
		}
		cells = cells[:mostColumns+1]
	}
	for len(cells) > 0 && strings.TrimSpace(cells[len(cells)-1]) == "" {
		cells = cells[:len(cells)-1]
	}
	return slices.Clone(cells) // lets go of a wide row
}

// days1904 is how far the two ways of counting days lie apart: from
// 1899-12-30, and from 1904-01-01 (Microsoft: "1,462 days").
const days1904 = 1462

// numbers keeps the stored values that are numbers, dates brought to one way
// of counting, and empties the rest.
func numbers(raw []string, from1904 bool) []string {
	raw = trimmed(raw)
	for i, v := range raw {
		f, err := strconv.ParseFloat(v, 64)
		if err != nil {
			raw[i] = ""
		} else if moved := f + days1904; from1904 && moved >= firstSerial && moved < lastSerial {
			raw[i] = strconv.FormatFloat(moved, 'f', -1, 64)
		}
	}
	return raw
}

// spreadMerged gives every row of a merged range the value that only its top
// cell holds: a chapter or a day merged over its recipes. It spreads down and
// not across, where the value would come under a header that isn't its own.
func spreadMerged(f *excelize.File, name string, lines []line) error {
	merged, err := f.GetMergeCells(name)
	if err != nil {
		return err
	}
	index := make(map[int]int, len(lines))
	for i, l := range lines {
		index[l.row] = i
	}
	for _, m := range merged[:min(len(merged), mostMerged)] {
		column, top, err := excelize.CellNameToCoordinates(m.GetStartAxis())
		if err != nil {
			continue
		}
		_, bottom, err := excelize.CellNameToCoordinates(m.GetEndAxis())
		i, ok := index[top]
		column--
		if err != nil || !ok || column >= mostColumns || lines[i].cell(column) == "" {
			continue
		}
		for _, l := range lines[i+1:] {
			if l.row > bottom {
				break
			}
			j := index[l.row]
			lines[j].cells = set(l.cells, column, lines[i].cell(column))
			if v := lines[i].stored(column); v != "" {
				lines[j].raw = set(l.raw, column, v)
			}
		}
	}
	return nil
}

func set(cells []string, column int, value string) []string {
	for len(cells) <= column {
		cells = append(cells, "")
	}
	cells[column] = value
	return cells
}
