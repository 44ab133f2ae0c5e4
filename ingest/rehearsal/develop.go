package rehearsal

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"io"
)

// encode writes img as a baseline JPEG.
func encode(w io.Writer, img image.Image, quality int) error {
	return jpeg.Encode(w, img, &jpeg.Options{Quality: quality})
}

// thumbnail is the JPEG of IFD1: 160 pixels on the long side, or, barred, 160
// × 120 with black bars wherever the picture is wider or narrower, as most
// bodies of 3:2 write it.
func thumbnail(img *image.YCbCr, barred bool) ([]byte, error) {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	tw, th := 160, (160*h+w/2)/w
	if h > w {
		tw, th = (160*w+h/2)/h, 160
	}
	if barred && h <= w {
		th = 160 * h / w
	}
	small := shrink(img, tw, th)
	var b bytes.Buffer
	if barred && th < 120 {
		framed := image.NewRGBA(image.Rect(0, 0, 160, 120))
		for i := 3; i < len(framed.Pix); i += 4 {
			framed.Pix[i] = 255
		}
		top := (120 - th) / 2
		for y := range th {
			copy(framed.Pix[framed.PixOffset(0, top+y):], small.Pix[small.PixOffset(0, y):small.PixOffset(0, y)+4*tw])
		}
		small = framed
	}
	err := encode(&b, small, 80)
	return b.Bytes(), err
}

// reduced is img as a JPEG of one n-th of its size.
func reduced(img *image.YCbCr, n int) (b []byte, width, height int, err error) {
	width, height = img.Rect.Dx()/n, img.Rect.Dy()/n
	var buf bytes.Buffer
	err = encode(&buf, shrink(img, width, height), 82)
	return buf.Bytes(), width, height, err
}

// shrink averages img into w × h boxes.
func shrink(img *image.YCbCr, w, h int) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	sw, sh := img.Rect.Dx(), img.Rect.Dy()
	for y := range h {
		y0, y1 := y*sh/h, max((y+1)*sh/h, y*sh/h+1)
		for x := range w {
			x0, x1 := x*sw/w, max((x+1)*sw/w, x*sw/w+1)
			// At most some eight by eight pixels of a box are asked.
			dy, dx := max((y1-y0)/8, 1), max((x1-x0)/8, 1)
			var sy, sb, sr, n int
			for v := y0; v < y1; v += dy {
				for u := x0; u < x1; u += dx {
					sy += int(img.Y[img.YOffset(u, v)])
					c := img.COffset(u, v)
					sb += int(img.Cb[c])
					sr += int(img.Cr[c])
					n++
				}
			}
			r, g, b := color.YCbCrToRGB(uint8((sy+n/2)/n), uint8((sb+n/2)/n), uint8((sr+n/2)/n))
			i := out.PixOffset(x, y)
			out.Pix[i], out.Pix[i+1], out.Pix[i+2], out.Pix[i+3] = r, g, b, 255
		}
	}
	return out
}
