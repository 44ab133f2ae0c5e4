package audit

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
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
			p, first, q := t.alone.At(sides[0].k)[state], 1/float64(m.none+1), m.together*near
			nats := min(math.Log((1-q+q*p/first)/(1-q+q*(1-p)/(1-first))), mostOther)
			if nats < leastWeight || s.others[k] != nil && s.others[k].Weight >= nats {
				continue
			}
			s.others[k], values[k] = &witness{state, Evidence{"body", nats, fmt.Sprintf("%s shot %s at the same time, %s", t.body, d.recipes[state].ID, d.pathName(t.frames[sides[0].k]))}}, nats
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
					for c := range e.mean.at {
						e.mean.at[c] += (f.at[c] - e.mean.at[c]) / e.n
					}
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
				sum, n = sum+resembles(x), n+1
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
	if m.differs(s, k, slate, state) && !(slate >= 0 && m.slates[s.frames[slate]] == state && row[state] >= d.Rules.OddsFloor) {
		may := m.meant[i]
		var e []Evidence
		if slate >= 0 && !slices.Contains(may, m.slates[s.frames[slate]]) {
			e = []Evidence{{"slate", slateNats, m.slateSays(s, k, slate)}}
		} else if state != m.none {
			e = m.around(s, k, state)
		}
		p.contra = true
		m.contradicts(p, i, "what is known of it contradicts itself", e)
		return
	}
	top, second := m.topTwo(row)
	if state != m.none && row[state] >= d.Rules.OddsFloor {
		top = state
	}
	p.Odds = row[top]
	why := m.why(s, k, top)
	if p.Odds >= d.Rules.OddsFloor {
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
	return may != nil && (state == m.none || !slices.Contains(may, state) || slate >= 0 && !slices.Contains(may, m.slates[s.frames[slate]]))
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
		holds /= 1 + math.Exp(s.pause[n]+s.want)
	}
	return -1, 0
}

// slateSays tells of a slate as seen from another frame of its body.
func (m *matcher) slateSays(s *strand, k, slate int) string {
	i := s.frames[slate]
	name := "slate " + m.d.recipes[m.slates[i]].ID
	if t := m.d.frames[i].Taken; !t.IsZero() {
		name += t.Format(" at 15:04")
	}
	switch n := k - slate; {
	case n == 0:
		return name + ", in the frame itself"
	case n > 0:
		return fmt.Sprintf("%s, %s earlier on the same body", name, counted(n, "frame", "frames"))
	default:
		return fmt.Sprintf("%s, %s later on the same body", name, counted(-n, "frame", "frames"))
	}
}

// why says what speaks for a frame's showing a recipe, the strongest first.
func (m *matcher) why(s *strand, k, recipe int) []Evidence {
	d, i := m.d, s.frames[k]
	var all []Evidence
	if at, ok := slices.BinarySearchFunc(m.claims[i], recipe, func(c claim, r int) int { return c.recipe - r }); ok {
		all = append(all, m.claims[i][at].why...)
	}
	all = append(all, m.around(s, k, recipe)...)
	if n := s.lines[k]; n >= 0 && m.on[n].Recipe != "" {
		if r, _ := d.find(m.on[n].Recipe); r == recipe {
			all = append(all, Evidence{"log", logWeight, m.on[n].From.Format("the log: on set from 15:04")})
		}
	}
	for _, w := range []*witness{s.others[k], s.like[k]} {
		if w != nil && w.recipe == recipe {
			all = append(all, w.Evidence)
		}
	}
	slices.SortStableFunc(all, func(a, b Evidence) int { return cmp.Compare(b.Weight, a.Weight) })
	if len(all) > 0 && all[0].Weight >= 1 {
		return all
	}
	if says := m.planSays(s, k, recipe); says != "" && s.labels.At(k)[recipe] >= leastGuess {
		all = append(all, Evidence{"plan", 1, says})
	}
	return all
}

// around is what the frames before and after on the same body lend: the nearest
// slate, else the nearest frame that is surely of the recipe, as far as nothing
// between is labelled otherwise.
func (m *matcher) around(s *strand, k, recipe int) []Evidence {
	d := m.d
	var slate, time *Evidence
	for _, step := range []int{-1, 1} {
		holds, longest := 1.0, 0.0
		for n := k; n >= 0 && n < len(s.frames); n += step {
			if n != k {
				later := max(n, n-step)
				holds *= m.stays(s, later)
				longest = max(longest, s.taken(d, later).Sub(s.taken(d, later-1)).Seconds())
				if s.labels.Path[n] != recipe {
					break
				}
			}
			i := s.frames[n]
			nats := math.Log(holds / (1 - holds)) // +Inf at 1
			if m.slates[i] == recipe && s.slate[n] >= strong {
				nats = min(nats, s.slate[n])
				if nats > 0 && (slate == nil || slate.Weight < nats) {
					slate = &Evidence{"slate", nats, m.slateSays(s, k, n)}
				}
				break
			}
			if n != k && nats > leastTime && (time == nil || time.Weight < min(nats, mostTime)) && m.sure(i, recipe) {
				word := "after"
				if step > 0 {
					word = "before"
				}
				time = &Evidence{"time", min(nats, mostTime), fmt.Sprintf("%s %s %s, which shows %s; longest pause %s", span(d.frames[i].Taken.Sub(s.taken(d, k)).Abs()), word,
					d.pathName(i), d.recipes[recipe].ID, span(seconds(longest)))}
			}
		}
	}
	switch {
	case slate != nil:
		return []Evidence{*slate}
	case time != nil:
		return []Evidence{*time}
	}
	return nil
}

// stays is the chance that the dish before a position is still on set there, for
// want of a slate too.
func (m *matcher) stays(s *strand, k int) float64 {
	leaves := 1 - s.stay[k]
	if m.slates[s.frames[k]] < 0 {
		leaves *= math.Exp(s.want)
	}
	return s.stay[k] / (s.stay[k] + leaves)
}

// What is told of a neighbour in time, nats.
const leastTime, mostTime = -1.5, 4.0

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// sure reports whether a frame by itself is surely of a recipe.
func (m *matcher) sure(i, recipe int) bool {
	if m.said[i] == recipe {
		return true
	}
	at, odds := best(m.claims[i], m.d.placed[i].contra)
	return at >= 0 && odds >= m.d.Rules.OddsFloor && m.claims[i][at].recipe == recipe
}

// planSays tells what the plan alone says for a recipe; "" nothing.
func (m *matcher) planSays(s *strand, k, recipe int) string {
	d := m.d
	var says []string
	for n := k - 1; n >= 0; n-- {
		if r := s.labels.Path[n]; r != recipe {
			if r != m.none && m.next[r] == recipe {
				says = append(says, "next in the plan after "+d.recipes[r].ID)
			}
			break
		}
	}
	if t := s.taken(d, k); !t.IsZero() && d.recipes[recipe].Day == d.Book.DayAt(t) {
		says = append(says, "planned for this day")
		if len(m.anchors[recipe]) == 0 {
			says = append(says, "not shot otherwise")
		}
	}
	return strings.Join(says, ", ")
}
