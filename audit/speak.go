package audit

import (
	"math"
	"slices"
	"time"
)

// logLines says by position which line of the log speaks of it; −1 none. People
// write a little before or after the change: a line speaks of the frames from the
// likeliest change about its time to the end of that stretch. What was on set then
// is carried on as any dish is, and a log that nobody kept up is not believed for
// the rest of the day.
func (m *matcher) logLines(s *strand) []int {
	d := m.d
	lines := make([]int, len(s.frames))
	for k := range lines {
		lines[k] = -1
	}
	if s.taken(d, 0).IsZero() {
		return lines
	}
	for n, w := range m.on {
		mine := func(k int) bool { return w.Body == "" || w.Body == d.body[s.frames[k]] }
		at, best := -1, math.Inf(-1)
		first, _ := slices.BinarySearchFunc(s.frames, w.From.Add(-logEarly), func(i int, t time.Time) int { return d.frames[i].Taken.Compare(t) })
		for k := first; k < len(s.frames); k++ {
			off := s.taken(d, k).Sub(w.From)
			if off > logKept {
				break
			}
			if !mine(k) {
				continue
			}
			change := mostChange
			if k > 0 {
				change = s.pause[k]
			}
			if off < 0 {
				change += logDrift * float64(off) / float64(logEarly)
			} else {
				change -= logDrift * float64(off) / float64(logKept)
			}
			if change > best {
				at, best = k, change
			}
		}
		for k := at; k >= 0 && k < len(s.frames) && s.stretch[k] == s.stretch[at]; k++ {
			if mine(k) {
				lines[k] = n
			}
		}
	}
	return lines
}

// How far from its time a line of the log may speak. Choices.
const (
	logEarly = 10 * time.Minute // before it: it was written late
	logKept  = 30 * time.Minute // after it
	logDrift = 4.0              // nats that so far is less likely
)

// votes are what one act of people says of the frames of a stretch: a folder, a
// title, a line of the log. It is cast once, in equal parts.
type votes struct {
	strand *strand
	speaks [][]float64
	states int
}

func (v *votes) add(k, state int, nats float64) {
	if v.speaks[k] == nil {
		v.speaks[k] = make([]float64, v.states)
	}
	v.speaks[k][state] += nats
}

// sayAgain reports whether two frames carry the same texts for the same recipes.
func sayAgain(a, b []claim) bool {
	return len(a) > 0 && slices.EqualFunc(a, b, func(x, y claim) bool { return x.recipe == y.recipe && x.weight == y.weight })
}

// act is what people wrote on frames of one body in a row, within a stretch.
type act struct {
	at    []int // positions
	again bool  // it goes on from the stretch before
}

// castTexts votes by what is written on frames. A text that goes on from a stretch
// before says less, and so does one that names the dish that was on set until the
// last slate: that a folder was not changed is easily forgotten.
func (m *matcher) castTexts(s *strand, v *votes) {
	open := map[string]*act{} // by body
	stale := m.slatedBefore(s)
	cast := func(a *act) {
		for _, k := range a.at {
			for _, c := range m.claims[s.frames[k]] {
				w := c.weight + m.lift
				if a.again || c.recipe == stale[k] {
					w = min(w, textStale)
				}
				w *= 1 - m.left[s.frames[k]]
				v.add(k, c.recipe, w/float64(len(a.at)))
			}
		}
	}
	var bodies []string
	for k, i := range s.frames {
		if m.said[i] >= 0 || m.d.placed[i].contra {
			continue
		}
		body := m.d.body[i]
		a := open[body]
		if a == nil {
			a = &act{}
			open[body], bodies = a, append(bodies, body)
		}
		if n := len(a.at); n > 0 {
			same := sayAgain(m.claims[s.frames[a.at[n-1]]], m.claims[i])
			if same && s.stretch[k] == s.stretch[a.at[n-1]] {
				a.at = append(a.at, k)
				continue
			}
			cast(a)
			*a = act{again: same}
		}
		if len(m.claims[i]) > 0 {
			a.at = append(a.at, k)
		}
	}
	for _, body := range bodies {
		cast(open[body])
	}
}

// slatedBefore is by position the dish known before the last slate, where that is
// of another dish; −1 none.
func (m *matcher) slatedBefore(s *strand) []int {
	all := make([]int, len(s.frames))
	slate, before, known := -1, -1, -1
	for k, i := range s.frames {
		switch r := m.slates[i]; {
		case r >= 0 && s.slate[k] >= strong && r != slate:
			if before = slate; known >= 0 {
				before = known
			}
			slate, known = r, -1
		case slate < 0 || m.said[i] >= 0:
			if r := m.alone(s, k, i); r >= 0 {
				known = r
			}
		}
		all[k] = before
	}
	return all
}

// castLog votes by the log.
func (m *matcher) castLog(s *strand, v *votes) {
	for from := 0; from < len(s.lines); {
		n, to := s.lines[from], from+1
		for to < len(s.lines) && s.lines[to] == n && s.stretch[to] == s.stretch[from] {
			to++
		}
		if n >= 0 {
			state, w := m.none, offWeight
			if r := m.logged(s, from); r >= 0 {
				state, w = r, logWeight
			}
			for k := from; k < to; k++ {
				if m.said[s.frames[k]] < 0 {
					v.add(k, state, (w+m.lift)/float64(to-from))
				}
			}
		}
		from = to
	}
}

// textChanges says by position what texts say of a change of dish: how much
// against one, and whether for one.
func (m *matcher) textChanges(s *strand) (bound []float64, differ []bool) {
	bound, differ = make([]float64, len(s.frames)), make([]bool, len(s.frames))
	last := map[string]int{} // by body: the position of its last frame
	for k, i := range s.frames {
		body := m.d.body[i]
		n, ok := last[body]
		last[body] = k
		if !ok {
			continue
		}
		switch a, b := m.meant[s.frames[n]], m.meant[i]; {
		case a == nil || b == nil:
		case sayAgain(m.claims[s.frames[n]], m.claims[i]):
			bound[s.between(m, n, k)] += math.Log(m.left[i] + (1-m.left[i])*s.textStays)
		case !slices.ContainsFunc(a, func(r int) bool { return slices.Contains(b, r) }):
			differ[s.between(m, n, k)] = true
		}
	}
	return bound, differ
}

// speak collects what a strand's own frames say, and the chance of a change
// before each.
func (m *matcher) speak(s *strand) [][]float64 {
	v := votes{s, make([][]float64, len(s.frames)), m.none + 1}
	s.stay = make([]float64, len(s.frames))
	s.lines = m.logLines(s)
	bound, differ := m.textChanges(s)
	crossed := m.crossings(s)
	governs := -1 // recipe of the last slate
	since := 0    // frames since the last likely change
	for k, i := range s.frames {
		change := s.pause[k]
		if k > 0 {
			if s.stretch[k] != s.stretch[k-1] {
				governs = -1
			}
			if r := m.slates[i]; r >= 0 && r != governs {
				change = m.slateChange(s, k) + min(slateLate*float64(max(since-slateSoon, 0)), mostLate)
			}
			if change += bound[k] + crossed[k]; differ[k] {
				change += textDiffers
			}
			if s.lines[k] != s.lines[k-1] {
				change = max(change, -1)
			}
		}
		if since++; s.pause[k] > 0 {
			since = 1
		}
		if r := m.slates[i]; r >= 0 {
			governs, since = r, 0
			if s.slate[k] > 0 {
				v.add(k, r, s.slate[k]+m.lift)
			}
		}
		s.stay[k] = 1 / (1 + math.Exp(min(max(change, leastChange), mostChange)))
		if m.said[i] >= 0 {
			v.add(k, m.said[i], pinned)
		}
	}
	m.castTexts(s, &v)
	m.castLog(s, &v)
	m.lone(s, &v)
	return v.speaks
}

// lone speaks for "no dish" where one or two frames stand alone in time and
// nothing was said of them, and against it where there are many: a dish is seldom
// shot in so few, and anything else seldom in so many; and by pictures that are like
// none before them.
func (m *matcher) lone(s *strand, v *votes) {
	for k, nats := range s.sundry {
		if i := s.frames[k]; nats != 0 && m.said[i] < 0 && !slices.ContainsFunc(m.claims[i], ofMetadata) {
			v.add(k, m.none, nats)
		}
	}
	for n, from := range s.starts[:len(s.starts)-1] {
		to := s.starts[n+1]
		for k := from + 1; k < min(to, from+1+manyFrames); k++ {
			v.add(k, m.none, moreFrame)
		}
		if to-from > manyFrames || s.taken(m.d, from).IsZero() || m.company(s, from, to) || slices.ContainsFunc(s.frames[from:to], m.written) {
			continue
		}
		for k := from; k < to; k++ {
			v.add(k, m.none, loneFrame/float64(to-from))
		}
	}
}

// written reports whether anything of a frame itself tells its dish.
func (m *matcher) written(i int) bool {
	return m.said[i] >= 0 || m.slates[i] >= 0 || len(m.claims[i]) > 0
}

// company reports whether another body shot near in time to a stretch.
func (m *matcher) company(s *strand, from, to int) bool {
	first, last := s.frames[from], s.frames[to-1]
	for _, side := range [2]struct{ at, step int }{{first, -1}, {last, 1}} {
		i := side.at + side.step
		if i >= 0 && i < len(m.d.frames) && !m.d.frames[i].Taken.IsZero() && m.d.frames[i].Taken.Sub(m.d.frames[side.at].Taken).Abs() < s.gap {
			return true
		}
	}
	return false
}
