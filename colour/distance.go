package colour

import "math"

// PaletteDistance is the earth mover's distance between two palettes: the
// least ΔE2000 by which area must be recoloured, a unit of area on average, to
// turn one picture's palette into the other's (Rubner, Tomasi and Guibas,
// International Journal of Computer Vision 40 (2000) 99–121, with DeltaE2000
// as ground distance). Shares are normalised to a sum of 1 first; swatches
// without a share do not count, and neither does the order of the swatches.
//
// The distance is exact, the same both ways round to the last bit, and like
// DeltaE2000 no metric. It is rounded to 1e-9, so that the last bits, which
// differ between processors, are in no file; two palettes of Extract, whose
// Labs and shares are rounded, have the distance 0 only where they are equal,
// since the least step between two of them is 100 times as much.
//
// Nothing is known of a palette without area, or with a share or a colour that
// is not finite: the distance to it is +Inf, never something that reads as
// alike. A palette has 6 swatches at most, a spread of two pictures 12; up to
// these are computed without allocating.
func PaletteDistance(a, b []Swatch) float64 {
	if after(a, b) {
		a, b = b, a // one order of the sums for both ways round
	}
	var room [2][12]int64
	supply, ok1 := masses(a, room[0][:0])
	demand, ok2 := masses(b, room[1][:0])
	if !ok1 || !ok2 {
		return math.Inf(1)
	}
	var costRoom [12 * 12]float64
	cost := costRoom[:0]
	for i := range a {
		for j := range b {
			cost = append(cost, DeltaE2000(a[i].Lab, b[j].Lab))
		}
	}
	return roundTo(transport(supply, demand, cost)/wholeMass, 1e9)
}

// after orders palettes: which of two comes second depends on their colours
// and shares alone.
func after(a, b []Swatch) bool {
	if len(a) != len(b) {
		return len(a) > len(b)
	}
	for i := range a {
		p, q := &a[i], &b[i]
		for _, c := range [...][2]float64{{p.Lab.L, q.Lab.L}, {p.Lab.A, q.Lab.A}, {p.Lab.B, q.Lab.B}, {p.Share, q.Share}} {
			if c[0] != c[1] {
				return c[0] > c[1]
			}
		}
	}
	return false
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
//
// It is the primal-dual method: a supply that has mass left looks for the
// cheapest way to an unmet demand, over flows that may be taken back, by
// Dijkstra's algorithm on reduced costs (Ahuja, Magnanti and Orlin, Network
// Flows, 1993, sections 9.7 and 12.4). Masses are whole, so each way carries at
// least one part and the search ends, at the optimum and not at a tolerance.
// supply and demand are used up.
func transport(supply, demand []int64, cost []float64) float64 {
	var room [12 * 12]float64
	if total(supply) > total(demand) {
		// All of the rows' mass is moved in what follows, so the smaller mass
		// must stand in the rows.
		turned := room[:0]
		for j := range demand {
			for i := range supply {
				turned = append(turned, cost[i*len(demand)+j])
			}
		}
		supply, demand, cost = demand, supply, turned
	}
	n, m := len(supply), len(demand)
	var flowRoom [12 * 12]int64
	var rowRoom, columnRoom [12]station
	p := plan{supply, demand, cost, flowRoom[:], rowRoom[:], columnRoom[:]}
	if n*m > len(p.flow) || n > len(p.rows) || m > len(p.columns) {
		p.flow, p.rows, p.columns = make([]int64, n*m), make([]station, n), make([]station, m)
	}
	p.rows, p.columns = p.rows[:n], p.columns[:m]
	// Each supply's cheapest demand first: with that cost as the price of the
	// supply, none of these moves can be bettered while the demand has room.
	for i := range n {
		best := 0
		for j, c := range cost[i*m : (i+1)*m] {
			if c < cost[i*m+best] {
				best = j
			}
		}
		p.rows[i].price = cost[i*m+best]
		amount := min(supply[i], demand[best])
		p.flow[i*m+best] = amount
		supply[i] -= amount
		demand[best] -= amount
	}
	for i := range n {
		for supply[i] > 0 {
			p.carry(i, p.way(i))
		}
	}
	var sum float64
	for i, c := range cost {
		sum += float64(c * float64(p.flow[i]))
	}
	return sum
}

func total(masses []int64) (sum int64) {
	for _, m := range masses {
		sum += m
	}
	return sum
}

// plan is a transport while it is sought.
type plan struct {
	supply, demand []int64   // what is left of them
	cost           []float64 // row by row, a row a supply
	flow           []int64   // the same
	rows, columns  []station // of supply and demand
}

// station is a supply or a demand. A cost less the prices of its row and its
// column is the reduced cost: never below nothing, and nothing where there is
// flow.
type station struct {
	price float64
	far   float64 // from the row where the search began, in reduced cost
	from  int     // the station of the other kind before this one
	done  bool    // far is final
}

// way finds the cheapest way from row start to a column with demand left,
// renews the prices and returns the column.
func (p *plan) way(start int) int {
	m := len(p.columns)
	for i := range p.rows {
		p.rows[i].done = false
	}
	for j := range p.columns {
		p.columns[j].far, p.columns[j].done = math.Inf(1), false
	}
	reach := func(i int) {
		r := &p.rows[i]
		for j, c := range p.cost[i*m : (i+1)*m] {
			to := &p.columns[j]
			if to.done {
				continue
			}
			// Rounding can leave a reduced cost a hair below nothing.
			if d := r.far + max(0, c-r.price-to.price); d < to.far {
				to.far, to.from = d, i
			}
		}
	}
	p.rows[start].far, p.rows[start].done = 0, true
	reach(start)
	for {
		at := -1
		for j := range p.columns {
			if c := &p.columns[j]; !c.done && (at < 0 || c.far < p.columns[at].far) {
				at = j
			}
		}
		here := &p.columns[at] // there is one: all of supply fits into demand
		here.done = true
		if p.demand[at] > 0 {
			for i := range p.rows {
				if r := &p.rows[i]; r.done {
					r.price += here.far - r.far
				}
			}
			for j := range p.columns {
				if c := &p.columns[j]; c.done {
					c.price -= here.far - c.far
				}
			}
			return at
		}
		for i := range p.rows {
			if r := &p.rows[i]; !r.done && p.flow[i*m+at] > 0 {
				r.far, r.from, r.done = here.far, at, true
				reach(i)
			}
		}
	}
}

// carry moves what the way from row start to column end lets by.
func (p *plan) carry(start, end int) {
	m := len(p.columns)
	amount := min(p.supply[start], p.demand[end])
	for i := p.columns[end].from; i != start; i = p.columns[p.rows[i].from].from {
		amount = min(amount, p.flow[i*m+p.rows[i].from]) // is taken back
	}
	p.supply[start] -= amount
	p.demand[end] -= amount
	for j := end; ; {
		i := p.columns[j].from
		p.flow[i*m+j] += amount
		if i == start {
			return
		}
		j = p.rows[i].from
		p.flow[i*m+j] -= amount
	}
}

// roundTo rounds v to whole parts of 1/parts.
func roundTo(v, parts float64) float64 {
	return math.Round(v*parts) / parts
}
