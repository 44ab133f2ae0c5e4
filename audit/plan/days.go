package plan

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// mostDays is the longest time that a shoot may take, first day to last. A
// choice: what is longer is a slip of the pen.
const mostDays = 1000

// ParseDays reads the days of a shoot: "2026-03-02..2026-03-11", one day alone, or
// several of these by commas, in any order. off are the days between the first and
// the last on which nobody shoots, in order.
func ParseDays(s string) (first, last Day, off []Day, err error) {
	var runs [][2]Day
	for part := range strings.SplitSeq(s, ",") {
		a, b, two := strings.Cut(part, "..")
		if !two {
			b = a
		}
		var run [2]Day
		if run[0], err = ParseDay(strings.TrimSpace(a)); err != nil {
			return Day{}, Day{}, nil, fmt.Errorf("first day: %w", err)
		}
		if run[1], err = ParseDay(strings.TrimSpace(b)); err != nil {
			return Day{}, Day{}, nil, fmt.Errorf("last day: %w", err)
		}
		if run[0].IsZero() || run[1].IsZero() {
			return Day{}, Day{}, nil, errors.New("a day is missing")
		}
		if run[1].Before(run[0]) {
			return Day{}, Day{}, nil, fmt.Errorf("the last day %s is before the first, %s", run[1], run[0])
		}
		runs = append(runs, run)
	}
	slices.SortFunc(runs, func(a, b [2]Day) int { return a[0].Sub(b[0]) })
	first, last = runs[0][0], runs[0][1]
	for _, run := range runs[1:] {
		if run[1].Sub(first) >= mostDays {
			break
		}
		for day := last.AddDays(1); day.Before(run[0]); day = day.AddDays(1) {
			off = append(off, day)
		}
		if last.Before(run[1]) {
			last = run[1]
		}
	}
	if end := slices.MaxFunc(runs, func(a, b [2]Day) int { return a[1].Sub(b[1]) })[1]; end.Sub(first) >= mostDays {
		return Day{}, Day{}, nil, fmt.Errorf("from %s to %s are more than %d days", first, end, mostDays)
	}
	return first, last, off, nil
}

// Days writes the days of the shoot as ParseDays reads them; "" where they are
// not known.
func (b Book) Days() string {
	if b.FirstDay.IsZero() || b.LastDay.Before(b.FirstDay) {
		return ""
	}
	var runs []string
	from := b.FirstDay
	end := func(day Day) {
		runs = append(runs, from.String()+".."+day.String())
	}
	for _, off := range b.Off {
		if from.Before(off) {
			end(off.AddDays(-1))
		}
		from = off.AddDays(1)
	}
	end(b.LastDay)
	return strings.Join(runs, ", ")
}

// Shoots reports whether a day is one of the shoot's; an end that is not known
// holds no day off.
func (b Book) Shoots(day Day) bool {
	return !day.Before(b.FirstDay) && (b.LastDay.IsZero() || !b.LastDay.Before(day)) && !slices.Contains(b.Off, day)
}

// ShootingDays counts the shoot's days from one day to another, both included.
func (b Book) ShootingDays(from, to Day) int {
	if from.Before(b.FirstDay) {
		from = b.FirstDay
	}
	if !b.LastDay.IsZero() && b.LastDay.Before(to) {
		to = b.LastDay
	}
	if to.Before(from) {
		return 0
	}
	n := to.Sub(from) + 1
	for _, off := range b.Off {
		if !off.Before(from) && !to.Before(off) {
			n--
		}
	}
	return n
}
