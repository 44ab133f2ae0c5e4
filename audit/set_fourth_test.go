package audit

import (
	"slices"
	"time"
)

// stand is one dish of the fourth family while it is on a table.
type stand struct {
	course
	table   int
	body    string // on its tripod
	look    look
	steps   []int
	avail   time.Time // when its next step can be shot
	begun   time.Time // its first frame
	shows   []int     // when its slate is shown
	corner  int       // so many frames yet in which a slate lies
	lying   int       // the dish that this slate names
	folder  string    // made for it; "" none
	shoved  bool      // frames are moved there in the evening
	noted   bool      // in the log
	hurried bool      // the light goes
	fell    bool
	inHands bool // by hand, away from the cable
}

// What is shot of a dish, one after another.
const (
	trials   = iota // of the set, with a stand-in or nothing on the plate
	proper          // the picture of the book
	another         // arrangement: an angle, the other format, a spoon in it
	fromOver        // under the arm
	closely         // details
	cutOpen         // sliced, half eaten
)

// lay puts a set on a table; an assistant does where another stands.
func (r *fourth) lay(c course, table int, at time.Time, alone bool) *stand {
	s := &stand{course: c, table: table, body: "A", look: r.of(c.dish), lying: -1}
	if len(r.bodies) > 1 && r.holds == onTable && table == 1 {
		s.body = "B"
	}
	if board, ok := r.boards[table]; ok && r.chance(r.board) {
		s.look.surface = board.surface
	}
	if c.again && r.chance(0.5) { // another plate
		s.look = r.arrange(s.look, 1.3)
	}
	r.boards[table] = s.look
	w := r.wants[c.dish]
	s.steps = []int{trials, proper}
	if c.only {
		s.steps = []int{[]int{proper, another, fromOver}[r.IntN(3)]}
	} else {
		for range w.others {
			if !r.pressed || r.chance(0.6) {
				s.steps = append(s.steps, another)
			}
		}
		if w.above && !(r.arm && w.keeps) {
			s.steps = append(s.steps, fromOver)
		}
		for range w.hands {
			s.steps = append(s.steps, closely)
		}
		if w.eaten {
			s.steps = append(s.steps, cutOpen)
		}
	}
	slated := r.routine.slated
	if c.again {
		slated *= r.anew
	}
	s.shows = r.newShows(slated)
	s.avail = at.Add(r.takes(r.dress, 0.5))
	if slices.Contains(s.shows, asLaid) && !alone { // the body is busy
		s.shows = []int{asFirst}
	}
	if slices.Contains(s.shows, asLaid) {
		r.shown(s, at.Add(s.avail.Sub(at)/5), asLaid)
	}
	if len(s.shows) == 0 && r.lastCard >= 0 && r.chance(r.leftLying) {
		s.corner, s.lying = 1+r.IntN(2), r.lastCard
	}
	return s
}

// step shoots the next of a set's, and says when the one after that can be.
func (r *fourth) step(s *stand, at time.Time) time.Time {
	step := s.steps[0]
	s.steps = s.steps[1:]
	if s.begun.IsZero() {
		s.begun = at
		r.note(s, at)
		r.turnTo(s, at, r.chance(0.2))
		at = r.shown(s, at, asFirst)
	} else {
		r.comeBack(s, at)
	}
	few := r.frames
	if s.hurried {
		few *= 0.6
	}
	switch step {
	case trials:
		at = r.trials(s, at, few)
	case proper:
		at = r.shown(s, at, withFood)
		at = r.series(s, s.body, at, r.some(3, 7*few), r.every, r.arrange(s.look, 1))
		if s.fell = !s.only && r.chance(r.fails); s.fell {
			s.steps = nil
			return at
		}
		at = r.shown(s, at, inTheMiddle)
	case another:
		at = r.series(s, s.body, at, r.some(2, 5*few), r.every, r.arrange(s.look, 1.1))
	case fromOver:
		at = r.series(s, s.body, at, r.some(2, 4*few), r.every, r.arrange(s.look, 1.3))
	case closely:
		body := s.body
		if len(r.bodies) > 1 && r.holds == inHand && r.chance(r.hand) {
			body = "B"
		}
		hands := *s
		hands.inHands, hands.corner = body == "B" || r.chance(0.3), 0
		at = r.series(&hands, body, at, r.some(2, 4*few), r.every/3, r.arrange(s.look, 1.3))
	case cutOpen:
		at = r.series(s, s.body, at, r.some(2, 4*few), r.every, r.arrange(s.look, 1.6))
	}
	if len(s.steps) == 0 {
		return at
	}
	switch s.steps[0] {
	case proper:
		s.avail = at
		if s.ready.After(at) {
			s.avail = s.ready
		}
		s.avail = s.avail.Add(r.takes(r.plate, 0.5))
	case closely:
		s.avail = at.Add(r.takes(r.walk, 0.6))
	case fromOver:
		s.avail = at.Add(r.takes(r.restyle+2*time.Minute, 0.5))
	default:
		s.avail = at.Add(r.takes(r.restyle, 0.6))
	}
	return at
}

// trials are of the set before the food: while lamps and plates are moved, with a
// grey card now and then.
func (r *fourth) trials(s *stand, at time.Time, few float64) time.Time {
	a := r.arrange(s.look, 1.2)
	if r.chance(0.3) { // nothing on the plate
		a = r.anything()
		a.surface = r.near(s.look.surface, 4)
	}
	for round := range 1 + r.oneOf(0.5, 0.3, 0.2) {
		if round > 0 {
			at = at.Add(r.takes(2*r.light, 0.5))
			a = r.arrange(a, 0.6)
		}
		for range r.some(1, 2.5*few) {
			at = at.Add(r.takes(r.light, r.spread))
			r.expose(s, s.body, at, r.again(a))
		}
		if r.chance(r.greys / 2) {
			at = at.Add(r.takes(20*time.Second, 0.4))
			if e := r.expose(nil, s.body, at, r.card()); s.shoved { // a run of frames is moved as a whole
				e.sorted = r.path(s.folder)
			}
		}
	}
	return at
}

// series is n frames of one arrangement. Between some a little is moved; what is
// poured or strewn is taken in a burst; a finger slips.
func (r *fourth) series(s *stand, body string, at time.Time, n int, every time.Duration, a look) time.Time {
	for k := 0; k < n; k++ {
		if k > 0 && r.chance(r.styles) {
			at = at.Add(r.takes(90*time.Second, 0.6))
			a = r.arrange(a, 0.4)
		}
		if r.chance(r.pours / 8) {
			at = at.Add(r.takes(30*time.Second, 0.5))
			gap := time.Duration(r.span(0.12, 0.5) * float64(time.Second))
			poured := r.arrange(a, 0.4)
			for range 4 + r.IntN(9) {
				at = at.Add(gap)
				r.expose(s, body, at, r.again(poured))
			}
		}
		at = at.Add(r.takes(every, r.spread))
		if r.chance(r.strays) {
			r.expose(nil, body, at, r.anything())
			at = at.Add(r.takes(5*time.Second, 0.5))
		}
		r.expose(s, body, at, r.again(a))
	}
	return at
}

// aside is what others took of a set while it stood: an assistant's body at any
// time, the author's telephone.
func (r *fourth) aside(s *stand, end time.Time) {
	within := func() time.Time { return s.begun.Add(time.Duration(r.Float64() * float64(end.Sub(s.begun)))) }
	free := len(r.bodies) > 2 || len(r.bodies) == 2 && r.holds == withAssistant
	if free && r.chance(r.assists) {
		body := r.bodies[len(r.bodies)-1]
		hands := *s
		hands.inHands, hands.corner = true, 0
		for range 1 + r.oneOf(0.6, 0.3, 0.1) {
			r.series(&hands, body, within(), r.some(1, 4*r.frames), 7*time.Second, r.arrange(s.look, 1.4))
		}
	}
	if r.chance(r.posts) {
		r.phone(s, within())
	}
}

func (r *fourth) phone(s *stand, at time.Time) {
	a := r.arrange(s.look, 1.3)
	for range 1 + r.IntN(3) {
		r.expose(&stand{course: s.course, inHands: true}, "phone", at, r.again(a))
		at = at.Add(r.takes(5*time.Second, 0.8))
	}
}

// struck is when a set is taken down: the slate that was forgotten, the folder that
// a person sorts, what others took.
func (r *fourth) struck(s *stand, at time.Time) time.Time {
	at = r.shown(s, at, atTheEnd)
	r.aside(s, at)
	if r.arm && r.wants[s.dish].above && !s.fell && !s.only && r.wants[s.dish].keeps {
		r.row = append(r.row, course{dish: s.dish, again: true})
	}
	if r.chance(0.1) { // it is eaten, or talked about
		at = at.Add(r.takes(6*time.Minute, 0.6))
	}
	return at.Add(r.takes(r.strike, 0.6))
}

// expose takes a frame at a true time; s nil shows no dish. What it returns may be
// changed until the next.
func (r *fourth) expose(s *stand, body string, at time.Time, l look) *exposure {
	e := exposure{at: at, body: body, dish: -1, look: l, focal: 50, open: r.lognormal(500*time.Millisecond, 0.7)} // practice, on a tripod
	if s != nil {
		e.dish = s.dish
		if e.loose = s.inHands; e.loose {
			e.focal, e.open = 85, time.Second/125
		}
		if s.shoved {
			e.sorted = r.path(s.folder)
		}
		if s.corner > 0 && body == s.body {
			s.corner--
			if r.chance(0.7) {
				e.slate, e.paper = r.slateOf(s.lying), true
			}
		}
	}
	r.taken = append(r.taken, e)
	return &r.taken[len(r.taken)-1]
}
