package main

import (
	"fmt"
	"math"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	"coverplate/audit"
	"coverplate/audit/clock"
	"coverplate/audit/plan"
	"coverplate/ingest/slate"
)

// settingsFile is the name that makes a folder a shoot.
const settingsFile = "coverplate.toml"

// settings is what coverplate.toml says.
type settings struct {
	Book   plan.Book
	Zone   string
	Where  *time.Location // of Zone
	Rules  audit.Rules
	ID     string // of the shoot, in the codes of its slates; "" none yet
	Second string // folder of second copies, as written; "" none
	Copies int    // verified copies on different devices before a card may be formatted
}

// second is the folder of second copies, absolute where it is written from the
// shoot's folder dir; "" none.
func (s settings) second(dir string) string {
	if s.Second == "" || filepath.IsAbs(s.Second) {
		return s.Second
	}
	return filepath.Join(dir, s.Second)
}

// defaults are the settings of a shoot that says nothing of its own. Title,
// trim, days and zone have none.
func defaults() settings {
	return settings{
		Book:   plan.Book{Bleed: 3, Gutter: 6, GoodPPI: 300, FloorPPI: 240, DayEnds: plan.DayEnds},
		Rules:  audit.DefaultRules(),
		Copies: 2,
	}
}

// today is the shooting day at the moment now: it ends when the settings say,
// not at midnight.
func (s settings) today(now time.Time) plan.Day {
	t := now.In(s.Where)
	y, m, d := t.Date()
	midnight := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	clock := time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute
	if clock < s.Book.DayEnds {
		midnight = midnight.AddDate(0, 0, -1)
	}
	y, m, d = midnight.Date()
	return plan.Day{Year: y, Month: m, Day: d}
}

// setting is one key of the settings: what it means, how it is written, and
// how it is read.
type setting struct {
	Key      string // "book.trim"
	Says     string // the comment above it, wrapped by hand at 76 columns
	Want     string // what a right value looks like, for people
	Required bool
	Write    func(settings) string
	Read     func(*settings, any) error
}

// settingKeys are all keys in the order in which they are written. A key that
// is not here is refused, so none can stand in the file and be read by nothing.
func settingKeys() []setting {
	return []setting{
		{"book.title", "The working title of the book.", `text in quotes, like "Skerry Table"`, true,
			func(s settings) string { return quoted(s.Book.Title) },
			func(s *settings, v any) (err error) { s.Book.Title, err = text(v); return }},
		{"book.trim", "Size of one page after trimming, width x height in millimetres.", `width x height in millimetres, like "189x246"`, true,
			func(s settings) string { return quoted(trimOf(s.Book.TrimWidth, s.Book.TrimHeight)) },
			func(s *settings, v any) (err error) {
				var t string
				if t, err = text(v); err == nil {
					s.Book.TrimWidth, s.Book.TrimHeight, err = parseTrim(t)
				}
				return
			}},
		{"book.bleed", "Picture beyond the trim on each outer edge, millimetres. Common practice: 3.", "millimetres from 0 to 25, like 3", false,
			func(s settings) string { return number(s.Book.Bleed) },
			within(0, 25, func(s *settings) *float64 { return &s.Book.Bleed })},
		{"book.gutter", "Strip on each side of the fold where nothing that matters may lie on a\ndouble page, millimetres. Common practice, no source: 6.", "millimetres from 0 to 50, like 6", false,
			func(s settings) string { return number(s.Book.Gutter) },
			within(0, 50, func(s *settings) *float64 { return &s.Book.Gutter })},
		{"book.ppi_good", "Pixels an inch in print that are good. Common practice, no source: 300.", "pixels an inch from 10 to 1200, like 300", false,
			func(s settings) string { return number(s.Book.GoodPPI) },
			within(10, 1200, func(s *settings) *float64 { return &s.Book.GoodPPI })},
		{"book.ppi_floor", "Pixels an inch below which a picture is not fit to print.\nCommon practice, no source: 240.", "pixels an inch from 10 to 1200, like 240", false,
			func(s settings) string { return number(s.Book.FloorPPI) },
			within(10, 1200, func(s *settings) *float64 { return &s.Book.FloorPPI })},
		{"shoot.id", "Tells this shoot's slates from those of others. Slates that were printed carry\nit: leave it alone.", `up to 12 of the letters A to Z and digits, like "K7Q2M"`, false,
			func(s settings) string { return quoted(s.ID) },
			func(s *settings, v any) error {
				id, ok := v.(string)
				if !ok || id != "" && !slate.ValidShoot(id) {
					return fmt.Errorf("%v is no id", v)
				}
				s.ID = id
				return nil
			}},
		{"shoot.days", "First and last shooting day; with days off, runs by commas.", `two days, like "2026-03-02..2026-03-11", or several such by commas`, true,
			func(s settings) string { return quoted(s.Book.Days()) },
			func(s *settings, v any) (err error) {
				var t string
				if t, err = text(v); err == nil {
					s.Book.FirstDay, s.Book.LastDay, s.Book.Off, err = plan.ParseDays(t)
				}
				return
			}},
		{"shoot.zone", "Time zone of the studio, by its IANA name.", `a name of the IANA list, like "Europe/Oslo" or "UTC"`, true,
			func(s settings) string { return quoted(s.Zone) },
			func(s *settings, v any) (err error) {
				if s.Zone, err = text(v); err == nil {
					s.Where, err = zoneNamed(s.Zone)
				}
				return
			}},
		{"shoot.day_ends", "When a shooting day ends: before this time after midnight, today is still the\nday before, and the folders below originals turn with it.", `a time from "00:00" to "11:59", like "04:00"`, false,
			func(s settings) string { return quoted(clockOf(s.Book.DayEnds)) },
			func(s *settings, v any) (err error) {
				var t string
				if t, err = text(v); err == nil {
					s.Book.DayEnds, err = parseClock(t)
				}
				return
			}},
		{"copies.second", "Folder on another disk that gets a second copy of every original; empty for\nnone.", `a folder in quotes, like "/media/backup/skerry"`, false,
			func(s settings) string { return quoted(s.Second) },
			func(s *settings, v any) error {
				var ok bool
				if s.Second, ok = v.(string); !ok {
					return fmt.Errorf("%v is no text in quotes", v)
				}
				return nil
			}},
		{"copies.wanted", "Verified copies on different devices that a card's files must have before\ncoverplate cards says that it may be formatted. Common practice, no source: 2.", "a whole number from 1 to 9, like 2", false,
			func(s settings) string { return strconv.Itoa(s.Copies) },
			func(s *settings, v any) (err error) { s.Copies, err = whole(v, 1, 9); return }},
		{"judgement.too_alike", "Palette distance (ΔE2000) under which neighbouring spreads are too alike.\nNo published value says when two spreads look different: this is the\nproject's own choice, and a report shows the figure beside each verdict.", "a number from 0 to 100, like " + number(audit.DefaultRules().TooAlike), false,
			func(s settings) string { return number(s.Rules.TooAlike) },
			within(0, 100, func(s *settings) *float64 { return &s.Rules.TooAlike })},
		{"judgement.jarring", "Palette distance (ΔE2000) over which the turn of a page is noted as a jump.\nThe project's own choice too.", "a number from 0 to 200, like " + number(audit.DefaultRules().Jarring), false,
			func(s settings) string { return number(s.Rules.Jarring) },
			within(0, 200, func(s *settings) *float64 { return &s.Rules.Jarring })},
		{"judgement.same_surface", "Difference of two pictures' borders (ΔE2000) under which they are noted as\none surface. The project's own choice too.", "a number from 0 to 100, like " + number(audit.DefaultRules().SameSurface), false,
			func(s settings) string { return number(s.Rules.SameSurface) },
			within(0, 100, func(s *settings) *float64 { return &s.Rules.SameSurface })},
		{"judgement.odds_floor", "Odds (0 to 1) below which a frame is not given to a recipe but listed as\nunplaced.", "a number from 0 to 1, like " + number(audit.DefaultRules().OddsFloor), false,
			func(s settings) string { return number(s.Rules.OddsFloor) },
			within(0, 1, func(s *settings) *float64 { return &s.Rules.OddsFloor })},
		{"judgement.set_gap", "Pause of one body in which the dish is as likely changed as not, until the\nbody's own pauses tell: a body with many is parted by these, up to three\ntimes shorter or longer.", `minutes or hours, like "20m" or "1h30m"`, false,
			func(s settings) string { return quoted(clock.Span(s.Rules.SetGap)) },
			func(s *settings, v any) (err error) {
				var t string
				if t, err = text(v); err == nil {
					s.Rules.SetGap, err = parsePause(t)
				}
				return
			}},
		share("judgement.focus_share", "Share of the sharpest alike frame of its set (0 to 1) below which a frame is\nsoft. Common practice, no source; provisional.", func(r *audit.Rules) *float64 { return &r.FocusShare }),
		share("judgement.focus_floor", "Sharpness of what matters at full size (0 to 1) below which a frame is soft\nwhatever its set: 0.37 is a blur of 1.8 pixels, half of the subjective quality\nat 300 pixels an inch.", func(r *audit.Rules) *float64 { return &r.FocusFloor }),
		share("judgement.motion_share", "How much more must be lost along one direction than across it (0 to 1) for\na soft frame to be called moved rather than out of focus: one of twenty that\ndid not move would be at the most.", func(r *audit.Rules) *float64 { return &r.MotionShare }),
		share("judgement.most_burnt", "Share of what matters (0 to 1) that may be burnt out: clipped high.\nCommon practice, no source; provisional.", func(r *audit.Rules) *float64 { return &r.MostBurnt }),
		share("judgement.most_blocked", "Share of what matters (0 to 1) that may be without drawing in the shadows:\nclipped low. Common practice, no source; provisional.", func(r *audit.Rules) *float64 { return &r.MostBlocked }),
		{"judgement.level_drift", "Stops by which a frame's exposure may differ from its set before it is\nnoted. Common practice, no source.", "stops from 0 to 10, like " + number(audit.DefaultRules().LevelDrift), false,
			func(s settings) string { return number(s.Rules.LevelDrift) },
			within(0, 10, func(s *settings) *float64 { return &s.Rules.LevelDrift })},
		{"judgement.white_drift", "Difference (ΔE in Lab a and b) of a frame's cast from that of its set before\nit is noted. The project's own choice.", "a number from 0 to 100, like " + number(audit.DefaultRules().WhiteDrift), false,
			func(s settings) string { return number(s.Rules.WhiteDrift) },
			within(0, 100, func(s *settings) *float64 { return &s.Rules.WhiteDrift })},
	}
}

// share is the key of a rule that is a share.
func share(key, says string, of func(*audit.Rules) *float64) setting {
	standard := audit.DefaultRules()
	return setting{key, says, "a number from 0 to 1, like " + number(*of(&standard)), false,
		func(s settings) string { return number(*of(&s.Rules)) },
		within(0, 1, func(s *settings) *float64 { return of(&s.Rules) })}
}

// shapeKey is one key of a [[post]].
type shapeKey struct {
	Key, Want string
	Read      func(*audit.Shape, any) error
}

func shapeKeys() []shapeKey {
	pixels := "whole pixels from 1 to 20000, like 1080"
	return []shapeKey{
		{"name", `text in quotes, like "4:5"`, func(p *audit.Shape, v any) (err error) { p.Name, err = text(v); return }},
		{"width", pixels, func(p *audit.Shape, v any) (err error) { p.Width, err = whole(v, 1, 20000); return }},
		{"height", pixels, func(p *audit.Shape, v any) (err error) { p.Height, err = whole(v, 1, 20000); return }},
		{"as_of", `a year and month, like "2026-03"`, func(p *audit.Shape, v any) (err error) {
			if p.AsOf, err = text(v); err != nil {
				return err
			}
			if _, bad := time.Parse("2006-01", p.AsOf); bad != nil {
				err = fmt.Errorf("%q is no month", p.AsOf)
			}
			return err
		}},
	}
}

// text reads a text that is not empty.
func text(v any) (string, error) {
	s, ok := v.(string)
	switch {
	case !ok:
		return "", fmt.Errorf("%v is no text in quotes", v)
	case strings.TrimSpace(s) == "":
		return "", fmt.Errorf("the text is empty")
	}
	return s, nil
}

// numeric reads a number, written whole or not.
func numeric(v any) (float64, error) {
	switch n := v.(type) {
	case int64:
		return float64(n), nil
	case float64:
		if !math.IsNaN(n) && !math.IsInf(n, 0) {
			return n, nil
		}
	case string:
		return 0, fmt.Errorf("%q is text, not a number", n)
	}
	return 0, fmt.Errorf("%v is no number", v)
}

func within(low, high float64, field func(*settings) *float64) func(*settings, any) error {
	return func(s *settings, v any) error {
		n, err := numeric(v)
		if err == nil && !(n >= low && n <= high) {
			err = fmt.Errorf("%s is out of range", number(n))
		}
		if err == nil {
			*field(s) = n
		}
		return err
	}
}

func whole(v any, low, high int64) (int, error) {
	n, ok := v.(int64)
	if !ok {
		return 0, fmt.Errorf("%v is no whole number", v)
	}
	if n < low || n > high {
		return 0, fmt.Errorf("%d is out of range", n)
	}
	return int(n), nil
}

// parseTrim reads "189x246" and "189 × 246 mm"; inches "7.5x9.25 in" become
// millimetres, 25.4 to the inch exactly.
func parseTrim(s string) (width, height float64, err error) {
	m := regexp.MustCompile(`^\s*(\d+(?:\.\d+)?)\s*[xX×]\s*(\d+(?:\.\d+)?)\s*(mm|in)?\s*$`).FindStringSubmatch(s)
	if m == nil {
		return 0, 0, fmt.Errorf("%q is no page size", s)
	}
	width, _ = strconv.ParseFloat(m[1], 64)
	height, _ = strconv.ParseFloat(m[2], 64)
	if m[3] == "in" {
		width, height = width*25.4, height*25.4
	}
	if width < 50 || height < 50 || width > 1000 || height > 1000 {
		return 0, 0, fmt.Errorf("a page of %s mm is no book's (50 to 1000)", trimOf(width, height))
	}
	return width, height, nil
}

func trimOf(width, height float64) string { return number(width) + "x" + number(height) }

func parseClock(s string) (time.Duration, error) {
	t, err := time.Parse("15:04", s)
	if err != nil || t.Hour() >= 12 {
		return 0, fmt.Errorf("%q is no time a day can end at", s)
	}
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute, nil
}

func clockOf(d time.Duration) string {
	return fmt.Sprintf("%02d:%02d", int(d.Hours()), int(d.Minutes())%60)
}

func parsePause(s string) (time.Duration, error) {
	d, err := time.ParseDuration(s)
	if err != nil || d <= 0 || d > 24*time.Hour {
		return 0, fmt.Errorf("%q is no pause up to a day", s)
	}
	return d, nil
}

// number writes a float without more digits than it has.
func number(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }
