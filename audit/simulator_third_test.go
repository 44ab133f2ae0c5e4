package audit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// A third family of simulated shoots, which judged until the causes of its errors
// were looked for, on 2026-11-28. It was written from how a cookbook is shot, by
// one who had not read how the matcher weighs pauses, order and clocks. A dish is built up in steps: a slate, test shots of the set,
// a wait for the food, the proper shot on a tripod, other arrangements, details
// with another body, a phone. Steps, not frames, have pauses, and a wait for the
// food is as long as many a change of dish. Days end when they are over: what was
// not shot is shot first on the next.
//
// Distributions marked "practice" are common practice, no source; all others but
// those of pictures (look_third_test.go) are invented for the test.

// custom is how a crew of the third family works. Shares are 0 … 1.
type custom struct {
	name    string
	slated  float64 // of dishes
	late    float64 // of slates come after the test shots, or after the dish
	wrong   float64 // of slates are the next card of the pile, or the last
	told    float64 // of shoots show a running clock to all bodies each morning
	named   float64 // of shoots have a folder a dish on the tethered machine
	renewed float64 // of dishes: somebody makes that folder
	logged  float64 // of dishes are noted when they come on set
	redrawn bool    // each shoot has its own pauses and rates; see vary
}

var customs = []custom{
	{name: "slates on nine of ten", slated: 0.9, late: 0.1, wrong: 0.012, told: 0.5, named: 0.3, renewed: 0.85},
	{name: "few slates", slated: 0.35, late: 0.25, wrong: 0.03, told: 0.2, named: 0.2, renewed: 0.7},
	{name: "folders by a helper", told: 0.2, named: 1, renewed: 0.88},
	{name: "the log", told: 0.2, logged: 0.88},
	{name: "times and plan only", told: 0.2},
}

const (
	thirdDays   = 8
	thirdDishes = 74
)

// third is a shoot as it goes on.
type third struct {
	*simulator
	custom
	pictures
	ahead  map[string]time.Duration // of the studio's time, by body
	bodies []string                 // "A" is tethered and on the tripod
	byDish bool                     // the tethered machine has folders a dish
	style  int                      // how folders are named
	folder string                   // into which the tethered machine writes now
	habits map[string]float64       // see vary
	day    plan.Day
}

// simulateThird shoots a book of 74 dishes in eight days.
func simulateThird(seed uint64, how custom) *simulated {
	r := &third{custom: how, ahead: map[string]time.Duration{}, habits: map[string]float64{}, simulator: &simulator{Rand: rand.New(rand.NewPCG(seed, 1929)),
		s: &simulated{truth: map[catalogue.FrameID]string{}, slate: map[catalogue.FrameID]bool{}}}}
	r.pictures = newPictures(r.Rand)
	r.s.Shoot = shootOf(nil, nil)
	first := plan.Day{Year: 2026, Month: 5, Day: 4}
	r.s.Book.FirstDay, r.s.Book.LastDay = first, first.AddDays(thirdDays-1)
	r.bodies = [][]string{{"A"}, {"A", "B"}, {"A", "B", "C"}}[r.oneOf(0.35, 0.45, 0.2)]
	for _, b := range r.bodies {
		off := time.Duration(r.NormFloat64() * float64(25*time.Second)) // set by hand from a wrist watch
		switch r.oneOf(0.72, 0.2, 0.08) {
		case 1: // set at another shoot
			off = time.Duration((r.Float64() - 0.5) * float64(50*time.Minute))
		case 2: // summer time
			off += time.Hour * time.Duration(1-2*r.IntN(2))
		}
		r.ahead[b] = off
	}
	r.byDish, r.style = r.chance(how.named), r.IntN(4)
	told := r.chance(how.told)

	// The plan is a list by shooting order: by what the kitchen does that day,
	// which runs along the book with much disorder. Ids count the pages.
	for n, page := range r.shootingOrder() {
		p := recipe(fmt.Sprintf("T%02d", page+1), title(page), 12+2*page, plan.Hero)
		p.Row, p.Day = n+2, first.AddDays(n*thirdDays/thirdDishes)
		r.s.Recipes = append(r.s.Recipes, p)
	}
	due := make([][]int, thirdDays)
	for i := range thirdDishes {
		n := i * thirdDays / thirdDishes
		if r.rate("moved", 0.04) { // what it needs has not come, or came early
			n = min(max(n+[]int{-1, 1, 2, 3}[r.IntN(4)], 0), thirdDays-1)
		}
		due[n] = append(due[n], i)
	}
	for n := range due {
		r.day = first.AddDays(n)
		over, failed := r.shootDay(r.asReady(due[n]), told, n == thirdDays-1)
		if n+1 < thirdDays {
			due[n+1] = append(over, due[n+1]...)
			for _, dish := range failed {
				on := min(n+1+r.IntN(3), thirdDays-1)
				due[on] = slices.Insert(due[on], r.IntN(len(due[on])+1), dish)
			}
			if r.chance(0.1) { // one more picture of a dish of before
				due[n+1] = append(due[n+1], due[n][r.IntN(len(due[n]))])
			}
		}
	}
	return r.s
}

// vary is by what a shoot's own pace or rate of something differs from what is
// stated here, where shoots are redrawn: a factor of 0.6 to 1.6 in two of three.
// Invented for the test.
func (r *third) vary(what string) float64 {
	if !r.redrawn {
		return 1
	}
	by, ok := r.habits[what]
	if !ok {
		by = math.Exp(0.5 * r.NormFloat64())
		r.habits[what] = by
	}
	return by
}

// rate is a chance as this shoot has it.
func (r *third) rate(what string, p float64) bool {
	by := r.vary(what)
	return r.chance(p * by / (1 - p + p*by))
}

// pace is a time as this shoot takes it.
func (r *third) pace(what string, median time.Duration, spread float64) time.Duration {
	return r.lognormal(time.Duration(float64(median)*r.vary(what)), spread)
}

// oneOf draws a place by its share.
func (r *simulator) oneOf(shares ...float64) int {
	x := r.Float64()
	for i, s := range shares {
		if x -= s; x < 0 {
			return i
		}
	}
	return len(shares) - 1
}

func (r *third) shootingOrder() []int {
	key := make([]float64, thirdDishes)
	order := make([]int, thirdDishes)
	for i := range key {
		order[i], key[i] = i, float64(i)+18*r.NormFloat64()
	}
	slices.SortFunc(order, func(a, b int) int {
		if key[a] < key[b] {
			return -1
		}
		return 1
	})
	return order
}

// title names the dish of a page. Titles share words, as a book's do.
func title(page int) string {
	how := []string{"Grilled", "Braised", "Raw", "Poached", "Charred", "Cured", "Fried", "Stuffed"}
	what := []string{"kohlrabi", "hake", "lamb", "chicory", "rhubarb", "squid", "pumpkin", "lentils", "pears", "duck", "fennel"}
	with := []string{"brown butter", "dill", "rye crumbs", "green sauce", "horseradish", "sorrel", "whey", "juniper", "mustard"}
	return how[page%8] + " " + what[(3*page+page/8)%11] + " with " + with[(page+page/9)%9]
}

// asReady is the order of a day as the kitchen is ready: a dish in ten waits for
// one to three others; now and then half a day is cooked in another order, since
// the oven is hot or the light is good.
func (r *third) asReady(list []int) []int {
	list = slices.Clone(list)
	if n := len(list); n > 3 && r.rate("another order", 0.12) {
		half := list[:n/2]
		if r.chance(0.5) {
			half = list[n/2:]
		}
		r.Shuffle(len(half), func(a, b int) { half[a], half[b] = half[b], half[a] })
	}
	for k := len(list) - 2; k >= 0; k-- {
		if r.rate("not ready", 0.1) {
			to := min(k+1+r.IntN(3), len(list)-1)
			dish := list[k]
			list = slices.Insert(slices.Delete(list, k, k+1), to, dish)
		}
	}
	return list
}

// shootDay shoots what it can, and says what is over and what failed.
func (r *third) shootDay(list []int, told, last bool) (over, failed []int) {
	at := time.Date(r.day.Year, time.Month(r.day.Month), r.day.Day, 8, 45, 0, 0, time.UTC).Add(r.lognormal(15*time.Minute, 0.6)) // practice
	ends := at.Add(10 * time.Hour)
	r.folder = r.dayFolder(at)
	if told {
		at = r.showClock(at)
	}
	if r.chance(0.5) { // a grey card in the first light; practice
		r.expose("A", -1, at, r.card())
	}
	lunch, tea := false, !r.chance(0.4)
	for k := 0; k < len(list); k++ {
		if at.After(ends) && !last && r.chance(0.7) {
			return list[k:], failed
		}
		switch {
		case !lunch && at.Hour()*60+at.Minute() >= 12*60+30: // practice
			lunch = true
			at = at.Add(35*time.Minute + time.Duration(r.Float64()*float64(40*time.Minute)))
			if r.byDish && r.chance(0.1) { // the helper is away in the afternoon
				r.folder = "afternoon"
			}
		case !tea && at.Hour() >= 16:
			tea = true
			at = at.Add(10*time.Minute + time.Duration(r.Float64()*float64(10*time.Minute)))
		}
		at = r.between(at)
		s := r.newSet(list[k], "A")
		if k+1 < len(list) && r.rate("two sets", 0.08) { // two sets at once
			at = r.twoSets(s, r.newSet(list[k+1], r.bodies[min(1, len(r.bodies)-1)]), at)
			k++
		} else {
			at = r.proper(s, r.wait(r.begin(s, at)))
			if r.rate("failed", 0.04) { // it fell, it split, it was cold
				failed = append(failed, s.dish)
			} else {
				at = r.more(s, at)
			}
		}
		at = r.strike(s, at)
	}
	return nil, failed
}

// between is from one strike to the next set: mostly a quarter of an hour, little
// where the next set stood beside; in some the market, hands, a portrait.
func (r *third) between(at time.Time) time.Time {
	pause := 3*time.Minute + r.pace("between", 12*time.Minute, 0.6)
	if r.rate("beside", 0.2) {
		pause = r.lognormal(3*time.Minute, 0.4)
	}
	free, body := at.Add(pause/3), r.bodies[len(r.bodies)-1]
	switch r.oneOf(0.12, 0.04, 0.84) {
	case 0:
		for range 1 + r.IntN(4) {
			r.expose(body, -1, free, r.anything())
			free = free.Add(r.lognormal(9*time.Second, 1))
		}
	case 1: // the author at the window, a crate of what is in season: no dish of the plan
		a := r.anything()
		for range 6 + int(10*r.ExpFloat64()) {
			r.expose(body, -1, free, r.again(a))
			free = free.Add(r.lognormal(14*time.Second, 0.9))
		}
		pause += free.Sub(at) / 2
	}
	if end := at.Add(pause); end.After(free) {
		return end
	}
	return free.Add(time.Minute)
}

// twoSets shoots two dishes beside each other: with two bodies at the same time,
// with one by turns.
func (r *third) twoSets(a, b thirdSet, at time.Time) time.Time {
	if a.body != b.body {
		one := r.more(a, r.proper(a, r.wait(r.begin(a, at))))
		two := r.begin(b, at.Add(r.lognormal(7*time.Minute, 0.6)))
		if two = r.proper(b, r.wait(two)); two.After(one) {
			return two
		}
		return one
	}
	at = r.begin(a, at)
	at = r.begin(b, at.Add(r.lognormal(2*time.Minute, 0.5))) // b was ready first
	at = r.more(b, r.proper(b, r.wait(at)))
	at = at.Add(r.lognormal(2*time.Minute, 0.5))
	if a.slated && r.chance(0.5) { // shown again
		at = r.slateOf(a, a.body, at)
	}
	return r.more(a, r.proper(a, at))
}

// strike ends a set: a last slate where it was forgotten, the phone, the log.
func (r *third) strike(s thirdSet, at time.Time) time.Time {
	if s.late && !*s.shown && r.chance(0.5) {
		at = r.slateOf(s, s.body, at)
	}
	if r.rate("phone", 0.3) { // the author's, for a post
		r.phone(s, at.Add(-time.Duration(r.Float64()*float64(12*time.Minute))))
	}
	if r.logged > 0 && r.chance(0.4) {
		r.note("", at.Add(r.lognormal(time.Minute, 0.8)))
	}
	return at
}

// note is a line of the log; dish "" is that nothing is on set.
func (r *third) note(dish string, at time.Time) {
	r.s.Decisions = append(r.s.Decisions, catalogue.Decision{ID: int64(len(r.s.Decisions) + 1), At: at, Kind: catalogue.On, Recipe: dish, From: at})
}

// dayFolder is where the tethered machine writes by itself.
func (r *third) dayFolder(at time.Time) string { return "tether/" + at.Format("2006-01-02") }

// folderOf names a folder by hand: in one of four styles a shoot, one in thirty
// after another dish of the list, one in twenty misspelt.
func (r *third) folderOf(dish int) string {
	if r.rate("misnamed", 1.0/30) {
		dish = min(max(dish+1-2*r.IntN(2), 0), thirdDishes-1)
	}
	p := r.s.Recipes[dish]
	words := strings.Fields(strings.ToLower(p.Title))
	name := []string{p.ID + " " + p.Title, p.Title, words[0] + " " + words[1], strings.Join(words, "-")}[r.style]
	if at := 1 + r.IntN(len(name)-1); r.chance(0.05) {
		name = name[:at] + name[at+1:]
	}
	return "tether/" + name
}

// steps draws how many frames: at least some, and more with a long tail.
func (r *third) steps(least int, more float64) int {
	return least + int(math.Floor(more*r.ExpFloat64()))
}
