package rims

import (
	"cmp"
	"math"
	"slices"
)

// arc is a run of edge points that turns one way.
type arc struct {
	p        []point
	length   float64 // pixels
	turn     float64 // radians, ≥ 0
	side     float64 // +1 where it turns from x towards y, −1 the other way
	bright   bool    // it is brighter on its hollow side
	sums     moments
	ends     [3][2]float64 // start, middle, end
	tangents [3][2]float64 // there, unit, along the arc
}

// arcsOf splits the chains into arcs, the weightiest first, most at most.
func arcsOf(chains [][]point, w, h, most int) []arc {
	var arcs []arc
	var corners []int
	var turns []float64
	long := 0.22 * float64(max(w, h))
	for _, ch := range chains {
		if len(ch) < shortestArc {
			continue
		}
		corners = append(polyline(ch, 0, len(ch)-1, append(corners[:0], 0)), len(ch)-1)
		n := len(corners) - 1 // straight pieces
		if n < 2 {
			continue
		}
		turns = append(turns[:0], 0)
		for k := 1; k < n; k++ {
			turns = append(turns, turnAt(ch[corners[k-1]], ch[corners[k]], ch[corners[k+1]]))
		}
		piece := func(k int) float64 { return distance(ch[corners[k]], ch[corners[k+1]]) }
		first, sign := 0, 0.0
		flush := func(last int) {
			total := 0.0
			for k := first + 1; k <= last; k++ {
				total += turns[k]
			}
			p := ch[corners[first] : corners[last+1]+1]
			if len(p) >= shortestArc && math.Abs(total) > 0.2 {
				arcs = append(arcs, newArc(p, total, w, h))
			}
		}
		for k := 1; k < n; k++ {
			t := turns[k]
			a, b := piece(k-1), piece(k)
			if math.Abs(t) > 0.95 || t*sign < 0 && math.Abs(t) > 0.05 || a > long && b < a/3 || b > long && a < b/3 {
				flush(k - 1)
				first, sign = k, 0
			} else if math.Abs(t) > 0.05 {
				sign = t
			}
		}
		flush(n - 1)
	}
	weight := func(a arc) float64 { return a.length * min(a.turn, 2) }
	slices.SortStableFunc(arcs, func(a, b arc) int { return cmp.Compare(weight(b), weight(a)) })
	if len(arcs) > most {
		arcs = arcs[:most]
	}
	for i := range arcs {
		arcs[i].describe(w, h)
	}
	return arcs
}

func distance(a, b point) float64 { return math.Hypot(float64(b.x-a.x), float64(b.y-a.y)) }

// turnAt is the angle in radians by which the way a → b → c turns at b.
func turnAt(a, b, c point) float64 {
	x1, y1 := float64(b.x-a.x), float64(b.y-a.y)
	x2, y2 := float64(c.x-b.x), float64(c.y-b.y)
	return math.Atan2(x1*y2-y1*x2, x1*x2+y1*y2)
}

// polyline appends the corners between first and last of the polyline that
// keeps within 1.3 pixels of the chain (Ramer 1972, Douglas and Peucker 1973).
func polyline(p []point, first, last int, corners []int) []int {
	if last-first < 2 {
		return corners
	}
	x0, y0 := float64(p[first].x), float64(p[first].y)
	dx, dy := float64(p[last].x)-x0, float64(p[last].y)-y0
	l := math.Hypot(dx, dy)
	most, at := 0.0, -1
	for i := first + 1; i < last; i++ {
		x, y := float64(p[i].x)-x0, float64(p[i].y)-y0
		d := math.Hypot(x, y)
		if l >= 1e-6 {
			d = math.Abs(x*dy-y*dx) / l
		}
		if d > most {
			most, at = d, i
		}
	}
	if most <= 1.3 {
		return corners
	}
	corners = append(polyline(p, first, at, corners), at)
	return polyline(p, at, last, corners)
}

func newArc(p []point, turn float64, w, h int) arc {
	a := arc{p: p, turn: math.Abs(turn), side: math.Copysign(1, turn)}
	for i := 1; i < len(p); i++ {
		a.length += distance(p[i-1], p[i])
	}
	return a
}

// describe fills in what pairing needs.
func (a *arc) describe(w, h int) {
	p := a.p
	n := len(p)
	tangent := func(i, j int) [2]float64 {
		dx, dy := float64(p[j].x-p[i].x), float64(p[j].y-p[i].y)
		l := math.Hypot(dx, dy) + 1e-9
		return [2]float64{dx / l, dy / l}
	}
	k := min(max(6, min(20, n/5)), n-1)
	a.tangents = [3][2]float64{tangent(0, k), tangent(max(0, n/2-k/2-1), min(n-1, n/2+k/2+1)), tangent(n-1-k, n-1)}
	for i, at := range [3]int{0, n / 2, n - 1} {
		a.ends[i] = [2]float64{float64(p[at].x), float64(p[at].y)}
	}
	hx, hy := -a.tangents[1][1]*a.side, a.tangents[1][0]*a.side // to the hollow side
	votes := 0
	for i := 0; i < n; i += 3 {
		if float64(p[i].nx)*hx+float64(p[i].ny)*hy < 0 {
			votes--
		} else {
			votes++
		}
	}
	a.bright = votes >= 0
	f := frameOf(w, h)
	for i := 0; i < n; i += n/60 + 1 {
		a.sums.add(f.x(float64(p[i].x)), f.y(float64(p[i].y)))
	}
}

// hollow tells whether a point lies on the hollow side of the arc, with some
// slack.
func (a *arc) hollow(p [2]float64) bool {
	for i, t := range a.tangents {
		dx, dy := p[0]-a.ends[i][0], p[1]-a.ends[i][1]
		d := (dy*t[0] - dx*t[1]) * a.side
		if d < -2 {
			if d += 2; d*d > 0.01*(dx*dx+dy*dy) {
				return false
			}
		}
	}
	return true
}
