package main

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"charm.land/lipgloss/v2"

	"coverplate/audit"
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
	t.put(0, 2, turnsSay(r.Spreads))
	if o.Hues == nearHues {
		t.put(0, 2, "Swatches are the nearest of this terminal's 256 colours; the names and hex codes are exact.")
	}
	titles := titlesOf(r)
	for _, s := range r.Spreads {
		t.head(fmt.Sprintf("spread %d", s.Spread), "p. "+s.Pages)
		for _, p := range picturesOf(s) {
			t.put(2, 4, strings.TrimSpace(p.Recipe+"  "+titles[p.Recipe])+pageSuffix(p.Pages))
			t.put(4, 2, pictureSays(p.Frame, p.Chosen))
			t.palette(4, p.Palette, o.Hues)
			if p.Surface != nil {
				t.put(4, 2, fmt.Sprintf("surface: %s %s", p.Surface.Name, p.Surface.Hex))
			}
		}
		for _, m := range meetingsOf(s) {
			t.put(2, 4, m.line())
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

// picturesOf are the pictures of a spread. Where it has but one, the palette
// of the spread is that picture's.
func picturesOf(s audit.Spread) []audit.Picture {
	if len(s.Pictures) != 1 {
		return s.Pictures
	}
	p := s.Pictures[0]
	if p.Palette == nil {
		p.Palette = s.Palette
	}
	if p.Surface == nil {
		p.Surface = s.Surface
	}
	return []audit.Picture{p}
}

func titlesOf(r audit.Report) map[string]string {
	titles := map[string]string{}
	for _, rec := range r.Recipes {
		titles[rec.ID] = rec.Title
	}
	return titles
}

// turnsSay sums up how the book turns: how many pairs of neighbours are known,
// and how many of them want attention.
func turnsSay(spreads []audit.Spread) string {
	n := map[audit.Contrast]int{}
	all := 0
	var least *float64
	for _, s := range spreads {
		for _, m := range s.Neighbours {
			if m.Repeats {
				continue
			}
			all++
			n[m.Contrast]++
			if m.Apart != nil && (least == nil || *m.Apart < *least) {
				least = m.Apart
			}
		}
	}
	line := counted(len(spreads), "spread", "spreads")
	if all == 0 {
		return line + "; no two pictures meet yet."
	}
	line += fmt.Sprintf("; of %s of neighbours %d too alike, %d jarring, %d fine, %d unknown", counted(all, "pair", "pairs"),
		n[audit.Alike], n[audit.Jars], n[audit.Fine], n[audit.Unknown])
	if least != nil {
		line += fmt.Sprintf("; the nearest are %.1f apart", *least)
	}
	return line + ". Distances are of palettes (earth mover's over ΔE2000): the smaller, the more alike."
}

// meeting is one pair of neighbours as it is shown.
type meeting struct {
	Kind     string // "facing", "next spread", "page turn", "next spread and page turn"
	Other    string // whom this spread meets: "R06, p. 21"
	Figure   string // ΔE2000; "" unknown
	Contrast audit.Contrast
	Rests    string // what the contrast rests on: "under 10", or why it is not known
}

// meetingsOf are the meetings of a spread within itself and with the next.
func meetingsOf(s audit.Spread) []meeting {
	var all []meeting
	for i, n := range s.Neighbours {
		if n.Repeats {
			continue
		}
		m := meeting{Contrast: n.Contrast, Other: strings.Join(n.Recipes[1], ", ") + pageSuffix(n.Pages[1])}
		switch n.Kind {
		case audit.Facing:
			m.Kind, m.Other = "facing", strings.Join(n.Recipes[0], ", ")+" and "+strings.Join(n.Recipes[1], ", ")
		case audit.NextSpread:
			m.Kind = "next spread"
			if i+1 < len(s.Neighbours) && s.Neighbours[i+1].Repeats {
				m.Kind = "next spread and page turn"
			}
		case audit.PageTurn:
			m.Kind, m.Other = "page turn", strings.Join(n.Recipes[0], ", ")+" to "+strings.Join(n.Recipes[1], ", ")
		default:
			m.Kind = string(n.Kind)
		}
		limit := strconv.FormatFloat(n.Threshold, 'g', 4, 64)
		switch {
		case n.Apart == nil:
			// The pair is named already; what is left of the sentence is the reason.
			_, m.Rests, _ = strings.Cut(n.Why, "not known, ")
		case n.Contrast == audit.Alike:
			m.Figure, m.Rests = below(*n.Apart, n.Threshold), "under "+limit
		case n.Contrast == audit.Jars:
			m.Figure, m.Rests = above(*n.Apart, n.Threshold), "over "+limit
		default:
			m.Figure, m.Rests = fmt.Sprintf("%.1f", *n.Apart), limit+" or more"
		}
		all = append(all, m)
	}
	return all
}

func (m meeting) line() string {
	line := m.Kind + ", " + m.Other + ": "
	if m.Kind == "facing" {
		line = "facing, " + m.Other + ": "
	}
	if m.Figure != "" {
		line += m.Figure + " "
	}
	line += string(m.Contrast)
	if m.Rests != "" {
		line += ", " + m.Rests
	}
	return line
}

// below writes x, which is less than limit, so that it reads as less: 9.97
// under 10 is not "10.0".
func below(x, limit float64) string {
	for digits := 1; ; digits++ {
		s := strconv.FormatFloat(x, 'f', digits, 64)
		if v, err := strconv.ParseFloat(s, 64); err != nil || v < limit || digits == 6 {
			return s
		}
	}
}

// above writes x, which is more than limit, so that it reads as more.
func above(x, limit float64) string {
	for digits := 1; ; digits++ {
		s := strconv.FormatFloat(x, 'f', digits, 64)
		if v, err := strconv.ParseFloat(s, 64); err != nil || v > limit || digits == 6 {
			return s
		}
	}
}

func pictureSays(frame *string, chosen bool) string {
	switch {
	case frame == nil:
		return "no picture yet"
	case chosen:
		return "chosen: " + *frame
	}
	return "best so far, not chosen: " + *frame
}

// paletteSays names the swatches with their share, the largest first.
func paletteSays(p []colour.Swatch) string {
	words := make([]string, len(p))
	for i, s := range p {
		words[i] = swatchSays(s)
	}
	return strings.Join(words, ", ")
}

func swatchSays(s colour.Swatch) string {
	says := fmt.Sprintf("%s %s %s", s.Name, s.Hex, percent(s.Share))
	if s.Accent {
		says += " (accent)"
	}
	return says
}

// percent writes a share; one that is there is never written as nothing.
func percent(share float64) string {
	if p := 100 * share; p < 1 && p > 0 {
		return fmt.Sprintf("%.1f %%", max(p, 0.1))
	}
	return fmt.Sprintf("%.0f %%", 100*share)
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
		item := plain(swatchSays(s))
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
