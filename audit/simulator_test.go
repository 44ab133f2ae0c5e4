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

// A simulator of shooting days. It shares no constant with what it tests: how
// long pauses are, how often a slate is forgotten and how pictures differ is
// stated here, as common practice has it (no source), but for the distances of
// pictures, which are those measured on photographs (DEVELOPERS.md, "How far
// palettes lie apart"; TestSimulatedLooks).

// discipline is how a crew works. Shares are 0 … 1.
type discipline struct {
	name      string
	slated    float64 // of dishes have a slate
	late      float64 // of slates are shown after the first frames
	wrong     float64 // of slates name another dish
	corrected float64 // of these are followed by the right one
	folders   float64 // of dishes of the first body are shot into a folder of their own
	stale     float64 // of dishes land in the folder of the dish before instead
	logged    float64 // of dishes are noted in the log, a few minutes off
	ordered   float64 // of dishes are shot in the order of the plan
	onDay     float64 // of dishes are shot on their day
}

// disciplines are the four levels that the table speaks of, and one more: the
// drilled crew with a slate on nine dishes of ten.
var disciplines = []discipline{
	{"drilled", 0.98, 0.03, 0.005, 0.9, 0.6, 0.01, 0, 0.95, 0.97},
	{"nine slates of ten, else drilled", 0.90, 0.08, 0.01, 0.8, 0.6, 0.015, 0, 0.95, 0.97},
	{"usual", 0.90, 0.08, 0.01, 0.8, 0.4, 0.015, 0, 0.85, 0.92},
	{"loose", 0.60, 0.15, 0.02, 0.6, 0.2, 0.03, 0.3, 0.7, 0.85},
	{"times and plan alone", 0, 0, 0, 0, 0, 0, 0, 0.85, 0.92},
}

const (
	simDays   = 8
	simDishes = 76
)

// simulated is a shoot with its truth.
type simulated struct {
	Shoot
	truth map[catalogue.FrameID]string // "" no dish of the plan
	slate map[catalogue.FrameID]bool   // a slate stands in it: it counts for nothing
}

type simulator struct {
	*rand.Rand
	discipline
	s        *simulated
	base     [6]colour.Lab
	surfaces [12]colour.Lab
	looks    map[int]dishLook
	n        int
}

type dishLook struct {
	swatches [6]colour.Lab
	surface  int
}

func (r *simulator) chance(p float64) bool { return r.Float64() < p }

// lognormal has its median and the standard deviation of its logarithm.
func (r *simulator) lognormal(median time.Duration, spread float64) time.Duration {
	return time.Duration(float64(median) * math.Exp(spread*r.NormFloat64()))
}

func (r *simulator) shift(c colour.Lab, by float64) colour.Lab {
	return colour.Lab{L: min(max(c.L+by*r.NormFloat64(), 0), 100), A: c.A + by*r.NormFloat64(), B: c.B + by*r.NormFloat64()}
}

// How far swatches stray in Lab, so that palettes are as far apart as those of
// photographs.
const (
	simFrame = 3.0  // frames of one arrangement
	simSetup = 9.0  // arrangements of a dish
	simDish  = 12.0 // dishes
)

// simulate shoots a book in eight days.
func simulate(seed uint64, how discipline) *simulated {
	r := &simulator{Rand: rand.New(rand.NewPCG(seed, 77)), discipline: how, looks: map[int]dishLook{},
		s: &simulated{truth: map[catalogue.FrameID]string{}, slate: map[catalogue.FrameID]bool{}}}
	r.s.Shoot = shootOf(nil, nil)
	first := plan.Day{Year: 2026, Month: 3, Day: 2}
	r.s.Book.FirstDay, r.s.Book.LastDay = first, first.AddDays(simDays-1)
	adjectives := []string{"Dark", "Smoked", "Baked", "Pickled", "Roasted", "Salted", "Sour", "Sweet"}
	things := []string{"rye", "trout", "plums", "beetroot", "barley", "leeks", "cabbage", "carrots", "oats", "peas"}
	for i := range simDishes {
		p := recipe(fmt.Sprintf("R%02d", i+1), adjectives[i%8]+" "+things[i%10]+" "+things[(i/10+3*i)%10], 11+2*i, plan.Hero)
		p.Row, p.Day = i+2, first.AddDays(i*simDays/simDishes)
		r.s.Recipes = append(r.s.Recipes, p)
	}
	for i := range r.base {
		r.base[i] = colour.Lab{L: 25 + 10*float64(i), A: 4 + 6*r.NormFloat64(), B: 12 + 8*r.NormFloat64()}
	}
	for i := range r.surfaces {
		r.surfaces[i] = colour.Lab{L: 20 + 65*r.Float64(), A: 4 * r.NormFloat64(), B: 8 + 8*r.NormFloat64()}
	}
	days := make([][]int, simDays)
	for i := range simDishes {
		day := i * simDays / simDishes
		if !r.chance(r.onDay) {
			day = r.IntN(simDays)
		}
		days[day] = append(days[day], i)
	}
	for n, dishes := range days {
		for k := range len(dishes) - 1 { // out of order: two change places
			if !r.chance(r.ordered) {
				dishes[k], dishes[k+1] = dishes[k+1], dishes[k]
			}
		}
		if n > 0 && r.chance(0.25) { // reshot on another day
			again := days[n-1][r.IntN(len(days[n-1]))]
			dishes = slices.Insert(dishes, r.IntN(len(dishes)+1), again)
		}
		r.day(first.AddDays(n), dishes)
	}
	return r.s
}

func (r *simulator) look(dish int) dishLook {
	l, ok := r.looks[dish]
	if !ok {
		for i, c := range r.base {
			l.swatches[i] = r.shift(c, simDish)
		}
		l.surface = r.IntN(len(r.surfaces))
		r.looks[dish] = l
	}
	return l
}

// day shoots the dishes of one day.
func (r *simulator) day(day plan.Day, dishes []int) {
	at := time.Date(day.Year, time.Month(day.Month), day.Day, 8, 20, 0, 0, time.UTC).Add(r.lognormal(20*time.Minute, 0.5))
	lunch := false
	before := -1
	for _, dish := range dishes {
		if !lunch && at.Hour() >= 12 {
			lunch = true
			at = at.Add(45*time.Minute + time.Duration(r.Float64()*float64(30*time.Minute)))
		}
		if r.chance(0.12) { // the cook's hands, the boat, someone's coffee
			gone := at.Add(r.lognormal(6*time.Minute, 0.6))
			for range 1 + r.IntN(3) {
				r.frame("A", -1, gone, nil, -1)
				gone = gone.Add(r.lognormal(12*time.Second, 0.8))
			}
			at = gone.Add(r.lognormal(6*time.Minute, 0.6))
		}
		at = r.dish(dish, before, at)
		before = dish
		at = at.Add(r.lognormal(22*time.Minute, 0.6))
	}
}

// dish shoots one dish: arrangements one after another, the second body in
// some of them.
func (r *simulator) dish(dish, before int, at time.Time) time.Time {
	slated, late := r.chance(r.slated), r.chance(r.late)
	folder := ""
	if r.chance(r.folders) {
		named := dish
		if before >= 0 && r.chance(r.stale) {
			named = before
		}
		folder = r.s.Recipes[named].ID + " " + r.s.Recipes[named].Title
	}
	if r.chance(r.logged) {
		r.s.Decisions = append(r.s.Decisions, catalogue.Decision{ID: int64(len(r.s.Decisions) + 1), Kind: catalogue.On, Recipe: r.s.Recipes[dish].ID,
			From: at.Add(time.Duration(r.NormFloat64() * float64(3*time.Minute)))})
	}
	second := r.chance(0.6)
	if slated && !late {
		at = r.slates("A", dish, at)
	}
	look := r.look(dish)
	shown := 0
	secondSlated := false
	for range 1 + r.IntN(4) {
		setup := look
		for i := range setup.swatches {
			setup.swatches[i] = r.shift(setup.swatches[i], simSetup)
		}
		from := at
		for range 1 + int(r.ExpFloat64()*8) {
			at = at.Add(r.lognormal(15*time.Second, 1))
			r.frame("A", dish, at, &setup, look.surface, folder)
			shown++
			if slated && late && shown == 1+r.IntN(4) {
				at = r.slates("A", dish, at)
				late = false
			}
		}
		if second && r.chance(0.7) {
			b := from.Add(r.lognormal(40*time.Second, 0.8))
			if slated && !secondSlated && r.chance(0.6) {
				b = r.slates("B", dish, b)
			}
			secondSlated = true
			other := look
			for i := range other.swatches {
				other.swatches[i] = r.shift(other.swatches[i], simSetup)
			}
			for range 1 + int(r.ExpFloat64()*4) {
				b = b.Add(r.lognormal(20*time.Second, 1))
				r.frame("B", dish, b, &other, look.surface)
			}
			if b.After(at) {
				at = b
			}
		}
		at = at.Add(r.lognormal(4*time.Minute, 0.6))
	}
	return at
}

// slates shows a slate, now and then a wrong one.
func (r *simulator) slates(body string, dish int, at time.Time) time.Time {
	at = at.Add(r.lognormal(15*time.Second, 0.5))
	if r.chance(r.wrong) {
		wrong := min(max(dish+1-2*r.IntN(2), 0), simDishes-1)
		if wrong != dish {
			r.showSlate(body, wrong, at)
			if !r.chance(r.corrected) {
				return at.Add(r.lognormal(20*time.Second, 0.5))
			}
			at = at.Add(r.lognormal(25*time.Second, 0.5))
		}
	}
	r.showSlate(body, dish, at)
	return at.Add(r.lognormal(20*time.Second, 0.5))
}

func (r *simulator) showSlate(body string, dish int, at time.Time) {
	id := r.frame(body, dish, at, nil, -1)
	f := &r.s.Frames[len(r.s.Frames)-1]
	f.Look.Slate = &catalogue.Slate{Text: "slate " + r.s.Recipes[dish].ID, Recipe: r.s.Recipes[dish].ID}
	f.Look.Palette = []colour.Swatch{{Lab: colour.Lab{L: 95}, Share: 0.7}, {Lab: colour.Lab{L: 8}, Share: 0.3}}
	r.s.slate[id] = true
}

// frame takes one frame; look nil is of nothing that was seen before.
func (r *simulator) frame(body string, dish int, at time.Time, look *dishLook, surface int, folder ...string) catalogue.FrameID {
	if look == nil {
		look = &dishLook{}
		for i, c := range r.base {
			look.swatches[i] = r.shift(c, 1.5*simDish)
		}
		surface = r.IntN(len(r.surfaces))
	}
	var palette []colour.Swatch
	for _, c := range look.swatches {
		palette = append(palette, colour.Swatch{Lab: r.shift(c, simFrame), Share: 1.0 / 6})
	}
	in := ""
	if len(folder) > 0 {
		in = folder[0]
	}
	return r.put(body, dish, at, in, palette, &colour.Swatch{Lab: r.shift(r.surfaces[surface], simFrame), Share: 0.6}).ID
}

// put lays a frame before the matcher, and notes its truth; dish -1 is none of
// the plan. The frame may be changed until the next is put.
func (r *simulator) put(body string, dish int, at time.Time, folder string, palette []colour.Swatch, surface *colour.Swatch) *catalogue.Frame {
	r.n++
	name := fmt.Sprintf("SK%s_%04d.JPG", body, r.n%10000)
	f := shotAt(fmt.Sprintf("%s-%d", name, r.n), 0)
	f.Files[0].Name, f.Files[0].Path, f.Files[0].Source = name, fmt.Sprintf("originals/%d/%s", r.n, name), "DCIM/100SKARV/"+name
	f.Taken, f.Camera.Serial = at.Truncate(10*time.Millisecond), body
	if folder != "" {
		f.Files[0].Source = folder + "/" + name
	}
	f.Look.Palette, f.Look.Surface = palette, surface
	r.s.Frames = append(r.s.Frames, f)
	r.s.truth[f.ID] = ""
	if dish >= 0 {
		r.s.truth[f.ID] = r.s.Recipes[dish].ID
	}
	return &r.s.Frames[len(r.s.Frames)-1]
}

// tally counts how well frames were matched; slates are left out.
type tally struct {
	frames, right, wrong, unplaced int     // unplaced of frames that show a dish; of others it is right
	strays                         int     // of wrong, those that show no dish
	placed                         int     // given to a dish
	doubt                          float64 // of those placed: sum of 1 − odds; so many should be wrong
	reliability
}

func (t *tally) add(s *simulated) {
	for _, p := range lay(s.Shoot).placed {
		if s.slate[p.Frame] {
			continue
		}
		truth := s.truth[p.Frame]
		t.frames++
		switch {
		case p.Recipe == truth:
			t.right++
		case p.Recipe == "":
			t.unplaced++
		default:
			if t.wrong++; truth == "" {
				t.strays++
			}
		}
		switch {
		case p.Recipe != "":
			t.placed++
			t.doubt += 1 - p.Odds
			t.reliability.add(p.Odds, p.Recipe == truth)
		case p.Odds > 0 && len(p.guesses) > 0:
			t.reliability.add(p.Odds, p.guesses[0] == truth)
		default:
			t.without++
		}
	}
}

func ofHundred(n, of int) float64 { return 100 * float64(n) / math.Max(float64(of), 1) }
