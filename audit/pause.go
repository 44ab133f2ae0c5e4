package audit

import (
	"math"
	"time"
)

// How the pauses of a body part its sets. All are stated choices.
const (
	pauseFrom   = time.Minute   // shorter ones are of one arrangement
	pauseTo     = 4 * time.Hour // longer ones are nights
	pauseFactor = 3.0           // how far a body's own threshold may lie from the setting; and from it the middle of either kind, where nothing is known
	pauseWorth  = 4.0           // pauses of either kind that the setting is worth
	pauseSpread = 1.0           // standard deviation of the logarithm of either kind, where nothing is known
	pauseTurns  = 25
	mostShort   = 0.3 // of pauses within a dish are taken to be shorter than those counted
)

// What a pause may say for a change at most, log-odds: a burst may yet hold a
// change, and no pause is proof of one.
const (
	leastChange = -9.0
	mostChange  = 7.0
)

// rhythm is how a body pauses: within a dish and between dishes, the logarithms of
// both logistic and of one scale. Pauses of either kind are now and then far longer
// or shorter than most; so however long one is, it proves no change, but for a
// night: a set is struck before it.
type rhythm struct {
	gap       time.Duration // the pause in which the dish is as likely changed as not; 0: any pause is a change
	low, high float64       // middles, logarithms of seconds
	scale     float64
	prior     float64 // log-odds of the second kind
}

// pause is one pause of a body.
type pause struct {
	long    time.Duration
	changed bool // a slate says that the dish was changed in it
}

// rhythmOf tells a body's rhythm from its own pauses. Those of a minute to four
// hours are of two kinds, parted by expectation and maximisation (Dempster, Laird
// and Rubin, Journal of the Royal Statistical Society B 39 (1977) 1–38); those
// before a slate of another dish are known to be of the second kind, and at a body
// that slates its dishes others are so the more seldom. The setting counts as some
// pauses of each kind, so a body with few pauses has the setting.
func rhythmOf(setting time.Duration, pauses []pause) rhythm {
	if setting <= 0 {
		return rhythm{}
	}
	prior := math.Log(setting.Seconds())
	apart := math.Log(pauseFactor)
	r := rhythm{low: prior - apart, high: prior + apart, scale: pauseSpread * logisticScale}
	slated := 0.0
	for _, p := range pauses {
		if p.changed && p.long >= pauseFrom && p.long < pauseTo {
			slated++
		}
	}
	want := 0.0 // log of the share of changes that come without a slate
	for range pauseTurns {
		// By kind, within a dish and between dishes. What is far from a middle counts
		// the less, as a logistic distribution has it: tanh(z/2)/z at a distance of z.
		var n, weight, sum, squares [2]float64
		middles := [2]float64{r.low, r.high}
		add := func(kind int, x, by float64) {
			w, off := 0.5, x-middles[kind]
			if z := off / r.scale; math.Abs(z) > 1e-6 {
				w = math.Tanh(z/2) / z
			}
			n[kind] += by
			weight[kind] += by * w
			sum[kind] += by * w * off
			squares[kind] += by * w * off * off
		}
		for kind, at := range [2]float64{prior - apart, prior + apart} {
			add(kind, at-pauseSpread, pauseWorth/2)
			add(kind, at+pauseSpread, pauseWorth/2)
		}
		bare := 1.0 // one more, so that a single slate proves nothing
		for _, p := range pauses {
			if p.long < pauseFrom || p.long >= pauseTo {
				continue
			}
			x, changed := math.Log(p.long.Seconds()), 1.0
			if !p.changed {
				changed = 1 / (1 + math.Exp(-r.logOdds(x)-want))
				bare += changed
			}
			add(1, x, changed)
			add(0, x, 1-changed)
		}
		// What is shorter than pauseFrom was left out, and is missed from the first kind.
		from := math.Log(pauseFrom.Seconds())
		if short := min(1/(1+math.Exp((r.low-from)/r.scale)), mostShort); short > 0 {
			add(0, from+r.scale*math.Log1p(-short)/short, (n[0]-pauseWorth)*short/(1-short))
		}
		if slated > 0 {
			want = math.Log(bare / (bare + slated))
		}
		r.scale = math.Sqrt((squares[0] + squares[1]) / (n[0] + n[1]))
		r.low, r.high = r.low+sum[0]/weight[0], r.high+sum[1]/weight[1]
		r.prior = math.Log(n[1] / n[0])
	}
	a, b := prior-apart, prior+apart
	for range 40 { // it grows with the pause
		if mid := (a + b) / 2; r.logOdds(mid) < 0 {
			a = mid
		} else {
			b = mid
		}
	}
	r.gap = time.Duration(math.Exp((a+b)/2) * float64(time.Second))
	return r
}

// logisticScale is the scale of a logistic distribution of standard deviation 1.
var logisticScale = math.Sqrt(3) / math.Pi

// logOdds of the second kind for the logarithm of a pause: of the densities
// e^−z / (1 + e^−z)² at their distances z from either middle, in scales.
func (r rhythm) logOdds(x float64) float64 {
	a, b := (x-r.low)/r.scale, (x-r.high)/r.scale
	return r.prior + a + 2*math.Log1p(math.Exp(-a)) - b - 2*math.Log1p(math.Exp(-b))
}

// change is the log-odds that the dish was changed in a pause.
func (r rhythm) change(long time.Duration) float64 {
	switch {
	case r.gap <= 0 || long >= pauseTo:
		return mostChange
	case long <= 0:
		return leastChange
	}
	return min(max(r.logOdds(math.Log(long.Seconds())), leastChange), mostChange)
}
