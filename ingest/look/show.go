package look

import (
	"bytes"
	"fmt"
	"io"
	"slices"

	"coverplate/colour"
	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// mostEmbedded is the size of the largest embedded preview that Embedded gives,
// bytes. Those that cameras make for showing, some 1600 × 1080, have a tenth to
// a half of it; a raw's of full size is none to be read for a page.
const mostEmbedded = 2 << 20

// Embedded is the preview that At would measure where the camera embedded it,
// as it stands in the file: nothing is decoded, and the coded pixels are the
// camera's. Beside them stands only what it takes to show it right: how it is
// turned and its colour space. nil where no embedded preview stands for the
// photo, it is larger than 2 MB, or it could not be shown right so. Errors:
// those of camera.Previews, and of r.
func Embedded(r io.ReaderAt, size int64, kind catalogue.FileKind, shot camera.Shot) (jpeg []byte, err error) {
	defer func() {
		if p := recover(); p != nil {
			jpeg, err = nil, &camera.FormatError{Format: "picture", Reason: fmt.Sprintf("its reader gave up: %v", p)}
		}
	}()
	own, ownErr := headerOf(r, size)
	p := photoOf(r, shot, own, ownErr)
	previews, err := camera.Previews(r, size, kind)
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(previews, func(a, b camera.Preview) int { return max(a.Width, a.Height) - max(b.Width, b.Height) })
	for _, c := range previews {
		if !p.stands(c) {
			continue
		}
		if c.Size > mostEmbedded {
			return nil, nil
		}
		b := make([]byte, c.Size)
		if _, err := r.ReadAt(b, c.Offset); err != nil && err != io.EOF {
			return nil, fmt.Errorf("read the preview: %w", err)
		}
		if jpeg := p.shown(b, c); jpeg != nil {
			return jpeg, nil
		}
	}
	return nil, nil
}

// shown is the embedded preview c, whose bytes are b, ready to be shown; nil
// where it can't be as it is.
func (p photo) shown(b []byte, c camera.Preview) []byte {
	r := bytes.NewReader(b)
	h, err := headerOf(r, c.Size)
	if err != nil || h.colours != 3 {
		return nil
	}
	inner, err := camera.Read(r, c.Size, catalogue.JPEG)
	if err != nil {
		inner = camera.Shot{}
	}
	orientation := p.orientation
	if p.turned(c) {
		orientation = 1
	}
	own := inner.Profile != nil && inner.Profile.Space != nil
	space := meaningOfPreview(inner, p.shot, h.colours).space
	adobe, _ := colour.SpaceNamed("Adobe RGB (1998)")
	if !own && space != colour.SRGB && space != adobe {
		return nil // its colours are told by what does not stand in it
	}
	out, err := camera.Shown(b, orientation, !own && space == adobe)
	if err != nil {
		return nil
	}
	return out
}

// Show is At without its measures: the upright preview for people alone, nil
// where no pixels but a thumbnail's could be had. Errors are those of At.
func Show(r io.ReaderAt, size int64, kind catalogue.FileKind, shot camera.Shot) (jpeg []byte, err error) {
	seen, err := see(r, size, kind, shot, true)
	return seen.JPEG, err
}

// Kept is a preview that a shoot keeps, as every page and sheet wants it: an
// upright JPEG in sRGB of at most 1024 pixels, without metadata. One that At or
// Show made is returned as it is; one that Embedded made is turned and made
// smaller. Errors are those of At.
func Kept(picture []byte) ([]byte, error) {
	r := bytes.NewReader(picture)
	shot, err := camera.Read(r, r.Size(), catalogue.JPEG)
	if err != nil {
		return nil, err
	}
	if shot.Orientation <= 1 && shot.ColourSpace == "" && shot.Profile == nil && max(shot.Width, shot.Height) <= pictureSide {
		return picture, nil
	}
	out, err := Show(r, r.Size(), catalogue.JPEG, shot)
	if err == nil && out == nil {
		err = &camera.FormatError{Format: "preview", Reason: "it is too small to be shown"}
	}
	return out, err
}
