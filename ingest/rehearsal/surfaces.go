package rehearsal

import "math"

// plain is one colour, a little uneven.
func plain(c vec, uneven, size float64) func(vec) vec {
	return func(t vec) vec {
		return c.mul(1 + uneven*clouds(t.x/size, t.y/size, t.z/size))
	}
}

// boards is a table of planks that run along x, or along y where across is
// set: grain, rings, gaps, and a tone of its own for each plank.
func boards(light, dark vec, width, contrast float64, across bool) *material {
	return &material{gloss: 0.22, rough: 0.34, albedo: func(t vec) vec {
		x, y := t.x, t.y
		if across {
			x, y = y, -x
		}
		x, y = x+900, y+905
		k := math.Floor(y / width)
		in := y - k*width
		own := noise2(k*3.7, 1.3)
		x += own * 531
		warp := 3.2 * noise2(x*0.006, y*0.035+k*7)
		rings := math.Sin((in*0.32 + 6*own + warp*2.2) * 1.7)
		fibre := noise2(x*0.03+k*9, y*1.15) + 0.6*noise2(x*0.09, y*2.6+k*5)
		pores := step(0.45, 0.8, noise2(x*0.05+k*3, y*2.1+40))
		v := 0.5 + contrast*(0.22*rings+0.26*fibre) + 0.22*own
		c := mix(dark, light, clamp(v, 0, 1)).mul(1 - 0.22*contrast*pores)
		// A knot here and there.
		kx := math.Floor(x / 310)
		cx, cy := 310*(kx+0.5+0.35*noise2(kx*5.1, k*2.3)), width*(0.5+0.25*noise2(kx*2.2, k*4.4))
		if noise2(kx*3.3, k*6.1) > 0.25 {
			d := math.Hypot((x-cx)*0.6, in-cy)
			c = c.mul(1 - 0.62*contrast*step(9, 2, d+2*noise2(x*0.2, y*0.2)))
		}
		gap := min(in, width-in)
		return c.mul(0.16 + 0.84*step(0.1, 1.5, gap+0.4*noise2(x*0.02, k)))
	}}
}

// painted is planks under old paint: brush strokes, and bare wood where hands
// and knives have been.
func painted(paint, bare vec, width float64, across bool) *material {
	wood := boards(bare, bare.mul(0.45), width, 1, across)
	return &material{gloss: 0.35, rough: 0.26, albedo: func(t vec) vec {
		x, y := t.x, t.y
		if across {
			x, y = y, -x
		}
		in := math.Mod(y+905, width)
		gap := min(in, width-in)
		own := noise2(math.Floor((y+905)/width)*2.9, 4)
		strokes := 0.07*noise2(x*0.01, y*0.8) + 0.06*noise2(x*0.03+9, y*1.9) + 0.09*own + 0.05*noise2(x*0.02, y*0.02)
		c := paint.mul(1 + strokes)
		worn := noise2(x*0.012+3, y*0.05) + 0.7*noise2(x*0.05, y*0.22) + 0.5*noise2(x*0.2, y*0.6) - 0.06*gap
		c = mix(c, wood.albedo(t), step(0.72, 0.98, worn))
		return c.mul(0.25 + 0.75*step(0.2, 1.6, gap))
	}}
}

// slate is split stone: low relief of layers, pale scratches.
func slate(c vec) *material {
	return &material{gloss: 0.35, rough: 0.32, bump: 0.10, fine: 7, albedo: func(t vec) vec {
		v := 0.75 + 0.28*clouds(t.x*0.012, t.y*0.02, 1) + 0.20*noise2(t.x*0.09, t.y*0.13) + 0.16*noise2(t.x*0.55, t.y*0.6)
		layer := clouds(t.x*0.006+5, t.y*0.011, 7)
		edge := step(0.035, 0, math.Abs(math.Mod(layer*3+9, 1)-0.5))
		scratch := step(0.93, 0.99, noise2(t.x*0.03+t.y*0.05, t.y*0.9-t.x*0.5))
		return c.mul(v * (1 - 0.3*edge)).add(vec{0.05, 0.055, 0.06}.mul(scratch))
	}}
}

// linen is woven cloth over the whole table, with folds.
func linen(c vec, folds float64) *material {
	return &material{bump: 0.13 * folds, fine: 34, albedo: func(t vec) vec { return weave(c, t) }}
}

// weave is threads of uneven thickness both ways.
func weave(c vec, t vec) vec {
	warp := noise2(t.x*1.25, t.y*0.045+3)
	weft := noise2(t.x*0.045+7, t.y*1.25)
	knots := noise2(t.x*0.9+2, t.y*0.9)
	v := 1 + 0.15*warp + 0.15*weft + 0.09*knots + 0.05*noise2(t.x*0.02, t.y*0.02)
	return c.mul(v)
}

// checked is cloth of two yarns.
func checked(a, b vec, size float64) func(vec) vec {
	return func(t vec) vec {
		on := func(v float64) float64 {
			f := math.Abs(math.Mod(v/size+1000, 1) - 0.5)
			return step(0.24, 0.26, f)
		}
		c := mix(a, b, 0.5*on(t.x)+0.5*on(t.y))
		return weave(c, t)
	}
}

// striped is cloth with stripes along its long side.
func striped(a, b vec, size float64) func(vec) vec {
	return func(t vec) vec {
		f := math.Mod(t.y/size+1000, 1)
		return weave(mix(a, b, step(0.60, 0.62, f)*step(0.74, 0.72, f)+step(0.82, 0.835, f)*step(0.90, 0.885, f)), t)
	}
}

// zinc is beaten grey metal, stained by years of wet glasses.
func zinc(c vec) *material {
	return &material{gloss: 0.75, rough: 0.42, bump: 0.05, fine: 16, albedo: func(t vec) vec {
		v := 0.9 + 0.16*clouds(t.x*0.008, t.y*0.008, 2) + 0.12*noise2(t.x*0.05, t.y*0.05) + 0.07*noise2(t.x*0.9, t.y*0.05)
		ring := 0.0
		for i := range 4 {
			x, y := 150*noise2(float64(i)*3.1, 8.5)*2, 190*noise2(float64(i)*4.7, 2.5)*2
			ring += step(2.2, 0.4, math.Abs(math.Hypot(t.x-x, t.y-y)-38-2*noise2(t.x*0.05, t.y*0.05)))
		}
		return c.mul(v * (1 - 0.16*min(ring, 1)))
	}}
}

// glaze is fired clay: speckles, and a rim where the glaze ran thin.
func glaze(c, rim vec, speckle float64, radius float64) *material {
	return &material{gloss: 0.8, rough: 0.13, bump: 0.02, fine: 14, albedo: func(t vec) vec {
		out := c.mul(1 + 0.06*clouds(t.x*0.04, t.y*0.04, t.z*0.04))
		r := math.Hypot(t.x, t.y)
		throw := 0.03 * math.Sin(r*0.9+0.5*noise2(t.x*0.02, t.y*0.02))
		out = out.mul(1 + throw)
		if speckle > 0 {
			out = out.mul(1 - speckle*step(0.62, 0.75, noise(t.x*0.42, t.y*0.42, t.z*0.42)))
		}
		return mix(out, rim, 0.85*step(radius-2.2, radius-0.6, r+0.8*noise(t.x*0.1, t.y*0.1, 0)))
	}}
}

// steel is a piece of cutlery.
func steel(c vec) *material {
	return &material{gloss: 1.5, rough: 0.16, albedo: plain(c, 0.15, 9)}
}

// turnedWood is a board or spoon of one piece.
func turnedWood(light, dark vec) *material {
	return &material{gloss: 0.18, rough: 0.3, albedo: func(t vec) vec {
		warp := noise2(t.x*0.012, t.y*0.05)
		v := 0.55 + 0.3*math.Sin(t.y*0.33+4*warp) + 0.3*noise2(t.x*0.05, t.y*0.9)
		return mix(dark, light, clamp(v, 0, 1))
	}}
}
