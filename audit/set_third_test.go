package audit

import (
	"fmt"
	"time"

	"coverplate/ingest/catalogue"
)

// thirdSet is one dish of the third family while it stands.
type thirdSet struct {
	dish         int
	body         string // on its tripod
	look         look
	slated, late bool
	shown        *bool // its slate was photographed
	asRenewed    bool  // its folder is made; late: after the test shots
	lateFolder   bool
}

func (r *third) newSet(dish int, body string) thirdSet {
	return thirdSet{dish: dish, body: body, look: r.of(dish), slated: r.rate("slated", r.slated), late: r.rate("late", r.late), shown: new(bool),
		asRenewed: r.rate("renewed", r.renewed), lateFolder: r.rate("folder late", 0.15)}
}

// begin opens a set: folder, log, slate, test shots with a stand-in while lamps
// are moved.
func (r *third) begin(s thirdSet, at time.Time) time.Time {
	if r.byDish && s.asRenewed && !s.lateFolder {
		r.folder = r.folderOf(s.dish)
	}
	if r.rate("logged", r.logged) {
		said, when := s.dish, at.Add(time.Duration(r.NormFloat64()*float64(90*time.Second)))
		if r.rate("log late", 0.25) { // when somebody thought of it
			when = at.Add(r.lognormal(10*time.Minute, 0.8))
		}
		if r.chance(0.03) { // the line above or below
			said = min(max(s.dish+1-2*r.IntN(2), 0), thirdDishes-1)
			if r.chance(0.5) {
				defer r.note(r.s.Recipes[s.dish].ID, when.Add(r.lognormal(3*time.Minute, 0.7)))
			}
		}
		r.note(r.s.Recipes[said].ID, when)
	}
	if s.slated && !s.late {
		at = r.slateOf(s, s.body, at)
	}
	stand := r.arrange(s.look, 1.3)
	for range r.steps(2, 4*r.vary("tests")) {
		at = at.Add(r.pace("test shots", 35*time.Second, 1))
		r.expose(s.body, s.dish, at, r.again(stand))
	}
	if r.byDish && s.asRenewed && s.lateFolder {
		r.folder = r.folderOf(s.dish)
	}
	if s.slated && s.late && r.chance(0.6) {
		at = r.slateOf(s, s.body, at)
	}
	return at
}

// wait is for the food to be plated.
func (r *third) wait(at time.Time) time.Time { return at.Add(r.pace("wait", 6*time.Minute, 0.8)) }

// proper is the picture for the book: single frames on a tripod, exposures of
// 0.3 to 4 s (practice), each after a crumb was moved; pauses while it is styled.
func (r *third) proper(s thirdSet, at time.Time) time.Time {
	if r.byDish && !s.asRenewed && r.chance(0.3) { // somebody sees the old folder
		r.folder = r.folderOf(s.dish)
	}
	return r.arrangement(s, at, r.steps(4, 9*r.vary("frames")), 22*time.Second)
}

func (r *third) arrangement(s thirdSet, at time.Time, frames int, every time.Duration) time.Time {
	a := r.arrange(s.look, 1)
	for range frames {
		if r.rate("styling", 0.12) {
			at = at.Add(r.pace("styled", 2*time.Minute, 0.6))
			a = r.arrange(a, 0.4) // a herb more, a napkin less
		}
		open := r.lognormal(time.Second, 0.7)
		at = at.Add(open + r.pace("every", every, 0.7))
		r.expose(s.body, s.dish, at, r.again(a)).Exposure.Seconds = open.Seconds()
	}
	return at
}

// more is what else the book and its posts want of the dish: other angles, the
// fork in, details by hand with another body, mostly after one another since one
// photographer holds both; a third body is an assistant's, at any time.
func (r *third) more(s thirdSet, at time.Time) time.Time {
	from := at
	for range r.oneOf(0.25, 0.35, 0.25, 0.15) {
		at = r.arrangement(s, at.Add(r.pace("angles", 4*time.Minute, 0.7)), r.steps(3, 6), 18*time.Second)
	}
	if len(r.bodies) > 1 && r.chance(0.55) {
		b := r.bodies[1]
		if b == s.body {
			b = r.bodies[0]
		}
		at = at.Add(r.lognormal(time.Minute, 0.8))
		at = r.byHand(s, b, at, r.steps(3, 5))
	}
	if len(r.bodies) > 2 && r.chance(0.5) {
		r.byHand(s, r.bodies[2], from.Add(time.Duration((r.Float64()-0.5)*float64(20*time.Minute))), r.steps(2, 5))
	}
	return at
}

// byHand shoots details in quick order; a frame in a hundred is of the floor.
func (r *third) byHand(s thirdSet, body string, at time.Time, frames int) time.Time {
	a := r.arrange(s.look, 1.2)
	for range frames {
		at = at.Add(r.lognormal(4*time.Second, 0.9))
		l := r.again(a)
		if r.chance(0.01) {
			l = r.anything()
		}
		r.expose(body, s.dish, at, l)
	}
	return at
}

// phone takes one to three, of which one in ten comes through a chat and has lost
// all that the phone wrote. Its clock is the network's, and it has no serial.
func (r *third) phone(s thirdSet, at time.Time) {
	a := r.arrange(s.look, 1.2)
	for range 1 + r.IntN(3) {
		at = at.Add(r.lognormal(6*time.Second, 0.9))
		f := r.expose("phone", s.dish, at, r.again(a))
		f.Camera = catalogue.Camera{Make: "Skarv", Model: "Tern 4"}
		f.Taken, f.Offset = f.Taken.Truncate(time.Second), "+00:00"
		f.Files[0].Card, f.Files[0].Name = "phone", fmt.Sprintf("IMG_%s.JPG", f.Taken.Format("20060102_150405"))
		if f.Files[0].Source = "DCIM/Camera/" + f.Files[0].Name; r.chance(0.1) {
			f.Taken, f.Offset, f.Camera = time.Time{}, "", catalogue.Camera{}
			f.Files[0].Name = fmt.Sprintf("picture-%d.JPG", r.n)
			f.Files[0].Source = "from-chat/" + f.Files[0].Name
		}
	}
}

// expose takes a frame at a studio's time. The tethered body's goes to the folder.
func (r *third) expose(body string, dish int, at time.Time, l look) *catalogue.Frame {
	folder := ""
	if body == "A" {
		folder = r.folder
	}
	palette, surface := r.seen(l)
	return r.put(body, dish, at.Add(r.ahead[body]), folder, palette, surface)
}

// slateOf shows a dish's slate to a body, and mostly to the next one; now and
// then the wrong card, of which half are seen. One in 25 is not read.
func (r *third) slateOf(s thirdSet, body string, at time.Time) time.Time {
	*s.shown = true
	shown := s.dish
	if r.rate("wrong", r.wrong) {
		shown = min(max(shown+1-2*r.IntN(2), 0), thirdDishes-1)
	}
	bodies := []string{body}
	if len(r.bodies) > 1 && body == "A" && r.rate("both", 0.6) {
		bodies = append(bodies, "B")
	}
	for again := false; ; again = true {
		for _, b := range bodies {
			at = at.Add(r.lognormal(12*time.Second, 0.5))
			f := r.expose(b, s.dish, at, r.card())
			r.s.slate[f.ID] = true
			if !r.chance(0.04) {
				id := r.s.Recipes[shown].ID
				f.Look.Slate = &catalogue.Slate{Text: "slate " + id, Recipe: id}
			}
		}
		if again || shown == s.dish || r.chance(0.5) {
			return at.Add(r.lognormal(20*time.Second, 0.6))
		}
		shown = s.dish
		at = at.Add(r.lognormal(40*time.Second, 0.6))
	}
}

// showClock shows the running clock to every body.
func (r *third) showClock(at time.Time) time.Time {
	for _, b := range r.bodies {
		at = at.Add(r.lognormal(15*time.Second, 0.4))
		f := r.expose(b, -1, at, r.card())
		f.Look.Slate = &catalogue.Slate{Text: "clock", Shown: at.Truncate(time.Second)}
		r.s.slate[f.ID] = true
	}
	return at
}
