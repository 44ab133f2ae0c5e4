package audit

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Of figures drawn as the scales have it, dishes around one middle and arrangements
// around each dish, what spells say for a change is half the logarithm of the ratio
// of the densities of their middles' differences, normal ones written out here: the
// eight figures are worth four.
func TestSpellsAgainstDensities(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 4))
	normal := func(x, variance float64) float64 {
		return math.Exp(-x*x/(2*variance)) / math.Sqrt(2*math.Pi*variance)
	}
	asked, right, pairsRight := 0, 0, 0
	for range 4000 {
		changed := r.IntN(2) == 0
		var dish [2][looks]float64
		for c, v := range setupsBy {
			dish[0][c] = math.Sqrt(1-v) * r.NormFloat64()
			if dish[1][c] = dish[0][c]; changed {
				dish[1][c] = math.Sqrt(1-v) * r.NormFloat64()
			}
		}
		var spells [2]spell
		sizes := [2]int{1 + r.IntN(4), 1 + r.IntN(4)}
		var middles [2][looks]float64
		for side, n := range sizes {
			for range n {
				f := figures{known: true}
				for c, v := range setupsBy {
					f.at[c] = dish[side][c] + math.Sqrt(v)*r.NormFloat64()
					middles[side][c] += f.at[c] / float64(n)
				}
				spells[side].arrangements = append(spells[side].arrangements, arrangement{f, 1})
			}
		}
		first, last := &spells[1].arrangements[0].mean, &spells[0].arrangements[sizes[0]-1].mean
		pair := pictureChange(last, first, 10)
		says := spellsChange(&spells[0], &spells[1], pair)
		if sizes[0]+sizes[1] == 2 || says == pair {
			continue
		}
		want := 0.0
		for c, v := range setupsBy {
			x := middles[0][c] - middles[1][c]
			stray := v * (1/float64(sizes[0]) + 1/float64(sizes[1]))
			want += math.Log(normal(x, stray+2*(1-v))/normal(x, stray)) / 2
		}
		if want = min(max(want, -mostAlike), mostApart); !(math.Abs(says-want) <= 1e-9) {
			t.Fatalf("%v arrangements say %.4f, the densities %.4f", sizes, says, want)
		}
		asked++
		if says > 0 == changed {
			right++
		}
		if pair > 0 == changed {
			pairsRight++
		}
	}
	if asked < 3000 || !(right > pairsRight+asked/50) {
		t.Errorf("of %d spells %d tell a change rightly, pictures next to each other %d", asked, right, pairsRight)
	}
	t.Logf("of %d spells %d tell a change rightly, pictures next to each other %d", asked, right, pairsRight)
}
