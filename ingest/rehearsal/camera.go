package rehearsal

import "math"

// lens is a camera over the table: a pinhole at its focal length behind a thin
// lens whose blur grows with the distance from the plane in focus. Its field
// doesn't narrow as it focuses closer, which real lenses differ in.
type lens struct {
	eye, forward, right, up vec
	w, h                    int     // pixels of the grid it draws on, upright
	scale                   float64 // pixels a unit of tangent
	blur                    float64 // diameter in pixels of a point at infinity
	focus                   float64 // mm along the axis
}

// sensorLong and sensorShort are the sides of the sensor in millimetres.
const (
	sensorLong  = 36.0
	sensorShort = 24.0
)

// lensOf is e's camera on a grid of w × h upright pixels. It aims at a point
// over the table, about where the food is highest.
func lensOf(e exposure, w, h int) lens {
	se, ce := math.Sincos(e.elevation * math.Pi / 180)
	sa, ca := math.Sincos(e.azimuth * math.Pi / 180)
	back := vec{ce * sa, -ce * ca, se}
	wide := sensorLong
	if h > w {
		wide = sensorShort
	}
	pixels := float64(w) / wide // a millimetre of the sensor
	return lens{
		eye:     vec{e.aimX, e.aimY, e.aimZ}.add(back.mul(e.dist)),
		forward: back.mul(-1),
		right:   vec{ca, sa, 0},
		up:      vec{-se * sa, se * ca, ce},
		w:       w, h: h,
		scale: pixels * e.focal,
		// Thin lens: c = (f/N) · f/(s−f) · |d−s|/d; see reference 04_dof.
		blur:  e.focal / e.fnum * e.focal / (e.dist + e.miss - e.focal) * pixels,
		focus: e.dist + e.miss,
	}
}

// project gives the pixel and one over the depth of a point.
func (l *lens) project(p vec) (x, y, inv float64) {
	d := p.sub(l.eye)
	inv = 1 / d.dot(l.forward)
	return float64(l.w)/2 + l.scale*d.dot(l.right)*inv, float64(l.h)/2 - l.scale*d.dot(l.up)*inv, inv
}

// ray is the direction through a pixel, with depth 1 along the axis.
func (l *lens) ray(x, y float64) vec {
	return l.forward.add(l.right.mul((x - float64(l.w)/2) / l.scale)).add(l.up.mul((float64(l.h)/2 - y) / l.scale))
}

// circle is the diameter in pixels of the blur at a depth.
func (l *lens) circle(depth float64) float64 { return l.blur * math.Abs(depth-l.focus) / depth }

// corner is a projected vertex.
type corner struct{ x, y, inv float32 }

// cover is what each of the fine samples sees, twice the resolution of the
// picture in each direction.
type cover struct {
	inv  []float32 // one over the depth of what is nearest
	tri  []int32   // its triangle, −1 the table or the room
	proj []corner
}

// draw fills c with the triangles of s that lie in [from, to).
func (c *cover) draw(s *scene, l *lens, from, to int) {
	w, h := l.w, l.h
	for k := from; k < to; k++ {
		t := &s.triangles[k]
		p, q, r := c.proj[t.a], c.proj[t.b], c.proj[t.c]
		if p.inv <= 0 || q.inv <= 0 || r.inv <= 0 {
			continue // behind the camera
		}
		x0, x1 := int(max(min(p.x, q.x, r.x)+0.5, 0)), int(min(max(p.x, q.x, r.x)+0.5, float32(w)))
		y0, y1 := int(max(min(p.y, q.y, r.y)+0.5, 0)), int(min(max(p.y, q.y, r.y)+0.5, float32(h)))
		if x0 >= x1 || y0 >= y1 {
			continue
		}
		area := (q.x-p.x)*(r.y-p.y) - (q.y-p.y)*(r.x-p.x)
		if area == 0 {
			continue
		}
		ia := 1 / area
		// Barycentric coordinates of q and r, their steps along x and y.
		vx, vy := (r.y-p.y)*ia, -(r.x-p.x)*ia
		wx, wy := -(q.y-p.y)*ia, (q.x-p.x)*ia
		dq, dr := q.inv-p.inv, r.inv-p.inv
		for y := y0; y < y1; y++ {
			fx, fy := float32(x0)+0.5-p.x, float32(y)+0.5-p.y
			v, u := fx*vx+fy*vy, fx*wx+fy*wy
			row := y * w
			for x := x0; x < x1; x++ {
				if v >= 0 && u >= 0 && v+u <= 1 {
					if inv := p.inv + v*dq + u*dr; inv > c.inv[row+x] {
						c.inv[row+x] = inv
						c.tri[row+x] = int32(k)
					}
				}
				v += vx
				u += wx
			}
		}
	}
}

// begin clears c for s under l and lays the table, whose inverse depth is
// linear over the picture.
func (c *cover) begin(s *scene, l *lens) {
	n := l.w * l.h
	if cap(c.inv) < n {
		c.inv, c.tri = make([]float32, n), make([]int32, n)
	}
	c.inv, c.tri = c.inv[:n], c.tri[:n]
	c.proj = c.proj[:0]
	for i := range s.vertices {
		x, y, inv := l.project(s.vertices[i].p)
		c.proj = append(c.proj, corner{float32(x), float32(y), float32(inv)})
	}
	for y := range l.h {
		a, b := l.ray(0.5, float64(y)+0.5), l.ray(1.5, float64(y)+0.5)
		inv, by := -a.z/l.eye.z, -(b.z-a.z)/l.eye.z
		for x := range l.w {
			c.inv[y*l.w+x] = float32(max(inv, 0))
			c.tri[y*l.w+x] = -1
			inv += by
		}
	}
}
