package audit

import (
	"math"
	"slices"
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// One swatch against one: the palette distance is their ΔE2000. Along the
// greys it is |ΔL|/S_L with S_L = 1 + 0.015(L̄−50)²/√(20+(L̄−50)²), equations 7
// and 21 of Sharma, Wu and Dalal (2005); for L 45 and 55, S_L = 1 and it is 10.
func book(lightness ...float64) Shoot {
	var recipes []plan.Recipe
	var frames []catalogue.Frame
	var said []catalogue.Decision
	for i, l := range lightness {
		id := "R0" + string(rune('1'+i))
		recipes = append(recipes, recipe(id, "Dish", 11+2*i, plan.Hero, plan.Palette))
		if math.IsNaN(l) {
			continue
		}
		f := shotAt(id+".JPG", float64(600*i), id)
		f.Look.Palette = flat(l, 0, 0)
		f.Look.Surface = &colour.Swatch{Lab: colour.Lab{L: l, B: 10 * float64(i)}}
		frames = append(frames, f)
		said = append(said, chose(int64(i+1), id+".JPG", "hero", id))
	}
	return shootOf(recipes, frames, said...)
}

func TestVerdictOfEveryPalette(t *testing.T) {
	nan := math.NaN()
	unchosen := func(s Shoot, ids ...string) Shoot {
		s.Decisions = slices.DeleteFunc(s.Decisions, func(d catalogue.Decision) bool { return slices.Contains(ids, d.Recipe) })
		return s
	}
	for _, c := range []struct {
		name  string
		s     Shoot
		want  []Verdict
		why   string // of R01
		first Strike // of R01
	}{
		{"far apart", book(20, 80), []Verdict{Settled, Settled}, "10 is the threshold, this project's choice", MayStrike},
		{"alike", book(50, 54, 90), []Verdict{ToReshoot, ToReshoot, Settled}, "too alike: ", Hold},
		{"at the threshold", book(45, 55), []Verdict{Settled, Settled}, "10.0 to the next", MayStrike},
		{"below it by a hair, and said so", book(45, 54.99), []Verdict{ToReshoot, ToReshoot}, "9.99 to the next", Hold},
		{"the neighbour is not shot", book(20, nan), []Verdict{ToLook, ToShoot}, "has no picture with a palette yet", MayStrike},
		{"an unshot spread is not skipped", book(20, nan, 20), []Verdict{ToLook, ToShoot, ToLook}, "", MayStrike},
		{"the neighbour is not chosen", unchosen(book(20, 80), "R02"), []Verdict{ToLook, ToLook}, "rests on a picture that nobody has chosen", MayStrike},
		{"alike, the neighbour not chosen", unchosen(book(50, 52), "R02"), []Verdict{ToLook, ToReshoot}, "too alike as it stands", Hold},
		{"alike, neither chosen", unchosen(book(50, 52), "R01", "R02"), []Verdict{ToLook, ToLook}, "too alike as it stands", Hold},
		{"itself not chosen", unchosen(book(20, 80), "R01"), []Verdict{ToLook, ToLook}, "rests on a picture that nobody has chosen", Hold},
		{"alone in the book", book(50), []Verdict{Settled}, "the only spread", MayStrike},
		{"a jump is noted, not held against it", book(0, 100), []Verdict{Settled, Settled}, "is a jump, over 30", MayStrike},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := Run(c.s)
			for i, want := range c.want {
				got := finding(r, r.Recipes[i].ID, "palette")
				if got.Verdict != want {
					t.Errorf("%s: %s, %q, want %s", r.Recipes[i].ID, got.Verdict, got.Why, want)
				}
				if r.Spreads[i].Verdict != got.Verdict {
					t.Errorf("spread %d: %s, its palette %s", i, r.Spreads[i].Verdict, got.Verdict)
				}
			}
			if got := finding(r, "R01", "palette"); !strings.Contains(got.Why, c.why) {
				t.Errorf("%q, want …%s…", got.Why, c.why)
			}
			if r.Recipes[0].Strike != c.first {
				t.Errorf("strike %s: %s, want %s", r.Recipes[0].Strike, r.Recipes[0].StrikeWhy, c.first)
			}
		})
	}
}

func TestSpreadsAreInPageOrderWithTheirDistances(t *testing.T) {
	s := book(45, 55, math.NaN(), 20)
	slices.Reverse(s.Recipes)
	r := Run(s)
	if len(r.Spreads) != 4 {
		t.Fatalf("%d spreads", len(r.Spreads))
	}
	for i, sp := range r.Spreads {
		if sp.Spread != 5+i || (sp.Frame == nil) != (i == 2) || sp.Chosen != (i != 2) {
			t.Errorf("spread %d: %+v", i, sp)
		}
		if known := i == 0; (sp.ToNext != nil) != known {
			t.Errorf("spread %d: to next %v", i, sp.ToNext)
		}
	}
	if got := r.Spreads[0].ToNext; got != nil && math.Abs(*got-10) > 1e-3 {
		t.Errorf("distance %v, want 10", *got)
	}
}

func TestFacingPagesAreOneSpread(t *testing.T) {
	s := book(20, 80)
	s.Recipes[0].Pages, s.Recipes[1].Pages = plan.Pages{First: 12, Last: 12}, plan.Pages{First: 13, Last: 13}
	r := Run(s)
	if len(r.Spreads) != 1 || len(r.Spreads[0].Pictures) != 2 || len(r.Spreads[0].Palette) != 2 || r.Spreads[0].Palette[0].Share != 0.5 {
		t.Errorf("%+v", r.Spreads)
	}
}

func TestRecipeWithoutPagesHasNoNeighbours(t *testing.T) {
	s := book(20)
	s.Recipes[0].Pages = plan.Pages{}
	if got := finding(Run(s), "R01", "palette"); got.Verdict != ToLook || !strings.Contains(got.Why, "gives it no page") {
		t.Errorf("%s: %q", got.Verdict, got.Why)
	}
}

func TestPropsPlannedTwice(t *testing.T) {
	recipes := []plan.Recipe{recipe("R01", "A", 11, plan.Hero), recipe("R02", "B", 13, plan.Hero), recipe("R03", "C", 27, plan.Hero)}
	recipes[0].Props = []string{"Grey stoneware bowl", "tin spoon", "tin spoon"}
	recipes[1].Props = []string{"bowl, grey stoneware"}
	recipes[2].Props = []string{"grey  Stoneware bowls."}
	recipes[0].Surface, recipes[1].Surface = "Undyed linen", "undyed linen"
	r := Run(shootOf(recipes, []catalogue.Frame{shotAt("a.JPG", 0)}, chose(1, "a.JPG", "hero", "R01")))
	if len(r.Props) != 2 {
		t.Fatalf("props %+v, want the bowl and the linen", r.Props)
	}
	bowl, linen := r.Props[0], r.Props[1]
	if bowl.Prop != "Grey stoneware bowl" || bowl.Kind != "prop" || !slices.Equal(bowl.Recipes, []string{"R01", "R03"}) || !slices.Equal(bowl.Spreads, []int{5, 13}) ||
		!strings.Contains(bowl.Why, "a hero chosen: R01; planned, no hero chosen yet: R03") {
		t.Errorf("bowl %+v", bowl)
	}
	if linen.Kind != "surface" || !slices.Equal(linen.Recipes, []string{"R01", "R02"}) {
		t.Errorf("linen %+v", linen)
	}
	if !hasNote(r, "prop", `"Grey stoneware bowl" (R01, R03) and "bowl, grey stoneware" (R02) may be one thing`) {
		t.Errorf("notes %v", r.Notes)
	}
}

// TestPaceWithDaysOff counts by a calendar of March 2026: two weeks from Monday
// the 2nd, no shooting at the weekend between, and the first Thursday free. When
// four more are done as likely as not is by hand: the median of the Beta(4, 2½) of
// package pace is near (4 − ⅓) / (6½ − ⅔) = 0.629, so that d days ask for 1.7 d
// more; 3.4, 5.1 and 6.8 of days that are shooting days.
func TestPaceWithDaysOff(t *testing.T) {
	day := func(n int) plan.Day { return plan.Day{Year: 2026, Month: 3, Day: n} }
	for _, c := range []struct {
		today, left int
		number, of  int
		ends        string // by when as likely as not
		note        string
	}{
		{today: 2, left: 9, number: 1, of: 9},
		{today: 4, left: 7, number: 3, of: 9, ends: "2026-03-10"}, // 2 of 6 in 2 days
		{today: 5, left: 6, of: 9, ends: "2026-03-13", note: "the next shooting day is Fri 6 March"},
		{today: 6, left: 6, number: 4, of: 9, ends: "2026-03-13"},
		{today: 7, left: 5, of: 9, ends: "2026-03-15", note: "the next shooting day is Mon 9 March"},
		{today: 13, left: 1, number: 9, of: 9},
		{today: 14, left: 0, of: 9, note: "the shoot ended on Fri 13 March"},
	} {
		s := shootOf(make([]plan.Recipe, 6), nil)
		s.Book.FirstDay, s.Book.LastDay, s.Book.Off, s.Today = day(2), day(13), []plan.Day{day(5), day(7), day(8)}, day(c.today)
		recipes := make([]Recipe, 6)
		for i := range 2 {
			recipes[i].Strike, recipes[i].Covered = MayStrike, day(2+i).String()
		}
		got := lay(s).pace(recipes)
		if got.DaysLeft != c.left || c.ends != "" && (got.Ends == nil || got.Ends.Likely != c.ends) {
			t.Errorf("on the %d: %d days left, ends %+v", c.today, got.DaysLeft, got.Ends)
		}
		of := DayOf(s, Report{}, day(c.today))
		if of.Number != c.number || of.Of != c.of || !strings.Contains(strings.Join(of.Notes, "; "), c.note) {
			t.Errorf("the %d: day %d of %d, %q", c.today, of.Number, of.Of, of.Notes)
		}
	}
}

func TestPace(t *testing.T) {
	day := func(n int) plan.Day { return plan.Day{Year: 2026, Month: 3, Day: n} }
	const none = -1
	for _, c := range []struct {
		name     string
		today    plan.Day
		done, of int
		left     int
		needed   float64
		on       bool
	}{
		{"the example of DESIGN section 5", day(8), 33, 74, 4, 10.25, false},
		{"before the shoot", plan.Day{Year: 2026, Month: 2, Day: 20}, 0, 74, 10, 7.4, true},
		{"first day", day(2), 0, 74, 10, 7.4, true},
		{"last day, one left", day(11), 73, 74, 1, 1, true},
		{"after the shoot", day(12), 70, 74, 0, none, false},
		{"after the shoot, all done", day(12), 74, 74, 0, none, true},
		{"just on pace", day(7), 5, 10, 5, 1, true},
		{"just behind", day(7), 4, 10, 5, 1.2, false},
		{"today unknown", plan.Day{}, 4, 10, 0, none, false},
	} {
		s := shootOf(make([]plan.Recipe, c.of), nil)
		s.Today = c.today
		recipes := make([]Recipe, c.of)
		for i := range c.done {
			recipes[i].Strike = MayStrike
		}
		got := lay(s).pace(recipes)
		if got.Done != c.done || got.Of != c.of || got.DaysLeft != c.left || got.OnPace != c.on ||
			(got.NeededPerDay == nil) != (c.needed == none) || got.NeededPerDay != nil && *got.NeededPerDay != c.needed {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
}
