package clock

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"time"
)

// Fault is what seems wrong with a clock.
type Fault string

// The faults.
const (
	Reset   Fault = "reset"   // set back by months or years, as by an empty battery
	Days    Fault = "days"    // whole days off
	Hours   Fault = "hours"   // whole hours off: another zone, summer time, morning for evening
	Astray  Fault = "astray"  // off by some other time
	Changed Fault = "changed" // changed by whole hours in the middle of the shoot
	Moved   Fault = "moved"   // the camera itself wrote another zone from then on; its times follow
)

// Suspicion is that a body's clock was wrong. Nothing is moved by it: it is for
// a person to mend, but for Moved, where nothing is to be mended.
type Suspicion struct {
	Body    string
	Fault   Fault
	Off     time.Duration // what would have to be added to the times told; 0 of Moved, and where nothing tells
	Rough   bool          // Off puts the frames in their order, no more
	From    time.Time     // by the body's own clock: the first frame that is meant; zero: all
	Until   time.Time     // the first that is not meant any more; zero: to the end
	Frames  []int         // those meant, places in the readings
	Against string        // what tells, in words
}

// Bounds of suspicion; common sense, no source. Two bodies on one dish are
// minutes apart, not half an hour; a clock that was set wrong is whole hours off
// as a rule; an empty battery takes a clock back by a year at the least.
const (
	leastOff    = 25 * time.Minute
	straysBy    = 15 * time.Minute // from the middle, in the middle
	wholeWithin = 8 * time.Minute  // of an hour
	dayWithin   = 3 * time.Hour    // of whole days
	resetBy     = 300 * 24 * time.Hour
	leastDishes = 3
)

// Suspect names clocks that seem wrong. told and bodies are as Of gives them;
// first is when the shooting days begin and end when they end, zero where not known. Nobody suspects a
// clock that a person or a code has set.
func Suspect(readings []Reading, told []Told, bodies []Body, first, end time.Time) []Suspicion {
	var all []Suspicion
	reset := map[int]bool{}
	for _, b := range bodies {
		if s, ok := resetOf(readings, told, b, first); ok {
			all = append(all, s)
			for _, i := range s.Frames {
				reset[i] = true
			}
		}
		all = append(all, movedOf(readings, b)...)
	}
	var compared []Suspicion
	for _, b := range bodies {
		if s, ok := besideOthers(readings, told, b, reset); ok {
			compared = append(compared, s)
		}
	}
	// Of two that suspect each other the one is wrong whose frames lie outside of
	// the days, or at night; else the one of fewer frames.
	slices.SortStableFunc(compared, func(a, b Suspicion) int {
		return cmpBlame(blame(told, b, first, end), blame(told, a, first, end))
	})
	for n, s := range compared {
		if !slices.ContainsFunc(compared[:n], func(e Suspicion) bool { return within(s.Off+e.Off, leastOff) }) {
			all = append(all, s)
		}
	}
	slices.SortStableFunc(all, func(a, b Suspicion) int {
		switch {
		case a.Body < b.Body:
			return -1
		case a.Body > b.Body:
			return 1
		}
		return 0
	})
	return all
}

func within(d, bound time.Duration) bool { return d.Abs() < bound }

// blame is how likely a suspected body is the wrong one: the share of its frames
// out of days and hours, and how few it has.
func blame(told []Told, s Suspicion, first, end time.Time) [2]float64 {
	out := 0.0
	for _, i := range s.Frames {
		t := told[i].Time
		if !first.IsZero() && t.Before(first) || !end.IsZero() && t.After(end) || t.Hour() < 6 {
			out++
		}
	}
	return [2]float64{out / float64(len(s.Frames)), -float64(len(s.Frames))}
}

func cmpBlame(a, b [2]float64) int {
	for k := range a {
		switch {
		case a[k] < b[k]:
			return -1
		case a[k] > b[k]:
			return 1
		}
	}
	return 0
}

// trusting tells whether nothing but the body's own clock tells.
func (t Told) trusting() bool { return t.By == Own || t.By == Zone }

// resetOf finds the frames of a body that are dated long before the shoot.
func resetOf(readings []Reading, told []Told, b Body, first time.Time) (s Suspicion, ok bool) {
	if first.IsZero() {
		return s, false
	}
	var rest []int
	for _, st := range b.Stretches {
		for _, i := range st.Frames {
			if told[i].trusting() && told[i].Time.Before(first.Add(-resetBy)) {
				s.Frames = append(s.Frames, i)
			} else {
				rest = append(rest, i)
			}
		}
	}
	if len(s.Frames) == 0 {
		return s, false
	}
	s.Body, s.Fault = b.Name, Reset
	s.From = readings[s.Frames[0]].Taken
	s.Until = readings[s.Frames[len(s.Frames)-1]].Taken.Add(time.Second)
	// The frame before it by the camera's own count was taken before it.
	at, counted := count(readings[s.Frames[0]].File)
	before := -1
	most := -1
	for _, i := range rest {
		if n, ok := count(readings[i].File); ok && counted && n < at && at-n < 2000 && n > most {
			before, most = i, n
		}
	}
	s.Against = "long before the shooting days"
	if before >= 0 {
		s.Off, s.Rough = told[before].Time.Add(time.Minute).Sub(told[s.Frames[0]].Time), true
		s.Against = fmt.Sprintf("and %s, the frame before by its number, on %s", readings[before].File, told[before].Time.Format("2006-01-02 15:04"))
	}
	return s, true
}

// counter is the number in a file's name as cameras count it: four digits at its
// end (DCF 2.0, CIPA DC-009-2010).
var counter = regexp.MustCompile(`(\d{4})\.[^.]*$`)

func count(file string) (int, bool) {
	m := counter.FindStringSubmatch(file)
	if m == nil {
		return 0, false
	}
	n, err := strconv.Atoi(m[1])
	return n, err == nil
}

// movedOf finds where the camera wrote another zone and was heard.
func movedOf(readings []Reading, b Body) []Suspicion {
	var out []Suspicion
	for n := 1; n < len(b.Stretches); n++ {
		s, before := b.Stretches[n], b.Stretches[n-1]
		was, is := readings[before.Frames[len(before.Frames)-1]].Offset, readings[s.Frames[0]].Offset
		_, a := Offset(was)
		_, c := Offset(is)
		if s.By == Zone && before.By == Zone && a && c && was != is && s.Shift != before.Shift {
			out = append(out, Suspicion{Body: b.Name, Fault: Moved, From: s.First, Frames: s.Frames, Against: was + " until then, and " + is + " from then on"})
		}
	}
	return out
}

// apart is one dish that a body and others shot: how much later the others did.
type apart struct {
	at    time.Time // of the body's first frame of it, by its own clock
	told  time.Time
	by    time.Duration
	frame int
}

// besideOthers holds a body's times of each dish against those of the others:
// of its slate where both photographed it, for they do so one after the other,
// while the second body may join the dish late.
func besideOthers(readings []Reading, told []Told, b Body, reset map[int]bool) (Suspicion, bool) {
	type dish struct {
		mine, theirs, sure []time.Time
		slate, theirSlate  []time.Time
		first              int
	}
	dishes := map[string]*dish{}
	var order []string
	var frames []int
	for _, st := range b.Stretches {
		for _, i := range st.Frames {
			if !told[i].trusting() || reset[i] {
				continue
			}
			frames = append(frames, i)
			d := readings[i].Dish
			if d == "" {
				continue
			}
			if dishes[d] == nil {
				dishes[d] = &dish{first: i}
				order = append(order, d)
			}
			dishes[d].mine = append(dishes[d].mine, told[i].Time)
			if readings[i].Slate {
				dishes[d].slate = append(dishes[d].slate, told[i].Time)
			}
		}
	}
	for i, r := range readings {
		d := dishes[r.Dish]
		if r.Body == b.Name || d == nil || told[i].By == None || reset[i] {
			continue
		}
		d.theirs = append(d.theirs, told[i].Time)
		if r.Slate {
			d.theirSlate = append(d.theirSlate, told[i].Time)
		}
		if !told[i].trusting() {
			d.sure = append(d.sure, told[i].Time)
		}
	}
	var all []apart
	for _, name := range order {
		d := dishes[name]
		mine, theirs := d.mine, d.theirs
		switch {
		case len(d.sure) > 0:
			theirs = d.sure
		case len(d.slate) > 0 && len(d.theirSlate) > 0:
			mine, theirs = d.slate, d.theirSlate
		}
		if len(theirs) > 0 {
			all = append(all, apart{readings[d.first].Taken, told[d.first].Time, middleTime(theirs).Sub(middleTime(mine)), d.first})
		}
	}
	if len(all) < leastDishes {
		return Suspicion{}, false
	}
	slices.SortStableFunc(all, func(x, y apart) int { return x.told.Compare(y.told) })
	s := Suspicion{Body: b.Name, Frames: frames}
	if k := changeAt(all); k > 0 {
		left, right := middle(all[:k]), middle(all[k:])
		s.Fault, s.Against = Changed, dishesBeside(len(all))
		if left.Abs() > right.Abs() {
			s.Off, s.Until = whole(left), all[k].at
			s.Frames = slices.DeleteFunc(frames, func(i int) bool { return !readings[i].Taken.Before(s.Until) })
		} else {
			s.Off, s.From = whole(right), all[k].at
			s.Frames = slices.DeleteFunc(frames, func(i int) bool { return readings[i].Taken.Before(s.From) })
		}
		return s, true
	}
	off := middle(all)
	if off.Abs() < leastOff || strays(all, off) > straysBy {
		return Suspicion{}, false
	}
	s.Off, s.Against = whole(off), dishesBeside(len(all))
	day := 24 * time.Hour
	switch days := off.Round(day); {
	case days != 0 && within(off-days, dayWithin):
		s.Fault, s.Off = Days, days
	case s.Off%time.Hour == 0:
		s.Fault = Hours
	default:
		s.Fault = Astray
	}
	return s, true
}

func dishesBeside(n int) string { return fmt.Sprintf("by %d dishes that others shot too", n) }

// whole is d in whole hours where it is near, else in whole minutes.
func whole(d time.Duration) time.Duration {
	if h := d.Round(time.Hour); h != 0 && within(d-h, wholeWithin) {
		return h
	}
	return d.Round(time.Minute)
}

// changeAt is the place in all from which on the others are whole hours further
// off; 0 nowhere.
func changeAt(all []apart) int {
	best, least := 0, time.Duration(math.MaxInt64)
	for k := 2; k <= len(all)-2; k++ {
		left, right := middle(all[:k]), middle(all[k:])
		step := (right - left).Round(time.Hour)
		if step == 0 || !within(right-left-step, wholeWithin) {
			continue
		}
		worst := max(strays(all[:k], left), strays(all[k:], right))
		if worst <= straysBy && worst < least && strays(all, middle(all)) > worst {
			best, least = k, worst
		}
	}
	return best
}

// middle is the median.
func middle(all []apart) time.Duration {
	by := make([]time.Duration, len(all))
	for i, a := range all {
		by[i] = a.by
	}
	slices.Sort(by)
	return (by[(len(by)-1)/2] + by[len(by)/2]) / 2
}

// strays is the largest distance from m, the worst of four left out.
func strays(all []apart, m time.Duration) time.Duration {
	by := make([]time.Duration, len(all))
	for i, a := range all {
		by[i] = (a.by - m).Abs()
	}
	slices.Sort(by)
	return by[len(by)-1-len(by)/4]
}

func middleTime(all []time.Time) time.Time {
	slices.SortFunc(all, time.Time.Compare)
	return all[len(all)/2]
}
