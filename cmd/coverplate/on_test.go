package main

import (
	"testing"
	"time"

	"coverplate/audit/plan"
)

// A time of day in the log is one of the shooting day, which ends in the night.
func TestTimesOfTheLog(t *testing.T) {
	oslo, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		t.Fatal(err)
	}
	s := settings{Where: oslo, Book: plan.Book{DayEnds: plan.DayEnds}}
	now := func(clock string) time.Time {
		at, err := time.ParseInLocation("2006-01-02 15:04", "2026-03-0"+clock, oslo)
		if err != nil {
			t.Fatal(err)
		}
		return at
	}
	for _, c := range []struct{ word, now, want string }{
		{"", "4 11:00", "2026-03-04 11:00"},
		{"10:42", "4 11:00", "2026-03-04 10:42"},
		{"23:50", "5 00:30", "2026-03-04 23:50"},
		{"00:10", "5 00:30", "2026-03-05 00:10"},
		{"2026-03-02 09:01", "4 11:00", "2026-03-02 09:01"},
		{"12:00", "4 11:00", ""}, // to come
		{"01:00", "4 11:00", ""},
		{"25:00", "4 11:00", ""},
	} {
		at, err := s.logTime(c.word, now(c.now))
		if (err != nil) != (c.want == "") || err == nil && at.Format("2006-01-02 15:04") != c.want {
			t.Errorf("%q at %s: %v, %v, want %q", c.word, c.now, at, err, c.want)
		}
	}
}
