package rehearsal

import "math"

// lay runs make and lets what it made carry and shade what comes after.
func (s *scene) lay(make func()) {
	from := len(s.triangles)
	make()
	s.stamp(from)
}

// plate is a flat plate of radius r.
func (s *scene) plate(m *material, x, y, r float64) {
	s.lay(func() {
		s.revolve(m, on(x, y, 0), 96, rounded(3, [2]float64{0.56 * r, 0}, [2]float64{0.62 * r, 1}, [2]float64{0.86 * r, 7}, [2]float64{r - 0.5, 14},
			[2]float64{r, 15.2}, [2]float64{r - 1.6, 15.8}, [2]float64{0.86 * r, 10}, [2]float64{0.72 * r, 5.4}, [2]float64{0.62 * r, 4}, [2]float64{0.3 * r, 3.6}, [2]float64{0, 3.6}))
	})
}

// bowl is a bowl of radius r and height h.
func (s *scene) bowl(m *material, x, y, r, h float64) {
	s.lay(func() {
		s.revolve(m, on(x, y, 0), 96, rounded(3, [2]float64{0.42 * r, 0}, [2]float64{0.46 * r, 2}, [2]float64{0.7 * r, 0.22 * h}, [2]float64{0.91 * r, 0.6 * h}, [2]float64{r - 0.4, h - 1},
			[2]float64{r, h + 0.4}, [2]float64{r - 2.6, h + 0.4}, [2]float64{0.88 * r, 0.62 * h}, [2]float64{0.66 * r, 0.27 * h}, [2]float64{0.4 * r, 0.12 * h}, [2]float64{0, 0.1 * h}))
	})
}

// slab is a thick flat thing of the given outline, with rounded edges: out
// gives the radius by angle.
func (s *scene) slab(m *material, q place, thick, soft float64, nu int, out func(angle float64) float64) {
	s.lay(func() {
		s.turned(m, q, nu, [][2]float64{{0.86, 0}, {0.95, 0.06 * thick}, {0.995, 0.25 * thick}, {1, 0.5 * thick}, {0.995, 0.78 * thick},
			{1 - 0.4*soft, 0.93 * thick}, {1 - soft, thick}, {0.8 - soft, thick}, {0.55, thick}, {0.3, thick}, {0, thick}},
			func(a, r, z float64) float64 { return out(a) })
	})
}

// oblong is the outline of a rounded rectangle of half sides a, b.
func oblong(a, b, power float64) func(float64) float64 {
	return func(t float64) float64 {
		s, c := math.Sincos(t)
		return math.Pow(math.Pow(math.Abs(c)/a, power)+math.Pow(math.Abs(s)/b, power), -1/power)
	}
}

// cloth is a napkin of half sides a, b, with folds and a free edge.
func (s *scene) cloth(albedo func(vec) vec, x, y, a, b, deg, folds float64) {
	seed := s.rnd.in(0, 20)
	by := yaw(deg)
	m := &material{albedo: albedo, bump: 0.05, fine: 5}
	s.lay(func() {
		s.grid(m, 70, 50, false, func(u, v float64) (p, t vec) {
			t = vec{a * (2*u - 1), b * (2*v - 1), 0}
			ridge := func(k float64) float64 {
				f := noise2(t.x*0.010*k+seed, t.y*0.018*k+seed)
				return 1 - math.Abs(f)*2
			}
			z := 1.2 + folds*(7*max(ridge(1), 0)*max(ridge(1), 0)+2.4*max(ridge(2.3), 0))
			edge := min(1-math.Abs(2*u-1), 1-math.Abs(2*v-1))
			z *= 0.25 + 0.75*step(0, 0.2, edge)
			w := vec{t.x + 5*noise2(t.y*0.02, seed), t.y + 5*noise2(t.x*0.02, seed+9), 0}
			p = by.of(w).add(vec{x, y, 0})
			p.z = z
			if s.relief.at(p.x, p.y) > 3 {
				p.z = -4 // under what stands there
			}
			return p, t
		})
	})
}

// bent is a path from a to b that sags or rises by up mm in its middle.
func bent(a, b vec, up, side float64) func(float64) vec {
	d := b.sub(a)
	across := vec{-d.y, d.x, 0}.unit()
	return func(v float64) vec {
		k := 4 * v * (1 - v)
		return mix(a, b, v).add(across.mul(side * k)).add(vec{0, 0, up * k})
	}
}

// spoon lies at x, y, its bowl in the direction deg.
func (s *scene) spoon(m *material, x, y, deg, size float64) {
	by := yaw(deg)
	z := 1.0
	s.lay(func() {
		tip := func(v float64) vec {
			h := z + size*(1.2+5*v*v)
			return by.of(vec{-size * (10 + 130*v), 0, 0}).add(vec{x, y, h})
		}
		s.tube(m, 8, 24, tip, func(v float64) (float64, float64) {
			return size * (2.4 + 3.4*step(0.45, 1, v) - 2*step(0.97, 1, v)), size * 1.1
		})
		// The bowl of the spoon: outside, rim, inside.
		s.turned(m, place{vec{x, y, z}.add(by.of(vec{8 * size, 0, 0})), by}, 32,
			rounded(2, [2]float64{0, 0}, [2]float64{0.6, 1}, [2]float64{0.95, 5}, [2]float64{1, 6.4}, [2]float64{0.94, 6.2}, [2]float64{0.6, 2.4}, [2]float64{0, 1.3}),
			func(a, r, z float64) float64 {
				sn, cs := math.Sincos(a)
				return size / math.Sqrt(cs*cs/(27*27)+sn*sn/(17*17))
			})
	})
}

// fork lies at x, y with its prongs in the direction deg.
func (s *scene) fork(m *material, x, y, deg, size float64) {
	by := yaw(deg)
	at := func(a, b, h float64) vec { return by.of(vec{a * size, b * size, 0}).add(vec{x, y, 1.5 + h*size}) }
	s.lay(func() {
		s.tube(m, 8, 24, func(v float64) vec { return at(-130*v, 0, 1.5+5*v*v) }, func(v float64) (float64, float64) {
			return size * (2.3 + 3.6*step(0.4, 1, v) - 2*step(0.97, 1, v)), size * 1.2
		})
		s.tube(m, 10, 8, func(v float64) vec { return at(-2+24*v, 0, 1.5-1*v) }, func(v float64) (float64, float64) {
			return size * (2.3 + 8.5*step(0, 0.7, v)), size * 1.1
		})
		for i := range 4 {
			b := 5.3 * (float64(i) - 1.5)
			s.tube(m, 6, 10, func(v float64) vec { return at(20+46*v, b, 0.6+4*v*v) }, func(v float64) (float64, float64) {
				return size * (1.5 - 0.8*v*v), size * 0.9
			})
		}
	})
}

// knife lies at x, y, its point in the direction deg.
func (s *scene) knife(blade, handle *material, x, y, deg float64) {
	by := yaw(deg)
	z := s.relief.at(x, y) + 2
	at := func(a, b float64) vec { return by.of(vec{a, b, 0}).add(vec{x, y, z}) }
	s.lay(func() {
		s.tube(blade, 8, 30, func(v float64) vec { return at(110*v, -4*v*v) }, func(v float64) (float64, float64) {
			return 9.5 * math.Sqrt(max(1-v*v*v*v, 0.001)), 0.9
		})
		s.tube(handle, 12, 20, func(v float64) vec { return at(-95*v, 0).add(vec{0, 0, 3}) }, func(v float64) (float64, float64) {
			return 7 + 1.8*math.Sin(v*7) - 5*step(0.95, 1, v), 5.5 - 4*step(0.95, 1, v)
		})
	})
}

// pot is a small round vessel filled with what fill is.
func (s *scene) pot(m, fill *material, x, y, r, h, level float64) {
	s.lay(func() {
		s.revolve(m, on(x, y, 0), 56, rounded(3, [2]float64{0.8 * r, 0}, [2]float64{0.98 * r, 4}, [2]float64{1.04 * r, 0.5 * h}, [2]float64{0.96 * r, h - 2}, [2]float64{0.98 * r, h},
			[2]float64{0.92 * r, h}, [2]float64{0.9 * r, 0.6 * h}, [2]float64{0.86 * r, 0.2 * h}, [2]float64{0, 0.18 * h}))
	})
	s.surface(fill, x, y, 0.9*r, level*h, 1.2)
}

// surface is a level of something thick in a vessel, wavy by the given mm.
func (s *scene) surface(m *material, x, y, r, z, wave float64) {
	seed := s.rnd.in(0, 20)
	s.lay(func() {
		var profile [][2]float64
		for i := 20; i >= 0; i-- {
			profile = append(profile, [2]float64{r * float64(i) / 20, 0})
		}
		n := len(profile) - 1
		s.grid(m, 64, n, true, func(u, v float64) (p, t vec) {
			k := profile[int(math.Round(v*float64(n)))]
			sin, cos := math.Sincos(2 * math.Pi * u)
			if u == 1 {
				sin, cos = 0, 1
			}
			t = vec{k[0] * cos, k[0] * sin, 0}
			lip := 1.2 * step(0.94*r, r, k[0])
			t.z = wave*clouds(t.x*0.05+seed, t.y*0.05, seed) + lip
			return vec{x, y, z}.add(t), t
		})
	})
}

// glassware is a tumbler of radius r and height h, drawn last.
type glassware struct{ x, y, r, h float64 }

// pour adds clear things at the end of a scene.
func (s *scene) pour(glasses ...glassware) {
	s.clearFrom = len(s.triangles)
	m := &material{albedo: plain(vec{0.93, 0.97, 0.96}, 0, 1), clear: 0.96, gloss: 1.6, rough: 0.05}
	for _, g := range glasses {
		s.revolve(m, on(g.x, g.y, 0), 64, rounded(4, [2]float64{0, 0.5}, [2]float64{0.8 * g.r, 0.5}, [2]float64{0.86 * g.r, 4}, [2]float64{0.93 * g.r, 0.5 * g.h}, [2]float64{g.r, g.h},
			[2]float64{g.r - 1.5, g.h}, [2]float64{0.9 * g.r, 0.5 * g.h}, [2]float64{0.8 * g.r, 8}, [2]float64{0, 7}))
	}
}
