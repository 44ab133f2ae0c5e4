package look

import (
	"runtime"
	"testing"

	"coverplate/colour"
)

// reference is a fixed piece of work, the same in every version: 10 million
// steps of a linear congruential generator in one chain. Other figures of the
// same run are to be read against it.
func reference() uint32 {
	seed := uint32(1)
	for range 10_000_000 {
		seed = seed*1664525 + 1013904223
	}
	return seed
}

// The cost of focus and light on planes of 768 × 512, and of the planes, beside
// the reference loop; run with -cpu 1.
func BenchmarkMeasures(b *testing.B) {
	img := stripes(1536, 1024, 1, 0.1, 0.5, 12).coded(0.01, 1)
	l := gather(img, img.Bounds(), curveOf(colour.SRGB), pictureSide, false)
	p := l.planes(colour.SRGB, 6, planesSide)
	b.Run("Reference", func(b *testing.B) {
		var s uint32
		for b.Loop() {
			s += reference()
		}
		runtime.KeepAlive(s)
	})
	b.Run("Planes", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			l.planes(colour.SRGB, 6, planesSide)
		}
	})
	b.Run("NoSlate", func(b *testing.B) { // a picture of 1536 × 1024 without one
		b.ReportAllocs()
		for b.Loop() {
			if l.slate(6) != nil {
				b.Fatal("a slate was read")
			}
		}
	})
	b.Run("FocusAndLight", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			d := detailsOf(p.y, p.width, p.height)
			floor := d.noise(p.overlap)
			d.focus(floor)
			d.motion(placeOf(nil, d.cols, d.rows), floor.single)
			p.light(nil)
		}
	})
}
