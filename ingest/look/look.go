// Package look measures what the pixels of a frame show. It takes them where
// they are cheapest and still true: from a preview that the camera embedded if
// that is large enough and shows the whole photo, else from the file itself.
// It turns them upright, reads them in the colour space that the camera wrote,
// and averages them in linear light.
//
// Whatever the bytes are, a call ends in bounded time and memory, and says in
// words what it could not read.
package look

import (
	"errors"
	"fmt"
	"io"
	"slices"

	"coverplate/colour"
	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look/heif"
)

// Seen is what At made out.
type Seen struct {
	Look catalogue.Look // Picture is left to whoever stores JPEG

	// JPEG is an upright sRGB preview for people, at most 1024 pixels on its
	// long side, without metadata; nil where no pixels but a thumbnail's could
	// be had.
	JPEG []byte
}

// Values of catalogue.Look.Preview: which pixels were measured.
const (
	fromThumbnail = "exif"    // a thumbnail, of Exif or as small: for the palette alone
	fromMPF       = "mpf"     // a large thumbnail of a multi-picture JPEG
	fromRaw       = "raw"     // a preview that a raw or HEIC carries
	fromFile      = "decoded" // the file's own pixels
	// and catalogue.Damaged
)

// How large an embedded preview must be to stand for the photo: the palette
// and the eye are served by either. No source; 1000 pixels fill the preview
// for people, and two fifths of a small photo lose it little.
const (
	enoughPixels = 1000 // on the long side
	enoughShare  = 0.4  // of the photo's long side

	// A preview below this is a thumbnail whatever the file calls it: raws keep
	// theirs of 160 × 120 where others keep previews. The Exif thumbnails of
	// phones reach 512, but those are named as such.
	leastPreview = 320 // pixels, long side
)

// At looks at the picture of size bytes in r. shot is what camera.Read found
// in it: the orientation, profile and colour space are taken from there, and the size
// where the file's own pixels cannot be read.
//
// The order of sources is: an embedded preview that is large enough and has
// the photo's shape, the smallest such; the file itself where it is JPEG, PNG
// or WebP; any other embedded preview; and the Exif thumbnail, for the palette
// alone.
//
// An error does not empty Seen: it still holds the size and whatever a lesser
// source gave, with Look.Preview saying which, "" where there was none. Where the
// file's own pixels are damaged it says so, whatever is shown: a lesser preview,
// or as much of a baseline JPEG as can be read, the rest grey and nothing of it
// measured. The
// error is a *camera.FormatError where the file is damaged, a
// *camera.UnsupportedError where it may be sound but no pixels of it can be
// had here (TIFF, a raw or HEIC without a preview, a picture beyond 200
// megapixels), or wraps an error of r.
func At(r io.ReaderAt, size int64, kind catalogue.FileKind, shot camera.Shot) (Seen, error) {
	return see(r, size, kind, shot, false)
}

// see is At; with show it makes Seen.JPEG and measures nothing.
func see(r io.ReaderAt, size int64, kind catalogue.FileKind, shot camera.Shot, show bool) (seen Seen, err error) {
	// One bad picture must not end the run, whoever's mistake it shows.
	defer func() {
		if p := recover(); p != nil {
			err = &camera.FormatError{Format: "picture", Reason: fmt.Sprintf("its decoder gave up: %v", p)}
		}
	}()
	switch kind {
	case catalogue.JPEG, catalogue.HEIC, catalogue.Picture, catalogue.Raw, catalogue.Thumb:
	default:
		return Seen{}, &camera.UnsupportedError{Format: fmt.Sprintf("a file of kind %q", kind), Reason: "it holds no picture"}
	}

	own, ownErr := headerOf(r, size)
	p := photoOf(r, shot, own, ownErr)
	p.show = show
	seen.Look.Width, seen.Look.Height = uprightSize(p.width, p.height, p.orientation)
	if p.width <= 0 || p.height <= 0 { // half a size is none
		seen.Look.Width, seen.Look.Height = 0, 0
	}

	previews, prevErr := camera.Previews(r, size, kind)
	slices.SortStableFunc(previews, func(a, b camera.Preview) int {
		return max(b.Width, b.Height) - max(a.Width, a.Height)
	})
	for _, c := range slices.Backward(previews) {
		if p.stands(c) && p.take(&seen, c) == nil {
			return seen, nil
		}
	}
	if ownErr == nil {
		ownErr = p.takeFile(&seen, size, own)
		if ownErr == nil {
			return seen, nil
		}
		if errors.As(ownErr, new(*camera.FormatError)) {
			defer func() { seen.Look.Preview = catalogue.Damaged }()
		}
	} else if f, err := formatOf(r, size); err == nil && f == isISO && kind == catalogue.HEIC {
		heifErr := p.takeHEIF(&seen, size)
		if heifErr == nil {
			return seen, nil
		}
		ownErr = heifErr
	}
	for _, c := range previews {
		if !thumbnail(c) && p.take(&seen, c) == nil {
			// All that a raw or HEIC has; for the others something is wrong.
			if undecodable(ownErr) && (kind == catalogue.Raw || kind == catalogue.HEIC) {
				return seen, nil
			}
			return seen, ownErr
		}
	}
	ownErr = refusal(ownErr, prevErr, kind)
	for _, c := range previews {
		if thumbnail(c) && p.take(&seen, c) == nil {
			break
		}
	}
	if errors.As(ownErr, new(*camera.FormatError)) && own.format == isJPEG {
		if picture, says := p.rest(size, own); picture != nil {
			seen.JPEG, ownErr = picture, says
		}
	}
	return seen, ownErr
}

// undecodable tells whether an error of headerOf says that the file may well be
// sound, only of a format that this package does not decode.
func undecodable(err error) bool {
	var u *camera.UnsupportedError
	return errors.As(err, &u) || err == error(unknownFormat)
}

// refusal words why no pixels could be had of a file that has no readable
// preview either. own is why the file itself could not be decoded, previews
// the error of looking for previews.
func refusal(own, previews error, kind catalogue.FileKind) error {
	switch {
	case !undecodable(own):
		return own
	case previews != nil:
		return previews // it knows more formats by name than we do
	case kind == catalogue.Raw:
		return &camera.UnsupportedError{Format: "a raw without an embedded preview", Reason: "let the camera write a JPEG beside it to see it"}
	case kind == catalogue.HEIC:
		return &camera.UnsupportedError{Format: "a HEIC without an embedded JPEG", Reason: "let the camera or phone write a JPEG beside it to see it"}
	}
	return own
}

// photo is the photo being looked at.
type photo struct {
	r             io.ReaderAt
	shot          camera.Shot
	width, height int  // pixels as stored; 0 unknown
	colours       int  // channels of the file's own JPEG or PNG; 0 unknown
	orientation   int  // 1 … 8
	show          bool // the preview alone is wanted, and no measures
}

// photoOf is the photo of shot in r, whose own header is own unless ownErr says
// that it can't be had.
func photoOf(r io.ReaderAt, shot camera.Shot, own header, ownErr error) photo {
	p := photo{
		r: r, shot: shot,
		width: shot.Width, height: shot.Height,
		colours:     own.colours,
		orientation: shot.Orientation,
	}
	if p.orientation < 1 || p.orientation > 8 {
		p.orientation = 1
	}
	if ownErr == nil {
		p.width, p.height = own.width, own.height
	}
	return p
}

// thumbnail tells whether a preview is too small to show the photo to people.
func thumbnail(c camera.Preview) bool {
	return c.From == fromThumbnail || max(c.Width, c.Height) < leastPreview
}

// stands tells whether an embedded preview may stand for the photo.
func (p photo) stands(c camera.Preview) bool {
	if thumbnail(c) {
		return false
	}
	long := max(c.Width, c.Height)
	if long < enoughPixels && float64(long) < enoughShare*float64(max(p.width, p.height)) {
		return false
	}
	if p.width <= 0 || p.height <= 0 { // shape and size are not known: only pixels count
		return long >= enoughPixels
	}
	return sameShape(c.Width, c.Height, p.width, p.height) || p.turned(c)
}

// turned tells whether a preview is upright already though the photo lies on
// its side: some cameras turn the one and not the other.
func (p photo) turned(c camera.Preview) bool {
	return p.orientation >= 5 &&
		!sameShape(c.Width, c.Height, p.width, p.height) &&
		sameShape(c.Width, c.Height, p.height, p.width)
}

// take measures the embedded preview c.
func (p photo) take(seen *Seen, c camera.Preview) error {
	section := io.NewSectionReader(p.r, c.Offset, c.Size)
	h, err := headerOf(section, c.Size)
	if err != nil {
		return err
	}
	if h.colours == 1 && p.colours > 1 {
		// A grey second picture of a photo in colour is its gain or depth map.
		return &camera.FormatError{Format: "preview", Reason: "it is grey and the photo is not"}
	}
	orientation, width, height := p.orientation, p.width, p.height
	if p.turned(c) {
		orientation, width, height = 1, height, width
	}
	from := c.From
	if thumbnail(c) {
		from = fromThumbnail
	}
	inner, err := camera.Read(section, c.Size, catalogue.JPEG)
	if err != nil { // no profile and no Exif of its own; its pixels may be sound
		inner = camera.Shot{}
	}
	m := meaningOfPreview(inner, p.shot, h.colours)
	return p.measure(seen, section, c.Size, h, m, from, orientation, width, height)
}

// takeFile measures the file's own pixels.
func (p photo) takeFile(seen *Seen, size int64, h header) error {
	return p.measure(seen, p.r, size, h, meaningOf(p.shot, h.colours), fromFile, p.orientation, h.width, h.height)
}

// measure decodes the picture in r, whose codes mean m, and fills seen from it.
// width and height are the shape of the photo as this picture should show it.
func (p photo) measure(seen *Seen, r io.ReaderAt, size int64, h header, m meaning, from string, orientation, width, height int) error {
	leave := decodeRoom.enter(h.room(enoughPixels))
	defer func() { leave() }()
	l, err := func() (light, error) {
		img, err := decodeSmaller(r, size, h, enoughPixels)
		if err == errWhole {
			leave()
			leave = decodeRoom.enter(h.room(0))
			img, err = decode(r, size, h)
		}
		if err != nil {
			return light{}, err
		}
		rect := img.Bounds()
		if from != fromFile {
			rect = withoutBars(img, width, height)
		}
		return gather(img, rect, curveOf(m.space), pictureSide, h.format == isWebP), nil
	}()
	if err != nil {
		return err
	}
	return p.fill(seen, l, m, from, orientation)
}

// rest is a picture for people of what can be read of a damaged JPEG, and what
// is missing, in words; nil where there is nothing to show.
func (p photo) rest(size int64, h header) (picture []byte, says error) {
	defer decodeRoom.enter(h.room(enoughPixels))()
	img, says := readable(p.r, size, h, enoughPixels)
	if img == nil {
		return nil, says
	}
	m := meaningOf(p.shot, h.colours)
	picture, err := gather(img, img.Bounds(), curveOf(m.space), pictureSide, false).picture(m.space, p.orientation)
	if err != nil {
		return nil, err
	}
	return picture, says
}

// takeHEIF measures the pixels of a HEIC, which its decoder turns upright by the
// file's own turns.
func (p photo) takeHEIF(seen *Seen, size int64) error {
	if p.width <= 0 || p.height <= 0 {
		return &camera.FormatError{Format: "HEIC", Reason: "its size in pixels is not written"}
	}
	m := meaningOf(p.shot, 3)
	leave := decodeRoom.enter(8*int64(p.width)*int64(p.height) + size)
	orientation := 1
	l, err := func() (light, error) {
		defer leave()
		img, err := heif.Decode(p.r, size, p.width, p.height)
		if err != nil {
			return light{}, heifInWords(err)
		}
		w, h := uprightSize(p.width, p.height, p.orientation)
		switch b := img.Bounds(); {
		case b.Dx() == w && b.Dy() == h:
		case b.Dx() == p.width && b.Dy() == p.height: // a turn that the file has in its Exif alone
			orientation = p.orientation
		default:
			return light{}, header{format: isISO, width: p.width, height: p.height}.differs(b.Dx(), b.Dy())
		}
		return gather(img, img.Bounds(), curveOf(m.space), pictureSide, false), nil
	}()
	if err != nil {
		return err
	}
	return p.fill(seen, l, m, fromFile, orientation)
}

// heifInWords says what is wrong with a HEIC that can't be decoded.
func heifInWords(err error) error {
	switch {
	case errors.Is(err, heif.ErrFormat), errors.Is(err, heif.ErrSlow):
		return &camera.FormatError{Format: "HEIC", Reason: err.Error()}
	case errors.Is(err, heif.ErrTooLarge), errors.Is(err, heif.ErrUnavailable):
		return &camera.UnsupportedError{Format: "HEIC", Reason: err.Error() + "; let the camera or phone write a JPEG beside it"}
	}
	return fmt.Errorf("read the picture: %w", err)
}

// fill fills seen from the light of the picture, whose codes mean m.
func (p photo) fill(seen *Seen, l light, m meaning, from string, orientation int) (err error) {
	var jpeg []byte
	if from != fromThumbnail {
		if jpeg, err = l.picture(m.space, orientation); err != nil {
			return err
		}
	}
	if p.show {
		seen.Look.Preview, seen.JPEG = from, jpeg
		return nil
	}
	raster := l.raster(m.space, orientation)
	palette, surface, err := colour.Extract(raster)
	if err != nil {
		return fmt.Errorf("take the palette: %w", err)
	}
	seen.Look.Preview, seen.Look.Profile, seen.Look.Palette, seen.Look.Surface, seen.JPEG = from, m.words, palette, surface, jpeg
	if from != fromThumbnail {
		l.planes(m.space, orientation, planesSide).measure(&seen.Look, raster)
		seen.Look.Slate = l.slate(orientation)
	}
	return nil
}
