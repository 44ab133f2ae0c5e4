package rehearsal

import "math"

// picture is linear light with the depth of each pixel, upright.
type picture struct {
	w, h  int
	rgb   [][3]float32
	depth []float32 // mm along the axis
}

func (p *picture) size(w, h int) {
	if n := w * h; cap(p.rgb) < n {
		p.rgb, p.depth = make([][3]float32, n), make([]float32, n)
	}
	p.w, p.h = w, h
	p.rgb, p.depth = p.rgb[:w*h], p.depth[:w*h]
}

var (
	sunColour = vec{2.55, 2.6, 2.7}   // an overcast northern window
	skyColour = vec{0.80, 0.75, 0.70} // what the room gives back
)

// shadePoint is the light that leaves p towards the camera.
func shadePoint(m *material, p, n, t, toEye vec, sun, sky float64) vec {
	if m.bump > 0 {
		k := 1 / m.fine
		q := t.mul(k)
		n = n.add(vec{noise(q.x+11, q.y, q.z), noise(q.x, q.y+17, q.z), noise(q.x, q.y, q.z+23)}.mul(m.bump)).unit()
	}
	if n.dot(toEye) < 0 {
		if n.dot(toEye) < -0.25 {
			n = n.mul(-1) // the back of a leaf
		}
	}
	// Light of a window falls off with distance.
	far := windowFar / max(windowFar+p.x-0.4*p.y, 200)
	sun *= far * math.Sqrt(far)
	albedo := m.albedo(t)
	facing := n.dot(windowDir)
	// A broad window lights somewhat beyond the edge of shade; flesh and cream
	// let more of it through.
	soft := 0.12 + 0.5*m.glow
	diffuse := max(0, (facing+soft)/(1+soft))
	diffuse *= 0.85 + 0.15*diffuse
	room := 0.62 + 0.38*n.z + 0.16*n.x
	light := sunColour.mul(sun * diffuse).add(skyColour.mul(sky * room))
	out := albedo.times(light)
	// What is lit throws a little of its own colour into its own shade.
	out = out.add(albedo.times(albedo).mul((1 - sky) * 0.35 * (sun + 0.3)))
	if m.gloss > 0 {
		cos := max(n.dot(toEye), 0)
		mirror := n.mul(2 * n.dot(toEye)).sub(toEye)
		off := 1 - mirror.dot(windowDir)
		wide := m.rough + 0.10
		away := 1 - max(cos, 0.12)
		fresnel := 0.05 + 0.95*away*away*away*away*away // Schlick's approximation
		if fade := 1 - off/(4*wide*wide); fade > 0 {
			fade *= fade
			fade *= fade
			// Nothing mirrors more light than the window sends.
			peak := min(m.gloss*fresnel/(wide*wide), 1.5)
			out = out.add(sunColour.mul(0.42 * sun * fade * fade * peak))
		}
		out = out.add(skyColour.mul(m.gloss * fresnel * sky * max(mirror.z+0.4, 0) * 0.55))
	}
	return out
}

// hit gives the place on a triangle that a fine sample sees.
func (c *cover) hit(s *scene, k int32, x, y float64) (p, n, t vec, sun, sky float64) {
	tr := &s.triangles[k]
	a, b, d := c.proj[tr.a], c.proj[tr.b], c.proj[tr.c]
	ax, ay := float64(a.x), float64(a.y)
	bx, by, dx, dy := float64(b.x)-ax, float64(b.y)-ay, float64(d.x)-ax, float64(d.y)-ay
	ia := 1 / (bx*dy - by*dx)
	fx, fy := x-ax, y-ay
	v, w := clamp((fx*dy-fy*dx)*ia, 0, 1), clamp((bx*fy-by*fx)*ia, 0, 1)
	u := max(1-v-w, 0) * float64(a.inv)
	v *= float64(b.inv)
	w *= float64(d.inv)
	q := 1 / (u + v + w)
	u, v, w = u*q, v*q, w*q
	va, vb, vd := &s.vertices[tr.a], &s.vertices[tr.b], &s.vertices[tr.c]
	l := func(i, j, k vec) vec {
		return vec{u*i.x + v*j.x + w*k.x, u*i.y + v*j.y + w*k.y, u*i.z + v*j.z + w*k.z}
	}
	return l(va.p, vb.p, vd.p), l(va.n, vb.n, vd.n).unit(), l(va.t, vb.t, vd.t),
		u*float64(va.sun) + v*float64(vb.sun) + w*float64(vd.sun),
		u*float64(va.sky) + v*float64(vb.sky) + w*float64(vd.sky)
}

// tableBack and tableSide are where the table ends, mm.
const (
	tableBack = 640.0
	tableSide = 900.0
)

// sample is the light and depth of one fine sample.
func (c *cover) sample(s *scene, l *lens, k int32, x, y float64) (vec, float64) {
	dir := l.ray(x, y)
	if k >= 0 {
		p, n, t, sun, sky := c.hit(s, k, x, y)
		depth := p.sub(l.eye).dot(l.forward)
		return shadePoint(s.parts[s.triangles[k].part], p, n, t, dir.mul(-1).unit(), sun, sky), depth
	}
	if dir.z < -1e-6 {
		depth := -l.eye.z / dir.z
		p := l.eye.add(dir.mul(depth))
		if p.y < tableBack && math.Abs(p.x) < tableSide {
			sun, sky := s.floor.at(p.x, p.y)
			return shadePoint(s.table, p, vec{0, 0, 1}, vec{p.x, p.y, 0}, dir.mul(-1).unit(), sun, sky), depth
		}
	}
	// The room behind: darker to the right, brighter towards the window.
	d := dir.unit()
	glow := 0.35 + 0.4*step(0.5, -0.7, d.x) + 0.3*step(-0.5, 0.2, d.z)
	return s.wall.mul(glow), 1900
}

// paint draws s through l, which is on the fine grid, into out at half of it.
func (c *cover) paint(s *scene, l *lens, out *picture) {
	w, h := l.w/2, l.h/2
	out.size(w, h)
	c.begin(s, l)
	c.draw(s, l, 0, s.clearFrom)
	part := func(k int32) int32 {
		if k < 0 {
			return -1
		}
		return s.triangles[k].part
	}
	for y := range h {
		for x := range w {
			i := 2*y*l.w + 2*x
			k := [4]int32{c.tri[i], c.tri[i+1], c.tri[i+l.w], c.tri[i+l.w+1]}
			q := [4]int32{part(k[0]), part(k[1]), part(k[2]), part(k[3])}
			fx, fy := float64(2*x), float64(2*y)
			o := y*w + x
			if q[0] == q[1] && q[0] == q[2] && q[0] == q[3] {
				light, depth := c.sample(s, l, k[0], fx+1, fy+1)
				out.rgb[o] = [3]float32{float32(light.x), float32(light.y), float32(light.z)}
				out.depth[o] = float32(depth)
				continue
			}
			// An edge: each thing is asked once, where one of its samples is.
			var sum vec
			nearest := math.Inf(1)
			for a := range 4 {
				first, n := true, 1.0
				for b := range 4 {
					if b != a && q[b] == q[a] {
						if b < a {
							first = false
						}
						n++
					}
				}
				if !first {
					continue
				}
				light, depth := c.sample(s, l, k[a], fx+0.5+float64(a&1), fy+0.5+float64(a>>1))
				sum = sum.add(light.mul(n / 4))
				nearest = min(nearest, depth)
			}
			out.rgb[o] = [3]float32{float32(sum.x), float32(sum.y), float32(sum.z)}
			out.depth[o] = float32(nearest)
		}
	}
	c.paintGlass(s, l, out)
}

// paintGlass lays the clear things over what is painted: each dims and tints
// what is behind it and adds the window's reflection, most at its edges.
func (c *cover) paintGlass(s *scene, l *lens, out *picture) {
	if s.clearFrom == len(s.triangles) {
		return
	}
	for i := range c.tri {
		c.tri[i] = -1
	}
	c.draw(s, l, s.clearFrom, len(s.triangles))
	for y := range out.h {
		for x := range out.w {
			for a := range 4 {
				sx, sy := 2*x+a&1, 2*y+a>>1
				k := c.tri[sy*l.w+sx]
				if k < 0 {
					continue
				}
				p, n, t, sun, sky := c.hit(s, k, float64(sx)+0.5, float64(sy)+0.5)
				m := s.parts[s.triangles[k].part]
				toEye := l.eye.sub(p).unit()
				if n.dot(toEye) < 0 {
					n = n.mul(-1)
				}
				edge := math.Pow(1-n.dot(toEye), 2.2)
				through := m.albedo(t).mul(m.clear * (1 - 0.75*edge))
				shine := *m
				shine.albedo = func(vec) vec { return vec{0.02, 0.02, 0.02} }
				add := shadePoint(&shine, p, n, t, toEye, sun, sky)
				o := &out.rgb[y*out.w+x]
				for j, v := range [3][2]float64{{through.x, add.x}, {through.y, add.y}, {through.z, add.z}} {
					o[j] = o[j]*float32(0.75+0.25*v[0]) + float32(0.25*v[1])
				}
				break
			}
		}
	}
}
