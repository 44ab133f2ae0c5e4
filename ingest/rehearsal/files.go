package rehearsal

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"html"
	"math"
	"os"
	"path/filepath"
	"strings"
)

// segment is a JPEG marker segment with its length.
func segment(marker byte, parts ...[]byte) ([]byte, error) {
	body := bytes.Join(parts, nil)
	if len(body)+2 > math.MaxUint16 {
		return nil, fmt.Errorf("segment %#x of %d bytes is longer than a JPEG allows", marker, len(body))
	}
	out := []byte{0xFF, marker}
	out = binary.BigEndian.AppendUint16(out, uint16(len(body)+2))
	return append(out, body...), nil
}

// wrapJPEG puts Exif, and XMP where there is any, behind the start of picture,
// a JPEG as the encoder made it.
func wrapJPEG(picture, exif, xmp []byte) ([]byte, error) {
	if len(picture) < 4 || picture[0] != 0xFF || picture[1] != 0xD8 {
		return nil, errors.New("encoder's picture is no JPEG")
	}
	app1, err := segment(0xE1, []byte("Exif\x00\x00"), exif)
	if err != nil {
		return nil, err
	}
	out := append([]byte{0xFF, 0xD8}, app1...)
	if xmp != nil {
		app1, err := segment(0xE1, []byte("http://ns.adobe.com/xap/1.0/\x00"), xmp)
		if err != nil {
			return nil, err
		}
		out = append(out, app1...)
	}
	return append(out, picture[2:]...), nil
}

// xmpOf is the XMP of e: its rating, and the recipe's id as a subject. As a
// packet it carries the wrapper of ISO 16684-1, as a sidecar an XML
// declaration.
func xmpOf(e exposure, sidecar bool) []byte {
	var b strings.Builder
	if sidecar {
		b.WriteString("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n")
	} else {
		b.WriteString("<?xpacket begin=\"\ufeff\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n")
	}
	b.WriteString(`<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about="" xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:dc="http://purl.org/dc/elements/1.1/"`)
	if e.rating != 0 {
		fmt.Fprintf(&b, "\n    xmp:Rating=%q", fmt.Sprint(e.rating))
	}
	b.WriteString(">\n")
	if e.subject != "" {
		fmt.Fprintf(&b, "   <dc:subject><rdf:Bag><rdf:li>%s</rdf:li><rdf:li>Skerry Table</rdf:li></rdf:Bag></dc:subject>\n", html.EscapeString(e.recipe))
	}
	b.WriteString("  </rdf:Description>\n </rdf:RDF>\n</x:xmpmeta>\n")
	if !sidecar {
		b.WriteString(`<?xpacket end="w"?>`)
	}
	return []byte(b.String())
}

// rawOf is a small raw companion: a TIFF with the tags by which Adobe's DNG
// specification 1.4 knows itself, 16 × 16 pixels of a colour filter array and
// the camera's preview as a JPEG strip in the first directory.
func rawOf(e exposure, preview []byte, width, height int) []byte {
	w := writerFor(e.cam)
	const side = 16
	mosaic := make([]byte, 0, 2*side*side)
	for i := range side * side {
		mosaic = w.order.AppendUint16(mosaic, uint16(900+37*(i%side)+11*(i/side)))
	}
	num, den := e.shutter()
	exif := &directory{fields: []field{
		w.rational(0x829A, num, den),
		w.decimal(0x829D, e.fnum, 10),
		w.short(0x8827, e.iso()),
		w.undefined(0x9000, []byte("0232")...),
		w.ascii(0x9003, e.told().Format("2006:01:02 15:04:05")),
		w.ascii(0x9011, e.offset),
		w.decimal(0x920A, e.focal, 10),
		w.ascii(0x9291, fmt.Sprintf("%03d", e.told().Nanosecond()/1e6)[:e.cam.subSecDigits]),
	}}
	cfa := &directory{fields: []field{
		w.long(0x00FE, 0), // the full picture
		w.long(0x0100, side),
		w.long(0x0101, side),
		w.short(0x0102, 16),
		w.short(0x0103, 1),     // uncompressed
		w.short(0x0106, 32803), // colour filter array
		{tag: 0x0111, blob: mosaic},
		w.short(0x0115, 1),
		w.long(0x0116, side),
		w.long(0x0117, uint32(len(mosaic))),
		w.short(0x828D, 2, 2),       // CFARepeatPatternDim
		w.bytes(0x828E, 0, 1, 1, 2), // CFAPattern: R G G B

		w.short(0xC61D, uint16(1<<14)), // WhiteLevel
	}}

	orientation := uint16(1)
	if e.hold == turned {
		orientation = 6
	}
	return w.encode(&directory{fields: []field{
		w.long(0x00FE, 1), // a reduced picture
		w.long(0x0100, uint32(width)),
		w.long(0x0101, uint32(height)),
		w.short(0x0102, 8, 8, 8),
		w.short(0x0103, 7), // JPEG
		w.short(0x0106, 6), // YCbCr
		w.ascii(0x010F, e.cam.maker),
		w.ascii(0x0110, e.cam.model),
		{tag: 0x0111, blob: preview},
		w.short(0x0112, orientation),
		w.short(0x0115, 3),
		w.long(0x0116, uint32(height)),
		w.long(0x0117, uint32(len(preview))),
		{tag: 0x014A, sub: cfa},
		{tag: 0x8769, sub: exif},
		w.bytes(0xC612, 1, 4, 0, 0),  // DNGVersion
		w.bytes(0xC613, 1, 1, 0, 0),  // DNGBackwardVersion
		w.ascii(0xC614, e.cam.model), // UniqueCameraModel
	}})
}

// memoOf is a voice memo: half a second of a humming voice, 8 kHz, 8 bits,
// one channel, in the layout of RIFF WAVE.
func memoOf() []byte {
	const rate, n = 8000, 4000
	order := binary.LittleEndian
	b := []byte("RIFF")
	b = order.AppendUint32(b, 36+n)
	b = append(b, "WAVEfmt "...)
	b = order.AppendUint32(b, 16)
	b = order.AppendUint16(b, 1) // PCM
	b = order.AppendUint16(b, 1)
	b = order.AppendUint32(b, rate)
	b = order.AppendUint32(b, rate)
	b = order.AppendUint16(b, 1)
	b = order.AppendUint16(b, 8)
	b = append(b, "data"...)
	b = order.AppendUint32(b, n)
	for i := range n {
		t := float64(i) / rate
		v := 0.5*math.Sin(2*math.Pi*131*t) + 0.3*math.Sin(2*math.Pi*262*t+1)
		b = append(b, byte(128+90*v*math.Sin(math.Pi*float64(i)/n)))
	}
	return b
}

// damagedLength is what was left of the file when its card was pulled out
// while the body still wrote: one sector, without a pixel.
const damagedLength = 512

// writeFrame renders e and writes all its files below dir.
func (d *darkroom) writeFrame(dir string, sc *scene, e exposure) error {
	img := d.develop(sc, e)
	var picture bytes.Buffer
	if err := encode(&picture, img, 88); err != nil {
		return err
	}
	thumb, err := thumbnail(img, e.cam.barredThumb)
	if err != nil {
		return err
	}
	width, height := img.Rect.Dx(), img.Rect.Dy()
	var packet []byte
	asSidecar := e.subject == "sidecar" || (e.subject == "" && e.rating != 0 && e.seed%2 == 0)
	if (e.subject != "" || e.rating != 0) && !asSidecar {
		packet = xmpOf(e, false)
	}
	file, err := wrapJPEG(picture.Bytes(), exifOf(e, width, height, thumb), packet)
	if err != nil {
		return err
	}
	if e.damaged {
		file = file[:min(damagedLength, len(file))]
	}
	folder := filepath.Join(dir, e.cam.card, filepath.FromSlash(e.dir))
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return err
	}
	stem := strings.TrimSuffix(e.name, ".JPG")
	put := func(name string, b []byte) error {
		name = filepath.Join(folder, name)
		if err := os.WriteFile(name, b, 0o666); err != nil {
			return err
		}
		return os.Chtimes(name, e.wrote, e.wrote)
	}
	if err := put(e.name, file); err != nil {
		return err
	}
	if asSidecar {
		if err := put(stem+".XMP", xmpOf(e, true)); err != nil {
			return err
		}
	}
	if e.raw {
		preview, w, h, err := reduced(img, 4)
		if err != nil {
			return err
		}
		if err := put(stem+".DNG", rawOf(e, preview, w, h)); err != nil {
			return err
		}
	}
	if e.memo {
		return put(stem+".WAV", memoOf())
	}
	return nil
}
