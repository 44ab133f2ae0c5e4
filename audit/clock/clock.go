// Package clock finds out when frames were taken by the studio's clock. Bodies
// disagree: by seconds, by an hour, by a day, or by years after a battery was
// empty. A body that photographed a code with the time is told exactly; a
// person may say it; a zone that the camera wrote beside its time is respected;
// all else is taken as it stands.
//
// Times are wall clocks, their digits held in UTC, as catalogue.Frame.Taken has
// them.
package clock

import (
	"cmp"
	"slices"
	"strings"
	"time"
)

// Reading is what one frame says of its time.
type Reading struct {
	Body   string
	Taken  time.Time // by the body's own clock; zero not written
	Offset string    // of it from UTC, "+01:00"; "" not written
	Shown  time.Time // the time that a code in the picture shows, with its zone; zero no code

	// What suspicion goes by.
	File string // the file's name, whose number the camera counts up; "" not known
	Dish string // what words on the frame, a slate or a person say that it shows; "" not known
	// Slate: it shows the dish's slate, which the bodies photograph one after
	// the other.
	Slate bool
}

// Setting is a person's word: from From on, by the body's own clock, Shift makes
// it the studio's; a zero From is always. AsTold takes back what holds until
// then: codes and offsets tell again.
type Setting struct {
	Body   string
	From   time.Time
	Shift  time.Duration
	AsTold bool
}

// Source is what tells the studio's time of a frame.
type Source string

// The sources, the strongest first.
const (
	Hand Source = "hand" // a person set it
	Code Source = "code" // a code with the time was photographed
	Zone Source = "zone" // the camera wrote its zone beside its time
	Own  Source = "own"  // nothing tells: the body's clock is taken as it stands
	None Source = "none" // the frame has no time
)

// Told is when a frame was taken.
type Told struct {
	Time time.Time // by the studio's clock; zero: not written
	By   Source
	run  int // of codes, of its body
}

// Stretch is frames of a body, in the order of its clock, whose times were moved
// alike.
type Stretch struct {
	By          Source
	Frames      []int // places in the readings
	Shift       time.Duration
	First, Last time.Time // by the body's own clock

	Codes  []int         // By Code: the frames that show one
	Off    time.Duration // By Code: the most that one of them is off Shift
	Spread time.Duration // By Code: the widest that two of them lie apart; 0 of one
}

// Body is one camera's clock.
type Body struct {
	Name      string
	Stretches []Stretch // by its own clock
	Timeless  int       // frames without a time
}

// Of tells the time of each reading, and how each body's clock stands, in the
// order of their names. zone is the studio's; nil: offsets are not heard.
func Of(readings []Reading, settings []Setting, zone *time.Location) ([]Told, []Body) {
	told := make([]Told, len(readings))
	by := map[string][]int{}
	for i, r := range readings {
		by[r.Body] = append(by[r.Body], i)
	}
	var bodies []Body
	for name, frames := range by {
		b := Body{Name: name}
		timed := slices.DeleteFunc(slices.Clone(frames), func(i int) bool { return readings[i].Taken.IsZero() })
		b.Timeless = len(frames) - len(timed)
		for _, i := range frames {
			told[i].By = None
		}
		tellBody(readings, timed, settingsOf(settings, name), zone, told)
		b.Stretches = stretches(readings, timed, zone, told)
		bodies = append(bodies, b)
	}
	slices.SortFunc(bodies, func(a, b Body) int { return cmp.Compare(a.Name, b.Name) })
	return told, bodies
}

// settingsOf are those of one body, by the time from which they hold.
func settingsOf(all []Setting, body string) []Setting {
	var out []Setting
	for _, s := range all {
		if s.Body == body {
			out = append(out, s)
		}
	}
	slices.SortStableFunc(out, func(a, b Setting) int { return a.From.Compare(b.From) })
	return out
}

// zoned is a frame's wall clock in the studio's zone; false where the camera
// wrote no zone that can be read.
func (r Reading) zoned(zone *time.Location) (time.Time, bool) {
	east, ok := Offset(r.Offset)
	if !ok || zone == nil {
		return r.Taken, false
	}
	return Digits(r.Taken.Add(-east), zone), true
}

// Offset reads an offset from UTC as Exif writes it (OffsetTimeOriginal, CIPA
// DC-008-2019): "+01:00", "-03:30"; blanks mean unknown.
func Offset(s string) (east time.Duration, ok bool) {
	t, err := time.Parse("-07:00", s)
	if err != nil {
		return 0, false
	}
	_, seconds := t.Zone()
	return time.Duration(seconds) * time.Second, true
}

// Digits is the wall clock in zone at an instant, its digits held in UTC.
func Digits(at time.Time, zone *time.Location) time.Time {
	_, seconds := at.In(zone).Zone()
	return at.UTC().Add(time.Duration(seconds) * time.Second)
}

// Codes of one body are of one run where they agree within codeStep, and
// codeDrift for each day between them. The code changes once a second, and so
// do many cameras' times; a quartz clock strays by half a second a day, and
// thrice that where it is warm (from memory).
const (
	codeStep  = 3 * time.Second
	codeDrift = 2 * time.Second
)

// tellBody tells the times of one body's frames that have one; it sorts them by
// its clock.
func tellBody(readings []Reading, timed []int, settings []Setting, zone *time.Location, told []Told) {
	for _, i := range timed {
		t, ok := readings[i].zoned(zone)
		told[i] = Told{Time: t, By: Own}
		if ok {
			told[i].By = Zone
		}
	}
	slices.SortStableFunc(timed, func(a, b int) int {
		return cmp.Or(told[a].Time.Compare(told[b].Time), cmp.Compare(a, b))
	})
	runs := codeRuns(readings, timed, zone, told)
	for n, run := range runs {
		for _, i := range run.frames {
			told[i].Time, told[i].By, told[i].run = told[i].Time.Add(run.shift), Code, n
		}
	}
	for _, i := range timed {
		at := readings[i].Taken
		var holds *Setting
		for k := range settings {
			if !settings[k].From.After(at) {
				holds = &settings[k]
			}
		}
		if holds != nil && !holds.AsTold {
			told[i] = Told{Time: at.Add(holds.Shift), By: Hand}
		}
	}
}

// codeRun is frames of a body whose clock a run of agreeing codes tells.
type codeRun struct {
	frames []int
	shift  time.Duration
}

// codeRuns divides a body's frames among the runs of its codes. Between two runs
// somebody changed the clock: in the longest pause, it is taken, since nothing
// tells. No code, no run.
func codeRuns(readings []Reading, timed []int, zone *time.Location, told []Told) []codeRun {
	type shown struct {
		at    int // place in timed
		shift time.Duration
	}
	var codes []shown
	for k, i := range timed {
		r := readings[i]
		if r.Shown.IsZero() {
			continue
		}
		in := zone
		if in == nil {
			in = r.Shown.Location()
		}
		codes = append(codes, shown{k, Digits(r.Shown, in).Sub(told[i].Time)})
	}
	if len(codes) == 0 {
		return nil
	}
	var groups [][]shown
	for _, c := range codes {
		if n := len(groups); n > 0 {
			last := groups[n-1][len(groups[n-1])-1]
			days := told[timed[c.at]].Time.Sub(told[timed[last.at]].Time).Hours() / 24
			if (c.shift - last.shift).Abs() <= codeStep+time.Duration(days*float64(codeDrift)) {
				groups[n-1] = append(groups[n-1], c)
				continue
			}
		}
		groups = append(groups, []shown{c})
	}
	runs := make([]codeRun, len(groups))
	from := 0
	for n, g := range groups {
		to := len(timed)
		if n+1 < len(groups) {
			to = longestPause(timed, told, g[len(g)-1].at, groups[n+1][0].at)
		}
		shifts := make([]time.Duration, len(g))
		for k, c := range g {
			shifts[k] = c.shift
		}
		slices.Sort(shifts)
		runs[n] = codeRun{timed[from:to], (shifts[(len(g)-1)/2] + shifts[len(g)/2]) / 2}
		from = to
	}
	return runs
}

// longestPause is the place in timed, after a and up to b, before which the
// longest pause lies.
func longestPause(timed []int, told []Told, a, b int) int {
	best, long := b, time.Duration(-1)
	for k := a + 1; k <= b; k++ {
		if p := told[timed[k]].Time.Sub(told[timed[k-1]].Time); p > long {
			best, long = k, p
		}
	}
	return best
}

// stretches groups a body's frames, sorted by its clock, by how they were moved.
func stretches(readings []Reading, timed []int, zone *time.Location, told []Told) []Stretch {
	var all []Stretch
	for _, i := range timed {
		r, t := readings[i], told[i]
		shift := t.Time.Sub(r.Taken)
		n := len(all) - 1
		if n < 0 || all[n].By != t.By || all[n].Shift != shift || told[all[n].Frames[0]].run != t.run {
			all = append(all, Stretch{By: t.By, Shift: shift, First: r.Taken})
			n++
		}
		s := &all[n]
		s.Frames, s.Last = append(s.Frames, i), r.Taken
		if t.By == Code && !r.Shown.IsZero() {
			s.Codes = append(s.Codes, i)
		}
	}
	for n := range all {
		s := &all[n]
		var least, most time.Duration
		for k, i := range s.Codes {
			in := zone
			if in == nil {
				in = readings[i].Shown.Location()
			}
			off := Digits(readings[i].Shown, in).Sub(told[i].Time)
			if k == 0 {
				least, most = off, off
			}
			least, most = min(least, off), max(most, off)
			s.Off = max(s.Off, off.Abs())
		}
		s.Spread = most - least
	}
	return all
}

// Side says which way a clock is off that lacks d: "slow", "fast", or "right".
func Side(d time.Duration) string {
	switch {
	case d > 0:
		return "slow"
	case d < 0:
		return "fast"
	}
	return "right"
}

// Span writes a duration without its sign, and without parts that are nought:
// "1h", "47m12s".
func Span(d time.Duration) string {
	s := d.Abs().String()
	if strings.HasSuffix(s, "m0s") {
		s = strings.TrimSuffix(s, "0s")
	}
	if strings.HasSuffix(s, "h0m") {
		s = strings.TrimSuffix(s, "0m")
	}
	return s
}
