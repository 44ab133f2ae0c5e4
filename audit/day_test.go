package audit

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

func march(n int) plan.Day { return plan.Day{Year: 2026, Month: 3, Day: n} }

// ofDay lists the recipes of dishes, each with the mark that it was covered on
// that day or shares something.
func ofDay(dishes []Dish) string {
	var all []string
	for _, d := range dishes {
		s := d.Recipe
		if d.OnDay {
			s += "!"
		}
		if len(d.With) > 0 {
			s += "+" + strings.Join(d.With, "+")
		}
		all = append(all, s)
	}
	return strings.Join(all, " ")
}

func TestDayOf(t *testing.T) {
	rows := []plan.Recipe{}
	add := func(id string, page int, day plan.Day, props ...string) {
		r := recipe(id, "Dish "+id, page, plan.Hero)
		r.Row, r.Day, r.Props = len(rows)+2, day, props
		rows = append(rows, r)
	}
	add("R09", 30, march(4), "oat linen")
	add("R01", 10, march(3), "Grey bowls")
	add("R02", 12, march(3))
	add("R03", 14, march(4), "grey bowl")
	add("R04", 16, march(2))
	add("R05", 18, plan.Day{})
	add("R06", 20, plan.Day{})
	add("R07", 22, march(5))
	add("R08", 24, march(3))
	late := shotAt("a.jpg", 0, "R08")
	late.Taken = time.Date(2026, 3, 5, 3, 59, 0, 0, time.UTC) // of the 4th: a day ends at four
	early := shotAt("b.jpg", 0, "R02")
	early.Taken = time.Date(2026, 3, 3, 12, 0, 0, 0, time.UTC)
	begun := shotAt("c.jpg", 0, "R06")
	begun.Taken = time.Date(2026, 3, 3, 13, 0, 0, 0, time.UTC)
	s := shootOf(rows, []catalogue.Frame{late, early, begun},
		catalogue.Decision{ID: 1, Kind: catalogue.Waive, Recipe: "R07", Need: "hero"})
	s.Today = march(4)
	r := Run(s)
	for i := range r.Recipes { // what is settled is the business of other tests
		if r.Recipes[i].ID == "R08" || r.Recipes[i].ID == "R02" {
			r.Recipes[i].Strike = MayStrike
			r.Recipes[i].Covered = map[string]string{"R08": "2026-03-04", "R02": "2026-03-03"}[r.Recipes[i].ID]
		}
	}
	d := DayOf(s, r, march(4))
	for _, c := range []struct{ name, got, want string }{
		{"what is over, the latest day first", ofDay(d.Over), "R01+R03 R04 R06"},
		{"planned, in the order of the rows", ofDay(d.Planned), "R09 R03+R01"},
		{"covered on the day, whenever it was planned", ofDay(d.Covered), "R08!"},
		{"of no day and not begun", ofDay(d.Loose), "R05"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.name, c.got, c.want)
		}
	}
	if d.Number != 3 || d.Of != 10 {
		t.Errorf("day %d of %d, want 3 of 10", d.Number, d.Of)
	}
	if len(d.Shared) != 1 || d.Shared[0].Name != "Grey bowls" || !slices.Equal(d.Shared[0].Recipes, []string{"R01", "R03"}) {
		t.Errorf("shared %+v", d.Shared)
	}
	if d := DayOf(s, r, march(5)); ofDay(d.Covered) != "R07" {
		t.Errorf("a dish that needs nothing more is covered: %q", ofDay(d.Covered))
	}
	if d := DayOf(s, r, march(12)); d.Number != 0 || len(d.Notes) != 1 || !strings.Contains(d.Notes[0], "ended on Wed 11 March") {
		t.Errorf("after the shoot: %+v", d)
	}
}

func TestCautionsOfADay(t *testing.T) {
	rows := []plan.Recipe{recipe("R01", "A", 10, plan.Hero), recipe("R02", "B", 12, plan.NeedOverhead), recipe("R03", "C", 14, plan.Process), recipe("R04", "D", 16, plan.Hero)}
	for i := range rows {
		rows[i].Day = march(4)
	}
	rows[0].Allergens, rows[0].Angle, rows[3].Day = "fish, milk", plan.Overhead, march(5)
	s := shootOf(rows, nil)
	got := strings.Join(DayOf(s, Run(s), march(4)).Cautions, "\n")
	for _, want := range []string{"as the plan has them: R01 fish, milk\n", "nothing of the allergens of R02, R03: ask", "no picture tells: local rules", "from above: R01, R02;", "may be seen: R03;"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not said: %s", want, got)
		}
	}
	if strings.Contains(got, "safe to") || strings.Contains(got, "is safe") {
		t.Errorf("food is called safe: %s", got)
	}
	if c := DayOf(s, Run(s), march(9)).Cautions; strings.Contains(strings.Join(c, ""), "R04 ") {
		t.Errorf("of another day: %v", c)
	}
	if c := DayOf(shootOf(nil, nil), Run(shootOf(nil, nil)), march(4)).Cautions; len(c) != 0 {
		t.Errorf("an empty day: %v", c)
	}
}

func TestCoveredOnTheDayOfTheLastFrameItRestsOn(t *testing.T) {
	first, second := shotAt("a.jpg", 0, "R01"), shotAt("b.jpg", 0, "R01")
	first.Taken = time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)
	second.Taken = time.Date(2026, 3, 6, 2, 0, 0, 0, time.UTC)
	d := lay(shootOf([]plan.Recipe{recipe("R01", "Rye", 10, plan.Hero)}, []catalogue.Frame{first, second}))
	for _, c := range []struct {
		needs []Finding
		want  string
	}{
		{[]Finding{{Verdict: Settled, FrameID: first.ID}, {Verdict: Settled, FrameID: second.ID}}, "2026-03-05"},
		{[]Finding{{Verdict: Settled, FrameID: first.ID}, {Verdict: Waived}}, "2026-03-04"},
		{[]Finding{{Verdict: Waived}}, ""},
		{[]Finding{{Verdict: Settled, FrameID: "gone"}}, ""},
	} {
		if got := d.coveredOn(c.needs); got != c.want {
			t.Errorf("%+v: %q, want %q", c.needs, got, c.want)
		}
	}
}

// The interval is package pace's; here, that days, counts and dates are put
// into it and read from it rightly.
func TestWhenTheRestIsDone(t *testing.T) {
	frame := shotAt("a.jpg", 0, "R00")
	frame.Taken = time.Date(2026, 3, 5, 12, 0, 0, 0, time.UTC)
	run := func(today plan.Day, done map[string]int, frames ...catalogue.Frame) Pace {
		s := shootOf(make([]plan.Recipe, 60), frames)
		s.Today = today
		var recipes []Recipe
		for _, day := range []string{"2026-03-02", "2026-03-03", "2026-03-04", "2026-03-05"} {
			for range done[day] {
				recipes = append(recipes, Recipe{Strike: MayStrike, Covered: day})
			}
		}
		for len(recipes) < 60 {
			recipes = append(recipes, Recipe{Strike: Hold})
		}
		return lay(s).pace(recipes)
	}
	done := map[string]int{"2026-03-02": 5, "2026-03-03": 6, "2026-03-04": 7}
	p := run(march(5), done)
	if p.Ends == nil || len(p.ByDay) != 3 || *p.PerDay != 6 || len(p.ByDay[2].Recipes) != 7 {
		t.Fatalf("%+v", p)
	}
	// 42 are left at 6 a day: 7 days from the 5th is the 11th, the last day.
	if p.Ends.Likely != "2026-03-11" {
		t.Errorf("as likely as not by %s, want 2026-03-11", p.Ends.Likely)
	}
	if !(p.Ends.Earliest < p.Ends.Likely && p.Ends.Likely < p.Ends.Latest) {
		t.Errorf("%+v is no interval", p.Ends)
	}
	if !(p.Ends.IfLost < p.Ends.InTime && p.Ends.InTime > 0.5 && p.Ends.InTime < 0.7) {
		t.Errorf("in time %.3f, if a day is lost %.3f", p.Ends.InTime, p.Ends.IfLost)
	}
	if n := p.Ends.NeededIfLost; n == nil || *n != 7 {
		t.Errorf("needed if a day is lost: %v, want 42 over 6 days", n)
	}
	// A frame of today makes today a day that counts.
	q := run(march(5), done, frame)
	if len(q.ByDay) != 4 || *q.PerDay != 4.5 {
		t.Errorf("with a frame of today: %+v", q)
	}
	if q = run(march(2), nil); q.Ends != nil || q.PerDay != nil || strings.Contains(q.Why, "pace") {
		t.Errorf("on the first morning nothing is known: %+v", q)
	}
	if q = run(march(5), nil); q.Ends == nil || q.Ends.Latest != "" || !(q.Ends.InTime < 0.01) || math.IsNaN(q.Ends.InTime) {
		t.Errorf("nothing covered in three days: %+v", q.Ends)
	}
	if q = run(march(14), done); q.DaysLeft != 0 || len(q.ByDay) != 10 || q.Ends.InTime != 0 || q.Ends.NeededIfLost != nil {
		t.Errorf("after the shoot: %+v", q)
	}
}
