package rehearsal

import "math"

// golden is the crust of the two dishes that were given one palette.
func golden() *material {
	return &material{bump: 0.38, fine: 3, gloss: 0.4, rough: 0.2, glow: 0.2, albedo: func(t vec) vec {
		v := 0.55 + 0.6*clouds(t.x*0.11, t.y*0.11, t.z*0.11) + 0.2*noise(t.x*0.8, t.y*0.8, t.z*0.8)
		return mix(hex(0x7a3f12), hex(0xd49a48), clamp(v, 0, 1))
	}}
}

// honeyWood is the table of both.
func honeyWood(width float64, across bool) *material {
	return boards(hex(0xd9a763), hex(0xa3713a), width, 0.8, across)
}

func potatoCakes(s *scene, done bool) {
	s.table = honeyWood(150, false)
	s.wall = hex(0x6a5238)
	s.plate(glaze(hex(0xb9803c), hex(0x6a4218), 0.2, 132), 0, 0, 132)
	m := golden()
	for i, c := range [][2]float64{{-48, 30}, {40, 44}, {48, -34}, {-34, -48}, {2, 2}, {-26, 16}, {28, 12}} {
		z := s.rest(c[0], c[1], 38)
		if i < 4 {
			z = 4
		}
		s.cake(m, place{vec{c[0], c[1], z}, tilted(s.rnd.in(-6, 6), s.rnd.in(-6, 6), s.rnd.in(0, 360))}, s.rnd.in(38, 43), 15)
	}
	if !done {
		return
	}
	butter := &material{albedo: plain(hex(0x8a4f16), 0.2, 8), gloss: 1.3, rough: 0.08, glow: 0.3}
	s.pot(glaze(hex(0xa87434), hex(0x5e3a14), 0.2, 30), butter, 138, 118, 31, 48, 0.75)
	chive := &material{albedo: plain(hex(0x6f7a2c), 0.2, 4), gloss: 0.4, rough: 0.2, glow: 0.4}
	for range 46 {
		dx, dy := s.rnd.disc(64)
		at := vec{dx, dy, s.relief.at(dx, dy) + 1}
		b := at.add(yaw(s.rnd.in(0, 360)).of(vec{s.rnd.in(5, 12), 0, 0}))
		s.tube(chive, 6, 3, bent(at, b, 0.5, 0), func(float64) (float64, float64) { return 1.1, 1.1 })
	}
	s.seeds(crust(hex(0x5a3a1a), hex(0x2a1808), 2), 0, 0, 90, 60, 1.1)
	s.fork(steel(hex(0xb39a72)), -166, 20, 92, 1)
	s.cloth(func(t vec) vec { return weave(hex(0xd9bd8a), t) }, 175, -110, 80, 105, 24, 1)
}

func biscuits(s *scene, done bool) {
	s.table = honeyWood(122, true)
	s.wall = hex(0x6a5238)
	s.plate(glaze(hex(0xb27a38), hex(0x6a4218), 0.2, 122), 0, 0, 122)
	m := golden()
	for i, c := range [][2]float64{{-52, 26}, {8, 56}, {54, 8}, {24, -50}, {-40, -42}, {-4, 6}, {20, 26}, {-22, -8}, {150, -96}} {
		z := s.rest(c[0], c[1], 30)
		if i < 5 {
			z = 4
		}
		s.cake(m, place{vec{c[0], c[1], z}, tilted(s.rnd.in(-8, 8), s.rnd.in(-8, 8), s.rnd.in(0, 360))}, s.rnd.in(31, 36), 11)
	}
	if !done {
		return
	}
	oat := &material{albedo: plain(hex(0xe0bd7d), 0.15, 3), bump: 0.1, fine: 2, glow: 0.3}
	for range 170 {
		dx, dy := s.rnd.disc(84)
		if s.rnd.unit() < 0.25 {
			dx, dy = dx*1.9, dy*1.9
		}
		s.lay(func() {
			s.blob(oat, place{vec{dx, dy, s.relief.at(dx, dy) + 0.8}, tilted(s.rnd.in(-25, 25), s.rnd.in(-25, 25), s.rnd.in(0, 360))}, vec{4.4, 3, 0.8}, 9, 5, 0.2, 2)
		})
	}
	honey := &material{albedo: plain(hex(0xa85c12), 0.12, 14), gloss: 1.4, rough: 0.06, glow: 0.5}
	s.pot(glaze(hex(0xc08a44), hex(0x6a4218), 0.2, 36), honey, -132, 122, 36, 52, 0.8)
	s.spoon(turnedWood(hex(0xcf9f5e), hex(0x97683a)), 160, 40, 84, 1)
	s.cloth(func(t vec) vec { return weave(hex(0xd7b883), t) }, -178, -100, 78, 110, -16, 1)
}

func carrots(s *scene, done bool) {
	s.table = painted(hex(0x2f4a3a), hex(0x8a6a44), 132, false)
	s.wall = hex(0x1f2c26)
	out := oblong(172, 88, 3.2)
	s.lay(func() {
		s.turned(glaze(hex(0xeeebe2), hex(0xc9c2b0), 0, 400), on(0, 0, 0), 128, rounded(3, [2]float64{0.7, 0}, [2]float64{0.78, 1}, [2]float64{0.93, 8}, [2]float64{0.995, 15}, [2]float64{1, 16.4}, [2]float64{0.985, 16.8}, [2]float64{0.92, 10}, [2]float64{0.85, 5}, [2]float64{0.78, 4}, [2]float64{0.4, 3.6}, [2]float64{0, 3.6}),
			func(a, r, z float64) float64 { return out(a) })
	})
	top := &material{albedo: plain(hex(0x5f7a34), 0.25, 6), glow: 0.4}
	for i := range 14 {
		y := -50 + 100*float64(i%9)/8 + s.rnd.in(-5, 5)
		x := s.rnd.in(-14, 14)
		thick := s.rnd.in(8, 12)
		z := s.rest(0, y, 18) + thick*0.8
		dy := s.rnd.in(-26, 26)
		a, b := vec{-92 + x, y + dy*0.4, z}, vec{s.rnd.in(84, 112) + x, y - dy*0.5, max(z-thick*0.5, 6)}
		if i%3 == 1 {
			a.x, b.x = -a.x, -b.x
		}
		s.carrot(a, b, thick)
		dir := a.sub(b).unit()
		for range 3 {
			e := a.add(dir.mul(s.rnd.in(14, 26))).add(vec{0, s.rnd.in(-6, 6), s.rnd.in(0, 5)})
			s.lay(func() {
				s.tube(top, 5, 5, bent(a, e, 2, s.rnd.in(-2, 2)), func(v float64) (float64, float64) { return 1.5 - 0.8*v, 1.5 - 0.8*v })
			})
		}
	}
	if !done {
		return
	}
	berry := &material{albedo: plain(hex(0xf0951c), 0.15, 3), gloss: 1.2, rough: 0.08, glow: 0.5}
	s.heap(90, 0, 0, 74, 4, func(at vec) {
		s.blob(berry, on(at.x*1.35, at.y*0.75, s.relief.at(at.x*1.35, at.y*0.75)+3), vec{3.8, 3.6, 4}, 12, 8, 0.05, 3)
	})
	leaf := greenLeaf(hex(0x4f7f35))
	for range 34 {
		dx, dy := s.rnd.disc(80)
		s.mint(leaf, dx*1.4, dy*0.65, s.rnd.in(0, 360), s.rnd.in(9, 17))
	}
	s.fork(&material{albedo: plain(hex(0x3a3a3a), 0.2, 6), gloss: 1.1, rough: 0.2}, 150, -132, 12, 1.05)
	s.cloth(func(t vec) vec { return weave(hex(0xc7b491), t) }, -170, 122, 110, 60, 6, 1)
	s.pot(glaze(hex(0xe8e4d8), hex(0x99835a), 0.3, 28), berry, 140, 130, 30, 30, 0.75)
}

func soup(s *scene, done bool) {
	s.table = painted(hex(0xe3e2dc), hex(0xa58a62), 112, true)
	s.wall = hex(0xc9ccca)
	s.bowl(glaze(hex(0xf2f1ec), hex(0xcfcabd), 0, 108), 0, 0, 108, 58)
	green := &material{gloss: 0.75, rough: 0.11, glow: 0.4, bump: 0.05, fine: 9, albedo: func(t vec) vec {
		c := mix(hex(0x6f9a2a), hex(0x95b843), 0.5+0.5*clouds(t.x*0.05, t.y*0.05, 3))
		c = c.mul(1 + 0.16*noise2(t.x*0.7, t.y*0.7))
		if !done {
			return c
		}
		// A swirl of cream, drawn with a spoon.
		r, a := math.Hypot(t.x+8, t.y-4), math.Atan2(t.y-4, t.x+8)
		k := math.Abs(math.Mod(r-a*17/math.Pi/2+3*noise2(t.x*0.05, t.y*0.05)+170, 17) - 8.5)
		cream := step(3.6, 1.6, k+1.3*noise2(t.x*0.12, t.y*0.12)) * step(58, 44, r) * step(4, 9, r)
		return mix(c, hex(0xf2efdf), cream)
	}}
	s.surface(green, 0, 0, 93, 39, 0.8)
	s.spoon(steel(hex(0xb9bcbe)), 150, -46, 96, 1.15)
	if !done {
		return
	}
	leaf := greenLeaf(hex(0x2f6a2a))
	for i := range 8 {
		s.mint(leaf, 6+8*math.Cos(float64(i)*0.9), 2+8*math.Sin(float64(i)*0.9), float64(i)*51, s.rnd.in(20, 30))
	}
	pea := &material{albedo: plain(hex(0x7fae35), 0.1, 4), gloss: 0.8, rough: 0.12, glow: 0.4}
	for range 22 {
		dx, dy := s.rnd.disc(62)
		s.lay(func() { s.blob(pea, on(dx, dy, s.relief.at(dx, dy)+1.5), vec{4.2, 4.2, 4}, 16, 10, 0.03, 3) })
	}
	s.seeds(crust(hex(0x33302a), hex(0x11100e), 2), 0, 0, 70, 60, 1)
	s.cloth(func(t vec) vec { return weave(hex(0xefece4), t) }, -168, 70, 80, 125, 10, 1.1)
	for _, c := range [][2]float64{{150, 112}, {128, 128}, {164, 138}, {142, 146}, {118, 108}} {
		s.pod(pea, c[0], c[1], s.rnd.in(0, 180))
	}
}

// pod is a pea pod, closed.
func (s *scene) pod(m *material, x, y, deg float64) {
	by := yaw(deg)
	z := s.rest(x, y, 14) + 6
	s.lay(func() {
		s.tube(m, 14, 24, func(v float64) vec {
			return by.of(vec{74 * (v - 0.5), 9 * math.Sin(math.Pi*v), 0}).add(vec{x, y, z})
		}, func(v float64) (float64, float64) {
			k := math.Pow(max(math.Sin(math.Pi*clamp(v, 0.012, 0.985)), 0.01), 0.6) * (1 + 0.07*math.Sin(v*40))
			return 8 * k, 6 * k
		})
	})
}

func plums(s *scene, done bool) {
	s.table = linen(hex(0x9a4a2c), 1.1)
	s.wall = hex(0x4a241a)
	s.bowl(glaze(hex(0x8d9094), hex(0x5d4a3a), 0.35, 112), 0, 0, 112, 56)
	syrup := &material{albedo: plain(hex(0x4a1220), 0.2, 20), gloss: 1.3, rough: 0.06, glow: 0.3}
	s.surface(syrup, 0, 0, 76, 17, 0.5)
	for i := range 13 {
		// Two rings and one in the middle: a fall by chance makes towers.
		k := float64(i)
		sn, cs := math.Sincos(k * 0.698)
		dx, dy := 58*cs, 58*sn
		if i >= 9 {
			sn, cs = math.Sincos(k*1.571 + 0.4)
			dx, dy = 22*cs, 22*sn
		}
		dx, dy = dx+s.rnd.in(-4, 4), dy+s.rnd.in(-4, 4)
		r := s.rnd.in(21, 25)
		s.lay(func() {
			s.plumHalf(place{vec{dx, dy, min(s.rest(dx, dy, r*0.6), 30) + 0.42*r}, tilted(s.rnd.in(-24, 24), s.rnd.in(-24, 24), s.rnd.in(0, 360))}, r)
		})
	}
	if !done {
		return
	}
	almond := crust(hex(0xead2a2), hex(0xb98a50), 5)
	for range 44 {
		dx, dy := s.rnd.disc(66)
		s.lay(func() {
			s.blob(almond, place{vec{dx, dy, s.relief.at(dx, dy) + 1.2}, tilted(s.rnd.in(-30, 30), s.rnd.in(-30, 30), s.rnd.in(0, 360))}, vec{6.5, 4, 0.9}, 12, 5, 0.1, 3)
		})
	}
	s.spoon(steel(hex(0xc2bcae)), 156, -30, 88, 1.1)
	skin := &material{gloss: 0.5, rough: 0.2, albedo: func(t vec) vec {
		bloom := step(-0.3, 0.6, clouds(t.x*0.05, t.y*0.05, t.z*0.05))
		return mix(hex(0x2a0f26), hex(0x6a5570), 0.55*bloom)
	}}
	for _, c := range [][2]float64{{-150, 118}, {-128, 152}, {-176, 150}, {150, 128}} {
		s.lay(func() {
			s.blob(skin, place{vec{c[0], c[1], 22}, tilted(20, 10, s.rnd.in(0, 360))}, vec{25, 23, 22}, 36, 22, 0.03, 20)
		})
	}
	leaf := greenLeaf(hex(0x56703a))
	s.mint(leaf, -118, 128, 40, 46)
	s.mint(leaf, 124, 132, 150, 40)
	s.cloth(func(t vec) vec { return weave(hex(0xb8a08a), t) }, -172, -96, 74, 112, 14, 1)
}

func cucumber(s *scene, done bool) {
	s.table = zinc(hex(0x8e979c))
	s.wall = hex(0x7d868a)
	s.plate(glaze(hex(0xcfdcd6), hex(0x93aaa0), 0, 118), 0, 0, 118)
	m := &material{gloss: 0.9, rough: 0.10, glow: 0.5, bump: 0.06, fine: 4, albedo: func(t vec) vec {
		r, a := math.Hypot(t.x, t.y)/20, math.Atan2(t.y, t.x)
		c := mix(hex(0xd4e2a8), hex(0xb4cf86), step(0.4, 0.85, r))
		lobe := 0.5 + 0.5*math.Cos(3*a)
		c = mix(c, hex(0xe4ecc4), 0.7*lobe*step(0.62, 0.3, r))
		seed := step(0.6, 0.8, math.Cos(15*a)) * step(0.2, 0.3, r) * step(0.58, 0.48, r)
		c = mix(c, hex(0xf1f2d6), 0.8*seed)
		return mix(c, hex(0x2f5a26), step(0.91, 0.97, r))
	}}
	for i := range 76 {
		dx, dy := s.rnd.disc(74)
		z := s.rest(dx, dy, 16)
		lean := 8 + 0.2*float64(i)
		s.slab(m, place{vec{dx, dy, z}, tilted(s.rnd.in(-lean, lean), s.rnd.in(-lean, lean), s.rnd.in(0, 360))}, s.rnd.in(2, 3), 0.02, 36, func(float64) float64 { return 20 })
	}
	if !done {
		return
	}
	mustard := &material{albedo: plain(hex(0xc99a34), 0.2, 2), gloss: 0.5, rough: 0.2}
	for range 190 {
		dx, dy := s.rnd.disc(84)
		s.lay(func() { s.blob(mustard, on(dx, dy, s.relief.at(dx, dy)+0.9), vec{1.7, 1.7, 1.7}, 8, 6, 0, 1) })
	}
	dill := &material{albedo: plain(hex(0x4c7a30), 0.3, 9), glow: 0.5}
	for range 9 {
		dx, dy := s.rnd.disc(52)
		s.herb(dill, dx, dy, s.rnd.in(0, 360), 36)
	}
	s.fork(turnedWood(hex(0xd0aa70), hex(0x9a7040)), 150, -30, 80, 1.2)
	s.cloth(func(t vec) vec { return weave(hex(0xdfe3df), t) }, -160, 80, 74, 110, 8, 1)
	s.pour(glassware{138, 128, 34, 84})
}

func cabbage(s *scene, done bool) {
	s.table = linen(hex(0xc99a2e), 1.2)
	s.wall = hex(0x6a4f1c)
	iron := &material{albedo: plain(hex(0x1c1b1b), 0.2, 9), gloss: 0.7, rough: 0.26, bump: 0.08, fine: 2.5}
	s.lay(func() {
		s.revolve(iron, on(0, 0, 0), 96, rounded(3, [2]float64{100, 0}, [2]float64{108, 3}, [2]float64{122, 40}, [2]float64{124, 43}, [2]float64{121, 43}, [2]float64{106, 8}, [2]float64{98, 5}, [2]float64{40, 4.5}, [2]float64{0, 4.5}))
	})
	s.lay(func() {
		s.tube(iron, 14, 24, func(v float64) vec { return vec{105 + 150*v, -70 - 98*v, 34 + 8*v} }, func(v float64) (float64, float64) {
			return 12 - 3*v + 4*step(0.85, 1, v), 5.5
		})
	})
	shred := &material{gloss: 0.8, rough: 0.14, glow: 0.4, albedo: func(t vec) vec {
		c := mix(hex(0x5a1748), hex(0x8f3274), 0.5+0.5*noise2(t.y*9, t.z*0.1))
		return mix(c, hex(0xd3a8c8), step(0.55, 1, abs64(t.x))*0.7)
	}}
	for range 520 {
		dx, dy := s.rnd.disc(86)
		z := s.rest(dx, dy, 10) + 1
		d := yaw(s.rnd.in(0, 360)).of(vec{s.rnd.in(16, 34), 0, 0})
		a := vec{dx - d.x/2, dy - d.y/2, z + s.rnd.in(-1, 4)}
		b := vec{dx + d.x/2, dy + d.y/2, z + s.rnd.in(-1, 4)}
		s.lay(func() {
			s.leaf(shred, 7, bent(a, b, s.rnd.in(-1, 5), s.rnd.in(-9, 9)), s.rnd.in(0.2, 0.7), func(v float64) float64 { return 2.6 })
		})
	}
	apple := &material{gloss: 0.7, rough: 0.13, glow: 0.45, albedo: func(t vec) vec {
		r := math.Hypot(t.x, t.y) / 26
		return mix(mix(hex(0xf0dfae), hex(0xe4c88a), 0.5+0.5*noise2(t.x*0.2, t.y*0.2)), hex(0xa82a22), step(0.9, 0.96, r))
	}}
	for range 15 {
		dx, dy := s.rnd.disc(72)
		z := s.rest(dx, dy, 18)
		s.slab(apple, place{vec{dx, dy, z + 2}, tilted(s.rnd.in(-28, 28), s.rnd.in(-28, 28), s.rnd.in(0, 360))}, 4, 0.03, 40, func(a float64) float64 {
			return 26 / max(1, 1+2.6*max(0, -math.Sin(a)))
		})
	}
	if !done {
		return
	}
	s.cloth(checked(hex(0xf0e8d6), hex(0x8a2f3a), 17), 170, 110, 80, 100, 22, 1.1)
	leaf := greenLeaf(hex(0x4a7434))
	for range 22 {
		dx, dy := s.rnd.disc(74)
		s.mint(leaf, dx, dy, s.rnd.in(0, 360), s.rnd.in(9, 15))
	}
	s.seeds(crust(hex(0x4a2c18), hex(0x20120a), 2), 0, 0, 84, 80, 2.4)
	s.fork(steel(hex(0xa6a29a)), -168, 10, 92, 1)
	skin := &material{gloss: 0.9, rough: 0.12, albedo: func(t vec) vec {
		return mix(hex(0xa3201f), hex(0xd9a63c), step(0.1, 0.8, noise(t.x*0.04, t.y*0.04, t.z*0.05))*0.8)
	}}
	s.lay(func() {
		s.turned(skin, on(-148, 138, 0), 48, rounded(4, [2]float64{8, 2}, [2]float64{22, 0}, [2]float64{38, 24}, [2]float64{36, 50}, [2]float64{22, 62}, [2]float64{7, 58}, [2]float64{0, 51}), nil)
	})
}
