package audit

import "math"

// weight is what a choice is weighed by: the distances of the pairs in it, in
// whole billionths of ΔE2000. Distances come rounded to those, so sums are
// exact and the same in any order.
type weight struct {
	least int64 // the smallest; none where there is no pair
	sum   int64
}

// none is the smallest distance of no pair.
const none = math.MaxInt64

// perUnit is how many parts of a weight one ΔE2000 is.
const perUnit = 1e9

func (w weight) and(v weight) weight { return weight{min(w.least, v.least), w.sum + v.sum} }

// with adds one pair that is x apart, ΔE2000.
func (w weight) with(x float64) weight {
	n := int64(math.Round(x * perUnit))
	return weight{min(w.least, n), w.sum + n}
}

// chain is spreads in a row and what may stand on each: nodes holds the pairs
// within a spread, an entry an option; moved how many pictures of an option
// differ from those that stand now; edges[i][a][b] the pairs from option a of
// spread i to option b of the next.
type chain struct {
	nodes [][]weight
	moved [][]int
	edges [][][]weight
}

// best returns the option of each spread by which the smallest distance of the
// chain is as large as can be, among those by which the sum is, and among
// those by which the fewest pictures move; then the first. It is exact.
//
// The smallest and the sum do not go through one pass, for a way to a spread
// with a small sum and a large least may lose its least on the way on. So the
// first pass finds the largest least alone, and the second the largest sum
// over what does not fall short of it.
func (c chain) best() []int {
	floor := c.widest()
	type way struct {
		sum   int64
		moved int
		from  int
		ok    bool
	}
	ways := make([][]way, len(c.nodes))
	better := func(a, b way) bool { // a over b, which is there already
		return a.ok && (!b.ok || a.sum > b.sum || a.sum == b.sum && a.moved < b.moved)
	}
	for i, options := range c.nodes {
		ways[i] = make([]way, len(options))
		for b, node := range options {
			if node.least < floor {
				continue
			}
			if i == 0 {
				ways[i][b] = way{sum: node.sum, moved: c.moved[i][b], ok: true}
				continue
			}
			for a, before := range ways[i-1] {
				edge := c.edges[i-1][a][b]
				if !before.ok || edge.least < floor {
					continue
				}
				w := way{before.sum + edge.sum + node.sum, before.moved + c.moved[i][b], a, true}
				if better(w, ways[i][b]) {
					ways[i][b] = w
				}
			}
		}
	}
	if len(ways) == 0 {
		return nil
	}
	last := len(ways) - 1
	at := 0
	for b, w := range ways[last] {
		if better(w, ways[last][at]) {
			at = b
		}
	}
	chosen := make([]int, len(ways))
	for i := last; i >= 0; i-- {
		chosen[i] = at
		at = ways[i][at].from
	}
	return chosen
}

// widest returns the largest that the smallest distance of the chain can be.
func (c chain) widest() int64 {
	var before []int64
	for i, options := range c.nodes {
		now := make([]int64, len(options))
		for b, node := range options {
			now[b] = node.least
			if i == 0 {
				continue
			}
			reach := int64(-1)
			for a, least := range before {
				reach = max(reach, min(least, c.edges[i-1][a][b].least))
			}
			now[b] = min(now[b], reach)
		}
		before = now
	}
	widest := int64(-1)
	for _, least := range before {
		widest = max(widest, least)
	}
	return widest
}
