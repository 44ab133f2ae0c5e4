// Package odds labels a run of frames jointly: a hidden Markov chain whose
// states are the dishes of a plan, and one more for "none of them". It knows
// nothing of pictures or plans: what speaks for a state comes as log-odds, and
// how likely the state changed before a frame as a chance.
//
// A chain either stays or jumps. Where a jump goes depends on the state it
// leaves by one state alone, the next in order; so a step costs as many
// operations as there are states, not their square. A chain that stepped aside
// keeps in mind from which state, and goes on from there.
package odds

import (
	"errors"
	"fmt"
	"math"
)

// ErrChain: a chain that can't be labelled: a chance outside of 0 … 1, a
// weight below 0 or none above, lengths that differ, or nothing possible.
var ErrChain = errors.New("no chain")

// most is how far, in nats, one step may speak against a state relative to the
// state it speaks for most. It keeps products of many steps away from the least
// float64; a chance of e^−60 is none.
const most = 60.0

// Step is one frame.
type Step struct {
	Stay   float64   // 0 … 1, chance that its state is that of the step before, jumps to the same state apart; the first step's counts for nothing
	Jump   *Jump     // to where it goes otherwise; of the first step, where the chain begins
	Speaks []float64 // by state: log-likelihood of what was seen, nats, up to a constant; nil says nothing
}

// Ways say to where a chain goes when it does not stay. With Share it goes to
// Aside, from whatever state. Else from state i it goes to j with a chance of
// w_j / Z_i, or w_j (1 + Bonus) / Z_i where j is the next of i; Z_i makes the
// sum 1. What else is known of j is a factor Again_j on that chance, which nothing
// makes up for: paths are weighed by the product, and so staying gains where no
// jump is likely, and loses where one must be somewhere.
//
// A chain that lies aside came from a state i, or has been aside from its start.
// From i, Resume of the jumps that do not go aside again lead back to i; the rest
// go as jumps from i itself do. From the start they go by weight alone.
type Ways struct {
	Weight []float64 // by state, of any positive scale
	Next   []int     // by state, the next in order; −1 none; nil none at all
	Bonus  float64   // ≥ 0
	Again  []float64 // by state, ≥ 0: below 1 what rules it out, above what asks for it; nil: 1
	Aside  int       // its weight, factor and places in the order count for nothing where Share is above 0
	Share  float64   // 0 … 1, not 1
	Resume float64   // 0 … 1
}

// Jump is Ways made ready.
type Jump struct {
	weight []float64 // sums to 1 − share, but for what Again takes off or adds; 0 of aside
	next   []int     // by state; the state itself where it has none
	per    []float64 // 1/Z, by state left
	extra  []float64 // by state left: bonus · w / Z of its next; 0 none
	own    []float64 // by state: chance of a jump to itself
	aside  int       // −1 none
	share  float64
	resume float64 // chance of a jump from aside back to where it came from
	goesOn float64 // 1 − Resume: share of such jumps that go as from there
}

// NewJump makes Ways ready; their slices are not kept. Errors: ErrChain.
func NewJump(w Ways) (*Jump, error) {
	n := len(w.Weight)
	j := &Jump{weight: make([]float64, n), next: make([]int, n),
		per: make([]float64, n), extra: make([]float64, n), own: make([]float64, n), aside: -1, share: w.Share, goesOn: 1}
	if w.Share > 0 {
		j.aside, j.resume, j.goesOn = w.Aside, (1-w.Share)*w.Resume, 1-w.Resume
	}
	sum := 0.0
	for i, x := range w.Weight {
		if !(x >= 0) || math.IsInf(x, 0) {
			return nil, fmt.Errorf("%w: weight %d is %v", ErrChain, i, x)
		}
		if i != j.aside {
			sum += x
		}
		j.next[i] = i
	}
	if !(sum > 0) || math.IsInf(sum, 0) || !(w.Bonus >= 0) || math.IsInf(w.Bonus, 0) || !(w.Share >= 0 && w.Share < 1) || !(w.Resume >= 0 && w.Resume <= 1) || j.aside < -1 || j.aside >= n ||
		w.Next != nil && len(w.Next) != n || w.Again != nil && len(w.Again) != n {
		return nil, fmt.Errorf("%w: %d weights that sum to %v, %d next, bonus %v, %v aside to %d, %v back", ErrChain, n, sum, len(w.Next), w.Bonus, w.Share, w.Aside, w.Resume)
	}
	for i, x := range w.Weight {
		if i != j.aside {
			j.weight[i] = x / sum
		}
	}
	follows := make([]bool, n) // whether it has a next
	for i, to := range w.Next {
		switch {
		case to < 0 || i == j.aside || to == j.aside:
			continue
		case to >= n:
			return nil, fmt.Errorf("%w: %d can't be the next of %d", ErrChain, to, i)
		}
		j.next[i], follows[i] = to, true
	}
	for i, to := range j.next {
		j.per[i] = 1
		if follows[i] {
			j.per[i] = 1 / (1 + w.Bonus*j.weight[to])
		}
	}
	for i := range j.weight {
		j.weight[i] *= 1 - w.Share
		if w.Again == nil {
			continue
		}
		f := w.Again[i]
		if !(f >= 0) || math.IsInf(f, 0) {
			return nil, fmt.Errorf("%w: factor %d is %v", ErrChain, i, f)
		}
		j.weight[i] *= f
	}
	for i, to := range j.next {
		j.own[i] = j.weight[i] * j.per[i]
		if follows[i] {
			j.extra[i] = w.Bonus * j.weight[to] * j.per[i]
		}
		switch {
		case i == j.aside:
			j.own[i] = w.Share
		case to == i:
			j.own[i] += j.extra[i]
		}
	}
	return j, nil
}

// Chance is that of a jump from one state to another, itself among them; from
// aside, as from the start of a chain.
func (j *Jump) Chance(from, to int) float64 {
	if to == j.aside {
		return j.share
	}
	p := j.weight[to] * j.per[from]
	if j.next[from] == to {
		p += j.extra[from]
	}
	return p
}

// Labels is what is known of a chain's states.
type Labels struct {
	States int
	Odds   []float64 // probability of each state at each step, all steps considered: step by step, States each
	Path   []int     // the likeliest sequence of states as a whole
	// LogLikelihood is of all that was seen, nats, each step's Speaks taken as
	// it stands.
	LogLikelihood float64

	away []float64 // as Odds: of lying aside, by the state that it came from
}

// At returns the probabilities of the states at a step; they sum to 1.
func (l Labels) At(step int) []float64 { return l.Odds[step*l.States:][:l.States] }

// Label labels a chain of states by forward and backward sums (Rabiner,
// Proceedings of the IEEE 77 (1989) 257–286, equations 19–27, scaled as in
// 91–97) and by Viterbi's algorithm (32–35). Of paths as likely as each other
// it takes the one with the lower states, later steps first. Where steps go
// aside, they all go to one state. Errors: ErrChain.
func Label(states int, steps []Step) (Labels, error) {
	l, seen, err := sums(states, steps)
	if err != nil {
		return Labels{}, err
	}
	l.Path = make([]int, len(steps))
	if len(steps) > 0 {
		l.viterbi(steps, seen)
	}
	return l, nil
}

// Sums is Label without the path, which it leaves nil: two thirds of the work.
func Sums(states int, steps []Step) (Labels, error) {
	l, _, err := sums(states, steps)
	return l, err
}

// sums returns what was seen besides, as factors.
func sums(states int, steps []Step) (Labels, [][]float64, error) {
	l := Labels{States: states, Odds: make([]float64, len(steps)*states)}
	seen, err := likelihoods(states, steps, &l.LogLikelihood)
	if err != nil || len(steps) == 0 {
		return l, nil, err
	}
	l.away = make([]float64, len(l.Odds))
	if err := l.forward(steps, seen); err != nil {
		return Labels{}, nil, err
	}
	l.backward(steps, seen)
	l.away = nil
	return l, seen, nil
}

// likelihoods turns what speaks into factors of 1 at most, nil where nothing
// speaks, and adds what was taken out of them to sum.
func likelihoods(states int, steps []Step, sum *float64) ([][]float64, error) {
	all := make([][]float64, len(steps))
	for k, s := range steps {
		if !(s.Stay >= 0 && s.Stay <= 1) || s.Jump == nil || len(s.Jump.weight) != states || s.Speaks != nil && len(s.Speaks) != states || states < 1 || states > math.MaxUint16/2 {
			return nil, fmt.Errorf("%w: step %d of %d states: stays with %v, speaks of %d states", ErrChain, k, states, s.Stay, len(s.Speaks))
		}
		if s.Jump.aside != steps[0].Jump.aside {
			return nil, fmt.Errorf("%w: step %d goes aside to %d, the first to %d", ErrChain, k, s.Jump.aside, steps[0].Jump.aside)
		}
		if s.Speaks == nil {
			continue
		}
		top := math.Inf(-1)
		for _, x := range s.Speaks {
			top = max(top, x) // NaN stays
		}
		if math.IsNaN(top) || math.IsInf(top, 0) {
			return nil, fmt.Errorf("%w: step %d speaks %v", ErrChain, k, top)
		}
		*sum += top
		e := make([]float64, states)
		silent := math.Exp(max(-top, -most)) // as most states are
		for j, x := range s.Speaks {
			switch x {
			case top:
				e[j] = 1
			case 0:
				e[j] = silent
			default:
				e[j] = math.Exp(max(x-top, -most))
			}
		}
		all[k] = e
	}
	return all, nil
}

// scale makes rows sum to 1 together and returns what they summed to.
func scale(rows ...[]float64) float64 {
	sum := 0.0
	for _, row := range rows {
		for _, x := range row {
			sum += x
		}
	}
	if !(sum > 0) {
		return 0
	}
	by := 1 / sum
	for _, row := range rows {
		for i := range row {
			row[i] *= by
		}
	}
	return sum
}

// start is where a chain begins.
func (j *Jump) start(row []float64) {
	copy(row, j.weight)
	if j.aside >= 0 {
		row[j.aside] = j.share
	}
}

// forward fills Odds and away with the probabilities of states given the steps
// so far. That of aside in Odds is of chains that were never anywhere else.
func (l *Labels) forward(steps []Step, seen [][]float64) error {
	n := l.States
	leave := make([]float64, n) // probability from which a jump leaves as from each state
	for k, s := range steps {
		row, away, j := l.At(k), l.away[k*n:][:n], s.Jump
		if k == 0 {
			j.start(row)
		} else {
			last, gone := l.At(k-1), l.away[(k-1)*n:][:n]
			per, weight, extra, leave := j.per[:n], j.weight[:n], j.extra[:n], leave[:n]
			leaves := 1 - s.Stay
			all := 0.0 // Σ of what leaves, each over its Z
			for i, a := range last {
				leave[i] = a + j.goesOn*gone[i]
				all += leave[i] * per[i]
			}
			all *= leaves
			toAside, stays, resumes := leaves*j.share, s.Stay+leaves*j.share, leaves*j.resume
			for to, a := range last {
				row[to] = s.Stay*a + all*weight[to] + resumes*gone[to]
				away[to] = stays*gone[to] + toAside*a
			}
			for i, to := range j.next[:n] {
				row[to] += leaves * extra[i] * leave[i]
			}
			if j.aside >= 0 {
				row[j.aside], away[j.aside] = row[j.aside]+away[j.aside], 0
			}
		}
		if e := seen[k]; e != nil {
			for i := range row {
				row[i] *= e[i]
			}
			if j.aside >= 0 {
				for i := range away {
					away[i] *= e[j.aside]
				}
			}
		}
		sum := scale(row, away)
		if sum == 0 {
			return fmt.Errorf("%w: nothing is possible at step %d", ErrChain, k)
		}
		l.LogLikelihood += math.Log(sum)
	}
	return nil
}

// seldom is after how many steps what is left is scaled: fewer than most allows
// to vanish.
const seldom = 4

// backward turns the forward probabilities into those given all steps, and adds
// up those of lying aside.
func (l *Labels) backward(steps []Step, seen [][]float64) {
	n := l.States
	aside := steps[0].Jump.aside
	rest, restAway := make([]float64, n), make([]float64, n) // likelihood of all later steps by state, up to a factor
	for i := range rest {
		rest[i], restAway[i] = 1, 1
	}
	came, cameAway := make([]float64, n), make([]float64, n)
	for k := len(steps) - 1; k >= 0; k-- {
		if k < len(steps)-1 {
			s := steps[k+1]
			j := s.Jump
			came, rest, cameAway, restAway = rest, came, restAway, cameAway
			if e := seen[k+1]; e != nil {
				for i, x := range e {
					came[i] *= x
				}
				if aside >= 0 {
					x := e[aside]
					for i := range cameAway {
						cameAway[i] *= x
					}
				}
			}
			leaves, all := 1-s.Stay, 0.0
			weight := j.weight[:len(came)]
			for i, b := range came {
				all += weight[i] * b
			}
			all *= leaves
			toAside, stays, resumes := leaves*j.share, s.Stay+leaves*j.share, leaves*j.resume
			per, extra := j.per[:len(came)], j.extra[:len(came)]
			rest, restAway, cameAway := rest[:len(came)], restAway[:len(came)], cameAway[:len(came)]
			for i, to := range j.next[:len(came)] {
				jumps := all*per[i] + leaves*extra[i]*came[to]
				restAway[i] = stays*cameAway[i] + j.goesOn*jumps + resumes*came[i]
				rest[i] = s.Stay*came[i] + jumps + toAside*cameAway[i]
			}
			if aside >= 0 {
				rest[aside] = stays*came[aside] + all
			}
			if k%seldom == 0 {
				scale(rest, restAway)
			}
		}
		row, away := l.At(k), l.away[k*n:][:n]
		for i := range row {
			row[i] *= rest[i]
			away[i] *= restAway[i]
		}
		if aside >= 0 {
			for _, x := range away {
				row[aside] += x
			}
		}
		scale(row)
	}
}

// viterbi finds the likeliest path. The best state to come from is the state
// itself, one that it is the next of, that from which any jump is likeliest, or
// lying aside from the state itself: those are all that can be best. A chain
// that lies aside from state i is number States + i here.
func (l *Labels) viterbi(steps []Step, seen [][]float64) {
	n := l.States
	aside := steps[0].Jump.aside
	from := make([]uint16, 2*len(steps)*n)
	best, then := make([]float64, 2*n), make([]float64, 2*n)
	for k, s := range steps {
		j := s.Jump
		if k == 0 {
			j.start(then)
		} else {
			j.follow(best, then, from[2*k*n:][:2*n], s.Stay)
		}
		if e := seen[k]; e != nil {
			for i, x := range e {
				then[i] *= x
			}
			if aside >= 0 {
				for i := range e {
					then[n+i] *= e[aside]
				}
			}
		}
		scale(then)
		best, then = then, best
	}
	at := 0
	for i, b := range best {
		if b > best[at] {
			at = i
		}
	}
	for k := len(steps) - 1; k >= 0; k-- {
		if l.Path[k] = at; at >= n {
			l.Path[k] = aside
		}
		at = int(from[2*k*n+at])
	}
}

// follow takes the best paths to each state one step on, and notes from where
// each came.
func (j *Jump) follow(best, then []float64, came []uint16, stay float64) {
	n := len(j.weight)
	dish, away := best[:n], best[n:]
	leaves := 1 - stay
	// leaving is the best path to leave as from state i: at i, or aside from it.
	leaving := func(i int) (int, float64) {
		if x := j.goesOn * away[i]; x > dish[i] {
			return n + i, x
		}
		return i, dish[i]
	}
	any, anyBest := 0, -1.0
	for i := range dish {
		if at, b := leaving(i); b*j.per[i] > anyBest {
			any, anyBest = at, b*j.per[i]
		}
	}
	anyBest *= leaves
	for to, b := range dish {
		at, p := any, anyBest*j.weight[to]
		if to == j.aside {
			at, p = to, b*(stay+leaves*j.share)
		} else if x := b * (stay + leaves*j.own[to]); x > p || x == p && to < at {
			at, p = to, x
		}
		if x := away[to] * leaves * (j.resume + j.goesOn*j.own[to]); x > p {
			at, p = n+to, x
		}
		then[to], came[to] = p, uint16(at)
		at, p = to, b*leaves*j.share
		if x := away[to] * (stay + leaves*j.share); x > p {
			at, p = n+to, x
		}
		then[n+to], came[n+to] = p, uint16(at)
	}
	for i, to := range j.next {
		if j.extra[i] == 0 || to == i {
			continue
		}
		of, b := leaving(i)
		if x := b * leaves * (j.weight[to]*j.per[i] + j.extra[i]); x > then[to] || x == then[to] && of < int(came[to]) {
			then[to], came[to] = x, uint16(of)
		}
	}
	if j.aside >= 0 {
		then[n+j.aside] = 0
	}
}
