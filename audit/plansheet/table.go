package plansheet

import (
	"regexp"
	"strings"
)

// line is one row of a table, whatever the table was kept in.
type line struct {
	row   int      // as a spreadsheet program shows it, from 1
	cells []string // no empty ones at the end
	raw   []string // of XLSX: numbers as they are stored; nil otherwise
	stray []int    // columns whose opening quotation mark has no closing one
}

func (l line) cell(column int) string {
	if column < len(l.cells) {
		return l.cells[column]
	}
	return ""
}

func (l line) stored(column int) string {
	if column < len(l.raw) {
		return l.raw[column]
	}
	return ""
}

// Bounds of what is believed to be a plan. The longest cell that a spreadsheet
// holds has 32,767 characters (Microsoft, "Excel specifications and limits").
const (
	mostBytes   = 8 << 20
	mostRows    = 20000
	mostColumns = 500
	mostCell    = 32767 * 4 // bytes
	mostStray   = 64        // quotation marks without a partner, before none is believed
)

var separatorLine = regexp.MustCompile(`(?i)^"?sep=([!-~\t])"?(?:\r\n|\r|\n|$)`)

// cutSeparator takes the line "sep=;" off a text's head, with which some
// spreadsheet programs name the delimiter. They show no row for it, so none is
// counted.
func cutSeparator(text string) (rest string, delimiter byte) {
	m := separatorLine.FindStringSubmatch(text)
	if m == nil || m[1] == `"` {
		return text, 0
	}
	return text[len(m[0]):], m[1][0]
}

// table parses delimited text, at most rows rows of it. Unlike encoding/csv it
// counts rows as a spreadsheet program shows them, blank ones and those after
// a line break inside a cell included, takes CR alone for a line end, and gets
// over a quotation mark without a partner: that is text, and the line says so.
type table struct {
	text      string
	delimiter byte
	at        int
	strays    int
}

func (t *table) lines(rows int) []line {
	var all []line
	for row := 1; t.at < len(t.text) && row <= rows; row++ {
		all = append(all, t.line(row))
	}
	return all
}

func (t *table) line(row int) line {
	l := line{row: row}
	full := 0 // cells up to the last that isn't empty
	for column := 0; ; column++ {
		cell, stray := t.cell()
		if column <= mostColumns {
			l.cells = append(l.cells, cell)
			if cell != "" {
				full = len(l.cells)
			}
			if stray {
				l.stray = append(l.stray, column)
			}
		}
		if t.at < len(t.text) && t.text[t.at] == t.delimiter {
			t.at++
			continue
		}
		l.cells = l.cells[:full:full]
		t.lineEnd()
		return l
	}
}

// lineEnd steps over CR, LF, or CR LF.
func (t *table) lineEnd() {
	if t.at < len(t.text) && t.text[t.at] == '\r' {
		t.at++
	}
	if t.at < len(t.text) && t.text[t.at] == '\n' {
		// LF CR is no line end of any system: an LF after a CR belongs to it.
		t.at++
	}
}

// cell reads up to the next delimiter or line end outside quotation marks.
func (t *table) cell() (text string, stray bool) {
	open := t.at
	for open < len(t.text) && t.text[open] == ' ' {
		open++
	}
	if t.strays < mostStray && open < len(t.text) && t.text[open] == '"' {
		if quoted, after, ok := t.quoted(open + 1); ok {
			t.at = after
			return quoted, false
		}
		t.strays++
		stray = true
	}
	end := t.at
	for end < len(t.text) && t.text[end] != t.delimiter && t.text[end] != '\r' && t.text[end] != '\n' {
		end++
	}
	text = t.text[t.at:end]
	t.at = end
	// `"Mother" bread` is plain text with a quotation in it.
	return text, stray && strings.Count(text, `"`)%2 == 1
}

// quoted reads a cell from behind its opening quotation mark. It ends at a
// mark that a delimiter, a line end or the end of the text follows; other
// single marks are text, but only in a cell of one line, since in a longer one
// they show that the cell has run into the next row.
func (t *table) quoted(start int) (text string, after int, ok bool) {
	var b strings.Builder
	inner, broken := false, false
	for i := start; i < len(t.text); i++ {
		c := t.text[i]
		if b.Len() > mostCell || inner && broken {
			return "", 0, false
		}
		if c != '"' {
			broken = broken || c == '\n' || c == '\r'
			b.WriteByte(c)
			continue
		}
		if i+1 < len(t.text) && t.text[i+1] == '"' {
			b.WriteByte('"')
			i++
			continue
		}
		end := i + 1
		for end < len(t.text) && t.text[end] == ' ' {
			end++
		}
		if end == len(t.text) || t.text[end] == t.delimiter || t.text[end] == '\n' || t.text[end] == '\r' {
			return b.String(), end, true
		}
		inner = true
		b.WriteByte('"')
	}
	return "", 0, false
}
