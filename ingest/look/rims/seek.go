package rims

import (
	"cmp"
	"math"
	"slices"
)

// seek finds the ellipses of a plane, and its straight edges.
func seek(p plane, c coarse) ([]ellipse, []Line) {
	e := edgesOf(p)
	chains := e.chains()
	arcs := arcsOf(chains, p.w, p.h, c.arcs)
	proposed := propose(arcs, p.w, p.h, c)

	for i := range proposed {
		e.trace(&proposed[i], quickSamples, nil)
		proposed[i].merit = proposed[i].cover * math.Sqrt(proposed[i].support)
	}
	slices.SortStableFunc(proposed, func(a, b ellipse) int { return cmp.Compare(b.merit, a.merit) })
	const mostTried = 120
	var tried []ellipse
	for _, x := range proposed {
		if x.cover < 0.18 || x.support < 0.25 {
			continue
		}
		if !slices.ContainsFunc(tried, func(k ellipse) bool { return same(x, k, 0.06) }) {
			tried = append(tried, x)
			if len(tried) == mostTried {
				break
			}
		}
	}
	short := float64(min(p.w, p.h))
	var held []ellipse
	for _, x := range tried {
		for _, reach := range []float64{4, 2.5, 2, 1.6} {
			y, ok := e.refit(x, reach)
			if !ok || !plausible(y, p.w, p.h, c) {
				break
			}
			x = y
		}
		e.trace(&x, samples, nil)
		if x.cover < 0.28 || x.support < 0.40 || x.sectors < 6 {
			continue
		}
		x.merit = x.cover * math.Sqrt(x.support) * math.Sqrt(min(1, x.a/short))
		held = append(held, x)
	}
	slices.SortStableFunc(held, func(a, b ellipse) int { return cmp.Compare(b.merit, a.merit) })
	var out []ellipse
	for _, x := range held {
		if !slices.ContainsFunc(out, func(k ellipse) bool { return same(x, k, 0.035) }) {
			out = append(out, x)
			if len(out) == mostRims {
				break
			}
		}
	}
	return out, linesOf(chains, p.w, p.h)
}

// mostProposed bounds the ellipses that are traced. Photographs propose some
// hundreds; pairs are taken by weight of their first arc, so that what is left
// out is small.
const mostProposed = 3000

// propose fits ellipses to single arcs and to pairs of arcs.
func propose(arcs []arc, w, h int, c coarse) []ellipse {
	f := frameOf(w, h)
	var out []ellipse
	short := float64(min(w, h))
	for i := range arcs {
		if len(out) > mostProposed-len(arcs) { // arc i adds no more than this
			break
		}
		a := &arcs[i]
		if a.turn > 1.5 {
			if e, ok := a.sums.fit(f); ok && plausible(e, w, h, c) && a.on(&e) {
				out = append(out, e)
			}
		}
		for j := i + 1; j < len(arcs); j++ {
			b := &arcs[j]
			if a.turn+b.turn < 0.9 || a.length+b.length < 0.14*short {
				continue
			}
			if a.bright != b.bright && min(a.turn, b.turn) < 0.6 {
				continue
			}
			if !a.hollow(b.ends[1]) || !b.hollow(a.ends[1]) || !a.hollow(b.ends[0]) || !a.hollow(b.ends[2]) ||
				!b.hollow(a.ends[0]) || !b.hollow(a.ends[2]) {
				continue
			}
			// By roots of lengths, so that the shorter arc is heard.
			ra, rb := math.Sqrt(a.length), math.Sqrt(b.length)
			wa, wb := ra/(ra+rb)*100/a.sums[0], rb/(ra+rb)*100/b.sums[0]
			var m moments
			for k := range m {
				m[k] = wa*a.sums[k] + wb*b.sums[k]
			}
			if e, ok := m.fit(f); ok && plausible(e, w, h, c) && a.on(&e) && b.on(&e) {
				out = append(out, e)
			}
		}
	}
	return out
}

// plausible tells whether e may be a vessel of the picture.
func plausible(e ellipse, w, h int, c coarse) bool {
	if !(e.a >= c.least*float64(min(w, h)) && e.a <= 1.1*float64(max(w, h)) && e.b >= 0.07*e.a && e.b >= 5) {
		return false
	}
	x, y := e.x/float64(w), e.y/float64(h)
	return x >= -0.3 && x <= 1.3 && y >= -0.3 && y <= 1.3
}

// on tells whether the arc runs along e: of nine points one may miss.
func (a *arc) on(e *ellipse) bool {
	missed := 0
	reach := 1.5 + 0.006*e.a
	for i := range 9 {
		p := a.p[i*(len(a.p)-1)/8]
		d, nx, ny := e.away(float64(p.x), float64(p.y))
		if math.Abs(d) > reach || math.Abs(float64(p.nx)*nx+float64(p.ny)*ny) < 0.87 {
			if missed++; missed > 1 {
				return false
			}
		}
	}
	return true
}

const (
	samples      = 180 // round an ellipse that is measured
	quickSamples = 60  // and one that is only tried
	sectors      = 24
)

// round calls at with n points spread evenly along e: their place, the outward
// normal, and their number.
func (e *ellipse) round(n int, at func(i int, x, y, nx, ny float64)) {
	const parts = 96
	var upTo [parts + 1]float64
	for i := range parts {
		s, c := circle[i][0], circle[i][1]
		upTo[i+1] = upTo[i] + math.Sqrt(e.a*e.a*s*s+e.b*e.b*c*c)
	}
	j := 0
	ia, ib := 1/e.a, 1/e.b
	for i := range n {
		want := upTo[parts] * (float64(i) + 0.5) / float64(n)
		for j < parts-1 && upTo[j+1] < want {
			j++
		}
		t := 2 * math.Pi / parts * (float64(j) + (want-upTo[j])/(upTo[j+1]-upTo[j]))
		s, c := math.Sincos(t)
		u, v := e.a*c, e.b*s
		gu, gv := c*ia, s*ib
		g := 1 / math.Sqrt(gu*gu+gv*gv)
		gu, gv = gu*g, gv*g
		at(i, e.x+u*e.cos-v*e.sin, e.y+u*e.sin+v*e.cos, gu*e.cos-gv*e.sin, gu*e.sin+gv*e.cos)
	}
}

// circle holds sine and cosine in the middle of 96 parts of the circle.
var circle = func() (t [96][2]float64) {
	for i := range t {
		t[i][0], t[i][1] = math.Sincos(2 * math.Pi * (float64(i) + 0.5) / 96)
	}
	return t
}()

// near returns the edge point nearest to (x, y) along the normal, within
// reach and running within acos(like) of it.
func (e *edges) near(x, y, nx, ny, reach, like float64) (point, bool) {
	best := reach + 0.75
	var found point
	ok := false
	for k := -reach; k <= reach+0.01; k += 0.8 {
		px, py := int(x+k*nx+0.5), int(y+k*ny+0.5)
		if px < 2 || py < 2 || px >= e.w-2 || py >= e.h-2 {
			continue
		}
		i := e.at[py*e.w+px]
		if i == 0 {
			continue
		}
		p := e.points[i-1]
		if math.Abs(float64(p.nx)*nx+float64(p.ny)*ny) < like {
			continue
		}
		if d := math.Abs((float64(p.x)-x)*nx + (float64(p.y)-y)*ny); d < best {
			best, found, ok = d, p, true
		}
	}
	return found, ok
}

// trace measures how far an edge runs along x, on n samples.
func (e *edges) trace(x *ellipse, n int, on func(i int, p point)) {
	inside, traced := 0, 0
	var hit, of [sectors]int
	x.round(n, func(i int, px, py, nx, ny float64) {
		of[i*sectors/n]++
		if px < 3 || py < 3 || px > float64(e.w-4) || py > float64(e.h-4) {
			return
		}
		inside++
		if p, ok := e.near(px, py, nx, ny, 1.6, 0.92); ok {
			traced++
			hit[i*sectors/n]++
			if on != nil {
				on(i, p)
			}
		}
	})
	x.cover, x.inside, x.support, x.sectors = float64(traced)/float64(n), float64(inside)/float64(n), 0, 0
	if inside > 0 {
		x.support = float64(traced) / float64(inside)
	}
	for k := range hit {
		if 2*hit[k] >= of[k] && of[k] > 0 {
			x.sectors++
		}
	}
}

// refit fits the ellipse anew to the edge points within reach of x.
func (e *edges) refit(x ellipse, reach float64) (ellipse, bool) {
	n := int(min(360, max(60, math.Pi*(x.a+x.b)/3)))
	f := frameOf(e.w, e.h)
	var m moments
	x.round(n, func(_ int, px, py, nx, ny float64) {
		if px < 3 || py < 3 || px > float64(e.w-4) || py > float64(e.h-4) {
			return
		}
		if p, ok := e.near(px, py, nx, ny, reach, 0.87); ok {
			m.add(f.x(float64(p.x)), f.y(float64(p.y)))
		}
	})
	if m[0] < 12 {
		return x, false
	}
	return m.fit(f)
}
