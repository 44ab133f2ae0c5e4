package camera

// maxICC bounds what is read of a profile: its tag table and description.
const maxICC = 256 << 10

// describe fills in what the embedded packets say.
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

// colourSpace names the space of the pixels.
func (p *picture) colourSpace() string {
	v, ok := p.exif.int(tagColourSpace)
	index := p.interop.text(tagInteropIndex)
	switch {
	case ok && v == 1:
		return "sRGB"
	case ok && v == 2, ok && v == 0xFFFF && index == "R03":
		return "Adobe RGB (1998)"
	case ok && v == 0xFFFF:
		return "uncalibrated"
	}
	return ""
}
