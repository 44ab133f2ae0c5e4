package audit

import (
	"math"
	"slices"
	"time"
)

// manner is how one shoot goes about its work, drawn anew for each.
type manner struct {
	bodies         []string // "A" is the one that the cable is for
	holds          int      // where the second body is: see the constants
	tethered       bool
	lamps          bool // else by daylight, which goes
	tables, stoves int
	ahead          int // so many dishes the kitchen begins before they are asked for
	clocked        int // the running clock is shown: 0 never, 1 on the first day, 2 each morning

	starts, lunch, meal, wraps           time.Duration // after midnight; meal: how long
	every, light, plate, dress, restyle  time.Duration // medians: from frame to frame, lamps moved, from pan to table, a set laid, an arrangement
	strike, seenAfter, walk              time.Duration
	spread, frames                       float64 // of the logarithm of times; how many frames, 1 the middle
	moves, swaps, byTurn, stays          float64 // see where they are used; stays and byTurn in minutes
	lays, pours, styles, hand, assists   float64
	fails, dislikes, pickups             float64
	arm                                  bool // overheads of several dishes are taken in a row
	greys, strays, kitchen, posts, chats float64
	breaks, unplugs                      float64 // a step; a day
	board                                float64 // the next dish stands on what lies there

	early, corner, leftLying, both, unread, anew float64 // slates
	byDish                                       bool    // folders
	style, mode                                  int
	root, under                                  string
	switches, notices, named, misspelt           float64
	prompt, before, rounded, relogs, offs        float64 // the log
	forBody                                      bool
}

// Where the second body is.
const (
	inHand = iota
	onTable
	withAssistant
)

func (r *fourth) draw() manner {
	m := manner{bodies: [][]string{{"A"}, {"A", "B"}, {"A", "B", "C"}}[r.oneOf(0.3, 0.5, 0.2)], holds: r.oneOf(0.5, 0.25, 0.25),
		lamps: r.chance(0.4), tables: 1 + r.oneOf(0.55, 0.45), stoves: 2 + r.IntN(2), ahead: 2 + r.IntN(3),
		starts: 8*time.Hour + r.minutes(10, 110), lunch: 12*time.Hour + r.minutes(10, 100), meal: r.minutes(25, 80),
		every: r.minutes(0.12, 0.6), light: r.minutes(0.4, 1.6), plate: r.minutes(1.5, 9), dress: r.minutes(3, 14), restyle: r.minutes(1, 6),
		strike: r.minutes(1.5, 8), seenAfter: r.minutes(2, 25), walk: r.minutes(0.2, 1.2),
		spread: r.span(0.5, 1.1), frames: r.span(0.5, 1.8), moves: r.span(0.01, 0.12), swaps: r.span(0.02, 0.25), byTurn: r.span(1.5, 30), stays: r.span(4, 40),
		lays: r.Float64(), pours: r.span(0.02, 0.25), styles: r.span(0.05, 0.3), hand: r.Float64(), assists: r.span(0.1, 0.8),
		fails: r.span(0.01, 0.08), dislikes: r.span(0.005, 0.05), pickups: r.span(0.005, 0.04), arm: r.chance(0.35),
		greys: r.span(0.02, 0.5), strays: r.span(0.002, 0.015), kitchen: r.span(0.02, 0.3), posts: r.span(0.05, 0.6), chats: r.span(0.02, 0.3),
		breaks: r.span(0.005, 0.06), unplugs: r.span(0.1, 1.5), board: r.span(0.05, 0.6),
		early: r.span(0.02, 0.3), corner: r.span(0.02, 0.4), leftLying: r.span(0.005, 0.05), both: r.Float64(), unread: r.span(0.01, 0.08), anew: r.Float64(),
		style: r.IntN(5), mode: r.oneOf(0.6, 0.2, 0.2), root: []string{"tether", "Skerry Table", "sessions/spring", "book"}[r.IntN(4)], under: []string{"", "", "/shots"}[r.IntN(3)],
		switches: r.span(0.25, 1), notices: r.span(0.1, 0.6), named: r.span(0.005, 0.04), misspelt: r.span(0.01, 0.08),
		prompt: r.span(0.4, 0.95), before: r.span(0.02, 0.3), rounded: r.Float64(), relogs: r.span(0.05, 0.6), offs: r.Float64(), forBody: r.chance(0.3)}
	m.byDish = r.chance(r.folders)
	m.tethered = m.byDish || r.chance(0.75)
	m.wraps = 19 * time.Hour
	if !m.lamps { // practice: light from a north window; by the month
		m.wraps = map[time.Month]time.Duration{2: 16*time.Hour + 40*time.Minute, 5: 19 * time.Hour, 8: 18*time.Hour + 45*time.Minute, 10: 17 * time.Hour}[r.days[0].Month]
	}
	m.fit(r.minutes(34, 50))
	if r.chance(r.told) {
		m.clocked = 1 + r.IntN(2)
	}
	return m
}

// fit makes a crew as quick as its book wants, since who works slowly agrees on
// fewer dishes: a dish takes about so long, whichever of its steps takes most.
func (m *manner) fit(dish time.Duration) {
	mean := math.Exp(m.spread * m.spread / 2)
	frames := mean * m.every.Minutes() * (5.5 + 15*m.frames)
	trials := mean * m.light.Minutes() * (2.5 + 4*m.frames)
	waits := m.dress + m.plate + m.strike + 3*m.restyle/2
	by := math.Pow(dish.Minutes()/(1.15*waits.Minutes()+frames+trials), 0.85)
	for _, t := range []*time.Duration{&m.every, &m.light, &m.dress, &m.plate, &m.strike, &m.restyle} {
		*t = time.Duration(by * float64(*t))
	}
}

// course is a dish on its way through the kitchen to the camera.
type course struct {
	dish  int
	again bool // it was shot before
	only  bool // one more picture of it is wanted, and no tests
	ready time.Time
	begun bool
}

// kitchen cooks on so many stoves, in the order of the running sheet.
type kitchen struct {
	list  []course
	begun int
	free  []time.Time // when each stove is
	opens time.Time
}

// cook begins what may be begun: the kitchen doesn't run far ahead.
func (r *fourth) cook(k *kitchen, at time.Time, gone int) {
	for k.begun < len(k.list) && k.begun < gone+r.ahead {
		from := k.opens
		if k.begun >= r.ahead {
			from = at.Add(-r.takes(6*time.Minute, 0.5))
		}
		stove := 0
		for n, free := range k.free {
			if free.Before(k.free[stove]) {
				stove = n
			}
		}
		if k.free[stove].After(from) {
			from = k.free[stove]
		}
		c := &k.list[k.begun]
		w := r.wants[c.dish]
		k.free[stove] = from.Add(r.takes(w.cooks, 0.2))
		c.ready, c.begun = k.free[stove], true
		if !w.keeps || r.chance(0.6) { // else it was baked the evening before
			c.ready = c.ready.Add(r.takes(w.bakes, 0.2))
		}
		k.begun++
	}
}

// next takes the dish that is laid next: what is ready soon, in the order of the
// sheet, but for a dish that would spoil.
func (r *fourth) next(k *kitchen, at time.Time) *course {
	best, least := -1, math.Inf(1)
	turn := 0.0
	for n := range k.list {
		c := &k.list[n]
		if !c.begun || c.dish < 0 {
			continue
		}
		cost := max(c.ready.Sub(at).Minutes()-r.dress.Minutes(), 0) + r.byTurn*turn
		if turn++; !r.wants[c.dish].keeps && c.ready.Before(at) {
			cost -= 25
		}
		if cost < least {
			best, least = n, cost
		}
	}
	if best < 0 {
		return nil
	}
	c := k.list[best]
	k.list[best].dish = -1
	return &c
}

// shootDay shoots what it can, and says what is over, and what is wanted again
// on one of the next days.
func (r *fourth) shootDay(n int) (over, later []course) {
	r.today, r.pressed = math.Exp(0.15*r.NormFloat64()), len(r.due[n]) > len(r.wants)/fourthDays+2
	midnight := r.first.AddDate(0, 0, r.days[n].Sub(r.days[0]))
	at := midnight.Add(r.starts + time.Duration(r.NormFloat64()*float64(8*time.Minute)))
	ends, lunch := midnight.Add(r.wraps), midnight.Add(r.lunch)
	if ends = ends.Add(time.Duration(20 * r.NormFloat64() * float64(time.Minute))); !r.lamps && r.chance(0.3) {
		ends = ends.Add(-r.minutes(10, 80)) // a dark day
	}
	switch { // under lamps, if need be
	case n == fourthDays-1:
		ends = midnight.Add(22*time.Hour + 30*time.Minute)
	case r.pressed:
		ends = ends.Add(r.minutes(20, 100))
	}
	for range r.some(0, r.unplugs) {
		r.cut = append(r.cut, at.Add(time.Duration(r.Float64()*float64(9*time.Hour))))
	}
	at = r.morning(n, at)
	k := &kitchen{list: slices.Clone(r.due[n]), free: make([]time.Time, r.stoves), opens: at.Add(-r.minutes(20, 90))}
	var standing []*stand
	var shot []int
	here, gone, idle := 0, 0, 0
	eaten := false
	for {
		r.cook(k, at, gone)
		for len(standing) < r.tables && at.Before(ends) && (len(standing) == 0 || r.chance(r.lays)) {
			c := r.next(k, at)
			if c == nil {
				break
			}
			gone++
			r.cook(k, at, gone)
			table := 0
			if len(standing) > 0 {
				table = 1 - standing[0].table
			} else if r.tables > 1 && r.chance(0.5) {
				table = 1 - here
			}
			standing = append(standing, r.lay(*c, table, at, len(standing) == 0))
		}
		if len(standing) == 0 {
			break
		}
		s := r.goTo(standing, here)
		if gap := s.avail.Sub(at); gap > 0 {
			r.meanwhile(k, at, gap)
			at = s.avail
		}
		if s.table != here {
			at = at.Add(r.takes(r.walk, 0.5))
		}
		here = s.table
		if !at.Before(ends) {
			s.hurried = true
		}
		at = r.step(s, at)
		if len(s.steps) == 0 {
			standing = slices.DeleteFunc(standing, func(o *stand) bool { return o == s })
			at = r.struck(s, at)
			if s.fell && (ends.Sub(at) > 2*time.Hour && r.chance(0.6)) { // cooked once more
				k.list = append(k.list, course{dish: s.dish, again: true})
			} else if s.fell {
				later = append(later, course{dish: s.dish, again: true})
			} else {
				shot = append(shot, s.dish)
			}
		}
		switch {
		case !eaten && at.After(lunch) && (len(standing) == 0 || at.After(lunch.Add(50*time.Minute)) || r.chance(0.25)):
			eaten = true
			at = r.atLunch(at)
			at = r.overheads(at, 2)
		case r.chance(r.breaks): // the telephone, a delivery, a cloud
			at = at.Add(r.takes(9*time.Minute, 0.7))
		case at.Hour() >= 15 && idle == 0 && r.chance(0.2): // tea; practice
			idle++
			at = at.Add(r.takes(13*time.Minute, 0.4))
		}
	}
	at = r.overheads(at, 1)
	r.evening(at)
	for _, c := range k.list {
		if c.dish >= 0 {
			over = append(over, course{dish: c.dish, again: c.again, only: c.only})
		}
	}
	for _, dish := range shot { // looked at in the evening
		if r.chance(r.dislikes) {
			later = append(later, course{dish: dish, again: true})
		} else if r.chance(r.pickups) {
			later = append(later, course{dish: dish, again: true, only: true})
		}
	}
	return over, later
}

// goTo is the set where something can be shot first; the photographer rather stays.
func (r *fourth) goTo(standing []*stand, here int) *stand {
	best := standing[0]
	when := func(s *stand) time.Time {
		if s.table == here {
			return s.avail.Add(-time.Duration(r.stays * float64(time.Minute)))
		}
		return s.avail
	}
	for _, s := range standing[1:] {
		if when(s).Before(when(best)) {
			best = s
		}
	}
	return best
}

// morning shows the clock, holds a grey card into the first light, and on some
// days was at the market or the harbour before.
func (r *fourth) morning(n int, at time.Time) time.Time {
	r.dayFolder(at.Add(-2 * time.Hour))
	hand := r.bodies[len(r.bodies)-1]
	if r.chance(0.15) {
		r.nothing(hand, at.Add(-r.minutes(30, 80)), r.some(4, 12), 14*time.Second)
	}
	if r.clocked == 2 || r.clocked == 1 && n == 0 {
		at = r.showClock(at)
	}
	if r.chance(r.greys) {
		r.expose(nil, "A", at, r.card())
		at = at.Add(r.takes(40*time.Second, 0.5))
	}
	return at
}

// meanwhile is what is photographed while nothing is on the table: the kitchen at
// work on a dish, hands, the author at the door, a chapter's opening picture.
func (r *fourth) meanwhile(k *kitchen, at time.Time, gap time.Duration) {
	if gap < 3*time.Minute {
		return
	}
	hand := r.bodies[len(r.bodies)-1]
	if r.chance(r.kitchen) {
		var cooking []int
		for _, c := range k.list {
			if c.dish >= 0 && c.begun && c.ready.After(at) {
				cooking = append(cooking, c.dish)
			}
		}
		from := at.Add(gap / 6)
		switch {
		case len(cooking) > 0 && r.chance(0.7):
			dish := cooking[r.IntN(len(cooking))]
			s := &stand{course: course{dish: dish}, body: hand, look: r.arrange(r.of(dish), 1.8), inHands: true}
			if r.chance(0.3) {
				r.phone(s, from)
			} else {
				r.series(s, hand, from, r.some(2, 5*r.frames), 6*time.Second, s.look)
			}
		case r.chance(0.6):
			r.nothing(hand, from, r.some(1, 4), 8*time.Second)
		case gap > 9*time.Minute: // a portrait; crates and jars for the opening of a chapter
			r.nothing([]string{"A", hand}[r.IntN(2)], from, min(r.some(5, 9), int(gap/(40*time.Second))), 18*time.Second)
		}
	}
	if r.chance(5 * r.strays) {
		r.nothing("A", at.Add(gap/2), 1, time.Second)
	}
}

// nothing is n frames that show no dish of the plan.
func (r *fourth) nothing(body string, at time.Time, n int, every time.Duration) {
	a, loose := r.anything(), r.chance(0.7)
	if n == 1 && r.chance(0.4) { // the cap on the lens, or night in the bag
		for i := range a.swatches {
			a.swatches[i].L = 2 + 1.5*float64(i)
			a.swatches[i].A, a.swatches[i].B = 0.3*r.NormFloat64(), 0.3*r.NormFloat64()
		}
		a.surface = a.swatches[0]
	}
	for k := range n {
		if k > 0 && r.chance(0.1) {
			a = r.anything()
		}
		r.expose(nil, body, at, r.again(a)).loose = loose
		at = at.Add(r.lognormal(every, 0.9))
	}
}

// overheads are taken in a row under the arm, of dishes that stood aside: a few
// frames each.
func (r *fourth) overheads(at time.Time, least int) time.Time {
	if len(r.row) < least {
		return at
	}
	at = at.Add(r.takes(8*time.Minute, 0.5))
	for _, c := range r.row {
		s := &stand{course: c, table: 2, body: "A", look: r.of(c.dish), begun: at}
		s.shows = r.newShows(r.routine.slated * r.anew)
		at = at.Add(r.takes(r.restyle, 0.4))
		r.turnTo(s, at, false)
		at = r.shown(s, at, asFirst)
		at = r.series(s, s.body, at, r.some(2, 4*r.frames), r.every, r.arrange(s.look, 1.2))
		if r.chance(r.posts / 3) {
			r.phone(s, at)
		}
	}
	r.row = nil
	return at
}
