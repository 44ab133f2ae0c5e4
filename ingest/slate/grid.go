package slate

import (
	"math"
)

// grid is a code laid over a picture: from it modules are sampled. It reaches
// one module of the quiet zone beyond the code to every side.
type grid struct {
	levels []Picture // the picture, and again each time at half its size
	size   int       // modules on a side
	edge   int       // size + 2
	known  []int8    // edge × edge: 1 dark in every code of this size, −1 light, 0 not known
	to     perspective

	cut   []float64 // edge × edge: by it dark parts from light there
	value []float64 // edge × edge: what was sampled last
}

// newGrid lays a code over the picture.
func newGrid(levels []Picture, size int, to perspective) *grid {
	g := &grid{levels: levels, size: size, edge: size + 2, to: to}
	g.known = fixed(size)
	g.cut, g.value = make([]float64, len(g.known)), make([]float64, len(g.known))
	return g
}

// fixed are the modules that every code of a size has alike, and the edge of
// the quiet zone: 1 dark, −1 light, 0 not fixed (ISO/IEC 18004 section 6.3).
func fixed(size int) []int8 {
	edge := size + 2
	known := make([]int8, edge*edge)
	set := func(u, v int, dark bool) { // in modules from the code's corner, −1 … size
		k := int8(-1)
		if dark {
			k = 1
		}
		known[(v+1)*edge+u+1] = k
	}
	for i := -1; i <= size; i++ {
		set(i, -1, false)
		set(i, size, false)
		set(-1, i, false)
		set(size, i, false)
	}
	for i := 8; i < size-8; i++ {
		set(i, 6, i%2 == 0)
		set(6, i, i%2 == 0)
	}
	for _, at := range [][2]int{{3, 3}, {size - 4, 3}, {3, size - 4}} {
		for dv := -4; dv <= 4; dv++ {
			for du := -4; du <= 4; du++ {
				r := max(du, -du, dv, -dv)
				if u, v := at[0]+du, at[1]+dv; u >= -1 && v >= -1 && u <= size && v <= size {
					set(u, v, r != 2 && r != 4)
				}
			}
		}
	}
	set(8, size-8, true)
	if size > leastSize { // the last alignment pattern, which all versions from 2 have
		for dv := -2; dv <= 2; dv++ {
			for du := -2; du <= 2; du++ {
				set(size-7+du, size-7+dv, max(du, -du, dv, -dv) != 1)
			}
		}
	}
	return known
}

// level is the picture in which a module is 3 to 6 pixels wide, or the first
// where it is less there, and by how much that is smaller.
func (g *grid) level() (p Picture, scale float64) {
	c := g.to.corners(g.size)
	unit := math.Sqrt(math.Abs((c[2][0]-c[0][0])*(c[3][1]-c[1][1])-(c[3][0]-c[1][0])*(c[2][1]-c[0][1]))/2) / float64(g.size)
	i := 0
	for ; i+1 < len(g.levels) && unit >= 6; i++ {
		unit /= 2
	}
	return g.levels[i], 1 / float64(int(1)<<i)
}

// spots are the places in a module that are sampled, from its middle.
var spots = [5][2]float64{{0, 0}, {-0.27, -0.27}, {0.27, -0.27}, {-0.27, 0.27}, {0.27, 0.27}}

// sample takes the mean of a few places in each module.
func (g *grid) sample() {
	p, scale := g.level()
	for v := range g.edge {
		for u := range g.edge {
			g.value[v*g.edge+u] = g.module(p, scale, float64(u)-0.5, float64(v)-0.5)
		}
	}
}

// module is the mean of a few places in the module round (u, v).
func (g *grid) module(p Picture, scale, u, v float64) float64 {
	sum := 0.0
	for _, s := range spots {
		x, y := g.to.at(u+s[0], v+s[1])
		sum += p.at(scale*x, scale*y)
	}
	return sum / float64(len(spots))
}

// part finds for each module where dark parts from light round it: half way
// between the darkest and the lightest of 7 × 7 modules, evened out over 5 × 5.
func (g *grid) part() {
	n := g.edge
	low, high := window(g.value, n, 3, math.Min), window(g.value, n, 3, math.Max)
	for i := range low {
		low[i] = (low[i] + high[i]) / 2
	}
	copy(g.cut, mean(low, n, 2))
}

// window is the least or the most of each (2r + 1)² values of an n × n field.
func window(v []float64, n, r int, take func(a, b float64) float64) []float64 {
	rows, out := make([]float64, n*n), make([]float64, n*n)
	for y := range n {
		for x := range n {
			best := v[y*n+x]
			for i := max(0, x-r); i <= min(n-1, x+r); i++ {
				best = take(best, v[y*n+i])
			}
			rows[y*n+x] = best
		}
	}
	for y := range n {
		for x := range n {
			best := rows[y*n+x]
			for i := max(0, y-r); i <= min(n-1, y+r); i++ {
				best = take(best, rows[i*n+x])
			}
			out[y*n+x] = best
		}
	}
	return out
}

// mean is the mean of each (2r + 1)² values of an n × n field.
func mean(v []float64, n, r int) []float64 {
	rows, out := make([]float64, n*n), make([]float64, n*n)
	for y := range n {
		for x := range n {
			sum, k := 0.0, 0.0
			for i := max(0, x-r); i <= min(n-1, x+r); i++ {
				sum, k = sum+v[y*n+i], k+1
			}
			rows[y*n+x] = sum / k
		}
	}
	for y := range n {
		for x := range n {
			sum, k := 0.0, 0.0
			for i := max(0, y-r); i <= min(n-1, y+r); i++ {
				sum, k = sum+rows[i*n+x], k+1
			}
			out[y*n+x] = sum / k
		}
	}
	return out
}

// agreement tells how well what is known of every code is seen, −1 … 1: the
// share of the contrast that has the right sign.
func (g *grid) agreement() float64 {
	var sum, all float64
	for i, k := range g.known {
		if k != 0 {
			d := g.cut[i] - g.value[i]
			sum += float64(k) * d
			all += math.Abs(d)
		}
	}
	if all == 0 {
		return 0
	}
	return sum / all
}

// score is what settle makes as large as it can: fixed modules that are what
// they should be, and the others clearly dark or light, which they are not where
// a module of the grid lies over the edge of two.
func (g *grid) score() float64 {
	p, scale := g.level()
	sum := 0.0
	for v := range g.edge {
		for u := range g.edge {
			i := v*g.edge + u
			d := g.cut[i] - g.module(p, scale, float64(u)-0.5, float64(v)-0.5)
			switch k := g.known[i]; k {
			case 0:
				sum += math.Abs(d)
			default:
				sum += 2 * float64(k) * d
			}
		}
	}
	return sum
}

// settle moves the corners of the code about until its modules fit best.
func (g *grid) settle() {
	g.sample()
	g.part()
	g.move(0.7, g.score, func() {
		g.sample()
		g.part()
	})
}

// move moves the corners of the code about, by so many modules at first, until
// score is as large as it gets; after each size of step anew is called.
func (g *grid) move(first float64, score func() float64, anew func()) {
	best := score()
	for step := first; step > 0.06; step /= 2 {
		for range 3 {
			moved := false
			for corner := range 5 { // the fifth: all together
				for axis := range 2 {
					for _, sign := range [2]float64{1, -1} {
						c := g.to.corners(g.size)
						far := sign * step * g.unit(c)
						if corner == 4 {
							for i := range c {
								c[i][axis] += far
							}
						} else {
							c[corner][axis] += far
						}
						old := g.to
						g.to = c.perspective(g.size)
						if s := score(); s > best {
							best, moved = s, true
							break
						}
						g.to = old
					}
				}
			}
			if !moved {
				break
			}
		}
		anew()
		best = score()
	}
}

// unit is the length of a module in the mean, pixels.
func (g *grid) unit(c corners) float64 {
	sum := 0.0
	for i := range c {
		j := (i + 1) % len(c)
		sum += math.Hypot(c[i][0]-c[j][0], c[i][1]-c[j][1])
	}
	return sum / float64(4*g.size)
}
