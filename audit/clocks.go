package audit

import (
	"fmt"
	"path"
	"slices"
	"strings"
	"time"

	"coverplate/audit/clock"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// setClocks gives all frames the studio's time.
func (d *sheet) setClocks(holds []catalogue.Decision) {
	d.readings = make([]clock.Reading, len(d.frames))
	for i, f := range d.frames {
		d.readings[i] = clock.Reading{Body: f.Body(), Taken: f.Taken, Offset: f.Offset, File: path.Base(f.Path())}
		if f.Look.Slate != nil {
			d.readings[i].Shown = f.Look.Slate.Shown
			d.readings[i].Slate = f.Look.Slate.Recipe != ""
		}
	}
	var settings []clock.Setting
	for _, w := range holds {
		if w.Kind == catalogue.Clock {
			settings = append(settings, clock.Setting{Body: w.Body, From: w.From, Shift: w.Shift, AsTold: w.Need == catalogue.AsTold})
		}
	}
	told, clocks := clock.Of(d.readings, settings, d.Zone)
	d.told, d.clocks = told, clocks
	for i, t := range told {
		d.frames[i].Taken = t.Time
	}
}

// byWord are the kinds of evidence that tell a dish without telling it by time.
var byWord = []string{"person", "slate", "metadata", "folder", "name"}

// suspectClocks names the clocks that seem wrong, and returns the frames whose
// dates it explained.
func (d *sheet) suspectClocks() map[catalogue.FrameID]bool {
	at := make(map[catalogue.FrameID]int, len(d.Frames))
	for i, f := range d.Frames {
		at[f.ID] = i
	}
	for _, p := range d.placed {
		if p.Recipe != "" && slices.ContainsFunc(p.Why, func(e Evidence) bool { return e.Weight > 0 && slices.Contains(byWord, e.Kind) }) {
			d.readings[at[p.Frame]].Dish = p.Recipe
		}
	}
	explained := map[catalogue.FrameID]bool{}
	for _, s := range clock.Suspect(d.readings, d.told, d.clocks, midnight(d.Book.FirstDay), endOf(d.Book)) {
		d.note("clock", "", d.Frames[s.Frames[0]].Path(), suspicionSays(s, d.readings))
		for _, i := range s.Frames {
			explained[d.Frames[i].ID] = s.Fault == clock.Reset || s.Fault == clock.Days
		}
	}
	return explained
}

// endOf is when the last shooting day ends, its digits in UTC; zero not known.
func endOf(b plan.Book) time.Time {
	last := midnight(b.LastDay)
	if last.IsZero() {
		return last
	}
	return last.AddDate(0, 0, 1).Add(b.DayEnds)
}

// midnight is when a day begins, its digits in UTC.
func midnight(day plan.Day) time.Time {
	if day.IsZero() {
		return time.Time{}
	}
	return time.Date(day.Year, day.Month, day.Day, 0, 0, 0, 0, time.UTC)
}

// suspicionSays puts a suspicion into words, with the command that mends it.
func suspicionSays(s clock.Suspicion, readings []clock.Reading) string {
	const minute = "2006-01-02 15:04"
	frames := counted(len(s.Frames), "frame", "frames")
	if s.Fault == clock.Moved {
		return fmt.Sprintf("%s: its zone was changed on %s by its own clock: it wrote %s; its times follow, and nothing is to be done", s.Body, s.From.Format(minute), s.Against)
	}
	var says string
	switch off := saysOff(s.Off); s.Fault {
	case clock.Reset:
		first, last := readings[s.Frames[0]].Taken, readings[s.Frames[len(s.Frames)-1]].Taken
		says = fmt.Sprintf("%s: %s dated %s to %s, %s: its clock was set back, as by an empty battery", s.Body, frames, first.Format(minute), last.Format(minute), s.Against)
	case clock.Changed:
		when := "until " + s.Until.Format(minute)
		if !s.From.IsZero() {
			when = "from " + s.From.Format(minute) + " on"
		}
		says = fmt.Sprintf("%s: its clock is %s %s, and was not before or after, %s: it was set to another zone, or to summer time, in mid-shoot", s.Body, off, when, s.Against)
	case clock.Days:
		says = fmt.Sprintf("%s: its clock is %s, %s: its date was set wrong", s.Body, off, s.Against)
	case clock.Hours:
		says = fmt.Sprintf("%s: its clock is %s, %s: another zone, summer time, or morning for evening; or the others' are wrong", s.Body, off, s.Against)
	default:
		says = fmt.Sprintf("%s: its clock is about %s, %s; or the others' are wrong", s.Body, off, s.Against)
	}
	if s.Off == 0 {
		return says + "; photograph a running code (coverplate slate-clock) with it as it stands"
	}
	command := "coverplate clock set " + quotedBody(s.Body) + " " + clock.Side(s.Off) + " " + clock.Span(s.Off)
	if !s.From.IsZero() {
		command += " --from " + s.From.Format("2006-01-02T15:04:05")
	}
	if !s.Until.IsZero() {
		command += " --until " + s.Until.Format("2006-01-02T15:04:05")
	}
	if s.Rough {
		return says + ". To put them in order, roughly: " + command
	}
	return says + ". If so: " + command
}

func quotedBody(body string) string { return "'" + strings.ReplaceAll(body, "'", `'\''`) + "'" }

// saysOff says how a clock is off that lacks off: "1 h slow", "3 days fast".
func saysOff(off time.Duration) string {
	much, day := clock.Span(off), 24*time.Hour
	switch abs := off.Abs(); {
	case abs%day == 0:
		much = counted(int(abs/day), "day", "days")
	case abs%time.Hour == 0:
		much = fmt.Sprintf("%d h", abs/time.Hour)
	case abs < 2*time.Hour:
		much = fmt.Sprintf("%.0f min", abs.Minutes())
	}
	return much + " " + clock.Side(off)
}
