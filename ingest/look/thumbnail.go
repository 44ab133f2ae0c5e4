package look

import (
	"image"
	"math"
)

// shapeTolerance is how far the shapes of two pictures, width to height, may
// lie apart and still be taken for the same framing, as a share. Cameras round
// their previews (1616 × 1080 of 3:2 is 0.3 % off, 570 × 375 is 1.3 %) and cut
// a raw's sensor borders (5792 × 3804 against 3:2 is 1.5 %), while the nearest
// two formats, 4:3 and 3:2, are 12 % apart.
const shapeTolerance = 0.03

// sameShape tells whether w × h and ow × oh are the same framing. A thumbnail
// of 160 × 107 cannot be more exact than half a pixel, which is allowed too.
func sameShape(w, h, ow, oh int) bool {
	if w <= 0 || h <= 0 || ow <= 0 || oh <= 0 {
		return false
	}
	off := math.Abs(math.Log(float64(w) / float64(h) * float64(oh) / float64(ow)))
	return off <= shapeTolerance+0.5/float64(min(w, h))
}

// black is the code up to which a bar counts as black: bars are written as 0
// and come out of a thumbnail's coarse JPEG as up to some 30.
const black = 40

// withoutBars returns the part of a thumbnail or preview that shows the photo,
// whose shape as stored is ow × oh. Cameras that write every thumbnail in 4:3
// set a photo of 3:2 or 16:9 between black bars; a palette must not count them.
// Bars are cut only where the shape says that there must be some and the
// pixels there are black: a thumbnail that is squeezed or cropped instead is
// left whole.
func withoutBars(img image.Image, ow, oh int) image.Rectangle {
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	if ow <= 0 || oh <= 0 || sameShape(w, h, ow, oh) {
		return b
	}
	inner := b
	if w*oh > ow*h { // wider than the photo: bars left and right
		bar := (float64(w) - float64(h)*float64(ow)/float64(oh)) / 2
		inner.Min.X += int(math.Ceil(bar))
		inner.Max.X -= int(math.Ceil(bar))
	} else {
		bar := (float64(h) - float64(w)*float64(oh)/float64(ow)) / 2
		inner.Min.Y += int(math.Ceil(bar))
		inner.Max.Y -= int(math.Ceil(bar))
	}
	if inner.Empty() {
		return b
	}
	// The bars lie on both sides; the line next to the photo is mixed with it
	// by the JPEG's blocks and is cut but not asked.
	var bars [2]image.Rectangle
	if inner.Min.X > b.Min.X {
		bars[0] = image.Rect(b.Min.X, b.Min.Y, inner.Min.X-1, b.Max.Y)
		bars[1] = image.Rect(inner.Max.X+1, b.Min.Y, b.Max.X, b.Max.Y)
	} else {
		bars[0] = image.Rect(b.Min.X, b.Min.Y, b.Max.X, inner.Min.Y-1)
		bars[1] = image.Rect(b.Min.X, inner.Max.Y+1, b.Max.X, b.Max.Y)
	}
	if !isBlack(img, bars[0]) || !isBlack(img, bars[1]) {
		return b
	}
	// Ringing of the JPEG's blocks darkens the photo's outermost line.
	if cut := inner.Inset(1); !cut.Empty() {
		return cut
	}
	return inner
}

// isBlack tells whether all but a hundredth of the pixels of rect are black;
// of no pixels, it says no.
func isBlack(img image.Image, rect image.Rectangle) bool {
	if rect.Empty() {
		return false
	}
	bright := 0
	for y := rect.Min.Y; y < rect.Max.Y; y++ {
		for x := rect.Min.X; x < rect.Max.X; x++ {
			r, g, b, _ := img.At(x, y).RGBA()
			if max(r, g, b)>>8 > black {
				bright++
			}
		}
	}
	return bright*100 <= rect.Dx()*rect.Dy()
}
