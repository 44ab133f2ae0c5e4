package colour

import (
	"errors"
	"fmt"
	"math"
)

// Raster is a picture in linear light under the ICC's D50: what Extract reads.
// It is a thumbnail, averaged in linear light to about 160 pixels on its long
// side; larger pictures work and only take longer.
type Raster struct {
	Width, Height int   // pixels, upright
	Pix           []XYZ // Width × Height, row by row from the top
}

// ErrNoPixels says that a picture has no pixel to take a palette of.
var ErrNoPixels = errors.New("picture without pixels")

// PixelError names a pixel that is no colour.
type PixelError struct {
	X, Y int
}

func (e *PixelError) Error() string {
	return fmt.Sprintf("pixel %d, %d is not a finite colour", e.X, e.Y)
}

// What a palette is. The figures are choices of this project, made on food
// photographs; where a published value guided one it is named.
const (
	mostSwatches = 6

	// eyeSeparates is the ΔE2000 below which two colours are one swatch: the
	// least "clear difference in colour" of Mokrzycki and Tatol, Machine
	// Graphics and Vision 20 (2011), who give 3.5 in ΔE*ab.
	eyeSeparates = 3.5

	// surfaceSpread is the ΔE2000 up to which parts of a border are the same
	// surface: the light falls off along a table.
	surfaceSpread = 8

	// borderParts is how many borders the shorter side is wide.
	borderParts = 12

	// leastShare is the share below which a colour is not told apart from the
	// speckle of a picture; it is counted with its nearest swatch.
	leastShare = 0.005
)

// Extract returns the palette of r: its 6 colours, or fewer where it has
// fewer, by falling share; shares sum to 1. Colours that an eye does not
// separate are one. A small vivid colour (a garnish) has a place of its own
// and is marked as accent. surface is the dominant colour of the border, its
// share that of the border, and no part of the palette's sum.
//
// The answer depends on the pixels alone: nothing is random, sums are whole
// numbers, and a picture turned by 180° has the same palette to the last bit.
// Lab is rounded to 0.001 and shares to 0.0001.
//
// The error is ErrNoPixels, a *PixelError, or says that Pix does not have
// Width × Height members.
func Extract(r Raster) (palette []Swatch, surface *Swatch, err error) {
	if r.Width <= 0 || r.Height <= 0 || len(r.Pix) == 0 {
		return nil, nil, fmt.Errorf("palette of %d × %d: %w", r.Width, r.Height, ErrNoPixels)
	}
	if len(r.Pix)/r.Width != r.Height || len(r.Pix)%r.Width != 0 {
		return nil, nil, fmt.Errorf("palette of %d × %d: raster has %d pixels", r.Width, r.Height, len(r.Pix))
	}
	p, err := newPicture(r)
	if err != nil {
		return nil, nil, err
	}
	whole := p.group(p.whole, eyeSeparates)
	whole.absorbSpeckle()
	whole.reduce(mostSwatches)
	whole.settle()
	whole.merge(eyeSeparates)
	palette = whole.swatches()

	border, ring := r.border()
	s := border.group(ring, surfaceSpread).swatches()[0]
	s.Accent = false
	return palette, &s, nil
}

// swatch describes one colour.
func swatch(c Lab, share float64) Swatch {
	c = Lab{roundTo(c.L, 1e3), roundTo(c.A, 1e3), roundTo(c.B, 1e3)}
	return Swatch{Hex: c.Hex(), Lab: c, Share: share, Name: Name(c)}
}

// grain is how many whole parts a unit of Lab has inside this file.
const grain = 256

// tone is a Lab in whole parts of 1/grain, so that sums don't depend on the
// order of the pixels nor on how a processor rounds.
type tone struct{ l, a, b int32 }

func toneOf(c XYZ) tone {
	// Wider than any real light and colour; what is beyond (a camera's
	// impossible blue) is held at the edge.
	held := func(v float64) float64 { return min(max(v, -100), 100) }
	x, y, z := quickCurve(held(c.X/d50[0])), quickCurve(held(c.Y)), quickCurve(held(c.Z/d50[2]))
	part := func(v, least, most float64) int32 { return int32(math.Round(min(max(v, least), most) * grain)) }
	return tone{part(116*y-16, 0, 100), part(500*(x-y), -250, 250), part(200*(y-z), -250, 250)}
}

// quickCurve is labCurve to 1e-6 by table: less than a tenth of a grain, and
// some 20,000 cube roots less a thumbnail.
func quickCurve(t float64) float64 {
	if t <= labBreak || t >= 1 {
		return labCurve(t)
	}
	at := t * quickSteps
	i := int(at)
	low := quickTable[i]
	return low + float64((at-float64(i))*(quickTable[i+1]-low))
}

const quickSteps = 1 << 13

var quickTable = func() (table [quickSteps + 1]float64) {
	for i := range table {
		table[i] = math.Cbrt(float64(i) / quickSteps)
	}
	return table
}()

// apart is the square of the Euclidean distance, in parts.
func (t tone) apart(u tone) int64 {
	l, a, b := int64(t.l-u.l), int64(t.a-u.a), int64(t.b-u.b)
	return l*l + a*a + b*b
}

// picture is a raster in Lab, with what is known of each pixel's place.
type picture struct {
	width, height int
	light         []XYZ
	tones         []tone
	blend         []bool // lies between two colours at an edge and is neither
}

func newPicture(r Raster) (*picture, error) {
	p := &picture{width: r.Width, height: r.Height, light: r.Pix, tones: make([]tone, len(r.Pix)), blend: make([]bool, len(r.Pix))}
	for i, c := range r.Pix {
		if !finite(c.X) || !finite(c.Y) || !finite(c.Z) {
			return nil, &PixelError{i % r.Width, i / r.Width}
		}
		p.tones[i] = toneOf(c)
	}
	blends := 0
	for i := range p.tones {
		x, y := i%p.width, i/p.width
		p.blend[i] = x > 0 && x < p.width-1 && p.tones[i].between(p.tones[i-1], p.tones[i+1]) ||
			y > 0 && y < p.height-1 && p.tones[i].between(p.tones[i-p.width], p.tones[i+p.width])
		if p.blend[i] {
			blends++
		}
	}
	if blends*2 > len(p.tones) { // no edges then, but what the picture is made of
		clear(p.blend)
	}
	return p, nil
}

// between tells a pixel that an edge between u and v runs through: they are
// clearly apart, t is neither, and each of its coordinates lies between theirs.
func (t tone) between(u, v tone) bool {
	const edge, same, slack = 10 * grain, 2 * grain, 2 * grain
	if u.apart(v) < edge*edge || t.apart(u) < same*same || t.apart(v) < same*same {
		return false
	}
	in := func(t, u, v int32) bool { return t >= min(u, v)-slack && t <= max(u, v)+slack }
	return in(t.l, u.l, v.l) && in(t.a, u.a, v.a) && in(t.b, u.b, v.b)
}

// whole tells every pixel.
func (p *picture) whole(x, y int) bool { return true }

// border is r averaged to coarse squares, half a border wide, and what tells
// those of the border: the two outermost. So coarse, granite is the grey that
// it is to an eye that sees the whole picture, and wood has no grain. The sums
// are whole numbers, and the squares lie the same when the picture is turned.
func (r Raster) border() (*picture, func(x, y int) bool) {
	side := max(1, min(r.Width, r.Height)/(2*borderParts))
	xs, ys := squares(r.Width, side), squares(r.Height, side)
	w, h := len(xs)-1, len(ys)-1
	p := &picture{width: w, height: h, light: make([]XYZ, w*h), tones: make([]tone, w*h), blend: make([]bool, w*h)}
	ring := func(x, y int) bool { return x < 2 || y < 2 || x >= w-2 || y >= h-2 }
	const parts = 1 << 32
	for y := range h {
		for x := range w {
			if !ring(x, y) {
				continue
			}
			var sum [3]int64
			for v := ys[y]; v < ys[y+1]; v++ {
				for _, c := range r.Pix[v*r.Width+xs[x] : v*r.Width+xs[x+1]] {
					for i, light := range [...]float64{c.X, c.Y, c.Z} {
						sum[i] += int64(math.Round(min(max(light, -4), 4) * parts))
					}
				}
			}
			n := float64((xs[x+1] - xs[x]) * (ys[y+1] - ys[y]) * parts)
			c := XYZ{float64(sum[0]) / n, float64(sum[1]) / n, float64(sum[2]) / n}
			p.light[y*w+x], p.tones[y*w+x] = c, toneOf(c)
		}
	}
	return p, ring
}

// squares cuts length into parts about side long, the same from both ends, and
// returns the cuts from 0 to length.
func squares(length, side int) []int {
	n := max(1, length/side)
	if side > 1 && n%2 == 0 {
		n-- // with a part in the middle, any length can be cut so
	}
	cuts := make([]int, n+1)
	for i := range (n + 1) / 2 {
		cuts[i], cuts[n-i] = i*length/n, length-i*length/n
	}
	if n%2 == 0 {
		cuts[n/2] = length / 2
	}
	return cuts
}
