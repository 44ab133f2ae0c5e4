package audit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// A second family of simulated shoots, drawn otherwise than the first in all that
// tells dishes apart, so that what was set with the first in sight can be seen to
// hold: pauses have heavy tails, dishes change places in blocks, a helper names
// folders by sessions and late, the second body comes for visits, days have other
// breaks. No constant of the engine was set on it. As common practice has it, no
// source.

// habit is how a crew of the second family works. Shares are 0 … 1.
type habit struct {
	name     string
	slated   float64 // of dishes have a slate
	late     float64 // of these have it after the first arrangement's first frames
	misread  float64 // of slates are of a dish of the same day that is not on set
	folders  float64 // of dishes of the first body have a folder of their own
	behind   float64 // of dishes begin in the folder of the dish before, and move in the middle
	sessions float64 // of half days have one folder, named after its first dish
	blocks   float64 // of days have a block of two to four dishes moved or turned round
	moved    float64 // of dishes are shot on another day
}

var habits = []habit{
	{"slates, as planned", 0.9, 0.1, 0.005, 0.3, 0.05, 0, 0.15, 0.03},
	{"slates, in blocks", 0.9, 0.1, 0.005, 0.3, 0.05, 0, 0.6, 0.06},
	{"some slates, a helper's folders", 0.65, 0.2, 0.01, 0.5, 0.15, 0.1, 0.4, 0.08},
	{"a helper's folders alone", 0, 0, 0, 0.6, 0.1, 0.05, 0.4, 0.06},
	{"times and a plan that is kept", 0, 0, 0, 0, 0, 0, 0.05, 0.02},
}

// tailed is a time with a median and a heavy tail: a log-logistic one of that
// shape, whose mean is long, or without end from a shape of 1 down.
func (r *simulator) tailed(median time.Duration, shape float64) time.Duration {
	u := 0.01 + 0.985*r.Float64()
	return time.Duration(float64(median) * math.Pow(u/(1-u), 1/shape))
}

// simulateOther shoots a book of sixty dishes in seven days.
func simulateOther(seed uint64, how habit) *simulated {
	const days, dishes = 7, 60
	r := &simulator{Rand: rand.New(rand.NewPCG(seed, 4711)), looks: map[int]dishLook{},
		s: &simulated{truth: map[catalogue.FrameID]string{}, slate: map[catalogue.FrameID]bool{}}}
	r.s.Shoot = shootOf(nil, nil)
	first := plan.Day{Year: 2026, Month: 9, Day: 7}
	r.s.Book.FirstDay, r.s.Book.LastDay = first, first.AddDays(days-1)
	kinds := []string{"Broth", "Tart", "Salad", "Bread", "Stew", "Pie", "Relish", "Pudding", "Dumplings", "Roast"}
	of := []string{"nettles", "mussels", "quince", "buckwheat", "celeriac", "hazelnuts"}
	for i := range dishes {
		p := recipe(fmt.Sprintf("K%03d", 3*i+5), kinds[i%10]+" with "+of[i/10], 10+2*i, plan.Hero)
		p.Row, p.Day = i+2, first.AddDays(i*days/dishes)
		r.s.Recipes = append(r.s.Recipes, p)
	}
	for i := range r.base {
		r.base[i] = colour.Lab{L: 20 + 12*float64(i), A: 6 + 8*r.NormFloat64(), B: 15 + 10*r.NormFloat64()}
	}
	for i := range r.surfaces {
		r.surfaces[i] = colour.Lab{L: 30 + 60*r.Float64(), A: 3 * r.NormFloat64(), B: 6 + 6*r.NormFloat64()}
	}
	by := make([][]int, days)
	for i := range dishes {
		day := i * days / dishes
		if r.chance(how.moved) {
			day = min(max(day+[]int{-1, 1, 2}[r.IntN(3)], 0), days-1)
		}
		by[day] = append(by[day], i)
	}
	for n, list := range by {
		if r.chance(how.blocks) && len(list) > 3 {
			size := 2 + r.IntN(min(3, len(list)-2))
			from := r.IntN(len(list) - size)
			block := slices.Clone(list[from : from+size])
			if r.chance(0.5) {
				slices.Reverse(block)
				copy(list[from:], block)
			} else {
				list = slices.Delete(slices.Clone(list), from, from+size)
				list = slices.Insert(list, r.IntN(len(list)+1), block...)
			}
		}
		if n > 0 && r.chance(0.2) {
			list = append(list, by[n-1][r.IntN(len(by[n-1]))]) // one more picture of a dish of the day before
		}
		r.visitDay(how, first.AddDays(n), list)
	}
	return r.s
}

// visitDay shoots a day: one half, a meal at a table, the other half.
func (r *simulator) visitDay(how habit, day plan.Day, list []int) {
	at := time.Date(day.Year, time.Month(day.Month), day.Day, 7, 45, 0, 0, time.UTC).Add(r.tailed(25*time.Minute, 3))
	folder, before := "", -1
	for k, dish := range list {
		if k == 0 || k == len(list)/2 {
			if folder = ""; r.chance(how.sessions) {
				folder = r.folderOf(dish)
			}
			if k > 0 {
				at = at.Add(40*time.Minute + time.Duration(r.ExpFloat64()*float64(15*time.Minute)))
			}
		}
		if r.chance(0.1) { // the market, a dog, the crew at their meal
			gone := at
			for range 1 + r.IntN(5) {
				r.frame("A", -1, gone, nil, -1)
				gone = gone.Add(r.tailed(9*time.Second, 1.5))
			}
			at = gone.Add(r.tailed(4*time.Minute, 2))
		}
		at = r.visit(how, dish, before, at, folder)
		before = dish
		at = at.Add(4*time.Minute + r.tailed(13*time.Minute, 2.2))
	}
}

func (r *simulator) folderOf(dish int) string {
	return r.s.Recipes[dish].Title // a helper writes titles, not numbers
}

// visit shoots one dish; the second body comes once, for a while.
func (r *simulator) visit(how habit, dish, before int, at time.Time, session string) time.Time {
	own, old := session, ""
	if session == "" && r.chance(how.folders) {
		own = r.folderOf(dish)
		if before >= 0 && r.chance(how.behind) {
			old = r.folderOf(before)
		}
	}
	slated := r.chance(how.slated)
	late := slated && r.chance(how.late)
	show := func(body string) {
		at = at.Add(r.tailed(12*time.Second, 2))
		shown := dish
		if r.chance(how.misread) {
			shown = min(max(dish+2-r.IntN(5), 0), len(r.s.Recipes)-1)
		}
		r.showSlate(body, shown, at)
		id := r.s.Frames[len(r.s.Frames)-1].ID
		r.s.truth[id] = r.s.Recipes[dish].ID
		at = at.Add(r.tailed(18*time.Second, 2))
	}
	if slated && !late {
		show("A")
	}
	look := r.look(dish)
	n := 6 + int(r.ExpFloat64()*22)
	visitAt := r.IntN(n)
	setup := look
	for k := range n {
		if k == 0 || r.chance(0.12) { // another arrangement
			if k > 0 {
				at = at.Add(r.tailed(150*time.Second, 1.7))
			}
			setup = look
			for i := range setup.swatches {
				setup.swatches[i] = r.shift(setup.swatches[i], simSetup)
			}
		}
		at = at.Add(r.tailed(11*time.Second, 1.6))
		folder := own
		if old != "" && k < n/2 {
			folder = old
		}
		r.frame("A", dish, at, &setup, look.surface, folder)
		if late && k == min(n-1, 2) {
			show("A")
		}
		if k == visitAt && r.chance(0.4) {
			b := at.Add(r.tailed(20*time.Second, 2))
			other := look
			for i := range other.swatches {
				other.swatches[i] = r.shift(other.swatches[i], simSetup)
			}
			for range 2 + r.IntN(12) {
				b = b.Add(r.tailed(8*time.Second, 1.6))
				r.frame("B", dish, b, &other, look.surface)
			}
		}
	}
	return at
}
