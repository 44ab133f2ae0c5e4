package look

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"io"

	"coverplate/colour"
	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// Cut is a part of a picture and the pixels that it is brought to.
type Cut struct {
	Of   image.Point     // size of the upright picture that Rect counts in
	Rect image.Rectangle // the part, upright pixels
	To   image.Point     // width and height of the answer, pixels
}

const (
	postQuality = 90 // of its JPEG, as image/jpeg counts; common practice, no source
	postBand    = 16 // rows of a post that are averaged at a time, to bound the memory
	mostPost    = 8192

	// What a reduction takes off edges is given back lightly (common practice,
	// no source): a share of what a pixel's lightness differs from its
	// surroundings, at most so many codes of 255.
	sharpenBy   = 0.4
	sharpenMost = 14
)

// Post cuts a picture and brings it down to the size of a post: a JPEG in sRGB,
// averaged in linear light by area, sharpened lightly after a reduction, and with
// nothing in it but pixels. It reads the original's own pixels, or an embedded
// preview of its full size; shot is what camera.Read found.
//
// It never scales up: a part with fewer pixels than the answer is an error, and
// so is one of another shape, or beyond the picture. Other errors are those of
// Closer.
func Post(r io.ReaderAt, size int64, kind catalogue.FileKind, shot camera.Shot, cut Cut) (post []byte, err error) {
	defer func() {
		if p := recover(); p != nil {
			post, err = nil, &camera.FormatError{Format: "picture", Reason: fmt.Sprintf("its decoder gave up: %v", p)}
		}
	}()
	if err := cut.check(); err != nil {
		return nil, err
	}
	section, h, orientation, err := fullPixels(r, size, kind, shot)
	if err != nil {
		return nil, err
	}
	m := meaningOf(shot, h.colours)
	width, height := h.width, h.height
	if _, err := headerOf(r, size); err != nil { // they are a preview's
		inner, err := camera.Read(section, section.Size(), catalogue.JPEG)
		if err != nil {
			inner = camera.Shot{}
		}
		m = meaningOfPreview(inner, shot, h.colours)
		width, height = shot.Width, shot.Height
		if orientation == 1 {
			width, height = uprightSize(width, height, shot.Orientation)
		}
	}
	l, err := cut.light(section, h, orientation, m, width, height)
	if err != nil {
		return nil, err
	}
	return l.post(m.space, orientation, cut.Rect.Size() != cut.To)
}

// check refuses what can't be cut of any picture.
func (c Cut) check() error {
	w, h := c.Rect.Dx(), c.Rect.Dy()
	switch {
	case c.To.X < 1 || c.To.Y < 1 || c.To.X > mostPost || c.To.Y > mostPost:
		return fmt.Errorf("cut a post: %d × %d pixels are no size for one", c.To.X, c.To.Y)
	case c.Rect.Empty() || !c.Rect.In(image.Rectangle{Max: c.Of}):
		return fmt.Errorf("cut a post: %v leaves the picture of %d × %d pixels", c.Rect, c.Of.X, c.Of.Y)
	case w < c.To.X || h < c.To.Y:
		return fmt.Errorf("cut a post: %d × %d pixels are fewer than the %d × %d of the post", w, h, c.To.X, c.To.Y)
	}
	// One pixel of the part either way is no other shape.
	if d := w*c.To.Y - h*c.To.X; d > max(c.To.X, c.To.Y) || -d > max(c.To.X, c.To.Y) {
		return fmt.Errorf("cut a post: %d × %d pixels are of another shape than %d × %d", w, h, c.To.X, c.To.Y)
	}
	return nil
}

// light decodes the picture and averages the part down, as stored. width and
// height are the shape of the photo as this picture stores it.
func (c Cut) light(section *io.SectionReader, h header, orientation int, m meaning, width, height int) (light, error) {
	defer decodeRoom.enter(h.memory)()
	img, err := decode(section, section.Size(), h)
	if err != nil {
		return light{}, err
	}
	whole := withoutBars(img, width, height)
	uw, uh := uprightSize(whole.Dx(), whole.Dy(), orientation)
	if (uw != c.Of.X || uh != c.Of.Y) && !sameShape(uw, uh, c.Of.X, c.Of.Y) {
		return light{}, &camera.UnsupportedError{Format: "a picture of another shape than was measured", Reason: fmt.Sprintf("it has %d × %d pixels, and %d × %d were cut", uw, uh, c.Of.X, c.Of.Y)}
	}
	at := image.Rect(c.Rect.Min.X*uw/c.Of.X, c.Rect.Min.Y*uh/c.Of.Y, c.Rect.Max.X*uw/c.Of.X, c.Rect.Max.Y*uh/c.Of.Y)
	if at.Dx() < c.To.X || at.Dy() < c.To.Y {
		return light{}, &camera.UnsupportedError{Format: "a picture without pixels of its full size", Reason: fmt.Sprintf("its embedded preview gives %d × %d for the post's %d × %d", at.Dx(), at.Dy(), c.To.X, c.To.Y)}
	}
	rect := stored(at, uw, uh, orientation).Add(whole.Min)
	nw, nh := uprightSize(c.To.X, c.To.Y, orientation)
	curve := curveOf(m.space)
	out := light{width: nw, height: nh, pix: make([][3]float32, 0, nw*nh)}
	rows, columns := reaches(rect.Dy(), nh), reaches(rect.Dx(), nw)
	for top := 0; top < nh; top += postBand {
		band := rows[top:min(nh, top+postBand)]
		last := band[len(band)-1]
		first, end := band[0].first, last.first+len(last.weights)
		strip := image.Rect(rect.Min.X, rect.Min.Y+first, rect.Max.X, rect.Min.Y+end)
		l := gather(img, strip, curve, max(strip.Dx(), strip.Dy()), h.format == isWebP)
		line := make([][3]float32, l.width)
		for _, ry := range band {
			clear(line)
			for i, weight := range ry.weights {
				for x, p := range l.pix[(ry.first-first+i)*l.width:][:l.width] {
					for k := range p {
						line[x][k] += weight * p[k]
					}
				}
			}
			for _, rx := range columns {
				var sum [3]float32
				for i, weight := range rx.weights {
					for k, v := range line[rx.first+i] {
						sum[k] += weight * v
					}
				}
				out.pix = append(out.pix, sum)
			}
		}
	}
	return out, nil
}

// stored is where the part at of an upright picture of uw × uh pixels lies in
// the pixels as they are stored: the inverse of upright.
func stored(at image.Rectangle, uw, uh, orientation int) image.Rectangle {
	x0, y0, x1, y1 := at.Min.X, at.Min.Y, at.Max.X, at.Max.Y
	switch orientation {
	case 2:
		return image.Rect(uw-x1, y0, uw-x0, y1)
	case 3:
		return image.Rect(uw-x1, uh-y1, uw-x0, uh-y0)
	case 4:
		return image.Rect(x0, uh-y1, x1, uh-y0)
	case 5:
		return image.Rect(y0, x0, y1, x1)
	case 6:
		return image.Rect(y0, uw-x1, y1, uw-x0)
	case 7:
		return image.Rect(uh-y1, uw-x1, uh-y0, uw-x0)
	case 8:
		return image.Rect(uh-y1, x0, uh-y0, x1)
	}
	return at
}

// post makes the upright JPEG of l, in the space s. What was reduced is
// sharpened; at 1:1 a picture is shown as it is.
func (l light) post(s *colour.Space, orientation int, reduced bool) ([]byte, error) {
	table := sRGBCodes()
	m, _ := toSRGB(s)
	pix := make([][3]uint8, len(l.pix))
	for i, p := range l.pix {
		for k := range m {
			v := m[k][0]*float64(p[0]) + m[k][1]*float64(p[1]) + m[k][2]*float64(p[2])
			pix[i][k] = table[int(min(1, max(0, v))*(codes-1)+0.5)]
		}
	}
	up, w, h := upright(pix, l.width, l.height, orientation)
	by := sharpenBy
	if !reduced {
		by = 0
	}
	img := sharpened(up, w, h, by)
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: postQuality}); err != nil {
		return nil, fmt.Errorf("encode the post: %w", err)
	}
	return buf.Bytes(), nil
}

// sharpened lifts each pixel by what its lightness differs from that of the
// pixels around it. All channels move alike, so that edges get no colour.
func sharpened(pix [][3]uint8, w, h int, by float64) *image.RGBA {
	luma := func(x, y int) int { // ITU-R BT.709's weights, in thousandths
		p := pix[min(h-1, max(0, y))*w+min(w-1, max(0, x))]
		return 213*int(p[0]) + 715*int(p[1]) + 72*int(p[2])
	}
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			around := 0 // the binomial 3 × 3, sixteenths
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					around += (2 - dx*dx) * (2 - dy*dy) * luma(x+dx, y+dy)
				}
			}
			lift := by * float64(luma(x, y)*16-around) / 16000
			lift = min(sharpenMost, max(-sharpenMost, lift))
			i := img.PixOffset(x, y)
			for k, v := range pix[y*w+x] {
				img.Pix[i+k] = uint8(min(255, max(0, float64(v)+lift)) + 0.5)
			}
			img.Pix[i+3] = 255
		}
	}
	return img
}
