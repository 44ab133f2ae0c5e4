package look

import (
	"image"
	"math/rand/v2"
	"reflect"
	"testing"

	"coverplate/colour"
)

// A picture whose every pixel is a cell of its own, and the same picture with
// each pixel twice as wide and high, which is averaged, are one light.
func TestAPixelIsItsOwnMean(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for _, ratio := range []image.YCbCrSubsampleRatio{image.YCbCrSubsampleRatio444, image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420} {
		small := image.NewYCbCr(image.Rect(0, 0, 75, 50), ratio)
		for _, plane := range [][]uint8{small.Y, small.Cb, small.Cr} {
			for i := range plane { // many burnt and black ones among them
				plane[i] = uint8(min(255, max(0, random.IntN(400)-70)))
			}
		}
		large := image.NewYCbCr(image.Rect(0, 0, 150, 100), image.YCbCrSubsampleRatio444)
		for y := range 100 {
			for x := range 150 {
				i, c := large.YOffset(x, y), small.COffset(x/2, y/2)
				large.Y[i], large.Cb[i], large.Cr[i] = small.Y[small.YOffset(x/2, y/2)], small.Cb[c], small.Cr[c]
			}
		}
		curve := curveOf(colour.AdobeRGB)
		got, want := gather(small, small.Rect, curve, 75, false), gather(large, large.Rect, curve, 75, false)
		if !reflect.DeepEqual(got.pix, want.pix) || len(got.pix) != 75*50 {
			t.Errorf("%v: the light differs", ratio)
		}
		if got.clips.high != want.clips.high || got.clips.low != want.clips.low || got.clips.high[0] == 0 || got.clips.low[2] == 0 {
			t.Errorf("%v: clipped %v, %v; want %v, %v", ratio, got.clips.high, got.clips.low, want.clips.high, want.clips.low)
		}
		for i, w := range want.clips.cell {
			w.n, w.any, w.allLow = w.n/4, w.any/4, w.allLow/4
			for c := range w.high {
				w.high[c] /= 4
			}
			// A cell counts its channels only in pixels that any has high or all have low.
			if got.clips.cell[i] != w {
				t.Fatalf("%v, cell %d: %+v, want %+v", ratio, i, got.clips.cell[i], w)
			}
		}
	}
}
