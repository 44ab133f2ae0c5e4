package main

import (
	"fmt"
	"io"
	"strings"

	"charm.land/lipgloss/v2"

	"coverplate/audit"
	"coverplate/colour"
)

// renderFlatplan sets the book spread by spread: its picture, its palette and
// how far it is from the next. Colours are shown where the terminal has them
// and always named.
func renderFlatplan(w io.Writer, r audit.Report, o termOptions) error {
	t := newSetter(w, o)
	t.put(0, 2, r.Book+": flat plan")
	titles := map[string]string{}
	for _, rec := range r.Recipes {
		titles[rec.ID] = rec.Title
	}
	if len(r.Spreads) == 0 {
		t.gap()
		t.put(0, 2, "No recipe has a page yet: fill the column pages of the plan.")
	}
	for _, s := range r.Spreads {
		var names []string
		for _, id := range s.Recipes {
			names = append(names, strings.TrimSpace(id+" "+titles[id]))
		}
		t.head(fmt.Sprintf("spread %d", s.Spread), "p. "+s.Pages+"  "+strings.Join(names, "; "))
		t.put(2, 2, pictureSays(s))
		if bar := paletteBar(s.Palette, t.width-4, o.Colour); bar != "" && t.err == nil {
			_, t.err = io.WriteString(w, "  "+bar+"\n")
		}
		if len(s.Palette) > 0 {
			t.put(2, 2, paletteSays(s.Palette))
		}
		if s.Surface != nil {
			t.put(2, 2, fmt.Sprintf("surface: %s %s", s.Surface.Name, s.Surface.Hex))
		}
		line := string(s.Verdict)
		if s.Why != "" {
			line += ": " + s.Why
		}
		t.put(2, 2, line)
		t.put(2, 2, toNextSays(s.ToNext))
	}
	return t.err
}

func pictureSays(s audit.Spread) string {
	switch {
	case s.Frame == nil:
		return "no picture yet"
	case s.Chosen:
		return "chosen: " + *s.Frame
	}
	return "best so far, not chosen: " + *s.Frame
}

func toNextSays(d *float64) string {
	if d == nil {
		return "to the next spread: not known"
	}
	return fmt.Sprintf("to the next spread: %.1f", *d)
}

// paletteSays names the swatches with their share, the largest first.
func paletteSays(p []colour.Swatch) string {
	words := make([]string, len(p))
	for i, s := range p {
		words[i] = fmt.Sprintf("%s %s %.0f %%", s.Name, s.Hex, 100*s.Share)
		if s.Accent {
			words[i] += " (accent)"
		}
	}
	return strings.Join(words, ", ")
}

// paletteBar is a bar of width columns in the palette's colours, in proportion,
// or "" where colour can't be shown.
func paletteBar(p []colour.Swatch, width int, coloured bool) string {
	if !coloured || len(p) == 0 || width < len(p) {
		return ""
	}
	var b strings.Builder
	done, sum := 0, 0.0
	for _, s := range p {
		sum += s.Share
		end := min(int(sum*float64(width)+0.5), width)
		if end <= done {
			continue
		}
		b.WriteString(lipgloss.NewStyle().Background(lipgloss.Color(s.Hex)).Render(strings.Repeat(" ", end-done)))
		done = end
	}
	return b.String()
}
