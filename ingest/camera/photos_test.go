package camera

import (
	"cmp"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"coverplate/ingest/catalogue"
)

// shared finds a folder that is at hand only where the project is made.
func shared(t *testing.T, parts ...string) string {
	t.Helper()
	dir := filepath.Join(append([]string{"..", "..", "..", "shared"}, parts...)...)
	if _, err := os.Stat(dir); err != nil {
		t.Skipf("%s is not at hand", dir)
	}
	return dir
}

// onPhotos says why we read otherwise than exiftool 12.57 does, by file and
// field, or for every file by field and exiftool's value.
var onPhotos = map[string]string{
	"efr-018-issue-exifr-13.jpg lens":                                                       "no LensModel; we word its LensSpecification",
	"mei-019-Canon_EOS_REBEL_T3i.jpg lens":                                                  "no LensModel; we word its LensSpecification",
	"pil-006-exif_gps.jpg lens":                                                             "no LensModel; we word its LensSpecification, nonsense as it is",
	"pil-006-exif_gps.jpg shutter":                                                          "FFFFFFFF seconds are no time",
	"exifto-exifto-Sigma.x3f orientation":                                                   "no Exif; its header is turned by 90°, which exiftool names Rotation",
	"exifto-exifto-SigmaDP2.x3f width":                                                      "exiftool gives its preview's 8 × 8, and 2640 × 1760 as the raw's own",
	"exifto-exifto-SigmaDP2.x3f height":                                                     "exiftool gives its preview's 8 × 8, and 2640 × 1760 as the raw's own",
	"ianare-exif-p-sony_alpha_a7iii_raw_image.ARW colour space":                             "cut short: exiftool stops at a damaged entry, the tag stands behind it",
	"ianare-exif-p-nikon_z_9_high_efficiency_compressed_dx_cropped_max_overexposed.dng ISO": "65535 says that the tag is full; the recommended exposure index says 102400",
}

func TestRealPhotographsAgreeWithTheirTruth(t *testing.T) {
	root := shared(t, "photos")
	a := newAgreement(t, onPhotos)
	for _, dir := range []string{"exif", "raw", "heic"} {
		b, err := os.ReadFile(filepath.Join(root, dir, "truth.json"))
		if err != nil {
			t.Fatal(err)
		}
		all := readings(t, b)
		for _, file := range slices.Sorted(maps.Keys(all)) {
			r := all[file]
			path := filepath.Join(root, dir, file)
			if strings.HasPrefix(file, "gox-") { // goexif's own, compared in samples_test.go
				continue
			}
			s, _, err := readFile(t, path)
			if err != nil {
				if !refused(err) {
					t.Errorf("%s: %v", file, err)
				}
				t.Logf("refused: %s: %v", file, err)
				continue
			}
			comparePhoto(a, file, s, r)
		}
	}
	a.report("shared/photos")
}

// withoutExif is what exiftool 12.57 -n says of raws that have no Exif, and whose
// own groups truth.json leaves out.
var withoutExif = map[string]reading{
	"exifto-exifto-CanonRaw.crw": {
		"DateTimeOriginal": "2003:11:10 17:39:26", "FocalLength": "24", "ApertureValue": "3.56359487256136", "ExposureTime": "0.015625", "ISO": "100",
		"Make": "Canon", "Model": "Canon EOS DIGITAL REBEL", "SerialNumber": "0560018150", "Orientation": "1",
	},
	"exiv2-exiv2-exiv2-canon-powershot-s40.crw": {
		"DateTimeOriginal": "2005:04:23 17:54:36", "FocalLength": "7.09375", "ApertureValue": "2.92183558836129", "ExposureTime": "0.0652671114017134", "ISO": "100",
		"Make": "Canon", "Model": "Canon PowerShot S40", "Orientation": "1",
	},
}

func comparePhoto(a *agreement, file string, s Shot, r reading) {
	e := func(tag string) string {
		return cmp.Or(r["EXIF:"+tag], r["SigmaRaw:"+tag], withoutExif[file][tag])
	}
	compareSample(a, file, s, reading{
		"DateTimeOriginal": e("DateTimeOriginal"), "CreateDate": e("CreateDate"), "SubSecTimeOriginal": e("SubSecTimeOriginal"),
		"FocalLength": e("FocalLength"), "FNumber": e("FNumber"), "ExposureTime": e("ExposureTime"), "ApertureValue": e("ApertureValue"), "ShutterSpeedValue": e("ShutterSpeedValue"), "ISO": e("ISO"),
		"Orientation": e("Orientation"), "Make": e("Make"), "Model": e("Model"),
	})
	a.field(file, "offset", strings.TrimSpace(e("OffsetTimeOriginal")), s.Offset)
	a.field(file, "35 mm", sameFigure(e("FocalLengthIn35mmFormat")), figure(s.Exposure.Focal35))
	a.field(file, "distance", sameFigure(e("SubjectDistance")), figure(s.Exposure.SubjectDistance))
	a.field(file, "serial", words(cmp.Or(e("SerialNumber"), e("CameraSerialNumber"))), s.Camera.Serial)
	a.field(file, "lens", words(e("LensModel")), s.Camera.Lens)
	if size := strings.Fields(r["Composite:ImageSize"]); len(size) == 2 {
		a.field(file, "width", sameFigure(size[0]), figure(float64(s.Width)))
		a.field(file, "height", sameFigure(size[1]), figure(float64(s.Height)))
	}
	got := ""
	if s.Rating != nil {
		got = figure(*s.Rating)
	}
	a.field(file, "rating", sameFigure(r["XMP:Rating"]), got)
	a.field(file, "title", words(r["XMP:Title"]), s.Title)
	a.field(file, "headline", words(r["XMP:Headline"]), s.Headline)
	a.field(file, "subjects", r["XMP:Subject"], strings.Join(s.Subjects, "|"))
	a.field(file, "colour space", spaceOf(r), s.ColourSpace)
}

// spaceOf is the colour space as the figures of exiftool imply it.
func spaceOf(r reading) string {
	d := r["ICC_Profile:ProfileDescription"]
	v, index := r["EXIF:ColorSpace"], r["EXIF:InteropIndex"]
	switch {
	case strings.Contains(d, "Adobe RGB"):
		return "Adobe RGB (1998)"
	case strings.Contains(d, "P3"):
		return "Display P3"
	case strings.Contains(d, "sRGB"):
		return "sRGB"
	case d != "": // a usable profile of another space goes before Exif, and all of these are
		return d
	case v == "1":
		return "sRGB"
	case v == "2", index == "R03":
		return "Adobe RGB (1998)"
	case v == "65535":
		return "uncalibrated"
	case index == "R98":
		return "sRGB"
	case d != "":
		return "uncalibrated"
	}
	return ""
}

// Each of the files that broke other readers ends in facts or a refusal, in
// little time and memory.
func TestFilesThatBrokeOtherReadersEndInClearLines(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(shared(t, "photos", "corrupt"), "*"))
	read, no := 0, 0
	var slowest time.Duration
	var largest uint64
	for _, f := range files {
		if strings.HasSuffix(f, ".csv") || strings.HasSuffix(f, ".json") {
			continue
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		start := time.Now()
		s, _, err := readFile(t, f)
		took := time.Since(start)
		runtime.ReadMemStats(&after)
		slowest, largest = max(slowest, took), max(largest, after.TotalAlloc-before.TotalAlloc)
		if took > 2*time.Second {
			t.Errorf("%s took %v", filepath.Base(f), took)
		}
		if n := after.TotalAlloc - before.TotalAlloc; n > 64<<20 {
			t.Errorf("%s allocated %d MB", filepath.Base(f), n>>20)
		}
		switch {
		case err == nil:
			read++
			plain(t, f, s)
		case refused(err):
			no++
			if strings.ContainsAny(err.Error(), "\n\x00\x1b") || len(err.Error()) > 200 {
				t.Errorf("%s: the refusal is no clear line: %q", filepath.Base(f), err)
			}
		default:
			t.Errorf("%s: %v, want a refusal of ours", filepath.Base(f), err)
		}
	}
	t.Logf("%d read, %d refused; the slowest took %v, the largest allocated %d KB in all", read, no, slowest, largest>>10)
	if read+no != 93 {
		t.Errorf("%d files, want 93", read+no)
	}
}

// plain checks the promises that hold for any facts whatever.
func plain(t *testing.T, what string, s Shot) {
	t.Helper()
	for _, v := range []float64{s.Exposure.FocalLength, s.Exposure.Focal35, s.Exposure.FNumber, s.Exposure.Seconds, s.Exposure.ISO, s.Exposure.SubjectDistance} {
		if !(v >= 0 && v <= 1e9) {
			t.Errorf("%s: a figure of %v", what, v)
		}
	}
	if e := s.Exposure.Elevation; e != nil && !(*e >= -180 && *e < 180) {
		t.Errorf("%s: elevation %v", what, *e)
	}
	if r := s.Rating; r != nil && !(*r == -1 || *r >= 0 && *r <= 5) {
		t.Errorf("%s: rating %v", what, *r)
	}
	if s.Orientation < 0 || s.Orientation > 8 || s.Width < 0 || s.Height < 0 || s.Width > maxSide || s.Height > maxSide {
		t.Errorf("%s: orientation %d, %d × %d", what, s.Orientation, s.Width, s.Height)
	}
	if !s.Taken.IsZero() && (s.Taken.Location() != time.UTC || s.Taken.Year() < 1800) {
		t.Errorf("%s: taken %v", what, s.Taken)
	}
	switch s.ColourSpace {
	case "", "sRGB", "Adobe RGB (1998)", "Display P3", "uncalibrated":
	default:
		t.Errorf("%s: colour space %q", what, s.ColourSpace)
	}
	for _, x := range append(append([]string{s.Camera.Make, s.Camera.Model, s.Camera.Serial, s.Camera.Lens, s.Title, s.Headline}, s.Subjects...), s.Warnings...) {
		if strings.ContainsAny(x, "\x00\x1b\n") {
			t.Errorf("%s: text not fit to show: %q", what, x)
		}
	}
}

// shared/reference/exif: small JPEGs built byte by byte, with the reading of
// exiftool 12.57 and Exiv2 0.27.6; what must read as not written is by the
// notes of its expected.json.
func TestReferenceExif(t *testing.T) {
	dir := shared(t, "reference", "exif")
	down := -90.0
	full := -45.12
	taken := time.Date(2024, 3, 9, 11, 22, 33, 0, time.UTC)
	for file, check := range map[string]func(s Shot) bool{
		"orientation_1.jpg": func(s Shot) bool { return s.Orientation == 1 && s.Width == 24 && s.Height == 16 },
		"orientation_3.jpg": func(s Shot) bool { return s.Orientation == 3 },
		"orientation_6.jpg": func(s Shot) bool { return s.Orientation == 6 && s.Width == 24 && s.Height == 16 },
		"orientation_9.jpg": func(s Shot) bool { return s.Orientation == 0 },
		"full_be.jpg": func(s Shot) bool {
			return s.Taken.Equal(taken.Add(70*time.Millisecond)) && s.Offset == "+02:00" && s.Exposure.Focal35 == 150 && s.Exposure.SubjectDistance == 0.85 && *s.Exposure.Elevation == full && s.Camera.Serial == "BODY0001" && s.Camera.Lens == "Test 100mm F2.8 Macro"
		},
		"distance_infinity.jpg":     func(s Shot) bool { return s.Exposure.SubjectDistance == 0 && s.Exposure.FNumber == 5.6 },
		"f35_bogus_65535.jpg":       func(s Shot) bool { return s.Exposure.Focal35 == 0 && s.Exposure.FocalLength == 100 },
		"fnumber_0_0.jpg":           func(s Shot) bool { return s.Exposure.FNumber == 0 && s.Exposure.FocalLength == 100 },
		"elevation_down_90.jpg":     func(s Shot) bool { return s.Exposure.Elevation != nil && *s.Exposure.Elevation == down },
		"elevation_unknown.jpg":     func(s Shot) bool { return s.Exposure.Elevation == nil },
		"date_blank.jpg":            func(s Shot) bool { return s.Taken.IsZero() && len(s.Warnings) == 0 },
		"date_zero.jpg":             func(s Shot) bool { return s.Taken.IsZero() && len(s.Warnings) == 0 },
		"offset_negative.jpg":       func(s Shot) bool { return s.Offset == "-05:30" && s.Taken.Nanosecond() == 123_456_000 },
		"subsec_trailing_space.jpg": func(s Shot) bool { return s.Taken.Equal(taken.Add(500 * time.Millisecond)) },
		"colorspace_adobe.jpg":      func(s Shot) bool { return s.ColourSpace == "Adobe RGB (1998)" },
		"colorspace_2.jpg":          func(s Shot) bool { return s.ColourSpace == "Adobe RGB (1998)" },
	} {
		s, _, err := readFile(t, filepath.Join(dir, file))
		if err != nil || !check(s) {
			t.Errorf("%s: %+v, %v", file, s, err)
		}
	}
	// "second image at absolute 929, 832 bytes (ExifTool agrees)": 07_xmp_mpf_notes.md
	_, p, err := readFile(t, filepath.Join(dir, "mpf_two_images.jpg"))
	if err != nil || len(p) != 1 || p[0].From != "mpf" || p[0].Offset != 929 || p[0].Size != 832 {
		t.Errorf("mpf_two_images.jpg: %+v, %v; want one of 832 bytes at 929", p, err)
	}
}

// A raw that is a JPEG inside is read as what it is.
func TestTheBytesTellWhatAFileIs(t *testing.T) {
	b := exifJPEG(fullBlock(little))
	if s := read(t, b, catalogue.Raw); s.Camera.Model != "Islet Two" || s.Width != 24 {
		t.Errorf("a JPEG named like a raw: %+v", s)
	}
}
