package camera

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"coverplate/colour"
	"coverplate/colour/icc"
)

// maxICC bounds a profile, in bytes. Those of cameras and phones have 500 to
// 4000, those of printing inks up to some 2.5 MB.
const maxICC = 4 << 20

// Profile is the ICC profile that a picture carries.
type Profile struct {
	icc.Profile // what could be read of it; Space is nil where it can't be used

	// Fault is why it can't be used, nil where it can: a *FormatError where
	// its bytes are not whole, or an error of icc.Parse.
	Fault error
}

// readProfile parses the profile that the container held, if it held any.
func (p *picture) readProfile() *Profile {
	if p.icc == nil && p.iccFault == "" {
		return nil
	}
	parsed, err := icc.Parse(p.icc)
	if p.iccFault != "" { // it goes before what Parse makes of half a profile
		parsed.Space, err = nil, &FormatError{"ICC profile", p.iccFault}
	}
	return &Profile{parsed, err}
}

// takeICC keeps the profile of size bytes at off. The first one counts, since a
// phone's second is of its gain map.
func (p *picture) takeICC(off, size int64) {
	if p.icc != nil || p.iccFault != "" {
		return
	}
	if size > maxICC {
		p.iccFault = fmt.Sprintf("its %d bytes are more than the %d that are read", size, maxICC)
		return
	}
	p.icc = p.src.upTo(off, size)
	if int64(len(p.icc)) < size {
		p.iccFault = fmt.Sprintf("%d of its %d bytes can be read", len(p.icc), size)
	}
}

// iccSegment is one segment of a JPEG that holds a part of a profile (ICC.1
// annex B.4): which, counted from 1, of how many.
type iccSegment struct {
	number, count int
	off, size     int64
}

// joinICC puts together the profile of a JPEG, whose segments may stand in any
// order. Where their count contradicts them, as some writers' does, the length
// that the profile's own header gives decides whether they are all there.
func (p *picture) joinICC(parts []iccSegment) {
	if len(parts) == 0 || p.icc != nil || p.iccFault != "" {
		return
	}
	slices.SortStableFunc(parts, func(a, b iccSegment) int { return cmp.Compare(a.number, b.number) })
	parts = slices.CompactFunc(parts, func(a, b iccSegment) bool { return a.number == b.number }) // of two the first counts
	var total int64
	for i, s := range parts {
		if s.number != parts[0].number+i {
			p.iccFault = fmt.Sprintf("of its segments number %d is missing", parts[0].number+i)
			return
		}
		total += s.size
	}
	if total > maxICC {
		p.iccFault = fmt.Sprintf("its %d bytes are more than the %d that are read", total, maxICC)
		return
	}
	p.icc = make([]byte, 0, total)
	for _, s := range parts {
		p.icc = append(p.icc, p.src.upTo(s.off, s.size)...)
	}
	if int64(len(p.icc)) < total {
		p.iccFault = fmt.Sprintf("%d of its %d bytes can be read", len(p.icc), total)
		return
	}
	first, last := parts[0].number, parts[len(parts)-1].number
	if length := icc.Length(p.icc); first > 1 || length > total {
		p.iccFault = fmt.Sprintf("of its %d segments there are %d to %d, %d of %d bytes", max(parts[0].count, last), first, last, total, length)
	}
}

// colourSpace names the space of the pixels, and says who says so.
//
// A profile that can be used is what the pixels are in, whatever Exif says. It
// is named by what it computes: one of ours where it is that in all but name,
// else as it calls itself. One that can't be used still counts where it is
// called like one of ours: nobody calls another space so. Else the container's
// code points count, then Exif, where value 2 is a practice beside the
// standard, and DCF's R03 makes "uncalibrated" Adobe RGB and R98 sRGB.
func (p *picture) colourSpace(profile *Profile) (name, by string) {
	written := p.writtenSpace()
	if profile != nil {
		if name = profile.name(); profile.Space == nil {
			name = profileSpace(profile.Description)
		}
		by = byProfile
	} else {
		switch p.nclx {
		case primariesSRGB:
			name, by = spaceSRGB, byContainer
		case primariesP3:
			name, by = spaceP3, byContainer
		}
	}
	switch {
	case name == "" && written != "":
		return written, byExif
	case name == "" && profile != nil && profile.Description != "":
		return profile.Description, byProfile
	case name == "" && profile != nil:
		return spaceUncalibrated, byProfile
	case name == "":
		return "", ""
	case written != "" && written != spaceUncalibrated && written != name:
		p.dispute("Exif says %s, the %s %s; the %s counts", written, by, name, by)
	}
	return name, by
}

// complain tells of a profile that can't be used. Only where it is damaged is
// the picture.
func (p *picture) complain(profile *Profile) {
	if profile == nil || profile.Fault == nil {
		return
	}
	var unsupported *icc.UnsupportedError
	if errors.As(profile.Fault, &unsupported) {
		p.dispute("%v", profile.Fault)
		return
	}
	p.warn("%v", profile.Fault)
}

// Values of Shot.SpaceBy.
const (
	byProfile   = "embedded profile"
	byContainer = "container"
	byExif      = "Exif"
)

// writtenSpace is what Exif says of the colour space.
func (p *picture) writtenSpace() string {
	v, ok := p.either(tagColourSpace).int(tagColourSpace)
	index := strings.Trim(p.interop.text(tagInteropIndex), " ")
	switch {
	case ok && v == 1:
		return spaceSRGB
	case ok && v == 2:
		return spaceAdobe
	case index == "R03":
		return spaceAdobe
	case ok && v == 0xFFFF:
		return spaceUncalibrated
	case index == "R98": // with no colour space, or a value of none
		return spaceSRGB
	}
	return ""
}

// name is what a usable profile is called in a frame's ColourSpace.
func (p *Profile) name() string {
	if p.Space == nil {
		return ""
	}
	if p.Channels == 1 {
		return cmp.Or(p.Description, "a grey without a name")
	}
	if known, ok := colour.Known(p.Space); ok {
		return known.Name()
	}
	if _, claimed := colour.SpaceNamed(p.Description); claimed {
		return fmt.Sprintf("called %s and none", p.Description)
	}
	return cmp.Or(p.Description, "a space without a name")
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
