package camera

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"io/fs"
	"math"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"coverplate/ingest/catalogue"
)

// phoneNote is a maker note that holds the vector a/den in the byte order o,
// after a line of another tag, as phones write it.
func phoneNote(o binary.ByteOrder, a [3]int32, den int32) []byte {
	b := []byte("Apple iOS\x00\x00\x01MM")
	if o == little {
		copy(b[12:], "II")
	}
	var v []byte
	for _, x := range a {
		v = append(v, longs(o, uint32(x), uint32(den))...)
	}
	b, _ = directoryBytes(o, b, []line{long(o, 0x0001, 14), {id: tagAcceleration, typ: 10, val: v}})
	return b
}

// phone is a picture whose Exif holds such a note and more lines.
func phone(o binary.ByteOrder, a [3]int32, den int32, more ...line) []byte {
	return noted(phoneNote(o, a, den), more...)
}

func noted(note []byte, more ...line) []byte {
	lines := append([]line{{id: tagMakerNote, typ: 7, val: note}}, more...)
	return exifJPEG(layout(big, []line{ascii(tagMake, "Apple"), below(tagExifIFD, lines...)}))
}

func TestGravity(t *testing.T) {
	g := func(x, y, z int32) [3]int32 { return [3]int32{x, y, z} }
	for name, c := range map[string]struct {
		b    []byte
		want float64 // degrees; NaN unknown
		from catalogue.Sensor
	}{
		"flat on its back, looking down":       {phone(big, g(0, 0, -100), 100), -90, catalogue.ByGravity},
		"flat on its screen, looking up":       {phone(big, g(0, 0, 100), 100), 90, catalogue.ByGravity},
		"upright, looking level":               {phone(big, g(0, -100, 0), 100), 0, catalogue.ByGravity},
		"on its side, looking level":           {phone(big, g(-100, 0, 0), 100), 0, catalogue.ByGravity},
		"30° down":                             {phone(big, g(0, -86603, -50000), 100000), -30, catalogue.ByGravity},
		"45° down on its side":                 {phone(little, g(70711, 0, -70711), 100000), -45, catalogue.ByGravity},
		"a pull of 1.09 g":                     {phone(big, g(0, 0, -109), 100), -90, catalogue.ByGravity},
		"a pull of 1.11 g: it moved":           {phone(big, g(0, 0, -111), 100), math.NaN(), ""},
		"a pull of 0.89 g: it moved":           {phone(big, g(0, 0, -89), 100), math.NaN(), ""},
		"falling":                              {phone(big, g(0, 0, 0), 100), math.NaN(), ""},
		"denominator 0":                        {phone(big, g(0, 0, -100), 0), math.NaN(), ""},
		"denominator FFFFFFFF":                 {phone(big, g(0, 0, 1), -1), math.NaN(), ""},
		"Exif's own tag counts over it":        {phone(big, g(0, 0, -100), 100, srational(big, tagElevation, -4512, 100)), -45.12, catalogue.ByExif},
		"Exif's own tag unknown":               {phone(big, g(0, 0, -100), 100, srational(big, tagElevation, 0, -1)), -90, catalogue.ByGravity},
		"the camera beside the screen":         {phone(big, g(0, 0, -100), 100, ascii(tagLensModel, "phone front camera 2.7mm f/2.2")), math.NaN(), ""},
		"the camera on the back":               {phone(big, g(0, 0, -100), 100, ascii(tagLensModel, "phone back camera 4.2mm f/1.8")), -90, catalogue.ByGravity},
		"another maker's note":                 {noted([]byte("Nikon\x00\x02\x10\x00\x00MM\x00*\x00\x00\x00\x08\x00\x00")), math.NaN(), ""},
		"a note cut after its head":            {noted([]byte("Apple iOS\x00\x00\x01MM")), math.NaN(), ""},
		"a note cut in its directory":          {noted(phoneNote(big, g(0, 0, -100), 100)[:30]), math.NaN(), ""},
		"a note of no byte order":              {noted([]byte("Apple iOS\x00\x00\x01XX\x00\x01\x00\x08\x00\x0a\x00\x00\x00\x03\x00\x00\x00\x00")), math.NaN(), ""},
		"a value outside the file":             {noted([]byte("Apple iOS\x00\x00\x01MM\x00\x01\x00\x08\x00\x0a\x00\x00\x00\x03\x00\xff\xff\xff\x00\x00\x00\x00")), math.NaN(), ""},
		"a vector of two":                      {noted([]byte("Apple iOS\x00\x00\x01MM\x00\x01\x00\x08\x00\x0a\x00\x00\x00\x02\x00\x00\x00\x14" + strings.Repeat("\x00\x00\x00\x01", 4))), math.NaN(), ""},
		"a vector as text":                     {noted([]byte("Apple iOS\x00\x00\x01MM\x00\x01\x00\x08\x00\x02\x00\x00\x00\x09\x00\x00\x00\x140 0 -1 \x00\x00")), math.NaN(), ""},
		"a directory of an impossible length":  {noted([]byte("Apple iOS\x00\x00\x01MM\xff\xff" + strings.Repeat("\x00", 64))), math.NaN(), ""},
		"a pull of whole numbers, not a share": {phone(big, g(0, 0, -1), 1), -90, catalogue.ByGravity},
	} {
		s := read(t, c.b, catalogue.JPEG)
		e := s.Exposure
		switch {
		case math.IsNaN(c.want):
			if e.Elevation != nil || e.ElevationFrom != "" {
				t.Errorf("%s: %v from %q, want not known", name, *e.Elevation, e.ElevationFrom)
			}
		case e.Elevation == nil:
			t.Errorf("%s: not known, want %v", name, c.want)
		case !(math.Abs(*e.Elevation-c.want) <= 0.005) || math.Signbit(*e.Elevation) && *e.Elevation == 0 || e.ElevationFrom != c.from:
			t.Errorf("%s: %v from %q, want %v from %q", name, *e.Elevation, e.ElevationFrom, c.want, c.from)
		}
	}
}

// Every phone picture at hand is read as exiftool reads its vector; the turn
// into degrees is worked out here anew.
func TestGravityAgreesWithExiftool(t *testing.T) {
	root := shared(t, "photos")
	tool, err := exec.LookPath("exiftool")
	if err != nil {
		t.Skip("exiftool is not at hand")
	}
	out, _ := exec.Command(tool, "-r", "-q", "-j", "-n", "-AccelerationVector", "-CameraElevationAngle", "-LensModel",
		filepath.Join(root, "exif"), filepath.Join(root, "heic"), filepath.Join(root, "food")).Output() // it exits 1 for files it can't read
	var all []struct {
		SourceFile, LensModel string
		AccelerationVector    string
		CameraElevationAngle  *float64
	}
	if err := json.Unmarshal(out, &all); err != nil {
		t.Fatal(err)
	}
	told := map[string]float64{} // by path: Exif's elevation
	least, most := math.Inf(1), 0.0
	for _, r := range all {
		f := strings.Fields(r.AccelerationVector)
		if len(f) != 3 {
			continue
		}
		var a [3]float64
		for i := range a {
			if a[i], err = strconv.ParseFloat(f[i], 64); err != nil {
				t.Fatal(err)
			}
		}
		pull := math.Hypot(math.Hypot(a[0], a[1]), a[2])
		least, most = min(least, pull), max(most, pull)
		told[r.SourceFile] = -math.Asin(-a[2]/pull) * 180 / math.Pi
	}
	found := 0
	for _, dir := range []string{"exif", "heic", "food"} {
		err := filepath.WalkDir(filepath.Join(root, dir), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			s, _, err := readFile(t, path)
			if err != nil {
				return nil // refusals are another test's
			}
			want, has := told[path]
			got := s.Exposure.Elevation
			switch {
			case s.Exposure.ElevationFrom != catalogue.ByGravity && !has:
			case got == nil || s.Exposure.ElevationFrom != catalogue.ByGravity:
				t.Errorf("%s: no gravity read, exiftool's vector says %.2f°", filepath.Base(path), want)
			case !has:
				t.Errorf("%s: %.2f° read, exiftool has no vector", filepath.Base(path), *got)
			case !(math.Abs(*got-want) <= 0.00501): // two decimals
				t.Errorf("%s: %.3f°, exiftool's vector says %.3f°", filepath.Base(path), *got, want)
			default:
				found++
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d phone pictures agree; they felt %.3f … %.3f g", found, least, most)
	if found < 15 {
		t.Errorf("%d phone pictures agree, want 15 at least", found)
	}
}

func FuzzMakerNote(f *testing.F) {
	f.Add(phoneNote(big, [3]int32{-38, 2, -94}, 100))
	f.Add(phoneNote(little, [3]int32{0, 0, -1}, -1))
	f.Add([]byte("Apple iOS\x00\x00\x01MM\xff\xff\x00\x08"))
	f.Fuzz(func(t *testing.T, note []byte) {
		if len(note) > 60_000 {
			return
		}
		b := noted(note)
		s, err := Read(bytes.NewReader(b), int64(len(b)), catalogue.JPEG)
		if err != nil {
			t.Fatal(err)
		}
		if e := s.Exposure; e.Elevation != nil && !(*e.Elevation >= -90 && *e.Elevation <= 90 && e.ElevationFrom == catalogue.ByGravity) {
			t.Errorf("%v from %q", *e.Elevation, e.ElevationFrom)
		}
	})
}
