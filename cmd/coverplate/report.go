package main

import (
	"fmt"
	"io"
	"sort"
	"strings"
	"time"

	"charm.land/lipgloss/v2"

	"coverplate/audit"
	"coverplate/audit/plan"
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
	for i, line := range strings.Split(lipgloss.Wrap(plain(s), t.width-indent-hang, " "), "\n") {
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

// task is one thing that a person must do for a need of a recipe.
type task struct {
	Day, Pages, Recipe, Title, Need, Why, Frame string
	page                                        int
	finding                                     audit.Finding
}

// tasks are all the things that one verdict asks for, by shooting day and page.
type tasks struct {
	Verdict audit.Verdict
	Says    string
	Tasks   []task
}

// verdictSays is what each verdict asks of a person, in the order of doing.
var verdictSays = []struct {
	verdict audit.Verdict
	says    string
}{
	{audit.ToShoot, "there is no frame of it"},
	{audit.ToReshoot, "frames exist, none is fit"},
	{audit.ToLook, "a frame may serve, eyes must tell"},
	{audit.ToChoose, "fit frames wait for a choice"},
}

// todo orders what is wanting: what must be shot first, then shot again,
// looked at, chosen; within each by shooting day and page. A recipe without a
// day comes last.
func todo(r audit.Report) []tasks {
	var all []tasks
	for _, v := range verdictSays {
		group := tasks{Verdict: v.verdict, Says: v.says}
		for _, rec := range r.Recipes {
			for _, f := range rec.Needs {
				if f.Verdict != v.verdict {
					continue
				}
				pages, _ := plan.ParsePages(rec.Pages)
				t := task{Day: rec.Day, Pages: rec.Pages, Recipe: rec.ID, Title: rec.Title,
					Need: f.Need, Why: f.Why, page: pages.First, finding: f}
				if f.Frame != nil {
					t.Frame = *f.Frame
				}
				group.Tasks = append(group.Tasks, t)
			}
		}
		sort.SliceStable(group.Tasks, func(i, j int) bool {
			a, b := group.Tasks[i], group.Tasks[j]
			if a.Day != b.Day {
				return b.Day == "" || a.Day != "" && a.Day < b.Day
			}
			return a.page < b.page
		})
		if len(group.Tasks) > 0 {
			all = append(all, group)
		}
	}
	return all
}

// renderReport sets a report for a terminal or a pipe.
func renderReport(w io.Writer, r audit.Report, o termOptions) error {
	t := newSetter(w, o)
	t.put(0, 2, r.Book+": coverage")
	t.put(0, 2, seenSays(r.Seen))
	t.put(0, 2, paceSays(r.Days))
	for _, group := range todo(r) {
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
				t.put(10, 2, k.Frame)
			}
		}
	}
	renderRest(t, r)
	return t.err
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
	if len(r.Recipes) == 1 {
		t.put(2, 2, r.Recipes[0].StrikeWhy)
	}
	if len(r.Props) > 0 {
		t.head("props", fmt.Sprintf("planned or seen more than once: %d", len(r.Props)))
		for _, p := range r.Props {
			t.put(2, 4, p.Prop+": "+strings.Join(p.Recipes, ", ")+spreadSuffix(p.Spreads))
			if p.Why != "" {
				t.put(6, 2, p.Why)
			}
		}
	}
	if len(r.Notes) > 0 {
		t.head("to know", fmt.Sprintf("choices gone astray, contradictions, clocks: %d", len(r.Notes)))
		for _, n := range r.Notes {
			t.put(2, 4, noteSays(n))
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

// noteSays is a note under the recipe it is of.
func noteSays(n audit.Note) string {
	if n.Recipe == "" {
		return n.Says
	}
	return n.Recipe + ": " + n.Says
}

func pageSuffix(pages string) string {
	if pages == "" {
		return ""
	}
	return ", p. " + pages
}

func spreadSuffix(spreads []int) string {
	if len(spreads) == 0 {
		return ""
	}
	words := make([]string, len(spreads))
	for i, s := range spreads {
		words[i] = fmt.Sprint(s)
	}
	if len(words) == 1 {
		return " (spread " + words[0] + ")"
	}
	return " (spreads " + strings.Join(words, ", ") + ")"
}

// seenSays tells what a report rests on, and that it rests on no more.
func seenSays(s audit.Seen) string {
	var b strings.Builder
	switch s.Frames {
	case 0:
		b.WriteString("No frame has been seen yet.")
	case 1:
		b.WriteString("Seen: 1 frame")
	default:
		fmt.Fprintf(&b, "Seen: %d frames", s.Frames)
	}
	if s.Frames > 0 {
		switch len(s.Cards) {
		case 0:
		case 1:
			b.WriteString(" from card " + s.Cards[0])
		default:
			b.WriteString(" from cards " + joinAnd(s.Cards))
		}
		if s.LastFrame != nil {
			b.WriteString(", the last taken at " + momentName(*s.LastFrame))
		} else {
			b.WriteString(", none with a time")
		}
		if s.Unplaced > 0 {
			fmt.Fprintf(&b, "; %d unplaced", s.Unplaced)
		}
		b.WriteString(".")
	}
	return b.String() + " Nothing is known of frames still in a camera."
}

// paceSays tells how the shoot stands against its days.
func paceSays(p audit.Pace) string {
	s := fmt.Sprintf("%d of %d recipes covered", p.Done, p.Of)
	switch {
	case p.Done == p.Of:
		return s + "."
	case p.DaysLeft == 0:
		return s + "; no shooting day is left."
	}
	s += fmt.Sprintf("; %s left", counted(p.DaysLeft, "day", "days"))
	if p.NeededPerDay != nil {
		s += fmt.Sprintf(", %.3g a day needed", *p.NeededPerDay)
	}
	if p.Why != "" {
		s += "; " + p.Why
	}
	return s + "."
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// dayName writes "2026-03-04" as people say it; what is no day stays as it is.
func dayName(day string) string {
	if day == "" {
		return "no day planned"
	}
	d, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return day
	}
	return d.Format("Monday 2 January 2006")
}

// momentName writes a wall clock "2026-03-04T17:41:09.12" as people say it.
func momentName(moment string) string {
	m, err := time.Parse("2006-01-02T15:04:05.999999999", moment)
	if err != nil {
		return moment
	}
	return m.Format("15:04 on 2 January 2006")
}

func joinAnd(words []string) string {
	switch n := len(words); n {
	case 0:
		return ""
	case 1:
		return words[0]
	default:
		s := words[0]
		for _, w := range words[1 : n-1] {
			s += ", " + w
		}
		return s + " and " + words[n-1]
	}
}
