package look

import (
	"fmt"
	"image"
	"io"
	"math"

	"coverplate/colour"
	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// Close is what Closer made out at 1:1 of the original.
type Close struct {
	// Full is catalogue.Focus.Full: the contrast that detail of 8 pixels'
	// period keeps through the blur of the sharpest part, 0 … 1. nil where
	// nothing there has an edge to tell by.
	Full *float64

	// Blur is the σ in pixels of the Gaussian that blurs an edge like that; 0
	// where Full is nil, or where edges are as sharp as pixels can hold.
	Blur float64

	// Where that part lies in the upright picture; empty where Full is nil.
	Where catalogue.Region
}

// fullSize is how much of the original's long side an embedded preview must
// have to be read in its place: raws carry theirs cut to the picture's format.
const fullSize = 0.95

// Closer reads the original's own pixels, or an embedded preview of its full
// size, and says how sharp the sharpest of the regions is at 1:1; of the whole
// picture where no regions are given. The answer is absolute: it needs no other
// frame and no preview. shot is what camera.Read found; regions are of the
// upright picture.
//
// It takes a full decode, in the memory that all decodes share. Errors are
// those of At; a *camera.UnsupportedError also where no pixels of full size
// can be had.
func Closer(r io.ReaderAt, size int64, kind catalogue.FileKind, shot camera.Shot, regions ...catalogue.Region) (c Close, err error) {
	defer func() {
		if p := recover(); p != nil {
			c, err = Close{}, &camera.FormatError{Format: "picture", Reason: fmt.Sprintf("its decoder gave up: %v", p)}
		}
	}()
	section, h, orientation, err := fullPixels(r, size, kind, shot)
	if err != nil {
		return Close{}, err
	}
	leave := decodeRoom.enter(h.memory)
	defer leave()
	img, err := decode(section, section.Size(), h)
	if err != nil {
		return Close{}, err
	}
	// Sharpness asks for no colours: any curve near the eye's serves.
	luma := lumaOf(img, &curveOf(colour.SRGB).light[1])
	return luma.sharpest(orientation, regions), nil
}

// fullPixels finds the pixels of a file that are those of the whole original.
func fullPixels(r io.ReaderAt, size int64, kind catalogue.FileKind, shot camera.Shot) (*io.SectionReader, header, int, error) {
	orientation := shot.Orientation
	if orientation < 1 || orientation > 8 {
		orientation = 1
	}
	own, ownErr := headerOf(r, size)
	if ownErr == nil {
		return io.NewSectionReader(r, 0, size), own, orientation, nil
	}
	if !undecodable(ownErr) {
		return nil, header{}, 0, ownErr
	}
	previews, prevErr := camera.Previews(r, size, kind)
	p := photo{width: shot.Width, height: shot.Height, orientation: orientation}
	for _, c := range previews {
		long := float64(max(c.Width, c.Height))
		if p.width <= 0 || p.height <= 0 || long < fullSize*float64(max(p.width, p.height)) {
			continue
		}
		section := io.NewSectionReader(r, c.Offset, c.Size)
		h, err := headerOf(section, c.Size)
		if err != nil {
			continue
		}
		if p.turned(c) {
			orientation = 1
		}
		return section, h, orientation, nil
	}
	if len(previews) > 0 && prevErr == nil {
		return nil, header{}, 0, &camera.UnsupportedError{Format: fmt.Sprintf("a %s without pixels of its full size", kind), Reason: "let the camera write a JPEG of full size beside it"}
	}
	return nil, header{}, 0, refusal(ownErr, prevErr, kind)
}

// luma is a picture at its own size, as stored: the square root of the light
// of each code of one byte a pixel. A slope of it is alike in shade and light.
type luma struct {
	w, h   int
	stride int
	pix    []uint8
	tone   [256]float32 // of each byte, 0 … 1
}

// lumaOf takes a JPEG's luma as it is and makes one byte a pixel of anything
// else.
func lumaOf(img image.Image, curve *[256]uint32) luma {
	b := img.Bounds()
	l := luma{w: b.Dx(), h: b.Dy()}
	for i, v := range curve {
		l.tone[i] = float32(math.Sqrt(float64(v) / one))
	}
	switch m := img.(type) {
	case *image.YCbCr:
		l.pix, l.stride = m.Y[m.YOffset(b.Min.X, b.Min.Y):], m.YStride
	case *image.Gray:
		l.pix, l.stride = m.Pix[m.PixOffset(b.Min.X, b.Min.Y):], m.Stride
	default:
		rgb, ok := img.(*image.RGBA)
		if !ok || !rgb.Opaque() {
			rgb = onWhite(img, b)
		}
		l.pix, l.stride = make([]uint8, l.w*l.h), l.w
		for y := range l.h {
			row := rgb.Pix[rgb.PixOffset(b.Min.X, b.Min.Y+y):]
			for x := range l.w {
				q := row[4*x : 4*x+3 : 4*x+3]
				// ITU-R BT.601's luma, as in a JPEG.
				l.pix[y*l.w+x] = uint8((299*int(q[0]) + 587*int(q[1]) + 114*int(q[2]) + 500) / 1000)
			}
		}
	}
	return l
}
