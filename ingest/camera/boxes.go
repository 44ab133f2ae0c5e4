package camera

import (
	"encoding/binary"
	"fmt"
)

// maxBoxes bounds the boxes of one container (ISO/IEC 14496-12).
const maxBoxes = 4096

// box is one box: its four-letter type and where its content lies.
type box struct {
	kind     string
	off, end int64 // of the content, in the file
}

// boxes lists the boxes between off and end. cut tells that the last of them
// is longer than there is room; it is listed as far as it goes.
func boxes(src *source, off, end int64) (out []box, cut bool) {
	end = min(end, src.size)
	for off >= 0 && off+8 <= end && len(out) < maxBoxes {
		h := src.upTo(off, 16)
		if len(h) < 8 {
			return out, true
		}
		size, head := int64(binary.BigEndian.Uint32(h)), int64(8)
		switch {
		case size == 0: // to the end
			size = end - off
		case size == 1:
			if len(h) < 16 {
				return out, true
			}
			size, head = int64(binary.BigEndian.Uint64(h[8:])), 16
		}
		if size < head {
			return out, true
		}
		b := box{kind: string(h[4:8]), off: off + head, end: off + size}
		if size > end-off {
			b.end, cut = end, true
		}
		out = append(out, b)
		if cut {
			return out, true
		}
		off += size
	}
	return out, false
}

// content returns what is in a box, at most as much as one piece may hold.
func (b box) content(src *source) []byte { return src.upTo(b.off, b.end-b.off) }

// The extended types of the boxes that Canon's raws keep their own in.
const (
	uuidCanon   = "\x85\xc0\xb6\x87\x82\x0f\x11\xe0\x81\x11\xf4\xce\x46\x2b\x6a\x48"
	uuidPreview = "\xea\xf4\x2b\x5e\x1c\x98\x4b\x88\xb9\xfb\xb7\xdc\x40\x6e\x4d\x16"
	uuidXMP     = "\xbe\x7a\xcf\xcb\x97\xa9\x42\xe8\x9c\x71\x99\x94\x91\xe3\xaf\xac"
)

// readBoxes walks a file of boxes: HEIC, HIF, AVIF or CR3.
func (p *picture) readBoxes() error {
	top, cut := boxes(p.src, 0, p.src.size)
	if len(top) == 0 || top[0].kind != "ftyp" {
		return &FormatError{"HEIC", "its first box is broken"}
	}
	brands := string(top[0].content(p.src))
	switch {
	case hasBrand(brands, "crx "):
		p.format = "CR3"
		return p.readCR3(top, cut)
	case hasBrand(brands, "mif1", "mif2", "msf1", "heic", "heix", "heim", "heis", "hevc", "hevx", "avif", "avis"):
		p.format = "HEIC"
		if hasBrand(brands, "avif", "avis") {
			p.format = "AVIF"
		}
		return p.readHEIF(top, cut)
	}
	return &UnsupportedError{fmt.Sprintf("a film or another file of boxes (brand %q)", words(brands[:min(4, len(brands))])), ""}
}

// hasBrand tells whether a file type box names one of the brands: the major
// one, and behind its version the compatible ones.
func hasBrand(content string, names ...string) bool {
	for i := 0; i+4 <= len(content) && i < 256; i += 4 {
		for _, n := range names {
			if i != 4 && content[i:i+4] == n {
				return true
			}
		}
	}
	return false
}

// readCR3 reads Canon's raw: four small TIFF structures with the Exif, and
// JPEGs in three places. Box names as ExifTool 12.57 and the prototype's
// measurements have them; the maker publishes none.
func (p *picture) readCR3(top []box, cut bool) error {
	found := false
	for _, b := range top {
		switch b.kind {
		case "moov":
			found = true
			p.readMovie(b)
		case "uuid":
			p.readUUID(b)
		}
	}
	if !found {
		return &FormatError{"CR3", "no moov box in it; the file is cut short or damaged"}
	}
	if cut {
		p.warn("CR3: the file is cut short")
	}
	if p.main.places == nil {
		p.warn("CR3: no Exif in it")
	}
	// The picture's size stands in IFD0.
	w, _ := p.main.int(tagImageWidth)
	h, _ := p.main.int(tagImageLength)
	if w > 0 && h > 0 && w <= maxSide && h <= maxSide {
		p.width, p.height = int(w), int(h)
	}
	return nil
}

func (p *picture) readMovie(moov box) {
	in, _ := boxes(p.src, moov.off, moov.end)
	for _, b := range in {
		switch b.kind {
		case "uuid":
			p.readUUID(b)
		case "trak":
			p.readTrack(b)
		}
	}
}

func (p *picture) readUUID(b box) {
	const length = 16
	in := box{b.kind, b.off + length, b.end}
	switch string(p.src.upTo(b.off, length)) {
	case uuidXMP:
		if packet := in.content(p.src); len(packet) > 0 {
			p.xmp = append(p.xmp, packet)
		}
	case uuidPreview:
		inner, _ := boxes(p.src, in.off+8, in.end) // behind a version and a count
		for _, x := range inner {
			if x.kind == "PRVW" {
				p.addBoxedPreview(x)
			}
		}
	case uuidCanon:
		inner, _ := boxes(p.src, in.off, in.end)
		for _, x := range inner {
			switch x.kind {
			case "CMT1", "CMT2":
				p.readCMT(x)
			case "THMB":
				p.addBoxedPreview(x)
			}
		}
	}
}

// readCMT reads one of the TIFF structures: 1 is IFD0, 2 the Exif directory.
func (p *picture) readCMT(x box) {
	b, err := openBlock(p.src, x.off, x.end-x.off)
	if err != nil {
		p.warn("Exif (%s): %v", x.kind, err)
		return
	}
	if x.kind == "CMT1" {
		p.readMain(b)
		return
	}
	p.readExifDirectory(b, b.first)
}

// addBoxedPreview notes the JPEG of a box, which stands behind a few fields of
// the maker's and may be followed by padding.
func (p *picture) addBoxedPreview(x box) {
	h := p.src.upTo(x.off, min(64, x.end-x.off))
	for i := range h {
		if hasAt(h, i, "\xFF\xD8\xFF") {
			p.addPreview("raw", x.off+int64(i), x.end-x.off-int64(i))
			return
		}
	}
}

// readTrack notes a track whose single sample is a JPEG.
func (p *picture) readTrack(trak box) {
	at := trak
	for _, name := range []string{"mdia", "minf", "stbl"} {
		in, _ := boxes(p.src, at.off, at.end)
		found := false
		for _, b := range in {
			if b.kind == name {
				at, found = b, true
				break
			}
		}
		if !found {
			return
		}
	}
	var off, size int64
	in, _ := boxes(p.src, at.off, at.end)
	for _, b := range in {
		c := p.src.upTo(b.off, min(16, b.end-b.off))
		switch {
		case b.kind == "co64" && len(c) >= 16:
			off = int64(binary.BigEndian.Uint64(c[8:]))
		case b.kind == "stco" && len(c) >= 12:
			off = int64(binary.BigEndian.Uint32(c[8:]))
		case b.kind == "stsz" && len(c) >= 8:
			if size = int64(binary.BigEndian.Uint32(c[4:])); size == 0 && len(c) >= 16 {
				size = int64(binary.BigEndian.Uint32(c[12:]))
			}
		}
	}
	p.addPreview("raw", off, size)
}
