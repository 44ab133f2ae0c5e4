package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"charm.land/lipgloss/v2"

	"coverplate/audit"
	"coverplate/cmd/coverplate/paper"
	"coverplate/colour"
)

// renderFlatplan sets the book spread by spread, in page order: its pictures,
// their palettes, and how far each is from what it meets. Colours are shown
// where the terminal has them, and always named.
func renderFlatplan(w io.Writer, r audit.Report, o termOptions) error {
	t := newSetter(w, o)
	t.put(0, 2, r.Book+": flat plan")
	if len(r.Spreads) == 0 {
		t.gap()
		t.put(0, 2, "No recipe has a page yet: fill the column pages of the plan.")
		return t.err
	}
	t.put(0, 2, paper.TurnsSay(r.Spreads))
	if o.Hues == nearHues {
		t.put(0, 2, "Swatches are the nearest of this terminal's 256 colours; the names and hex codes are exact.")
	}
	titles := paper.TitlesOf(r)
	for _, s := range r.Spreads {
		t.head(fmt.Sprintf("spread %d", s.Spread), "p. "+s.Pages)
		for _, p := range paper.PicturesOf(s) {
			t.put(2, 4, strings.TrimSpace(p.Recipe+"  "+titles[p.Recipe])+pageSuffix(p.Pages))
			t.put(4, 2, paper.PictureSays(p.Frame, p.Chosen))
			t.palette(4, p.Palette, o.Hues)
			if p.Surface != nil {
				t.put(4, 2, fmt.Sprintf("surface: %s %s", p.Surface.Name, p.Surface.Hex))
			}
		}
		for _, m := range paper.MeetingsOf(s) {
			t.put(2, 4, m.Line())
		}
		for _, g := range s.Surfaces {
			if g.Ground == audit.SameGround {
				t.put(2, 4, "same surface: "+g.Why)
			}
		}
		line := string(s.Verdict)
		if s.Why != "" {
			line += ": " + s.Why
		}
		t.put(2, 4, line)
	}
	return t.err
}

// paletteSays names the swatches with their share, the largest first.
func paletteSays(p []colour.Swatch) string {
	words := make([]string, len(p))
	for i, s := range p {
		words[i] = paper.SwatchSays(s)
	}
	return strings.Join(words, ", ")
}

// palette sets the swatches in proportion, where the terminal has colours, and
// then each by name, hex and share behind a chip of its colour.
func (t *setter) palette(indent int, p []colour.Swatch, h hues) {
	if len(p) == 0 {
		return
	}
	lead := strings.Repeat(" ", indent)
	width := t.width - indent
	if bar := paletteBar(p, width, h); bar != "" {
		t.raw(lead + bar)
	}
	line := ""
	flush := func() {
		for _, part := range strings.Split(lipgloss.Wrap(line, width, " "), "\n") { // one alone may be wider
			t.raw(lead + strings.TrimRight(part, " "))
		}
	}
	for i, s := range p {
		item := plain(paper.SwatchSays(s))
		if i < len(p)-1 {
			item += ","
		}
		if chip := h.paint(s.Hex, 2); chip != "" {
			item = chip + " " + item
		}
		switch {
		case line == "":
			line = item
		case lipgloss.Width(line)+1+lipgloss.Width(item) > width:
			flush()
			line = item
		default:
			line += " " + item
		}
	}
	flush()
}

// raw sets a line that is ready as it is.
func (t *setter) raw(line string) {
	if t.err == nil {
		_, t.err = io.WriteString(t.w, line+"\n")
	}
}

// paletteBar is a bar of width columns in the palette's colours, in
// proportion, or "" where colours can't be shown. Every swatch has a column at
// least, for a garnish of one part in a hundred is what makes a picture.
func paletteBar(p []colour.Swatch, width int, h hues) string {
	if h == noHues || len(p) == 0 || width < len(p) {
		return ""
	}
	columns := columnsOf(p, width)
	var b strings.Builder
	for i, s := range p {
		b.WriteString(h.paint(s.Hex, columns[i]))
	}
	return b.String()
}

// columnsOf shares width columns out among the swatches, one at least for
// each; what rounding leaves goes to those that it cut most.
func columnsOf(p []colour.Swatch, width int) []int {
	sum := 0.0
	for _, s := range p {
		sum += max(s.Share, 0)
	}
	columns := make([]int, len(p))
	want := make([]float64, len(p))
	left := width
	for i, s := range p {
		if sum > 0 {
			want[i] = max(s.Share, 0) / sum * float64(width)
		}
		columns[i] = max(1, int(want[i]))
		left -= columns[i]
	}
	for ; left != 0; left -= sign(left) {
		at, most := 0, math.Inf(-1)
		for i := range p {
			owed := float64(sign(left)) * (want[i] - float64(columns[i]))
			if owed > most && (left > 0 || columns[i] > 1) {
				at, most = i, owed
			}
		}
		columns[at] += sign(left)
	}
	return columns
}

func sign(n int) int {
	if n < 0 {
		return -1
	}
	return 1
}
