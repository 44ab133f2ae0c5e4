package slate

import "math"

// mark is a corner mark of a code (ISO/IEC 18004 calls it a finder pattern): a
// dark square of 3 modules in a light one of 5 in a dark one of 7, so that any
// line through its middle is cut 1 : 1 : 3 : 1 : 1.
type mark struct {
	x, y float64 // its middle, pixels
	unit float64 // a module, pixels, the mean of several directions
	hits int     // lines that it was seen on
}

// sighting is a mark in pixels of the picture that is read, and by whom it was
// seen: under the same threshold it can be measured again.
type sighting struct {
	mark
	by    *seeker
	own   mark    // in pixels of by's picture
	scale float64 // of by's pixels
}

// module is the length of a module of a mark along a direction.
func (m sighting) module(dx, dy float64) (unit float64, ok bool) {
	unit, _, ok = m.by.across(m.own.x, m.own.y, dx, dy, 5*m.own.unit)
	return m.scale * unit, ok
}

// seeker looks for marks in one picture under one threshold.
type seeker struct {
	p      Picture
	t      threshold
	strict bool // marks must be even, as in the pre-check
	marks  []mark
}

// maxMarks bounds the marks that are kept of one pass: a picture of checks has
// thousands, and no code among them.
const maxMarks = 90

// seek looks at each step-th row for runs of 1 : 1 : 3 : 1 : 1.
func (s *seeker) seek(step int) {
	w := s.p.Width
	for y := step / 2; y < s.p.Height; y += step {
		row := s.p.Pix[y*w:][:w]
		cuts := s.t.cut[y/blockSide*s.t.cols:][:s.t.cols]
		// Where the row turned from light to dark and back, the last six times.
		var edge [6]float64
		n := 0
		dark := false
		for bx, cut := range cuts {
			x0 := bx * blockSide
			for i, v := range row[x0:min(w, x0+blockSide)] {
				if (v < cut) == dark {
					continue
				}
				x := x0 + i
				dark = !dark
				at := float64(x)
				if x > 0 { // between the two pixels, where the cut is met
					a, b := float64(row[x-1])-float64(cut), float64(v)-float64(cut)
					if f := a / (a - b); f >= 0 && f <= 1 {
						at += f - 0.5
					}
				}
				copy(edge[:], edge[1:])
				edge[5] = at
				if n++; n < 6 || dark {
					continue
				}
				if unit, ok := ratio(&edge); ok {
					if s.take((edge[2]+edge[3])/2, float64(y)+0.5, unit); len(s.marks) >= maxMarks {
						return
					}
				}
			}
		}
	}
}

// ratio tells whether six edges part a line as a mark does, and the length of a
// module on it. Print that bleeds, light that floods and blur move all edges of
// dark towards light or back alike: distances of edges that turn the same way
// don't mind.
func ratio(e *[6]float64) (unit float64, ok bool) {
	unit = ((e[4] - e[0]) + (e[5] - e[1])) / 12
	slack := 0.5*unit + 0.4
	return unit, unit > 0.9 &&
		math.Abs(e[2]-e[0]-2*unit) < slack && math.Abs(e[3]-e[1]-4*unit) < slack &&
		math.Abs(e[4]-e[2]-4*unit) < slack && math.Abs(e[5]-e[3]-2*unit) < slack &&
		e[3]-e[2] > 1.6*unit && e[3]-e[2] < 4.4*unit &&
		e[1]-e[0] < 2*unit && e[5]-e[4] < 2*unit
}

// take confirms what a row showed at (x, y) and keeps it.
func (s *seeker) take(x, y, unit float64) {
	for i := range s.marks {
		if m := &s.marks[i]; math.Hypot(m.x-x, m.y-y) < 2.5*max(m.unit, unit) {
			m.hits++
			return
		}
	}
	down, at, ok := s.across(x, y, 0, 1, 8*unit)
	if !ok {
		return
	}
	y += at
	along, at, ok := s.across(x, y, 1, 0, 8*unit)
	if !ok {
		return
	}
	x += at
	const half = math.Sqrt2 / 2
	longest := 2 * math.Sqrt2 * 2 * max(down, along)
	one, off1, ok1 := s.across(x, y, half, half, longest)
	if !ok1 {
		return
	}
	other, off2, ok2 := s.across(x, y, half, -half, longest)
	if !ok2 || math.Abs(off1) > one || math.Abs(off2) > other || s.strict && !s.even(x, y, longest) {
		return
	}
	s.marks = append(s.marks, mark{x: x, y: y, unit: (down + along + (one+other)/math.Sqrt2) / 4, hits: 1})
}

// even tells whether what seems a mark at (x, y) is one in four more directions,
// and is printed evenly: what is light between its middle and its ring is so all
// round, with two fifths of the most contrast at least. Crumbs, leaves and letters
// that are cut 1 : 1 : 3 : 1 : 1 by chance are not.
func (s *seeker) even(x, y, longest float64) bool {
	centre := s.p.at(x, y)
	var light [16]float64
	n := 0
	for i := range 8 {
		sin, cos := math.Sincos(float64(i) * math.Pi / 8)
		var e [6]float64
		if !s.walk(x, y, -cos, -sin, longest, func(k int, r float64) { e[2-k] = -r }) ||
			!s.walk(x, y, cos, sin, longest, func(k int, r float64) { e[3+k] = r }) {
			return false
		}
		if unit, ok := ratio(&e); !ok || math.Abs(e[0]+e[1]+e[2]+e[3]+e[4]+e[5])/6 > unit {
			return false
		}
		for _, k := range [2]int{0, 3} { // the two sides
			between := (e[1] + e[2]) / 2
			if k == 3 {
				between = (e[3] + e[4]) / 2
			}
			light[n] = s.p.at(x+between*cos, y+between*sin)
			n++
		}
	}
	lightest, leastLight := light[0], light[0]
	for i := range light {
		lightest, leastLight = max(lightest, light[i]), min(leastLight, light[i])
	}
	return leastLight-centre > 0.4*(lightest-centre)
}

// across walks from (x, y) both ways along a direction of length 1 and tells
// whether it crosses a mark, the length of a module that way, and how far along
// the direction the middle lies. longest is the most that a module may take.
func (s *seeker) across(x, y, dx, dy, longest float64) (unit, middle float64, ok bool) {
	var e [6]float64
	if !s.walk(x, y, -dx, -dy, longest, func(i int, r float64) { e[2-i] = -r }) ||
		!s.walk(x, y, dx, dy, longest, func(i int, r float64) { e[3+i] = r }) {
		return 0, 0, false
	}
	unit, ok = ratio(&e)
	return unit, (e[0] + e[1] + e[2] + e[3] + e[4] + e[5]) / 6, ok && unit < longest
}

// walk goes from (x, y) out of a mark and says where the first three edges are:
// out of its middle, into its ring, out of that.
func (s *seeker) walk(x, y, dx, dy, longest float64, edge func(i int, r float64)) bool {
	const pace = 0.5 // pixels
	before := s.over(x, y)
	if before >= 0 {
		return false
	}
	// No run of a mark is longer than its middle's 3 modules.
	end := 4.4 * longest
	for i, r := 0, pace; r < end; r += pace {
		px, py := x+r*dx, y+r*dy
		if px < 0 || py < 0 || px >= float64(s.p.Width) || py >= float64(s.p.Height) {
			return false
		}
		now := s.over(px, py)
		if (now < 0) != (before < 0) {
			edge(i, r-pace*now/(now-before))
			if i++; i == 3 {
				return true
			}
		}
		before = now
	}
	return false
}

// over is by how much a place is lighter than its cut.
func (s *seeker) over(x, y float64) float64 {
	ix, iy := min(int(x), s.p.Width-1), min(int(y), s.p.Height-1)
	return s.p.at(x, y) - float64(s.t.cut[iy/blockSide*s.t.cols+ix/blockSide]) + 1e-6
}
