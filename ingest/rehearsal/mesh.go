package rehearsal

import "math"

// material is how a thing takes light. albedo is asked at a point of the
// thing's own coordinates in millimetres.
type material struct {
	albedo func(t vec) vec
	gloss  float64 // strength of the window's reflection, 0 … 1 before Fresnel
	rough  float64 // width of that reflection, radians
	bump   float64 // strength of the fine relief
	fine   float64 // its size, mm
	glow   float64 // share of light that passes through: cream, leaves, flesh
	clear  float64 // share of what is behind that shows: glass
}

// vertex is a corner with all that was worked out for it once.
type vertex struct {
	p, n, t  vec     // place, normal, own coordinates
	sun, sky float32 // window light and room light that reach it, 1 = all
}

// triangle names its corners and the thing it is part of.
type triangle struct {
	a, b, c int32
	part    int32
}

// scene is a laid table, lit.
type scene struct {
	vertices  []vertex
	triangles []triangle
	parts     []*material // by part number
	table     *material
	wall      vec // colour of the room behind the table
	relief    relief
	floor     lightmap
	rnd       dice
	clearFrom int // first triangle of glass, drawn last
}

// newPart begins a thing.
func (s *scene) newPart(m *material) int32 {
	s.parts = append(s.parts, m)
	return int32(len(s.parts) - 1)
}

// grid adds a sheet of (nu+1) × (nv+1) points, smooth across all seams where
// wrap joins its first column to its last. at gives place and own coordinates
// for u, v from 0 to 1.
func (s *scene) grid(m *material, nu, nv int, wrap bool, at func(u, v float64) (p, t vec)) {
	part := s.newPart(m)
	base := int32(len(s.vertices))
	cols := nu + 1
	for j := 0; j <= nv; j++ {
		for i := 0; i <= nu; i++ {
			p, t := at(float64(i)/float64(nu), float64(j)/float64(nv))
			s.vertices = append(s.vertices, vertex{p: p, t: t})
		}
	}
	vs := s.vertices[base:]
	first := len(s.triangles)
	for j := range nv {
		for i := range nu {
			a := base + int32(j*cols+i)
			b, c, d := a+1, a+int32(cols), a+int32(cols)+1
			s.triangles = append(s.triangles, triangle{a, b, d, part}, triangle{a, d, c, part})
		}
	}
	for _, t := range s.triangles[first:] {
		a, b, c := &s.vertices[t.a], &s.vertices[t.b], &s.vertices[t.c]
		n := b.p.sub(a.p).cross(c.p.sub(a.p))
		a.n, b.n, c.n = a.n.add(n), b.n.add(n), c.n.add(n)
	}
	for j := 0; j <= nv; j++ {
		if wrap {
			l, r := &vs[j*cols], &vs[j*cols+nu]
			n := l.n.add(r.n)
			l.n, r.n = n, n
		}
	}
	// A row drawn together to a point shares one normal.
	for _, j := range []int{0, nv} {
		row := vs[j*cols : (j+1)*cols]
		if row[0].p.sub(row[nu/2].p).length() < 1e-6 {
			var n vec
			for i := range row {
				n = n.add(row[i].n)
			}
			for i := range row {
				row[i].n = n
			}
		}
	}
	for i := range vs {
		vs[i].n = vs[i].n.unit()
	}
}

// place is where a thing stands and how it is turned.
type place struct {
	at vec
	by turn
}

func (q place) of(v vec) vec { return q.by.of(v).add(q.at) }

func on(x, y, z float64) place { return place{vec{x, y, z}, upright} }

// revolve adds a body of revolution by its profile of radius and height, from
// the outside bottom over the rim to the middle or the other way round.
func (s *scene) revolve(m *material, q place, segments int, profile [][2]float64) {
	s.turned(m, q, segments, profile, nil)
}

// turned is revolve with a radius that changes with the angle, by a factor.
func (s *scene) turned(m *material, q place, segments int, profile [][2]float64, by func(angle, r, z float64) float64) {
	n := len(profile) - 1
	s.grid(m, segments, n, true, func(u, v float64) (p, t vec) {
		k := profile[int(math.Round(v*float64(n)))]
		sin, cos := math.Sincos(2 * math.Pi * u)
		if u == 1 {
			sin, cos = 0, 1
		}
		f := 1.0
		if by != nil {
			f = by(2*math.Pi*u, k[0], k[1])
		}
		t = vec{k[0] * cos * f, k[0] * sin * f, k[1]}
		return q.of(t), t
	})
}

// rounded refines a profile by Catmull-Rom, n points between two.
func rounded(n int, pts ...[2]float64) [][2]float64 {
	var out [][2]float64
	at := func(i int) [2]float64 { return pts[min(max(i, 0), len(pts)-1)] }
	for i := range len(pts) - 1 {
		a, b, c, d := at(i-1), at(i), at(i+1), at(i+2)
		for k := range n {
			t := float64(k) / float64(n)
			var p [2]float64
			for j := range p {
				p[j] = 0.5 * (2*b[j] + (c[j]-a[j])*t + (2*a[j]-5*b[j]+4*c[j]-d[j])*t*t + (3*b[j]-a[j]-3*c[j]+d[j])*t*t*t)
			}
			p[0] = max(p[0], 0)
			out = append(out, p)
		}
	}
	return append(out, pts[len(pts)-1])
}

// blob adds an ellipsoid of half axes r, with lumps of the given share of it.
func (s *scene) blob(m *material, q place, r vec, nu, nv int, lumps, size float64) {
	seed := s.rnd.in(0, 30)
	s.grid(m, nu, nv, true, func(u, v float64) (p, t vec) {
		sin, cos := math.Sincos(2 * math.Pi * u)
		if u == 1 {
			sin, cos = 0, 1
		}
		sv, cv := math.Sincos(math.Pi * v)
		t = vec{r.x * sv * cos, r.y * sv * sin, -r.z * cv}
		if lumps != 0 {
			t = t.mul(1 + lumps*noise(t.x/size+seed, t.y/size, t.z/size+seed))
		}
		return q.of(t), t
	})
}

// across gives the two unit directions that stand square to path at v: level,
// and upwards.
func across(path func(v float64) vec, v float64) (side, up vec) {
	along := path(min(v+0.01, 1)).sub(path(max(v-0.01, 0))).unit()
	side = along.cross(vec{0, 0, 1})
	if side.length() < 1e-3 {
		side = vec{1, 0, 0}
	}
	side = side.unit()
	return side, side.cross(along)
}

// tube sweeps a circle along path; radius gives its half width and half height
// for v from 0 to 1. Own coordinates are place on the circle and length.
func (s *scene) tube(m *material, segments, n int, path func(v float64) vec, radius func(v float64) (w, h float64)) {
	s.grid(m, segments, n, true, func(u, v float64) (p, t vec) {
		c := path(v)
		side, up := across(path, v)
		sin, cos := math.Sincos(2 * math.Pi * u)
		if u == 1 {
			sin, cos = 0, 1
		}
		w, h := radius(v)
		t = vec{w * cos, v * 100, -h * sin} // clockwise, so that normals point out
		return c.add(side.mul(w * cos)).add(up.mul(-h * sin)), t
	})
}

// leaf adds a thin sheet along path, of half width w(v), its edges lifted by
// cup times the width. Own coordinates run −1 … 1 across and 0 … 1 along.
func (s *scene) leaf(m *material, n int, path func(v float64) vec, cup float64, w func(v float64) float64) {
	s.grid(m, 2, n, false, func(u, v float64) (p, t vec) {
		c := path(v)
		side, up := across(path, v)
		k := w(v)
		x := 2*u - 1
		return c.add(side.mul(x * k)).add(up.mul(cup * k * x * x)), vec{x, v, k}
	})
}
