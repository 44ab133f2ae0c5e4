package camera

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"coverplate/ingest/catalogue"
)

// Tags that are read, by the names of CIPA DC-008 and TIFF 6.0. Numbers and
// types were checked against ExifTool 12.57's tag table.
const (
	tagInteropIndex      = 0x0001 // of the interoperability directory
	tagSubfileType       = 0x00FE
	tagImageWidth        = 0x0100
	tagImageLength       = 0x0101
	tagMake              = 0x010F
	tagModel             = 0x0110
	tagStripOffsets      = 0x0111
	tagOrientation       = 0x0112
	tagStripCounts       = 0x0117
	tagSubIFDs           = 0x014A
	tagJPEGOffset        = 0x0201
	tagJPEGLength        = 0x0202
	tagXMP               = 0x02BC
	tagExposureTime      = 0x829A
	tagFNumber           = 0x829D
	tagExifIFD           = 0x8769
	tagICC               = 0x8773
	tagISO               = 0x8827
	tagSensitivityType   = 0x8830
	tagStandardOutput    = 0x8831
	tagRecommendedIndex  = 0x8832
	tagISOSpeed          = 0x8833
	tagDateTime          = 0x0132
	tagOriginal          = 0x9003
	tagDigitized         = 0x9004
	tagOffset            = 0x9010
	tagOffsetOriginal    = 0x9011
	tagOffsetDigitized   = 0x9012
	tagShutterSpeed      = 0x9201 // APEX
	tagAperture          = 0x9202 // APEX
	tagSubjectDistance   = 0x9206
	tagFocalLength       = 0x920A
	tagMakerNote         = 0x927C
	tagSubSecOriginal    = 0x9291
	tagSubSecDigitized   = 0x9292
	tagElevation         = 0x9405
	tagColourSpace       = 0xA001
	tagPixelX            = 0xA002
	tagPixelY            = 0xA003
	tagInteropIFD        = 0xA005
	tagFocal35           = 0xA405
	tagSerial            = 0xA431
	tagLensSpecification = 0xA432
	tagLensModel         = 0xA434
	tagCameraSerial      = 0xC62F // DNG
)

// wanted tells which tags of IFD0, the Exif and the interoperability directory
// are decoded. Maker notes, comments and GPS are not.
func wanted(id uint16) bool {
	switch id {
	case tagInteropIndex, tagSensorTop, tagSensorLeft, tagSensorBottom, tagSensorRight, tagSubfileType, tagImageWidth, tagImageLength, tagMake, tagModel, tagStripOffsets,
		tagOrientation, tagStripCounts, tagSubIFDs, tagJPEGOffset, tagJPEGLength, tagExposureTime, tagFNumber, tagExifIFD,
		tagISO, tagSensitivityType, tagStandardOutput, tagRecommendedIndex, tagISOSpeed, tagDateTime, tagOriginal,
		tagDigitized, tagOffset, tagOffsetOriginal, tagOffsetDigitized, tagShutterSpeed, tagAperture, tagSubjectDistance,
		tagFocalLength, tagSubSecOriginal, tagSubSecDigitized, tagElevation, tagColourSpace, tagPixelX, tagPixelY,
		tagInteropIFD, tagFocal35, tagSerial, tagLensSpecification, tagLensModel, tagCameraSerial:
		return true
	}
	return false
}

// shot turns the directories and packets into facts.
func (p *picture) shot() Shot {
	s := Shot{Width: p.width, Height: p.height}
	s.Camera = catalogue.Camera{
		Make:   p.maker(tagMake),
		Model:  p.maker(tagModel),
		Serial: p.serial(),
		Lens:   p.lens(),
	}
	s.Taken, s.Offset = p.taken()
	s.Exposure = p.exposure()
	s.Exposure.Cut = p.cut()
	s.Orientation = p.orientation()
	s.Profile = p.readProfile()
	s.ColourSpace, s.SpaceBy = p.colourSpace(s.Profile)
	p.complain(s.Profile)
	p.describe(&s)
	fillFrom(&s, p.beside)
	if s.Width <= 0 || s.Height <= 0 {
		s.Width, s.Height = p.writtenSize()
	}
	s.Warnings, s.Damaged = p.warnings, p.damaged
	return s
}

// fillFrom gives s what it lacks and b has.
func fillFrom(s *Shot, b Shot) {
	if s.Taken.IsZero() {
		s.Taken = b.Taken
	}
	if s.Width <= 0 || s.Height <= 0 {
		s.Width, s.Height = b.Width, b.Height
	}
	s.Orientation = cmp.Or(s.Orientation, b.Orientation)
	c, e := &s.Camera, &s.Exposure
	c.Make, c.Model, c.Serial = cmp.Or(c.Make, b.Camera.Make), cmp.Or(c.Model, b.Camera.Model), cmp.Or(c.Serial, b.Camera.Serial)
	e.FocalLength, e.Focal35 = cmp.Or(e.FocalLength, b.Exposure.FocalLength), cmp.Or(e.Focal35, b.Exposure.Focal35)
	e.FNumber, e.Seconds, e.ISO = cmp.Or(e.FNumber, b.Exposure.FNumber), cmp.Or(e.Seconds, b.Exposure.Seconds), cmp.Or(e.ISO, b.Exposure.ISO)
}

// maker returns make or model, which belong into IFD0; some phones' software
// puts them into the Exif directory.
func (p *picture) maker(id uint16) string {
	if s := words(p.main.text(id)); s != "" {
		return s
	}
	return words(p.exif.text(id))
}

// either returns the directory that holds the tag: the Exif directory, or
// IFD0, where TIFF/EP (ISO 12234-2) puts some of the same tags.
func (p *picture) either(id uint16) directory {
	if p.exif.has(id) {
		return p.exif
	}
	return p.main
}

func (p *picture) exposure() catalogue.Exposure {
	var e catalogue.Exposure
	e.FocalLength = p.within(tagFocalLength, 0, 100_000)
	e.Focal35 = p.within(tagFocal35, 0, 65_534)
	e.FNumber = p.within(tagFNumber, 0, 1_000)
	if !p.either(tagFNumber).has(tagFNumber) {
		// APEX: Av = 2 log2 N (Exif 2.2, annex C). A camera that wrote the
		// f-number as unknown has nothing better to say here.
		if av, ok := p.either(tagAperture).number(tagAperture, 0); ok && av > 0 && av < 20 {
			e.FNumber = rounded(math.Exp2(av/2), 2)
		}
	}
	e.Seconds = p.within(tagExposureTime, 0, 1e6)
	if !p.either(tagExposureTime).has(tagExposureTime) {
		// APEX: Tv = -log2 t (Exif 2.2, annex C).
		if tv, ok := p.either(tagShutterSpeed).number(tagShutterSpeed, 0); ok && tv > -20 && tv < 20 && tv != 0 {
			e.Seconds = math.Exp2(-tv)
		}
	}
	e.ISO = p.iso()
	e.SubjectDistance = p.within(tagSubjectDistance, 0, 100_000)
	if v, ok := p.either(tagElevation).number(tagElevation, 0); ok && v >= -180 && v < 180 {
		e.Elevation, e.ElevationFrom = &v, catalogue.ByExif
	} else if v, ok := p.gravity(); ok {
		e.Elevation, e.ElevationFrom = &v, catalogue.ByGravity
	}
	return e
}

// within returns a number that is above low and at most high, else 0.
func (p *picture) within(id uint16, low, high float64) float64 {
	v, ok := p.either(id).number(id, 0)
	if !ok || v <= low || v > high {
		return 0
	}
	return v
}

// iso returns the speed. The SHORT of the older tag cannot hold more than
// 65534; where it is full, Exif 2.3 puts the speed into one of three others.
func (p *picture) iso() float64 {
	for _, v := range p.either(tagISO).ints(tagISO) {
		if v > 0 && v < math.MaxUint16 {
			return float64(v)
		}
	}
	if v := p.within(tagISO, 0, 65_534); v > 0 { // as a rational, against the standard
		return v
	}
	order := []uint16{tagRecommendedIndex, tagStandardOutput, tagISOSpeed}
	switch t, _ := p.exif.int(tagSensitivityType); t { // what the older tag would have held
	case 1, 4:
		order[0], order[1] = order[1], order[0]
	case 3:
		order[0], order[2] = order[2], order[0]
	}
	for _, id := range order {
		if v := p.within(id, 0, 1e9); v > 0 {
			return v
		}
	}
	return 0
}

func (p *picture) orientation() int {
	v, _ := p.main.int(tagOrientation)
	if v < 1 || v > 8 {
		v = 0
	}
	if p.turn != 0 && p.turn != int(v) {
		if v != 0 {
			p.dispute("Exif says orientation %d, the container says %d; the container counts", v, p.turn)
		}
		return p.turn
	}
	return int(v)
}

// serial returns the body's serial number. Blanks and zeros alone are what
// cameras write that have none to tell.
func (p *picture) serial() string {
	for _, s := range []string{p.either(tagSerial).text(tagSerial), p.main.text(tagCameraSerial)} {
		if s = words(s); strings.Trim(s, "0 -.") != "" {
			return s
		}
	}
	return ""
}

// lens returns the lens's name, or the description that its specification
// gives: "24-70mm f/2.8-4".
func (p *picture) lens() string {
	if s := words(p.either(tagLensModel).text(tagLensModel)); strings.Trim(s, "-. 0") != "" {
		return s
	}
	var v [4]float64
	d := p.either(tagLensSpecification)
	for i := range v {
		v[i], _ = d.number(tagLensSpecification, i)
	}
	if !(v[0] > 0) {
		return ""
	}
	s := span(v[0], v[1]) + "mm"
	if v[2] > 0 {
		s += " f/" + span(v[2], v[3])
	}
	return s
}

func span(from, to float64) string {
	s := strconv.FormatFloat(rounded(from, 2), 'f', -1, 64)
	if to > from {
		s += "-" + strconv.FormatFloat(rounded(to, 2), 'f', -1, 64)
	}
	return s
}

func rounded(v float64, digits int) float64 {
	f := math.Pow10(digits)
	return math.Round(v*f) / f
}

// taken returns the moment of the exposure, or where only that was written, of
// its digitising. The file change time (tag 0132) is no moment of capture.
func (p *picture) taken() (time.Time, string) {
	for _, w := range []struct{ date, fraction, offset uint16 }{
		{tagOriginal, tagSubSecOriginal, tagOffsetOriginal},
		{tagDigitized, tagSubSecDigitized, tagOffsetDigitized},
	} {
		date := p.either(w.date).text(w.date)
		t, ok := wallClock(date)
		if !ok {
			if strings.Trim(date, " :0-/\t\r\n") != "" {
				p.warn("Exif time %q is no date and time", words(date))
			}
			continue
		}
		t = t.Add(fraction(p.either(w.fraction).text(w.fraction)))
		offset, ok := utcOffset(p.either(w.offset).text(w.offset))
		if !ok && p.main.text(tagDateTime) == date {
			// Some bodies give the offset of the file change time alone; it
			// is this one's too where both clocks read the same.
			offset, _ = utcOffset(p.either(tagOffset).text(tagOffset))
		}
		return t, offset
	}
	return time.Time{}, ""
}

// wallClock reads "YYYY:MM:DD HH:MM:SS" as digits held in UTC. Blanks and zeros
// are the standard's and the practice's unknown.
func wallClock(s string) (time.Time, bool) {
	s = strings.Trim(s, " \t\r\n")
	if len(s) != 19 {
		return time.Time{}, false
	}
	for _, layout := range []string{"2006:01:02 15:04:05", "2006-01-02 15:04:05", "2006-01-02T15:04:05", "2006/01/02 15:04:05"} {
		if t, err := time.Parse(layout, s); err == nil {
			return t, t.Year() >= 1800 // before photography: a clock that was never set
		}
	}
	return time.Time{}, false
}

// fraction reads the digits after a decimal point: "05" is 0.05 s. Trailing
// blanks are allowed; digits below the nanosecond are cut.
func fraction(s string) time.Duration {
	s = strings.TrimRight(s, " ")
	if s == "" {
		return 0
	}
	for _, c := range []byte(s) {
		if c < '0' || c > '9' {
			return 0
		}
	}
	n, err := strconv.Atoi((s + "000000000")[:9])
	if err != nil {
		return 0
	}
	return time.Duration(n)
}

// utcOffset reads "+HH:MM". No clock on earth stands further from UTC than
// −12 and +14 hours.
func utcOffset(s string) (string, bool) {
	s = strings.Trim(s, " ")
	if s == "Z" {
		return "+00:00", true
	}
	if len(s) != 6 || s[3] != ':' || s[0] != '+' && s[0] != '-' {
		return "", false
	}
	for _, i := range []int{1, 2, 4, 5} {
		if s[i] < '0' || s[i] > '9' {
			return "", false
		}
	}
	h, m := int(s[1]-'0')*10+int(s[2]-'0'), int(s[4]-'0')*10+int(s[5]-'0')
	if total := h*60 + m; m > 59 || s[0] == '+' && total > 14*60 || s[0] == '-' && total > 12*60 {
		return "", false
	}
	return s, true
}

// writtenSize is the size that Exif claims, for a picture whose own header is
// cut off.
func (p *picture) writtenSize() (int, int) {
	w, _ := p.exif.int(tagPixelX)
	h, _ := p.exif.int(tagPixelY)
	if w <= 0 || h <= 0 || w > maxSide || h > maxSide {
		return 0, 0
	}
	p.warn("the picture's own size is missing; Exif says %d × %d", w, h)
	return int(w), int(h)
}

// cut tells whether the pixels have another shape than Exif says the camera
// gave them, turned or not: whoever cut them left Exif as it was. One that was
// only made smaller has its shape to a pixel or two.
func (p *picture) cut() bool {
	w, _ := p.exif.int(tagPixelX)
	h, _ := p.exif.int(tagPixelY)
	if w <= 0 || h <= 0 || p.width <= 0 || p.height <= 0 {
		return false
	}
	shape := func(a, b float64) float64 { return max(a, b) / min(a, b) }
	return math.Abs(shape(float64(w), float64(h))/shape(float64(p.width), float64(p.height))-1) > 0.02
}

// maxSide is beyond any camera's; a stitched panorama of a phone is under it.
const maxSide = 1 << 20

// words makes text of a camera's bytes fit to show: valid UTF-8 (Latin-1 where
// it is none), no control characters, single blanks, at most 200 characters.
func words(s string) string {
	if !utf8.ValidString(s) {
		r := make([]rune, len(s))
		for i := range len(s) {
			r[i] = rune(s[i])
		}
		s = string(r)
	}
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == utf8.RuneError {
			return ' '
		}
		return r
	}, s)
	s = strings.Join(strings.Fields(s), " ")
	if utf8.RuneCountInString(s) > 200 {
		s = string([]rune(s)[:200]) + "…"
	}
	return s
}

// readExif walks the Exif block of size bytes at base: IFD0, the Exif and the
// interoperability directory, and the thumbnail of IFD1.
func (p *picture) readExif(base, size int64) {
	b, err := openBlock(p.src, base, size)
	if err != nil {
		p.warn("Exif: %v", err)
		return
	}
	p.readMain(b)
	if p.main.next != 0 {
		d, err := b.directory(p.main.next, wanted)
		if err != nil {
			p.warn("Exif thumbnail: %v", err)
			return
		}
		p.addInterchange("exif", b, d)
	}
}

// readMain walks IFD0 of b and the directories that hang from it.
func (p *picture) readMain(b *block) {
	d, err := b.directory(b.first, wanted)
	if err != nil {
		p.warn("Exif: %v", err)
		return
	}
	p.main = d
	p.tell("Exif", d)
	if off, ok := d.offset(tagExifIFD); ok {
		p.readExifDirectory(b, off)
	}
}

func (p *picture) readExifDirectory(b *block, off uint32) {
	e, err := b.directory(off, wanted)
	if err != nil {
		p.warn("Exif: %v", err)
		return
	}
	p.exif = e
	p.tell("Exif", e)
	p.readMakerNote(b.src)
	if off, ok := e.offset(tagInteropIFD); ok {
		i, err := b.directory(off, wanted)
		if err != nil {
			p.warn("Exif interoperability: %v", err)
			return
		}
		p.interop = i
	}
}

// tell warns of what is damaged in a directory.
func (p *picture) tell(what string, d directory) {
	if d.cut {
		p.warn("%s: the file ends within a directory", what)
	}
	switch {
	case d.damaged == 1:
		p.warn("%s: one entry is damaged and was left out", what)
	case d.damaged > 1:
		p.warn("%s: %s entries are damaged and were left out", what, fmt.Sprint(d.damaged))
	}
}
