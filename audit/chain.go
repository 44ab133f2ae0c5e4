package audit

import (
	"cmp"
	"math"
	"path"
	"slices"
	"time"

	"coverplate/audit/odds"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// What sources other than texts weigh, in nats. Stated choices, in the order in
// which DESIGN section 6 trusts them: a slate before any text, the log after.
const (
	slateWeight = 6.0  // a slate, for its own frame; the chain carries it on
	slateStarts = 1.0  // log-odds that a slate of another dish stands at a change, before pause and picture speak
	slateCheck  = 0.5  // what each frame under a slate speaks for it against a slate that comes at once after
	logWeight   = 3.0  // the log of what is on set, once a stretch
	offWeight   = 2.0  // the log that nothing is on set
	sameTexts   = -3.0 // frames in a row that people wrote one thing on are of one dish
	pinned      = 40.0 // a person's word, within the chain
	mostOther   = 8.0  // what another body says at most, once a stretch
)

// What is to be expected before any frame is seen. Stated choices.
const (
	slatingTurns = 8
	noneShare    = 0.1  // of what is shot is no dish of the plan
	onItsDay     = 0.85 // of dishes are shot on the day they are planned for, until the shoot tells
	shotToday    = 0.05 // a dish that surely was shot at another hour of the day, against one not shot yet
	shotBefore   = 0.2  // of another day
	resumed      = 0.2  // of what is shot after something that is no dish is the dish before it
	inOrder      = 0.3  // of dishes are followed by the next of the plan, until the shoot tells
	loneFrame    = 2.0  // nats for "no dish" of a frame that stands alone in time, 1 of two
	moreFrame    = -0.4 // nats for "no dish" of each frame more in a stretch
	manyFrames   = 10   // of which that is said
	oneDish      = 0.67 // chance that two bodies at one time shoot one dish, until the shoot tells
)

// strand is the frames of one body in the order they were taken.
type strand struct {
	body   string
	frames []int // places in sheet.frames
	rhythm
	stretch []int     // by position: number of its stretch, without a pause of gap
	starts  []int     // first position of each stretch, and the number of frames
	pause   []float64 // by position: log-odds of a change since the position before, by pause and picture
	look    []float64 // what the picture says in it
	stay    []float64 // by position: chance that the dish is that of the position before
	want    float64   // log of the share of dishes that come without a slate; 0 where the body has none
	slate   []float64 // by position: what a slate there weighs
	lines   []int     // by position: the line of the log that speaks of it; −1 none
	labels  odds.Labels
	alone   odds.Labels // without what other bodies and likeness say
	others  []*witness  // by position: the most that another body says; nil nothing
	like    []*witness  // likeness to frames of one dish, the same
}

// witness is evidence for one recipe.
type witness struct {
	recipe int
	Evidence
}

func (s *strand) taken(d *sheet, k int) time.Time { return d.frames[s.frames[k]].Taken }

// matcher finds which dish each frame shows.
type matcher struct {
	d        *sheet
	none     int // the state after all recipes
	claims   [][]claim
	meant    [][]int // by frame: recipes that its texts may mean where they are strong; nil they name none
	slates   []int   // by frame: recipe of the slate in it; −1 none
	said     []int   // by frame: recipe by a person's word; −1 none
	figures  []figures
	strands  []*strand
	at       []place // by frame: its strand and position; strand nil where a person said that it shows none
	anchors  [][]time.Time
	seen     [][]sighting         // by recipe; nil before the first labelling
	on       []catalogue.Decision // the log, by From
	next     []int
	order    float64 // chance that the next of the plan follows
	day      float64 // chance that a dish is shot on its day
	lift     float64 // log-odds against any one recipe before anything is seen
	together float64 // chance that two bodies at one time shoot one dish
}

type place struct {
	strand *strand
	k      int
}

// weave makes the strands. Frames without a time are strands of their own.
func (m *matcher) weave() {
	d := m.d
	skip := func(i int) bool { return d.placed[i].ByHand && m.said[i] < 0 }
	add := func(frames []int) {
		frames = slices.DeleteFunc(slices.Clone(frames), skip)
		if len(frames) == 0 {
			return
		}
		s := &strand{body: d.frames[frames[0]].Body(), frames: frames}
		s.rhythm = rhythmOf(d.Rules.SetGap, m.pausesOf(s))
		n := -1
		for k := range frames {
			if k == 0 || s.gap > 0 && s.taken(d, k).Sub(s.taken(d, k-1)) >= s.gap {
				n++
				s.starts = append(s.starts, k)
			}
			s.stretch = append(s.stretch, n)
			m.at[frames[k]] = place{s, k}
		}
		s.starts = append(s.starts, len(frames))
		m.strands = append(m.strands, s)
	}
	for _, run := range d.bodies() {
		add(run)
	}
	for i, f := range d.frames {
		if f.Taken.IsZero() {
			add([]int{i})
		}
	}
	for _, s := range m.strands {
		m.pauses(s)
		m.weighSlates(s)
	}
}

// pausesOf lists the pauses of a strand. A slate of another dish than the slate
// before says that the dish was changed.
func (m *matcher) pausesOf(s *strand) []pause {
	var all []pause
	last := -1
	for k, i := range s.frames {
		r := m.slates[i]
		if k > 0 {
			all = append(all, pause{s.taken(m.d, k).Sub(s.taken(m.d, k-1)), r >= 0 && last >= 0 && r != last})
		}
		if r >= 0 {
			last = r
		}
	}
	return all
}

// pauses counts a time in thresholds.
func (s *strand) pauses(t time.Duration) float64 {
	if s.gap <= 0 {
		return 0
	}
	return float64(t) / float64(s.gap)
}

// pauses says how likely the dish changed before each position. Pictures are
// compared across a slate: the change, if it is one, stands at the slate.
func (m *matcher) pauses(s *strand) {
	d := m.d
	s.pause, s.look = make([]float64, len(s.frames)), make([]float64, len(s.frames))
	last, from := -1, 0 // the last picture that is not a slate's, and the position since
	for k, i := range s.frames {
		if k > 0 {
			s.pause[k] = s.change(s.taken(d, k).Sub(s.taken(d, k-1)))
		}
		if d.frames[i].Look.Slate != nil {
			continue
		}
		if last >= 0 {
			s.look[from] = pictureChange(&m.figures[last], &m.figures[i], s.pauses(d.frames[i].Taken.Sub(d.frames[last].Taken)))
		}
		last, from = i, k+1
	}
	for k := range s.pause {
		s.pause[k] = min(max(s.pause[k]+s.look[k], leastChange), mostChange)
	}
	m.slating(s)
}

// slating finds which share of dishes the body slates: the want of a slate speaks
// against another dish then, though not against "none of them". It is found by
// turns: the share of slates among changes, with those that pauses and pictures
// let expect where no slate is; and from that share how likely a change without
// a slate is (expectation and maximisation). A body without slates says nothing
// by having none.
func (m *matcher) slating(s *strand) {
	slated := 0.0
	last := -1
	for _, i := range s.frames {
		if r := m.slates[i]; r >= 0 {
			if r != last {
				slated++
			}
			last = r
		}
	}
	if slated == 0 {
		return
	}
	for range slatingTurns {
		bare := 1.0 // one more, so that a single slate proves nothing
		for k, i := range s.frames {
			if k > 0 && m.slates[i] < 0 && m.slates[s.frames[k-1]] < 0 {
				bare += 1 / (1 + math.Exp(-s.pause[k]-s.want))
			}
		}
		s.want = math.Log(bare / (bare + slated))
	}
}

// weighSlates says what each slate weighs. One that is followed by another of
// another dish, without a long pause, was right only if the dish was changed
// there; so a wrong slate is taken back by the next.
func (m *matcher) weighSlates(s *strand) {
	s.slate = make([]float64, len(s.frames))
	for n, from := range s.starts[:len(s.starts)-1] {
		before, shown := -1, 0
		for k := from; k < s.starts[n+1]; k++ {
			r := m.slates[s.frames[k]]
			if r < 0 {
				shown++
				continue
			}
			s.slate[k] = slateWeight
			if before >= 0 && m.slates[s.frames[before]] != r {
				s.slate[before] = min(max(m.slateChange(s, k)+slateCheck*float64(shown), 0), slateWeight)
			}
			before, shown = k, 0
		}
	}
}

// slateChange is the log-odds that a slate of another dish stands at a change.
func (m *matcher) slateChange(s *strand, k int) float64 {
	base := m.changeAlone(s, k)
	return min(max(base, slateStarts)+s.look[k], mostChange)
}

// changeAlone is what the pause before k says without the picture.
func (m *matcher) changeAlone(s *strand, k int) float64 {
	if k == 0 {
		return mostChange
	}
	return s.change(s.taken(m.d, k).Sub(s.taken(m.d, k-1)))
}

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
		if w.Body != "" && w.Body != s.body {
			continue
		}
		at, best := -1, math.Inf(-1)
		first, _ := slices.BinarySearchFunc(s.frames, w.From.Add(-logEarly), func(i int, t time.Time) int { return d.frames[i].Taken.Compare(t) })
		for k := first; k < len(s.frames); k++ {
			off := s.taken(d, k).Sub(w.From)
			if off > logKept {
				break
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
			lines[k] = n
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
		r := m.said[i]
		if r < 0 && !d.placed[i].ByHand {
			if p := m.at[i]; m.slates[i] >= 0 && p.strand.slate[p.k] >= strong {
				r = m.slates[i]
			} else if at, odds := best(m.claims[i], d.placed[i].contra); at >= 0 && odds >= d.Rules.OddsFloor {
				r = m.claims[i][at].recipe
			}
		}
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
		if n > 0 && m.next[all[n-1].recipe] >= 0 {
			of++
			if m.next[all[n-1].recipe] == a.recipe {
				follow++
			}
		}
	}
	m.order, m.day = min(follow/of, 0.95), kept/shot
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
	var today, otherDay float64 // recipes planned for the day, for others
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
	sum := 0.0
	for i := range d.recipes {
		w := 1.0
		if planned := d.recipes[i].Day; today > 0 && !planned.IsZero() && planned != day {
			w = min(1, (1-m.day)/m.day*today/otherDay)
		}
		again[i] = 1
		if !first.IsZero() {
			again[i] = m.again(i, first, last, 2*s.gap)
		}
		weight[i] = w
		sum += w
	}
	// Whatever its chance by weight is, the next of the plan follows with
	// m.order, if it is planned for the day.
	bonus := m.order / (1 - m.order) * max(sum-1, 0)
	jump := func() *odds.Jump {
		j, err := odds.NewJump(odds.Ways{Weight: weight, Next: m.next, Bonus: bonus, Again: again, Aside: m.none, Share: max(noneShare, 1/float64(m.none+1)), Resume: resumed})
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

// again is how much less likely a recipe is from first to last, and slack around,
// for being shown at another time: a dish is cooked once. What surely was shot
// there is not held to that; of other recipes those count that surely were shot at
// another time, and from the second labelling on those that likely were.
func (m *matcher) again(recipe int, first, last time.Time, slack time.Duration) float64 {
	all, day, least := m.anchors[recipe], m.d.Book.DayAt(first), 1.0
	at, _ := slices.BinarySearchFunc(all, first.Add(-slack), time.Time.Compare)
	if at < len(all) && !all[at].After(last.Add(slack)) {
		return 1
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
	return least
}

// sighting is a stretch that may show a recipe.
type sighting struct {
	first, last time.Time
	day         plan.Day
	odds        float64
}

// sight notes which stretches may show which recipes, from a first labelling.
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
				if p := sum[r] / float64(to-from); p >= leastGuess {
					m.seen[r] = append(m.seen[r], sighting{s.taken(m.d, from), s.taken(m.d, to-1), m.d.Book.DayAt(s.taken(m.d, from)), p})
				}
			}
		}
	}
}

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

// speak collects what a strand's own frames say, and the chance of a change
// before each.
func (m *matcher) speak(s *strand) [][]float64 {
	d := m.d
	v := votes{s, make([][]float64, len(s.frames)), m.none + 1}
	s.stay = make([]float64, len(s.frames))
	s.lines = m.logLines(s)
	lines := s.lines
	var texts, logged []int // positions of one act
	castTexts := func() {
		for _, k := range texts {
			for _, c := range m.claims[s.frames[k]] {
				v.add(k, c.recipe, (c.weight+m.lift)/float64(len(texts)))
			}
		}
		texts = texts[:0]
	}
	castLog := func() {
		for _, k := range logged {
			state, w := m.none, offWeight
			if on := m.on[lines[k]]; on.Recipe != "" {
				state, _ = d.find(on.Recipe)
				w = logWeight
			}
			v.add(k, state, (w+m.lift)/float64(len(logged)))
		}
		logged = logged[:0]
	}
	governs := -1 // recipe of the last slate
	for k, i := range s.frames {
		change := s.pause[k]
		if k > 0 {
			before := s.frames[k-1]
			if s.stretch[k] != s.stretch[k-1] {
				governs = -1
			}
			if len(texts) > 0 && (s.stretch[k] != s.stretch[k-1] || !sayAgain(m.claims[before], m.claims[i])) {
				castTexts()
			}
			if len(logged) > 0 && (s.stretch[k] != s.stretch[k-1] || lines[k] != lines[k-1]) {
				castLog()
			}
			if r := m.slates[i]; r >= 0 && r != governs {
				change = m.slateChange(s, k)
			}
			switch a, b := m.meant[before], m.meant[i]; {
			case a == nil || b == nil:
			case sayAgain(m.claims[before], m.claims[i]):
				change += sameTexts
			case !slices.ContainsFunc(a, func(r int) bool { return slices.Contains(b, r) }):
				change = max(change, 0)
			}
			if lines[k] != lines[k-1] {
				change = max(change, -1)
			}
		}
		if r := m.slates[i]; r >= 0 {
			governs = r
			if s.slate[k] > 0 {
				v.add(k, r, s.slate[k]+m.lift)
			}
		}
		s.stay[k] = 1 / (1 + math.Exp(min(max(change, leastChange), mostChange)))
		switch {
		case m.said[i] >= 0:
			v.add(k, m.said[i], pinned)
		case d.placed[i].contra:
		case len(m.claims[i]) > 0:
			texts = append(texts, k)
		}
		if lines[k] >= 0 && m.said[i] < 0 {
			logged = append(logged, k)
		}
	}
	castTexts()
	castLog()
	m.lone(s, &v)
	return v.speaks
}

// lone speaks for "no dish" where one or two frames stand alone in time and
// nothing was said of them, and against it where there are many: a dish is seldom
// shot in so few, and anything else seldom in so many.
func (m *matcher) lone(s *strand, v *votes) {
	for n, from := range s.starts[:len(s.starts)-1] {
		to := s.starts[n+1]
		for k := from + 1; k < min(to, from+1+manyFrames); k++ {
			v.add(k, m.none, moreFrame)
		}
		if to-from > manyFrames || s.taken(m.d, from).IsZero() || m.company(s, from, to) {
			continue
		}
		for k := from; k < to; k++ {
			v.add(k, m.none, loneFrame/float64(to-from))
		}
	}
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

// label labels a strand by what is said.
func (m *matcher) label(s *strand, speaks [][]float64, jumps [][2]*odds.Jump) odds.Labels {
	steps := make([]odds.Step, len(s.frames))
	for k, i := range s.frames {
		steps[k] = odds.Step{Stay: s.stay[k], Jump: jumps[s.stretch[k]][1], Speaks: speaks[k]}
		if m.slates[i] >= 0 {
			steps[k].Jump = jumps[s.stretch[k]][0]
		}
	}
	l, err := odds.Label(m.none+1, steps)
	if err != nil {
		panic(err) // chances and weights are ours
	}
	return l
}

// pathName is what a frame is called in evidence.
func (d *sheet) pathName(i int) string { return path.Base(d.frames[i].Path()) }
