package camera

import (
	"bytes"
	"fmt"
	"io"
	"slices"

	"coverplate/ingest/catalogue"
)

// picture is what a container holds, by place: the work that Read and Previews
// share.
type picture struct {
	src    *source
	format string // "JPEG", "TIFF", "HEIC", …

	main     directory // IFD0, of the first Exif block that has one
	exif     directory // the Exif directory
	interop  directory
	note     directory   // of a phone's maker note
	pictures []directory // directories of a TIFF or raw that describe a picture

	xmp  [][]byte // packets, in the order of the file
	nclx int      // colour primaries by the container's own word (ITU-T H.273); 0 none

	icc      []byte // the embedded profile, as far as it could be read; nil none
	iccFault string // why it could not be read whole; "" where it could

	width, height int
	turn          int // Exif orientation that a HEIC's own rotation and mirror amount to; 0 none

	beside Shot // what a raw says in its maker's own way; Exif goes before it

	previews []Preview
	warnings []string
	damaged  bool // one of warnings tells of damage
}

// warn adds a warning of damage once.
func (p *picture) warn(format string, args ...any) {
	p.damaged = true
	p.dispute(format, args...)
}

// dispute adds a warning of facts that contradict each other once.
func (p *picture) dispute(format string, args ...any) {
	w := fmt.Sprintf(format, args...)
	if len(p.warnings) < 20 && !slices.Contains(p.warnings, w) {
		p.warnings = append(p.warnings, w)
	}
}

// open tells by the bytes what the file is and walks it.
func open(r io.ReaderAt, size int64, kind catalogue.FileKind) (*picture, error) {
	src, err := newSource(r, size)
	if err != nil {
		return nil, err
	}
	p := &picture{src: src}
	h := src.head
	switch {
	case len(h) == 0:
		return nil, &FormatError{expected(kind), "the file is empty"}
	case hasAt(h, 0, "\xFF\xD8"):
		err = p.readJPEG(0, size, true)
	case hasAt(h, 0, "II*\x00"), hasAt(h, 0, "MM\x00*"),
		hasAt(h, 0, "IIU\x00"),                                        // Panasonic and Leica
		hasAt(h, 0, "IIRO"), hasAt(h, 0, "IIRS"), hasAt(h, 0, "MMOR"): // Olympus
		err = p.readTIFF(kind == catalogue.Raw)
	case hasAt(h, 0, "FUJIFILMCCD-RAW "):
		err = p.readRAF()
	case hasAt(h, 0, "FOVb"):
		err = p.readFoveon()
	case hasAt(h, 6, "HEAPCCDR") && (hasAt(h, 0, "II") || hasAt(h, 0, "MM")):
		err = p.readCIFF()
	case hasAt(h, 4, "ftyp"):
		err = p.readBoxes()
	case hasAt(h, 0, "\x89PNG\r\n\x1A\n"):
		err = p.readPNG()
	case hasAt(h, 0, "RIFF") && hasAt(h, 8, "WEBP"):
		err = p.readWebP()
	default:
		err = unknown(h, kind)
	}
	if src.fault != nil {
		return nil, fmt.Errorf("read the picture: %w", src.fault)
	}
	if err != nil {
		return nil, err
	}
	return p, nil
}

// unknown words the refusal of a file that is none of ours.
func unknown(h []byte, kind catalogue.FileKind) error {
	known := []struct {
		at    int
		magic string
		is    string
	}{
		{1, "MRM", "a Minolta raw (.mrw)"},
		{0, "II+\x00", "a BigTIFF"},
		{0, "MM\x00+", "a BigTIFF"},
		{0, "GIF8", "a GIF"},
		{0, "BM", "a Windows bitmap"},
		{0, "8BPS", "a layered studio file"},
		{0, "\xFF\x0A", "a JPEG XL"},
		{4, "JXL ", "a JPEG XL"},
		{4, "jP  ", "a JPEG 2000"},
		{0, "%PDF", "a PDF"},
		{0, "%!PS", "PostScript"},
	}
	for _, k := range known {
		if hasAt(h, k.at, k.magic) {
			return &UnsupportedError{k.is, "export the picture as JPEG beside it"}
		}
	}
	if len(bytes.Trim(h, "\x00")) == 0 {
		return &FormatError{expected(kind), "the file holds nothing but zero bytes; copy it from the card again"}
	}
	return &FormatError{expected(kind), fmt.Sprintf("the file is no picture that we know: it begins with % X", h[:min(8, len(h))])}
}

// expected names what a file of that kind should have been.
func expected(kind catalogue.FileKind) string {
	switch kind {
	case catalogue.JPEG, catalogue.Thumb:
		return "JPEG"
	case catalogue.HEIC:
		return "HEIC"
	case catalogue.Raw:
		return "raw"
	}
	return "picture"
}

func hasAt(b []byte, at int, magic string) bool {
	return len(b) >= at+len(magic) && string(b[at:at+len(magic)]) == magic
}
