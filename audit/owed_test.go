package audit

import (
	"math"
	"testing"
	"time"
)

// A dish whose turn is over is asked for by as much as it is likely to stand
// nowhere else: by Bayes' rule, 0.05 of such dishes never shot, 1/(1 − 0.2·0.95)
// where another stretch shows it with 0.8; what stands near, or surely, apart.
func TestADishIsAskedFor(t *testing.T) {
	h := newHardDay()
	h.dishes("A", at(0, "09:00:00"), "R01", "R03")
	m := lay(h.Shoot).match()
	m.seen = make([][]sighting, len(h.Recipes))
	from, to := at(0, "11:00:00"), at(0, "11:10:00")
	ask := func(recipe int) float64 { return m.asks(recipe, from, to, 10*time.Minute) }
	for _, c := range []struct {
		name   string
		recipe int
		seen   []sighting
		want   float64
	}{
		{"nowhere", 1, nil, 20},
		{"likely elsewhere", 1, []sighting{{first: at(0, "09:20:00"), last: at(0, "09:30:00"), odds: 0.8}}, 1 / (1 - 0.2*0.95)},
		{"at two places", 1, []sighting{{first: at(0, "09:20:00"), last: at(0, "09:30:00"), odds: 0.8}, {first: at(0, "12:20:00"), last: at(0, "12:30:00"), odds: 0.5}}, 1 / (1 - 0.1*0.95)},
		{"near by", 1, []sighting{{first: at(0, "10:45:00"), last: at(0, "10:55:00"), odds: 0.8}}, 20},
		{"surely shot", 0, nil, 1},
		{"its turn not over", 5, nil, 1},
	} {
		m.seen[c.recipe] = c.seen
		if got := ask(c.recipe); !(math.Abs(got-c.want) <= 1e-9) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
		m.seen[c.recipe] = nil
	}
	m.seen = nil
	if got := ask(1); got != 1 {
		t.Errorf("before anything is labelled: %v", got)
	}
}

// What a body takes at a set of its own is a strand of its own, from its slate on.
func TestAnAsideIsAStrandOfItsOwn(t *testing.T) {
	h := newHardDay()
	h.together()
	h.slate("A", at(0, "13:00:00"), "R03")
	h.shoot("A", at(0, "13:00:40"), "R03", 40)
	h.slate("B", at(0, "13:06:00"), "R04")
	h.shoot("B", at(0, "13:06:40"), "R04", 12)
	m := lay(h.Shoot).match()
	if len(m.strands) != 2 || len(m.strands[1].frames) != 13 {
		t.Fatalf("%d strands, the last of %d frames", len(m.strands), len(m.strands[len(m.strands)-1].frames))
	}
	for _, i := range m.strands[1].frames {
		if f := m.d.frames[i]; f.Camera.Serial != "B" || f.Taken.Before(at(0, "13:06:00")) {
			t.Errorf("%s stands aside", f.ID)
		}
	}
}

// A text that stays through changes of dish is of a session, one that changes with
// the dishes is not; and a crew that leaves its folders is known for it.
func TestTextsThatAreLeft(t *testing.T) {
	shoot := func(folder func(dish, k int) int) (*matcher, *strand) {
		h := newHardDay()
		for i, id := range []string{"R01", "R02", "R03", "R04", "R05", "R06"} {
			h.shoot("A", at(0, "09:00:00").Add(time.Duration(i)*45*time.Minute), id, 12)
			for k := range 12 {
				r, f := h.Recipes[folder(i, k)], &h.Frames[len(h.Frames)-12+k].Files[0]
				f.Source = r.ID + " " + r.Title + "/" + f.Name
			}
		}
		m := lay(h.Shoot).match()
		return m, m.strands[0]
	}
	m, s := shoot(func(dish, _ int) int { return dish })
	own := s.textStays
	if m.left[0] > 0.01 || m.left[70] > 0.01 || !(own < textStays) {
		t.Errorf("a folder a dish: left over by %v and %v, and %v stay", m.left[0], m.left[70], own)
	}
	if m, _ = shoot(func(dish, _ int) int { return dish / 4 * 4 }); !(m.left[0] > 0.8) || !(m.left[47] > 0.8) || m.texted(20) >= 0 {
		t.Errorf("a folder for four dishes is left over by %v", m.left[0])
	}
	m, s = shoot(func(dish, k int) int { // late in every dish
		if k < 4 {
			return max(dish-1, 0)
		}
		return dish
	})
	if !(s.textStays > 2*own) {
		t.Errorf("a crew that is late in each dish leaves %v, one that is not %v", s.textStays, own)
	}
	// Where a text changes within a dish, that speaks for a change, and no more.
	m.speak(s)
	for k, i := range s.frames {
		if k%12 != 4 || k < 12 {
			continue
		}
		want := 1 / (1 + math.Exp(max(s.pause[k]+textDiffers, leastChange)))
		if got := s.stay[k]; !(math.Abs(got-want) <= 1e-9) || want > 1-1e-6 {
			t.Errorf("%s: stays with %v, want %v", m.d.frames[i].ID, got, want)
		}
	}
}

// The next of the plan is the first after a dish that is not done, of dishes that
// are done as well.
func TestWhatFollows(t *testing.T) {
	h := newHardDay()
	h.dishes("A", at(0, "09:00:00"), "R01")
	m := lay(h.Shoot).match()
	done := make([]bool, len(h.Recipes))
	done[1], done[2], done[11] = true, true, true // R02, R03, R12
	got := m.follows(done)
	for i, want := range []int{3, 3, 3, 4, 5, 6, 7, 8, 9, 10, -1, -1, -1} { // of R01 … R12, and of none
		if got[i] != want {
			t.Errorf("after %d comes %d, want %d", i, got[i], want)
		}
	}
}

// A dish that is known on a later day alone may have been shot on its own before, in
// its turn; and what is done on its own day is not looked for again.
func TestADishTakenAgainMayHaveHadItsTurn(t *testing.T) {
	h := newHardDay()
	h.dishes("A", at(0, "09:00:00"), "R01", "R02")
	h.shoot("A", at(0, "10:30:00"), "R03", 14) // its slate was forgotten
	h.dishes("A", at(0, "11:15:00"), "R04", "R05", "R06")
	h.dishes("A", at(1, "09:00:00"), "R07", "R03", "R08")
	for _, p := range Matches(h.Shoot) {
		if want := h.truth[p.Frame]; want != "" && p.Recipe != want {
			t.Errorf("%s shows %s and is given to %q with %.2f: %v", p.Frame, want, p.Recipe, p.Odds, p.Why)
		}
	}
	m := lay(h.Shoot).match()
	from, to := at(0, "10:30:00"), at(0, "10:40:00")
	for _, c := range []struct {
		recipe int
		times  float64
		done   bool
	}{{2, takenAgain, false}, {0, shotToday, true}, {7, shotBefore, true}} {
		if times, done := m.again(c.recipe, from, to, 10*time.Minute); !(math.Abs(times-c.times) <= 1e-9) || done != c.done {
			t.Errorf("%s: %v times as likely, done %v; want %v, %v", h.Recipes[c.recipe].ID, times, done, c.times, c.done)
		}
	}
}

// What other stretches said is taken out of what they hear back by half: odds of 4
// that were 1/4 before are odds of 1; no factor takes nothing.
func TestLessEcho(t *testing.T) {
	if got := lessEcho(0.8, 16); !(math.Abs(got-0.5) <= 1e-12) {
		t.Errorf("%v", got)
	}
	for _, p := range []float64{0, 0.3, 1} {
		if got := lessEcho(p, 1); !(math.Abs(got-p) <= 1e-12) {
			t.Errorf("%v became %v", p, got)
		}
	}
}
