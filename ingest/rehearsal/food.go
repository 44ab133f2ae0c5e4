package rehearsal

import "math"

// crust is a dry baked material: pale where it is raised, dark in its cracks.
func crust(light, dark vec, size float64) *material {
	return &material{bump: 0.32, fine: size * 0.5, gloss: 0.12, rough: 0.3, albedo: func(t vec) vec {
		v := 0.5 + 0.55*clouds(t.x/size, t.y/size, t.z/size) + 0.16*noise(t.x*1.1, t.y*1.1, t.z*1.1)
		return mix(dark, light, clamp(v, 0, 1))
	}}
}

// tilted is a yaw after a tip about x and y, in degrees.
func tilted(x, y, z float64) turn { return yaw(z).after(pitch(x).after(roll(y))) }

// breadSlice is a slice of a loaf: crumb inside, crust at its edge.
func (s *scene) breadSlice(q place, a, b, thick float64, crumb, rind vec) {
	out := oblong(a, b, 2.9)
	m := &material{bump: 0.42, fine: 2.2, gloss: 0.05, rough: 0.4, albedo: func(t vec) vec {
		edge := math.Hypot(t.x, t.y) / out(math.Atan2(t.y, t.x))
		holes := step(0.38, 0.62, noise(t.x*0.32, t.y*0.42, 3)) * 0.55
		seeds := step(0.66, 0.72, noise(t.x*0.45+9, t.y*0.3, t.z*0.2))
		c := crumb.mul((1 + 0.2*noise(t.x*0.9, t.y*0.9, t.z*0.9)) * (1 - holes))
		c = mix(c, hex(0x8f7a52), 0.5*seeds)
		return mix(c, rind.mul(1+0.25*noise(t.x*0.3, t.y*0.3, t.z*0.3)), step(0.925, 0.965, edge+0.02*noise(t.x*0.2, t.y*0.2, 0)))
	}}
	s.slab(m, q, thick, 0.02, 72, out)
}

// seeds strews n seeds of the given half length over a disc.
func (s *scene) seeds(m *material, x, y, r float64, n int, long float64) {
	for range n {
		dx, dy := s.rnd.disc(r)
		px, py := x+dx, y+dy
		z := s.relief.at(px, py)
		from := len(s.triangles)
		s.blob(m, place{vec{px, py, z + 0.3*long}, tilted(s.rnd.in(-20, 20), 0, s.rnd.in(0, 180))}, vec{long, 0.34 * long, 0.34 * long}, 6, 4, 0, 1)
		s.stamp(from)
	}
}

// herb is a frond like dill's: a stem with fine branches.
func (s *scene) herb(m *material, x, y, deg, long float64) {
	z := s.relief.at(x, y) + 1
	by := yaw(deg)
	end := by.of(vec{long, 0, 0}).add(vec{x, y, 0})
	end.z = max(s.relief.at(end.x, end.y), z-6) + 3
	stem := bent(vec{x, y, z}, end, 5, s.rnd.in(-4, 4))
	s.lay(func() {
		s.tube(m, 4, 8, stem, func(v float64) (float64, float64) { return 0.75 - 0.4*v, 0.75 - 0.4*v })
		for i := range 15 {
			v := 0.18 + 0.8*float64(i)/15
			c := stem(v)
			side := 1.0
			if i%2 == 0 {
				side = -1
			}
			reach := long * (0.30 - 0.2*v) * s.rnd.in(0.8, 1.2)
			for range 4 {
				d := yaw(deg + side*s.rnd.in(20, 75)).of(vec{reach * s.rnd.in(0.5, 1), 0, s.rnd.in(-1, 4)})
				s.leaf(m, 3, bent(c, c.add(d), 1.2, 0), 0, func(w float64) float64 { return 0.62 * (1 - 0.6*w) })
			}
		}
	})
}

// mint is one leaf with a pointed end, cupped.
func (s *scene) mint(m *material, x, y, deg, long float64) {
	z := s.relief.at(x, y) + 1.5
	by := yaw(deg)
	a := vec{x, y, z}
	b := a.add(by.of(vec{long, 0, 0})).add(vec{0, 0, s.rnd.in(0, 5)})
	s.lay(func() {
		s.leaf(m, 22, bent(a, b, s.rnd.in(2, 5), s.rnd.in(-2, 2)), s.rnd.in(0.15, 0.45), func(v float64) float64 {
			return long * 0.30 * math.Pow(math.Sin(math.Pi*math.Pow(v, 0.75)), 0.8)
		})
	})
}

// greenLeaf colours a leaf with its rib and veins.
func greenLeaf(c vec) *material {
	return &material{gloss: 0.35, rough: 0.25, glow: 0.5, albedo: func(t vec) vec {
		rib := step(0.12, 0.03, math.Abs(t.x))
		veins := 0.5 + 0.5*math.Sin(26*(t.y-0.25*math.Abs(t.x)))
		return c.mul(0.85 + 0.25*veins + 0.5*rib)
	}}
}

// heap drops n things over a disc; each falls on what is there.
func (s *scene) heap(n int, x, y, r, size float64, drop func(at vec)) {
	for range n {
		dx, dy := s.rnd.disc(r)
		s.lay(func() { drop(vec{x + dx, y + dy, s.rest(x+dx, y+dy, size)}) })
	}
}

// roundSlice is a slice of a root or fruit: rings by radius over outer.
func (s *scene) roundSlice(m *material, q place, r, thick float64) {
	wob := s.rnd.in(0, 30)
	s.slab(m, q, thick, 0.03, 40, func(a float64) float64 {
		return r * (1 + 0.035*noise(math.Cos(a)*1.5+wob, math.Sin(a)*1.5, 2))
	})
}

// beet is the cut face of a beetroot.
func beet(r float64) *material {
	return &material{gloss: 0.95, rough: 0.13, bump: 0.09, fine: 5, glow: 0.4, albedo: func(t vec) vec {
		d := math.Hypot(t.x, t.y)/r + 0.03*noise2(t.x*0.2, t.y*0.2)
		rings := 0.5 + 0.5*math.Sin(d*21)
		c := mix(hex(0x6d0a2c), hex(0xa3174a), rings*0.75+0.15*noise2(t.x*0.8, t.y*0.8))
		return mix(c, hex(0x4a0820), step(0.9, 1, d))
	}}
}

// plumHalf is half a plum, its cut face up: amber flesh, a hollow for the
// stone, a purple skin.
func (s *scene) plumHalf(q place, r float64) {
	m := &material{gloss: 1, rough: 0.10, bump: 0.12, fine: 4, glow: 0.45, albedo: func(t vec) vec {
		d := math.Hypot(t.x, t.y) / r
		skin := mix(hex(0x2d1024), hex(0x5a1a35), 0.5+0.5*noise(t.x*0.08, t.y*0.08, t.z*0.1))
		inside := mix(hex(0xb4481c), hex(0xd98a2b), 0.5+0.4*noise2(t.x*0.15, t.y*0.15)+0.2*math.Sin(9*math.Atan2(t.y, t.x)))
		inside = mix(hex(0x7c2418), inside, step(0.22, 0.5, d))
		inside = mix(inside, hex(0x8d2136), step(0.72, 0.98, d))
		if t.z > 0.3*r || d < 0.8 && t.z > -0.05*r {
			return inside
		}
		return skin
	}}
	s.turned(m, q, 30, rounded(2, [2]float64{0.02 * r, -0.62 * r}, [2]float64{0.55 * r, -0.5 * r}, [2]float64{0.9 * r, -0.12 * r}, [2]float64{r, 0.2 * r}, [2]float64{0.97 * r, 0.36 * r},
		[2]float64{0.9 * r, 0.36 * r}, [2]float64{0.5 * r, 0.33 * r}, [2]float64{0.38 * r, 0.22 * r}, [2]float64{0.2 * r, 0.06 * r}, [2]float64{0, 0.03 * r}),
		func(a, rr, z float64) float64 { return 1 + 0.1*math.Cos(2*a) })
}

// fillet is a side of fish along x, thick in its back and thin at the tail.
func (s *scene) fillet(q place, long, wide, thick float64) {
	m := &material{gloss: 0.85, rough: 0.15, bump: 0.10, fine: 3.5, glow: 0.3, albedo: func(t vec) vec {
		// The flakes stand in chevrons along the middle line.
		k := t.x*0.42 - 0.30*math.Abs(t.y) + 0.8*noise2(t.x*0.08, t.y*0.1)
		line := step(0.72, 1, math.Sin(k*1.15))
		c := mix(hex(0xd9713f), hex(0xe89463), 0.5+0.5*noise2(t.x*0.06, t.y*0.1))
		c = mix(c, hex(0xf2c3a0), 0.6*line)
		c = mix(c, hex(0xb3532a), 0.6*step(2.4, 0.3, math.Abs(t.y)))
		smoke := step(0.62, 1.0, math.Abs(t.y)/(0.5*wide)) * 0.75
		return mix(c, hex(0x8a4a22), smoke)
	}}
	s.lay(func() {
		s.grid(m, 80, 26, false, func(u, v float64) (p, t vec) {
			x := long * (u - 0.5)
			half := 0.5 * wide * math.Pow(math.Sin(math.Pi*clamp(0.06+0.9*math.Pow(u, 0.8), 0, 1)), 0.55)
			w := 2*v - 1
			y := half * w
			dome := math.Pow(max(1-w*w, 0), 0.45)
			t = vec{x, y, 0}
			t.z = thick * dome * (0.35 + 0.65*half/(0.5*wide)) * (1 - 0.16*step(5, 0, math.Abs(y)))
			t.z += 0.5 * math.Sin((x*0.42-0.3*math.Abs(y))*1.15) * dome
			return q.of(t), t
		})
	})
}

// dollop is a spoonful of something like cream.
func (s *scene) dollop(m *material, x, y, r float64) {
	z := s.rest(x, y, r)
	s.lay(func() {
		s.blob(m, place{vec{x, y, z + 0.2*r}, tilted(0, 0, s.rnd.in(0, 360))}, vec{r, 0.86 * r, 0.55 * r}, 30, 18, 0.22, r*0.7)
		s.blob(m, place{vec{x + 0.2*r, y + 0.1*r, z + 0.6*r}, tilted(10, 5, s.rnd.in(0, 360))}, vec{0.55 * r, 0.5 * r, 0.34 * r}, 24, 14, 0.25, r*0.5)
	})
}

// cake is a flat fried or baked cake with an uneven edge.
func (s *scene) cake(m *material, q place, r, thick float64) {
	wob := s.rnd.in(0, 30)
	s.lay(func() {
		s.turned(m, q, 64, rounded(2, [2]float64{0.8 * r, 0}, [2]float64{0.97 * r, 0.25 * thick}, [2]float64{r, 0.55 * thick}, [2]float64{0.94 * r, 0.86 * thick}, [2]float64{0.82 * r, thick},
			[2]float64{0.6 * r, 1.02 * thick}, [2]float64{0.3 * r, 1.0 * thick}, [2]float64{0, 1.0 * thick}),
			func(a, rr, z float64) float64 {
				return 1 + 0.05*noise(math.Cos(a)*2.2+wob, math.Sin(a)*2.2, z*0.2) + 0.018*noise(math.Cos(a)*8+wob, math.Sin(a)*8, z*0.4+rr*0.1)
			})
	})
}

// carrot is a roasted carrot from a to b, thick end first.
func (s *scene) carrot(a, b vec, thick float64) {
	seed := s.rnd.in(0, 30)
	m := &material{gloss: 0.8, rough: 0.16, bump: 0.16, fine: 3, glow: 0.3, albedo: func(t vec) vec {
		ring := step(0.55, 0.9, noise2(t.y*0.6+seed, t.x*0.05))
		c := mix(hex(0xcf5a12), hex(0xe8842a), 0.5+0.4*noise(t.x*0.2, t.y*0.12, seed))
		c = mix(c, hex(0x8a3208), 0.55*ring)
		char := step(0.25, 0.75, noise(t.x*0.09+seed, t.y*0.07, t.z*0.1)) * step(-2, 5, t.z)
		return mix(c, hex(0x3a1606), 0.75*char)
	}}
	path := bent(a, b, 0, s.rnd.in(-9, 9))
	s.lay(func() {
		s.tube(m, 18, 30, path, func(v float64) (float64, float64) {
			k := thick * (1 - 0.72*math.Pow(v, 1.2)) * (1 + 0.05*noise2(v*9, seed)) * math.Sqrt(clamp(v*22+0.04, 0, 1)) * math.Sqrt(clamp((1-v)*14, 0.02, 1))
			return k, k
		})
	})
}
