package colour

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// cheapest is the transport problem solved another way: the residual graph
// with all its arcs, the cheapest path by Bellman and Ford without potentials,
// masses in floating point. Slow and plain, it shares no line with transport.
func cheapest(supply, demand []float64, cost func(i, j int) float64) float64 {
	type arc struct {
		from, to       int
		cap, cost, way float64 // way is +1 there, −1 back
	}
	n, m := len(supply), len(demand)
	source, sink := n+m, n+m+1
	var arcs []arc
	add := func(from, to int, cap, cost float64) {
		arcs = append(arcs, arc{from, to, cap, cost, 1}, arc{to, from, 0, -cost, -1})
	}
	for i, s := range supply {
		add(source, i, s, 0)
		for j := range demand {
			add(i, n+j, math.Inf(1), cost(i, j))
		}
	}
	for j, d := range demand {
		add(n+j, sink, d, 0)
	}
	total, moved := 0.0, 0.0
	for {
		far, by := make([]float64, n+m+2), make([]int, n+m+2)
		for i := range far {
			far[i], by[i] = math.Inf(1), -1
		}
		far[source] = 0
		for range far {
			for k, a := range arcs {
				if a.cap > 1e-13 && far[a.from]+a.cost < far[a.to]-1e-12 {
					far[a.to], by[a.to] = far[a.from]+a.cost, k
				}
			}
		}
		if math.IsInf(far[sink], 1) {
			return total / moved
		}
		amount := math.Inf(1)
		for v := sink; v != source; v = arcs[by[v]].from {
			amount = min(amount, arcs[by[v]].cap)
		}
		for v := sink; v != source; v = arcs[by[v]].from {
			arcs[by[v]].cap -= amount
			arcs[by[v]^1].cap += amount
		}
		total += amount * far[sink]
		moved += amount
	}
}

func TestDistanceAgainstAnotherSolver(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawPalette(t, "a", 12), drawPalette(t, "b", 12)
		masses := func(p []Swatch) (out []float64) {
			sum := 0.0
			for _, s := range p {
				sum += s.Share
			}
			for _, s := range p {
				out = append(out, s.Share/sum)
			}
			return out
		}
		want := cheapest(masses(a), masses(b), func(i, j int) float64 { return DeltaE2000(a[i].Lab, b[j].Lab) })
		if got := PaletteDistance(a, b); !(math.Abs(got-want) <= 2e-9) {
			t.Errorf("%v, the other solver has %v", got, want)
		}
	})
}

// Masses that differ, as in Rubner's partial matches, and costs with ties.
func TestTransportOfUnequalMassesAgainstAnotherSolver(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(label string) (whole []int64, float []float64) {
			for range rapid.IntRange(1, 14).Draw(t, label) { // over 12 too
				v := rapid.Int64Range(0, 40).Draw(t, "mass")
				whole, float = append(whole, v), append(float, float64(v))
			}
			return whole, float
		}
		supply, s := draw("supply")
		demand, d := draw("demand")
		least := min(total(supply), total(demand))
		if least == 0 {
			return
		}
		cost := make([]float64, len(s)*len(d))
		for i := range cost {
			cost[i] = float64(rapid.IntRange(0, 9).Draw(t, "cost"))
		}
		want := cheapest(s, d, func(i, j int) float64 { return cost[i*len(d)+j] })
		if got := transport(supply, demand, cost) / float64(least); !(math.Abs(got-want) <= 1e-9) {
			t.Errorf("%v, the other solver has %v", got, want)
		}
	})
}

// drawGridPalette is one as Extract gives it: Labs of 0.001, shares of 0.0001
// that sum to 1.
func drawGridPalette(t *rapid.T, label string) []Swatch {
	n := rapid.IntRange(1, 6).Draw(t, label)
	out := make([]Swatch, n)
	left := 10000
	for i := range out {
		part := left
		if i < n-1 {
			part = rapid.IntRange(1, left-(n-1-i)).Draw(t, "share")
		}
		left -= part
		c := drawLab(t, label)
		out[i] = swatch(c, float64(part)/10000)
	}
	return out
}

func TestDistanceIsZeroForEqualPalettesOnly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := drawGridPalette(t, "a")
		shuffled := rapid.Permutation(a).Draw(t, "order")
		if d := PaletteDistance(a, shuffled); d != 0 {
			t.Errorf("%v in another order: %v", a, d)
		}
		// The least change that a palette can have.
		b := slices.Clone(a)
		i := rapid.IntRange(0, len(a)-1).Draw(t, "at")
		j := rapid.IntRange(0, len(a)-1).Draw(t, "to")
		if i != j && a[i].Share > 0.00015 && a[i].Lab != a[j].Lab {
			b[i].Share -= 0.0001
			b[j].Share += 0.0001
		} else {
			b[i].Lab.L += rapid.SampledFrom([]float64{0.001, -0.001}).Draw(t, "step")
		}
		if d := PaletteDistance(a, b); !(d > 0) {
			t.Errorf("%v and %v: %v", a, b, d)
		}
	})
}

// What the doc comment says of steps of R_T: the turn that is left out far
// from 275° changes nothing that a float64 can hold.
func TestTheTurnLeftOutIsNothing(t *testing.T) {
	for h := 0.0; h < 360; h++ {
		turn := (h - 275) / 25
		if turn*turn < 40 {
			continue
		}
		if rt := 2 * math.Sin(math.Pi/3*math.Exp(-turn*turn)); rt > 1e-16 {
			t.Errorf("at %v° R_T can be %v", h, rt)
		}
	}
}

func TestHueWeightIsTheSumOfFourCosines(t *testing.T) {
	cos := func(d float64) float64 { return math.Cos(d * math.Pi / 180) }
	for h := 0.0; h <= 720; h += 0.25 { // a grey's mean hue is a sum
		want := 1 - 0.17*cos(h-30) + 0.24*cos(2*h) + 0.32*cos(3*h+6) - 0.20*cos(4*h-63)
		if got := hueWeight(h); !(math.Abs(got-want) <= 1e-14) {
			t.Errorf("T(%v°) = %v, want %v", h, got, want)
		}
	}
}
