// Package pace tells how long the rest of a job takes that goes on as it went:
// plain probability, no calendar and no recipes.
//
// What is done in a day is taken for a Poisson count at one steady rate. The
// rate is not known; after k done in d days, with Jeffreys' prior for a Poisson
// rate, it has the gamma distribution of shape k+½ and rate d. How many more are
// done in m days is then negative binomial, and the chance that they are at
// least n is I(m/(d+m); n, k+½), the regularised incomplete beta function
// (Gelman et al., Bayesian Data Analysis, 3rd ed., 2.6; NIST DLMF 8.17.5). Days
// that differ more than Poisson's make the true interval wider.
package pace

import "math"

// Past is what a forecast rests on.
type Past struct {
	Days int // whole days that were worked; 0 none
	Done int // finished on those days
}

// Chance is the probability, 0 … 1, that left more are done within days more
// days. NaN where no day was worked yet: then nothing is known of the rate.
func (p Past) Chance(left, days int) float64 {
	switch {
	case left <= 0:
		return 1
	case p.Days < 1:
		return math.NaN()
	case days <= 0:
		return 0
	}
	return beta(float64(days)/float64(p.Days+days), float64(left), float64(p.Done)+0.5)
}

// MostDays is the farthest that Within looks.
const MostDays = 3660

// Within is the least number of days by whose end left more are done with a
// probability of at least chance; ok is false where that is more than MostDays,
// or no day was worked yet.
func (p Past) Within(left int, chance float64) (days int, ok bool) {
	if left <= 0 {
		return 0, true
	}
	if !(p.Chance(left, MostDays) >= chance) {
		return 0, false
	}
	low, high := 0, MostDays // Chance never falls as days are added
	for high-low > 1 {
		if mid := (low + high) / 2; p.Chance(left, mid) >= chance {
			high = mid
		} else {
			low = mid
		}
	}
	return high, true
}

// beta is the regularised incomplete beta function I(x; a, b) of 0 ≤ x ≤ 1 and
// positive a and b: the continued fraction of DLMF 8.17.22, evaluated from the
// front (Lentz's way), on the side where it converges fast.
func beta(x, a, b float64) float64 {
	switch {
	case x <= 0:
		return 0
	case x >= 1:
		return 1
	case x > (a+1)/(a+b+2):
		return 1 - beta(1-x, b, a) // 8.17.4
	}
	la, _ := math.Lgamma(a)
	lb, _ := math.Lgamma(b)
	lab, _ := math.Lgamma(a + b)
	front := math.Exp(lab-la-lb+a*math.Log(x)+b*math.Log1p(-x)) / a
	const tiny, close = 1e-300, 1e-14
	f, c, d := 1.0, 1.0, 0.0
	for i := range 10000 {
		m := float64(i / 2)
		var step float64
		switch {
		case i == 0:
			step = 1
		case i%2 == 0:
			step = m * (b - m) * x / ((a + 2*m - 1) * (a + 2*m))
		default:
			step = -(a + m) * (a + b + m) * x / ((a + 2*m) * (a + 2*m + 1))
		}
		if d = 1 + step*d; math.Abs(d) < tiny {
			d = tiny
		}
		d = 1 / d
		if c = 1 + step/c; math.Abs(c) < tiny {
			c = tiny
		}
		f *= c * d
		if math.Abs(1-c*d) < close {
			break
		}
	}
	return front * (f - 1)
}
