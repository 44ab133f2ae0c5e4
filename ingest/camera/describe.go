package camera

// Colour primaries by their code points in ITU-T H.273.
const (
	primariesSRGB = 1
	primariesP3   = 12
)

// Curves of H.273 that are none of a picture's in ordinary light (ITU-R
// BT.2100): its codes must not be read as sRGB's.
const (
	transferPQ  = 16
	transferHLG = 18
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
