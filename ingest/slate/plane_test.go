package slate

import (
	"math"
	"math/rand/v2"
	"testing"
)

// What is worked out for several pixels at once is what each alone gives.
func TestManyAtOnceAreEachAlone(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	for range 200 {
		p := Picture{Width: 2 + r.IntN(40), Height: 2 + r.IntN(40)}
		p.Pix = make([]uint8, p.Width*p.Height)
		for i := range p.Pix {
			p.Pix[i] = [...]uint8{0, 255, 127, 128, uint8(r.UintN(256)), uint8(r.UintN(256))}[r.IntN(6)]
		}
		h := p.halved(nil)
		for y := range h.Height {
			for x := range h.Width {
				i := 2*y*p.Width + 2*x
				want := (int(p.Pix[i]) + int(p.Pix[i+1]) + int(p.Pix[i+p.Width]) + int(p.Pix[i+p.Width+1]) + 2) / 4
				if got := int(h.Pix[y*h.Width+x]); got != want {
					t.Fatalf("halved at %d, %d: %d, want %d", x, y, got, want)
				}
			}
		}
		step := 1 + r.IntN(2)
		b := blocksOf(p, step, nil)
		for i := range b.mean {
			sum, n, low, high := 0, 0, 255, 0
			for y := i / b.cols * blockSide; y < min(p.Height, (i/b.cols+1)*blockSide); y += step {
				for x := i % b.cols * blockSide; x < min(p.Width, (i%b.cols+1)*blockSide); x++ {
					v := int(p.Pix[y*p.Width+x])
					sum, n, low, high = sum+v, n+1, min(low, v), max(high, v)
				}
			}
			if int(b.mean[i]) != sum/n || int(b.low[i]) != low || int(b.high[i]) != high {
				t.Fatalf("block %d of %d × %d: %d, %d, %d, want %d, %d, %d", i, p.Width, p.Height, b.mean[i], b.low[i], b.high[i], sum/n, low, high)
			}
		}
		for _, w := range []way{{reach: 1}, {reach: 2, middle: true}, {reach: 9}, {}} {
			cut := b.threshold(w, nil)
			for i := range b.mean {
				sum, n, low, high := 0, 0, 255, 0
				for k := range b.mean {
					dx, dy := k%b.cols-i%b.cols, k/b.cols-i/b.cols
					if w.reach == 0 || max(dx, -dx, dy, -dy) <= w.reach {
						sum, n, low, high = sum+int(b.mean[k]), n+1, min(low, int(b.low[k])), max(high, int(b.high[k]))
					}
				}
				want := sum / n
				if w.middle {
					want = (low + high + 1) / 2
				}
				if high-low < flatRange || (high-low)*flatShare < high {
					want = 0
				}
				if int(cut.cut[i]) != want {
					t.Fatalf("%+v, block %d: cut %d, want %d", w, i, cut.cut[i], want)
				}
			}
		}
		strength := 2 << r.IntN(2)
		sharp := p.sharpened(strength, nil)
		for i, v := range p.Pix {
			x, y := i%p.Width, i/p.Width
			want := int(v)
			if x >= 2 && y >= 2 && x < p.Width-2 && y < p.Height-2 {
				sum := 0
				for _, by := range [4]int{1, 2, p.Width, 2 * p.Width} {
					sum += int(p.Pix[i-by]) + int(p.Pix[i+by])
				}
				want = int(min(255, max(0, math.Floor(float64(v)+float64(strength)*float64(8*int(v)-sum)/8))))
			}
			if int(sharp.Pix[i]) != want {
				t.Fatalf("sharpened by %d at %d, %d of %d × %d: %d, want %d", strength, x, y, p.Width, p.Height, sharp.Pix[i], want)
			}
		}
		var eight uint64
		cut, want := uint8(r.UintN(256)), uint(0)
		for i, v := range p.Pix[:4] {
			eight |= uint64(v)<<(8*i) | uint64(cut+uint8(i)-2)<<(8*(i+4))
			if v < cut {
				want |= 1 << i
			}
			if cut+uint8(i)-2 < cut {
				want |= 1 << (i + 4)
			}
		}
		if got := darker(eight, cut); got != want {
			t.Fatalf("darker(%x, %d) = %b, want %b", eight, cut, got, want)
		}
	}
}

// An edge in parts of a pixel is where a straight line between two pixels meets
// the cut, from their border; ratio holds edges to 1 : 1 : 3 : 1 : 1.
func TestEdgesInPartsOfAPixel(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	for range 20_000 {
		before, after, cut := uint8(r.UintN(256)), uint8(r.UintN(256)), uint8(r.UintN(256))
		if before == after {
			continue // no edge
		}
		want := 0.0
		if a, b := float64(before)-float64(cut), float64(after)-float64(cut); a*b <= 0 && a != b {
			want = a/(a-b) - 0.5
		}
		if got := float64(turn(before, after, cut)) / parts; math.Abs(got-want) > 1.5/parts {
			t.Fatalf("from %d to %d the cut %d is met at %.4f, want %.4f", before, after, cut, got, want)
		}
	}
	edges := func(unit, bleed float64, runs ...float64) *[6]int { // dark is wider by the bleed on both sides
		e, at := new([6]int), 17.3
		for i := range e {
			if i > 0 {
				at += unit * runs[i-1]
			}
			e[i] = int(parts * (at + bleed*float64(2*(i%2)-1)))
		}
		return e
	}
	for _, c := range []struct {
		name string
		e    *[6]int
		unit float64
		ok   bool
	}{
		{"a mark", edges(3, 0, 1, 1, 3, 1, 1), 3, true},
		{"a small one", edges(1, 0, 1, 1, 3, 1, 1), 1, true},
		{"too small", edges(0.85, 0, 1, 1, 3, 1, 1), 0.85, false},
		{"ink that bleeds by half a module", edges(4, 1, 1, 1, 3, 1, 1), 4, true},
		{"light that floods", edges(4, -1, 1, 1, 3, 1, 1), 4, true},
		{"even runs", edges(3, 0, 1, 1, 1, 1, 1), 2, false},
		{"a wide middle", edges(3, 0, 1, 1, 7, 1, 1), 5, false},
		{"a wide ring", edges(3, 0, 2.5, 1, 3, 1, 1), 3.375, false},
	} {
		twelve, ok := ratio(c.e, 0)
		if unit := float64(twelve) / (12 * parts); ok != c.ok || math.Abs(unit-c.unit) > 0.01 {
			t.Errorf("%s: %v, a module of %.3f, want %v, %.3f", c.name, ok, unit, c.ok, c.unit)
		}
	}
}
