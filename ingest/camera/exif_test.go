package camera

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"os"
	"os/exec"
	"testing"
	"time"

	"coverplate/ingest/catalogue"

	"github.com/google/go-cmp/cmp"
)

// The figures are those of shared/reference/exif/expected.json, full_be.jpg,
// as exiftool 12.57 and Exiv2 0.27.6 read them.
func TestAllThatACameraWritesIsReadInBothByteOrders(t *testing.T) {
	elevation := -45.12
	want := Shot{
		Taken:  time.Date(2024, 3, 9, 11, 22, 33, 70_000_000, time.UTC),
		Offset: "+02:00",
		Camera: catalogue.Camera{Make: "Islet", Model: "Islet Two", Serial: "BODY0001", Lens: "Test 100mm F2.8 Macro"},
		Exposure: catalogue.Exposure{FocalLength: 100, Focal35: 150, FNumber: 5.6, Seconds: 1. / 125, ISO: 400,
			SubjectDistance: 0.85, Elevation: &elevation, ElevationFrom: catalogue.ByExif},
		Orientation: 6, ColourSpace: "sRGB", SpaceBy: "Exif", Width: 24, Height: 16,
	}
	for _, o := range []binary.ByteOrder{little, big} {
		if d := cmp.Diff(want, read(t, exifJPEG(fullBlock(o)), catalogue.JPEG)); d != "" {
			t.Errorf("%v (-want +got):\n%s", o, d)
		}
	}
}

// What is unknown is stated by CIPA DC-008 as shared/reference/07_exif_tags.csv
// quotes it; 35 mm 65535, zero dates and 0/1 are practice of cameras.
func TestUnknownAndNonsenseReadAsNotWritten(t *testing.T) {
	o := little
	const all = math.MaxUint32
	for _, c := range []struct {
		name string
		tag  line
	}{
		{"f-number 0/0", rational(o, tagFNumber, 0, 0)},
		{"f-number 0/1 of a manual lens", rational(o, tagFNumber, 0, 1)},
		{"f-number 28/0", rational(o, tagFNumber, 28, 0)},
		{"f-number as NaN", float(o, tagFNumber, math.NaN())},
		{"f-number as infinity", float(o, tagFNumber, math.Inf(1))},
		{"f-number as text", ascii(tagFNumber, "2.8")},
		{"f-number below zero", srational(o, tagFNumber, -28, 10)},
		{"distance infinite", rational(o, tagSubjectDistance, all, 1)},
		{"distance infinite over all ones", rational(o, tagSubjectDistance, all, all)},
		{"distance infinite over a million", rational(o, tagSubjectDistance, all, 1_000_000)},
		{"distance unknown", rational(o, tagSubjectDistance, 0, 1)},
		{"elevation unknown", srational(o, tagElevation, 0, -1)},
		{"elevation 45 of unknown denominator", srational(o, tagElevation, 45, -1)},
		{"elevation unknown, unsigned", rational(o, tagElevation, 10, all)},
		{"elevation 0/0", srational(o, tagElevation, 0, 0)},
		{"elevation beyond half a turn", srational(o, tagElevation, 181, 1)},
		{"elevation NaN", float(o, tagElevation, math.NaN())},
		{"35 mm 0", short(o, tagFocal35, 0)},
		{"35 mm 65535", short(o, tagFocal35, 65535)},
		{"focal length 0/0", rational(o, tagFocalLength, 0, 0)},
		{"shutter FFFFFFFF", rational(o, tagExposureTime, all, 1)},
		{"shutter 0", rational(o, tagExposureTime, 0, 100)},
		{"ISO 0", short(o, tagISO, 0)},
		{"ISO full with nothing beside", short(o, tagISO, 65535)},
		{"date blank with colons", ascii(tagOriginal, "    :  :     :  :  ")},
		{"date blank", ascii(tagOriginal, "                   ")},
		{"date zero", ascii(tagOriginal, "0000:00:00 00:00:00")},
		{"offset blank", ascii(tagOffsetOriginal, "   :  ")},
		{"serial zeros", ascii(tagSerial, "0000000")},
		{"serial blank", ascii(tagSerial, "      ")},
		{"lens blank", ascii(tagLensModel, "    ")},
		{"lens dashes", ascii(tagLensModel, "----")},
		{"lens specification unknown", rational(o, tagLensSpecification, 0, 0, 0, 0, 0, 0, 0, 0)},
	} {
		b := exifJPEG(layout(o, []line{below(tagExifIFD, c.tag)}))
		if d := cmp.Diff(Shot{Width: 24, Height: 16}, read(t, b, catalogue.JPEG)); d != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, d)
		}
	}
}

// The builders use the same constants as the reader, so the numbers stand here
// once more, decimal: those of shared/reference/07_exif_tags.csv (checked there
// against ExifTool 12.57 and Exiv2 0.27.6), the rest as TIFF 6.0 and the tables
// of ExifTool 12.57 have them.
func TestTagNumbers(t *testing.T) {
	for name, c := range map[string][2]uint16{
		"Orientation": {tagOrientation, 274}, "DateTimeOriginal": {tagOriginal, 36867}, "SubSecTimeOriginal": {tagSubSecOriginal, 37521},
		"OffsetTimeOriginal": {tagOffsetOriginal, 36881}, "FNumber": {tagFNumber, 33437}, "FocalLength": {tagFocalLength, 37386},
		"FocalLengthIn35mmFilm": {tagFocal35, 41989}, "SubjectDistance": {tagSubjectDistance, 37382}, "CameraElevationAngle": {tagElevation, 37893},
		"ColorSpace": {tagColourSpace, 40961}, "InteroperabilityIndex": {tagInteropIndex, 1}, "Interoperability IFD": {tagInteropIFD, 40965},
		"LensSpecification": {tagLensSpecification, 42034}, "BodySerialNumber": {tagSerial, 42033}, "LensModel": {tagLensModel, 42036},
		"PixelXDimension": {tagPixelX, 40962}, "PixelYDimension": {tagPixelY, 40963}, "DateTime": {tagDateTime, 306},
		"DateTimeDigitized": {tagDigitized, 36868}, "SubSecTimeDigitized": {tagSubSecDigitized, 37522}, "OffsetTime": {tagOffset, 36880},
		"OffsetTimeDigitized": {tagOffsetDigitized, 36882}, "ExposureTime": {tagExposureTime, 33434}, "ShutterSpeedValue": {tagShutterSpeed, 37377},
		"ApertureValue": {tagAperture, 37378}, "ISO": {tagISO, 34855}, "SensitivityType": {tagSensitivityType, 34864},
		"StandardOutputSensitivity": {tagStandardOutput, 34865}, "RecommendedExposureIndex": {tagRecommendedIndex, 34866}, "ISOSpeed": {tagISOSpeed, 34867},
		"Make": {tagMake, 271}, "Model": {tagModel, 272}, "ImageWidth": {tagImageWidth, 256}, "ImageLength": {tagImageLength, 257},
		"NewSubfileType": {tagSubfileType, 254}, "StripOffsets": {tagStripOffsets, 273}, "StripByteCounts": {tagStripCounts, 279}, "SubIFDs": {tagSubIFDs, 330},
		"JPEGInterchangeFormat": {tagJPEGOffset, 513}, "JPEGInterchangeFormatLength": {tagJPEGLength, 514}, "XMP": {tagXMP, 700},
		"ICC profile": {tagICC, 34675}, "Exif IFD": {tagExifIFD, 34665}, "CameraSerialNumber": {tagCameraSerial, 50735},
		"JpgFromRaw": {tagJpgFromRaw, 46}, "SensorTopBorder": {tagSensorTop, 4}, "SensorLeftBorder": {tagSensorLeft, 5},
		"SensorBottomBorder": {tagSensorBottom, 6}, "SensorRightBorder": {tagSensorRight, 7},
	} {
		if c[0] != c[1] {
			t.Errorf("%s is tag %d, want %d", name, c[0], c[1])
		}
	}
}

func TestADateThatIsNoneIsToldAndLeftOut(t *testing.T) {
	for _, date := range []string{"2024:13:09 11:22:33", "0001:01:01 00:00:00", "2024:02:30 11:22:33", "2024:03:09 24:00:00", "yesterday at noon !"} {
		s := read(t, exifJPEG(layout(little, []line{below(tagExifIFD, ascii(tagOriginal, date))})), catalogue.JPEG)
		if !s.Taken.IsZero() || len(s.Warnings) != 1 {
			t.Errorf("%q: taken %v, warnings %q; want no time and one warning", date, s.Taken, s.Warnings)
		}
	}
}

func TestSubSecondsAreADecimalFraction(t *testing.T) {
	for s, want := range map[string]time.Duration{
		"": 0, "05": 50 * time.Millisecond, "5": 500 * time.Millisecond, "5   ": 500 * time.Millisecond, "07": 70 * time.Millisecond,
		"123456": 123456 * time.Microsecond, "000000001": 1, "9999999999": 999_999_999, "  5": 0, "x1": 0, "-5": 0, "½": 0,
	} {
		if got := fraction(s); got != want {
			t.Errorf("fraction(%q) = %v, want %v", s, got, want)
		}
	}
}

func TestOffsets(t *testing.T) {
	for s, want := range map[string]string{
		"+02:00": "+02:00", "-05:30": "-05:30", "+14:00": "+14:00", "-12:00": "-12:00", "Z": "+00:00", "+05:45 ": "+05:45",
		"": "", "+14:01": "", "-12:01": "", "+02:60": "", "02:00": "", "+2:00": "", "+0a:00": "", "+02.00": "", "   :  ": "",
	} {
		if got, _ := utcOffset(s); got != want {
			t.Errorf("utcOffset(%q) = %q, want %q", s, got, want)
		}
	}
}

func TestTheOffsetOfTheFileTimeCountsOnlyWhereBothClocksAgree(t *testing.T) {
	for change, want := range map[string]string{"2024:03:09 11:22:33": "+01:00", "2024:03:10 11:22:33": ""} {
		b := layout(little, []line{ascii(tagDateTime, change),
			below(tagExifIFD, ascii(tagOriginal, "2024:03:09 11:22:33"), ascii(tagOffset, "+01:00"))})
		if s := read(t, exifJPEG(b), catalogue.JPEG); s.Offset != want {
			t.Errorf("changed %s: offset %q, want %q", change, s.Offset, want)
		}
	}
}

// The clock of the machine must not matter. Go reads TZ once, at the start, so
// the test runs itself anew in zones with odd offsets and changes of the hour:
// 2024-03-31 02:30 did not exist in Oslo.
func TestTheWallClockIsTheSameInEveryZone(t *testing.T) {
	const child = "COVERPLATE_CAMERA_ZONE"
	if os.Getenv(child) != "" {
		b := layout(little, []line{below(tagExifIFD, ascii(tagOriginal, "2024:03:31 02:30:00"), ascii(tagSubSecOriginal, "5"))})
		want := time.Date(2024, 3, 31, 2, 30, 0, 500_000_000, time.UTC)
		if got := read(t, exifJPEG(b), catalogue.JPEG).Taken; got != want {
			t.Errorf("in zone %s: %v, want %v", os.Getenv("TZ"), got, want)
		}
		return
	}
	for _, zone := range []string{"UTC", "Europe/Oslo", "America/St_Johns", "Pacific/Kiritimati"} {
		cmd := exec.Command(os.Args[0], "-test.run=^TestTheWallClockIsTheSameInEveryZone$")
		cmd.Env = append(os.Environ(), "TZ="+zone, child+"=1")
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("TZ=%s: %v\n%s", zone, err, out)
		}
	}
}

func TestOrientationOutsideOneToEightIsNotWritten(t *testing.T) {
	for v := range 11 {
		want := v
		if v > 8 {
			want = 0
		}
		b := exifJPEG(layout(big, []line{short(big, tagOrientation, uint16(v))}))
		if s := read(t, b, catalogue.JPEG); s.Orientation != want {
			t.Errorf("orientation %d reads as %d, want %d", v, s.Orientation, want)
		}
	}
}

// R03, R98 and 65535 as in shared/reference/07_exif_tags.csv.
func TestColourSpaces(t *testing.T) {
	for _, c := range []struct {
		name    string
		value   int // −1: no tag
		index   string
		profile string
		want    string
	}{
		{"nothing", -1, "", "", ""},
		{"sRGB", 1, "", "", "sRGB"},
		{"sRGB by DCF", 1, "R98", "", "sRGB"},
		{"Adobe RGB by DCF", 65535, "R03", "", "Adobe RGB (1998)"},
		{"Adobe RGB by practice", 2, "", "", "Adobe RGB (1998)"},
		{"uncalibrated", 65535, "", "", "uncalibrated"},
		{"uncalibrated of a basic file", 65535, "R98", "", "uncalibrated"},
		{"a reserved value of a basic file", 0, "R98", "", "sRGB"},
		{"index alone", -1, "R03", "", "Adobe RGB (1998)"},
		{"Adobe RGB by profile", 65535, "", "Adobe RGB (1998)", "Adobe RGB (1998)"},
		{"Display P3 by profile", 65535, "", "Display P3", "Display P3"},
		{"Display P3 by its long name", 65535, "", "DCI-P3 D65 Gamut with sRGB Transfer", "Display P3"},
		{"a profile against Exif", 1, "", "Adobe RGB (1998)", "Adobe RGB (1998)"},
		{"a profile of no space of ours", -1, "", "Generic RGB Profile", "Generic RGB Profile"},
		{"a profile without a name", -1, "", " ", "uncalibrated"},
		{"a profile of no space of ours beside sRGB", 1, "", "Panel of a printer", "sRGB"},
	} {
		var tags []line
		if c.value >= 0 {
			tags = append(tags, short(little, tagColourSpace, uint16(c.value)))
		}
		if c.index != "" {
			tags = append(tags, below(tagInteropIFD, ascii(tagInteropIndex, c.index)))
		}
		tags = append(tags, short(little, tagFocal35, 50))
		for _, kind := range []string{"desc", "mluc"} {
			b := [][]byte{seg(0xE1, "Exif\x00\x00", string(layout(little, []line{below(tagExifIFD, tags...)})))}
			if c.profile != "" {
				b = append(b, seg(0xE2, "ICC_PROFILE\x00\x01\x01", string(profileOf(kind, c.profile))))
			}
			if s := read(t, jpegOf(24, 16, b...), catalogue.JPEG); s.ColourSpace != c.want {
				t.Errorf("%s (%s): %q, want %q", c.name, kind, s.ColourSpace, c.want)
			}
		}
	}
}

// profileOf lays out an ICC profile with nothing but a description: one that
// can't be used.
func profileOf(kind, s string) []byte {
	var d []byte
	if kind == "desc" {
		d = append([]byte("desc\x00\x00\x00\x00"), longs(big, uint32(len(s)+1))...)
		d = append(append(d, s...), 0)
	} else {
		d = append([]byte("mluc\x00\x00\x00\x00"), longs(big, 1, 12)...)
		d = append(d, "enUS"...)
		d = append(d, longs(big, uint32(2*len(s)), 28)...)
		for i := range len(s) {
			d = append(d, 0, s[i])
		}
	}
	b := make([]byte, 128)
	copy(b[36:], "acsp")
	b = append(b, longs(big, 1)...)
	b = append(append(b, "desc"...), longs(big, 144, uint32(len(d)))...)
	return append(b, d...)
}

func TestApexStandsInOnlyWhereNothingElseIsWritten(t *testing.T) {
	// Av 5 is f/5.66 and Tv 7 is 1/128 s (Exif 2.2, annex C).
	apex := []line{srational(little, tagShutterSpeed, 7, 1), rational(little, tagAperture, 5, 1)}
	s := read(t, exifJPEG(layout(little, []line{below(tagExifIFD, apex...)})), catalogue.JPEG)
	if s.Exposure.FNumber != 5.66 || s.Exposure.Seconds != 1./128 {
		t.Errorf("from APEX: f/%v and %v s, want f/5.66 and 1/128 s", s.Exposure.FNumber, s.Exposure.Seconds)
	}
	written := append([]line{rational(little, tagExposureTime, 0, 0), rational(little, tagFNumber, 0, 0)}, apex...)
	s = read(t, exifJPEG(layout(little, []line{below(tagExifIFD, written...)})), catalogue.JPEG)
	if s.Exposure.FNumber != 0 || s.Exposure.Seconds != 0 {
		t.Errorf("beside a tag that says unknown: f/%v and %v s, want none", s.Exposure.FNumber, s.Exposure.Seconds)
	}
}

func TestAFullSpeedTagGivesWayToTheLongerOnes(t *testing.T) {
	b := layout(little, []line{below(tagExifIFD, short(little, tagISO, 65535), short(little, tagSensitivityType, 2), long(little, tagRecommendedIndex, 102400))})
	if s := read(t, exifJPEG(b), catalogue.JPEG); s.Exposure.ISO != 102400 {
		t.Errorf("ISO %v, want 102400", s.Exposure.ISO)
	}
}

func TestTheLensSpecificationStandsInForItsName(t *testing.T) {
	for want, v := range map[string][]uint32{
		"24-70mm f/2.8-4": {24, 1, 70, 1, 28, 10, 4, 1}, "50mm f/1.8": {50, 1, 50, 1, 18, 10, 18, 10}, "35mm": {35, 1, 35, 1, 0, 0, 0, 0},
	} {
		b := layout(little, []line{below(tagExifIFD, rational(little, tagLensSpecification, v...))})
		if s := read(t, exifJPEG(b), catalogue.JPEG); s.Camera.Lens != want {
			t.Errorf("lens %q, want %q", s.Camera.Lens, want)
		}
	}
}

func TestTextOfACameraIsFitToShow(t *testing.T) {
	for in, want := range map[string]string{
		"  Islet\tTwo  ": "Islet Two", "\x1b[31mred\x1b[0m": "[31mred [0m", "Caf\xe9": "Café", "Café": "Café", "a\u202eb": "a b",
	} {
		if got := words(in); got != want {
			t.Errorf("words(%q) = %q, want %q", in, got, want)
		}
	}
}

// goexif alone hangs on the first of these, asks for gigabytes on the second
// and loses everything on the third (shared/LIBRARIES.md).
func TestHostileDirectoriesEnd(t *testing.T) {
	loop := layout(little, []line{ascii(tagModel, "Islet"), short(little, tagOrientation, 3)})
	little.PutUint32(loop[8+2+24:], 8) // the next directory is the first one
	self := layout(little, []line{long(little, tagExifIFD, 8), ascii(tagModel, "Islet")})
	huge := layout(little, []line{ascii(tagModel, "Islet"), ascii(tagMake, "Maker of things")})
	little.PutUint32(huge[8+2+12+4:], 1<<32-1)
	odd := layout(little, []line{ascii(tagModel, "Islet"), {id: tagMake, typ: 2, val: []byte("Maker of things")}})
	little.PutUint16(odd[8+2+12+2:], 77)
	wrong := layout(little, []line{ascii(tagModel, "Islet"), ascii(tagMake, "Maker of things")})
	little.PutUint32(wrong[8+2+12+8:], 1<<31)
	for name, b := range map[string][]byte{"loop": loop, "itself": self, "huge count": huge, "odd type": odd, "far offset": wrong} {
		start := time.Now()
		s := read(t, exifJPEG(b), catalogue.JPEG)
		if s.Camera.Model != "Islet" || len(s.Warnings) == 0 {
			t.Errorf("%s: model %q, warnings %q; want what is sound, and a warning", name, s.Camera.Model, s.Warnings)
		}
		if d := time.Since(start); d > time.Second {
			t.Errorf("%s took %v", name, d)
		}
	}
}

func TestErrorsAreOfTwoKindsAndTheDisksOwn(t *testing.T) {
	for name, b := range map[string]string{
		"empty": "", "text": "shopping list", "zeros": "\x00\x00\x00\x00\x00\x00\x00\x00\x00", "bare JPEG": "\xFF\xD8", "JPEG without a picture": "\xFF\xD8\xFF\xD9",
		"TIFF cut short": "II*\x00\x08", "raw Exif block": "Exif\x00\x00II*\x00",
	} {
		var want *FormatError
		if _, err := Read(bytes.NewReader([]byte(b)), int64(len(b)), catalogue.JPEG); !errors.As(err, &want) {
			t.Errorf("%s: %v, want a FormatError", name, err)
		}
		if _, err := Previews(bytes.NewReader([]byte(b)), int64(len(b)), catalogue.JPEG); !errors.As(err, &want) {
			t.Errorf("previews of %s: %v, want a FormatError", name, err)
		}
	}
	for name, b := range map[string]string{"Minolta's": "\x00MRM\x00\x00\x00\x00", "BigTIFF": "II+\x00\x08\x00", "film": "\x00\x00\x00\x14ftypisom\x00\x00\x00\x00mp41"} {
		var want *UnsupportedError
		if _, err := Read(bytes.NewReader([]byte(b)), int64(len(b)), catalogue.Raw); !errors.As(err, &want) {
			t.Errorf("%s: %v, want an UnsupportedError", name, err)
		}
	}
	if _, err := Read(brokenDisk{}, 1000, catalogue.JPEG); !errors.Is(err, errDisk) {
		t.Errorf("broken disk: %v, want its error wrapped", err)
	}
}

var errDisk = errors.New("input/output error")

type brokenDisk struct{}

func (brokenDisk) ReadAt([]byte, int64) (int, error) { return 0, errDisk }

// Exif keeps the size that the camera wrote when a picture is cut: what was only
// made smaller, or turned, has its shape still. The pictures here are 24 × 16.
func TestCutPicturesAreKnownByTheirShape(t *testing.T) {
	for _, c := range []struct {
		name          string
		width, height int
		cut           bool
	}{
		{"made smaller", 6000, 4000, false},
		{"made smaller, a pixel off", 6016, 4000, false},
		{"turned upright", 4000, 6000, false},
		{"cut from 4:3", 4000, 3000, true},
		{"cut from 4:3 that stood", 3024, 4032, true},
		{"cut square ones are wider than", 3000, 3000, true},
		{"no size written", 0, 0, false},
		{"half a size written", 6000, 0, false},
	} {
		block := layout(little, []line{ascii(tagMake, "Islet"), below(tagExifIFD, long(little, tagPixelX, uint32(c.width)), long(little, tagPixelY, uint32(c.height)))})
		if got := read(t, exifJPEG(block), catalogue.JPEG).Exposure.Cut; got != c.cut {
			t.Errorf("%s: %d × %d written: cut is %v", c.name, c.width, c.height, got)
		}
	}
}
