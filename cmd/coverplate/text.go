package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"charm.land/lipgloss/v2"

	"coverplate/cmd/coverplate/paper"
)

// plain makes a text of someone else's safe to print on one line of a
// terminal: what a terminal would obey (control characters, escape sequences,
// marks that turn the direction of writing, broken UTF-8) is spelt out, as
// \x1b or \u202e, so that it is seen and does nothing.
func plain(s string) string {
	if strings.IndexFunc(s, obeyed) < 0 && utf8.ValidString(s) {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		r, size := utf8.DecodeRuneInString(s[i:])
		switch {
		case r == utf8.RuneError && size == 1:
			fmt.Fprintf(&b, `\x%02x`, s[i])
		case !obeyed(r):
			b.WriteRune(r)
		case r < 0x80:
			fmt.Fprintf(&b, `\x%02x`, r)
		case r <= 0xffff:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			fmt.Fprintf(&b, `\U%08x`, r)
		}
		i += size
	}
	return b.String()
}

// obeyed tells whether a terminal or a reader's eye would be led by r rather
// than shown it. The joiners that scripts and emoji need are let through.
func obeyed(r rune) bool {
	switch r {
	case ' ', '\u00a0', '\u200c', '\u200d', '\u202f', '\u3000':
		return false
	}
	return !unicode.IsPrint(r)
}

// cut shortens s to width columns, with … where something was left out.
func cut(s string, width int) string {
	if lipgloss.Width(s) <= width {
		return s
	}
	return lipgloss.NewStyle().MaxWidth(width-1).Render(s) + "…"
}

// cutLeft shortens s to width columns and keeps its end, which of a path is
// what tells files apart.
func cutLeft(s string, width int) string {
	if lipgloss.Width(s) <= width {
		return s
	}
	runes := []rune(s)
	for len(runes) > 0 && lipgloss.Width(string(runes)) > width-1 {
		runes = runes[1:]
	}
	return "…" + string(runes)
}

// writeTable prints rows below head. Columns are as wide as they need; where
// all together don't fit the width, the widest are narrowed first; a width of
// 0 is without end.
func writeTable(w io.Writer, width int, head []string, rows [][]string) error {
	all := append([][]string{head}, rows...)
	widths := make([]int, len(head))
	sum := 2 * (len(head) - 1)
	for i := range head {
		for _, row := range all {
			widths[i] = max(widths[i], lipgloss.Width(plain(row[i])))
		}
		sum += widths[i]
	}
	for ; width > 0 && sum > width; sum-- {
		widest := 0
		for i := range widths {
			if widths[i] >= widths[widest] {
				widest = i
			}
		}
		if widths[widest] <= 6 {
			break
		}
		widths[widest]--
	}
	for _, row := range all {
		var b strings.Builder
		for i, cell := range row {
			cell = cut(plain(cell), widths[i])
			b.WriteString(cell + strings.Repeat(" ", widths[i]-lipgloss.Width(cell)+2))
		}
		if _, err := fmt.Fprintln(w, strings.TrimRight(b.String(), " ")); err != nil {
			return err
		}
	}
	return nil
}

// writeJSON prints v, indented. Characters that a terminal would obey are
// escaped also where JSON need not.
func writeJSON(w io.Writer, v any) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(v); err != nil {
		return err
	}
	var out bytes.Buffer
	for _, r := range b.String() {
		switch {
		case r == '\n' || !obeyed(r):
			out.WriteRune(r)
		case r <= 0xffff:
			fmt.Fprintf(&out, `\u%04x`, r)
		default:
			hi, lo := (r-0x10000)>>10+0xd800, (r-0x10000)&0x3ff+0xdc00
			fmt.Fprintf(&out, `\u%04x\u%04x`, hi, lo)
		}
	}
	_, err := w.Write(out.Bytes())
	return err
}

// rounded is f to four figures, which is more than any camera means.
func rounded(f float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(f, 'g', 4, 64), 64)
	if err != nil {
		return f
	}
	return r
}

// counted, joinAnd, dayName, momentName and pageSuffix are the words of pages.
func counted(n int, one, many string) string { return paper.Counted(n, one, many) }
func joinAnd(words []string) string          { return paper.JoinAnd(words) }
func dayName(day string) string              { return paper.DayName(day) }
func momentName(moment string) string        { return paper.MomentName(moment) }
func pageSuffix(pages string) string         { return paper.PageSuffix(pages) }
