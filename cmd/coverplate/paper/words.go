package paper

import (
	"fmt"
	"path"
	"sort"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"coverplate/audit"
	"coverplate/audit/plan"
)

// Task is one thing that a person must do for a need of a recipe.
type Task struct {
	Day, Pages, Recipe, Title, Need, Why, Frame string
	page                                        int
	Finding                                     audit.Finding
}

// Tasks are all the things that one verdict asks for, by shooting day and page.
type Tasks struct {
	Verdict audit.Verdict
	Says    string
	Tasks   []Task
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

// Todo orders what is wanting: what must be shot first, then shot again,
// looked at, chosen; within each by shooting day and page. A recipe without a
// day comes last.
func Todo(r audit.Report) []Tasks {
	var all []Tasks
	for _, v := range verdictSays {
		group := Tasks{Verdict: v.verdict, Says: v.says}
		for _, rec := range r.Recipes {
			for _, f := range rec.Needs {
				if f.Verdict != v.verdict {
					continue
				}
				pages, _ := plan.ParsePages(rec.Pages)
				t := Task{Day: rec.Day, Pages: rec.Pages, Recipe: rec.ID, Title: rec.Title,
					Need: f.Need, Why: f.Why, page: pages.First, Finding: f}
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

// NoteSays is a note under the recipe it is of.
func NoteSays(n audit.Note) string {
	if n.Recipe == "" {
		return n.Says
	}
	return n.Recipe + ": " + n.Says
}

// PageSuffix is ", p. 24" of pages; "" of none.
func PageSuffix(pages string) string {
	if pages == "" {
		return ""
	}
	return ", p. " + pages
}

// SpreadSuffix is " (spread 12)" of spreads; "" of none.
func SpreadSuffix(spreads []int) string {
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

// SeenSays tells what a report rests on, and that it rests on no more.
func SeenSays(s audit.Seen) string {
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
			b.WriteString(" from cards " + JoinAnd(s.Cards))
		}
		if s.LastFrame != nil {
			b.WriteString(", the last taken at " + MomentName(*s.LastFrame))
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

// PaceSays tells how the shoot stands against its days.
func PaceSays(p audit.Pace) string {
	s := fmt.Sprintf("%d of %d recipes covered", p.Done, p.Of)
	switch {
	case p.Done == p.Of:
		return s + "."
	case p.DaysLeft == 0:
		return s + "; no shooting day is left."
	}
	s += fmt.Sprintf("; %s left", Counted(p.DaysLeft, "day", "days"))
	if p.NeededPerDay != nil {
		s += fmt.Sprintf(", %.3g a day needed", *p.NeededPerDay)
	}
	if p.Why != "" {
		s += "; " + p.Why
	}
	return s + "."
}

// Counted is "1 frame" or "7 frames".
func Counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// DayName writes "2026-03-04" as people say it; what is no day stays as it is.
func DayName(day string) string {
	if day == "" {
		return "no day planned"
	}
	d, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return day
	}
	return d.Format("Monday 2 January 2006")
}

// MomentName writes a wall clock "2026-03-04T17:41:09.12" as people say it.
func MomentName(moment string) string {
	m, err := time.Parse("2006-01-02T15:04:05.999999999", moment)
	if err != nil {
		return moment
	}
	return m.Format("15:04 on 2 January 2006")
}

// JoinAnd is "a, b and c".
func JoinAnd(words []string) string {
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

// UpperFirst is s with a capital at its beginning.
func UpperFirst(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if r == utf8.RuneError {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// StrikeSays tells why a set may be struck or must be held, and what would turn
// that.
func StrikeSays(rec audit.Recipe) string {
	return rec.StrikeWhy + ". " + UpperFirst(strings.TrimPrefix(rec.Turn, ", ")) + "."
}

// VariantSays tells of one variant of a dish which frames show it, and what for.
func VariantSays(v audit.Variant) string {
	name := v.Name
	if name == "" {
		name = "not named"
	}
	s := fmt.Sprintf("%s: %s", name, Counted(v.Frames, "frame", "frames"))
	if v.First != "" {
		s += ", " + path.Base(v.First)
		if v.Last != v.First {
			s += " to " + path.Base(v.Last)
		}
	}
	if len(v.Chosen) > 0 {
		s += "; chosen for " + JoinAnd(v.Chosen)
	}
	if len(v.May) > 0 {
		s += "; may serve for " + JoinAnd(v.May)
	}
	return s
}
