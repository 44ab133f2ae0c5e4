package colour

import "math"

// PaletteDistance is the earth mover's distance between two palettes: the
// least ΔE2000 by which area must be recoloured, a unit of area on average, to
// turn one picture's palette into the other's (Rubner, Tomasi and Guibas,
// International Journal of Computer Vision 40 (2000) 99–121, with DeltaE2000
// as ground distance). Shares are normalised to a sum of 1 first; swatches
// without a share do not count. The distance is exact, the same both ways
// round, 0 only for equal palettes and, like DeltaE2000, no metric. It is
// rounded to 1e-9, so that the last bits, which differ between processors, are
// in no file.
//
// Nothing is known of a palette without area, or with a share or a colour that
// is not finite: the distance to it is +Inf, never something that reads as
// alike. A palette has 6 swatches at most; up to 12 are computed without
// allocating.
func PaletteDistance(a, b []Swatch) float64 {
	var room [2][12]int64
	supply, ok1 := masses(a, room[0][:0])
	demand, ok2 := masses(b, room[1][:0])
	if !ok1 || !ok2 {
		return math.Inf(1)
	}
	var costRoom [12 * 12]float64
	cost := costRoom[:0]
	for _, p := range a {
		for _, q := range b {
			cost = append(cost, DeltaE2000(p.Lab, q.Lab))
		}
	}
	return roundTo(transport(supply, demand, cost)/wholeMass, 1e9)
}

// wholeMass is how many parts a whole palette is divided into. Whole numbers
// make the flow exact: it ends at optimality and not at a tolerance.
const wholeMass = 1 << 50

// masses turns shares into whole parts of wholeMass, which they add up to. It
// reports false where there is nothing to compare.
func masses(palette []Swatch, out []int64) ([]int64, bool) {
	var sum float64
	largest := 0
	for i, s := range palette {
		if !s.Lab.finite() || !finite(s.Share) {
			return nil, false
		}
		sum += max(s.Share, 0)
		if s.Share > palette[largest].Share {
			largest = i
		}
	}
	if !(sum > 0) || !finite(sum) {
		return nil, false
	}
	left := int64(wholeMass)
	for _, s := range palette {
		m := int64(math.Round(max(s.Share, 0) / sum * wholeMass))
		out = append(out, m)
		left -= m
	}
	out[largest] += left // a few parts in 2^50 of rounding
	return out, true
}

// transport returns the least total cost of moving all of the smaller of the
// two total masses from supply to demand. cost is row by row, a row a supply.
// It is min-cost flow by successive shortest paths with potentials (Ahuja,
// Magnanti and Orlin, Network Flows, 1993, section 9.7); masses are whole, so
// each path carries at least one part and the search ends. supply and demand
// are used up.
func transport(supply, demand []int64, cost []float64) float64 {
	n, m := len(supply), len(demand)
	var flowRoom [12 * 12]int64
	var nodeRoom [24]node
	flow, nodes := flowRoom[:], nodeRoom[:]
	if n*m > len(flow) || n+m > len(nodes) {
		flow, nodes = make([]int64, n*m), make([]node, n+m)
	}
	nodes = nodes[:n+m]
	for {
		last := nearest(nodes, n, supply, demand, cost, flow)
		if last < 0 {
			break
		}
		// Along the path back to its supply: what the narrowest place lets by.
		amount := demand[last-n]
		at := last
		for ; nodes[at].before >= 0; at = nodes[at].before {
			if at < n { // reached by taking back a flow from here to there
				amount = min(amount, flow[at*m+nodes[at].before-n])
			}
		}
		amount = min(amount, supply[at])
		supply[at] -= amount
		demand[last-n] -= amount
		for at = last; nodes[at].before >= 0; at = nodes[at].before {
			if at < n {
				flow[at*m+nodes[at].before-n] -= amount
			} else {
				flow[nodes[at].before*m+at-n] += amount
			}
		}
	}
	var total float64
	for i, c := range cost {
		total += c * float64(flow[i])
	}
	return total
}

// node is a supply or a demand during the search for the cheapest path.
type node struct {
	potential float64
	distance  float64 // from the nearest supply that has mass left, by reduced cost
	before    int     // the node on that path before this one; -1 none
	done      bool
}

// nearest finds, by Dijkstra's algorithm on reduced costs, the unmet demand
// that is cheapest to reach, updates the potentials and returns its node, or
// −1 where no mass or no demand is left. Nodes 0 … n−1 are supplies.
func nearest(nodes []node, n int, supply, demand []int64, cost []float64, flow []int64) int {
	m := len(demand)
	for i := range nodes {
		nodes[i].distance, nodes[i].before, nodes[i].done = math.Inf(1), -1, false
		if i < n && supply[i] > 0 {
			nodes[i].distance = 0
		}
	}
	for {
		at, least := -1, math.Inf(1)
		for i := range nodes {
			if d := nodes[i].distance; d < least && !nodes[i].done {
				at, least = i, d
			}
		}
		if at < 0 {
			return -1
		}
		here := &nodes[at]
		here.done = true
		if at >= n && demand[at-n] > 0 {
			for i := range nodes {
				nodes[i].potential += min(nodes[i].distance, here.distance)
			}
			return at
		}
		relax := func(to int, c float64) {
			// Rounding can leave a reduced cost a hair below nothing.
			d := here.distance + max(0, c+here.potential-nodes[to].potential)
			if !nodes[to].done && d < nodes[to].distance {
				nodes[to].distance, nodes[to].before = d, at
			}
		}
		if at < n {
			for j := range m {
				relax(n+j, cost[at*m+j])
			}
		} else {
			for i := range n {
				if flow[i*m+at-n] > 0 {
					relax(i, -cost[i*m+at-n])
				}
			}
		}
	}
}

// roundTo rounds v to whole parts of 1/parts.
func roundTo(v, parts float64) float64 {
	return math.Round(v*parts) / parts
}
