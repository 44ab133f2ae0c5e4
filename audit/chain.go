package audit

import (
	"math"
	"path"
	"slices"
	"time"

	"coverplate/audit/odds"
	"coverplate/ingest/catalogue"
)

// What sources other than texts weigh, in nats. Stated choices, in the order in
// which DESIGN section 6 trusts them: a slate before any text, the log after.
const (
	slateWeight = 6.0  // a slate, for its own frame; the chain carries it on
	slateStarts = 1.0  // log-odds that a slate of another dish stands at a change, before pause and picture speak
	slateCheck  = 0.5  // what each frame under a slate speaks for it against a slate that comes at once after
	slateLate   = 0.15 // for a change at a slate, of each frame more than slateSoon since the last likely change:
	slateSoon   = 4    // who forgets a slate shows it soon
	mostLate    = 3.0
	logWeight   = 3.0  // the log of what is on set, once a stretch
	offWeight   = 2.0  // the log that nothing is on set
	textStale   = 2.0  // a text that goes on from the stretch before, or names the dish that was on set before the last slate, at most
	pinned      = 40.0 // a person's word, within the chain
	mostOther   = 3.5  // what another body says at most, once a stretch
)

// What is to be expected before any frame is seen. Stated choices.
const (
	slatingTurns = 8
	noneShare    = 0.1  // of what is shot is no dish of the plan
	onItsDay     = 0.85 // of dishes are shot on the day they are planned for, until the shoot tells
	shotToday    = 0.05 // a dish that surely was shot at another hour of the day, against one not shot yet
	shotBefore   = 0.2  // of another day
	takenAgain   = 0.3  // of dishes known on a later day than theirs alone were shot on their own before
	leftOut      = 0.05 // of dishes whose turn is over were never shot
	repeated     = 0.1  // of what is shot was shot before, at most
	resumed      = 0.2  // of what is shot after something that is no dish is the dish before it
	inOrder      = 0.3  // of dishes are followed by the next of the plan, until the shoot tells
	orderCounts  = 0.75 // power of the odds that the plan's order is kept: who swaps two dishes breaks it three times
	loneFrame    = 2.0  // nats for "no dish" of a frame that stands alone in time, 1 of two
	moreFrame    = -0.4 // nats for "no dish" of each frame more in a stretch
	manyFrames   = 10   // of which that is said
	oneDish      = 0.67 // chance that two bodies at one time shoot one dish, until the shoot tells
)

// strand is the frames of one crew in the order they were taken.
type strand struct {
	frames []int // places in sheet.frames, of one body or of several that shoot one dish at a time
	rhythm
	stretch     []int       // by position: number of its stretch, without a pause of gap
	knownBefore []int       // by stretch: the last recipe known by itself before it; −1 none
	starts      []int       // first position of each stretch, and the number of frames
	lent        [][]float64 // by stretch and recipe: by what factor what is known of other stretches made it likelier
	pause       []float64   // by position: log-odds of a change since the position before, by pause and picture
	look        []float64   // what the picture says in it
	sundry      []float64   // by position: what a picture says for "no dish" that is like none before it
	stay        []float64   // by position: chance that the dish is that of the position before
	bare        float64     // e^want
	want        float64     // log of the share of dishes that come without a slate; 0 where the body has none
	slate       []float64   // by position: what a slate there weighs
	textStays   float64     // share of changes of dish that leave what is written as it was
	own         []int       // by position: the last slate that its body showed, itself among them; −1 none
	lines       []int       // by position: the line of the log that speaks of it; −1 none
	labels      odds.Labels
	alone       odds.Labels // without what other bodies and likeness say
	others      []*witness  // by position: the most that another body says; nil nothing
	like        []*witness  // likeness to frames of one dish, the same
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
	left     []float64    // by frame: chance that what is written on it is of a session
	doubted  map[int]bool // frames of slates that texts after them contradict, told
	solo     []*strand    // by body
	strands  []*strand    // by crew
	at       []place      // by frame: its strand and position; strand nil where a person said that it shows none
	anchors  [][]time.Time
	seen     [][]sighting         // by recipe; nil before the first labelling
	on       []catalogue.Decision // the log, by From
	plan     []int                // recipes in the plan's order
	next     []int                // by recipe: the next of the plan; −1 none
	order    float64              // chance that the next of the plan follows
	day      float64              // chance that a dish is shot on its day
	lift     float64              // log-odds against any one recipe before anything is seen
	owing    []float64            // by recipe: how likely it was never shot, if it is shown nowhere
	told     float64              // share of dishes, up to the last known of each day, that are known by themselves
	right    [byOthers]float64    // of what people write beside frames, how often it is right, see check; 0 nothing is
	shown    map[string]float64   // by body: share of dishes whose turn is over of which it shows the slate
	seldom   bool                 // few dishes have slates
	joined   map[string]float64   // by body that joined a crew: share of stretches in which they shoot one dish, 0 not known
	together float64              // chance that two bodies at one time shoot one dish
}

type place struct {
	strand *strand
	k      int
}

// weave makes the strands. Bodies that shoot one dish at a time are one strand:
// they pause together, and what is known of the one holds for the other. Frames
// without a time are strands of their own.
func (m *matcher) weave() {
	d := m.d
	for _, run := range d.bodies() {
		if s := m.strandOf(run); s != nil {
			m.solo = append(m.solo, s)
		}
	}
	for _, run := range m.crews() {
		if s := m.strandOf(run); s != nil {
			m.strands = append(m.strands, s)
		}
	}
	for i, f := range d.frames {
		if f.Taken.IsZero() {
			if s := m.strandOf([]int{i}); s != nil {
				m.solo, m.strands = append(m.solo, s), append(m.strands, s)
			}
		}
	}
	for _, s := range m.strands {
		for k, i := range s.frames {
			m.at[i] = place{s, k}
		}
	}
}

// strandOf makes a strand of frames in the order taken, but for those of which a
// person said that they show none; nil where none is left.
func (m *matcher) strandOf(run []int) *strand {
	d := m.d
	run = slices.DeleteFunc(slices.Clone(run), func(i int) bool { return d.placed[i].ByHand && m.said[i] < 0 })
	if len(run) == 0 {
		return nil
	}
	s := &strand{frames: run}
	s.rhythm = rhythmOf(d.Rules.SetGap, m.pausesOf(s))
	n := -1
	for k := range run {
		if k == 0 || s.gap > 0 && s.taken(d, k).Sub(s.taken(d, k-1)) >= s.gap {
			n++
			s.starts = append(s.starts, k)
		}
		s.stretch = append(s.stretch, n)
	}
	s.starts = append(s.starts, len(run))
	m.pauses(s)
	m.weighSlates(s)
	m.leftOver(s)
	known := -1
	for k, i := range s.frames {
		if k == 0 || s.stretch[k] != s.stretch[k-1] {
			s.knownBefore = append(s.knownBefore, known)
		}
		if r := m.alone(s, k, i); r >= 0 {
			known = r
		}
	}
	return s
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

// between is the position after from, to the latest, where the dish was changed
// if it was between two pictures of one body: at the first slate, else in the
// longest pause.
func (s *strand) between(m *matcher, from, to int) int {
	at := to
	for k := from + 1; k <= to; k++ {
		if m.d.frames[s.frames[k]].Look.Slate != nil {
			return k
		}
		if s.pause[k] > s.pause[at] {
			at = k
		}
	}
	return at
}

// pauses says how likely the dish changed before each position. Pictures of one
// body are compared, across slates and frames of other bodies.
func (m *matcher) pauses(s *strand) {
	d := m.d
	s.pause, s.look, s.sundry = make([]float64, len(s.frames)), make([]float64, len(s.frames)), make([]float64, len(s.frames))
	for k := range s.frames {
		if k > 0 {
			s.pause[k] = s.change(s.taken(d, k).Sub(s.taken(d, k-1)))
		}
	}
	for _, of := range m.spells(s) {
		m.pictures(s, of)
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
	s.bare = 1
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
	s.bare = math.Exp(s.want)
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

// labelling is odds.Label, or odds.Sums where no path is wanted.
type labelling func(states int, steps []odds.Step) (odds.Labels, error)

// certainFrom are the odds from which a frame is not labelled again.
const certainFrom = 0.9999

// label labels a strand by what is said. Where an earlier labelling, if there is
// one, left no doubt, it stands, and parts the strand: what lies between two such
// frames depends on nothing beyond them.
func (m *matcher) label(s *strand, speaks [][]float64, jumps [][2]*odds.Jump, by labelling, last odds.Labels) odds.Labels {
	steps := make([]odds.Step, len(s.frames))
	for k, i := range s.frames {
		steps[k] = odds.Step{Stay: s.stay[k], Jump: jumps[s.stretch[k]][1], Speaks: speaks[k]}
		if m.slates[i] >= 0 {
			steps[k].Jump = jumps[s.stretch[k]][0]
		}
	}
	run := func(steps []odds.Step) odds.Labels {
		l, err := by(m.none+1, steps)
		if err != nil {
			panic(err) // chances and weights are ours
		}
		return l
	}
	if last.States == 0 {
		return run(steps)
	}
	all := odds.Labels{States: last.States, Odds: slices.Clone(last.Odds), Path: make([]int, len(steps))}
	certain := func(k int) bool {
		all.Path[k] = 0
		row := last.At(k)
		for i, p := range row {
			if p > row[all.Path[k]] {
				all.Path[k] = i
			}
		}
		return row[all.Path[k]] >= certainFrom
	}
	for from := 0; from < len(steps); from++ {
		if certain(from) {
			continue
		}
		to := from + 1
		for to < len(steps) && !certain(to) {
			to++
		}
		first, end := max(from-1, 0), min(to+1, len(steps))
		part := slices.Clone(steps[first:end])
		for _, k := range []int{from - 1, to} {
			if k >= 0 && k < len(steps) {
				pin := make([]float64, all.States)
				pin[all.Path[k]] = pinned
				part[k-first] = odds.Step{Stay: part[k-first].Stay, Jump: part[k-first].Jump, Speaks: pin}
			}
		}
		l := run(part)
		copy(all.Odds[from*all.States:to*all.States], l.Odds[(from-first)*all.States:])
		if l.Path != nil {
			copy(all.Path[from:to], l.Path[from-first:])
		}
		from = to
	}
	return all
}

// pathName is what a frame is called in evidence.
func (d *sheet) pathName(i int) string { return path.Base(d.frames[i].Path()) }
