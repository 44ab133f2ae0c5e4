package audit

import (
	"fmt"
	"slices"
	"strings"

	"coverplate/audit/pace"
	"coverplate/audit/plan"
)

// Pace is how the shoot stands against its days.
type Pace struct {
	Done         int      `json:"done"`
	Of           int      `json:"of"`
	DaysLeft     int      `json:"days_left"`      // today included
	NeededPerDay *float64 `json:"needed_per_day"` // null where no day is left
	OnPace       bool     `json:"on_pace"`
	Why          string   `json:"why"`
	ByDay        []OfDay  `json:"by_day"` // the days that count, from the first
	PerDay       *float64 `json:"per_day"`
	Ends         *Ends    `json:"ends"` // null where nothing is left, or no day counts yet
}

// OfDay is what one shooting day covered.
type OfDay struct {
	Day     string   `json:"day"`
	Recipes []string `json:"recipes"` // by page
}

// Ends is when the rest is covered, if the shoot goes on as it went: package
// pace says how. After the last of the shoot's days every day of the calendar
// counts as one.
type Ends struct {
	Likely   string  `json:"likely"`   // the day by which it is as likely done as not; "" nothing is covered yet, or not within ten years
	Earliest string  `json:"earliest"` // one of twenty such shoots is done by then
	Latest   string  `json:"latest"`   // nineteen of twenty are; "" no end in sight
	InTime   float64 `json:"in_time"`  // chance, 0 … 1, to be done on the last day
	// What a lost day does: the same chance, and how many a day are then
	// needed; null where no day would be left.
	IfLost       float64  `json:"in_time_if_a_day_is_lost"`
	NeededIfLost *float64 `json:"needed_per_day_if_a_day_is_lost"`
}

// The interval of Ends holds nine of ten.
const (
	earlyEnd = 0.05
	lateEnd  = 0.95
)

// coveredOn is the day of the last frame that settled needs rest on.
func (d *sheet) coveredOn(needs []Finding) string {
	var last plan.Day
	for _, f := range needs {
		at, ok := d.frameAt[f.FrameID]
		if f.Verdict != Settled || !ok || d.frames[at].Taken.IsZero() {
			continue
		}
		if day := d.Book.DayAt(d.frames[at].Taken); last.Before(day) {
			last = day
		}
	}
	return last.String()
}

// pace holds what is done against the days that are left. A recipe is done
// when its set may be struck, on the day of the last frame that this rests on.
// The shoot is on pace while the share that is done is not below the share of
// days that have ended. Today counts among the days worked once it has a frame.
func (d *sheet) pace(recipes []Recipe) Pace {
	p := Pace{Of: len(recipes), ByDay: []OfDay{}}
	var late []string
	for i, r := range recipes {
		if r.Strike == MayStrike {
			p.Done++
		} else if day := d.recipes[i].Day; !day.IsZero() && !d.Today.IsZero() && day.Before(d.Today) {
			late = append(late, r.ID)
		}
	}
	left := p.Of - p.Done
	first, last := d.Book.FirstDay, d.Book.LastDay
	if d.Today.IsZero() || last.IsZero() || last.Before(first) {
		p.OnPace = left == 0
		p.Why = "the shooting days are not known"
		return p
	}
	from := d.Today
	if from.Before(first) {
		from = first
	}
	p.DaysLeft = d.Book.ShootingDays(from, last)
	p.NeededPerDay = perDay(left, p.DaysLeft)
	if first.IsZero() {
		p.OnPace = left == 0
	} else {
		days := d.Book.ShootingDays(first, last)
		p.OnPace = p.Done*days >= p.Of*(days-p.DaysLeft)
		d.ahead(&p, recipes, left)
	}
	p.Why = p.says(left, late)
	return p
}

// perDay is how many a day n are; nil over no days.
func perDay(n, days int) *float64 {
	if days < 1 {
		return nil
	}
	x := float64(n) / float64(days)
	return &x
}

// ahead counts the days worked and says when the rest is done.
func (d *sheet) ahead(p *Pace, recipes []Recipe, left int) {
	first, last := d.Book.FirstDay, d.Book.LastDay
	next := d.Today // the first day that is still to come
	for _, f := range d.frames {
		if !f.Taken.IsZero() && d.Book.DayAt(f.Taken) == d.Today {
			next = d.Today.AddDays(1)
			break
		}
	}
	if end := last.AddDays(1); end.Before(next) {
		next = end // what comes after the shoot is no shooting day
	}
	var past pace.Past
	for day := first; day.Before(next); day = day.AddDays(1) {
		of := OfDay{Day: day.String(), Recipes: []string{}}
		for _, r := range recipes {
			if r.Covered == of.Day {
				of.Recipes = append(of.Recipes, r.ID)
			}
		}
		if !d.Book.Shoots(day) && len(of.Recipes) == 0 {
			continue
		}
		past.Days++
		past.Done += len(of.Recipes)
		p.ByDay = append(p.ByDay, of)
	}
	if past.Days == 0 {
		return
	}
	p.PerDay = perDay(past.Done, past.Days)
	if left == 0 {
		return
	}
	ahead := d.Book.ShootingDays(next, last)
	ends := Ends{InTime: past.Chance(left, ahead), IfLost: past.Chance(left, ahead-1), NeededIfLost: perDay(left, ahead-1)}
	start := next
	if start.Before(d.Today) {
		start = d.Today
	}
	by := func(chance float64) string {
		n, ok := past.Within(left, chance)
		if !ok {
			return ""
		}
		day := start.AddDays(-1)
		for range n {
			day = day.AddDays(1)
			for slices.Contains(d.Book.Off, day) {
				day = day.AddDays(1)
			}
		}
		return day.String()
	}
	ends.Earliest = by(earlyEnd)
	if past.Done > 0 { // else only the prior would speak
		ends.Likely, ends.Latest = by(0.5), by(lateEnd)
	}
	p.Ends = &ends
}

// says puts the pace into words.
func (p Pace) says(left int, late []string) string {
	var says []string
	if p.PerDay != nil && left > 0 {
		says = append(says, fmt.Sprintf("%.2g a day so far over %s", *p.PerDay, counted(len(p.ByDay), "day", "days")))
	}
	if e := p.Ends; e != nil {
		likely, earliest := daySays(e.Likely), daySays(e.Earliest)
		switch {
		case e.Likely == "":
			says = append(says, "at that pace no end can be told")
		case e.Latest == "":
			says = append(says, fmt.Sprintf("at that pace done by %s as likely as not, hardly before %s, and how much later can't be told", likely, earliest))
		default:
			says = append(says, fmt.Sprintf("at that pace done by %s as likely as not; nine of ten such shoots end from %s to %s", likely, earliest, daySays(e.Latest)))
		}
		if p.DaysLeft > 0 && e.Likely != "" {
			says = append(says, fmt.Sprintf("the chance to be in time is %s, and %s if a day is lost", chanceSays(e.InTime), chanceSays(e.IfLost)))
		}
	}
	if p.DaysLeft == 0 && left > 0 {
		says = append(says, "the last day has passed")
	}
	if len(late) > 0 {
		says = append(says, "planned for a day that has ended and not done: "+strings.Join(late, ", "))
	}
	return strings.Join(says, "; ")
}

// daySays says a day that is written as ISO 8601 has it; what is none stays.
func daySays(iso string) string {
	d, err := plan.ParseDay(iso)
	if err != nil {
		return iso
	}
	return d.Says()
}

// chanceSays is a chance in whole percents that never claims certainty.
func chanceSays(chance float64) string {
	switch {
	case chance < 0.01:
		return "less than 1\u00a0%"
	case chance > 0.99:
		return "more than 99\u00a0%"
	}
	return fmt.Sprintf("%.0f\u00a0%%", 100*chance)
}
