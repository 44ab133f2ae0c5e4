package look

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"sync"

	"github.com/disintegration/imaging"

	"coverplate/colour"
)

const (
	pictureSide    = 1024 // long side of the upright preview for people, pixels at most
	pictureQuality = 85   // of its JPEG, as image/jpeg counts
	rasterSide     = 160  // long side of the raster that the palette is taken from, pixels at most
)

// curves is the light of each 8-bit code of the channels of a space, in units
// of one.
type curves struct {
	space *colour.Space
	light [3][256]uint32
}

func curveOf(s *colour.Space) *curves {
	c := &curves{space: s}
	for code := range 256 {
		for channel, l := range lightOf(s, float64(code)/255) {
			c.light[channel][code] = l
		}
	}
	return c
}

// lightOf is the light of the code v, 0 … 1, in each channel, in units of one.
// What a profile's curve says beyond black and white is clipped.
func lightOf(s *colour.Space, v float64) [3]uint32 {
	l := s.Linearise(colour.Encoded{R: v, G: v, B: v})
	fixed := func(v float64) uint32 { return uint32(math.Round(min(1, max(0, v)) * one)) }
	return [3]uint32{fixed(l.R), fixed(l.G), fixed(l.B)}
}

// codes is the number of steps that linear light is cut into where it is
// turned back to 8-bit codes. The darkest codes of sRGB lie 20 steps apart.
const codes = 1 << 16

// sRGBCodes gives for each step of linear light the nearest code of sRGB: the
// inverse of its curve, found by where the curve is half way between two codes.
var sRGBCodes = sync.OnceValue(func() *[codes]uint8 {
	s, _ := colour.SpaceNamed("sRGB")
	t := new([codes]uint8)
	code := 0
	for i := range t {
		for code < 255 {
			half := (float64(code) + 0.5) / 255
			if float64(i)/(codes-1) < s.Linearise(colour.Encoded{R: half, G: half, B: half}).G {
				break
			}
			code++
		}
		t[i] = uint8(code)
	}
	return t
})

// matrix3 maps linear RGB to linear RGB or XYZ: out = m · in.
type matrix3 [3][3]float64

// toXYZ is the matrix of the space, read off what it does to its primaries.
func toXYZ(s *colour.Space) matrix3 {
	var m matrix3
	for c, p := range []colour.Linear{{R: 1}, {G: 1}, {B: 1}} {
		v := s.ToXYZ(p)
		m[0][c], m[1][c], m[2][c] = v.X, v.Y, v.Z
	}
	return m
}

// toSRGB maps linear RGB of s to that of sRGB. plain tells that it moves
// nothing: s has sRGB's primaries, but for the rounding of a profile.
func toSRGB(s *colour.Space) (m matrix3, plain bool) {
	m, plain = toXYZ(colour.SRGB).inverse().times(toXYZ(s)), true
	for i, row := range m {
		for j, v := range row {
			unit := 0.0
			if i == j {
				unit = 1
			}
			plain = plain && math.Abs(v-unit) < 1e-4
		}
	}
	return m, plain
}

// inverse is by cofactors; primaries that span no space are our own mistake.
func (m matrix3) inverse() matrix3 {
	var inv matrix3
	for i := range 3 {
		for j := range 3 {
			a, b, c, d := (i+1)%3, (i+2)%3, (j+1)%3, (j+2)%3
			inv[j][i] = m[a][c]*m[b][d] - m[a][d]*m[b][c]
		}
	}
	det := m[0][0]*inv[0][0] + m[0][1]*inv[1][0] + m[0][2]*inv[2][0]
	for i := range inv {
		for j := range inv[i] {
			inv[i][j] /= det
		}
	}
	return inv
}

func (m matrix3) times(n matrix3) matrix3 {
	var out matrix3
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				out[i][j] += m[i][k] * n[k][j]
			}
		}
	}
	return out
}

// raster averages l down to what a palette is taken from, rasterSide long at
// most, in the connection space's XYZ and upright. Every pixel of the original
// counts the same.
func (l light) raster(s *colour.Space, orientation int) colour.Raster {
	w, h := fit(l.width, l.height, rasterSide)
	xs, ys := cells(l.width, w), cells(l.height, h)
	pix := make([]colour.XYZ, 0, w*h)
	for cy := range h {
		for cx := range w {
			var sum [3]float64
			var n float64
			for y := ys[cy]; y < ys[cy+1]; y++ {
				for x := xs[cx]; x < xs[cx+1]; x++ {
					covers := float64(l.cols[x] * l.rows[y])
					p := l.pix[y*l.width+x]
					for c := range sum {
						sum[c] += covers * float64(p[c])
					}
					n += covers
				}
			}
			pix = append(pix, s.ToXYZ(colour.Linear{R: sum[0] / n, G: sum[1] / n, B: sum[2] / n}))
		}
	}
	up, uw, uh := upright(pix, w, h, orientation)
	return colour.Raster{Width: uw, Height: uh, Pix: up}
}

// picture makes the upright preview for people: an sRGB JPEG of at most
// pictureSide, with no metadata in it, so that none can leave the house with
// it. Colours that sRGB does not hold are clipped channel by channel, which a
// preview may.
func (l light) picture(s *colour.Space, orientation int) ([]byte, error) {
	return l.down(pictureSide).encode(s, orientation, pictureSide, pictureQuality)
}

// down averages l to at most side cells on its long side; its pixels alone, the
// answer serves for nothing but showing.
func (l light) down(side int) light {
	w, h := fit(l.width, l.height, side)
	if w == l.width && h == l.height {
		return l
	}
	out := light{width: w, height: h, pix: make([][3]float32, 0, w*h)}
	xs := reaches(l.width, w)
	row := make([][3]float32, l.width)
	for _, ry := range reaches(l.height, h) {
		blend(row, l.pix[ry.first*l.width:], ry.weights)
		for _, rx := range xs {
			var r, g, b float32
			part := row[rx.first:][:len(rx.weights)]
			for i, weight := range rx.weights {
				v := &part[i]
				r += weight * v[0]
				g += weight * v[1]
				b += weight * v[2]
			}
			out.pix = append(out.pix, [3]float32{r, g, b})
		}
	}
	return out
}

// encode is picture at any size: an sRGB JPEG of quality 1 … 100 whose long
// side is at most side pixels.
func (l light) encode(s *colour.Space, orientation, side, quality int) ([]byte, error) {
	table := sRGBCodes()
	code := func(v float64) uint8 {
		return table[int(min(1, max(0, v))*(codes-1)+0.5)]
	}
	pix := make([][4]uint8, len(l.pix))
	if m, plain := toSRGB(s); plain {
		for i, p := range l.pix {
			pix[i] = [4]uint8{code(float64(p[0])), code(float64(p[1])), code(float64(p[2])), 255}
		}
	} else {
		for i, p := range l.pix {
			r, g, b := float64(p[0]), float64(p[1]), float64(p[2])
			pix[i] = [4]uint8{
				code(m[0][0]*r + m[0][1]*g + m[0][2]*b),
				code(m[1][0]*r + m[1][1]*g + m[1][2]*b),
				code(m[2][0]*r + m[2][1]*g + m[2][2]*b),
				255,
			}
		}
	}
	up, uw, uh := upright(pix, l.width, l.height, orientation)
	img := image.NewRGBA(image.Rect(0, 0, uw, uh))
	for i, p := range up {
		*(*[4]uint8)(img.Pix[4*i:]) = p
	}
	if w, h := fit(uw, uh, side); w != uw || h != uh {
		// imaging works in goroutines of its own, where a panic would end the
		// process: it is only ever handed this picture of our own making.
		n := imaging.Resize(img, w, h, imaging.CatmullRom)
		// Opaque NRGBA and RGBA are the same bytes; image/jpeg is several
		// times faster with the latter.
		img = &image.RGBA{Pix: n.Pix, Stride: n.Stride, Rect: n.Rect}
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: quality}); err != nil {
		return nil, fmt.Errorf("encode the preview: %w", err)
	}
	return buf.Bytes(), nil
}

// fit is the size of w × h brought down so that neither side is longer than
// side; never up, and never to nothing.
func fit(w, h, side int) (int, int) {
	long := max(w, h)
	if long <= side {
		return w, h
	}
	scaled := func(n int) int { return max(1, (n*side+long/2)/long) }
	return scaled(w), scaled(h)
}
