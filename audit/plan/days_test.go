package plan

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestParseDays(t *testing.T) {
	for _, c := range []struct{ in, days, off string }{
		{"2026-03-02..2026-03-11", "2026-03-02..2026-03-11", ""},
		{"2026-03-02", "2026-03-02..2026-03-02", ""},
		{"2026-03-02..2026-03-06,2026-03-09..2026-03-11", "2026-03-02..2026-03-06, 2026-03-09..2026-03-11", "2026-03-07 2026-03-08"},
		{" 2026-03-09 .. 2026-03-11 , 2026-03-02..2026-03-06", "2026-03-02..2026-03-06, 2026-03-09..2026-03-11", "2026-03-07 2026-03-08"},
		{"2026-03-02..2026-03-06, 2026-03-04..2026-03-08", "2026-03-02..2026-03-08", ""},
		{"2026-03-02..2026-03-09, 2026-03-04", "2026-03-02..2026-03-09", ""},
		{"2026-02-27, 2026-03-02", "2026-02-27..2026-02-27, 2026-03-02..2026-03-02", "2026-02-28 2026-03-01"},
	} {
		first, last, off, err := ParseDays(c.in)
		if err != nil {
			t.Errorf("%q: %v", c.in, err)
			continue
		}
		b := Book{FirstDay: first, LastDay: last, Off: off}
		var days []string
		for _, d := range off {
			days = append(days, d.String())
		}
		if got := b.Days(); got != c.days || strings.Join(days, " ") != c.off {
			t.Errorf("%q: %q without %q, want %q without %q", c.in, got, days, c.days, c.off)
		}
	}
	for in, want := range map[string]string{
		"":                               "missing",
		"2026-03-02..":                   "missing",
		"2026-03-02..2026-03-06,":        "missing",
		"2026-03-11..2026-03-02":         "the last day 2026-03-02 is before the first, 2026-03-11",
		"2026-03-32":                     "first day",
		"0001-01-01..9999-12-31":         "more than 1000 days",
		"2026-03-02, 2062-03-02":         "more than 1000 days",
		"2026-03-02..2026-03-06 and 9th": "last day",
	} {
		if _, _, _, err := ParseDays(in); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", in, err, want)
		}
	}
}

// TestShootingDaysAgainstTheCalendar counts by Go's own calendar, a day at a time.
func TestShootingDaysAgainstTheCalendar(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		first := DayOf(time.Date(2026, 2, 20, 12, 0, 0, 0, time.UTC))
		b := Book{FirstDay: first, LastDay: first.AddDays(rapid.IntRange(0, 20).Draw(t, "days"))}
		for day := first.AddDays(1); day.Before(b.LastDay); day = day.AddDays(1) {
			if rapid.Bool().Draw(t, "off") {
				b.Off = append(b.Off, day)
			}
		}
		from := first.AddDays(rapid.IntRange(-5, 25).Draw(t, "from"))
		to := from.AddDays(rapid.IntRange(-3, 25).Draw(t, "to"))
		want := 0
		for at := from.noon(); !at.After(to.noon()); at = at.AddDate(0, 0, 1) {
			if d := DayOf(at); !at.Before(first.noon()) && !at.After(b.LastDay.noon()) && !slices.Contains(b.Off, d) {
				want++
				if !b.Shoots(d) {
					t.Errorf("%v is no shooting day of %s", d, b.Days())
				}
			} else if b.Shoots(d) {
				t.Errorf("%v is a shooting day of %s", d, b.Days())
			}
		}
		if got := b.ShootingDays(from, to); got != want {
			t.Errorf("%d from %v to %v of %s, want %d", got, from, to, b.Days(), want)
		}
		again, last, off, err := ParseDays(b.Days())
		if err != nil || again != b.FirstDay || last != b.LastDay || !slices.Equal(off, b.Off) {
			t.Errorf("%s is read as %v, %v, %v: %v", b.Days(), again, last, off, err)
		}
	})
}
