package odds

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func jump(t testing.TB, weight []float64, next []int, bonus float64) *Jump {
	t.Helper()
	j, err := NewJump(Ways{Weight: weight, Next: next, Bonus: bonus})
	if err != nil {
		t.Fatal(err)
	}
	return j
}

func logs(p ...float64) []float64 {
	out := make([]float64, len(p))
	for i, x := range p {
		out[i] = math.Log(x)
	}
	return out
}

func label(t testing.TB, states int, steps []Step) Labels {
	t.Helper()
	l, err := Label(states, steps)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Russell and Norvig, Artificial Intelligence: A Modern Approach, the umbrella
// world (chapter on reasoning over time, figures of 3 digits; from memory): rain
// goes on with 0.7; an umbrella is seen with 0.9 in rain and 0.2 without. The
// probability of rain on day 2 given two umbrellas is 0.883, and so is that of day 1
// looking back; filtered it is 0.818. For umbrellas on days 1, 2, 4 and 5 of 5
// the likeliest weather is rain on those days.
func TestUmbrellaWorld(t *testing.T) {
	even := jump(t, []float64{1, 1}, nil, 0)
	// 0.4 of staying and 0.6 of a jump, half of it to the same: 0.7.
	day := func(umbrella bool) Step {
		if umbrella {
			return Step{0.4, even, logs(0.9, 0.2)}
		}
		return Step{0.4, even, logs(0.1, 0.8)}
	}
	const tol = 0.5e-3 // the book prints three digits
	check := func(what string, got, want float64) {
		if !(math.Abs(got-want) <= tol) {
			t.Errorf("%s: %.4f, want %.3f", what, got, want)
		}
	}
	check("day 1 alone", label(t, 2, []Step{day(true)}).At(0)[0], 0.818)
	two := label(t, 2, []Step{day(true), day(true)})
	check("day 1 of two", two.At(0)[0], 0.883)
	check("day 2 of two", two.At(1)[0], 0.883)
	// P(u1) = 0.5·0.9 + 0.5·0.2 = 0.55; of u2 given u1 0.6273·0.9 + 0.3727·0.2, by hand.
	if got, want := two.LogLikelihood, math.Log(0.55*0.6390909090909091); !(math.Abs(got-want) <= 1e-12) {
		t.Errorf("log-likelihood %v, want %v", got, want)
	}
	five := label(t, 2, []Step{day(true), day(true), day(false), day(true), day(true)})
	for k, want := range []int{0, 0, 1, 0, 0} {
		if five.Path[k] != want {
			t.Errorf("path %v, want rain on all but the third day", five.Path)
			break
		}
	}
}

// Durbin, Eddy, Krogh and Mitchison, Biological Sequence Analysis, figure 3.5,
// first line (from memory): a casino changes from a fair to a loaded die with
// 0.05 and back with 0.1; the loaded one shows six with 0.5. Of these 60 rolls
// Viterbi's path is 48 fair and 12 loaded.
func TestDishonestCasino(t *testing.T) {
	const rolls = "315116246446644245311321631164152133625144543631656626566666"
	// 0.85 of staying; 0.15 of a jump, 2/3 of it to the fair die: F→L 0.05, L→F 0.1.
	table := jump(t, []float64{2, 1}, nil, 0)
	steps := []Step{}
	for _, r := range rolls {
		s := Step{0.85, table, logs(1.0/6, 0.1)}
		if r == '6' {
			s.Speaks = logs(1.0/6, 0.5)
		}
		steps = append(steps, s)
	}
	steps[0].Jump = jump(t, []float64{1, 1}, nil, 0)
	path := ""
	for _, at := range label(t, 2, steps).Path {
		path += "FL"[at : at+1]
	}
	if want := strings.Repeat("F", 48) + strings.Repeat("L", 12); path != want {
		t.Errorf("path %s, want %s", path, want)
	}
}

// drawn is any small chain.
func drawn(t *rapid.T) (int, []Step) {
	states := rapid.IntRange(1, 4).Draw(t, "states")
	chance := rapid.OneOf(rapid.Float64Range(0, 1), rapid.SampledFrom([]float64{0, 0.5, 1}))
	aside := -1
	if states > 1 && rapid.Bool().Draw(t, "something lies aside") {
		aside = rapid.IntRange(0, states-1).Draw(t, "aside")
	}
	var jumps []*Jump
	for range 2 {
		weight := make([]float64, states)
		for i := range weight {
			weight[i] = rapid.Float64Range(0.01, 3).Draw(t, "weight")
		}
		next := rapid.SliceOfN(rapid.IntRange(-1, states-1), states, states).Draw(t, "next") // of several the same, at times
		var again []float64
		if rapid.Bool().Draw(t, "something is ruled out, or asked for") {
			again = rapid.SliceOfN(rapid.SampledFrom([]float64{0.001, 0.3, 1, 20}), states, states).Draw(t, "again")
		}
		w := Ways{Weight: weight, Next: next, Bonus: rapid.SampledFrom([]float64{0, 0.5, 40}).Draw(t, "bonus"), Again: again}
		if aside >= 0 {
			w.Aside, w.Share = aside, rapid.SampledFrom([]float64{0.1, 0.6}).Draw(t, "share")
			w.Resume = rapid.SampledFrom([]float64{0, 0.3, 1}).Draw(t, "resumed")
		}
		j, err := NewJump(w)
		if err != nil {
			t.Fatal(err)
		}
		jumps = append(jumps, j)
	}
	steps := make([]Step, rapid.IntRange(1, 6).Draw(t, "steps"))
	for k := range steps {
		steps[k] = Step{Stay: chance.Draw(t, "stay"), Jump: jumps[rapid.IntRange(0, 1).Draw(t, "jump")]}
		if rapid.Bool().Draw(t, "speaks") {
			for range states {
				steps[k].Speaks = append(steps[k].Speaks, rapid.Float64Range(-8, 8).Draw(t, "nats"))
			}
		}
	}
	return states, steps
}

// The definition itself: every path of a small chain, one after another, with
// its probability as a product.
func TestAgainstEveryPath(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		states, steps := drawn(t)
		odds := make([]float64, len(steps)*states)
		var total, best float64
		path := make([]int, len(steps))
		of := map[string]float64{}
		for {
			p := 1.0
			mind := path[0] // the last state that is not aside, if there was one
			for k, s := range steps {
				if k == 0 {
					if p *= s.Jump.weight[path[0]]; path[0] == s.Jump.aside {
						p = s.Jump.share
					}
				} else {
					j := s.Jump
					c := j.Chance(path[k-1], path[k])
					if path[k-1] == j.aside && path[k] != j.aside && mind != j.aside {
						c = j.goesOn * j.Chance(mind, path[k])
						if path[k] == mind {
							c += (1 - j.share) * (1 - j.goesOn)
						}
					}
					c *= 1 - s.Stay
					if path[k-1] == path[k] {
						c += s.Stay
					}
					p *= c
					if path[k] != j.aside {
						mind = path[k]
					}
				}
				if s.Speaks != nil {
					p *= math.Exp(s.Speaks[path[k]])
				}
			}
			total, best = total+p, max(best, p)
			key := ""
			for k, at := range path {
				odds[k*states+at] += p
				key += string(rune('0' + at))
			}
			of[key] = p
			k := 0
			for k < len(path) && path[k] == states-1 {
				path[k] = 0
				k++
			}
			if k == len(path) {
				break
			}
			path[k]++
		}
		l, err := Label(states, steps)
		if err != nil {
			t.Fatal(err)
		}
		for i, x := range l.Odds {
			if want := odds[i] / total; !(math.Abs(x-want) <= 1e-12) {
				t.Fatalf("step %d, state %d: %v, want %v", i/states, i%states, x, want)
			}
		}
		if sums, err := Sums(states, steps); err != nil || sums.Path != nil || !slices.Equal(sums.Odds, l.Odds) {
			t.Fatalf("without the path %v: %v, want %v", err, sums, l.Odds)
		}
		if want := math.Log(total); !(math.Abs(l.LogLikelihood-want) <= 1e-9) {
			t.Fatalf("log-likelihood %v, want %v", l.LogLikelihood, want)
		}
		key := ""
		for _, at := range l.Path {
			key += string(rune('0' + at))
		}
		if !(of[key] >= best*(1-1e-12)) {
			t.Fatalf("path %s has %v, the best %v", key, of[key], best)
		}
	})
}

func TestJumpsAreChances(t *testing.T) {
	j := jump(t, []float64{1, 2, 3}, []int{1, 2, -1}, 4)
	for from := range 3 {
		sum := 0.0
		for to := range 3 {
			sum += j.Chance(from, to)
		}
		if !(math.Abs(sum-1) <= 1e-15) {
			t.Errorf("from %d: %v", from, sum)
		}
	}
	half, err := NewJump(Ways{Weight: []float64{1, 2, 3}, Next: []int{1, 2, -1}, Bonus: 4, Again: []float64{1, 0.5, 1}})
	if err != nil {
		t.Fatal(err)
	}
	for from := range 3 {
		for to := range 3 {
			want := j.Chance(from, to)
			if to == 1 {
				want /= 2
			}
			if got := half.Chance(from, to); !(math.Abs(got-want) <= 1e-15) {
				t.Errorf("from %d to %d with 1 half ruled out: %v, want %v", from, to, got, want)
			}
		}
	}
	// A fifth of all jumps goes aside to 2, whatever state they leave; the rest
	// is as without it: from 0 the next is 1, 5·2/3 of 1/3 + 10/3.
	off, err := NewJump(Ways{Weight: []float64{1, 2, 3}, Next: []int{1, 2, -1}, Bonus: 4, Aside: 2, Share: 0.2})
	if err != nil {
		t.Fatal(err)
	}
	for from := range 3 {
		if got := off.Chance(from, 2); got != 0.2 {
			t.Errorf("aside from %d: %v", from, got)
		}
	}
	if got := off.Chance(0, 1); !(math.Abs(got-0.8*10/11) <= 1e-15) {
		t.Errorf("chance of the next beside what goes aside %v, want 8/11", got)
	}
	// Two may have one next, each its own sum: from 0 and from 1 to 2, 5·3/6 of 3/6 + 15/6.
	both, err := NewJump(Ways{Weight: []float64{1, 2, 3}, Next: []int{2, 2, -1}, Bonus: 4})
	if err != nil {
		t.Fatal(err)
	}
	for _, from := range []int{0, 1} {
		if got := both.Chance(from, 2); !(math.Abs(got-15.0/18) <= 1e-15) {
			t.Errorf("chance of the next from %d %v, want 15/18", from, got)
		}
	}
	// By hand: weights 1/6, 2/6, 3/6; from 0 the next is 1: 5·2/6 of 1/6 + 10/6 + 3/6.
	if got := j.Chance(0, 1); !(math.Abs(got-10.0/14) <= 1e-15) {
		t.Errorf("chance of the next %v, want 10/14", got)
	}
}

// Ten thousand steps that all speak as strongly as they can for one state or
// another neither vanish nor overflow.
func TestLongChainsKeepTheirNumbers(t *testing.T) {
	even := jump(t, []float64{1, 1, 1}, nil, 0)
	steps := make([]Step, 10000)
	for k := range steps {
		steps[k] = Step{Stay: 1 - 1e-6, Jump: even, Speaks: []float64{-500, -500, -500}}
		steps[k].Speaks[k/5000] = 500
	}
	l := label(t, 3, steps)
	for _, k := range []int{0, 4999, 5000, 9999} {
		if p := l.At(k)[k/5000]; !(p > 1-1e-9 && p <= 1) || l.Path[k] != k/5000 {
			t.Errorf("step %d: %v, path %d", k, l.At(k), l.Path[k])
		}
	}
}

func TestWhatIsNoChain(t *testing.T) {
	j := jump(t, []float64{1, 1}, nil, 0)
	for name, steps := range map[string][]Step{
		"a chance above 1":      {{1.5, j, nil}},
		"no chance":             {{math.NaN(), j, nil}},
		"no jump":               {{0.5, nil, nil}},
		"speaks of three":       {{0.5, j, []float64{1, 2, 3}}},
		"speaks without number": {{0.5, j, []float64{1, math.NaN()}}},
		"speaks without end":    {{0.5, j, []float64{1, math.Inf(1)}}},
	} {
		if _, err := Label(2, steps); !errors.Is(err, ErrChain) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, c := range map[string]struct {
		weight []float64
		next   []int
		bonus  float64
	}{
		"nothing":             {nil, nil, 0},
		"no weight":           {[]float64{0, 0}, nil, 0},
		"a weight below 0":    {[]float64{1, -1}, nil, 0},
		"a next out of reach": {[]float64{1, 1}, []int{2, -1}, 1},
		"a bonus below 0":     {[]float64{1, 1}, nil, -1},
	} {
		if _, err := NewJump(Ways{Weight: c.weight, Next: c.next, Bonus: c.bonus}); !errors.Is(err, ErrChain) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, w := range []Ways{{Weight: []float64{1, 1}, Share: 1}, {Weight: []float64{1, 1}, Share: -1}, {Weight: []float64{1, 1}, Share: 0.5, Aside: 2}, {Weight: []float64{1, 0}, Share: 0.5}} {
		if _, err := NewJump(w); !errors.Is(err, ErrChain) {
			t.Errorf("%+v: %v", w, err)
		}
	}
	for _, again := range [][]float64{{1}, {1, math.Inf(1)}, {1, -1}, {math.NaN(), 1}} {
		if _, err := NewJump(Ways{Weight: []float64{1, 1}, Again: again}); !errors.Is(err, ErrChain) {
			t.Errorf("factors %v: %v", again, err)
		}
	}
	if l, err := Label(2, nil); err != nil || len(l.Path) != 0 {
		t.Errorf("no steps: %v, %v", l, err)
	}
}

// season is a long chain: n steps of a plan of some recipes and none, every
// eighth speaking for one.
func season(t testing.TB, n, recipes int) []Step {
	r := rand.New(rand.NewPCG(1, 2))
	weight, next := make([]float64, recipes+1), make([]int, recipes+1)
	for i := range weight {
		weight[i], next[i] = 1, i+1
	}
	next[recipes-1], next[recipes] = -1, -1
	j := jump(t, weight, next, 30)
	steps := make([]Step, n)
	for k := range steps {
		steps[k] = Step{Stay: 0.99, Jump: j}
		if k%20 == 0 {
			steps[k].Stay = 0.1
		}
		if k%8 == 0 {
			steps[k].Speaks = make([]float64, recipes+1)
			steps[k].Speaks[r.IntN(recipes)] = 3
		}
	}
	return steps
}

// The reference is one multiplication and one addition for each frame and state
// of the whole table, over and over: what a step can't be cheaper than.
func BenchmarkLabel(b *testing.B) {
	steps := season(b, 10000, 76)
	b.Run("10000x76", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			label(b, 77, steps)
		}
	})
	b.Run("reference", func(b *testing.B) {
		row := make([]float64, 77)
		for b.Loop() {
			for range 10000 {
				for i := range row {
					row[i] = row[i]*0.5 + 0.25
				}
			}
		}
	})
}
