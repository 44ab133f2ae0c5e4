package slate

import "math"

// equalise undoes blur, bleed and movement as far as the code itself tells how
// they act: the linear filter over each module and its 24 neighbours that makes
// the modules known of every code come out best as dark (1) and light (−1), in
// least squares with a ridge; then again with all modules as they came out. It
// returns edge × edge values, positive dark, or false where there is no such
// filter. v are samples, cut where dark parts from light.
func (g *grid) equalise(v, cut []float64) ([]float64, bool) {
	const (
		reach = 2
		taps  = (2*reach+1)*(2*reach+1) + 1 // and a constant
	)
	n := g.edge
	// Samples about their cut, in units of the contrast: shadows then count alike.
	in := make([]float64, len(v))
	var spread float64
	for i := range v {
		spread += math.Abs(cut[i] - v[i])
	}
	spread /= float64(len(v))
	if spread < 1e-9 {
		return nil, false
	}
	for i := range v {
		in[i] = (cut[i] - v[i]) / spread
	}
	around := func(x, y int, a *[taps]float64) {
		k := 0
		for dy := -reach; dy <= reach; dy++ {
			row := min(n-1, max(0, y+dy)) * n
			for dx := -reach; dx <= reach; dx++ {
				a[k] = in[row+min(n-1, max(0, x+dx))]
				k++
			}
		}
		a[k] = 1
	}
	want := make([]float64, len(v))
	for i, k := range g.known {
		want[i] = float64(k)
	}
	out := make([]float64, len(v))
	var a [taps]float64
	for range 3 {
		m := make([][]float64, taps)
		for i := range m {
			m[i] = make([]float64, taps+1)
			m[i][i] = 3 // the ridge; no source
		}
		for y := range n {
			for x := range n {
				w := want[y*n+x]
				if w == 0 {
					continue
				}
				around(x, y, &a)
				for i, p := range a {
					for j := i; j < taps; j++ {
						m[i][j] += p * a[j]
					}
					m[i][taps] += p * w
				}
			}
		}
		for i := range m {
			for j := range i {
				m[i][j] = m[j][i]
			}
		}
		filter, ok := solved(m)
		if !ok {
			return nil, false
		}
		for y := range n {
			for x := range n {
				around(x, y, &a)
				sum := 0.0
				for i, p := range a {
					sum += p * filter[i]
				}
				i := y*n + x
				out[i] = sum
				if g.known[i] == 0 {
					want[i] = math.Copysign(1, sum)
				}
			}
		}
	}
	return out, true
}

// solved is the solution of n equations, rows of n factors and the right side,
// by elimination with pivots; it works in m.
func solved(m [][]float64) (x []float64, ok bool) {
	n := len(m)
	for i := range n {
		p := i
		for k := i + 1; k < n; k++ {
			if math.Abs(m[k][i]) > math.Abs(m[p][i]) {
				p = k
			}
		}
		m[i], m[p] = m[p], m[i]
		if math.Abs(m[i][i]) < 1e-12 {
			return nil, false
		}
		for k := i + 1; k < n; k++ {
			f := m[k][i] / m[i][i]
			if f == 0 {
				continue
			}
			for j := i; j <= n; j++ {
				m[k][j] -= f * m[i][j]
			}
		}
	}
	x = make([]float64, n)
	for i := n - 1; i >= 0; i-- {
		x[i] = m[i][n]
		for j := i + 1; j < n; j++ {
			x[i] -= m[i][j] * x[j]
		}
		x[i] /= m[i][i]
	}
	return x, true
}
