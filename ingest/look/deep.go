package look

import (
	"encoding/binary"
	"image"
	"image/draw"
)

// deep is an opaque picture of 16 bits a channel, high byte first.
type deep struct {
	pix    []uint8
	stride int // bytes from one row to the next
	rect   image.Rectangle
	step   int    // bytes from one pixel to the next
	at     [3]int // bytes from a pixel to its R, G and B
}

func deepRGB(m *image.RGBA64) deep {
	return deep{m.Pix, m.Stride, m.Rect, 8, [3]int{0, 2, 4}}
}

// rowsOfDeep is rowsOfYCbCr for a picture of 16 bits a channel. Its codes are
// taken whole: in a space whose curve is near to straight, as such pictures
// often are in, 8 bits leave nothing of the shadows.
func rowsOfDeep(m deep, rect image.Rectangle, xs []int, curve *curves) func(int, []tally) {
	light := new([3][1 << 16]uint64)
	for code := range 1 << 16 {
		for channel, l := range lightOf(curve.space, float64(code)/(1<<16-1)) {
			light[channel][code] = marked(code>>8, l)
		}
	}
	return func(y int, sums []tally) {
		row := m.pix[(y-m.rect.Min.Y)*m.stride+(rect.Min.X-m.rect.Min.X)*m.step:]
		for i := range sums {
			for from := xs[i]; from < xs[i+1]; from += maxRun {
				var r, g, b, marks uint64
				for x := from; x < min(from+maxRun, xs[i+1]); x++ {
					q := row[x*m.step:]
					pr := light[0][binary.BigEndian.Uint16(q[m.at[0]:])]
					pg := light[1][binary.BigEndian.Uint16(q[m.at[1]:])]
					pb := light[2][binary.BigEndian.Uint16(q[m.at[2]:])]
					r, g, b = r+pr, g+pg, b+pb
					marks += marksOf(pr, pg, pb)
				}
				sums[i].add(r, g, b, marks)
			}
		}
	}
}

// deepOnWhite is onWhite that keeps 16 bits a channel.
func deepOnWhite(img image.Image, rect image.Rectangle) *image.RGBA64 {
	dst := image.NewRGBA64(rect)
	draw.Draw(dst, rect, image.White, image.Point{}, draw.Src)
	draw.Draw(dst, rect, img, rect.Min, draw.Over)
	return dst
}
