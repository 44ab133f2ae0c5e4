package pace

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Upper critical values of the F distribution, from memory of the printed
// tables (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.3), which
// give three decimals. P(F ≤ x) of n1 and n2 degrees of freedom is
// I(n1·x/(n1·x+n2); n1/2, n2/2) (DLMF 8.17.5's kin, Abramowitz and Stegun
// 26.6.2). A table rounds x; the tolerance is what half a unit of its last
// digit is worth at that place.
func TestBetaAgainstTablesOfF(t *testing.T) {
	for _, c := range []struct{ n1, n2, x, p float64 }{
		{1, 1, 161.448, 0.95}, {2, 2, 19.000, 0.95}, {1, 5, 6.608, 0.95}, {5, 1, 230.162, 0.95},
		{1, 10, 4.965, 0.95}, {2, 10, 4.103, 0.95}, {3, 10, 3.708, 0.95}, {4, 10, 3.478, 0.95}, {5, 10, 3.326, 0.95},
		{10, 5, 4.735, 0.95}, {10, 10, 2.978, 0.95}, {10, 20, 2.348, 0.95}, {20, 10, 2.774, 0.95}, {20, 20, 2.124, 0.95},
		{5, 5, 5.050, 0.95}, {10, 1, 241.882, 0.95}, {10, 3, 8.786, 0.95}, {10, 7, 3.637, 0.95}, {10, 9, 3.137, 0.95},
		{5, 10, 5.636, 0.99}, {10, 10, 4.849, 0.99}, {1, 10, 10.044, 0.99},
	} {
		of := func(x float64) float64 { return beta(c.n1*x/(c.n1*x+c.n2), c.n1/2, c.n2/2) }
		low, high := of(c.x-0.0005), of(c.x+0.0005)
		if !(low <= c.p && c.p <= high) {
			t.Errorf("F(%g, %g) ≤ %g ± 0.0005 has a probability of %.7f … %.7f, the table says %g", c.n1, c.n2, c.x, low, high, c.p)
		}
	}
}

// The chance by the definition: the sum of the negative binomial's terms.
func TestChanceIsTheSumOfTheNegativeBinomial(t *testing.T) {
	for _, p := range []Past{{1, 0}, {1, 9}, {3, 27}, {4, 33}, {7, 2}} {
		for _, left := range []int{1, 2, 9, 41} {
			for _, days := range []int{1, 2, 5, 40} {
				r, q := float64(p.Done)+0.5, float64(days)/float64(p.Days+days)
				term, fewer := math.Pow(1-q, r), 0.0 // of none
				for n := range left {
					fewer += term
					term *= (r + float64(n)) / float64(n+1) * q
				}
				if got := p.Chance(left, days); !(math.Abs(got-(1-fewer)) <= 1e-11) {
					t.Errorf("%+v: %d more in %d days: %.13f, the sum says %.13f", p, left, days, got, 1-fewer)
				}
			}
		}
	}
}

func TestWithin(t *testing.T) {
	for _, c := range []struct {
		name   string
		past   Past
		left   int
		chance float64
		days   int
		ok     bool
	}{
		{"nothing is left", Past{3, 9}, 0, 0.95, 0, true},
		{"no day was worked", Past{0, 0}, 5, 0.5, 0, false},
		{"nothing was done, so no end is in sight", Past{5, 0}, 50, 0.95, 0, false},
		{"much was done", Past{10, 1000}, 100, 0.5, 1, true},
	} {
		if days, ok := c.past.Within(c.left, c.chance); days != c.days || ok != c.ok {
			t.Errorf("%s: %d, %v; want %d, %v", c.name, days, ok, c.days, c.ok)
		}
	}
	p := Past{4, 33}
	for _, chance := range []float64{0.05, 0.5, 0.95} {
		days, ok := p.Within(41, chance)
		if !ok || !(p.Chance(41, days) >= chance) || !(p.Chance(41, days-1) < chance) {
			t.Errorf("%g: %d days is not the least (%g, %g the day before)", chance, days, p.Chance(41, days), p.Chance(41, days-1))
		}
	}
	if c := (Past{}).Chance(3, 4); !math.IsNaN(c) {
		t.Errorf("no day was worked, and the chance is %g", c)
	}
}

// Of shoots made at a rate drawn from the prior's kin, nine of ten end within
// the interval that is said to hold nine of ten, and not all of them.
func TestTheIntervalHoldsWhatItSays(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 11))
	poisson := func(rate float64) (n int) {
		for x := rng.ExpFloat64(); x < rate; x += rng.ExpFloat64() {
			n++
		}
		return n
	}
	const shoots = 4000
	inside, early, late := 0, 0, 0
	for range shoots {
		rate := 4 + 8*rng.Float64()
		p := Past{Days: 3}
		for range p.Days {
			p.Done += poisson(rate)
		}
		const left = 40
		low, _ := p.Within(left, 0.05)
		high, ok := p.Within(left, 0.95)
		days := 0
		for done := 0; done < left; days++ {
			done += poisson(rate)
		}
		switch {
		case days < low:
			early++
		case ok && days > high:
			late++
		default:
			inside++
		}
	}
	// Whole days make the interval hold more than nine of ten.
	if share := float64(inside) / shoots; !(share >= 0.88 && share <= 0.99) {
		t.Errorf("%.3f of the shoots end within the interval (%d before it, %d after)", share, early, late)
	}
}
