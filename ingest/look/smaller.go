package look

import (
	"bytes"
	"fmt"

	"coverplate/colour"
	"coverplate/ingest/camera"
)

// smallerQuality is of the JPEG that Smaller makes, as image/jpeg counts. At
// a third of a preview's size the eye is on the whole, not on the grain.
const smallerQuality = 78

// Smaller makes a preview smaller: picture is one that At made, or any JPEG in
// sRGB that stands upright; the answer is a JPEG of at most side pixels on its
// long side, averaged in linear light and without metadata. A picture that is
// no longer than side keeps its size.
//
// The error is a *camera.FormatError where picture is damaged or no JPEG, a
// *camera.UnsupportedError where it is one that is not decoded here.
func Smaller(picture []byte, side int) (smaller []byte, err error) {
	if side < 1 {
		return nil, fmt.Errorf("make a picture smaller: %d pixels are no size", side)
	}
	defer func() {
		if p := recover(); p != nil {
			smaller, err = nil, &camera.FormatError{Format: "picture", Reason: fmt.Sprintf("its decoder gave up: %v", p)}
		}
	}()
	r := bytes.NewReader(picture)
	h, err := headerOf(r, r.Size())
	if err != nil {
		return nil, err
	}
	if h.format != isJPEG {
		return nil, &camera.FormatError{Format: "JPEG", Reason: "it is " + string(h.format)}
	}
	defer decodeRoom.enter(h.memory)()
	img, err := decode(r, r.Size(), h)
	if err != nil {
		return nil, err
	}
	return gather(img, img.Bounds(), curveOf(colour.SRGB), side, false).encode(colour.SRGB, 1, side, smallerQuality)
}
