package audit

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"coverplate/ingest/catalogue"
)

// Slates, folders and the log of the fourth family: what people who are busy do.

// When a slate is shown.
const (
	asLaid      = iota // while the set is laid, long before a picture
	asFirst            // before the first trial
	withFood           // when the food comes
	inTheMiddle        // after the proper picture
	atTheEnd           // somebody remembers
)

// newShows draws when a slate is shown of a dish; nil never.
func (r *fourth) newShows(slated float64) []int {
	switch {
	case !r.chance(slated):
		return nil
	case r.chance(r.routine.late):
		return []int{withFood + r.oneOf(0.5, 0.25, 0.25)}
	case r.chance(r.early):
		return []int{asLaid}
	case r.chance(0.06): // and for the proper one once more
		return []int{asFirst, withFood}
	}
	return []int{asFirst}
}

func (r *fourth) slateOf(dish int) *catalogue.Slate {
	id := r.s.Recipes[dish].ID
	return &catalogue.Slate{Text: "slate " + id, Recipe: id}
}

// shown shows the slate where it is due then: to the set's body, in some shoots to
// others too. Now and then it is another card, mostly the last; half of these are
// seen. It may lie in a corner of the next frames.
func (r *fourth) shown(s *stand, at time.Time, when int) time.Time {
	if !slices.Contains(s.shows, when) {
		return at
	}
	card := s.dish
	if r.chance(r.routine.wrong) {
		switch r.oneOf(0.6, 0.25, 0.15) {
		case 0:
			if r.lastCard >= 0 {
				card = r.lastCard
			}
		case 1:
			card = min(max(card+1-2*r.IntN(2), 0), len(r.wants)-1)
		case 2:
			card = r.IntN(len(r.wants))
		}
	}
	at = r.hold(s, card, at)
	if card != s.dish && r.chance(0.5) {
		card = s.dish
		at = r.hold(s, card, at.Add(r.takes(30*time.Second, 0.5)))
	}
	r.lastCard = card
	if when != atTheEnd && r.chance(r.corner) {
		s.corner, s.lying = 1+r.IntN(4), card
	}
	return at.Add(r.takes(15*time.Second, 0.6))
}

// hold photographs a card; what is not read is mostly not seen.
func (r *fourth) hold(s *stand, card int, at time.Time) time.Time {
	bodies := []string{s.body}
	for _, b := range r.bodies {
		if b != s.body && r.chance(0.6*r.both) && !(b == "C" && r.chance(0.5)) {
			bodies = append(bodies, b)
		}
	}
	for _, b := range bodies {
		for range 2 {
			at = at.Add(r.takes(10*time.Second, 0.5))
			e := r.expose(&stand{course: s.course, shoved: s.shoved, folder: s.folder}, b, at, r.card())
			e.paper = true
			if !r.chance(r.unread) {
				e.slate = r.slateOf(card)
			}
			if e.slate != nil && !r.chance(0.05) || e.slate == nil && r.chance(0.7) {
				break
			}
		}
	}
	return at
}

// showClock shows the running code of a telephone to the bodies that are there.
func (r *fourth) showClock(at time.Time) time.Time {
	for k, b := range r.bodies {
		if k > 0 && r.chance(0.15) {
			continue
		}
		at = at.Add(r.takes(15*time.Second, 0.4))
		e := r.expose(nil, b, at, r.card())
		e.slate, e.paper = &catalogue.Slate{Text: "clock", Shown: at.Truncate(time.Second)}, true
	}
	return at.Add(r.takes(time.Minute, 0.5))
}

// How folders a dish are kept: made as dishes come; numbered, and named in the
// evening; or frames are sorted into them in the evening.
const (
	asTheyCome = iota
	numberedFirst
	sortedLate
)

// dayFolder is where the machine writes by itself.
func (r *fourth) dayFolder(at time.Time) {
	r.sets++
	r.writeTo(at, at.Format("2006-01-02"), -1)
}

func (r *fourth) writeTo(at time.Time, name string, dish int) {
	r.folder = append(r.folder, labelled{from: at, name: r.path(name)})
	r.inFolder = dish
}

func (r *fourth) path(name string) string { return r.root + "/" + name + r.under }

// turnTo makes a dish's folder as it comes on set, if anybody does; late is after
// its first frames.
func (r *fourth) turnTo(s *stand, at time.Time, late bool) {
	if !r.byDish || s.body != "A" {
		return
	}
	if late {
		at = at.Add(r.takes(3*time.Minute, 0.6))
	}
	r.sets++
	does := r.chance(r.made)
	if does {
		s.folder = r.folderFor(s.dish)
	}
	switch {
	case r.mode == sortedLate:
		s.shoved = does
	case does:
		r.writeTo(at, s.folder, s.dish)
	case r.mode == numberedFirst && r.chance(0.7): // begun, and never named
		s.folder = fmt.Sprintf("set-%03d", r.sets)
		r.writeTo(at, s.folder, s.dish)
	}
}

// comeBack is to a set that another stood beside: folder and log may follow. A
// folder that was forgotten may be seen now.
func (r *fourth) comeBack(s *stand, at time.Time) {
	if r.inFolder != s.dish && r.byDish && s.body == "A" && r.mode != sortedLate {
		switch {
		case s.folder != "" && r.chance(r.switches):
			r.writeTo(at, s.folder, s.dish)
		case s.folder == "" && r.chance(r.notices/2):
			s.folder = r.folderFor(s.dish)
			r.writeTo(at, s.folder, s.dish)
		}
	}
	if r.onSet != s.dish && s.noted && r.chance(r.relogs) {
		r.line(s, s.dish, at, at.Add(r.takes(40*time.Second, 0.8)))
	}
}

// folderFor names a folder by hand, now and then after another dish, now and then
// misspelt.
func (r *fourth) folderFor(dish int) string {
	if r.chance(r.named) {
		dish = min(max(dish+1-2*r.IntN(2), 0), len(r.wants)-1)
	}
	p := r.s.Recipes[dish]
	words := strings.Fields(strings.ToLower(p.Title))
	name := []string{p.ID + " " + p.Title, p.Title, p.ID, strings.Join(words, "-"), fmt.Sprintf("%02d %s", r.sets, p.Title)}[r.style]
	if at := 1 + r.IntN(len(name)-1); r.chance(r.misspelt) {
		name = name[:at] + name[at+1:]
	}
	return name
}

// note enters in the log that a dish comes on set, at once or when somebody thinks
// of it; what is entered later is dated back, or is not.
func (r *fourth) note(s *stand, at time.Time) {
	if s.noted = r.chance(r.logged); !s.noted {
		return
	}
	said := at.Add(time.Duration(r.NormFloat64() * float64(time.Minute)))
	from := said
	switch {
	case r.chance(r.before): // the kitchen calls
		said = at.Add(-r.takes(7*time.Minute, 0.6))
		from = said
	case !r.chance(r.prompt):
		said = at.Add(r.takes(14*time.Minute, 0.8))
		if from = said; r.chance(r.rounded) {
			from = at.Add(time.Duration(r.NormFloat64() * float64(3*time.Minute))).Round(5 * time.Minute)
		}
	}
	if r.chance(0.025) { // the line above or below
		r.line(s, min(max(s.dish+1-2*r.IntN(2), 0), len(r.wants)-1), from, said)
		if r.chance(0.5) {
			return
		}
		said = said.Add(r.takes(2*time.Minute, 0.7))
		from = said
	}
	r.line(s, s.dish, from, said)
}

// line is one of the log; dish -1 is that nothing is on set.
func (r *fourth) line(s *stand, dish int, from, said time.Time) {
	d := catalogue.Decision{At: said.Truncate(time.Second), Kind: catalogue.On, From: from.Truncate(time.Second)}
	if r.onSet = dish; dish >= 0 {
		d.Recipe = r.s.Recipes[dish].ID
	}
	if s != nil && r.forBody && r.holds == onTable && len(r.bodies) > 1 {
		d.Body = catalogue.Frame{Camera: catalogue.Camera{Make: "Skarv", Model: "R7", Serial: s.body}}.Body()
	}
	r.s.Decisions = append(r.s.Decisions, d)
}

// atLunch is when all sit down: the log may say so, somebody photographs the table.
func (r *fourth) atLunch(at time.Time) time.Time {
	if r.logged > 0 && r.chance(r.offs) {
		r.line(nil, -1, at, at)
	}
	if r.chance(0.2) {
		r.nothing("phone", at.Add(r.takes(12*time.Minute, 0.4)), 1+r.IntN(3), 8*time.Second)
	}
	return at.Add(r.takes(r.meal, 0.2))
}

func (r *fourth) evening(at time.Time) {
	if r.logged > 0 && r.chance(r.offs) {
		r.line(nil, -1, at, at)
	}
}

// enter numbers the lines of the log in the order they were entered.
func (r *fourth) enter() {
	slices.SortStableFunc(r.s.Decisions, func(a, b catalogue.Decision) int { return a.At.Compare(b.At) })
	for k := range r.s.Decisions {
		r.s.Decisions[k].ID = int64(k + 1)
	}
}
