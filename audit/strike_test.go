package audit

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// by makes a frame of a body, at hour and minute of 4 March.
func by(body, name string, day, hour, minute int, subject string) catalogue.Frame {
	f := shotAt(name, 0, subject)
	f.ID = catalogue.FrameID("id-" + body + name)
	f.Camera.Serial = body
	f.Taken = time.Date(2026, 3, day, hour, minute, 0, 0, time.UTC)
	return f
}

// leaps is "SK-1: 2 after LOMV0003.JPG".
func leaps(bodies []SeenBody) string {
	var all []string
	for _, b := range bodies {
		for _, g := range b.Unread {
			all = append(all, fmt.Sprintf("%s: %d after %s", strings.TrimPrefix(b.Body, "Skarv R7 #"), g.N, g.After))
		}
	}
	return strings.Join(all, "; ")
}

func TestLeapsInTheNumbersOfABody(t *testing.T) {
	for _, c := range []struct {
		name   string
		frames []string // "body number", a minute apart
		want   string
	}{
		{"none", []string{"a 1", "a 2", "a 3"}, ""},
		{"two are missing", []string{"a 1", "a 4"}, "a: 2 after LOMV0001.JPG"},
		{"two bodies count apart", []string{"a 1", "b 7", "a 2", "b 9"}, "b: 1 after LOMV0007.JPG"},
		{"the counter goes round", []string{"a 9998", "a 9999", "a 1"}, ""},
		{"round, and one is missing", []string{"a 9998", "a 1"}, "a: 1 after LOMV9998.JPG"},
		{"set anew", []string{"a 40", "a 5000"}, ""},
		{"set back", []string{"a 40", "a 1"}, ""},
		{"one that names no body fills the gap", []string{"a 1", "? 2", "a 3"}, ""},
		{"numbers out of their order", []string{"a 1", "a 3", "a 2", "a 4"}, ""},
	} {
		var frames []catalogue.Frame
		for i, s := range c.frames {
			var body string
			var n int
			if _, err := fmt.Sscan(s, &body, &n); err != nil {
				t.Fatal(err)
			}
			body = strings.TrimPrefix(body, "?")
			frames = append(frames, by(body, fmt.Sprintf("LOMV%04d.JPG", n), 4, 9, i, ""))
		}
		r := Run(shootOf(nil, frames))
		if got := leaps(r.Seen.Bodies); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	named := []catalogue.Frame{by("a", "rye-bread-1.jpg", 4, 9, 0, ""), by("a", "rye-bread-9.jpg", 4, 9, 1, "")}
	if got := leaps(Run(shootOf(nil, named)).Seen.Bodies); got != "" {
		t.Errorf("names that people gave count nothing: %q", got)
	}
}

func TestStrikeSaysWhatWouldTurnIt(t *testing.T) {
	rows := []plan.Recipe{recipe("R01", "Rye", 10, plan.Hero), recipe("R02", "Broth", 40, plan.Hero, plan.NeedOverhead), recipe("R03", "Plums", 60, plan.Hero)}
	frames := []catalogue.Frame{
		by("a", "LOMV0001.JPG", 3, 9, 0, "R02"),
		by("a", "LOMV0005.JPG", 4, 9, 0, "R01"), // what is missing since the 3rd may show it
		by("b", "LOMV0001.JPG", 4, 8, 30, "R01"),
		by("a", "LOMV0009.JPG", 4, 9, 10, "R02"),
	}
	r := Run(shootOf(rows, frames, chose(1, "aLOMV0005.JPG", "hero", "R01"), catalogue.Decision{ID: 2, Kind: catalogue.Waive, Recipe: "R03", Need: "hero"}))
	rye, broth, plums := r.Recipes[0], r.Recipes[1], r.Recipes[2]
	if rye.Strike != MayStrike || rye.Turn != "taking a choice back would turn it" || rye.LastAt == nil || *rye.LastAt != "2026-03-04T09:00:00" {
		t.Errorf("rye: %s, %q, %v", rye.Strike, rye.Turn, rye.LastAt)
	}
	if got := strings.Join(rye.Unread, "\n"); !strings.Contains(got, "Skarv R7 #a shot 3 frames between LOMV0005.JPG and LOMV0009.JPG, from 09:00 to 09:10") ||
		!strings.Contains(got, "Skarv R7 #a shot 3 frames between LOMV0001.JPG and LOMV0005.JPG, from 09:00 on 3 March to 09:00 on 4 March") ||
		!strings.Contains(got, "Skarv R7 #b was last seen at 08:30, before this dish's last frame") || len(rye.Unread) != 3 {
		t.Errorf("unread of rye: %s", got)
	}
	if broth.Strike != Hold || !strings.HasPrefix(broth.Turn, "look at LOMV0001.JPG and choose the frame for hero and overhead, read the cards first, or waive") {
		t.Errorf("broth: %s, %q (%v)", broth.Strike, broth.Turn, broth.Needs)
	}
	cold := Run(shootOf([]plan.Recipe{recipe("R01", "Rye", 10, plan.Hero, plan.NeedOverhead, plan.Palette)}, nil)).Recipes[0]
	if cold.Turn != "shoot hero, shoot overhead, or waive what the book can do without" {
		t.Errorf("without a frame: %q", cold.Turn)
	}
	if rye.Stood == nil || *rye.Stood != 30 { // from 08:30 by the one body to 09:00 by the other
		t.Errorf("rye stood %v", rye.Stood)
	}
	if plums.Strike != MayStrike || plums.Turn != "taking a waiver back would turn it" || plums.LastFrame != nil || len(plums.Unread) != 0 {
		t.Errorf("plums: %+v", plums)
	}
}
