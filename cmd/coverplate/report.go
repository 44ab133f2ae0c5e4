package main

import (
	"fmt"
	"io"
	"strings"

	"charm.land/lipgloss/v2"

	"coverplate/audit"
	"coverplate/cmd/coverplate/paper"
)

// termOptions tells how a report is set at the terminal.
type termOptions struct {
	Width  int  // columns; below 40 counts as 40
	Colour bool // false: no escape sequence at all
	Hues   hues // what swatches may be shown in; noHues where Colour is false
}

// setter sets text in a column of the terminal. The first write error stays
// and ends all later writing.
type setter struct {
	w     io.Writer
	width int
	bold  bool
	err   error
}

func newSetter(w io.Writer, o termOptions) *setter {
	return &setter{w: w, width: max(o.Width, 40), bold: o.Colour}
}

// put sets s below indent columns, folded at the width, lines after the first
// indented by hang more.
func (t *setter) put(indent, hang int, s string) {
	if t.err != nil {
		return
	}
	first := strings.Repeat(" ", indent)
	rest := strings.Repeat(" ", indent+hang)
	// It would fold between the two hyphens of a flag.
	flags := strings.ReplaceAll(plain(s), "--", hyphens)
	folded := strings.ReplaceAll(lipgloss.Wrap(flags, t.width-indent-hang, " "), hyphens, "--")
	for i, line := range strings.Split(folded, "\n") {
		lead := rest
		if i == 0 {
			lead = first
		}
		_, t.err = io.WriteString(t.w, strings.TrimRight(lead+strings.TrimLeft(line, " "), " ")+"\n")
		if t.err != nil {
			return
		}
	}
}

// hyphens are two that nothing folds at: non-breaking ones.
const hyphens = "\u2011\u2011"

func (t *setter) gap() {
	if t.err == nil {
		_, t.err = io.WriteString(t.w, "\n")
	}
}

// head sets a heading: bold where the terminal has it, in capitals anyway, so
// that it stands out on paper too.
func (t *setter) head(word, says string) {
	t.gap()
	word = strings.ToUpper(plain(word))
	line := word
	if says != "" {
		line += "  " + plain(says)
	}
	for i, part := range strings.Split(lipgloss.Wrap(line, t.width, " "), "\n") {
		if i == 0 && t.bold {
			part = lipgloss.NewStyle().Bold(true).Render(word) + strings.TrimPrefix(part, word)
		}
		if t.err == nil {
			_, t.err = io.WriteString(t.w, strings.TrimRight(part, " ")+"\n")
		}
	}
}

// renderReport sets a report for a terminal or a pipe.
func renderReport(w io.Writer, r audit.Report, o termOptions) error {
	t := newSetter(w, o)
	t.put(0, 2, r.Book+": coverage")
	t.put(0, 2, paper.SeenSays(r.Seen))
	t.put(0, 2, paper.PaceSays(r.Days))
	switch {
	case len(r.Recipes) == 0:
		t.put(0, 2, "The plan has no recipe yet: fill it in, then coverplate plan check.")
	case r.Seen.Frames == 0:
		t.put(0, 2, "Next: coverplate ingest CARD brings the first frames in.")
	}
	for _, group := range paper.Todo(r) {
		t.head(string(group.Verdict), fmt.Sprintf("%s: %d", group.Says, len(group.Tasks)))
		day, recipe := "\x00", ""
		for _, k := range group.Tasks {
			if k.Day != day {
				t.put(2, 2, dayName(k.Day))
				day, recipe = k.Day, ""
			}
			if k.Recipe != recipe {
				t.put(4, 4, strings.TrimSpace(k.Recipe+"  "+k.Title+pageSuffix(k.Pages)))
				recipe = k.Recipe
			}
			t.put(6, 4, k.Need+": "+k.Why)
			if k.Frame != "" {
				t.put(10, 2, k.Frame+ofVariant(k.Finding))
			}
		}
	}
	renderRest(t, r)
	return t.err
}

// ofVariant tells which variant the frame of a finding shows; "" none named.
func ofVariant(f audit.Finding) string {
	if f.Variant == "" {
		return ""
	}
	return " (" + f.Variant + ")"
}

// renderRest sets what follows the tasks: sets, spreads, props, frames without
// a recipe.
func renderRest(t *setter, r audit.Report) {
	var strike, hold []string
	for _, rec := range r.Recipes {
		if rec.Strike == audit.MayStrike {
			strike = append(strike, rec.ID)
		} else {
			hold = append(hold, rec.ID)
		}
	}
	t.head("sets", "")
	if len(strike) > 0 {
		t.put(2, 2, "strike: "+strings.Join(strike, ", "))
	}
	if len(hold) > 0 {
		t.put(2, 2, "hold: "+strings.Join(hold, ", "))
	}
	if len(r.Props) > 0 {
		t.head("props", fmt.Sprintf("planned or seen more than once: %d", len(r.Props)))
		for _, p := range r.Props {
			t.put(2, 4, p.Prop+": "+strings.Join(p.Recipes, ", ")+paper.SpreadSuffix(p.Spreads))
			if p.Why != "" {
				t.put(6, 2, p.Why)
			}
		}
	}
	if len(r.Notes) > 0 {
		t.head("to know", fmt.Sprintf("choices gone astray, contradictions, clocks: %d", len(r.Notes)))
		for _, n := range r.Notes {
			t.put(2, 4, paper.NoteSays(n))
			if n.Frame != "" {
				t.put(6, 2, n.Frame)
			}
		}
	}
	if len(r.Unplaced) > 0 {
		t.head("unplaced", fmt.Sprintf("no recipe can claim them: %d", len(r.Unplaced)))
		for _, u := range r.Unplaced {
			t.put(2, 4, u.Frame)
			line := u.Why
			if len(u.Guesses) > 0 {
				line += "; best guesses: " + strings.Join(u.Guesses, ", ")
			}
			t.put(6, 2, line)
		}
		t.put(2, 2, "say which with: coverplate assign FRAME RECIPE, or FRAME none")
	}
}

// renderStrikes ends a report on some recipes: what was seen of each, and one
// line that says whether its set may be struck.
func renderStrikes(w io.Writer, r audit.Report, o termOptions) error {
	t := newSetter(w, o)
	for _, rec := range r.Recipes {
		t.head(strings.TrimSpace(rec.ID+" "+rec.Title), "")
		switch {
		case rec.LastFrame == nil:
			t.put(2, 2, "No frame of it was seen. Nothing is known of frames still in a camera.")
		case rec.LastAt == nil:
			t.put(2, 2, "Its last frame, "+*rec.LastFrame+", has no time. Nothing is known of frames still in a camera.")
		default:
			t.put(2, 2, "Last frame of it: "+*rec.LastFrame+", at "+momentName(*rec.LastAt)+". Nothing is known of frames still in a camera.")
		}
		if rec.Stood != nil && *rec.Stood >= 1 {
			t.put(2, 2, fmt.Sprintf("It stood on set for %s at least, by its first and last frame of that day. No picture tells whether it may be eaten: local rules and licensed practice decide.", counted(int(*rec.Stood), "minute", "minutes")))
		}
		for _, v := range rec.Variants {
			t.put(2, 4, "variant, "+paper.VariantSays(v))
		}
		for _, says := range rec.Unread {
			t.put(2, 2, paper.UpperFirst(says)+".")
		}
		t.whole(string(rec.Strike) + ": " + paper.StrikeSays(rec))
	}
	return t.err
}
