package audit

import (
	"slices"
	"time"
)

// Now and then a crew has two sets at once: the second body goes to one of its
// own, with its slate, while the first goes on with its dish. One chain has one
// dish at a time; so what a body took there is a strand of its own.

// What makes an aside. Stated choices.
const (
	goesOn     = -3.0            // log-odds of a change, at most, at which a body goes on with its dish
	goesOnFor  = 2               // frames in which it must go on while the other has another dish
	slateRound = 3 * time.Minute // within which bodies photograph one slate one after the other
)

// asides takes out of the frames of a crew those that a body took at a set of its
// own, and returns them besides.
func (m *matcher) asides(run []int, of []*strand) (rest []int, aside [][]int) {
	out := map[int]bool{}
	for _, s := range of {
		known := -1
		for k, i := range s.frames {
			r := m.alone(s, k, i)
			if r < 0 || r == known || out[i] {
				continue
			}
			known = r
			var from, to int
			if !slices.ContainsFunc(of, func(t *strand) bool {
				if t == s {
					return false
				}
				from, to = m.ownSet(s, k, r, t)
				return from < to
			}) {
				continue
			}
			var own []int
			for _, i := range s.frames[from:to] {
				if !out[i] {
					out[i] = true
					own = append(own, i)
				}
			}
			aside = append(aside, own)
		}
	}
	if len(aside) == 0 {
		return run, nil
	}
	return slices.DeleteFunc(slices.Clone(run), func(i int) bool { return out[i] }), aside
}

// ownSet is from where to where s is at a set of its own around position k, from
// which on it is known to show a recipe, while t goes on with another; nothing
// where it is not.
func (m *matcher) ownSet(s *strand, k, recipe int, t *strand) (from, to int) {
	d := m.d
	at := s.taken(d, k)
	next, _ := slices.BinarySearchFunc(t.frames, at, func(i int, at time.Time) int { return d.frames[i].Taken.Compare(at) })
	if next == 0 || next == len(t.frames) || t.stretch[next] != t.stretch[next-1] {
		return 0, 0
	}
	// The dish of t by its own word, as far as it holds.
	other, holds := -1, 1.0
	for n := next - 1; n >= 0 && holds > evenOdds; n-- {
		if r := m.alone(t, n, t.frames[n]); r >= 0 {
			other = r
			break
		}
		holds /= t.wears(n)
	}
	if other < 0 || other == recipe {
		return 0, 0
	}
	// It goes on with it, and is not shown the same slate.
	on := next
	for ; on < len(t.frames); on++ {
		r := m.alone(t, on, t.frames[on])
		if r == recipe && t.taken(d, on).Sub(at) < slateRound {
			return 0, 0
		}
		change := t.pause[on] + t.want
		if change > goesOn && (on == next || change > 0) || r >= 0 && r != other {
			break
		}
	}
	if on-next < goesOnFor {
		return 0, 0
	}
	long := max(s.gap, t.gap)
	from = k
	for n := k; n > 0 && k-n < slateSoon && s.taken(d, n).Sub(s.taken(d, n-1)) < long; n-- { // its slate may come late
		if m.alone(s, n-1, s.frames[n-1]) >= 0 {
			break
		}
		if s.look[n-1] > 0 && s.pause[n-1] > s.pause[from] {
			from = n - 1
		}
	}
	until := t.taken(d, on-1)
	for to = k + 1; to < len(s.frames); to++ {
		if r := m.alone(s, to, s.frames[to]); r >= 0 && r != recipe || s.taken(d, to).Sub(s.taken(d, to-1)) >= long || s.taken(d, to).After(until) {
			break
		}
	}
	return from, to
}
