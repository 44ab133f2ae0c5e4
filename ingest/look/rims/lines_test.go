package rims

import (
	"math"
	"testing"
)

// slanted paints a light band between two parallel lines through (x, y), so
// many pixels wide and turned from the picture's width, antialiased by 4 × 4
// samples, and ending at both sides of the picture.
func slanted(w, h int, x, y, wide, turn float64) Picture {
	p := Picture{w, h, make([]uint8, 4*w*h)}
	sin, cos := math.Sincos(turn * math.Pi / 180)
	for i := range w * h {
		in := 0
		for s := range 16 {
			dx := float64(i%w) + (float64(s%4)+0.5)/4 - x
			dy := float64(i/w) + (float64(s/4)+0.5)/4 - y
			if math.Abs(dy*cos-dx*sin) < wide/2 {
				in++
			}
		}
		v := uint8(70 + 120*in/16)
		p.Pix[4*i], p.Pix[4*i+1], p.Pix[4*i+2] = v, v, v
	}
	return p
}

// The edges of a band lie where it was painted, to a tenth of a pixel or so.
func TestLinesOfABand(t *testing.T) {
	const w, h = 640, 427
	for _, turn := range []float64{0, 20, -33, 45, 80, 90} {
		const x, y, wide = 300, 210, 60
		_, lines := Find(slanted(w, h, x, y, wide, turn))
		if len(lines) < 2 {
			t.Errorf("%g°: %d lines, want both edges", turn, len(lines))
			continue
		}
		sin, cos := math.Sincos(turn * math.Pi / 180)
		sides := map[bool]int{}
		for _, l := range lines {
			for _, end := range [2][2]float64{{l.X1, l.Y1}, {l.X2, l.Y2}} {
				off := (end[1]*w-y)*cos - (end[0]*w-x)*sin
				if !(math.Abs(math.Abs(off)-wide/2) <= 0.2) {
					t.Errorf("%g°: an end %.2f pixels from the middle of the band, want %d", turn, off, wide/2)
				}
				sides[off > 0]++
			}
			if n := math.Hypot(l.X2-l.X1, l.Y2-l.Y1); !(n >= leastLine) {
				t.Errorf("%g°: a line of %.3f of the width, want %g at least", turn, n, leastLine)
			}
		}
		if sides[true] < 2 || sides[false] < 2 {
			t.Errorf("%g°: %d ends on one side, %d on the other", turn, sides[true], sides[false])
		}
	}
}

// A rim is no line, and the longest comes first, 48 at most.
func TestRimsAreNoLines(t *testing.T) {
	if _, lines := Find(disc(640, 427, 320, 213, 150, 110, 10)); len(lines) != 0 {
		t.Errorf("a disc has the lines %v", lines)
	}
	const w, h = 640, 640
	p := Picture{w, h, make([]uint8, 4*w*h)}
	for i := range w * h {
		v := uint8(80)
		if i/w%20 < 10 && i%w < 200+i/w/20*12 {
			v = 180
		}
		p.Pix[4*i], p.Pix[4*i+1], p.Pix[4*i+2] = v, v, v
	}
	_, lines := Find(p)
	if len(lines) != mostLines {
		t.Fatalf("%d lines of 64 edges, want %d", len(lines), mostLines)
	}
	length := func(l Line) float64 { return math.Hypot(l.X2-l.X1, l.Y2-l.Y1) }
	for i := 1; i < len(lines); i++ {
		if length(lines[i]) > length(lines[i-1]) {
			t.Errorf("line %d is longer than the one before", i)
		}
	}
}
