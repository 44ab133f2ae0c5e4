package audit

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"
)

// agreement learns from frames that are surely of one dish or another whether
// the bodies shoot one dish at a time or several.
func (m *matcher) agreement() {
	same, of := 3*oneDish, 3.0
	for n, s := range m.strands {
		for _, t := range m.strands[n+1:] {
			for k := range s.frames {
				if s.taken(m.d, k).IsZero() || s.alone.At(k)[s.alone.Path[k]] < sureFrom || s.alone.Path[k] == m.none {
					continue
				}
				for _, side := range m.beside(s, k, t) {
					if state := t.alone.Path[side.k]; side.near > 0.5 && state != m.none {
						of++
						if state == s.alone.Path[k] {
							same++
						}
						break
					}
				}
			}
		}
	}
	m.together = same / of
}

// sureFrom are the odds from which a frame may speak for others.
const sureFrom = 0.9

// beforeOrAfter is a frame of another body near in time.
type beforeOrAfter struct {
	k    int
	near float64 // 1 at the same time, 0 at a pause that is as likely a change as not
}

// beside returns the frames of t before and after position k of s that are near
// in time and sure.
func (m *matcher) beside(s *strand, k int, t *strand) []beforeOrAfter {
	at := s.taken(m.d, k)
	if t == s || at.IsZero() || t.taken(m.d, 0).IsZero() || t.gap <= 0 {
		return nil
	}
	first, _ := slices.BinarySearchFunc(t.frames, at, func(i int, at time.Time) int { return m.d.frames[i].Taken.Compare(at) })
	var all []beforeOrAfter
	for _, n := range []int{first - 1, first} {
		if n < 0 || n >= len(t.frames) {
			continue
		}
		near := 1 - float64(t.taken(m.d, n).Sub(at).Abs())/float64(t.gap)
		if near > 0 && t.alone.At(n)[t.alone.Path[n]] >= sureFrom {
			all = append(all, beforeOrAfter{n, near})
		}
	}
	slices.SortStableFunc(all, func(a, b beforeOrAfter) int { return cmp.Compare(b.near, a.near) })
	return all
}

// fromOthers adds what other bodies, each labelled alone, say of a strand: once
// for a stretch and recipe. It reports whether they say anything.
func (m *matcher) fromOthers(s *strand, v *votes) bool {
	d := m.d
	s.others = make([]*witness, len(s.frames))
	said := false
	type act struct{ stretch, state int }
	of := map[act][]int{}
	var order []act
	values := make([]float64, len(s.frames))
	for k := range s.frames {
		for _, t := range m.strands {
			sides := m.beside(s, k, t)
			if len(sides) == 0 || t.alone.Path[sides[0].k] == m.none {
				continue
			}
			near, state := sides[0].near, t.alone.Path[sides[0].k]
			if len(sides) > 1 && t.alone.Path[sides[1].k] != state {
				near *= near / (near + sides[1].near)
			}
			// What its own frames say of that dish is known without the other.
			p, q := t.alone.At(sides[0].k)[state], m.together*near
			first := min(max(s.alone.At(k)[state], 1/float64(m.none+1)), p)
			nats := min(math.Log((1-q+q*p/first)/(1-q+q*(1-p)/(1-first))), mostOther)
			if nats < leastWeight || s.others[k] != nil && s.others[k].Weight >= nats {
				continue
			}
			s.others[k], values[k] = &witness{state, Evidence{"body", nats, fmt.Sprintf("%s shot %s at the same time, %s", d.body[t.frames[sides[0].k]], d.recipes[state].ID, d.pathName(t.frames[sides[0].k]))}}, nats
			key := act{s.stretch[k], state}
			if of[key] == nil {
				order = append(order, key)
			}
			of[key] = append(of[key], k)
		}
	}
	for _, key := range order {
		for _, k := range of[key] {
			v.add(k, key.state, values[k]/float64(len(of[key])))
			said = true
		}
	}
	return said
}

// exemplar is a picture of a dish that is known.
type exemplar struct {
	recipe  int
	strand  *strand
	stretch int
	frame   int
	mean    figures
	n       float64
	byHand  bool
}

// Exemplars.
const (
	oneLook    = 0.3 // mean square difference up to which pictures make one exemplar
	mostLooks  = 12  // of a recipe
	unsureOver = 0.995
	mostAsked  = 6 // frames of a stretch that are held against exemplars
)

// known collects what dishes look like, from frames that are sure: what a
// person corrected among them.
func (m *matcher) known() [][]exemplar {
	all := make([][]exemplar, len(m.d.recipes))
	for _, s := range m.strands {
		for k, i := range s.frames {
			r := s.alone.Path[k]
			f := &m.figures[i]
			if r == m.none || !f.known || m.d.frames[i].Look.Slate != nil || s.alone.At(k)[r] < sureFrom {
				continue
			}
			joined := false
			for n := len(all[r]) - 1; n >= 0 && !joined; n-- {
				e := &all[r][n]
				if joined = e.strand == s && e.stretch == s.stretch[k] && e.mean.apart(f) < oneLook; joined {
					e.n++
					e.mean.blend(f, e.n)
					e.byHand = e.byHand || m.said[i] >= 0
				}
			}
			if !joined && len(all[r]) < mostLooks {
				all[r] = append(all[r], exemplar{r, s, s.stretch[k], i, *f, 1, m.said[i] >= 0})
			}
		}
	}
	return all
}

// fromLikeness adds what likeness to known frames says of those of a strand that
// are not sure: once a stretch. It reports whether it says anything.
func (m *matcher) fromLikeness(s *strand, v *votes, known [][]exemplar) bool {
	d := m.d
	s.like = make([]*witness, len(s.frames))
	unsure := make([][]int, len(s.starts)) // by stretch: positions that likeness may speak of
	for k, i := range s.frames {
		if m.figures[i].known && d.frames[i].Look.Slate == nil && m.said[i] < 0 && s.alone.At(k)[s.alone.Path[k]] < unsureOver {
			unsure[s.stretch[k]] = append(unsure[s.stretch[k]], k)
		}
	}
	asked := make([]float64, len(s.frames)) // by position: what its likeness counts
	for _, all := range unsure {
		n := min(len(all), mostAsked)
		for at := range n {
			asked[all[at*len(all)/n]] = 1 / float64(n)
		}
	}
	said := false
	for k, i := range s.frames {
		if asked[k] == 0 {
			continue
		}
		f := &m.figures[i]
		for r := range known {
			sum, n, nearest := 0.0, 0.0, -1
			least := math.Inf(1)
			for at := range known[r] {
				e := &known[r][at]
				if n := e.stretch - s.stretch[k]; e.strand == s && n >= -1 && n <= 1 {
					continue // the change of picture has spoken of these
				}
				x := f.apart(&e.mean)
				sum, n = sum+resembles(f, &e.mean), n+1
				if x < least {
					least, nearest = x, at
				}
			}
			if n == 0 {
				continue
			}
			nats := min(max(math.Log(sum/n), -mostUnlike), mostLike)
			v.add(k, r, nats*asked[k])
			said = true
			if nats >= 1 && (s.like[k] == nil || s.like[k].Weight < nats) {
				e := known[r][nearest]
				says := fmt.Sprintf("looks like %s, which shows %s", d.pathName(e.frame), d.recipes[r].ID)
				if e.byHand {
					says += " by a person's word"
				}
				s.like[k] = &witness{r, Evidence{"likeness", nats, says}}
			}
		}
	}
	return said
}
