package audit

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// settle turns what is known of a frame into its match.
func (m *matcher) settle(i int) {
	d, p, at := m.d, &m.d.placed[i], m.at[i]
	s, k := at.strand, at.k
	if p.contra {
		m.contradicts(p, i, "its texts contradict each other", nil)
		return
	}
	row, state := s.labels.At(k), s.labels.Path[k]
	slate, slateNats := m.governing(s, k)
	if m.differs(s, k, slate, state) && !m.outweighs(s, k, slate, state) {
		may := m.meant[i]
		var e []Evidence
		if slate >= 0 && !slices.Contains(may, m.slates[s.frames[slate]]) {
			e = []Evidence{{"slate", slateNats, m.slateSays(s, k, slate)}}
		} else if state != m.none {
			e, _ = m.around(s, k, state)
		}
		p.contra = true
		m.contradicts(p, i, "what is known of it contradicts itself", e)
		return
	}
	if slate >= 0 && m.differs(s, k, slate, state) {
		m.tell(s, k, slate, state)
	}
	top, second := m.topTwo(row)
	if state != m.none && row[state] >= d.Rules.OddsFloor {
		top = state
	}
	p.Odds = row[top]
	why, lender := m.why(s, k, top)
	if most, says := m.surest(s, k, lender, why); most < p.Odds {
		p.Odds = most
		why = append(why, Evidence{"unchecked", 0, says})
	}
	if p.Odds >= d.Rules.OddsFloor && len(why) > 0 {
		p.Recipe = d.recipes[top].ID
		p.Why = append(p.Why, why...)
		m.against(p, i, top)
		return
	}
	for _, r := range []int{top, second} {
		if r >= 0 && row[r] >= leastGuess {
			p.guesses = append(p.guesses, d.recipes[r].ID)
		}
	}
	p.guesses = firstTwo(p.guesses)
	if p.Odds < leastGuess || len(why) == 0 {
		p.Odds = 0
		p.says = "nothing names a recipe, and no frame near it in time has one"
		return
	}
	p.Why = append(p.Why, why...)
	m.against(p, i, top)
	p.says = fmt.Sprintf("%s has odds of %.2f, %.2f is the floor: %s", d.recipes[top].ID, p.Odds, d.Rules.OddsFloor, why[0].Says)
}

// differs reports whether what is written on a frame names neither the dish that
// the chain sees in it nor that of the slate before it.
func (m *matcher) differs(s *strand, k, slate, state int) bool {
	may := m.meant[s.frames[k]]
	return may != nil && m.left[s.frames[k]] < evenOdds && (state == m.none || !slices.Contains(may, state) || slate >= 0 && !slices.Contains(may, m.slates[s.frames[slate]]))
}

// outweighs reports whether one of two that differ, what is written on a frame and
// the slate before it, is likely enough by all that is known to be taken.
func (m *matcher) outweighs(s *strand, k, slate, state int) bool {
	return slate >= 0 && state != m.none && s.labels.At(k)[state] >= m.d.Rules.OddsFloor &&
		(m.slates[s.frames[slate]] == state || slices.Contains(m.meant[s.frames[k]], state))
}

// tell notes, once for a slate, that what is written on frames after it names
// another dish, and which of the two was believed.
func (m *matcher) tell(s *strand, k, slate, state int) {
	d, at := m.d, s.frames[slate]
	if m.doubted == nil {
		m.doubted = map[int]bool{}
	}
	if m.doubted[at] {
		return
	}
	m.doubted[at] = true
	i := s.frames[k]
	claims := slices.Clone(m.claims[i])
	slices.SortStableFunc(claims, func(a, b claim) int { return cmp.Compare(b.weight, a.weight) })
	d.note("slate", d.recipes[state].ID, d.frames[i].Path(), fmt.Sprintf("%s, but the slate before it, %s, is of %s: taken for %s by all that is known; was one of the two forgotten?",
		claims[0].why[0].Says, d.pathName(at), d.recipes[m.slates[at]].ID, d.recipes[state].ID))
}

// topTwo returns the likeliest recipe and the next, the first of equals; −1 where
// there is no second.
func (m *matcher) topTwo(row []float64) (top, second int) {
	second = -1
	for r := 1; r < m.none; r++ {
		switch {
		case row[r] > row[top]:
			top, second = r, top
		case second < 0 || row[r] > row[second]:
			second = r
		}
	}
	return top, second
}

// leastGuess are the odds from which a recipe is named as a guess.
const leastGuess = 0.05

// against adds what the frame's own texts say for other recipes.
func (m *matcher) against(p *placing, i, recipe int) {
	for _, c := range m.claims[i] {
		if c.recipe == recipe || c.weight < leastWeight {
			continue
		}
		for _, e := range c.why {
			p.Why = append(p.Why, Evidence{e.Kind, -e.Weight, "against it: " + e.Says})
		}
	}
}

// contradicts leaves a frame to a person: what names it names two dishes.
func (m *matcher) contradicts(p *placing, i int, fault string, more []Evidence) {
	claims := slices.Clone(m.claims[i])
	slices.SortStableFunc(claims, func(a, b claim) int { return cmp.Compare(b.weight, a.weight) })
	_, p.Odds = best(m.claims[i], true)
	p.Why = append(p.Why, claims[0].why...)
	m.against(p, i, claims[0].recipe)
	p.Why = append(p.Why, more...)
	for _, c := range claims {
		p.guesses = append(p.guesses, m.d.recipes[c.recipe].ID)
	}
	p.guesses = firstTwo(p.guesses)
	var says []string
	for _, e := range p.Why {
		says = append(says, strings.TrimPrefix(e.Says, "against it: "))
	}
	p.says = fault + ": " + strings.Join(says, "; ")
}

// governing is the slate before a frame on the same body whose dish is, by
// pauses and pictures alone, likelier still on set than not; −1 none. It is
// the frame itself where a slate is in it.
func (m *matcher) governing(s *strand, k int) (at int, nats float64) {
	holds := 1.0
	for n := k; n >= 0 && holds > 0.5; n-- {
		if m.slates[s.frames[n]] >= 0 && s.slate[n] >= strong {
			return n, min(s.slate[n], math.Log(holds/(1-holds)))
		}
		holds /= s.wears(n)
	}
	return -1, 0
}

// wears is by what the chance that a dish is still on set is divided over a
// position, by its pause and pictures and the want of a slate.
func (s *strand) wears(k int) float64 { return 1 + math.Exp(s.pause[k]+s.want) }
