package audit

import "math"

// Frames next to each other on either side of a long pause tell little of whether
// the dish was changed: a dish is shown in several arrangements, and two of them
// may differ as two dishes do. Their middles differ less, those of two dishes as
// much as ever; so all that was taken on either side is held against each other.

// arrangement is pictures of one arrangement, as far as they show it.
type arrangement struct {
	mean figures
	n    float64
}

// spell is the pictures of one body in one stretch with no slate between.
type spell struct {
	first, last  int // positions
	arrangements []arrangement
}

// spells parts the pictures of each body of a strand, slates apart, and holds each
// against those of its spell before it.
func (m *matcher) spells(s *strand) [][]spell {
	at := map[string]int{} // by body
	var all [][]spell
	var slated []int // by body: slates before its last picture
	slates := 0
	for k, i := range s.frames {
		if m.d.frames[i].Look.Slate != nil {
			slates++
			continue
		}
		n, ok := at[m.d.body[i]]
		if !ok {
			n = len(all)
			at[m.d.body[i]] = n
			all, slated = append(all, nil), append(slated, 0)
		}
		if of := all[n]; len(of) == 0 || slated[n] != slates || s.stretch[of[len(of)-1].last] != s.stretch[k] {
			all[n] = append(of, spell{first: k})
		}
		slated[n] = slates
		p := &all[n][len(all[n])-1]
		p.last = k
		s.sundry[k] = p.sundry(&m.figures[i])
		p.add(&m.figures[i])
	}
	return all
}

// ofElse is the share of pictures of no dish that show something else than those
// before: hands, a window, a coffee. A choice; of a dish newSetup do.
const ofElse = 0.5

// sundry is what a picture says for "no dish" by what the spell shows so far, nats.
func (p *spell) sundry(f *figures) float64 {
	if !f.known || len(p.arrangements) == 0 {
		return 0
	}
	nearest := math.Inf(1)
	for n := range p.arrangements {
		nearest = min(nearest, p.arrangements[n].mean.apart(f))
	}
	other, same := scatter(nearest, 1), scatter(nearest, oneSetup)
	return logSum(ofElse, other, same) - logSum(newSetup, other, same)
}

// add puts a picture to the arrangement that it shows, the first of those that it may.
func (p *spell) add(f *figures) {
	if !f.known {
		return
	}
	for n := range p.arrangements {
		if a := &p.arrangements[n]; a.mean.apart(f) < oneLook/2 {
			a.n++
			a.mean.blend(f, a.n)
			return
		}
	}
	p.arrangements = append(p.arrangements, arrangement{*f, 1})
}

// middle is the mean of the arrangements of a spell.
func (p *spell) middle() figures {
	mid := figures{known: true}
	for _, a := range p.arrangements {
		for c, x := range a.mean.at {
			mid.at[c] += x / float64(len(p.arrangements))
		}
	}
	return mid
}

// pictures adds what the pictures of a body say of a change of dish: each is held
// against the one before, and where a spell begins, all of it against all of the
// spell before.
func (m *matcher) pictures(s *strand, of []spell) {
	before := -1
	for n := range of {
		for k := of[n].first; k <= of[n].last; k++ {
			i := s.frames[k]
			if m.d.body[i] != m.d.body[s.frames[of[n].first]] || m.d.frames[i].Look.Slate != nil {
				continue
			}
			if before >= 0 {
				says := pictureChange(&m.figures[s.frames[before]], &m.figures[i], s.pauses(s.taken(m.d, k).Sub(s.taken(m.d, before))))
				if k == of[n].first {
					says = spellsChange(&of[n-1], &of[n], says)
				}
				s.look[s.between(m, before, k)] += says
			}
			before = k
		}
	}
}

// spellsChange is what two spells in a row say for a change of dish, nats; pair is
// what their pictures next to each other say. That stands where either side shows
// one arrangement and no more, or both show the same. The middle of n arrangements
// of a dish strays from that dish a n-th as much as one of them.
func spellsChange(p, q *spell, pair float64) float64 {
	n, k := len(p.arrangements), len(q.arrangements)
	if n == 0 || k == 0 || n+k == 2 {
		return pair
	}
	for i := range p.arrangements {
		for j := range q.arrangements {
			if p.arrangements[i].mean.apart(&q.arrangements[j].mean) < oneLook/3 {
				return pair
			}
		}
	}
	a, b := p.middle(), q.middle()
	share := (1/float64(n) + 1/float64(k)) / 2
	sum := 0.0
	for c, v := range setupsBy {
		off := a.at[c] - b.at[c]
		one := v * share
		two := one + 1 - v
		sum += math.Log(one/two) + off*off/2*(1/one-1/two)
	}
	return min(max(freedom/2*sum/looks, -mostAlike), mostApart)
}
