package rims

import (
	"math"
	"testing"
)

// The blur keeps a plain picture as it is and spreads a point to a deviation
// of √2 pixels, the binomial's of 8 (n/4 = 2).
func TestBlur(t *testing.T) {
	const n = 21
	flat, dot := plane{n, n, make([]uint64, n*n)}, plane{n, n, make([]uint64, n*n)}
	for i := range flat.pix {
		flat.pix[i] = 255 << fraction * ones
	}
	for i, v := range flat.blurred().pix {
		if v != 255<<(fraction+8)*ones {
			t.Fatalf("pixel %d of a white picture: %x", i, v)
		}
	}
	dot.pix[10*n+10] = 255 << fraction
	var sum, square float64
	for i, v := range dot.blurred().pix {
		x := float64(i%n - 10)
		sum += float64(v)
		square += x * x * float64(v)
	}
	// Roundings of the first pass are of a few parts in a thousand.
	if got := square / sum; !(math.Abs(got-2) <= 0.02) {
		t.Errorf("variance %.4f, want 2", got)
	}
	if !(math.Abs(sum/(255<<(fraction+8))-1) <= 0.01) {
		t.Errorf("light %.4f of what there was", sum/(255<<(fraction+8)))
	}
}

// Shrinking keeps the mean, field by field.
func TestShrinkKeepsTheMean(t *testing.T) {
	const w, h = 977, 613
	p := Picture{w, h, make([]uint8, 4*w*h)}
	var want [3]float64
	for i := range w * h {
		for c := range 3 {
			p.Pix[4*i+c] = uint8((i*(7+c) + i/w*13) % 251)
			want[c] += float64(p.Pix[4*i+c]) / (w * h)
		}
	}
	s := shrink(p, fullSide)
	if s.w != 640 || s.h != 402 {
		t.Fatalf("%d × %d", s.w, s.h)
	}
	for c := range 3 {
		got := 0.0
		for _, v := range s.pix {
			got += float64(v>>(field*c)&fields) / (1 << fraction) / float64(len(s.pix))
		}
		if !(math.Abs(got-want[c]) <= 0.2) {
			t.Errorf("channel %d: mean %.3f, want %.3f", c, got, want[c])
		}
	}
}

// An edge is placed to a tenth of a pixel.
func TestEdgePlace(t *testing.T) {
	for _, at := range []float64{30, 30.25, 30.5, 30.7} {
		const w, h = 64, 64
		p := Picture{w, h, make([]uint8, 4*w*h)}
		for i := range w * h {
			light := min(1, max(0, float64(i%w)+1-at)) // pixel x reaches from x to x + 1
			for c := range 3 {
				p.Pix[4*i+c] = uint8(40 + 160*light)
			}
		}
		e := edgesOf(shrink(p, fullSide))
		if len(e.points) < h-6 {
			t.Fatalf("%d edge points", len(e.points))
		}
		for _, q := range e.points {
			if got := float64(q.x) + 0.5; !(math.Abs(got-at) <= 0.1) || !(q.nx > 0.99) {
				t.Fatalf("edge at %.2f found at %.3f, growing towards %.2f, %.2f", at, got, q.nx, q.ny)
			}
		}
	}
}

// Points of an ellipse, a part of it alone too, give that ellipse.
func TestFitIsExact(t *testing.T) {
	for _, turns := range []float64{2 * math.Pi, 2.5} {
		want := ellipse{x: 300, y: 210, a: 170, b: 90, turn: 0.4}
		f := frameOf(640, 427)
		var m moments
		sin, cos := math.Sincos(want.turn)
		for i := range 200 {
			s, c := math.Sincos(turns * float64(i) / 200)
			u, v := want.a*c, want.b*s
			m.add(f.x(want.x+u*cos-v*sin), f.y(want.y+u*sin+v*cos))
		}
		e, ok := m.fit(f)
		if tol := 1e-3; !ok || !(math.Abs(e.x-want.x) < tol && math.Abs(e.y-want.y) < tol && math.Abs(e.a-want.a) < tol && math.Abs(e.b-want.b) < tol && math.Abs(e.turn-want.turn) < tol) {
			t.Errorf("over %.1f radians: %+v %v, want %+v", turns, e, ok, want)
		}
	}
	// A hyperbola's points have no such ellipse near them; a line's none.
	var line moments
	for i := range 50 {
		line.add(float64(i)/50, 0.3)
	}
	if e, ok := line.fit(frameOf(640, 427)); ok {
		t.Errorf("a line gives %+v", e)
	}
}

// A rim whose far half is lost in the ground is traced by half.
func TestSupportCountsWhatIsTraced(t *testing.T) {
	p := disc(640, 427, 320, 213, 180, 150, 0)
	for y := range 190 {
		for x := range 640 {
			for c := range 3 {
				p.Pix[4*(y*640+x)+c] = 60
			}
		}
	}
	for y := 190; y < 230; y++ { // fading in, without an edge of its own
		for x := range 640 {
			for c := range 3 {
				q := &p.Pix[4*(y*640+x)+c]
				*q = uint8(60 + (float64(*q)-60)*float64(y-190)/40)
			}
		}
	}
	e := edgesOf(shrink(p, fullSide))
	x := ellipse{x: 319.5, y: 212.5, a: 180, b: 150, cos: 1}
	e.trace(&x, samples, nil)
	if !(x.support > 0.4 && x.support < 0.6 && x.inside == 1 && x.cover == x.support) || x.sectors < 9 || x.sectors > 15 {
		t.Errorf("%+v, want about half traced", x)
	}
	// Half outside of the picture: half is covered, and all that can be is traced.
	cut := disc(640, 427, 0, 213, 180, 150, 0)
	e = edgesOf(shrink(cut, fullSide))
	x = ellipse{x: -0.5, y: 212.5, a: 180, b: 150, cos: 1}
	e.trace(&x, samples, nil)
	if !(math.Abs(x.inside-0.5) < 0.03 && math.Abs(x.cover-0.5) < 0.03 && x.support > 0.97) {
		t.Errorf("%+v, want half inside and that traced", x)
	}
}

// The threshold is a little above the mean step around, between its bounds.
func TestThresholds(t *testing.T) {
	const w, h = 160, 100
	cw, ch := (w+cell-1)/cell, (h+cell-1)/cell
	for _, c := range []struct{ mean, want float32 }{{0, 1.4}, {1, 1.4}, {3, 3.3}, {4, 4.4}, {20, 5}} {
		sums := make([]float32, cw*ch)
		for i := range sums {
			sums[i] = c.mean * cell * cell
		}
		for i, got := range thresholds(sums, cw, ch, w, h) {
			if !(abs(got-c.want) <= 1e-4) {
				t.Fatalf("mean step %g: cell %d has %g, want %g", c.mean, i, got, c.want)
			}
		}
	}
}

// A rim is surer the larger it is and the more of it is traced, and less sure
// where it leans, unless it is too round to lean.
func TestScore(t *testing.T) {
	const short = 400
	base := ellipse{a: 180, b: 120, cover: 0.9, support: 0.9}
	with := func(change func(*ellipse)) float64 {
		e := base
		change(&e)
		return score(e, short)
	}
	whole := score(base, short)
	if !(math.Abs(whole-0.81) <= 1e-12) { // as large as counts, level
		t.Errorf("score %.4f, want cover times support", whole)
	}
	for _, c := range []struct {
		name   string
		change func(*ellipse)
		want   float64 // of whole
	}{
		{"a quarter as large", func(e *ellipse) { e.a, e.b = e.a/4, e.b/4 }, 0.5},
		{"larger still", func(e *ellipse) { e.a, e.b = e.a*1.5, e.b*1.5 }, 1},
		{"half covered", func(e *ellipse) { e.cover /= 2 }, 0.5},
		{"leaning by 17°", func(e *ellipse) { e.turn = 17 * math.Pi / 180 }, 1 - 0.5*0.5*2/3},
		{"leaning the other way", func(e *ellipse) { e.turn = -17 * math.Pi / 180 }, 1 - 0.5*0.5*2/3},
		{"standing on end", func(e *ellipse) { e.turn = math.Pi / 2 }, 0.5},
		{"round, whichever way", func(e *ellipse) { e.b, e.turn = e.a, math.Pi/2 }, 1},
	} {
		if got := with(c.change) / whole; !(math.Abs(got-c.want) <= 1e-9) {
			t.Errorf("%s: %.4f of the score, want %.4f", c.name, got, c.want)
		}
	}
}

// Edges that run across an ellipse don't trace it.
func TestStripesTraceNoRim(t *testing.T) {
	const w, h = 640, 427
	p := Picture{w, h, make([]uint8, 4*w*h)}
	for i := range w * h {
		v := uint8(60 + 120*(i%w/6%2))
		p.Pix[4*i], p.Pix[4*i+1], p.Pix[4*i+2] = v, v, v
	}
	e := edgesOf(shrink(p, fullSide))
	x := ellipse{x: 319.5, y: 212.5, a: 180, b: 150, cos: 1}
	e.trace(&x, samples, nil)
	// Within acos 0.92 = 23° of upright lie a quarter of the directions of a
	// circle, somewhat less of this ellipse.
	if !(x.support > 0.1 && x.support < 0.3) {
		t.Errorf("stripes trace %.2f of an ellipse, want some 0.25", x.support)
	}
}
