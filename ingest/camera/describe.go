package camera

import (
	"encoding/binary"
	"strings"
	"unicode/utf16"
)

// maxICC bounds what is read of a profile: its tag table and description.
const maxICC = 256 << 10

// Colour primaries by their code points in ITU-T H.273.
const (
	primariesSRGB = 1
	primariesP3   = 12
)

// The names of catalogue.Frame.ColourSpace.
const (
	spaceSRGB         = "sRGB"
	spaceAdobe        = "Adobe RGB (1998)"
	spaceP3           = "Display P3"
	spaceUncalibrated = "uncalibrated"
)

// describe fills in what the embedded packets say; the first to say it counts.
func (p *picture) describe(s *Shot) {
	for _, b := range p.xmp {
		x, err := ReadSidecar(trimXMP(b))
		if err != nil {
			p.warn("embedded %v", err)
			continue
		}
		if s.Rating == nil {
			s.Rating = x.Rating
		}
		if s.Title == "" {
			s.Title = x.Title
		}
		if s.Headline == "" {
			s.Headline = x.Headline
		}
		if s.Subjects == nil {
			s.Subjects = x.Subjects
		}
	}
}

// colourSpace names the space of the pixels. A profile that names one of ours
// is what the pixels are in, whatever Exif says; else Exif says, where value 2
// is a practice beside the standard, and DCF's R03 makes "uncalibrated" Adobe
// RGB and R98 sRGB.
func (p *picture) colourSpace() string {
	written := ""
	v, ok := p.either(tagColourSpace).int(tagColourSpace)
	index := strings.Trim(p.interop.text(tagInteropIndex), " ")
	switch {
	case ok && v == 1:
		written = spaceSRGB
	case ok && v == 2:
		written = spaceAdobe
	case index == "R03":
		written = spaceAdobe
	case ok && v == 0xFFFF:
		written = spaceUncalibrated
	case index == "R98": // with no colour space, or a value of none
		written = spaceSRGB
	}
	profile := profileSpace(profileDescription(p.icc))
	if profile == "" && p.icc == nil {
		switch p.nclx {
		case primariesSRGB:
			profile = spaceSRGB
		case primariesP3:
			profile = spaceP3
		}
	}
	switch {
	case profile == "" && written == "" && p.icc != nil:
		return spaceUncalibrated
	case profile == "":
		return written
	case written != "" && written != spaceUncalibrated && written != profile:
		p.dispute("Exif says %s, the embedded profile %s; the profile counts", written, profile)
	}
	return profile
}

// profileSpace tells by its description which of our spaces a profile is of.
func profileSpace(description string) string {
	d := strings.ToLower(description)
	switch {
	case strings.Contains(d, "adobe rgb"), strings.Contains(d, "adobergb"):
		return spaceAdobe
	case strings.Contains(d, "display p3"), strings.Contains(d, "p3 d65"): // the latter with sRGB's curve
		return spaceP3
	case strings.Contains(d, "srgb"):
		return spaceSRGB
	}
	return ""
}

// profileDescription returns the description of an ICC profile: ICC.1:2001-04
// section 6.5.17 (textDescriptionType) or ICC.1:2010 section 10.13
// (multiLocalizedUnicodeType, whose first record counts).
func profileDescription(b []byte) string {
	if len(b) < 132 || !hasAt(b, 36, "acsp") {
		return ""
	}
	n := min(binary.BigEndian.Uint32(b[128:]), 256)
	for i := range int(n) {
		at := 132 + 12*i
		if at+12 > len(b) {
			return ""
		}
		if !hasAt(b, at, "desc") {
			continue
		}
		off, size := int64(binary.BigEndian.Uint32(b[at+4:])), int64(binary.BigEndian.Uint32(b[at+8:]))
		if off+size > int64(len(b)) || size < 12 {
			return ""
		}
		t := b[off : off+size]
		switch string(t[:4]) {
		case "desc":
			count := int64(binary.BigEndian.Uint32(t[8:]))
			return words(strings.TrimRight(string(t[12:12+min(count, size-12)]), "\x00"))
		case "mluc":
			if size < 28 {
				return ""
			}
			length, from := int64(binary.BigEndian.Uint32(t[20:])), int64(binary.BigEndian.Uint32(t[24:]))
			if from+length > size {
				return ""
			}
			u := make([]uint16, 0, length/2)
			for ; length >= 2; from, length = from+2, length-2 {
				u = append(u, binary.BigEndian.Uint16(t[from:]))
			}
			return words(string(utf16.Decode(u)))
		}
		return ""
	}
	return ""
}
