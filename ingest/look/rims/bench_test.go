package rims

import (
	"math"
	"testing"
)

// table paints what a preview of 768 × 512 holds: two plates with wells and
// rims on a checked cloth, food in one, and grain over all.
func table() Picture {
	const w, h = 768, 512
	p := Picture{w, h, make([]uint8, 4*w*h)}
	seed := uint32(1)
	for y := range h {
		for x := range w {
			seed = seed*1664525 + 1013904223
			v := 120 + 25*math.Sin(float64(x)/9)*math.Sin(float64(y)/9) + float64(seed>>24)/16
			for _, plate := range [][4]float64{{300, 260, 230, 190}, {640, 120, 110, 90}} {
				dx, dy := (float64(x)-plate[0])/plate[2], (float64(y)-plate[1])/plate[3]
				switch r := math.Hypot(dx, dy); {
				case r < 0.45:
					v = 90 + 60*math.Sin(float64(x)*0.31+float64(y)*0.17)*math.Cos(float64(y)*0.23) + float64(seed>>24)/8
				case r < 0.7:
					v = 200 + float64(seed>>24)/32
				case r < 1:
					v = 225 + float64(seed>>24)/32
				}
			}
			for c := range 3 {
				p.Pix[4*(y*w+x)+c] = uint8(min(255, max(0, v)))
			}
		}
	}
	return p
}

// BenchmarkFind is to be read beside BenchmarkReference in the same run: the
// ratio holds on any machine, the time on none but this.
func BenchmarkFind(b *testing.B) {
	p := table()
	b.ReportAllocs()
	for b.Loop() {
		if found, _ := Find(p); len(found) == 0 {
			b.Fatal("no rims")
		}
	}
}

// BenchmarkReference is the fixed loop: ten million steps of a generator, each
// waiting for the one before.
func BenchmarkReference(b *testing.B) {
	seed := uint64(1)
	for b.Loop() {
		for range 10_000_000 {
			seed = seed*6364136223846793005 + 1442695040888963407
		}
	}
	if seed == 0 {
		b.Fatal("it ended")
	}
}

// Pictures that are nothing but edges cost no more than a few times what a
// table does: arcs and proposals are capped.
func TestHostilePicturesAreBounded(t *testing.T) {
	const w, h = 768, 768
	seed := uint32(7)
	for _, c := range []struct {
		name string
		at   func(x, y int) float64
	}{
		{"noise", func(x, y int) float64 { seed = seed*1664525 + 1013904223; return float64(seed >> 24) }},
		{"coarse noise", func(x, y int) float64 {
			return 255 * math.Abs(math.Sin(float64(x/7*7919+y/7*104729)*12.9898))
		}},
		{"stripes", func(x, y int) float64 { return 255 * float64((x+y)/6%2) }},
		{"checks", func(x, y int) float64 { return 255 * float64((x/9+y/9)%2) }},
		{"rings", func(x, y int) float64 { return 127 + 127*math.Sin(math.Hypot(float64(x-384), float64(y-384))/2.5) }},
		{"bubbles", func(x, y int) float64 {
			return 127 + 127*math.Sin(math.Hypot(float64(x%64-32), float64(y%64-32))/3)
		}},
		{"spiral", func(x, y int) float64 {
			dx, dy := float64(x-384), float64(y-384)
			return 127 + 127*math.Sin(math.Hypot(dx, dy)/3+math.Atan2(dy, dx))
		}},
	} {
		p := Picture{w, h, make([]uint8, 4*w*h)}
		for y := range h {
			for x := range w {
				v := uint8(min(255, max(0, c.at(x, y))))
				i := 4 * (y*w + x)
				p.Pix[i], p.Pix[i+1], p.Pix[i+2] = v, v, v
			}
		}
		full := shrink(p, fullSide)
		e := edgesOf(full)
		chains := e.chains()
		arcs := arcsOf(chains, full.w, full.h, 220)
		proposed := propose(arcs, full.w, full.h, coarse{arcs: 220, least: 0.07})
		t.Logf("%s: %d edge points, %d chains, %d arcs, %d proposals", c.name, len(e.points), len(chains), len(arcs), len(proposed))
		if len(arcs) > 220 || len(proposed) > mostProposed {
			t.Errorf("%s: %d arcs and %d proposals, want at most 220 and %d", c.name, len(arcs), len(proposed), mostProposed)
		}
		found, _ := Find(p)
		for _, r := range found {
			if !(r.A > 0 && r.B > 0 && r.B <= r.A && r.Score >= 0 && r.Score <= 1 && r.Support <= 1 && r.Support >= 0.4 && r.Cover >= 0.28 && r.Cover <= r.Inside && math.Abs(r.Turn) <= 90) {
				t.Errorf("%s: rim %+v", c.name, r)
			}
		}
	}
}
