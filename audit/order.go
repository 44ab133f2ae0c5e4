package audit

import (
	"cmp"
	"math"
	"slices"
	"time"

	"coverplate/audit/odds"
	"coverplate/audit/plan"
)

// anchor notes which recipes are surely shot, and when, and learns from them how
// far the plan's order and days are kept.
func (m *matcher) anchor() {
	d := m.d
	m.anchors = make([][]time.Time, len(d.recipes))
	type sure struct {
		recipe int
		at     time.Time
	}
	var all []sure
	for i, f := range d.frames {
		r := m.alone(m.at[i].strand, m.at[i].k, i)
		if r >= 0 && !f.Taken.IsZero() {
			m.anchors[r] = append(m.anchors[r], f.Taken)
			if n := len(all); n == 0 || all[n-1].recipe != r {
				all = append(all, sure{r, f.Taken})
			}
		}
	}
	m.next = m.planned()
	follow, of, kept, shot := 1.0, 1/inOrder, 6*onItsDay, 6.0
	for n, a := range all {
		if day := d.recipes[a.recipe].Day; !day.IsZero() {
			shot++
			if day == m.d.Book.DayAt(a.at) {
				kept++
			}
		}
		if n == 0 {
			continue
		}
		// A dish that is known nowhere may have been shot between the two.
		next := m.next[all[n-1].recipe]
		for next >= 0 && next != a.recipe && len(m.anchors[next]) > 0 {
			if m.anchors[next][0].After(a.at) {
				break
			}
			next = m.next[next]
		}
		if next >= 0 && len(m.anchors[next]) > 0 {
			of++
			if next == a.recipe {
				follow++
			}
		}
	}
	passed, told := 0.0, 0.0
	reached := map[plan.Day]bool{}
	for _, r := range slices.Backward(m.plan) {
		day := d.recipes[r].Day
		if len(m.anchors[r]) > 0 {
			reached[day] = true
			told++
		}
		if reached[day] {
			passed++
		}
	}
	m.told = told / max(passed, 1)
	m.missing()
	m.order, m.day = min(follow/of, 0.95), kept/shot
}

// missing says of each recipe how likely it is that it was not shot at all, if it
// is shown nowhere: 1 where it may yet come, little where its day is over, or a
// dish after it of its day is done.
func (m *matcher) missing() {
	d := m.d
	m.owing = make([]float64, len(d.recipes))
	var last plan.Day
	for _, f := range slices.Backward(d.frames) {
		if !f.Taken.IsZero() {
			last = d.Book.DayAt(f.Taken)
			break
		}
	}
	reached := false // of the last day: a dish at or after this one is known
	for _, r := range slices.Backward(m.plan) {
		day := d.recipes[r].Day
		reached = day == last && (reached || len(m.anchors[r]) > 0)
		m.owing[r] = 1
		if !day.IsZero() && (day.Before(last) || reached) {
			m.owing[r] = leftOut
		}
	}
}

// asks is by how much a recipe is the likelier from first to last, and slack
// around, for being shown at no other time as far as is known: a dish of the plan
// is shot somewhere.
func (m *matcher) asks(recipe int, first, last time.Time, slack time.Duration) float64 {
	owing := m.owing[recipe]
	if owing == 1 || m.seen == nil || len(m.anchors[recipe]) > 0 {
		return 1
	}
	nowhere := 1.0
	for _, at := range m.seen[recipe] {
		if at.last.Add(slack).Before(first) || at.first.After(last.Add(slack)) {
			nowhere *= 1 - at.odds
		}
	}
	return 1 / (1 - nowhere*(1-owing))
}

// planned gives each recipe the next of the plan: by day, then by row. No
// recipe comes after "none".
func (m *matcher) planned() []int {
	d := m.d
	order := make([]int, len(d.recipes))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int {
		a, b := d.recipes[i], d.recipes[j]
		if a.Day.IsZero() != b.Day.IsZero() {
			if a.Day.IsZero() {
				return 1
			}
			return -1
		}
		if a.Day != b.Day {
			return a.Day.Sub(b.Day)
		}
		return cmp.Compare(a.Row, b.Row)
	})
	m.plan = order
	next := make([]int, len(d.recipes)+1)
	for i := range next {
		next[i] = -1
	}
	for n := 1; n < len(order); n++ {
		next[order[n-1]] = order[n]
	}
	return next
}

// jump says to where the dish may change in a stretch of a strand: at a slate,
// and where none is.
func (m *matcher) jump(s *strand, n int) (slate, bare *odds.Jump) {
	d := m.d
	first, last := s.taken(d, s.starts[n]), s.taken(d, s.starts[n+1]-1)
	weight, again := make([]float64, len(d.recipes)+1), make([]float64, len(d.recipes)+1)
	again[m.none] = 1
	done := make([]bool, len(d.recipes)) // surely shot at another time
	var today, otherDay float64          // recipes planned for the day, for others
	day := m.d.Book.DayAt(first)
	for i := range d.recipes {
		switch planned := d.recipes[i].Day; {
		case first.IsZero() || planned.IsZero():
		case planned == day:
			today++
		default:
			otherDay++
		}
	}
	if s.lent == nil {
		s.lent = make([][]float64, len(s.starts)-1)
	}
	s.lent[n] = make([]float64, len(d.recipes))
	left, shot := 0.0, 0.0 // of what is not done, and is
	for i := range d.recipes {
		w := 1.0
		if planned := d.recipes[i].Day; today > 0 && !planned.IsZero() && planned != day {
			w = min(1, (1-m.day)/m.day*today/otherDay)
		}
		again[i] = 1
		if !first.IsZero() {
			again[i], done[i] = m.again(i, first, last, 2*s.gap)
			again[i] *= m.asks(i, first, last, 2*s.gap)
		}
		s.lent[n][i] = again[i]
		if done[i] { // what is left is the likelier for it
			w *= again[i]
			again[i] = 1
			shot += w
		} else {
			left += w
		}
		weight[i] = w
	}
	sum := left + shot
	if most := repeated * max(left, 1); shot > most {
		sum = left + most
		for i := range d.recipes {
			if done[i] {
				weight[i] *= most / shot
			}
		}
	}
	if left < 1 { // and where nothing is left, so is that nothing changed
		for i := range d.recipes {
			again[i] *= left
		}
	}
	// Whatever its chance by weight is, the next of the plan that is not done
	// follows with the odds of m.order, tempered; a day begins so with its first,
	// and what the day's plan has left out so far is as likely as the next.
	bonus := math.Pow(m.order/(1-m.order), orderCounts) * max(sum-1, 0)
	if before := s.knownBefore[n]; before >= 0 {
		for _, r := range m.plan[:slices.Index(m.plan, before)] {
			if !done[r] && d.recipes[r].Day == day {
				weight[r] *= 1 + bonus
			}
		}
	}
	next := m.follows(done)
	if k := s.starts[n]; k == 0 || d.Book.DayAt(s.taken(d, k-1)) != day {
		next = nil // who begins a day begins with its first
		for _, r := range m.plan {
			if d.recipes[r].Day == day && !done[r] {
				weight[r] *= 1 + bonus
				break
			}
		}
	}
	jump := func() *odds.Jump {
		j, err := odds.NewJump(odds.Ways{Weight: weight, Next: next, Bonus: bonus, Again: again, Aside: m.none, Share: max(noneShare, 1/float64(m.none+1)), Resume: resumed})
		if err != nil {
			panic(err) // weights are above 0, and the order of the plan is one
		}
		return j
	}
	slate = jump()
	if bare = slate; s.want < 0 {
		for i := range d.recipes {
			again[i] *= math.Exp(s.want)
		}
		bare = jump()
	}
	return slate, bare
}

// follows gives each recipe the next of the plan that is not done.
func (m *matcher) follows(done []bool) []int {
	next := make([]int, m.none+1)
	ahead := -1
	next[m.none] = -1
	for _, r := range slices.Backward(m.plan) {
		if next[r] = ahead; !done[r] {
			ahead = r
		}
	}
	return next
}

// again is how much less likely a recipe is from first to last, and slack around,
// for being shown at another time: a dish is cooked once. What surely was shot
// there is not held to that; of other recipes those count that surely were shot at
// another time, and from the second labelling on those that likely were. Those
// surely shot are done, but for one known on a later day than its own alone: that
// may be its second time.
func (m *matcher) again(recipe int, first, last time.Time, slack time.Duration) (least float64, done bool) {
	all, day := m.anchors[recipe], m.d.Book.DayAt(first)
	least = 1
	at, _ := slices.BinarySearchFunc(all, first.Add(-slack), time.Time.Compare)
	if at < len(all) && !all[at].After(last.Add(slack)) {
		return 1, false
	}
	lowers := func(odds float64, on plan.Day) {
		times := shotBefore
		if on == day {
			times = shotToday
		}
		least = min(least, 1-odds*(1-times))
	}
	for _, n := range []int{at - 1, at} {
		if n >= 0 && n < len(all) {
			lowers(1, m.d.Book.DayAt(all[n]))
		}
	}
	if m.seen != nil {
		for _, at := range m.seen[recipe] {
			if at.last.Add(slack).Before(first) || at.first.After(last.Add(slack)) {
				lowers(at.odds, at.day)
			}
		}
	}
	if len(all) > 0 && m.d.recipes[recipe].Day == day && day.Before(m.d.Book.DayAt(all[0])) {
		return min(1, least*takenAgain/shotBefore), false
	}
	return least, len(all) > 0
}

// sighting is a stretch that may show a recipe.
type sighting struct {
	first, last time.Time
	day         plan.Day
	odds        float64
}

// lessEcho takes half of a factor on odds, in logarithms, out of a probability.
func lessEcho(p, factor float64) float64 { return p / (p + (1-p)*math.Sqrt(factor)) }

// sight notes which stretches may show which recipes, from the last labelling. Half
// of what that had from other stretches is left out, in logarithms, lest a guess be
// borne out by its own echo.
func (m *matcher) sight() {
	m.seen = make([][]sighting, len(m.d.recipes))
	sum := make([]float64, m.none+1)
	for _, s := range m.strands {
		if s.taken(m.d, 0).IsZero() {
			continue
		}
		for n, from := range s.starts[:len(s.starts)-1] {
			to := s.starts[n+1]
			clear(sum)
			for k := from; k < to; k++ {
				for i, p := range s.alone.At(k) {
					sum[i] += p
				}
			}
			for r := range m.d.recipes {
				p := min(sum[r]/float64(to-from), 1)
				if len(m.anchors[r]) == 0 {
					p = lessEcho(p, s.lent[n][r])
				}
				if p >= leastGuess {
					m.seen[r] = append(m.seen[r], sighting{s.taken(m.d, from), s.taken(m.d, to-1), m.d.Book.DayAt(s.taken(m.d, from)), p})
				}
			}
		}
	}
}
