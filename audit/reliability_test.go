package audit

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// reliability counts how often what was given odds was so. What is told is
// whether a frame shows the likeliest dish, placed or not.
type reliability struct {
	bins    [len(oddsFrom)]oddsBin
	squares float64 // (odds − 1 or 0)²
	without int     // frames of which no dish is likely: no odds were given
}

type oddsBin struct {
	n, right int
	sum      float64 // of odds
}

// oddsFrom is where the bins of odds begin.
var oddsFrom = [...]float64{0, 0.25, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 0.99}

// add counts a frame that was given odds.
func (r *reliability) add(odds float64, right bool) {
	at := 0
	for at+1 < len(oddsFrom) && odds >= oddsFrom[at+1] {
		at++
	}
	b := &r.bins[at]
	b.n++
	b.sum += odds
	off := odds
	if right {
		b.right++
		off = 1 - odds
	}
	r.squares += off * off
}

// from counts the frames with odds from low to high, both of them limits of bins.
func (r *reliability) from(low, high float64) (n, right int) {
	for at, b := range r.bins {
		if oddsFrom[at] >= low && oddsFrom[at] < high {
			n += b.n
			right += b.right
		}
	}
	return n, right
}

// wrongFrom is how many of 100 frames with odds from low on are not so.
func (r *reliability) wrongFrom(low float64) float64 {
	n, right := r.from(low, 1)
	return ofHundred(n-right, n)
}

// brier is the mean square of odds less what was so, 0 the best, and what it is
// made of: how far shares right are off the odds of their bins, how far they
// differ from bin to bin (which is taken off), and what is not to be known from
// the share right of all (Murphy, Journal of Applied Meteorology 12 (1973)
// 595–600). The three add up to the score where odds do not differ within bins;
// rest is what they do not.
func (r *reliability) brier() (score, off, told, unknown, rest float64) {
	n, right := 0.0, 0.0
	for _, b := range r.bins {
		n += float64(b.n)
		right += float64(b.right)
	}
	if n == 0 {
		return
	}
	base := right / n
	for _, b := range r.bins {
		if b.n == 0 {
			continue
		}
		of, share := float64(b.n), float64(b.right)/float64(b.n)
		off += of * math.Pow(b.sum/of-share, 2) / n
		told += of * math.Pow(share-base, 2) / n
	}
	score, unknown = r.squares/n, base*(1-base)
	return score, off, told, unknown, score - (off - told + unknown)
}

// calibrated is which share of all frames lies in bins whose share right is at
// least floor: what could be placed if odds said what is so, in the order that
// they have.
func (r *reliability) calibrated(floor float64) float64 {
	all, placed := r.without, 0
	for _, b := range r.bins {
		all += b.n
		if b.n > 0 && float64(b.right) >= floor*float64(b.n) {
			placed += b.n
		}
	}
	return float64(placed) / math.Max(float64(all), 1)
}

// String is a line of a table: share right, in %, of the frames in each bin from
// 0.5 on; the score and its parts.
func (r *reliability) String() string {
	var s strings.Builder
	for at := 2; at < len(oddsFrom); at++ {
		b := r.bins[at]
		if b.n == 0 {
			s.WriteString(" – |")
			continue
		}
		fmt.Fprintf(&s, " %.1f of %d |", ofHundred(b.right, b.n), b.n)
	}
	score, off, told, unknown, rest := r.brier()
	fmt.Fprintf(&s, " %.4f | %.4f | %.4f | %.4f | %.4f |", score, off, told, unknown, rest)
	return s.String()
}

// The scores are scikit-learn's (1.2.1, brier_score_loss), of two examples, one
// with several forecasts in a bin; its three parts are counted by hand.
func TestBrier(t *testing.T) {
	type forecast struct {
		odds  float64
		right bool
	}
	count := func(all ...forecast) *reliability {
		r := &reliability{}
		for _, f := range all {
			r.add(f.odds, f.right)
		}
		return r
	}
	// brier_score_loss([0, 1, 1, 0], [0.1, 0.9, 0.8, 0.3]) of scikit-learn 1.2.1.
	if score, _, _, _, _ := count(forecast{0.1, false}, forecast{0.9, true}, forecast{0.8, true}, forecast{0.3, false}).brier(); !(math.Abs(score-0.0375) < 1e-12) {
		t.Errorf("score %v, scikit-learn has 0.0375", score)
	}
	// Ten times 0.9 with 8 right, five times 0.55 with 3, five times 0.1 with 1; base
	// 12/20. Score (8·0.01 + 2·0.81 + 3·0.2025 + 2·0.3025 + 0.81 + 4·0.01)/20, off
	// (10·0.1² + 5·0.05² + 5·0.1²)/20, told (10·0.2² + 5·0² + 5·0.4²)/20.
	r := &reliability{}
	for _, c := range []struct {
		odds     float64
		n, right int
	}{{0.9, 10, 8}, {0.55, 5, 3}, {0.1, 5, 1}} {
		for k := range c.n {
			r.add(c.odds, k < c.right)
		}
	}
	score, off, told, unknown, rest := r.brier()
	for _, c := range []struct {
		name      string
		got, want float64
	}{{"score", score, 3.7625 / 20}, {"off", off, 0.1625 / 20}, {"told", told, 1.2 / 20}, {"unknown", unknown, 0.24}, {"rest", rest, 0}} {
		if !(math.Abs(c.got-c.want) < 1e-12) {
			t.Errorf("%s %v, want %v", c.name, c.got, c.want)
		}
	}
	if got := r.calibrated(0.6); got != 0.75 {
		t.Errorf("%v could be placed, want 15 of 20", got)
	}
}
