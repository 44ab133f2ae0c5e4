package rehearsal

import "math"

// relief is the height of all that stands on the table, on a square grid of
// cells one millimetre wide.
type relief struct {
	z []float32 // mm, row by row from the near left
}

const (
	reliefHalf = 420 // mm from the middle to the edge
	reliefSide = 2 * reliefHalf
)

func (r *relief) at(x, y float64) float64 {
	i, j := int(x+reliefHalf), int(y+reliefHalf)
	if uint(i) >= reliefSide || uint(j) >= reliefSide {
		return 0
	}
	return float64(r.z[j*reliefSide+i])
}

// stamp raises the relief by the triangles from the given one on.
func (s *scene) stamp(from int) {
	r := &s.relief
	if r.z == nil {
		r.z = make([]float32, reliefSide*reliefSide)
	}
	for _, t := range s.triangles[from:] {
		if s.parts[t.part].clear > 0 {
			continue // glass throws hardly a shadow
		}
		a, b, c := s.vertices[t.a].p, s.vertices[t.b].p, s.vertices[t.c].p
		x0 := max(int(min(a.x, b.x, c.x)+reliefHalf), 0)
		x1 := min(int(max(a.x, b.x, c.x)+reliefHalf)+1, reliefSide-1)
		y0 := max(int(min(a.y, b.y, c.y)+reliefHalf), 0)
		y1 := min(int(max(a.y, b.y, c.y)+reliefHalf)+1, reliefSide-1)
		area := (b.x-a.x)*(c.y-a.y) - (b.y-a.y)*(c.x-a.x)
		if math.Abs(area) < 1e-9 {
			continue
		}
		for j := y0; j <= y1; j++ {
			for i := x0; i <= x1; i++ {
				x, y := float64(i)+0.5-reliefHalf, float64(j)+0.5-reliefHalf
				v := ((x-a.x)*(c.y-a.y) - (y-a.y)*(c.x-a.x)) / area
				w := ((b.x-a.x)*(y-a.y) - (b.y-a.y)*(x-a.x)) / area
				if v < -0.01 || w < -0.01 || v+w > 1.01 {
					continue
				}
				z := float32(a.z + v*(b.z-a.z) + w*(c.z-a.z))
				if k := j*reliefSide + i; z > r.z[k] {
					r.z[k] = z
				}
			}
		}
	}
}

// rest is the height at which a thing of radius r comes to lie at x, y: the
// mean of what is below it and the highest of that.
func (s *scene) rest(x, y, r float64) float64 {
	top, sum, n := 0.0, 0.0, 0.0
	for _, d := range [...][2]float64{{0, 0}, {0.5, 0}, {-0.5, 0}, {0, 0.5}, {0, -0.5}, {0.4, 0.4}, {-0.4, 0.4}, {0.4, -0.4}, {-0.4, -0.4}} {
		z := s.relief.at(x+d[0]*r, y+d[1]*r)
		top = max(top, z)
		sum += z
		n++
	}
	return 0.5*top + 0.5*sum/n
}

// The window stands at the left, a little behind the table. Its light comes
// from a fan of directions and from 14° to 58° above the table.
const (
	windowAzimuth = 158.0 // degrees, anticlockwise from x
	windowSpread  = 22.0
	windowLow     = 14.0
	windowHigh    = 58.0
	windowFar     = 1150.0 // mm from the middle of the table
)

var (
	windowRays = fan(windowAzimuth-windowSpread, windowSpread/2, 5) // level unit directions
	roomRays   = fan(17, 60, 6)
	windowDir  = windowRays[2].add(vec{0, 0, math.Tan(38 * math.Pi / 180)}).unit() // to its middle
	tanLow     = math.Tan(windowLow * math.Pi / 180)
	tanHigh    = math.Tan(windowHigh * math.Pi / 180)

	// How far a shadow is looked for, mm: closely near by, coarsely far away.
	windowSteps = [...]float64{1.6, 2.2, 3, 4, 5, 6.4, 8, 10, 12.5, 15.5, 19, 23.5, 29, 36, 45, 56, 70, 88, 110, 140, 180, 230}
	roomSteps   = [...]float64{2, 4, 7, 12, 20, 34, 58}
)

// fan is n level directions from the given angle on, all in degrees.
func fan(from, by float64, n int) []vec {
	var rays []vec
	for k := range n {
		s, c := math.Sincos((from + by*float64(k)) * math.Pi / 180)
		rays = append(rays, vec{c, s, 0})
	}
	return rays
}

// light works out how much of the window and of the room reaches a point with
// normal n.
func (r *relief) light(p, n vec) (sun, sky float32) {
	q := p.add(n.mul(1.2))
	total := 0.0
	for _, ray := range windowRays {
		steepest := 0.0
		for _, d := range windowSteps {
			if t := (r.at(q.x+ray.x*d, q.y+ray.y*d) - q.z) / d; t > steepest {
				steepest = t
				if t > tanHigh {
					break
				}
			}
		}
		vis := 1.0
		if steepest > tanLow {
			vis = max(0, 1-(steepest-tanLow)/(tanHigh-tanLow))
			vis = vis * vis * (3 - 2*vis)
		}
		total += vis
	}
	open := 0.0
	for _, ray := range roomRays {
		steepest := 0.0
		for _, d := range roomSteps {
			if t := (r.at(q.x+ray.x*d, q.y+ray.y*d) - q.z) / d; t > steepest {
				steepest = t
			}
		}
		open += 1 - steepest/math.Sqrt(1+steepest*steepest)
	}
	return float32(total / float64(len(windowRays))), float32(open / float64(len(roomRays)))
}

// lightmap is the light on the bare table, on a grid of three millimetres.
type lightmap struct{ sun, sky []float32 }

const (
	floorCell = 3
	floorSide = reliefSide/floorCell + 1
)

func (m *lightmap) at(x, y float64) (sun, sky float64) {
	fx, fy := (x+reliefHalf)/floorCell, (y+reliefHalf)/floorCell
	if fx < 0 || fy < 0 || fx >= floorSide-1 || fy >= floorSide-1 {
		return 1, 1
	}
	i, j := int(fx), int(fy)
	fx, fy = fx-float64(i), fy-float64(j)
	k := j*floorSide + i
	bi := func(a []float32) float64 {
		top := float64(a[k]) + float64(a[k+1]-a[k])*fx
		bottom := float64(a[k+floorSide]) + float64(a[k+floorSide+1]-a[k+floorSide])*fx
		return top + (bottom-top)*fy
	}
	return bi(m.sun), bi(m.sky)
}

// relight works out the light of all things and of the table.
func (s *scene) relight() {
	for i := range s.vertices {
		v := &s.vertices[i]
		v.sun, v.sky = s.relief.light(v.p, v.n)
	}
	s.floor = lightmap{make([]float32, floorSide*floorSide), make([]float32, floorSide*floorSide)}
	for j := range floorSide {
		for i := range floorSide {
			p := vec{float64(i*floorCell - reliefHalf), float64(j*floorCell - reliefHalf), 0}
			k := j*floorSide + i
			s.floor.sun[k], s.floor.sky[k] = s.relief.light(p, vec{0, 0, 1})
		}
	}
	smooth(s.floor.sun)
	smooth(s.floor.sky)
}

// smooth is a 1-2-1 average both ways over a lightmap: the cells of the relief
// would show as steps at the edges of shade.
func smooth(m []float32) {
	for _, by := range []int{1, floorSide} {
		prev := make([]float32, len(m))
		copy(prev, m)
		for i := by; i < len(m)-by; i++ {
			m[i] = (prev[i-by] + 2*prev[i] + prev[i+by]) / 4
		}
	}
}
