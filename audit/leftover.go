package audit

import (
	"math"
	"slices"
)

// A folder is easily left as it was when the next dish comes on set: what is
// written on frames then names the dish before. How often a crew does so is
// learnt from changes of dish that pauses, pictures and slates tell; and a text
// that stays through several of them is of a session, named after its first dish
// maybe, and tells no dish.

// Stated choices.
const (
	textStays   = 0.05 // of changes of dish leave what is written as it was, until the crew tells
	staysWorth  = 20.0 // changes that this is worth
	ofSession   = 0.01 // of texts are of sessions
	textDiffers = 5.0  // log-odds for a change where what is written changes
	staysTurns  = 4
)

// textPair is two frames of a body in a row that people wrote on.
type textPair struct {
	same bool    // the same
	run  int     // of frames in a row with the same
	odds float64 // that the dish was changed between, by all but what is written
}

// leftOver finds how often what is written stays through a change of dish, and
// which texts are of sessions: by turns, each from the other (expectation and
// maximisation).
func (m *matcher) leftOver(s *strand) {
	last := map[string]int{}
	runOf := map[string]int{}
	runAt := make([]int, len(s.frames)) // −1 none
	var pairs []textPair
	runs := 0
	for k, i := range s.frames {
		runAt[k] = -1
		if len(m.claims[i]) == 0 || m.said[i] >= 0 {
			continue
		}
		body := m.d.body[i]
		n, ok := last[body]
		last[body] = k
		same := ok && sayAgain(m.claims[s.frames[n]], m.claims[i])
		if !same {
			runOf[body] = runs
			runs++
		}
		runAt[k] = runOf[body]
		if ok {
			at := s.between(m, n, k)
			pairs = append(pairs, textPair{same, runOf[body], math.Exp(m.changeBeside(s, at, i))})
		}
	}
	session := make([]float64, runs)
	s.textStays = textStays
	for range staysTurns {
		nats := make([]float64, runs)
		for n := range nats {
			nats[n] = math.Log(ofSession / (1 - ofSession))
		}
		for _, p := range pairs {
			if p.same {
				nats[p.run] += math.Log((1 + p.odds) / (1 + s.textStays*p.odds))
			}
		}
		stays, of := staysWorth*textStays, staysWorth
		for n, x := range nats {
			session[n] = 1 / (1 + math.Exp(-x))
		}
		for _, p := range pairs {
			if !p.same {
				of += p.odds / (1 + p.odds)
				continue
			}
			x := s.textStays * p.odds
			x = x / (1 + x) * (1 - session[p.run])
			stays, of = stays+x, of+x
		}
		s.textStays = stays / of
	}
	for k, i := range s.frames {
		if runAt[k] >= 0 && !slices.ContainsFunc(m.claims[i], ofMetadata) { // those are written in the frame itself
			m.left[i] = max(0, session[runAt[k]]-ofSession) / (1 - ofSession) // what is to be expected of any text is in its weight
		}
	}
}

// changeBeside is the log-odds of a change before a position, by all but what
// is written: a slate that names what is written on the frame tells none.
func (m *matcher) changeBeside(s *strand, k, i int) float64 {
	r := m.slates[s.frames[k]]
	switch {
	case r < 0:
		return min(max(s.pause[k]+s.want, leastChange), mostChange)
	case slices.ContainsFunc(m.claims[i], func(c claim) bool { return c.recipe == r }):
		return leastChange
	}
	return max(m.slateChange(s, k), leastChange)
}

func ofMetadata(c claim) bool {
	return slices.ContainsFunc(c.why, func(e Evidence) bool { return e.Kind == sourceKind[fromMetadata] })
}
