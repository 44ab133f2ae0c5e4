package audit

import (
	"math"
	"slices"
	"time"
)

// crews parts the bodies into those that shoot one dish at a time, as frames
// tell that are known by themselves; or, of a body that nothing is known of, when
// it shoots and what its pictures show. What a body took at a set of its own
// stands alone.
func (m *matcher) crews() (all [][]int) {
	m.joined = map[string]float64{}
	var crews [][]int
	var members [][]*strand
	for _, s := range m.solo {
		at, most, told := -1, oneCrew, false
		for n, of := range members {
			same, all := 0.0, 0.0
			for _, t := range of {
				a, b := m.sameDish(s, t)
				same, all = same+a, all+b
			}
			x := (crewWorth*oneDish + same) / (crewWorth + all)
			if all == 0 { // nothing is known of one of them by itself
				nats := math.Log(oneDish / (1 - oneDish))
				for _, t := range of {
					nats += m.fits(s, t) / float64(len(of))
				}
				if x = 1 / (1 + math.Exp(-nats)); x < sureFrom {
					continue
				}
			}
			if x >= most {
				at, most, told = n, x, all > 0
			}
		}
		if at < 0 {
			crews, members = append(crews, s.frames), append(members, []*strand{s})
			continue
		}
		m.joined[m.d.body[s.frames[0]]] = 0
		if told {
			m.joined[m.d.body[s.frames[0]]] = most
		}
		crews[at], members[at] = m.inTime(crews[at], s.frames), append(members[at], s)
	}
	for n, run := range crews {
		rest, asides := m.asides(run, members[n])
		all = append(append(all, rest), asides...)
	}
	return all
}

// inTime joins the frames of two bodies by time.
func (m *matcher) inTime(a, b []int) []int {
	all := make([]int, 0, len(a)+len(b))
	for len(a) > 0 && len(b) > 0 {
		if m.d.frames[b[0]].Taken.Before(m.d.frames[a[0]].Taken) {
			a, b = b, a
		}
		all, a = append(all, a[0]), a[1:]
	}
	return append(append(all, a...), b...)
}

// sameDish counts the stretches of s in which a dish is known by itself while one
// is known of t too, and those of them in which it is the same.
func (m *matcher) sameDish(s, t *strand) (same, of float64) {
	d := m.d
	known := make([]int, 0, len(t.frames)) // positions in t
	for k, i := range t.frames {
		if m.alone(t, k, i) >= 0 {
			known = append(known, k)
		}
	}
	slack := min(s.gap, t.gap)
	for n, from := range s.starts[:len(s.starts)-1] {
		told, agrees := 0, 0
		for k := from; k < s.starts[n+1]; k++ {
			r := m.alone(s, k, s.frames[k])
			if r < 0 {
				continue
			}
			at := s.taken(d, k)
			next, _ := slices.BinarySearchFunc(known, at, func(k int, at time.Time) int { return t.taken(d, k).Compare(at) })
			near := false
			for _, n := range []int{next - 1, next} {
				if n < 0 || n >= len(known) || t.taken(d, known[n]).Sub(at).Abs() >= slack {
					continue
				}
				if near = true; m.alone(t, known[n], t.frames[known[n]]) == r {
					agrees++
					break
				}
			}
			if near {
				told++
			}
		}
		if told > 0 {
			of++
			same += float64(agrees) / float64(told)
		}
	}
	return same, of
}

// visit is a stretch of a body.
type visit struct {
	from, to time.Time
	looks    figures // of its middle picture
}

func (m *matcher) visitsOf(s *strand) []visit {
	all := make([]visit, len(s.starts)-1)
	for n := range all {
		first, end := s.starts[n], s.starts[n+1]
		all[n] = visit{s.taken(m.d, first), s.taken(m.d, end-1), m.middle(s, n)}
	}
	return all
}

// fits is how well it fits one crew when and what s shot beside t, nats: no
// stretch of the one reaches into two of the other, and their pictures are alike.
func (m *matcher) fits(s, t *strand) (nats float64) {
	mine, theirs := m.visitsOf(s), m.visitsOf(t)
	slack := min(s.gap, t.gap) / 4
	for _, v := range mine {
		a, b := v.from, v.to
		at, _ := slices.BinarySearchFunc(theirs, a.Add(slack), func(v visit, at time.Time) int { return v.from.Compare(at) })
		if at--; at < 0 || m.d.Book.DayAt(theirs[at].from) != m.d.Book.DayAt(a) {
			continue
		}
		w := &theirs[at]
		if at+1 < len(theirs) {
			next := theirs[at+1].from
			across := min(max(float64(b.Sub(a))/float64(next.Sub(w.from)), 0.05), 0.95) // of stretches anywhere would reach into the next
			if b.After(next.Add(slack)) {
				nats += math.Log(inTwo / across)
				continue
			}
			nats += math.Log((1 - inTwo) / (1 - across))
		}
		if v.looks.known && w.looks.known {
			nats += min(max(math.Log(resembles(&v.looks, &w.looks)), -mostUnlike), mostUnlike)
		}
	}
	return nats
}

// inTwo is the share of a body's stretches that reach into two of another of its
// crew. A choice.
const inTwo = 0.05

// middle is the mean picture of a stretch, slates apart.
func (m *matcher) middle(s *strand, stretch int) (mean figures) {
	n := 0.0
	for k := s.starts[stretch]; k < s.starts[stretch+1]; k++ {
		f := &m.figures[s.frames[k]]
		if !f.known || m.d.frames[s.frames[k]].Look.Slate != nil {
			continue
		}
		n++
		mean.blend(f, n)
	}
	mean.known = n > 0
	return mean
}

// alone is the recipe of a frame that is known by itself: by a person's word, a
// slate in it, or what is written on it; −1 none. s is nil where a person said
// that it shows none.
func (m *matcher) alone(s *strand, k, i int) int {
	if r := m.said[i]; r >= 0 || m.d.placed[i].ByHand {
		return r
	}
	if m.slates[i] >= 0 && s.slate[k] >= strong {
		return m.slates[i]
	}
	return m.texted(i)
}

// texted is the recipe that what is written on a frame surely tells; −1 none.
func (m *matcher) texted(i int) int {
	if at, odds := best(m.claims[i], m.d.placed[i].contra); at >= 0 && odds*(1-m.left[i]) >= m.d.Rules.OddsFloor {
		return m.claims[i][at].recipe
	}
	return -1
}

// Bodies are of one crew from that share of stretches on in which they shoot one
// dish; oneDish counts as that many stretches.
const oneCrew, crewWorth = 0.8, 3.0
