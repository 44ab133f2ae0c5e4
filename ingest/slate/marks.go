package slate

import (
	"encoding/binary"
	"math"
	"math/bits"
)

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
	edges := make([]int, 0, w+1) // where the row turns from light to dark and back, in parts of a pixel
	for y := step / 2; y < s.p.Height; y += step {
		row := s.p.Pix[y*w:][:w]
		cuts := s.t.cut[y/blockSide*s.t.cols:][:s.t.cols]
		edges = edges[:0]
		dark := uint(0)
		for bx, cut := range cuts {
			x0 := bx * blockSide
			var is uint // bit by bit: which pixels of the block are dark
			if x0+blockSide <= w {
				is = darker(binary.LittleEndian.Uint64(row[x0:]), cut)
			} else {
				for i, v := range row[x0:] {
					if v < cut {
						is |= 1 << i
					}
				}
				is |= -(is >> (w - x0 - 1) & 1) << (w - x0) & 0xff // beyond the row nothing turns
			}
			turns := is ^ (is<<1|dark)&0xff
			dark = is >> 7
			for ; turns != 0; turns &= turns - 1 {
				i := bits.TrailingZeros(turns)
				if x := x0 + i; x > 0 {
					edges = append(edges, parts*x+turn(row[x-1], row[x], cut))
				} else {
					edges = append(edges, 0)
				}
				if len(edges) < 6 || is>>i&1 == 1 {
					continue
				}
				e := (*[6]int)(edges[len(edges)-6:])
				unit, ok := ratio(e, 0)
				if !ok {
					continue
				}
				x, size := (e[2]+e[3])/2, float64(unit)/(12*parts)
				if !s.column(x/parts, y, size) {
					continue
				}
				if s.take(float64(x)/parts, float64(y)+0.5, size); len(s.marks) >= maxMarks {
					return
				}
			}
		}
	}
}

// column tells whether the column through a place may cross a mark there. It goes
// from pixel to pixel, and so is much cheaper than take, which looks closely.
func (s *seeker) column(x, y int, unit float64) bool {
	end := int(mostRun * longestOf(unit))
	var e [6]int
	for side, step := range [2]int{1, -1} {
		n, dark, last := 0, true, s.p.Pix[y*s.p.Width+x]
		for k := y + step; k >= 0 && k < s.p.Height && k != y+step*end && n < 3; k += step {
			v, cut := s.p.Pix[k*s.p.Width+x], s.t.at(x, k)
			if is := v < cut; is != dark {
				dark = is
				if n++; side == 0 {
					e[2+n] = parts*k + turn(last, v, cut)
				} else {
					e[3-n] = parts*(k+1) - turn(last, v, cut)
				}
			}
			last = v
		}
		if n < 3 {
			return false
		}
	}
	// The column goes by the middle by half a pixel perhaps.
	_, ok := ratio(&e, parts/4)
	return ok
}

// darker tells which of eight codes are less than cut, the first by the lowest
// bit: all are compared at once in their bytes.
func darker(eight uint64, cut uint8) uint {
	const ones, tops = 0x0101010101010101, 0x8080808080808080
	cuts := ones * uint64(cut)
	low := (eight | tops) - cuts&^tops // top bits: the low seven are not less
	least := (eight&^cuts | ^(eight^cuts)&low) & tops
	return uint((^least & tops) >> 7 * 0x0102040810204080 >> 56)
}

// parts are those of a pixel in which edges are counted.
const parts = 256

// shares are parts/d for differences of two codes, with 12 bits more.
var shares = func() (t [256]int) {
	for d := 1; d < len(t); d++ {
		t[d] = parts << 12 / d
	}
	return t
}()

// turn is where a line turns between two pixels, in parts from where they meet:
// where the cut is met between their middles.
func turn(before, after, cut uint8) int {
	a, d := int(before)-int(cut), int(before)-int(after)
	if d < 0 {
		a, d = -a, -d
	}
	if a < 0 || a > d { // each has another cut
		return 0
	}
	return a*shares[d]>>12 - parts/2
}

// ratio tells whether six edges, in parts of a pixel, part a line as a mark does,
// and twelve times the length of a module on it; more is slack that is given
// besides. Print that bleeds, light that floods and blur move all edges of dark
// towards light or back alike: distances of edges that turn the same way don't
// mind.
func ratio(e *[6]int, more int) (twelve int, ok bool) {
	twelve = e[4] - e[0] + e[5] - e[1]
	off := func(from, to, units int) int { d := 12*(e[to]-e[from]) - units*twelve; return max(d, -d) }
	slack := twelve/2 + 12*(parts*2/5+more)
	middle := 60 * (e[3] - e[2])
	return twelve, twelve > 12*parts*9/10 &&
		off(0, 2, 2) < slack && off(3, 5, 2) < slack && off(1, 3, 4) < slack && off(2, 4, 4) < slack &&
		middle > 8*twelve && middle < 22*twelve &&
		6*(e[1]-e[0]) < twelve && 6*(e[5]-e[4]) < twelve
}

// mostRun is how many modules lie between the middle of a mark and its edge, and
// a quarter more.
const mostRun = 4.4

// longestOf is the most that a module takes down where it takes unit along: marks
// are tilted.
func longestOf(unit float64) float64 { return 8 * unit }

// take confirms what a row showed at (x, y) and keeps it.
func (s *seeker) take(x, y, unit float64) {
	for i := range s.marks {
		if m := &s.marks[i]; math.Hypot(m.x-x, m.y-y) < 2.5*max(m.unit, unit) {
			m.hits++
			return
		}
	}
	down, at, ok := s.across(x, y, 0, 1, longestOf(unit))
	if !ok {
		return
	}
	y += at
	along, at, ok := s.across(x, y, 1, 0, longestOf(unit))
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
		var e [6]int
		if !s.walk(x, y, -cos, -sin, longest, func(k int, r float64) { e[2-k] = -int(parts * r) }) ||
			!s.walk(x, y, cos, sin, longest, func(k int, r float64) { e[3+k] = int(parts * r) }) {
			return false
		}
		sum := e[0] + e[1] + e[2] + e[3] + e[4] + e[5]
		if twelve, ok := ratio(&e, 0); !ok || 2*max(sum, -sum) > twelve {
			return false
		}
		for _, k := range [2]int{0, 3} { // the two sides
			between := float64(e[1]+e[2]) / (2 * parts)
			if k == 3 {
				between = float64(e[3]+e[4]) / (2 * parts)
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
	var e [6]int
	if !s.walk(x, y, -dx, -dy, longest, func(i int, r float64) { e[2-i] = -int(parts * r) }) ||
		!s.walk(x, y, dx, dy, longest, func(i int, r float64) { e[3+i] = int(parts * r) }) {
		return 0, 0, false
	}
	twelve, ok := ratio(&e, 0)
	unit = float64(twelve) / (12 * parts)
	return unit, float64(e[0]+e[1]+e[2]+e[3]+e[4]+e[5]) / (6 * parts), ok && unit < longest
}

// walk goes from (x, y) out of a mark and says where the first three edges are:
// out of its middle, into its ring, out of that.
func (s *seeker) walk(x, y, dx, dy, longest float64, edge func(i int, r float64)) bool {
	const pace = 0.5 // pixels
	before := s.over(x, y)
	if before >= 0 {
		return false
	}
	end := mostRun * longest
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
	return s.p.at(x, y) - float64(s.t.at(ix, iy)) + 1e-6
}
