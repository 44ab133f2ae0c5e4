package look

import (
	"bufio"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"

	"golang.org/x/image/webp"

	"coverplate/ingest/camera"
)

// format is what the first bytes of a file say it is. Names lie: studios have
// JPEGs called .nef and PNGs called .jpg.
type format string

const (
	isJPEG    format = "JPEG"
	isPNG     format = "PNG"
	isWebP    format = "WebP"
	isTIFF    format = "TIFF" // also the raws built on it
	isISO     format = "HEIC" // ISO 14496-12 boxes: HEIC, HIF, AVIF, CR3
	isUnknown format = ""
)

// formatOf reads the first bytes of the file.
func formatOf(r io.ReaderAt, size int64) (format, error) {
	var b [12]byte
	n, err := r.ReadAt(b[:min(size, int64(len(b)))], 0)
	if err != nil && !errors.Is(err, io.EOF) {
		return isUnknown, fmt.Errorf("read the picture: %w", err)
	}
	switch h := string(b[:n]); {
	case n >= 2 && h[:2] == "\xff\xd8":
		return isJPEG, nil
	case n >= 8 && h[:8] == "\x89PNG\r\n\x1a\n":
		return isPNG, nil
	case n >= 12 && h[:4] == "RIFF" && h[8:] == "WEBP":
		return isWebP, nil
	case n >= 4 && (h[:4] == "II*\x00" || h[:4] == "MM\x00*"):
		return isTIFF, nil
	case n >= 8 && h[4:8] == "ftyp":
		return isISO, nil
	}
	return isUnknown, nil
}

// Bounds of one decode. A picture beyond them is refused before a byte of
// pixels is asked for. No source: a 150 megapixel back is the largest camera
// we know of, and two workers on a small machine must live.
const (
	maxPixels     = 200_000_000
	decodeBudget  = 1536 << 20    // bytes that one decode may take
	roomBudget    = 100 << 20     // bytes that looks at pictures take together; a larger picture is looked at alone
	maxScans      = 1000          // of a progressive JPEG; cameras write one, software some ten
	maxScanPixels = 4_000_000_000 // pixels times scans, which is what a scan costs at least
)

// header is what must be known of a picture before it is decoded.
type header struct {
	format        format
	width, height int   // pixels as stored
	colours       int   // channels of a pixel, transparency apart: 1 grey, 3, or 4 inks
	progressive   bool  // of a JPEG
	memory        int64 // bytes that decoding it takes, about
}

// unknownFormat refuses what is no picture by its first bytes.
var unknownFormat = &camera.FormatError{Format: "picture", Reason: "its first bytes are those of no picture known here"}

// headerOf reads the size of a picture that this package can decode and
// refuses, as a *camera.FormatError or *camera.UnsupportedError, one that is
// broken, of no size, too large, or that no decoder here understands.
func headerOf(r io.ReaderAt, size int64) (header, error) {
	f, err := formatOf(r, size)
	if err != nil {
		return header{}, err
	}
	var h header
	switch f {
	case isJPEG:
		h, err = jpegHeader(r, size)
	case isPNG:
		h, err = configHeader(r, size, isPNG, png.DecodeConfig)
	case isWebP:
		h, err = configHeader(r, size, isWebP, webp.DecodeConfig)
	case isTIFF:
		err = &camera.UnsupportedError{Format: "TIFF", Reason: "its pixels are not read here; export a JPEG or PNG beside it to see it"}
	case isISO:
		err = &camera.UnsupportedError{Format: "HEIC", Reason: "its pixels are not read here; let the camera or phone write a JPEG beside it"}
	default:
		if size == 0 {
			err = &camera.FormatError{Format: "picture", Reason: "the file is empty"}
		} else {
			err = unknownFormat
		}
	}
	if err != nil {
		return header{}, err
	}
	if h.width <= 0 || h.height <= 0 {
		return header{}, &camera.FormatError{Format: string(f), Reason: fmt.Sprintf("its size of %d × %d pixels holds nothing", h.width, h.height)}
	}
	if n := int64(h.width) * int64(h.height); n > maxPixels {
		return header{}, &camera.UnsupportedError{
			Format: fmt.Sprintf("%s of %d × %d pixels", f, h.width, h.height),
			Reason: fmt.Sprintf("more than %d megapixels are not decoded", maxPixels/1_000_000),
		}
	}
	if h.memory > decodeBudget {
		return header{}, &camera.UnsupportedError{
			Format: fmt.Sprintf("%s of %d × %d pixels", f, h.width, h.height),
			Reason: fmt.Sprintf("decoding it takes some %d MB, more than the %d MB allowed", h.memory>>20, decodeBudget>>20),
		}
	}
	return h, nil
}

func configHeader(r io.ReaderAt, size int64, f format, config func(io.Reader) (image.Config, error)) (header, error) {
	c, err := config(bufio.NewReader(io.NewSectionReader(r, 0, size)))
	if err != nil {
		return header{}, inWords(f, err, size)
	}
	h := header{format: f, width: c.Width, height: c.Height, colours: 3}
	bytes := int64(8) // four channels, and our copy of them
	switch c.ColorModel {
	case color.NRGBA64Model, color.RGBA64Model:
		bytes = 16
	case color.Gray16Model:
		bytes, h.colours = 2, 1
	case color.GrayModel:
		h.colours = 1
	}
	h.memory = bytes * int64(c.Width) * int64(c.Height)
	return h, nil
}

// jpegHeader walks the segments of a JPEG up to its frame header (ITU-T T.81
// annex B.2.2), which says more than image/jpeg's DecodeConfig does: whether
// it is progressive, which decides the memory that decoding takes, and, where
// it is of a kind that image/jpeg refuses, which kind that is.
func jpegHeader(r io.ReaderAt, size int64) (header, error) {
	br := bufio.NewReader(io.NewSectionReader(r, 0, size))
	cut := func(err error) error {
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return &camera.FormatError{Format: "JPEG", Reason: fmt.Sprintf("cut off: its %d bytes end before the picture begins", size)}
		}
		return fmt.Errorf("read the picture: %w", err)
	}
	if _, err := br.Discard(2); err != nil { // SOI, which formatOf has seen
		return header{}, cut(err)
	}
	for {
		m, err := marker(br)
		if err != nil {
			return header{}, cut(err)
		}
		switch {
		case m == 0xD9 || m == 0xDA: // EOI, SOS
			return header{}, &camera.FormatError{Format: "JPEG", Reason: "it has no frame header, so no size and no picture"}
		case m == 0x00 || m == 0x01 || 0xD0 <= m && m <= 0xD8: // stand alone
			continue
		}
		var l [2]byte
		if _, err := io.ReadFull(br, l[:]); err != nil {
			return header{}, cut(err)
		}
		n := (int(l[0])<<8 | int(l[1])) - 2
		if n < 0 {
			return header{}, &camera.FormatError{Format: "JPEG", Reason: fmt.Sprintf("segment %02X says that it has %d bytes", m, n+2)}
		}
		if m < 0xC0 || m > 0xCF || m == 0xC4 || m == 0xC8 || m == 0xCC { // not a frame header
			if _, err := br.Discard(n); err != nil {
				return header{}, cut(err)
			}
			continue
		}
		b := make([]byte, n)
		if _, err := io.ReadFull(br, b); err != nil {
			return header{}, cut(err)
		}
		return frameHeader(m, b, size)
	}
}

// marker returns the code of the next marker. Bytes between two segments are
// passed over, as image/jpeg and libjpeg do.
func marker(br *bufio.Reader) (byte, error) {
	for {
		c, err := br.ReadByte()
		if err != nil {
			return 0, err
		}
		if c != 0xFF {
			continue
		}
		for c == 0xFF { // fill bytes
			if c, err = br.ReadByte(); err != nil {
				return 0, err
			}
		}
		return c, nil
	}
}

// frameHeader reads the body of the SOF segment with code m.
func frameHeader(m byte, b []byte, size int64) (header, error) {
	unsupported := func(what string) (header, error) {
		return header{}, &camera.UnsupportedError{Format: "JPEG " + what, Reason: "export it as an ordinary baseline or progressive JPEG"}
	}
	switch {
	case m > 0xC8:
		return unsupported("with arithmetic coding")
	case m == 0xC3:
		return unsupported("with lossless coding")
	case m > 0xC2:
		return unsupported("with hierarchical coding")
	}
	if len(b) < 6 || len(b) != 6+3*int(b[5]) {
		return header{}, &camera.FormatError{Format: "JPEG", Reason: "its frame header has the wrong length"}
	}
	h := header{
		format:      isJPEG,
		height:      int(b[1])<<8 | int(b[2]),
		width:       int(b[3])<<8 | int(b[4]),
		colours:     int(b[5]),
		progressive: m == 0xC2,
	}
	if b[0] != 8 {
		return unsupported(fmt.Sprintf("of %d bits a channel", b[0]))
	}
	if h.colours != 1 && h.colours != 3 && h.colours != 4 {
		return unsupported(fmt.Sprintf("of %d channels", h.colours))
	}
	pixels := int64(h.width) * int64(h.height)

	// The planes as stored, at most one byte a pixel each: chroma is thinner
	// by the ratio of its sampling factors to the first component's.
	var samples int64
	first := int64(b[7]>>4) * int64(b[7]&15)
	for i := range h.colours {
		f := int64(b[7+3*i]>>4) * int64(b[7+3*i]&15)
		if first > 0 && h.colours == 3 {
			samples += min(pixels, pixels*f/first)
		} else {
			samples += pixels
		}
	}
	h.memory = samples
	if h.progressive {
		h.memory += 4 * samples // image/jpeg keeps every coefficient as an int32
	}
	if h.colours == 4 {
		h.memory += 8 * pixels // image/jpeg's CMYK, and our RGB
	}

	// Each 8 × 8 block of the first component costs at least a bit for its DC
	// term and, outside progressive, another for the end of the block. A
	// header that promises more than the file can hold is not given memory.
	blocks := int64((h.width+7)/8) * int64((h.height+7)/8)
	least := blocks / 8
	if !h.progressive {
		least = blocks / 4
	}
	if size < least {
		return header{}, &camera.FormatError{
			Format: "JPEG",
			Reason: fmt.Sprintf("cut off: %d × %d pixels take at least %d bytes, the file has %d", h.width, h.height, least, size),
		}
	}
	return h, nil
}
