package plan

import (
	"errors"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestParseDay(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"nothing is no day", "", ""},
		{"white space is no day", " \u00a0 ", ""},
		{"ISO 8601", "2026-03-04", "2026-03-04"},
		{"ISO 8601 with en dashes", "2026–03–04", "2026-03-04"},
		{"the basic form of ISO 8601", "20260304", "2026-03-04"},
		{"with slashes, year first", "2026/3/4", "2026-03-04"},
		{"with a time behind it", "2026-03-04T00:00:00", "2026-03-04"},
		{"with a time behind a space", "2026-03-04 08:30", "2026-03-04"},
		{"dots put the day first", "4.3.2026", "2026-03-04"},
		{"dots and spaces", "4. 3. 2026", "2026-03-04"},
		{"slashes where only the day can be first", "13/3/2026", "2026-03-13"},
		{"slashes where only the month can be first", "3/13/2026", "2026-03-13"},
		{"slashes where both readings agree", "3/3/2026", "2026-03-03"},
		{"in words", "4 March 2026", "2026-03-04"},
		{"in short words", "04-Mar-2026", "2026-03-04"},
		{"with an ordinal", "4th of March, 2026", "2026-03-04"},
		{"month first", "March 4, 2026", "2026-03-04"},
		{"four letters of September", "1 Sept 2026", "2026-09-01"},
		{"with the day of the week", "Wednesday, 4 March 2026", "2026-03-04"},
		{"with a short day of the week", "Wed 4 Mar 2026", "2026-03-04"},
		{"a leap day", "2028-02-29", "2028-02-29"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := ParseDay(c.in)
			if err != nil || got.String() != c.want {
				t.Errorf("ParseDay(%q) = %q, %v, want %q", c.in, got, err, c.want)
			}
		})
	}
}

func TestParseDayRefuses(t *testing.T) {
	for _, c := range []struct{ name, in, says, want string }{
		{"two readings, and names both", "3/4/2026", "two days", "write 2026-04-03 or 2026-03-04"},
		{"a year of two figures", "4 March 26", "not a day with its year", "2026-03-04"},
		{"figures with a short year", "03-06-26", "not a day with its year", "2026-03-04"},
		{"no year", "4 March", "not a day with its year", "2026-03-04"},
		{"a weekday alone", "Wednesday", "not a day", "2026-03-04"},
		{"30 February", "2026-02-30", "not in the calendar", "2026-03-04"},
		{"a leap day in a common year", "29 Feb 2026", "not in the calendar", "2026-03-04"},
		{"month 13", "2026-13-01", "not in the calendar", "2026-03-04"},
		{"dots with month 13", "1.13.2026", "not in the calendar", "2026-03-04"},
		{"year 0", "0000-01-01", "not in the calendar", "2026-03-04"},
		{"a word", "soon", "not a day", "2026-03-04"},
		{"the ordinal of a shooting day", "day 2", "not a day", "2026-03-04"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := ParseDay(c.in)
			var v *ValueError
			if !errors.As(err, &v) {
				t.Fatalf("ParseDay(%q) = %v, %v, want a ValueError", c.in, got, err)
			}
			if v.Value != c.in || !strings.Contains(v.Says, c.says) || !strings.Contains(v.Want, c.want) || !got.IsZero() {
				t.Errorf("ParseDay(%q) = %v, %+v, want %q and %q", c.in, got, *v, c.says, c.want)
			}
		})
	}
}

// julian is the Julian day number at noon by H. F. Fliegel and T. C. Van
// Flandern, "A machine algorithm for processing calendar dates",
// Communications of the ACM 11 (1968) 657: another way to count days than the
// standard library's.
func julian(d Day) int {
	i, j, k := d.Year, int(d.Month), d.Day
	return k - 32075 + 1461*(i+4800+(j-14)/12)/4 + 367*(j-2-(j-14)/12*12)/12 - 3*((i+4900+(j-14)/12)/100)/4
}

func TestDaysAreCountedAsAstronomersDo(t *testing.T) {
	// J2000.0 is JD 2451545.0 at noon of 2000-01-01; the modified Julian day 0
	// began at JD 2400000.5, the midnight before noon of 1858-11-17.
	j2000, mjd := Day{2000, 1, 1}, Day{1858, 11, 17}
	if got, want := j2000.Sub(mjd), 2451545-2400001; got != want {
		t.Errorf("%v.Sub(%v) = %d, want %d", j2000, mjd, got, want)
	}
	if julian(j2000) != 2451545 || j2000.Weekday() != time.Saturday {
		t.Errorf("julian(%v) = %d on a %v", j2000, julian(j2000), j2000.Weekday())
	}
	day := rapid.Custom(func(t *rapid.T) Day {
		return Day{1600, 1, 1}.AddDays(rapid.IntRange(0, 365_000).Draw(t, "n"))
	})
	rapid.Check(t, func(t *rapid.T) {
		a, b := day.Draw(t, "a"), day.Draw(t, "b")
		n := julian(a) - julian(b)
		if got := a.Sub(b); got != n {
			t.Errorf("%v.Sub(%v) = %d, want %d", a, b, got, n)
		}
		if got := b.AddDays(n); got != a {
			t.Errorf("%v.AddDays(%d) = %v, want %v", b, n, got, a)
		}
		if got, want := a.Before(b), n < 0; got != want {
			t.Errorf("%v.Before(%v) = %v, want %v", a, b, got, want)
		}
		if got, err := ParseDay(a.String()); err != nil || got != a {
			t.Errorf("ParseDay(%q) = %v, %v", a.String(), got, err)
		}
	})
}

func TestDayAsText(t *testing.T) {
	var d Day
	if err := d.UnmarshalText([]byte("4 March 2026")); err != nil || d != (Day{2026, 3, 4}) {
		t.Errorf("UnmarshalText = %v, %v", d, err)
	}
	if b, err := d.MarshalText(); err != nil || string(b) != "2026-03-04" {
		t.Errorf("MarshalText = %q, %v", b, err)
	}
	if err := d.UnmarshalText([]byte("soon")); err == nil || d != (Day{2026, 3, 4}) {
		t.Errorf("a bad day gave %v, %v, want an error and the day as it was", d, err)
	}
	if got := DayOf(time.Date(2026, 3, 4, 23, 59, 0, 0, time.FixedZone("", 3600))); got != (Day{2026, 3, 4}) {
		t.Errorf("DayOf is %v, want the day in the time's own zone", got)
	}
}
