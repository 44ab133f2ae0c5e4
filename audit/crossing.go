package audit

import "math"

// A dish that is shot into a folder is shot into it whole, as a rule. So where the
// pictures of a body leave what is written for nothing written, or come to it from
// nothing, the dish was likely changed. How often a body does so within a dish, and
// at a change, is learnt from its own pictures.

// Stated choices.
const (
	crosses      = 0.3  // of changes of dish are such, until the body tells
	crossesWorth = 4.0  // changes that this is worth
	crossWithin  = 0.15 // of pauses within a dish, the same
	withinWorth  = 8.0
)

// crossing is two pictures of a body in a row, in a burst only where they differ.
type crossing struct {
	at   int     // position of the change, if there was one between them
	is   bool    // of the one something is written, of the other nothing
	odds float64 // that the dish was changed, by all but what is written
}

// crossings says by position what they say for a change of dish, nats.
func (m *matcher) crossings(s *strand) []float64 {
	type side struct {
		body    string
		written bool // on the first
	}
	last := map[string]int{} // by body: the position of its last picture
	of := map[side][]crossing{}
	for k, i := range s.frames {
		if m.d.frames[i].Look.Slate != nil || m.said[i] >= 0 {
			continue
		}
		body := m.d.body[i]
		n, ok := last[body]
		last[body] = k
		if !ok {
			continue
		}
		a, b := len(m.claims[s.frames[n]]) > 0, len(m.claims[i]) > 0
		if a != b || s.taken(m.d, k).Sub(s.taken(m.d, n)) >= pauseFrom {
			at := s.between(m, n, k)
			of[side{body, a}] = append(of[side{body, a}], crossing{at, a != b, math.Exp(m.changeBeside(s, at, i))})
		}
	}
	nats := make([]float64, len(s.frames))
	for _, all := range of {
		says := crossingSays(all)
		for _, c := range all {
			if c.is {
				nats[c.at] += says
			}
		}
	}
	return nats
}

// crossingSays is what one of a body's crossings of one kind says for a change of
// dish, nats, from how often they come with a change and without: by turns, each
// from the other (expectation and maximisation).
func crossingSays(all []crossing) float64 {
	changed, same := crosses, crossWithin // shares of either that cross
	for range staysTurns {
		n := [2]float64{crossesWorth, withinWorth}
		is := [2]float64{crosses * crossesWorth, crossWithin * withinWorth}
		for _, c := range all {
			x := c.odds * (1 - changed) / (1 - same)
			if c.is {
				x = c.odds * changed / same
			}
			x /= 1 + x
			n[0], n[1] = n[0]+x, n[1]+1-x
			if c.is {
				is[0], is[1] = is[0]+x, is[1]+1-x
			}
		}
		changed, same = is[0]/n[0], is[1]/n[1]
	}
	return min(max(math.Log(changed/same), 0), textDiffers)
}
