package rehearsal

// sceneOf lays and lights the table of e.
func sceneOf(e exposure) *scene {
	s := &scene{table: &material{albedo: plain(vec{0.5, 0.5, 0.5}, 0.1, 40)}, wall: vec{0.10, 0.09, 0.085}, clearFrom: -1}
	s.rnd = 11
	for _, c := range e.recipe {
		s.rnd = s.rnd*31 + dice(c)
	}
	s.stamp(0)
	dish := map[string]func(*scene, bool){
		"": coffee, "R01": rye, "R02": trout, "R03": beetroot, "R04": barley, "R05": potatoCakes, "R06": biscuits,
		"R07": carrots, "R08": soup, "R09": plums, "R10": cucumber, "R11": cabbage,
	}[e.recipe]
	if e.code != nil { // first, since glass comes last
		s.slate(e.code)
	}
	dish(s, e.garnish)
	if s.clearFrom < 0 {
		s.clearFrom = len(s.triangles)
	}
	s.relight()
	return s
}

func coffee(s *scene, _ bool) {
	s.table = painted(hex(0xd8d4c8), hex(0x9a7a50), 160, false)
	s.wall = hex(0xb9c6cf)
	m := glaze(hex(0x3e5a63), hex(0x9a8a6a), 0.3, 62)
	s.plate(m, 0, 0, 62)
	s.pot(glaze(hex(0x3e5a63), hex(0x9a8a6a), 0.3, 41), &material{albedo: plain(hex(0x2a1408), 0.1, 8), gloss: 1.3, rough: 0.06}, 0, 0, 40, 62, 0.8)
	s.spoon(steel(hex(0x9a9a98)), 70, -40, 70, 0.62)
}

func rye(s *scene, done bool) {
	s.table = boards(hex(0xa9713c), hex(0x5e3417), 118, 1, false)
	s.wall = hex(0x4a3d33)
	// The bread board.
	s.slab(turnedWood(hex(0xdcb888), hex(0xb98a55)), place{vec{-5, 5, 0}, yaw(8)}, 17, 0.02, 120, oblong(150, 100, 7))
	crumb, rind := hex(0x5d3a20), hex(0x2a160a)
	// The loaf's end, then slices fanned against it.
	s.lay(func() {
		out := oblong(44, 36, 2.8)
		s.turned(crust(hex(0x4a2a14), hex(0x1f0f06), 7), place{vec{-72, 30, 55}, yaw(8).after(roll(90))}, 64,
			rounded(3, [2]float64{0.3, -62}, [2]float64{0.8, -58}, [2]float64{0.98, -42}, [2]float64{1, 0}, [2]float64{0.99, 20}, [2]float64{0, 20.5}),
			func(a, r, z float64) float64 { return out(a) * (1 + 0.03*noise(a*2, z*0.06, 4)) })
	})
	for i := range 4 {
		x := -22 + 31*float64(i)
		s.breadSlice(place{vec{x, 18 - 5*float64(i), 22 + 30 - 7*float64(i)}, yaw(6 - 6*float64(i)).after(roll(62 + 7*float64(i)))}, 44, 36, 10, crumb, rind)
	}
	s.breadSlice(place{vec{20, -62, 17}, tilted(2, -3, 24)}, 45, 36, 10, crumb, rind)
	s.pot(glaze(hex(0xe6e0d2), hex(0x8a6a48), 0.4, 34), &material{albedo: plain(hex(0xf1dc97), 0.05, 9), gloss: 0.5, rough: 0.2, bump: 0.3, fine: 9, glow: 0.5}, -120, -120, 36, 40, 0.86)
	if !done {
		return
	}
	s.knife(steel(hex(0xa8a8a6)), &material{albedo: plain(hex(0x3a2413), 0.4, 14), gloss: 0.6, rough: 0.12}, 118, -95, 62)
	s.cloth(striped(hex(0xe4d9c2), hex(0x9c4a33), 26), 165, 120, 85, 95, -20, 1)
	butter := &material{albedo: plain(hex(0xf3e0a0), 0.04, 5), gloss: 0.6, rough: 0.18, bump: 0.28, fine: 6, glow: 0.5}
	s.dollop(butter, 16, -64, 17)
	s.seeds(crust(hex(0x6b4a26), hex(0x2e1c0c), 2), 16, -62, 30, 60, 2.6)
	s.seeds(crust(hex(0x6b4a26), hex(0x2e1c0c), 2), -115, -118, 26, 40, 2.4)
	s.seeds(crust(hex(0x6a4424), hex(0x2c1809), 2), 0, 0, 165, 160, 1.7)
}

func trout(s *scene, done bool) {
	s.table = slate(hex(0x3a3f44))
	s.wall = hex(0x23282c)
	// An oval plate.
	white := glaze(hex(0xe9e7e0), hex(0xb9b4a6), 0, 400)
	out := oblong(158, 96, 2.2)
	s.lay(func() {
		s.turned(white, on(0, 0, 0), 120, rounded(3, [2]float64{0.6, 0}, [2]float64{0.7, 1}, [2]float64{0.9, 7}, [2]float64{0.995, 13}, [2]float64{1, 14.4}, [2]float64{0.985, 14.8}, [2]float64{0.88, 9}, [2]float64{0.78, 5}, [2]float64{0.7, 3.8}, [2]float64{0.3, 3.4}, [2]float64{0, 3.4}),
			func(a, r, z float64) float64 { return out(a) })
	})
	s.fillet(place{vec{-6, 20, 4}, yaw(9)}, 232, 62, 17)
	s.fillet(place{vec{10, -36, 4}, yaw(-4)}, 210, 56, 16)
	cream := &material{albedo: plain(hex(0xf3efe4), 0.02, 6), gloss: 0.5, rough: 0.15, glow: 0.5, bump: 0.06, fine: 8}
	s.dollop(cream, 86, 30, 22)
	if !done {
		return
	}
	dill := &material{albedo: plain(hex(0x47702a), 0.3, 9), glow: 0.5}
	for _, d := range [][3]float64{{-70, 24, 20}, {-30, 10, -40}, {10, 30, 60}, {-20, -34, 10}, {36, -24, 140}, {60, -40, -20}, {76, 22, 100}, {-80, -20, -30}, {100, 40, 20}} {
		s.herb(dill, d[0], d[1], d[2], 42)
	}
	onion := &material{albedo: plain(hex(0xc9a0b4), 0.15, 4), gloss: 0.6, rough: 0.12, glow: 0.6}
	for range 13 {
		x, y := s.rnd.disc(84)
		y *= 0.55
		s.onionRing(onion, x, y, s.rnd.in(7, 13))
	}
	s.seeds(crust(hex(0x2c2620), hex(0x0e0b09), 2), 0, 0, 80, 60, 1.2)
	s.fork(steel(hex(0x8f8d88)), 188, -30, 84, 1)
	s.cloth(func(t vec) vec { return weave(hex(0x6f7f86), t) }, -190, -70, 78, 120, 12, 1)
	s.pot(glaze(hex(0x59656b), hex(0xb9a98c), 0.2, 32), cream, -128, 140, 34, 36, 0.8)
	s.pour(glassware{150, 140, 33, 92})
}

// onionRing is a ring of raw onion lying where it fell.
func (s *scene) onionRing(m *material, x, y, r float64) {
	z := s.rest(x, y, r) + 1.2
	tip := tilted(s.rnd.in(-14, 14), s.rnd.in(-14, 14), s.rnd.in(0, 180))
	s.lay(func() {
		s.turned(m, place{vec{x, y, z}, tip}, 36, [][2]float64{{r - 1.1, -1.4}, {r, -1.4}, {r + 0.2, 0}, {r, 1.4}, {r - 1.1, 1.4}, {r - 1.4, 0}, {r - 1.1, -1.4}}, nil)
	})
}

func beetroot(s *scene, done bool) {
	s.table = linen(hex(0xcfc1a6), 1)
	s.wall = hex(0x8b8072)
	s.bowl(glaze(hex(0x8d9094), hex(0x5d4a3a), 0.35, 112), 0, 0, 112, 56)
	cut := beet(29)
	for i := range 34 {
		dx, dy := s.rnd.disc(62)
		r := s.rnd.in(21, 30)
		z := s.rest(dx, dy, r*0.8)
		lean := 7 + 0.16*float64(i)
		s.roundSlice(cut, place{vec{dx, dy, z + 0.5}, tilted(s.rnd.in(-lean, lean), s.rnd.in(-lean, lean), s.rnd.in(0, 360))}, r, s.rnd.in(3.5, 6))
	}
	s.spoon(steel(hex(0xb1aea6)), 158, -40, 100, 1.1)
	if !done {
		return
	}
	s.cloth(striped(hex(0xe9e3d6), hex(0x455a70), 30), -165, 80, 76, 125, 18, 1.1)
	cream := &material{albedo: plain(hex(0xf4ece2), 0.02, 6), gloss: 0.5, rough: 0.15, glow: 0.5, bump: 0.06, fine: 8}
	s.dollop(cream, 12, 10, 21)
	dark := crust(hex(0x7a5a34), hex(0x3a2612), 2)
	s.seeds(dark, 0, 0, 74, 150, 2.6)
	s.seeds(dark, 130, 110, 46, 60, 2.6)
	leaf := greenLeaf(hex(0x4a7a33))
	for i := range 9 {
		dx, dy := s.rnd.disc(52)
		s.mint(leaf, dx, dy, float64(i)*77, 20)
	}
	s.pot(glaze(hex(0x70757a), hex(0x3d332b), 0.3, 27), crust(hex(0x7a5a34), hex(0x3a2612), 3), 135, 120, 28, 26, 0.8)
}

func barley(s *scene, done bool) {
	s.table = painted(hex(0x4f7896), hex(0x9a7750), 104, true)
	s.wall = hex(0x3d4c57)
	enamel := glaze(hex(0xece8dc), hex(0x23364a), 0, 140)
	s.plate(enamel, 0, 0, 140)
	grain := &material{gloss: 0.7, rough: 0.13, glow: 0.45, albedo: func(t vec) vec {
		return mix(hex(0xd9bd86), hex(0xefdfb9), 0.5+0.5*noise(t.x*0.3, t.y*0.3, t.z*0.3)).mul(1 - 0.4*step(0.7, 0.2, abs64(t.y)))
	}}
	s.heap(1500, 0, 0, 84, 3, func(at vec) {
		// Fewer towards the edge, so that a heap stands.
		s.blob(grain, place{at.add(vec{0, 0, 1.2}), tilted(s.rnd.in(-30, 30), s.rnd.in(-30, 30), s.rnd.in(0, 180))}, vec{4.4, 2.5, 2.2}, 8, 5, 0, 1)
	})
	s.heap(900, 0, 0, 55, 3, func(at vec) {
		s.blob(grain, place{at.add(vec{0, 0, 1.2}), tilted(s.rnd.in(-30, 30), s.rnd.in(-30, 30), s.rnd.in(0, 180))}, vec{4.4, 2.5, 2.2}, 8, 5, 0, 1)
	})
	leek := &material{gloss: 0.7, rough: 0.14, glow: 0.5, albedo: func(t vec) vec {
		return mix(hex(0xe6edc0), hex(0x6f9c3a), step(8, 15, t.length()))
	}}
	for range 26 {
		dx, dy := s.rnd.disc(70)
		r := s.rnd.in(9, 15)
		z := s.rest(dx, dy, r)
		tip := tilted(s.rnd.in(-18, 18), s.rnd.in(-18, 18), s.rnd.in(0, 360))
		s.lay(func() {
			for k := r; k > 2; k -= 3.2 {
				s.turned(leek, place{vec{dx, dy, z + 2.4}, tip}, 28, [][2]float64{{k - 1.6, -2.4}, {k, -2.4}, {k + 0.1, 0}, {k, 2.8}, {k - 1.2, 3.1}, {k - 1.6, 0.5}, {k - 1.6, -2.4}}, nil)
			}
		})
	}
	s.spoon(turnedWood(hex(0xc89b62), hex(0x94683a)), 172, -20, 96, 1.2)
	if !done {
		return
	}
	leaf := greenLeaf(hex(0x3f7a2c))
	for range 26 {
		dx, dy := s.rnd.disc(66)
		s.mint(leaf, dx, dy, s.rnd.in(0, 360), s.rnd.in(11, 18))
	}
	s.seeds(crust(hex(0x3a332b), hex(0x15110d), 2), 0, 0, 78, 90, 1.2)
	s.cloth(func(t vec) vec { return weave(hex(0xe6dcc6), t) }, -188, 95, 80, 110, -14, 1)
	s.pot(glaze(hex(0xe6dfcd), hex(0x2a3d52), 0, 30), &material{albedo: plain(hex(0xf0d98e), 0.04, 9), gloss: 0.8, rough: 0.12, glow: 0.5}, 150, 132, 31, 30, 0.8)
}

func abs64(v float64) float64 { return max(v, -v) }
