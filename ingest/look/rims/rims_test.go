package rims

import (
	"math"
	"slices"
	"testing"
)

// disc paints a light ellipse on a dark ground, antialiased by 8 × 8 samples.
func disc(w, h int, x, y, a, b, turn float64) Picture {
	p := Picture{w, h, make([]uint8, 4*w*h)}
	sin, cos := math.Sincos(turn * math.Pi / 180)
	for py := range h {
		for px := range w {
			in := 0
			for s := range 64 {
				dx := float64(px) + (float64(s%8)+0.5)/8 - x
				dy := float64(py) + (float64(s/8)+0.5)/8 - y
				u, v := (dx*cos+dy*sin)/a, (dy*cos-dx*sin)/b
				if u*u+v*v <= 1 {
					in++
				}
			}
			v := uint8(60 + 150*in/64)
			i := 4 * (py*w + px)
			p.Pix[i], p.Pix[i+1], p.Pix[i+2], p.Pix[i+3] = v, v, v, 255
		}
	}
	return p
}

func TestDiscIsFound(t *testing.T) {
	for _, c := range []struct {
		name             string
		w, h             int
		x, y, a, b, turn float64
	}{
		{"round", 640, 427, 320, 210, 150, 150, 0},
		{"three-quarter", 640, 427, 300, 220, 180, 120, 4},
		{"leaning", 640, 427, 300, 220, 150, 80, -30},
		{"flat", 640, 427, 300, 220, 180, 30, 0},
		{"cut by the edge", 640, 427, 80, 220, 150, 110, 0},
		{"portrait, to be brought down", 800, 1200, 400, 640, 300, 280, 0},
		{"small", 320, 200, 150, 90, 40, 30, 0},
	} {
		found, _ := Find(disc(c.w, c.h, c.x, c.y, c.a, c.b, c.turn))
		if len(found) == 0 {
			t.Errorf("%s: no rim", c.name)
			continue
		}
		r, w := found[0], float64(c.w)
		lean := math.Remainder(r.Turn-c.turn, 180)
		if c.a == c.b {
			lean = 0
		}
		// Some tenths of a pixel of the picture it is brought down to.
		if tol := 0.4; !(math.Abs(r.X*w-c.x) < tol && math.Abs(r.Y*w-c.y) < tol && math.Abs(r.A*w-c.a) < tol && math.Abs(r.B*w-c.b) < tol && math.Abs(lean) < 1) {
			t.Errorf("%s: found %.2f,%.2f %.2f×%.2f at %.1f°, want %+v", c.name, r.X*w, r.Y*w, r.A*w, r.B*w, r.Turn, c)
		}
		if !(r.Support > 0.9) {
			t.Errorf("%s: support %.2f, want nearly all", c.name, r.Support)
		}
	}
}

// What is no picture, or too small to show a vessel, has no rims.
func TestNothingToSee(t *testing.T) {
	for _, p := range []Picture{{}, {Width: -3, Height: 4}, {Width: 100, Height: 100, Pix: make([]uint8, 40)}, {Width: 30, Height: 30, Pix: make([]uint8, 3600)},
		{Width: 100000, Height: 1, Pix: make([]uint8, 400000)}, {Width: 1, Height: 100000, Pix: make([]uint8, 400000)}, {Width: 300, Height: 200, Pix: make([]uint8, 240000)}} {
		if got, lines := Find(p); len(got)+len(lines) != 0 {
			t.Errorf("%d × %d: found %v", p.Width, p.Height, got)
		}
	}
}

// The same picture gives the same rims.
func TestSameAgain(t *testing.T) {
	p := disc(640, 427, 300, 220, 180, 120, 4)
	a, la := Find(p)
	b, lb := Find(p)
	if !slices.Equal(a, b) || !slices.Equal(la, lb) {
		t.Errorf("found %v %v, then %v %v", a, la, b, lb)
	}
}

// Any bytes of any size give rims that hold together, and no panic.
func FuzzFind(f *testing.F) {
	f.Add(64, 64, []byte{1, 200, 30})
	f.Add(49, 300, []byte{0, 0, 0, 0, 255, 255, 255, 255})
	f.Add(-1, 7, []byte{})
	f.Fuzz(func(t *testing.T, w, h int, seed []byte) {
		if w > 400 || h > 400 || len(seed) == 0 {
			t.Skip()
		}
		p := Picture{Width: w, Height: h}
		if w > 0 && h > 0 {
			p.Pix = make([]uint8, 4*w*h)
			for i := range p.Pix {
				p.Pix[i] = seed[i*i/7%len(seed)]
			}
		}
		found, _ := Find(p)
		for _, r := range found {
			if !(r.A > 0 && r.B > 0 && r.B <= r.A && r.Score >= 0 && r.Score <= 1 && r.Cover <= 1 && r.Support <= 1) || math.IsNaN(r.X+r.Y+r.Turn) {
				t.Errorf("%d × %d: %+v", w, h, r)
			}
		}
	})
}
