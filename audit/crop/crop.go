// Package crop says which part of a picture fills a place: a printed box, or
// half of the frame cut to the shape of a post. It knows sizes alone; what
// stands in the picture it does not see.
package crop

import "math"

// MillimetresPerInch is exact: the international inch of 1959.
const MillimetresPerInch = 25.4

// Rect is a part of a picture in whole upright pixels, from the top left.
type Rect struct{ X, Y, Width, Height int }

// Shape is one shape of a post.
type Shape struct {
	Name          string // "4:5"
	Width, Height int    // pixels that are shown; a crop must reach them without upscaling
	AsOf          string // the date of the platform fact, "2026-03"
}

// Ratio returns the shape's sides in lowest terms, and 0, 0 where the shape
// has no sides.
func (s Shape) Ratio() (w, h int) {
	if s.Width <= 0 || s.Height <= 0 {
		return 0, 0
	}
	d := divisor(s.Width, s.Height)
	return s.Width / d, s.Height / d
}

// Largest returns the largest crop of exactly rw:rh that fits in a box of
// boxW × boxH pixels: its width is a multiple of rw and its height the same
// multiple of rh, with rw:rh as it is given. It returns 0, 0 where none fits.
func Largest(boxW, boxH, rw, rh int) (w, h int) {
	if rw <= 0 || rh <= 0 || boxW <= 0 || boxH <= 0 {
		return 0, 0
	}
	k := min(boxW/rw, boxH/rh)
	return k * rw, k * rh
}

// PPI returns the effective pixels an inch of a picture of pxW × pxH pixels
// that covers a box of boxW × boxH millimetres, what stands over being cut
// away. The picture is not turned. It returns 0 where a side is not positive.
func PPI(pxW, pxH int, boxW, boxH float64) float64 {
	if pxW <= 0 || pxH <= 0 || !(boxW > 0) || !(boxH > 0) {
		return 0
	}
	return min(float64(pxW)/boxW, float64(pxH)/boxH) * MillimetresPerInch
}

// Cover returns how many of a picture's pixels are used, in width and in
// height, when it covers a box of boxW × boxH millimetres: the whole of one
// side and a part of the other. It returns 0, 0 where PPI does.
func Cover(pxW, pxH int, boxW, boxH float64) (w, h float64) {
	ppi := PPI(pxW, pxH, boxW, boxH)
	return ppi * boxW / MillimetresPerInch, ppi * boxH / MillimetresPerInch
}

// Need returns the pixels that a box of boxW × boxH millimetres asks for at a
// number of pixels an inch, rounded up.
func Need(boxW, boxH, ppi float64) (w, h int) {
	// Twelve digits are kept, so that 300 ppi on 25.4 mm needs 300 pixels and
	// not the 301 that the last bit of the quotient would make of it.
	up := func(mm float64) int { return int(math.Ceil(math.Round(mm*ppi/MillimetresPerInch*1e9) / 1e9)) }
	return up(boxW), up(boxH)
}

func divisor(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
