package camera

import (
	"encoding/binary"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"
)

// maxSections is more than any Foveon raw has.
const maxSections = 64

// readFoveon reads a Foveon raw (.x3f): a header, and at the end of the file a
// directory of sections, of which those of pictures in JPEG and the one of
// properties count. Fields as ExifTool 12.57 reads them; a picture's Exif goes
// before the properties.
func (p *picture) readFoveon() error {
	p.format = "raw"
	le := binary.LittleEndian
	h, end := p.src.upTo(0, 40), p.src.upTo(p.src.size-4, 4)
	if len(h) < 40 || len(end) < 4 {
		return &FormatError{"raw", "the file ends within its header"}
	}
	at := int64(le.Uint32(end))
	d := p.src.upTo(at, 12+12*maxSections)
	if len(d) < 12 || string(d[:4]) != "SECd" {
		return &FormatError{"raw", "its directory can't be read; the file is cut short or damaged"}
	}
	if major := le.Uint16(h[6:]); major < 4 { // the header of later ones is laid out otherwise
		p.beside.Width, p.beside.Height = side(le.Uint32(h[28:])), side(le.Uint32(h[32:]))
		p.beside.Orientation = map[uint32]int{0: 1, 90: 6, 180: 3, 270: 8}[le.Uint32(h[36:])]
	}
	n := int(min(le.Uint32(d[8:]), maxSections))
	for i := range min(n, (len(d)-12)/12) {
		e := d[12+12*i:]
		off, size := int64(le.Uint32(e)), int64(le.Uint32(e[4:]))
		switch string(e[8:12]) {
		case "IMAG", "IMA2":
			const head, formatJPEG = 28, 18
			s := p.src.upTo(off, head)
			if len(s) < head || string(s[:4]) != "SECi" || le.Uint32(s[12:]) != formatJPEG || size <= head {
				continue
			}
			p.addPreview("raw", off+head, size-head)
			if p.main.places == nil && string(p.src.upTo(off+head, 2)) == "\xFF\xD8" {
				if err := p.readJPEG(off+head, size-head, false); err != nil {
					p.warn("%v", err)
				}
			}
		case "PROP":
			p.readProperties(off, size)
		}
	}
	return nil
}

// side is a size in pixels, 0 where it is none.
func side(v uint32) int {
	if v > maxSide {
		return 0
	}
	return int(v)
}

// readProperties reads the section of properties of size bytes at off: pairs of
// places in a text of UTF-16.
func (p *picture) readProperties(off, size int64) {
	const head, unicode = 24, 0
	le := binary.LittleEndian
	s := p.src.upTo(off, min(size, maxValue))
	if len(s) < head || string(s[:4]) != "SECp" || le.Uint32(s[12:]) != unicode {
		p.warn("raw: its properties can't be read")
		return
	}
	n := int(le.Uint32(s[8:]))
	if n > (len(s)-head)/8 {
		p.warn("raw: its properties are cut short")
		return
	}
	chars := make([]uint16, (len(s)-head-8*n)/2)
	for i := range chars {
		chars[i] = le.Uint16(s[head+8*n+2*i:])
	}
	text := func(at uint32) string {
		if int64(at) >= int64(len(chars)) {
			return ""
		}
		end := at
		for int(end) < len(chars) && chars[end] != 0 {
			end++
		}
		return string(utf16.Decode(chars[at:end]))
	}
	b := &p.beside
	for i := range n {
		e := s[head+8*i:]
		v := text(le.Uint32(e[4:]))
		switch name := text(le.Uint32(e)); name {
		case "TIME": // seconds since 1970 of the camera's wall clock
			if t, err := strconv.ParseInt(v, 10, 64); err == nil && t > 0 && t < math.MaxUint32 {
				b.Taken = time.Unix(t, 0).UTC()
			}
		case "CAMMANUF":
			b.Camera.Make = words(v)
		case "CAMMODEL":
			b.Camera.Model = words(v)
		case "CAMSERIAL":
			b.Camera.Serial = words(v)
		case "FLENGTH":
			b.Exposure.FocalLength = figureOf(v, 100_000)
		case "FLEQ35MM":
			b.Exposure.Focal35 = figureOf(v, 65_534)
		case "APERTURE":
			b.Exposure.FNumber = figureOf(v, 1_000)
		case "SHUTTER":
			b.Exposure.Seconds = figureOf(v, 1e6)
		case "ISO":
			b.Exposure.ISO = figureOf(v, 1e7)
		}
	}
}

// figureOf reads a number above 0 and up to most; 0 where it is none.
func figureOf(s string, most float64) float64 {
	v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
	if err != nil || !(v > 0 && v <= most) {
		return 0
	}
	return v
}
