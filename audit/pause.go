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
	leastSlope  = 1.5           // see rhythm
	mostSlope   = 6.0
	pauseTurns  = 25
)

// What a pause may say for a change at most, log-odds: a burst may yet hold a
// change, and no pause is proof of one.
const (
	leastChange = -9.0
	mostChange  = 7.0
)

// rhythm is how a body pauses.
type rhythm struct {
	gap   time.Duration // the pause in which the dish is as likely changed as not; 0: any pause is a change
	slope float64       // by how much the log-odds of a change grow with the logarithm of the pause
}

// pause is one pause of a body.
type pause struct {
	long    time.Duration
	changed bool // a slate says that the dish was changed in it
}

// rhythmOf tells a body's rhythm from its own pauses. Those of a minute to four
// hours are of two kinds, within a dish and between dishes, taken for two
// lognormals of one spread and parted by expectation and maximisation (Dempster,
// Laird and Rubin, Journal of the Royal Statistical Society B 39 (1977) 1–38);
// those before a slate of another dish are known to be of the second kind. The
// setting counts as some pauses of each kind, so a body with few pauses has the
// setting.
func rhythmOf(setting time.Duration, pauses []pause) rhythm {
	if setting <= 0 {
		return rhythm{0, leastSlope}
	}
	prior := math.Log(setting.Seconds())
	apart := math.Log(pauseFactor)
	r := rhythm{setting, 2 * apart / (pauseSpread * pauseSpread)}
	middle := prior
	for range pauseTurns {
		var n, sum, squares [2]float64 // by kind: within a dish, between dishes
		add := func(kind int, x, by float64) {
			n[kind] += by
			sum[kind] += by * x
			squares[kind] += by * x * x
		}
		for kind, at := range [2]float64{prior - apart, prior + apart} {
			add(kind, at-pauseSpread, pauseWorth/2)
			add(kind, at+pauseSpread, pauseWorth/2)
		}
		for _, p := range pauses {
			if p.long < pauseFrom || p.long >= pauseTo {
				continue
			}
			x, changed := math.Log(p.long.Seconds()), 1.0
			if !p.changed {
				changed = 1 / (1 + math.Exp(-r.slope*(x-middle)))
			}
			add(1, x, changed)
			add(0, x, 1-changed)
		}
		low, high := sum[0]/n[0], sum[1]/n[1]
		spread := (squares[0] - sum[0]*low + squares[1] - sum[1]*high) / (n[0] + n[1])
		r.slope = min(max((high-low)/spread, leastSlope), mostSlope)
		middle = (low+high)/2 - math.Log(n[1]/n[0])/r.slope
		middle = min(max(middle, prior-apart), prior+apart)
	}
	r.gap = time.Duration(math.Exp(middle) * float64(time.Second))
	return r
}

// change is the log-odds that the dish was changed in a pause.
func (r rhythm) change(long time.Duration) float64 {
	if r.gap <= 0 {
		return mostChange
	}
	return min(max(r.slope*math.Log(float64(long)/float64(r.gap)), leastChange), mostChange)
}
