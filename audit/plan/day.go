package plan

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// DayOf gives the calendar day of t in t's own zone.
func DayOf(t time.Time) Day {
	y, m, d := t.Date()
	return Day{y, m, d}
}

// IsZero tells whether no day was written.
func (d Day) IsZero() bool { return d == Day{} }

// Valid tells whether the calendar has the day: there is no 30 February, and
// years run from 1 to 9999.
func (d Day) Valid() bool {
	return d.Year >= 1 && d.Year <= 9999 && d == DayOf(d.noon())
}

// noon keeps clear of both ends of the day; no zone is at work in UTC.
func (d Day) noon() time.Time {
	return time.Date(d.Year, d.Month, d.Day, 12, 0, 0, 0, time.UTC)
}

// String gives the day as ISO 8601 has it, "2026-03-04", and "" for none.
func (d Day) String() string {
	if d.IsZero() {
		return ""
	}
	return fmt.Sprintf("%04d-%02d-%02d", d.Year, int(d.Month), d.Day)
}

// Says gives the day as people say it, "Tue 3 March", and "" for none: for
// sentences about a shoot, whose year nobody asks for.
func (d Day) Says() string {
	if d.IsZero() {
		return ""
	}
	return d.noon().Format("Mon 2 January")
}

// Before tells whether d comes before e.
func (d Day) Before(e Day) bool {
	if d.Year != e.Year {
		return d.Year < e.Year
	}
	if d.Month != e.Month {
		return d.Month < e.Month
	}
	return d.Day < e.Day
}

// AddDays gives the day n days later, earlier where n is negative.
func (d Day) AddDays(n int) Day { return DayOf(d.noon().AddDate(0, 0, n)) }

// Sub gives the number of days from e to d: 1 where d is the day after e.
func (d Day) Sub(e Day) int {
	// Unix seconds and not Duration, which overflows after 292 years.
	return int((d.noon().Unix() - e.noon().Unix()) / (24 * 60 * 60))
}

// Weekday gives the day of the week.
func (d Day) Weekday() time.Weekday { return d.noon().Weekday() }

// MarshalText gives what String gives.
func (d Day) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads what ParseDay reads.
func (d *Day) UnmarshalText(b []byte) error {
	got, err := ParseDay(string(b))
	if err == nil {
		*d = got
	}
	return err
}

var (
	yearFirst   = regexp.MustCompile(`^(\d{4})[-/. ]?(\d{1,2})[-/. ]?(\d{1,2})(?:[t ]\d{1,2}:\d{2}.*)?$`)
	yearLast    = regexp.MustCompile(`^(\d{1,2}) ?([-/.]) ?(\d{1,2}) ?[-/.] ?(\d{4})$`)
	dayMonth    = regexp.MustCompile(`^(\d{1,2})(?:st|nd|rd|th)?[-/. ]*(?:of )?([a-z]+)[-/., ]*(\d{4})$`)
	monthDay    = regexp.MustCompile(`^([a-z]+)[-/. ]*(\d{1,2})(?:st|nd|rd|th)?[-/., ]+(\d{4})$`)
	weekdayLead = regexp.MustCompile(`^(?:mon|tues?|wed(?:nes)?|thu(?:rs?)?|fri|sat(?:ur)?|sun)(?:day)?[., ]+`)
)

// ParseDay reads a calendar day and returns the zero Day for an empty string.
//
// It takes ISO 8601 ("2026-03-04", also with / or . or a time after it),
// "4 March 2026", "March 4th, 2026" with or without the day of the week, and
// day and month in figures where only one reading is possible: "13/3/2026"
// and, since a date with dots is always day first, "4.3.2026". A date with two
// readings is refused and both are named; so is a year of two figures or none.
// The error is a *ValueError.
func ParseDay(s string) (Day, error) {
	t := strings.ToLower(plainDashes(Tidy(s)))
	t = weekdayLead.ReplaceAllString(t, "")
	if t == "" {
		if Tidy(s) == "" {
			return Day{}, nil
		}
		return Day{}, &ValueError{s, "is a day of the week", dayWant}
	}
	if m := yearFirst.FindStringSubmatch(t); m != nil {
		return validDay(s, m[1], m[2], m[3])
	}
	if m := yearLast.FindStringSubmatch(t); m != nil {
		first, errFirst := validDay(s, m[4], m[3], m[1])
		second, errSecond := validDay(s, m[4], m[1], m[3])
		switch {
		case m[2] == "." || errSecond != nil:
			return first, errFirst
		case errFirst != nil:
			return second, nil
		case first == second:
			return first, nil
		}
		return Day{}, &ValueError{s, "can be two days", fmt.Sprintf("write %v or %v", first, second)}
	}
	if m := dayMonth.FindStringSubmatch(t); m != nil {
		if month := monthNamed(m[2]); month != 0 {
			return validDay(s, m[3], strconv.Itoa(month), m[1])
		}
	}
	if m := monthDay.FindStringSubmatch(t); m != nil {
		if month := monthNamed(m[1]); month != 0 {
			return validDay(s, m[3], strconv.Itoa(month), m[2])
		}
	}
	return Day{}, &ValueError{s, "is not a day with its year", dayWant}
}

const dayWant = "write year-month-day, as in 2026-03-04"

func validDay(written, year, month, day string) (Day, error) {
	// The expressions let at most four figures through: Atoi can't fail.
	y, _ := strconv.Atoi(year)
	m, _ := strconv.Atoi(month)
	d, _ := strconv.Atoi(day)
	got := Day{y, time.Month(m), d}
	if !got.Valid() {
		return Day{}, &ValueError{written, "is not in the calendar", dayWant}
	}
	return got, nil
}

// monthNamed takes the full English name or its first three letters or more
// ("sept"); 0 is none.
func monthNamed(s string) int {
	for m := time.January; m <= time.December; m++ {
		if len(s) >= 3 && strings.HasPrefix(strings.ToLower(m.String()), s) {
			return int(m)
		}
	}
	return 0
}

var (
	turnedDayMonth = regexp.MustCompile(`^(\d{1,2})[- ]([a-z]{3})$`)
	turnedMonthDay = regexp.MustCompile(`^([a-z]{3})[- ](\d{1,2})$`)
)

// turnedDate undoes what a spreadsheet does to "10-11" or "3/4": it takes them
// for a date and shows "10-Nov" or "03-Apr". Which of the two numbers came
// first depends on the author's country, so they come back smaller first.
func turnedDate(s string) (a, b int, ok bool) {
	t := strings.ToLower(plainDashes(Tidy(s)))
	name, day := "", ""
	if m := turnedDayMonth.FindStringSubmatch(t); m != nil {
		day, name = m[1], m[2]
	} else if m := turnedMonthDay.FindStringSubmatch(t); m != nil {
		name, day = m[1], m[2]
	}
	a, b = monthNamed(name), 0
	b, _ = strconv.Atoi(day)
	if a == 0 || b == 0 {
		return 0, 0, false
	}
	return min(a, b), max(a, b), true
}
