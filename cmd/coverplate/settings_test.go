package main

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"coverplate/audit"
	"coverplate/audit/plan"
)

func someSettings() settings {
	s := defaults()
	s.Book.Title = "Skerry \"Table\" \\ é\tand more"
	s.Book.TrimWidth, s.Book.TrimHeight = 189, 246.5
	s.Book.Bleed = 3.175
	s.Book.FirstDay, s.Book.LastDay = plan.Day{Year: 2026, Month: 3, Day: 2}, plan.Day{Year: 2026, Month: 3, Day: 11}
	s.Zone = "Europe/Oslo"
	s.Where, _ = zoneNamed(s.Zone)
	return s
}

func TestSettingsComeBackAsWritten(t *testing.T) {
	for name, change := range map[string]func(*settings){
		"defaults": func(*settings) {},
		"own rules": func(s *settings) {
			s.Rules.TooAlike, s.Rules.SetGap, s.Book.DayEnds = 7.25, 90*time.Minute, 5*time.Hour+30*time.Minute
		},
		"own posts": func(s *settings) {
			s.Rules.Shapes = []audit.Shape{{Name: `4:5 "tall"`, Width: 1080, Height: 1350, AsOf: "2026-03"}}
		},
	} {
		t.Run(name, func(t *testing.T) {
			want := someSettings()
			change(&want)
			got, faults := parseSettings(writeSettings(want))
			if len(faults) > 0 {
				t.Fatalf("the file it wrote has faults: %+v", faults)
			}
			if got.Where.String() != want.Where.String() {
				t.Errorf("zone is %v, want %v", got.Where, want.Where)
			}
			got.Where, want.Where = nil, nil
			if d := cmp.Diff(want, got); d != "" {
				t.Errorf("settings differ (-want +got):\n%s", d)
			}
		})
	}
}

func TestEverySettingIsCommentedAndRead(t *testing.T) {
	lines := strings.Split(string(writeSettings(someSettings())), "\n")
	written := 0
	for i, line := range lines {
		if line == "" || line[0] == '#' || line[0] == '[' {
			continue
		}
		if i > 0 && strings.Contains(strings.Join(lines[:i], "\n"), "[[post]]") {
			break // the comment stands above the first of them
		}
		written++
		if !strings.HasPrefix(lines[i-1], "# ") {
			t.Errorf("%q has no comment above it", line)
		}
		if len([]rune(line)) > 80 {
			t.Errorf("%q is wider than 80 columns", line)
		}
	}
	if want := len(settingKeys()); written != want {
		t.Errorf("%d keys are written, want %d", written, want)
	}
	// A key that is read changes what comes back.
	for _, k := range settingKeys() {
		s := defaults()
		if err := k.Read(&s, []any{"no such value"}); err == nil {
			t.Errorf("%s takes a list", k.Key)
		}
	}
}

func TestSettingsFaults(t *testing.T) {
	right := string(writeSettings(someSettings()))
	for name, c := range map[string]struct{ from, to, key, says string }{
		"a number as text":              {"bleed = 3.175", `bleed = "3"`, "book.bleed", `"3" is text, not a number`},
		"a number out of range":         {"bleed = 3.175", "bleed = -1", "book.bleed", "-1 is out of range"},
		"not a number":                  {"bleed = 3.175", "bleed = nan", "book.bleed", "NaN is no number"},
		"a floor above good":            {"ppi_floor = 240", "ppi_floor = 310", "book.ppi_floor", "the floor 310 is above ppi_good 300"},
		"days in runs, one upside down": {"2026-03-02..2026-03-11", "2026-03-02..2026-03-06, 2026-03-11..2026-03-09", "shoot.days", "the last day 2026-03-09 is before the first, 2026-03-11"},
		"days the wrong way round":      {"2026-03-02..2026-03-11", "2026-03-11..2026-03-02", "shoot.days", "the last day 2026-03-02 is before the first, 2026-03-11"},
		"a day after noon":              {`day_ends = "04:00"`, `day_ends = "12:00"`, "shoot.day_ends", `"12:00" is no time a day can end at`},
		"a pause without a unit":        {`set_gap = "10m"`, `set_gap = "10"`, "judgement.set_gap", `"10" is no pause up to a day`},
		"the machine's zone":            {`zone = "Europe/Oslo"`, `zone = "Local"`, "shoot.zone", `"Local" is no time zone`},
		"an unknown table":              {"[judgement]", "[judgment]", "judgment", "is not a key of the settings"},
	} {
		t.Run(name, func(t *testing.T) {
			text := strings.Replace(right, c.from, c.to, 1)
			if text == right {
				t.Fatalf("%q does not stand in the file", c.from)
			}
			_, faults := parseSettings([]byte(text))
			for _, f := range faults {
				if f.Key != c.key {
					continue
				}
				if f.Says != c.says || f.Want == "" {
					t.Errorf("got %q, right would be %q; want %q", f.Says, f.Want, c.says)
				}
				lines := strings.Split(text, "\n")
				name := c.key[strings.LastIndexByte(c.key, '.')+1:]
				if f.Line < 1 || f.Line > len(lines) || !strings.HasPrefix(lines[f.Line-1][f.Column-1:], name) {
					t.Errorf("line %d, column %d is not where %s stands", f.Line, f.Column, name)
				}
				return
			}
			t.Errorf("no fault names %s: %+v", c.key, faults)
		})
	}
}

func TestTodayTurnsWhenTheDayEnds(t *testing.T) {
	s := someSettings()
	for _, c := range []struct{ now, want string }{
		{"2026-03-04T02:59:59Z", "2026-03-03"}, // 03:59:59 in Oslo
		{"2026-03-04T03:00:00Z", "2026-03-04"},
		{"2026-03-04T23:30:00Z", "2026-03-04"}, // half past midnight of the 5th in Oslo
		{"2026-03-01T02:00:00Z", "2026-02-28"},
		{"2026-03-29T01:30:00Z", "2026-03-28"}, // 03:30, in the night that summer time begins
		{"2026-03-29T02:00:00Z", "2026-03-29"}, // 04:00 of it
	} {
		now, err := time.Parse(time.RFC3339, c.now)
		if err != nil {
			t.Fatal(err)
		}
		if got := s.today(now).String(); got != c.want {
			t.Errorf("at %s today is %s, want %s", c.now, got, c.want)
		}
	}
}

func FuzzSettings(f *testing.F) {
	f.Add(writeSettings(someSettings()))
	f.Add([]byte("[book]\ntitle = 3\n[[post]]\nname = 'x'\n[[post]]\n"))
	f.Add([]byte("book = {title = 'x', trim = '1x1'}\npost = [1, {name = 2}]\nshoot = 1"))
	f.Add([]byte("a.b.c = 1\n[a.b]\nd = 1"))
	f.Fuzz(func(t *testing.T, b []byte) {
		s, faults := parseSettings(b)
		if len(faults) > 0 {
			return
		}
		if s.Where == nil || s.Book.Title == "" || s.Book.LastDay.Before(s.Book.FirstDay) {
			t.Errorf("%q passes and gives %+v", b, s)
		}
		if again, faults := parseSettings(writeSettings(s)); len(faults) > 0 || !cmp.Equal(again.Book, s.Book) {
			t.Errorf("%q is not written as it was read: %+v", b, faults)
		}
	})
}
