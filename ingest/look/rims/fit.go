package rims

import "math"

// frame maps pixels to coordinates of the order of 1, where sums of fourth
// powers keep their digits.
type frame struct{ cx, cy, unit float64 }

func frameOf(w, h int) frame {
	return frame{float64(w) / 2, float64(h) / 2, float64(max(w, h)) / 2}
}

func (f frame) x(px float64) float64 { return (px - f.cx) / f.unit }
func (f frame) y(py float64) float64 { return (py - f.cy) / f.unit }

// moments are the sums over points of 1, x, y, x², xy, y², x³, x²y, xy², y³,
// x⁴, x³y, x²y², xy³, y⁴: all that fitting a conic needs of them, so that arcs
// add.
type moments [15]float64

func (m *moments) add(x, y float64) {
	xx, xy, yy := x*x, x*y, y*y
	m[0]++
	m[1] += x
	m[2] += y
	m[3] += xx
	m[4] += xy
	m[5] += yy
	m[6] += xx * x
	m[7] += xx * y
	m[8] += x * yy
	m[9] += yy * y
	m[10] += xx * xx
	m[11] += xx * xy
	m[12] += xx * yy
	m[13] += xy * yy
	m[14] += yy * yy
}

// ellipse is a rim in pixels of the plane it was found in.
type ellipse struct {
	x, y, a, b float64 // a ≥ b
	turn       float64 // radians of a, −π/2 … π/2
	sin, cos   float64 // of turn

	cover, inside, support float64 // 0 … 1
	sectors                int     // of 24 that are traced
	merit                  float64 // to choose between tracings
	score                  float64
}

func (e *ellipse) enlarge(by float64) {
	e.x, e.y = (e.x+0.5)*by-0.5, (e.y+0.5)*by-0.5
	e.a, e.b = e.a*by, e.b*by
}

// same tells whether two ellipses differ by less than the share t of their
// half axis.
func same(e, f ellipse, t float64) bool {
	t *= max(e.a, f.a)
	return math.Abs(e.a-f.a) <= t && math.Abs(e.b-f.b) <= t && math.Hypot(e.x-f.x, e.y-f.y) <= t
}

// away is how far a point lies outside the ellipse in pixels, to the first
// order (Sampson), and the outward normal there.
func (e *ellipse) away(x, y float64) (d, nx, ny float64) {
	u := (x-e.x)*e.cos + (y-e.y)*e.sin
	v := (y-e.y)*e.cos - (x-e.x)*e.sin
	ia, ib := 1/(e.a*e.a), 1/(e.b*e.b)
	gu, gv := 2*u*ia, 2*v*ib
	g := math.Sqrt(gu*gu+gv*gv) + 1e-12
	d = (u*u*ia + v*v*ib - 1) / g
	gu, gv = gu/g, gv/g
	return d, gu*e.cos - gv*e.sin, gu*e.sin + gv*e.cos
}

// fit is the ellipse nearest to the points of m in the sense of Halíř and
// Flusser, "Numerically stable direct least squares fitting of ellipses"
// (1998). ok is false where there is none.
func (m *moments) fit(f frame) (e ellipse, ok bool) {
	if m[0] < 6 {
		return e, false
	}
	s1 := [3][3]float64{{m[10], m[11], m[12]}, {m[11], m[12], m[13]}, {m[12], m[13], m[14]}}
	s2 := [3][3]float64{{m[6], m[7], m[3]}, {m[7], m[8], m[4]}, {m[8], m[9], m[5]}}
	s3 := [3][3]float64{{m[3], m[4], m[1]}, {m[4], m[5], m[2]}, {m[1], m[2], m[0]}}
	inv, ok := inverse(s3)
	if !ok {
		return e, false
	}
	var t, r [3][3]float64 // t = −s3⁻¹·s2ᵀ, r = s1 + s2·t
	for i := range 3 {
		for j := range 3 {
			t[i][j] = -(inv[i][0]*s2[j][0] + inv[i][1]*s2[j][1] + inv[i][2]*s2[j][2])
		}
	}
	for i := range 3 {
		for j := range 3 {
			r[i][j] = s1[i][j] + s2[i][0]*t[0][j] + s2[i][1]*t[1][j] + s2[i][2]*t[2][j]
		}
	}
	// C1⁻¹·r, with C1 the matrix of the constraint 4ac − b² = 1.
	var n [3][3]float64
	for j := range 3 {
		n[0][j], n[1][j], n[2][j] = r[2][j]/2, -r[1][j], r[0][j]/2
	}
	trace := n[0][0] + n[1][1] + n[2][2]
	minors := n[0][0]*n[1][1] - n[0][1]*n[1][0] + n[0][0]*n[2][2] - n[0][2]*n[2][0] + n[1][1]*n[2][2] - n[1][2]*n[2][1]
	roots, count := cubic(-trace, minors, -determinant(n))
	best := 1e-12
	var conic [6]float64
	ok = false
	for _, l := range roots[:count] {
		k := n
		for i := range 3 {
			k[i][i] -= l
		}
		v, found := kernel(k)
		if !found {
			continue
		}
		if c := 4*v[0]*v[2] - v[1]*v[1]; c > best {
			best, ok = c, true
			copy(conic[:], v[:])
			for i := range 3 {
				conic[3+i] = t[i][0]*v[0] + t[i][1]*v[1] + t[i][2]*v[2]
			}
		}
	}
	if !ok {
		return e, false
	}
	return ofConic(conic, f)
}

// ofConic is the ellipse ax² + bxy + cy² + dx + ey + g = 0.
func ofConic(k [6]float64, f frame) (e ellipse, ok bool) {
	a, b, c, d, g, h := k[0], k[1], k[2], k[3], k[4], k[5]
	den := b*b - 4*a*c
	if !(den < 0) {
		return e, false
	}
	x, y := (2*c*d-b*g)/den, (2*a*g-b*d)/den
	rest := -(h + (d*x+g*y)/2)
	turn := 0.5 * math.Atan2(b, a-c)
	sin, cos := math.Sincos(turn)
	p := rest / (a*cos*cos + b*cos*sin + c*sin*sin)
	q := rest / (a*sin*sin - b*cos*sin + c*cos*cos)
	if !(p > 0 && q > 0) || math.IsInf(p, 0) || math.IsInf(q, 0) {
		return e, false
	}
	p, q = math.Sqrt(p)*f.unit, math.Sqrt(q)*f.unit
	if p < q {
		p, q = q, p
		turn += math.Pi / 2
	}
	if turn >= math.Pi/2 {
		turn -= math.Pi
	}
	sin, cos = math.Sincos(turn)
	return ellipse{x: x*f.unit + f.cx, y: y*f.unit + f.cy, a: p, b: q, turn: turn, sin: sin, cos: cos}, true
}

func determinant(m [3][3]float64) float64 {
	return m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) - m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) + m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
}

func inverse(m [3][3]float64) (o [3][3]float64, ok bool) {
	d := determinant(m)
	if !(math.Abs(d) >= 1e-14) {
		return o, false
	}
	for i := range 3 {
		for j := range 3 {
			a, b, c, e := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
			o[j][i] = (m[a][c]*m[b][e] - m[a][e]*m[b][c]) / d
		}
	}
	return o, true
}

// kernel is a unit vector that m, of rank 2, brings to nothing.
func kernel(m [3][3]float64) (v [3]float64, ok bool) {
	most := 0.0
	for i := range 3 {
		r, s := m[i], m[(i+1)%3]
		c := [3]float64{r[1]*s[2] - r[2]*s[1], r[2]*s[0] - r[0]*s[2], r[0]*s[1] - r[1]*s[0]}
		if n := math.Sqrt(c[0]*c[0] + c[1]*c[1] + c[2]*c[2]); n > most {
			most = n
			v = [3]float64{c[0] / n, c[1] / n, c[2] / n}
		}
	}
	return v, most > 0
}

// cubic gives the real roots of x³ + bx² + cx + d.
func cubic(b, c, d float64) (roots [3]float64, n int) {
	p := c - b*b/3
	q := 2*b*b*b/27 - b*c/3 + d
	shift := -b / 3
	if s := q*q/4 + p*p*p/27; s > 0 {
		s = math.Sqrt(s)
		return [3]float64{math.Cbrt(-q/2+s) + math.Cbrt(-q/2-s) + shift}, 1
	}
	if p >= 0 {
		return [3]float64{shift}, 1
	}
	r := 2 * math.Sqrt(-p/3)
	phi := math.Acos(min(1, max(-1, 3*q/(p*r)))) / 3
	for k := range 3 {
		roots[k] = r*math.Cos(phi-2*math.Pi*float64(k)/3) + shift
	}
	return roots, 3
}
