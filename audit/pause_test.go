package audit

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// The rhythm of pauses drawn from two log-logistic distributions, a slate at nine
// changes of ten, is that of the distributions themselves: their cumulative
// distribution is 1/(1 + (x/median)^−shape) (Johnson, Kotz and Balakrishnan,
// Continuous Univariate Distributions 2, chapter 23, from memory), and the odds of
// a change in a short span of pauses follow from its differences.
func TestRhythmAgainstItsDistributions(t *testing.T) {
	type kind struct {
		median, shape float64
		n             int
	}
	cdf := func(k kind, x float64) float64 { return 1 / (1 + math.Pow(x/k.median, -k.shape)) }
	within, between := kind{180, 2, 700}, kind{1300, 2, 150}
	r := rand.New(rand.NewPCG(3, 9))
	var pauses []pause
	for n, k := range []kind{within, between} {
		for range k.n {
			u := r.Float64()
			x := k.median * math.Pow(u/(1-u), 1/k.shape)
			pauses = append(pauses, pause{time.Duration(x * float64(time.Second)), n == 1 && r.Float64() < 0.9})
		}
	}
	got := rhythmOf(12*time.Minute, pauses)
	const span = 0.01
	for _, x := range []float64{120, 300, 600, 1200, 2400, 5000} {
		density := func(k kind) float64 { return float64(k.n) * (cdf(k, x*(1+span)) - cdf(k, x*(1-span))) }
		want := math.Log(density(between) / density(within))
		if says := got.change(time.Duration(x * float64(time.Second))); !(math.Abs(says-want) <= 0.8) {
			t.Errorf("a pause of %v s has log-odds %.2f of a change, the distributions say %.2f", x, says, want)
		}
	}
	// However long a pause is, the odds stay within what the tails say.
	if a, b := got.change(2*time.Hour), got.change(3*time.Hour); !(b-a < 0.3) || !(b > a) {
		t.Errorf("after two hours %.2f, after three %.2f", a, b)
	}
	if got := rhythmOf(12*time.Minute, nil).gap; got < 10*time.Minute || got > 14*time.Minute {
		t.Errorf("nothing known, and the threshold is %v, the setting 12 min", got)
	}
	if got := rhythmOf(0, pauses).change(time.Second); got != mostChange {
		t.Errorf("every pause is a change, and one says %v", got)
	}
}

// A set is struck before the night: what is taken on the next day shows another, as
// far as a pause tells anything; and no pause by day tells as much.
func TestANightIsAChange(t *testing.T) {
	r := rhythmOf(10*time.Minute, nil)
	if got := r.change(pauseTo); got != mostChange {
		t.Errorf("a night says %v", got)
	}
	if day := r.change(pauseTo - time.Second); !(day < mostChange && day > 2) {
		t.Errorf("a pause of four hours by day says %v", day)
	}
}
