package camera

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"coverplate/colour"
	"coverplate/ingest/catalogue"

	"github.com/google/go-cmp/cmp"
)

// sameSpace lets cmp look at spaces, which are functions within.
var sameSpace = cmp.Comparer(func(a, b *colour.Space) bool {
	return (a == nil) == (b == nil) && (a == nil || a.Apart(b) == 0)
})

// profileFile is one of the profiles that colour/icc's tests build.
func profileFile(t testing.TB, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "colour", "icc", "testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// iccSeg is one APP2 segment of a profile, number of count.
func iccSeg(number, count int, part string) []byte {
	return seg(0xE2, iccMark, string([]byte{byte(number), byte(count)}), part)
}

func packed(s string) string {
	var z bytes.Buffer
	w := zlib.NewWriter(&z)
	w.Write([]byte(s))
	w.Close()
	return z.String()
}

func pngWith(chunks ...string) []byte {
	b := "\x89PNG\r\n\x1A\n" + pngChunk("IHDR", be(300, 200)+"\x08\x02\x00\x00\x00")
	return []byte(b + strings.Join(chunks, "") + pngChunk("IDAT", "x") + pngChunk("IEND", ""))
}

func pngChunk(kind, c string) string { return be(uint32(len(c))) + kind + c + be(0) }

func webpWith(profile string) []byte {
	size := func(v int) string { return string(longs(little, uint32(v))) }
	body := "WEBPVP8X" + size(10) + "\x2C\x00\x00\x00\x2B\x01\x00\xC7\x00\x00" + "ICCP" + size(len(profile)) + profile + strings.Repeat("\x00", len(profile)%2)
	return []byte("RIFF" + size(len(body)) + body)
}

// ICC.1:2010 annex B.4 splits a profile over segments that are numbered from
// one; it does not say that they stand in order.
func TestTheSegmentsOfAProfile(t *testing.T) {
	p3 := profileFile(t, "p3.icc")
	a, b, c := p3[:100], p3[100:300], p3[300:]
	for _, s := range []struct {
		name     string
		segments [][]byte
		fault    string // "": the profile is whole
	}{
		{"one", [][]byte{iccSeg(1, 1, p3)}, ""},
		{"three", [][]byte{iccSeg(1, 3, a), iccSeg(2, 3, b), iccSeg(3, 3, c)}, ""},
		{"three, turned round", [][]byte{iccSeg(3, 3, c), iccSeg(2, 3, b), iccSeg(1, 3, a)}, ""},
		{"three, others between", [][]byte{iccSeg(2, 3, b), seg(0xE2, "URN\x00"), iccSeg(1, 3, a), seg(0xFE, "x"), iccSeg(3, 3, c)}, ""},
		{"one twice", [][]byte{iccSeg(1, 2, a+b), iccSeg(1, 2, a+b), iccSeg(2, 2, c)}, ""},
		{"numbered from nought", [][]byte{iccSeg(0, 2, a), iccSeg(1, 2, b+c)}, ""},
		{"a count too small", [][]byte{iccSeg(1, 1, a), iccSeg(2, 1, b+c)}, ""},
		{"a count too large and all there", [][]byte{iccSeg(1, 9, a), iccSeg(2, 9, b+c)}, ""},
		{"an empty one", [][]byte{iccSeg(1, 3, a), iccSeg(2, 3, ""), iccSeg(3, 3, b+c)}, ""},
		{"the first missing", [][]byte{iccSeg(2, 3, b), iccSeg(3, 3, c)}, "2 to 3"},
		{"the second missing", [][]byte{iccSeg(1, 3, a), iccSeg(3, 3, c)}, "number 2 is missing"},
		{"the last missing", [][]byte{iccSeg(1, 3, a), iccSeg(2, 3, b)}, "of its 3 segments there are 1 to 2, 300 of"},
		{"nothing in it", [][]byte{iccSeg(1, 1, "")}, "0 bytes"},
	} {
		shot := read(t, jpegOf(24, 16, s.segments...), catalogue.JPEG)
		p := shot.Profile
		switch {
		case p == nil:
			t.Errorf("%s: no profile", s.name)
		case s.fault == "" && (p.Fault != nil || p.Space == nil || shot.ColourSpace != "Display P3" || shot.SpaceBy != "embedded profile" || shot.Damaged):
			t.Errorf("%s: %+v of %+v", s.name, p, shot)
		case s.fault != "" && (p.Fault == nil || p.Space != nil || !strings.Contains(p.Fault.Error(), s.fault) || !shot.Damaged || !slices.Contains(shot.Warnings, p.Fault.Error())):
			t.Errorf("%s: %v, want words with %q; %+v", s.name, p.Fault, s.fault, shot)
		}
	}
	// A file that ends within the profile.
	whole := jpegOf(24, 16, iccSeg(1, 1, p3))
	at := bytes.Index(whole, []byte(p3[200:220]))
	if shot := read(t, exifJPEG(fullBlock(big)), catalogue.JPEG); shot.Profile != nil {
		t.Errorf("a profile out of nothing: %+v", shot.Profile)
	}
	if shot, err := Read(bytes.NewReader(whole[:at]), int64(at), catalogue.JPEG); err == nil && (shot.Profile == nil || shot.Profile.Fault == nil) {
		t.Errorf("cut within its profile: %+v", shot.Profile)
	}
	// 255 full segments are more than any profile has.
	var many [][]byte
	for i := range 255 {
		many = append(many, iccSeg(i+1, 255, strings.Repeat("\x00", 65519)))
	}
	if p := read(t, jpegOf(24, 16, many...), catalogue.JPEG).Profile; p == nil || p.Fault == nil || !strings.Contains(p.Fault.Error(), "more than") {
		t.Errorf("sixteen megabytes of profile: %+v", p)
	}
}

// The profile lies in every kind of container, whole, and is named by what it
// computes, whatever it is called.
func TestProfilesOfEveryContainer(t *testing.T) {
	bare := be(0) + string(layout(big, []line{ascii(tagModel, "Islet Two")}))
	for file, want := range map[string]string{
		"p3.icc": "Display P3", "adobe.icc": "Adobe RGB (1998)", "srgb.icc": "sRGB", "wide.icc": "Skerry Wide", "grey.icc": "Skerry Grey",
	} {
		profile := profileFile(t, file)
		tiff := layout(little, []line{long(little, tagImageWidth, 300), long(little, tagImageLength, 200), {id: tagICC, typ: 7, val: []byte(profile)}})
		for name, b := range map[string][]byte{
			"JPEG": jpegOf(300, 200, iccSeg(1, 1, profile)),
			"PNG":  pngWith(pngChunk("iCCP", "p\x00\x00"+packed(profile))),
			"WebP": webpWith(profile),
			"HEIC": heicOf(bare, "", bx("colr", "prof", profile)),
			"TIFF": tiff,
		} {
			s := read(t, b, catalogue.Picture)
			if s.Profile == nil || s.Profile.Fault != nil || s.Profile.Space == nil || s.ColourSpace != want || s.SpaceBy != "embedded profile" {
				t.Errorf("%s in %s: %q by %q, %+v", file, name, s.ColourSpace, s.SpaceBy, s.Profile)
			}
		}
	}
	// A space that only calls itself one of ours is not.
	lie := strings.Replace(profileFile(t, "wide.icc"), "Skerry Wide\x00", "sRGB\x00\x00\x00\x00\x00\x00\x00\x00", 1)
	if s := read(t, jpegOf(300, 200, iccSeg(1, 1, lie)), catalogue.JPEG); s.ColourSpace != "called sRGB and none" {
		t.Errorf("a false sRGB is %q", s.ColourSpace)
	}
}

// A phone's HEIC carries two profiles, and the second is of the gain map: the
// one that the picture itself points to counts, wherever it stands.
func TestTheProfileOfTheBasePictureCounts(t *testing.T) {
	bare := be(0) + string(layout(big, []line{ascii(tagModel, "Islet Two")}))
	p3, other := bx("colr", "prof", profileFile(t, "p3.icc")), bx("colr", "prof", profileFile(t, "wide.icc"))
	for name, b := range map[string][]byte{
		"first":  bytes.Replace(heicOf(bare, "", p3, other), []byte("\x03\x81\x82\x83"), []byte("\x03\x81\x82\x81"), 1),
		"second": bytes.Replace(heicOf(bare, "", other, p3), []byte("\x03\x81\x82\x83"), []byte("\x03\x81\x83\x81"), 1),
		"both":   heicOf(bare, "", p3, other),
	} {
		if s := read(t, b, catalogue.HEIC); s.ColourSpace != "Display P3" {
			t.Errorf("%s: %q", name, s.ColourSpace)
		}
	}
}

func TestProfilesThatCannotBeRead(t *testing.T) {
	p3 := profileFile(t, "p3.icc")
	z := packed(p3)
	bomb := packed(strings.Repeat("\x00", 64<<20)) // 64 KB that unpack to 64 MB
	tooLong := strings.Repeat("\x00", maxICC+1)
	for _, c := range []struct {
		name  string
		b     []byte
		fault string
	}{
		{"a bomb in a PNG", pngWith(pngChunk("iCCP", "p\x00\x00"+bomb)), "more than the 4194304 bytes"},
		{"a PNG's chunk beyond all bounds", pngWith(pngChunk("iCCP", "p\x00\x00"+tooLong)), "more than the 4194304 that are read"},
		{"a zlib stream cut short", pngWith(pngChunk("iCCP", "p\x00\x00"+z[:len(z)/2])), "can't be unpacked"},
		{"a zlib stream of a false check sum", pngWith(pngChunk("iCCP", "p\x00\x00"+z[:len(z)-1]+"!")), "can't be unpacked"},
		{"no zlib stream", pngWith(pngChunk("iCCP", "p\x00\x00nothing")), "can't be unpacked"},
		{"another compression", pngWith(pngChunk("iCCP", "p\x00\x01"+z)), "broken"},
		{"no name", pngWith(pngChunk("iCCP", "p")), "broken"},
		{"an empty chunk", pngWith(pngChunk("iCCP", "")), "broken"},
		{"a WebP's beyond all bounds", webpWith(tooLong), "more than"},
		{"a WebP that ends within it", webpWith(p3)[:200], "can be read"},
		{"a TIFF's beyond all bounds", layout(little, []line{long(little, tagImageWidth, 300), {id: tagICC, typ: 7, val: []byte(tooLong)}}), "more than"},
		{"a length that is a lie", jpegOf(9, 9, iccSeg(1, 1, "\x00\x00\xFF\xFF"+p3[4:])), "65535 bytes"},
		{"tables", jpegOf(9, 9, iccSeg(1, 1, profileFile(t, "tables.icc"))), "a profile of tables is not supported"},
		{"inks", jpegOf(9, 9, iccSeg(1, 1, profileFile(t, "inks.icc"))), "CMYK colours is not supported"},
	} {
		s := read(t, c.b, catalogue.Picture)
		if s.Profile == nil || s.Profile.Space != nil || s.Profile.Fault == nil || !strings.Contains(s.Profile.Fault.Error(), c.fault) {
			t.Errorf("%s: %+v, want a fault with %q", c.name, s.Profile, c.fault)
		}
	}
	// What is declared beside it counts then; a foreign profile is no damage.
	exif := seg(0xE1, "Exif\x00\x00", string(layout(little, []line{below(tagExifIFD, short(little, tagColourSpace, 2))})))
	s := read(t, jpegOf(9, 9, exif, iccSeg(1, 1, profileFile(t, "tables.icc"))), catalogue.JPEG)
	if s.ColourSpace != "Adobe RGB (1998)" || s.SpaceBy != "Exif" || s.Damaged || len(s.Warnings) != 1 {
		t.Errorf("tables beside Exif: %q by %q, %v", s.ColourSpace, s.SpaceBy, s.Warnings)
	}
	s = read(t, jpegOf(9, 9, iccSeg(1, 1, profileFile(t, "tables.icc"))), catalogue.JPEG)
	if s.ColourSpace != "Skerry Tables" || s.SpaceBy != "embedded profile" {
		t.Errorf("tables alone: %q by %q", s.ColourSpace, s.SpaceBy)
	}
}

// Each profile in shared/photos is read or refused in words, and listed.
func TestProfilesOfRealPhotographs(t *testing.T) {
	root := filepath.Join("..", "..", "..", "shared", "photos")
	if _, err := os.Stat(root); err != nil {
		t.Skip("../shared/photos is not here")
	}
	count := map[string]int{}
	usable := 0
	for _, dir := range []string{"exif", "heic", "food", "raw", "corrupt"} {
		files, err := os.ReadDir(filepath.Join(root, dir))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			path := filepath.Join(root, dir, f.Name())
			file, err := os.Open(path)
			if err != nil {
				t.Fatal(err)
			}
			info, err := file.Stat()
			if err != nil {
				t.Fatal(err)
			}
			s, err := Read(file, info.Size(), KindOf(path))
			file.Close()
			if err != nil || s.Profile == nil {
				continue
			}
			p := s.Profile
			if (p.Space == nil) != (p.Fault != nil) {
				t.Errorf("%s: space %v and fault %v", path, p.Space, p.Fault)
			}
			said := "read as " + s.ColourSpace
			if p.Fault != nil {
				said = "refused: " + p.Fault.Error()
			} else {
				usable++
			}
			count[fmt.Sprintf("%q, version %s, %s", p.Description, p.Version, said)]++
		}
	}
	lines := make([]string, 0, len(count))
	for l, n := range count {
		lines = append(lines, fmt.Sprintf("%3d × %s", n, l))
	}
	slices.Sort(lines)
	t.Logf("profiles of shared/photos:\n%s", strings.Join(lines, "\n"))
	if usable < 100 {
		t.Errorf("%d usable profiles, want 100 at least", usable)
	}
}
