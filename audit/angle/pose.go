package angle

import (
	"math"

	"coverplate/ingest/catalogue"
)

// diagonal35 is the diagonal of a 36 × 24 mm frame, which 35 mm equivalent
// focal lengths refer to (CIPA DCG-001): 43.27 mm.
var diagonal35 = math.Hypot(36, 24)

// focalOf is the focal length in shares of the upright picture's width, from
// its 35 mm equivalent in millimetres and the upright picture's height in
// shares of its width. It holds for a picture that was not cropped.
func focalOf(focal35, height float64) float64 {
	return focal35 / diagonal35 * math.Hypot(1, height)
}

// vector is x to the right, y down, z forward from the camera.
type vector [3]float64

// normals gives the two directions that the axis of a circle may have that is
// seen as the rim r, as unit vectors towards the camera. focal and height are
// in shares of the picture's width.
//
// The rim and the eye span a cone; a circle is cut from it by planes of two
// directions only: with the cone's eigenvalues λ1 ≥ λ2 > 0 > λ3 and
// eigenvectors u, n = ±√((λ1−λ2)/(λ1−λ3)) u1 + √((λ2−λ3)/(λ1−λ3)) u3
// (Safaee-Rad, Tchoukanov, Smith and Benhabib 1992, from memory; checked
// against reference file 11_circle_perspective.csv). ok is false where r is no
// ellipse.
func normals(r catalogue.Rim, focal, height float64) (n [2]vector, ok bool) {
	x, y := (r.X-0.5)/focal, (r.Y-height/2)/focal
	a, b := r.A/focal, r.B/focal
	sin, cos := math.Sincos(r.Turn * math.Pi / 180)
	ia, ib := 1/(a*a), 1/(b*b)
	xx := cos*cos*ia + sin*sin*ib
	xy := cos * sin * (ia - ib)
	yy := sin*sin*ia + cos*cos*ib
	xz, yz := -xx*x-xy*y, -xy*x-yy*y
	zz := -xz*x - yz*y - 1
	cone := [3][3]float64{{xx, xy, xz}, {xy, yy, yz}, {xz, yz, zz}}
	l, u := eigen(cone)
	if !(l[1] > 0 && l[2] < 0) {
		return n, false
	}
	g := math.Sqrt(max(0, (l[0]-l[1])/(l[0]-l[2])))
	h := math.Sqrt(max(0, (l[1]-l[2])/(l[0]-l[2])))
	for i, sign := range []float64{1, -1} {
		var v vector
		for k := range v {
			v[k] = sign*g*u[0][k] + h*u[2][k]
		}
		if v[0]*x+v[1]*y+v[2] > 0 { // away from the camera
			v = vector{-v[0], -v[1], -v[2]}
		}
		n[i] = v
	}
	return n, true
}

// elevationOf is how many degrees the optical axis looks down on the plane of
// the rim r, of its two readings the one that asks for the less roll of the
// camera: photographers keep a level horizon. roll is the degrees of that.
func elevationOf(r catalogue.Rim, focal, height float64) (elevation, roll float64, ok bool) {
	both, ok := normals(r, focal, height)
	if !ok {
		return 0, 0, false
	}
	least := math.Inf(1)
	for _, n := range both {
		e := math.Asin(min(1, max(-1, -n[2])))
		turned := math.Atan2(n[0], -n[1])
		// Seen from above a roll costs nothing: cos e weighs it.
		if cost := math.Abs(turned) * math.Cos(e); cost < least {
			least, elevation, roll = cost, e*180/math.Pi, turned*180/math.Pi
		}
	}
	return elevation, roll, true
}

// eigen decomposes a symmetric matrix by Jacobi's rotations: the values in
// falling order and their unit vectors.
func eigen(m [3][3]float64) (values [3]float64, vectors [3]vector) {
	v := [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	scale := 0.0
	for i := range m {
		for j := range m {
			scale = max(scale, math.Abs(m[i][j]))
		}
	}
	for range 30 {
		if math.Abs(m[0][1])+math.Abs(m[0][2])+math.Abs(m[1][2]) <= 1e-16*scale {
			break
		}
		for p := range 2 {
			for q := p + 1; q < 3; q++ {
				if m[p][q] == 0 {
					continue
				}
				theta := (m[q][q] - m[p][p]) / (2 * m[p][q])
				t := math.Copysign(1, theta) / (math.Abs(theta) + math.Hypot(theta, 1))
				c := 1 / math.Hypot(t, 1)
				s := t * c
				for k := range 3 {
					m[k][p], m[k][q] = c*m[k][p]-s*m[k][q], s*m[k][p]+c*m[k][q]
				}
				for k := range 3 {
					m[p][k], m[q][k] = c*m[p][k]-s*m[q][k], s*m[p][k]+c*m[q][k]
				}
				for k := range 3 {
					v[k][p], v[k][q] = c*v[k][p]-s*v[k][q], s*v[k][p]+c*v[k][q]
				}
			}
		}
	}
	order := [3]int{0, 1, 2}
	for i := range 3 {
		for j := i + 1; j < 3; j++ {
			if m[order[j]][order[j]] > m[order[i]][order[i]] {
				order[i], order[j] = order[j], order[i]
			}
		}
	}
	for i, k := range order {
		values[i] = m[k][k]
		vectors[i] = vector{v[0][k], v[1][k], v[2][k]}
	}
	return values, vectors
}
