package camera

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"io"
)

// maxChunks bounds the chunks of a PNG or WebP that are walked.
const maxChunks = 8192

// readPNG reads size, Exif, packet and profile of a PNG (W3C PNG, third
// edition), chunk by chunk.
func (p *picture) readPNG() error {
	p.format = "PNG"
	for pos, n := int64(8), 0; n < maxChunks; n++ {
		h := p.src.upTo(pos, 8)
		if len(h) < 8 {
			if p.width == 0 {
				return &FormatError{"PNG", "the file ends within its header"}
			}
			p.warn("PNG: the file is cut short")
			return nil
		}
		size, at := int64(binary.BigEndian.Uint32(h)), pos+8
		switch kind := string(h[4:]); kind {
		case "IHDR":
			b := p.src.upTo(at, min(size, 13))
			if len(b) < 13 {
				return &FormatError{"PNG", "its header is broken"}
			}
			w, hh := binary.BigEndian.Uint32(b), binary.BigEndian.Uint32(b[4:])
			if w == 0 || hh == 0 || w > maxSide || hh > maxSide {
				return &FormatError{"PNG", "its header gives an impossible size"}
			}
			p.width, p.height = int(w), int(hh)
		case "eXIf":
			p.readExif(at, size)
		case "iTXt":
			if b := internationalText(p.src.upTo(at, size), "XML:com.adobe.xmp"); b != nil {
				p.xmp = append(p.xmp, b)
			}
		case "iCCP":
			p.inflateICC(at, size)
		case "sRGB":
			p.nclx = primariesSRGB
		case "IEND":
			return nil
		}
		if p.width == 0 {
			return &FormatError{"PNG", "it does not begin with its header"}
		}
		pos = at + size + 4 // behind the check sum
	}
	p.warn("PNG: too many chunks; those at its end were not looked at")
	return nil
}

// internationalText returns the text of a PNG's text chunk of that keyword.
func internationalText(b []byte, keyword string) []byte {
	key, rest, ok := bytes.Cut(b, []byte{0})
	if !ok || string(key) != keyword || len(rest) < 2 {
		return nil
	}
	compressed := rest[0] == 1
	_, rest, ok = bytes.Cut(rest[2:], []byte{0}) // language
	if !ok {
		return nil
	}
	_, rest, ok = bytes.Cut(rest, []byte{0}) // translated keyword
	if !ok {
		return nil
	}
	if compressed {
		return inflate(rest, maxXMP)
	}
	return rest
}

// inflateICC reads the profile of a PNG: its name, a NUL, the method of
// compression, which is 0, and a zlib stream. That may expand a thousandfold,
// so that it is stopped at what a profile may have.
func (p *picture) inflateICC(off, size int64) {
	p.takeICC(off, size)
	chunk := p.icc
	p.icc = nil
	if p.iccFault != "" {
		return
	}
	_, rest, ok := bytes.Cut(chunk, []byte{0})
	if !ok || len(rest) < 2 || rest[0] != 0 {
		p.iccFault = "the chunk that holds it is broken"
		return
	}
	r, err := zlib.NewReader(bytes.NewReader(rest[1:]))
	if err != nil {
		p.iccFault = "it can't be unpacked: " + err.Error()
		return
	}
	defer r.Close()
	b, err := io.ReadAll(io.LimitReader(r, maxICC+1))
	switch {
	case len(b) > maxICC:
		p.iccFault = fmt.Sprintf("unpacked it has more than the %d bytes that are read", maxICC)
		return
	case err != nil:
		p.iccFault = "it can't be unpacked: " + err.Error()
	}
	p.icc = b
}

// inflate expands a zlib stream to at most limit bytes.
func inflate(b []byte, limit int64) []byte {
	r, err := zlib.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil
	}
	defer r.Close()
	out, err := io.ReadAll(io.LimitReader(r, limit))
	if err != nil && len(out) == 0 {
		return nil
	}
	return out
}

// readWebP reads size, Exif, packet and profile of a WebP (RFC 9649).
func (p *picture) readWebP() error {
	p.format = "WebP"
	for pos, n := int64(12), 0; n < maxChunks && pos+8 <= p.src.size; n++ {
		h := p.src.upTo(pos, 8)
		if len(h) < 8 {
			break
		}
		size, at := int64(binary.LittleEndian.Uint32(h[4:])), pos+8
		b := p.src.upTo(at, min(size, 16))
		switch kind := string(h[:4]); {
		case kind == "VP8X" && len(b) >= 10:
			p.width, p.height = 1+int(b[4])+int(b[5])<<8+int(b[6])<<16, 1+int(b[7])+int(b[8])<<8+int(b[9])<<16
		case kind == "VP8 " && p.width == 0 && len(b) >= 10 && hasAt(b, 3, "\x9D\x01\x2A"):
			p.width, p.height = int(binary.LittleEndian.Uint16(b[6:])&0x3FFF), int(binary.LittleEndian.Uint16(b[8:])&0x3FFF)
		case kind == "VP8L" && p.width == 0 && len(b) >= 5 && b[0] == 0x2F:
			v := binary.LittleEndian.Uint32(b[1:])
			p.width, p.height = 1+int(v&0x3FFF), 1+int(v>>14&0x3FFF)
		case kind == "EXIF" && hasAt(b, 0, "Exif\x00\x00"):
			p.readExif(at+6, size-6)
		case kind == "EXIF":
			p.readExif(at, size)
		case kind == "XMP ":
			if x := p.src.upTo(at, size); len(x) > 0 {
				p.xmp = append(p.xmp, x)
			}
		case kind == "ICCP":
			p.takeICC(at, size)
		}
		pos = at + size + size&1
	}
	if p.width == 0 || p.height == 0 {
		return &FormatError{"WebP", "no picture in it"}
	}
	if p.width > maxSide || p.height > maxSide {
		return &FormatError{"WebP", "its header gives an impossible size"}
	}
	return nil
}
