package audit

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// slateSays tells of a slate as seen from another frame of its body.
func (m *matcher) slateSays(s *strand, k, slate int) string {
	i := s.frames[slate]
	name := "slate " + m.d.recipes[m.slates[i]].ID
	if t := m.d.frames[i].Taken; !t.IsZero() {
		name += t.Format(" at 15:04")
	}
	n, body := 0, m.d.body[i] // frames of that body from the slate to this one
	for at := min(k, slate) + 1; at <= max(k, slate); at++ {
		if m.d.body[s.frames[at]] == body {
			n++
		}
	}
	if k < slate {
		n = -n
	}
	switch {
	case k == slate:
		return name + ", in the frame itself"
	case m.d.body[s.frames[k]] != body:
		return name + ", on " + body + ", which shot the same dishes"
	case n > 0:
		return fmt.Sprintf("%s, %s earlier on the same body", name, counted(n, "frame", "frames"))
	default:
		return fmt.Sprintf("%s, %s later on the same body", name, counted(-n, "frame", "frames"))
	}
}

// why says what speaks for a frame's showing a recipe, the strongest first, and
// which position near in time lends it that; −1 none does.
func (m *matcher) why(s *strand, k, recipe int) (all []Evidence, lender int) {
	i := s.frames[k]
	if at, ok := slices.BinarySearchFunc(m.claims[i], recipe, func(c claim, r int) int { return c.recipe - r }); ok {
		all = append(all, m.claims[i][at].why...)
	}
	lent, lender := m.around(s, k, recipe)
	all = append(all, lent...)
	if m.logged(s, k) == recipe {
		all = append(all, Evidence{"log", logWeight, m.on[s.lines[k]].From.Format("the log: on set from 15:04")})
	}
	for _, w := range []*witness{s.others[k], s.like[k]} {
		if w != nil && w.recipe == recipe {
			all = append(all, w.Evidence)
		}
	}
	slices.SortStableFunc(all, func(a, b Evidence) int { return cmp.Compare(b.Weight, a.Weight) })
	if len(all) > 0 && all[0].Weight >= 1 {
		return all, lender
	}
	if says := m.planSays(s, k, recipe); says != "" && s.labels.At(k)[recipe] >= leastGuess {
		all = append(all, Evidence{"plan", 1, says})
	}
	if len(all) == 0 {
		all = m.ofOneSet(s, k, recipe)
	}
	return all, lender
}

// ofOneSet is what speaks for the nearest frame of a run that shows one recipe.
func (m *matcher) ofOneSet(s *strand, k, recipe int) []Evidence {
	for _, step := range []int{-1, 1} {
		for n := k + step; n >= 0 && n < len(s.frames) && s.labels.Path[n] == recipe; n += step {
			for _, w := range []*witness{s.like[n], s.others[n]} {
				if w != nil && w.recipe == recipe {
					return []Evidence{{w.Kind, min(w.Weight, mostTime), "of one set with " + m.d.pathName(s.frames[n]) + ", which " + w.Says}}
				}
			}
		}
	}
	return nil
}

// around is what the frames before and after on the same body lend: the nearest
// slate, else the nearest frame that is surely of the recipe, as far as nothing
// between is labelled otherwise; and its position, −1 none.
func (m *matcher) around(s *strand, k, recipe int) (lent []Evidence, lender int) {
	d := m.d
	// The winners, by position; their words are made at the end.
	slate, slateNats := -1, 0.0
	sure, sureOdds, sureLongest := -1, 0.0, 0.0
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
			odds := holds / (1 - holds) // +Inf at 1
			if m.slates[i] == recipe && s.slate[n] >= strong {
				nats := min(math.Log(odds), s.slate[n])
				if nats > 0 && (slate < 0 || slateNats < nats) {
					slate, slateNats = n, nats
				}
				break
			}
			if odds <= leastTimeOdds { // they only fall from here on
				break
			}
			if n != k && (sure < 0 || sureOdds < min(odds, mostTimeOdds)) && m.sure(i, recipe) {
				sure, sureOdds, sureLongest = n, min(odds, mostTimeOdds), longest
			}
		}
	}
	switch {
	case slate >= 0:
		return []Evidence{{"slate", slateNats, m.slateSays(s, k, slate)}}, slate
	case sure >= 0:
		word, i := "after", s.frames[sure]
		if sure > k {
			word = "before"
		}
		return []Evidence{{"time", min(math.Log(sureOdds), mostTime), fmt.Sprintf("%s %s %s, which shows %s; longest pause %s", span(d.frames[i].Taken.Sub(s.taken(d, k)).Abs()), word,
			d.pathName(i), d.recipes[recipe].ID, span(seconds(sureLongest)))}}, sure
	}
	return nil, -1
}

// stays is the chance that the dish before a position is still on set there, for
// want of a slate too.
func (m *matcher) stays(s *strand, k int) float64 {
	leaves := 1 - s.stay[k]
	if m.slates[s.frames[k]] < 0 {
		leaves *= s.bare
	}
	return s.stay[k] / (s.stay[k] + leaves)
}

// What is told of a neighbour in time, nats.
const leastTime, mostTime = -1.5, 4.0

var leastTimeOdds, mostTimeOdds = math.Exp(leastTime), math.Exp(mostTime)

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// sure reports whether a frame, its slate apart, is surely of a recipe by itself.
func (m *matcher) sure(i, recipe int) bool { return m.said[i] == recipe || m.texted(i) == recipe }

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
	day, unshot := d.recipes[recipe].Day, len(m.anchors[recipe]) == 0
	switch t := s.taken(d, k); {
	case t.IsZero():
	case day == d.Book.DayAt(t):
		says = append(says, "planned for this day")
		if unshot {
			says = append(says, "not shot otherwise")
		}
	case unshot && m.owing[recipe] < 1:
		says = append(says, "planned for "+day.Says()+" and not shot otherwise")
	}
	return strings.Join(says, ", ")
}
