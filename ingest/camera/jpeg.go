package camera

import (
	"bytes"
	"encoding/binary"
)

// Bounds of a JPEG's head.
const (
	maxSegments = 4096
	maxJunk     = 64 << 10 // stray bytes skipped between segments
)

const (
	exifMark = "Exif\x00"
	xmpMark  = "http://ns.adobe.com/xap/1.0/\x00"
	iccMark  = "ICC_PROFILE\x00"
	mpfMark  = "MPF\x00"
)

// segment is one marker segment of a JPEG before its pixels.
type segment struct {
	marker byte
	off    int64 // of the content, behind the length
	size   int64 // of the content, as far as the file holds it
	cut    bool  // the file ends within it
}

// segments walks the head of the JPEG of size bytes at base, up to the pixels,
// and reports how it ended: "" at the pixels or the end of the picture.
func segments(src *source, base, size int64, each func(segment) bool) string {
	end := min(base+size, src.size)
	pos, junk := base+2, 0
	for n := 0; n < maxSegments; n++ {
		h := src.upTo(pos, 4)
		for len(h) >= 2 && (h[0] != 0xFF || h[1] == 0xFF || h[1] == 0) { // fill bytes, or strays
			if junk++; junk > maxJunk {
				return "no marker where one must stand"
			}
			pos++
			h = src.upTo(pos, 4)
		}
		if len(h) < 2 || pos >= end {
			return "it ends before the pixels"
		}
		m := h[1]
		if m == 0x01 || m >= 0xD0 && m <= 0xD8 { // markers without content
			pos += 2
			continue
		}
		if m == 0xD9 || m == 0xDA {
			return ""
		}
		if len(h) < 4 {
			return "it ends before the pixels"
		}
		length := int64(binary.BigEndian.Uint16(h[2:]))
		if length < 2 {
			return "a segment with an impossible length"
		}
		s := segment{marker: m, off: pos + 4, size: length - 2}
		if s.off+s.size > end {
			s.size, s.cut = max(0, end-s.off), true
		}
		if !each(s) {
			return ""
		}
		if s.cut {
			return "it ends before the pixels"
		}
		pos += 2 + length
	}
	return "too many segments"
}

// isFrame tells whether m is a start of frame marker, which holds the size.
func isFrame(m byte) bool {
	return m >= 0xC0 && m <= 0xCF && m != 0xC4 && m != 0xC8 && m != 0xCC
}

// frameSize reads height and width of a start of frame (ITU-T T.81 B.2.2).
func frameSize(src *source, s segment) (w, h int, ok bool) {
	b := src.upTo(s.off, 5)
	if len(b) < 5 || s.size < 5 {
		return 0, 0, false
	}
	h, w = int(binary.BigEndian.Uint16(b[1:])), int(binary.BigEndian.Uint16(b[3:]))
	return w, h, w > 0 && h > 0
}

// embeddedSize returns the size of the JPEG at off if image/jpeg can decode it
// by its header: baseline, extended or progressive, Huffman coded.
func embeddedSize(src *source, off, size int64) (w, h int, ok bool) {
	if m := src.upTo(off, 3); size < 4 || string(m) != "\xFF\xD8\xFF" {
		return 0, 0, false
	}
	segments(src, off, size, func(s segment) bool {
		if !isFrame(s.marker) {
			return true
		}
		if s.marker <= 0xC2 {
			w, h, ok = frameSize(src, s)
		}
		return false
	})
	return w, h, ok
}

// readJPEG walks the JPEG of size bytes at base. whole tells that it is the
// file's own picture, whose size and multi-picture index count.
func (p *picture) readJPEG(base, size int64, whole bool) error {
	if p.format == "" {
		p.format = "JPEG"
	}
	var seenExif, seenXMP, any bool
	var iccParts []iccSegment
	why := segments(p.src, base, size, func(s segment) bool {
		any = true
		switch {
		case isFrame(s.marker):
			if w, h, ok := frameSize(p.src, s); ok && whole && p.width == 0 {
				p.width, p.height = w, h
			}
		case s.marker == 0xE1:
			head := p.src.upTo(s.off, min(s.size, int64(len(xmpMark))))
			switch {
			case hasAt(head, 0, exifMark) && !seenExif && s.size > 6:
				seenExif = true
				if s.cut {
					p.warn("Exif: the file ends within it")
				}
				p.readExif(s.off+6, s.size-6)
			case hasAt(head, 0, xmpMark) && !seenXMP:
				seenXMP = true
				if b := p.src.upTo(s.off+int64(len(xmpMark)), s.size-int64(len(xmpMark))); len(b) > 0 {
					p.xmp = append(p.xmp, b)
				}
			}
		case s.marker == 0xE2:
			head := p.src.upTo(s.off, min(s.size, 14))
			switch {
			case hasAt(head, 0, iccMark) && len(head) >= 14:
				if len(iccParts) < 256 {
					iccParts = append(iccParts, iccSegment{int(head[12]), int(head[13]), s.off + 14, s.size - 14})
				}
			case hasAt(head, 0, mpfMark) && whole:
				p.readMPF(s.off+4, s.size-4)
			}
		}
		return true
	})
	p.joinICC(iccParts)
	switch {
	case why == "":
	case !any:
		return &FormatError{"JPEG", "nothing but its first two bytes can be read"}
	default:
		p.warn("JPEG: %s", why)
	}
	if whole && p.width == 0 && !seenExif && len(p.xmp) == 0 {
		return &FormatError{"JPEG", "no picture in it: neither a size nor Exif"}
	}
	return nil
}

// readMPF reads the multi-picture index (CIPA DC-007) of size bytes at base.
// Its offsets count from base. Only large thumbnails are previews: the other
// classes are other pictures (the second eye, a frame of a panorama, a gain
// map).
func (p *picture) readMPF(base, size int64) {
	const tagEntries = 0xB002
	b, err := openBlock(p.src, base, size)
	if err != nil {
		p.warn("multi-picture index: %v", err)
		return
	}
	d, err := b.directory(b.first, func(id uint16) bool { return id == tagEntries })
	if err != nil {
		p.warn("multi-picture index: %v", err)
		return
	}
	t := d.tags[tagEntries]
	if t == nil {
		return
	}
	for e := t.Val; len(e) >= 16; e = e[16:] {
		attr, n, off := b.order.Uint32(e), b.order.Uint32(e[4:]), b.order.Uint32(e[8:])
		const formatMask, classMask, largeThumbnail = 0x07000000, 0xFF0000, 0x010000
		if attr&formatMask == 0 && attr&classMask == largeThumbnail && off != 0 {
			p.addPreview("mpf", base+int64(off), int64(n))
		}
	}
}

// trimXMP cuts the padding that may stand behind a packet.
func trimXMP(b []byte) []byte { return bytes.TrimRight(b, "\x00 \r\n\t") }
