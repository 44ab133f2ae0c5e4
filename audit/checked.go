package audit

import (
	"fmt"
	"slices"
)

// The chain takes each source for as right as its weight says. What a helper writes,
// when a line of the log was thought of, whether two bodies shot one dish: a whole
// crew may be worse at it than that, and nothing in the chain shows it. So odds over
// unchecked are given to what a person says, what is written in the frame itself and
// a slate of its own body, and to all else as far as slates were seen to bear it out.

// Stated choices.
const (
	unchecked      = 0.88    // of frames that one such source tells show what it says, until slates tell
	uncheckedWorth = 8.0     // times that one was checked that this is worth
	mostSlates     = 2.0 / 3 // share of dishes from which a body shows all slates itself, and a slate of another's that it did not show may be of another set
	fewSlates      = 0.55    // share of dishes whose turn is over up to which slates are shown when somebody thinks of it: early, late, after the dish
	mostBare       = 2.0 / 3 // of a plan without days the same: share of changes without a slate, by pauses and pictures
)

const noSlate = "no slate bears it out"

// What people write beside frames.
const (
	byName = iota // a folder, a file's name
	byLog
	byOthers // sources of either kind
)

// check tells how far what frames rest on is borne out.
func (m *matcher) check() {
	m.checkWords()
	m.checkSlates()
}

// checkWords counts how often what is written beside frames says what the slate
// before them says, once a slate.
func (m *matcher) checkWords() {
	var right, of [byOthers]float64
	for _, s := range m.strands {
		slate, told := -1, [byOthers]bool{}
		for k, i := range s.frames {
			if k > 0 && s.stretch[k] != s.stretch[k-1] {
				slate = -1
			}
			if r := m.slates[i]; r >= 0 && s.slate[k] >= strong {
				if r != slate {
					slate, told = r, [byOthers]bool{}
				}
				continue
			}
			if slate < 0 || m.said[i] >= 0 {
				continue
			}
			for kind, r := range [byOthers]int{byName: m.texted(i), byLog: m.logged(s, k)} {
				if r < 0 || told[kind] {
					continue
				}
				told[kind] = true
				of[kind]++
				if r == slate {
					right[kind]++
				}
			}
		}
	}
	named := slices.ContainsFunc(m.claims, func(c []claim) bool { return len(c) > 0 })
	for kind, any := range [byOthers]bool{byName: named, byLog: len(m.on) > 0} {
		if any {
			m.right[kind] = max(unchecked, (unchecked*uncheckedWorth+right[kind])/(uncheckedWorth+of[kind]))
		}
	}
}

// checkSlates finds of how many dishes slates are shown, and by which bodies.
func (m *matcher) checkSlates() {
	for _, s := range m.strands {
		last := map[string]int{} // by body
		s.own = make([]int, len(s.frames))
		for k, i := range s.frames {
			body := m.d.body[i]
			if m.slates[i] >= 0 {
				last[body] = k
			}
			s.own[k] = -1
			if n, ok := last[body]; ok {
				s.own[k] = n
			}
		}
	}
	shows := make([]map[string]bool, len(m.owing)) // by recipe: bodies that show its slate
	for i, r := range m.slates {
		if r >= 0 {
			if shows[r] == nil {
				shows[r] = map[string]bool{}
			}
			shows[r][m.d.body[i]] = true
		}
	}
	over, slated := 0.0, 0.0
	m.shown = map[string]float64{}
	for r, owing := range m.owing {
		if owing < 1 {
			over++
			if shows[r] != nil {
				slated++
			}
			for body := range shows[r] {
				m.shown[body]++
			}
		}
	}
	for body := range m.shown {
		m.shown[body] /= over
	}
	m.seldom = slated < fewSlates*over ||
		over == 0 && slices.ContainsFunc(m.strands, func(s *strand) bool { return s.want < 0 && s.bare > mostBare })
}

// logged is the recipe that a line of the log speaks for at a position; −1 none.
func (m *matcher) logged(s *strand, k int) int {
	if n := s.lines[k]; n >= 0 && m.on[n].Recipe != "" {
		r, _ := m.d.find(m.on[n].Recipe)
		return r
	}
	return -1
}

// surest is how high odds may be that rest on reasons, and why; lender is the position
// of the frame near in time that lends its dish, −1 none. Sources of two kinds that
// agree are wrong together as seldom as their chances multiplied. What is told by
// time, likeness or another body is no surer than what tells those frames their dish.
func (m *matcher) surest(s *strand, k, lender int, why []Evidence) (odds float64, says string) {
	is := func(kinds ...string) bool {
		return slices.ContainsFunc(why, func(e Evidence) bool { return e.Weight > 0 && slices.Contains(kinds, e.Kind) })
	}
	if lender == k || is("person", sourceKind[fromMetadata]) {
		return 1, ""
	}
	if len(why) > 0 && why[0].Kind == "plan" {
		return min(m.told, unchecked), "the plan alone says so"
	}
	if lender >= 0 {
		switch i := s.frames[lender]; {
		case m.slates[i] >= 0 && (why[0].Kind == "body" || why[0].Kind == "likeness"): // the slate says less
		case m.slates[i] >= 0:
			return m.slateSure(s, k, lender)
		case m.said[i] >= 0, slices.ContainsFunc(m.claims[i], ofMetadata):
			return 1, ""
		}
	}
	doubt := 1.0
	if is(sourceKind[fromFolder], sourceKind[fromName]) {
		doubt *= 1 - m.right[byName]
	}
	if is("log") {
		doubt *= 1 - m.right[byLog]
	}
	if doubt < 1 {
		return 1 - doubt, noSlate
	}
	if lender < 0 && !is("body", "likeness") {
		return 1, ""
	}
	least := 1.0
	for _, right := range m.right {
		if right > 0 {
			least = min(least, right)
		}
	}
	if least == 1 { // slates alone, of frames elsewhere
		least = unchecked
	}
	return least, noSlate
}

// slateSure is how high odds may be for a frame by a slate at the position lender, and
// why.
func (m *matcher) slateSure(s *strand, k, lender int) (odds float64, says string) {
	by, body := m.d.body[s.frames[lender]], m.d.body[s.frames[k]]
	switch {
	case m.seldom:
		return unchecked, "few dishes have slates: it may be late"
	case m.shownAgain(s, k, lender):
		return unchecked, "the slate is shown once more beyond this frame, as if something else was shot between"
	}
	own := s.own[k]
	switch {
	case by == body, own >= 0 && m.slates[s.frames[own]] == m.slates[s.frames[lender]]: // both may have shown it
		return 1, ""
	case m.shown[body] > mostSlates:
		return unchecked, body + " shows slates itself, and not this one"
	}
	odds = 1
	for _, b := range []string{by, body} {
		if x, ok := m.joined[b]; ok {
			odds = min(odds, x)
		}
	}
	if odds == 0 {
		return unchecked, "nothing tells whether " + by + " and " + body + " shoot one dish"
	}
	return max(odds, unchecked), fmt.Sprintf("%s and %s shoot one dish in some %.0f of 100 cases", by, body, 100*odds)
}

// shownAgain reports whether the body of a slate shows it once more on the other side
// of a position, on one day: why, if nothing else was shot between?
func (m *matcher) shownAgain(s *strand, k, lender int) bool {
	step := 1
	if lender > k {
		step = -1
	}
	for n := k + step; n >= 0 && n < len(s.frames); n += step {
		i := s.frames[n]
		if s.taken(m.d, n).Sub(s.taken(m.d, k)).Abs() >= pauseTo {
			return false
		}
		if m.slates[i] >= 0 && m.d.body[i] == m.d.body[s.frames[lender]] {
			return m.slates[i] == m.slates[s.frames[lender]]
		}
	}
	return false
}
