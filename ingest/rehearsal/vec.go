package rehearsal

import "math"

// vec is a point or direction in millimetres, x to the right of the table, y
// away from its near side, z up; or a linear light colour, sRGB primaries.
type vec struct{ x, y, z float64 }

func (a vec) add(b vec) vec       { return vec{a.x + b.x, a.y + b.y, a.z + b.z} }
func (a vec) sub(b vec) vec       { return vec{a.x - b.x, a.y - b.y, a.z - b.z} }
func (a vec) mul(s float64) vec   { return vec{a.x * s, a.y * s, a.z * s} }
func (a vec) times(b vec) vec     { return vec{a.x * b.x, a.y * b.y, a.z * b.z} }
func (a vec) dot(b vec) float64   { return a.x*b.x + a.y*b.y + a.z*b.z }
func (a vec) length() float64     { return math.Sqrt(a.dot(a)) }
func (a vec) cross(b vec) vec     { return vec{a.y*b.z - a.z*b.y, a.z*b.x - a.x*b.z, a.x*b.y - a.y*b.x} }
func mix(a, b vec, t float64) vec { return a.add(b.sub(a).mul(t)) }

func (a vec) unit() vec {
	l := a.length()
	if l == 0 {
		return vec{0, 0, 1}
	}
	return a.mul(1 / l)
}

// turn is a rotation, by its rows.
type turn [3]vec

var upright = turn{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

func (m turn) of(v vec) vec { return vec{m[0].dot(v), m[1].dot(v), m[2].dot(v)} }

// after is the rotation that first does n, then m.
func (m turn) after(n turn) turn {
	var out turn
	for i := range out {
		out[i] = n[0].mul(m[i].x).add(n[1].mul(m[i].y)).add(n[2].mul(m[i].z))
	}
	return out
}

func yaw(deg float64) turn {
	s, c := math.Sincos(deg * math.Pi / 180)
	return turn{{c, -s, 0}, {s, c, 0}, {0, 0, 1}}
}

func pitch(deg float64) turn { // about x
	s, c := math.Sincos(deg * math.Pi / 180)
	return turn{{1, 0, 0}, {0, c, -s}, {0, s, c}}
}

func roll(deg float64) turn { // about y
	s, c := math.Sincos(deg * math.Pi / 180)
	return turn{{c, 0, s}, {0, 1, 0}, {-s, 0, c}}
}

func clamp(v, lo, hi float64) float64 { return min(max(v, lo), hi) }

// step rises smoothly from 0 at a to 1 at b.
func step(a, b, v float64) float64 {
	t := clamp((v-a)/(b-a), 0, 1)
	return t * t * (3 - 2*t)
}

// hex is a colour given as sRGB 0xRRGGBB, in linear light.
func hex(c uint32) vec { return vec{linear[c>>16&255], linear[c>>8&255], linear[c&255]} }

// linear is the light of an sRGB value of eight bits (IEC 61966-2-1).
var linear = func() (t [256]float64) {
	for i := range t {
		v := float64(i) / 255
		if v <= 0.04045 {
			t[i] = v / 12.92
			continue
		}
		t[i] = math.Pow((v+0.055)/1.055, 2.4)
	}
	return t
}()

// dice is a small seeded random source: SplitMix64, public domain.
type dice uint64

func (d *dice) next() uint64 {
	*d += 0x9E3779B97F4A7C15
	z := uint64(*d)
	z = (z ^ z>>30) * 0xBF58476D1CE4E5B9
	z = (z ^ z>>27) * 0x94D049BB133111EB
	return z ^ z>>31
}

func (d *dice) unit() float64             { return float64(d.next()>>11) / (1 << 53) }
func (d *dice) in(lo, hi float64) float64 { return lo + (hi-lo)*d.unit() }

// disc is a point of an even spread over a disc of radius r.
func (d *dice) disc(r float64) (x, y float64) {
	s, c := math.Sincos(d.in(0, 2*math.Pi))
	q := r * math.Sqrt(d.unit())
	return q * c, q * s
}

const lattice = 32 // a power of two

// grain is the lattice of the value noise.
var grain = func() *[lattice * lattice * lattice]float32 {
	var g [lattice * lattice * lattice]float32
	d := dice(7)
	for i := range g {
		g[i] = float32(2*d.unit() - 1)
	}
	return &g
}()

// noise is value noise, −1 to 1, with period 32 in each direction.
func noise(x, y, z float64) float64 {
	fx, fy, fz := math.Floor(x), math.Floor(y), math.Floor(z)
	x, y, z = x-fx, y-fy, z-fz
	x, y, z = x*x*(3-2*x), y*y*(3-2*y), z*z*(3-2*z)
	const m = lattice - 1
	x0, y0, z0 := int(fx)&m, (int(fy)&m)*lattice, (int(fz)&m)*lattice*lattice
	x1, y1, z1 := (x0+1)&m, (y0+lattice)&(m*lattice), (z0+lattice*lattice)&(m*lattice*lattice)
	g := grain
	l := func(a, b float32, t float64) float64 { return float64(a) + float64(b-a)*t }
	a := l(g[x0|y0|z0], g[x1|y0|z0], x)
	b := l(g[x0|y1|z0], g[x1|y1|z0], x)
	c := l(g[x0|y0|z1], g[x1|y0|z1], x)
	e := l(g[x0|y1|z1], g[x1|y1|z1], x)
	a += (b - a) * y
	c += (e - c) * y
	return a + (c-a)*z
}

// noise2 is noise in a plane.
func noise2(x, y float64) float64 {
	fx, fy := math.Floor(x), math.Floor(y)
	x, y = x-fx, y-fy
	x, y = x*x*(3-2*x), y*y*(3-2*y)
	i, j := int(fx), int(fy)
	a := knot(i, j)
	a += (knot(i+1, j) - a) * x
	b := knot(i, j+1)
	b += (knot(i+1, j+1) - b) * x
	return a + (b-a)*y
}

// knot is the lattice's value at i, j. Successive periods are taken from other
// layers, so that a table of boards doesn't repeat.
func knot(i, j int) float64 {
	const m = lattice - 1
	layer := (i>>5*7 + j>>5*13) & m
	return float64(grain[layer*lattice*lattice|(j&m)*lattice|i&m])
}

// clouds is noise of three octaves, about −1 to 1.
func clouds(x, y, z float64) float64 {
	return (noise(x, y, z) + 0.5*noise(2.03*x+5, 2.03*y+1, 2.03*z) + 0.25*noise(4.1*x, 4.1*y+9, 4.1*z+3)) / 1.4
}
