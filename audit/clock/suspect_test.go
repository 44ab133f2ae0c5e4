package clock

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"
)

// day is a day of two bodies that shoot every dish together, minutes apart: one
// as it is, the other by a clock that is off by what off says of its time.
func day(seed uint64, off func(at time.Time) time.Duration) []Reading {
	rnd := rand.New(rand.NewPCG(seed, 6))
	var all []Reading
	at := wall("2026-03-04 09:00:00")
	for dish := range 8 {
		for range 4 + rnd.IntN(12) {
			t := at.Add(time.Duration(rnd.IntN(12*60)) * time.Second)
			r := Reading{Body: "a", Taken: t, Dish: fmt.Sprint(dish), File: fmt.Sprintf("SKAR%04d.JPG", len(all))}
			if rnd.IntN(2) == 0 {
				r.Body, r.Taken = "b", t.Add(-off(t))
			}
			all = append(all, r)
		}
		at = at.Add(time.Duration(40+rnd.IntN(25)) * time.Minute)
	}
	return all
}

func TestSuspect(t *testing.T) {
	first, last := wall("2026-03-02 00:00:00"), wall("2026-03-11 00:00:00")
	noon := wall("2026-03-04 12:30:00")
	always := func(d time.Duration) func(time.Time) time.Duration {
		return func(time.Time) time.Duration { return d }
	}
	for _, c := range []struct {
		name  string
		off   func(time.Time) time.Duration
		fault Fault
		want  time.Duration
		about time.Duration
	}{
		{"right", always(0), "", 0, 0},
		{"a minute and a half off is of no matter", always(90 * time.Second), "", 0, 0},
		{"47 minutes slow", always(47 * time.Minute), Astray, 47 * time.Minute, 10 * time.Minute},
		{"an hour slow", always(time.Hour), Hours, time.Hour, 0},
		{"seven hours fast", always(-7 * time.Hour), Hours, -7 * time.Hour, 0},
		{"twenty hours slow is no day", always(20 * time.Hour), Hours, 20 * time.Hour, 0},
		{"a day slow", always(24 * time.Hour), Days, 24 * time.Hour, 0},
		{"twelve days fast", always(-12 * 24 * time.Hour), Days, -12 * 24 * time.Hour, 0},
		{"an hour from noon on", func(at time.Time) time.Duration {
			if at.Before(noon) {
				return 0
			}
			return time.Hour
		}, Changed, time.Hour, 0},
	} {
		right := 0
		const days = 40
		for seed := range uint64(days) {
			readings := day(seed, c.off)
			told, bodies := Of(readings, nil, nil)
			all := Suspect(readings, told, bodies, first, last.Add(28*time.Hour))
			switch {
			case c.fault == "" && len(all) == 0:
				right++
			case c.fault != "" && len(all) == 1 && all[0].Fault == c.fault && within(all[0].Off.Abs()-c.want.Abs(), c.about+1):
				right++
			}
		}
		if right < days*9/10 {
			t.Errorf("%s: found on %d of %d days", c.name, right, days)
		}
	}
}

func TestSuspectNames(t *testing.T) {
	first, last := wall("2026-03-02 00:00:00"), wall("2026-03-11 00:00:00")
	readings := []Reading{
		{Body: "a", Taken: wall("2026-03-04 10:00:00"), File: "SKAR0411.JPG"}, {Body: "a", Taken: wall("2026-03-04 10:02:00"), File: "SKAR0412.JPG"},
		{Body: "a", Taken: wall("2015-01-01 00:03:00"), File: "SKAR0413.JPG"}, {Body: "a", Taken: wall("2015-01-01 00:04:00"), File: "SKAR0414.JPG"},
		{Body: "b", Taken: wall("2026-03-04 10:00:00"), Offset: "+01:00"}, {Body: "b", Taken: wall("2026-03-04 12:00:00"), Offset: "+02:00"},
	}
	told, bodies := Of(readings, nil, oslo(t))
	all := Suspect(readings, told, bodies, first, last.Add(28*time.Hour))
	if len(all) != 2 {
		t.Fatalf("%+v", all)
	}
	s := all[0]
	if s.Fault != Reset || !s.Rough || !told[2].Time.Add(s.Off).Equal(wall("2026-03-04 10:03:00")) || len(s.Frames) != 2 ||
		!s.From.Equal(wall("2015-01-01 00:03:00")) || !s.Until.After(wall("2015-01-01 00:04:00")) {
		t.Errorf("an empty battery: %+v", s)
	}
	if m := all[1]; m.Fault != Moved || m.Off != 0 || !m.From.Equal(wall("2026-03-04 12:00:00")) || !told[5].Time.Equal(wall("2026-03-04 11:00:00")) {
		t.Errorf("another zone from noon: %+v, %v", m, told[5])
	}
	// What a person has set is suspected no more.
	told, bodies = Of(readings[:4], []Setting{{Body: "a", Shift: time.Hour}}, nil)
	if all := Suspect(readings[:4], told, bodies, first, last.Add(28*time.Hour)); len(all) != 0 {
		t.Errorf("after a person set it: %+v", all)
	}
}

// TestSuspectGoesBySlates is of a second body that joins every dish late: its
// pictures lie a quarter of an hour after the other's, its slates a minute.
func TestSuspectGoesBySlates(t *testing.T) {
	const slow, late = 47 * time.Minute, 15 * time.Minute
	for _, slates := range []bool{true, false} {
		var all []Reading
		for dish := range 4 {
			at := wall("2026-03-04 09:00:00").Add(time.Duration(dish) * time.Hour)
			for n := range 3 {
				first, second := at.Add(time.Duration(n)*time.Minute), at.Add(late+time.Duration(n)*time.Minute-slow)
				if n == 0 {
					second = first.Add(time.Minute - slow)
				}
				for _, r := range []Reading{{Body: "a", Taken: first}, {Body: "b", Taken: second}} {
					r.Dish, r.File, r.Slate = fmt.Sprint(dish), fmt.Sprintf("SKAR%04d.JPG", len(all)), slates && n == 0
					all = append(all, r)
				}
			}
		}
		told, bodies := Of(all, nil, nil)
		found := Suspect(all, told, bodies, wall("2026-03-02 00:00:00"), wall("2026-03-11 00:00:00"))
		want := slow - time.Minute // the slate of b is a minute after a's
		if !slates {
			want = slow - late
		}
		if len(found) != 1 || found[0].Fault != Astray || found[0].Off.Abs() != want {
			t.Errorf("with slates %t: %+v, want one clock off by %s", slates, found, want)
		}
	}
}
