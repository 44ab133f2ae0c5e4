package slate

import (
	"math"
	"sync"
)

// A blurred code is restored as a whole: how blur spreads a module is learnt
// from the modules that every code has alike, and then those dark and light
// modules are sought whose blurred picture is nearest to what was sampled, in
// linear light, in which blur adds up. This reads where a filter can't: it knows
// that each module is dark or light and nothing between.

// spread is how many modules to each side blur is taken to reach.
const spread = 2

// model is a code of dark and light modules as a lens shows it.
type model struct {
	n     int                                 // modules on a side, with one of the quiet zone around
	seen  []float64                           // n × n: what was sampled, linear light, white 1
	light []float64                           // n × n: 1 light, 0 dark
	known []bool                              // n × n: every code has it so
	kern  [2*spread + 1][2*spread + 1]float64 // how a light module spreads
	base  float64                             // what a dark one gives
	fallX float64                             // by how much more light falls per module to the right, of the mean
	fallY float64
	left  []float64 // n × n: seen less what the model shows
}

// lights is the light of sRGB codes, by the power 2.2.
var lights = sync.OnceValue(func() *[257]float64 {
	t := new([257]float64)
	for i := range t {
		t[i] = math.Pow(float64(i)/255, 2.2)
	}
	return t
})

// linear is the light of codes 0 … 255.
func linear(v []float64) []float64 {
	t := lights()
	out := make([]float64, len(v))
	for i, c := range v {
		k := int(c)
		out[i] = t[k] + (c-float64(k))*(t[k+1]-t[k])
	}
	return out
}

// at is the light of a module, light beyond the grid: the quiet zone.
func (m *model) at(x, y int) float64 {
	if x < 0 || y < 0 || x >= m.n || y >= m.n {
		return 1
	}
	return m.light[y*m.n+x]
}

// given tells whether a module is known, as are all beyond the grid.
func (m *model) given(x, y int) bool {
	return x < 0 || y < 0 || x >= m.n || y >= m.n || m.known[y*m.n+x]
}

// falls is how much light falls on a module, 1 in the mean.
func (m *model) falls(x, y int) float64 {
	c := float64(m.n-1) / 2
	return max(0.1, 1+m.fallX*(float64(x)-c)+m.fallY*(float64(y)-c))
}

// shown is the blurred light of a module.
func (m *model) shown(x, y int) float64 {
	sum := 0.0
	for dy := -spread; dy <= spread; dy++ {
		for dx := -spread; dx <= spread; dx++ {
			sum += m.kern[dy+spread][dx+spread] * m.at(x+dx, y+dy)
		}
	}
	return sum
}

// fit learns how light spreads and falls, by least squares over the modules whose
// neighbours are known, or over all where every is true. false where nothing can
// be learnt.
func (m *model) fit(every bool) bool {
	// A spread is the same both ways: 13 of its 25 places, then base, falls.
	const half = ((2*spread+1)*(2*spread+1) + 1) / 2
	const terms = half + 3
	a := make([][]float64, terms)
	for i := range a {
		a[i] = make([]float64, terms+1)
		a[i][i] = 1e-3
	}
	c := float64(m.n-1) / 2
	var row [terms]float64
	count := 0
	for y := range m.n {
		for x := range m.n {
			all := true
			row = [terms]float64{}
			for dy := -spread; dy <= spread; dy++ {
				for dx := -spread; dx <= spread; dx++ {
					k := (dy+spread)*(2*spread+1) + dx + spread
					row[min(k, 2*half-2-k)] += m.at(x+dx, y+dy)
					all = all && m.given(x+dx, y+dy)
				}
			}
			if !all && !every {
				continue
			}
			falls := m.falls(x, y)
			for k := range half {
				row[k] *= falls
			}
			count++
			shown := m.shown(x, y)
			row[half], row[half+1], row[half+2] = 1, (float64(x)-c)*shown, (float64(y)-c)*shown
			want := m.seen[y*m.n+x] + m.fallX*row[half+1] + m.fallY*row[half+2]
			for i, p := range row {
				for j, q := range row {
					a[i][j] += p * q
				}
				a[i][terms] += p * want
			}
		}
	}
	if count < 2*terms {
		return false
	}
	s, ok := solved(a)
	if !ok {
		return false
	}
	for k := range half {
		m.kern[k/(2*spread+1)][k%(2*spread+1)] = s[k]
		back := 2*half - 2 - k
		m.kern[back/(2*spread+1)][back%(2*spread+1)] = s[k]
	}
	m.base, m.fallX, m.fallY = s[half], s[half+1], s[half+2]
	return true
}

// compare works out anew what the model does not explain.
func (m *model) compare() {
	for y := range m.n {
		for x := range m.n {
			m.left[y*m.n+x] = m.seen[y*m.n+x] - m.base - m.falls(x, y)*m.shown(x, y)
		}
	}
}

// gain is by how much less the squares of what is left would sum to if a module
// were turned.
func (m *model) gain(x, y int) float64 {
	turn := 1 - 2*m.light[y*m.n+x]
	sum := 0.0
	for dy := -spread; dy <= spread; dy++ {
		for dx := -spread; dx <= spread; dx++ {
			u, v := x+dx, y+dy
			if u < 0 || v < 0 || u >= m.n || v >= m.n {
				continue
			}
			d := turn * m.falls(u, v) * m.kern[spread-dy][spread-dx]
			sum += d * (2*m.left[v*m.n+u] - d)
		}
	}
	return sum
}

// turn turns a module.
func (m *model) turn(x, y int) {
	turn := 1 - 2*m.light[y*m.n+x]
	m.light[y*m.n+x] += turn
	for dy := -spread; dy <= spread; dy++ {
		for dx := -spread; dx <= spread; dx++ {
			if u, v := x+dx, y+dy; u >= 0 && v >= 0 && u < m.n && v < m.n {
				m.left[v*m.n+u] -= turn * m.falls(u, v) * m.kern[spread-dy][spread-dx]
			}
		}
	}
}

// seek turns modules, one or two neighbours at a time, as long as that brings the
// model nearer to what was seen.
func (m *model) seek() {
	m.compare()
	for range 6 {
		turned := false
		for y := range m.n {
			for x := range m.n {
				if m.known[y*m.n+x] {
					continue
				}
				g := m.gain(x, y)
				if g > 1e-9 {
					m.turn(x, y)
					turned = true
					continue
				}
				m.turn(x, y)
				kept := false
				for _, by := range [4][2]int{{1, 0}, {0, 1}, {1, 1}, {-1, 1}} {
					u, v := x+by[0], y+by[1]
					if u < 0 || u >= m.n || v >= m.n || m.known[v*m.n+u] {
						continue
					}
					if g+m.gain(u, v) > 1e-9 {
						m.turn(u, v)
						turned, kept = true, true
						break
					}
				}
				if !kept {
					m.turn(x, y)
				}
			}
		}
		if !turned {
			return
		}
	}
}

// restored reads the code by such a model; "" where it can't. The grid is moved
// to where the model fits best, which sharp edges are not needed for.
func (g *grid) restored() string {
	g.sample()
	g.part()
	m := &model{n: g.edge, light: make([]float64, len(g.value)), known: make([]bool, len(g.value)), left: make([]float64, len(g.value))}
	first, ok := g.equalise(g.value, g.cut)
	for i, k := range g.known {
		dark := k > 0
		if m.known[i] = k != 0; k == 0 {
			if dark = g.value[i] < g.cut[i]; ok {
				dark = first[i] > 0
			}
		}
		if !dark {
			m.light[i] = 1
		}
	}
	m.kern[spread][spread] = 1
	for round := range 4 {
		m.seen = linear(g.value)
		every := round > 0
		for range 2 { // the second time with the fall of light that the first found
			if !m.fit(every) {
				return ""
			}
		}
		m.seek()
		if text := g.text(func(i int) bool { return m.light[i] == 0 }); text != "" {
			return text
		}
		if round < 3 {
			g.follow(m)
		}
	}
	return ""
}

// follow moves the corners of the grid about until what is sampled comes nearest
// to what a model shows.
func (g *grid) follow(m *model) {
	shown := make([]float64, len(g.value))
	for y := range m.n {
		for x := range m.n {
			shown[y*m.n+x] = m.base + m.falls(x, y)*m.shown(x, y)
		}
	}
	g.move(0.4, func() float64 {
		g.sample()
		sum := 0.0
		for i, l := range linear(g.value) {
			sum -= (l - shown[i]) * (l - shown[i])
		}
		return sum
	}, func() {})
	g.sample()
}
