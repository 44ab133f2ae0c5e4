package look

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"coverplate/colour"
	"coverplate/colour/icc"
	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// profileFile is one of the profiles that colour/icc's tests build.
func profileFile(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "..", "colour", "icc", "testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func spaceOfFile(t testing.TB, name string) *colour.Space {
	t.Helper()
	p, err := icc.Parse(profileFile(t, name))
	if err != nil {
		t.Fatal(err)
	}
	return p.Space
}

// inJPEG puts a profile behind a JPEG's first two bytes, in two segments.
func inJPEG(b, profile []byte) []byte {
	out := []byte{0xFF, 0xD8}
	for i, part := range [][]byte{profile[:200], profile[200:]} {
		body := slices.Concat([]byte("ICC_PROFILE\x00"), []byte{byte(i + 1), 2}, part)
		out = binary.BigEndian.AppendUint16(append(out, 0xFF, 0xE2), uint16(len(body)+2))
		out = append(out, body...)
	}
	return append(out, b[2:]...)
}

// inPNG puts a profile behind a PNG's header chunk.
func inPNG(b, profile []byte) []byte {
	z := bytes.NewBufferString("iCCPp\x00\x00")
	w := zlib.NewWriter(z)
	w.Write(profile)
	w.Close()
	const header = 8 + 12 + 13
	out := binary.BigEndian.AppendUint32(slices.Clone(b[:header]), uint32(z.Len()-4))
	out = append(out, z.Bytes()...)
	out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(z.Bytes()))
	return append(out, b[header:]...)
}

// seenAs reads what a camera wrote and looks, as ingest does.
func seenAs(t testing.TB, b []byte, kind catalogue.FileKind) Seen {
	t.Helper()
	shot, err := camera.Read(bytes.NewReader(b), int64(len(b)), kind)
	if err != nil {
		t.Fatal(err)
	}
	seen, err := at(b, kind, shot)
	if err != nil {
		t.Fatal(err)
	}
	return seen
}

// paintIn encodes the scene of linear sRGB in any space.
func paintIn(pix [][3]float64, w, h int, s *colour.Space) *image.RGBA64 {
	img := image.NewRGBA64(image.Rect(0, 0, w, h))
	for i, p := range pix {
		e := s.Encode(s.FromXYZ(colour.SRGB.ToXYZ(colour.Linear{R: p[0], G: p[1], B: p[2]})))
		for c, v := range []float64{e.R, e.G, e.B, 1} {
			binary.BigEndian.PutUint16(img.Pix[8*i+2*c:], uint16(math.Round(65535*min(1, max(0, v)))))
		}
	}
	return img
}

// One scene, written with an embedded profile of each space and no word of
// Exif, is one palette.
func TestOneSceneInManyProfilesIsOnePalette(t *testing.T) {
	const w, h = 480, 320
	pix := scene(w, h)
	want := seenAs(t, asJPEG(t, paint(pix, w, h, toSelf, encodeSRGB), 97), catalogue.JPEG)
	if want.Look.Profile != "sRGB, nothing was written" || len(want.Look.Palette) < 4 {
		t.Fatalf("plain: %q, %d swatches", want.Look.Profile, len(want.Look.Palette))
	}
	for _, c := range []struct {
		name, file string
		b          []byte
		says       string
	}{
		{"sRGB", "srgb.icc", inJPEG(asJPEG(t, paint(pix, w, h, toSelf, encodeSRGB), 97), profileFile(t, "srgb.icc")), "sRGB, embedded profile"},
		{"Adobe RGB", "adobe.icc", inJPEG(asJPEG(t, paint(pix, w, h, toAdobe, encodeAdobe), 97), profileFile(t, "adobe.icc")), "Adobe RGB (1998), embedded profile"},
		{"Display P3", "p3.icc", inJPEG(asJPEG(t, paint(pix, w, h, toP3, encodeSRGB), 97), profileFile(t, "p3.icc")), "Display P3, embedded profile"},
		// Not as JPEG: in so wide a space its 8 bits and its chroma are coarser
		// than the 1 ΔE00 that is asked for here.
		{"a wide PNG of 16 bits", "wide.icc", inPNG(asPNG(t, paintIn(pix, w, h, spaceOfFile(t, "wide.icc"))), profileFile(t, "wide.icc")), "Skerry Wide, embedded profile"},
		{"a P3 PNG of 16 bits", "p3.icc", inPNG(asPNG(t, paintIn(pix, w, h, colour.DisplayP3)), profileFile(t, "p3.icc")), "Display P3, embedded profile"},
	} {
		got := seenAs(t, c.b, catalogue.JPEG)
		if got.Look.Profile != c.says {
			t.Errorf("%s: %q, want %q", c.name, got.Look.Profile, c.says)
		}
		if len(got.Look.Palette) != len(want.Look.Palette) {
			t.Fatalf("%s: %d swatches, want %d", c.name, len(got.Look.Palette), len(want.Look.Palette))
		}
		worst := 0.0
		for i, s := range want.Look.Palette {
			d := colour.DeltaE2000(got.Look.Palette[i].Lab, s.Lab)
			if worst = max(worst, d); !(d <= 1) {
				t.Errorf("%s, swatch %d: %v, in sRGB %v: ΔE00 %.2f", c.name, i, got.Look.Palette[i].Lab, s.Lab, d)
			}
		}
		t.Logf("%s: ΔE00 %.2f at most", c.name, worst)
		if _, known := colour.SpaceNamed(strings.TrimSuffix(c.says, ", embedded profile")); known && c.file == "srgb.icc" {
			continue
		}
		// And the test can fail: without the profile it is another scene.
		plain, err := at(c.b, catalogue.JPEG, camera.Shot{})
		if err != nil {
			t.Fatal(err)
		}
		if d := colour.PaletteDistance(plain.Look.Palette, want.Look.Palette); d < 1 {
			t.Errorf("%s read as sRGB lies only %.2f away", c.name, d)
		}
	}
}

// Each channel goes by its own curve: red here by the square, green straight,
// blue by the cube.
func TestEachChannelByItsOwnCurve(t *testing.T) {
	square := func(v float64) float64 { return v * v }
	same := func(v float64) float64 { return v }
	cube := func(v float64) float64 { return v * v * v }
	var primaries [3]colour.XYZ
	for i, l := range []colour.Linear{{R: 1}, {G: 1}, {B: 1}} {
		primaries[i] = colour.SRGB.ToXYZ(l)
	}
	s, err := colour.NewSpace("three", [3]func(float64) float64{square, same, cube}, primaries)
	if err != nil {
		t.Fatal(err)
	}
	grey := color.RGBA{R: 128, G: 128, B: 128, A: 255}
	deepGrey := image.NewRGBA64(image.Rect(0, 0, 8, 8))
	for i := range deepGrey.Pix {
		deepGrey.Pix[i] = 0x80
		if i%8 >= 6 {
			deepGrey.Pix[i] = 0xFF
		}
	}
	ycc := image.NewYCbCr(image.Rect(0, 0, 8, 8), image.YCbCrSubsampleRatio420)
	for _, plane := range [][]uint8{ycc.Y, ycc.Cb, ycc.Cr} {
		for i := range plane {
			plane[i] = 128
		}
	}
	v := 128.0 / 255
	for name, img := range map[string]image.Image{"RGB": flat(8, 8, grey), "YCbCr": ycc, "16 bits": deepGrey} {
		l := gather(img, img.Bounds(), curveOf(s), 8, false)
		for c, want := range []float64{v * v, v, v * v * v} {
			if got := float64(l.pix[0][c]); !(math.Abs(got-want) < 2e-6) {
				t.Errorf("%s, channel %d: light %.6f, want %.6f", name, c, got, want)
			}
		}
	}
}

// In a space whose curve is straight, the darkest codes of 16 bits are all
// below the first of 8.
func TestSixteenBitsAreReadWhole(t *testing.T) {
	straight := func(v float64) float64 { return v }
	var primaries [3]colour.XYZ
	for i, l := range []colour.Linear{{R: 1}, {G: 1}, {B: 1}} {
		primaries[i] = colour.SRGB.ToXYZ(l)
	}
	s, err := colour.NewSpace("straight", [3]func(float64) float64{straight, straight, straight}, primaries)
	if err != nil {
		t.Fatal(err)
	}
	const code = 200 // of 65535; its high byte is 0
	grey := image.NewGray16(image.Rect(0, 0, 6, 4))
	rgb := image.NewRGBA64(grey.Rect)
	over := image.NewNRGBA64(grey.Rect)
	glass := image.NewNRGBA64(grey.Rect)
	for y := range 4 {
		for x := range 6 {
			grey.SetGray16(x, y, color.Gray16{Y: code})
			rgb.SetRGBA64(x, y, color.RGBA64{R: code, G: code, B: code, A: 65535})
			over.SetNRGBA64(x, y, color.NRGBA64{R: code, G: code, B: code, A: 65535})
			glass.SetNRGBA64(x, y, color.NRGBA64{R: code, G: code, B: code, A: 0x8000})
		}
	}
	for _, c := range []struct {
		name string
		img  image.Image
		want float64
	}{
		{"grey", grey, code / 65535.0},
		{"RGB", rgb, code / 65535.0},
		{"with transparency that is none", over, code / 65535.0},
		{"half of it white paper", glass, (code*0x8000/65535.0 + 65535 - 0x8000) / 65535},
	} {
		for _, rect := range []image.Rectangle{c.img.Bounds(), image.Rect(2, 1, 5, 3)} {
			l := gather(c.img, rect, curveOf(s), 8, false)
			for i, p := range l.pix {
				for ch, v := range p {
					if !(math.Abs(float64(v)-c.want) < 2.0/65535) {
						t.Fatalf("%s, pixel %d of %v, channel %d: light %.6f, want %.6f", c.name, i, rect, ch, v, c.want)
					}
				}
			}
		}
	}
}

// exifSpace is the Exif segment of a JPEG that says this of its colour space:
// ColorSpace where it is not negative, and the InteroperabilityIndex.
func exifSpace(value int, index string) []byte {
	be := binary.BigEndian
	b := []byte("Exif\x00\x00MM\x00*\x00\x00\x00\x08")
	entry := func(tag, kind uint16, n uint32, v []byte) {
		b = be.AppendUint16(be.AppendUint16(b, tag), kind)
		b = append(be.AppendUint32(b, n), v...)
	}
	b = be.AppendUint16(b, 1)
	entry(0x8769, 4, 1, []byte{0, 0, 0, 26})
	b = append(b, 0, 0, 0, 0)
	n := uint16(0)
	if value >= 0 {
		n++
	}
	if index != "" {
		n++
	}
	b = be.AppendUint16(b, n)
	if value >= 0 {
		entry(0xA001, 3, 1, []byte{byte(value >> 8), byte(value), 0, 0})
	}
	if index != "" {
		entry(0xA005, 4, 1, be.AppendUint32(nil, uint32(26+2+12*int(n)+4)))
	}
	b = append(b, 0, 0, 0, 0)
	if index != "" {
		b = be.AppendUint16(b, 1)
		entry(0x0001, 2, 4, []byte(index+"\x00"))
		b = append(b, 0, 0, 0, 0)
	}
	return append(be.AppendUint16([]byte{0xFF, 0xE1}, uint16(len(b)+2)), b...)
}

func after(b, segment []byte) []byte {
	return slices.Concat(b[:2], segment, b[2:])
}

// What is taken for what, in words and in colour. ColorSpace 2 and R03 are
// Adobe RGB as shared/reference/07_exif_tags.csv has it.
func TestWhatTheCodesMean(t *testing.T) {
	paper := color.RGBA{R: 90, G: 160, B: 70, A: 255}
	plain := asJPEG(t, flat(48, 32, paper), 95)
	greyPicture := image.NewGray(image.Rect(0, 0, 48, 32))
	for i := range greyPicture.Pix {
		greyPicture.Pix[i] = 100
	}
	grey := asJPEG(t, greyPicture, 95)
	in := func(s *colour.Space, r, g, b uint8) colour.Lab { return s.Lab8(r, g, b) }
	green := func(s *colour.Space) colour.Lab { return in(s, 90, 160, 70) }
	lie := profileFile(t, "p3.icc")
	binary.BigEndian.PutUint32(lie, 1<<20)
	both := func() []byte { // a matrix beside tables
		b := bytes.Replace(profileFile(t, "p3.icc"), []byte("chad"), []byte("A2B0"), 1)
		return b
	}()
	for _, c := range []struct {
		name string
		b    []byte
		says string
		want colour.Lab
	}{
		{"nothing", plain, "sRGB, nothing was written", green(colour.SRGB)},
		{"sRGB", after(plain, exifSpace(1, "R98")), "sRGB, by Exif", green(colour.SRGB)},
		{"value 2", after(plain, exifSpace(2, "")), "Adobe RGB (1998), by Exif", green(colour.AdobeRGB)},
		{"R03", after(plain, exifSpace(65535, "R03")), "Adobe RGB (1998), by Exif", green(colour.AdobeRGB)},
		{"uncalibrated", after(plain, exifSpace(65535, "")), "sRGB, Exif says uncalibrated", green(colour.SRGB)},
		{"uncalibrated with a profile", after(inJPEG(plain, profileFile(t, "p3.icc")), exifSpace(65535, "")), "Display P3, embedded profile", green(colour.DisplayP3)},
		{"a profile against Exif", after(inJPEG(plain, profileFile(t, "adobe.icc")), exifSpace(1, "")), "Adobe RGB (1998), embedded profile", green(colour.AdobeRGB)},
		{"a profile of no name of ours", inJPEG(plain, profileFile(t, "wide.icc")), "Skerry Wide, embedded profile", green(spaceOfFile(t, "wide.icc"))},
		{"tables beside R03", after(inJPEG(plain, profileFile(t, "tables.icc")), exifSpace(65535, "R03")), "Adobe RGB (1998), by Exif; the embedded profile was not used: it is a profile of tables", green(colour.AdobeRGB)},
		{"tables alone", inJPEG(plain, profileFile(t, "tables.icc")), "sRGB, nothing was written; the embedded profile was not used: it is a profile of tables", green(colour.SRGB)},
		{"tables beside a matrix", inJPEG(plain, both), "Display P3, embedded profile, its matrix and not its tables", green(colour.DisplayP3)},
		{"a false length, called Display P3", inJPEG(plain, lie), fmt.Sprintf("Display P3, as the embedded profile is called; the embedded profile was not used: of its 2 segments there are 1 to 2, %d of 1048576 bytes", len(lie)), green(colour.DisplayP3)},
		{"a profile of inks in RGB", inJPEG(plain, profileFile(t, "inks.icc")), "sRGB, nothing was written; the embedded profile was not used: it is a profile of CMYK colours", green(colour.SRGB)},
		{"a grey profile in colour", inJPEG(plain, profileFile(t, "grey.icc")), "sRGB, nothing was written; the embedded profile was not used: it is of greys, and the picture is in colour", green(colour.SRGB)},
		{"grey", grey, "sRGB, nothing was written", in(colour.SRGB, 100, 100, 100)},
		{"grey with a grey profile", inJPEG(grey, profileFile(t, "grey.icc")), "Skerry Grey, embedded profile", greyOf(100, 2.2)},
		{"grey with an RGB profile", inJPEG(grey, profileFile(t, "adobe.icc")), "Adobe RGB (1998), embedded profile", in(colour.AdobeRGB, 100, 100, 100)},
		{"inks", cmykFromGrey(asJPEG(t, blank(8, 8), 100)), "sRGB, made of inks by the plain rule", colour.Lab{L: 100}},
		{"inks with their profile", inJPEG(cmykFromGrey(asJPEG(t, blank(8, 8), 100)), profileFile(t, "inks.icc")), "sRGB, made of inks by the plain rule; the embedded profile was not used: it is a profile of CMYK colours", colour.Lab{L: 100}},
		{"inks with a profile of light", inJPEG(cmykFromGrey(asJPEG(t, blank(8, 8), 100)), profileFile(t, "p3.icc")), "sRGB, made of inks by the plain rule; the embedded profile was not used: it is of no inks, and the picture is", colour.Lab{L: 100}},
		{"a grey PNG of 16 bits", inPNG(asPNG(t, image.NewGray16(image.Rect(0, 0, 9, 9))), profileFile(t, "grey.icc")), "Skerry Grey, embedded profile", colour.Lab{}},
		{"a PNG's own word", pngSRGB(asPNG(t, flat(9, 9, paper))), "sRGB, by container", green(colour.SRGB)},
	} {
		seen := seenAs(t, c.b, catalogue.JPEG)
		if seen.Look.Profile != c.says {
			t.Errorf("%s: %q,\n\twant %q", c.name, seen.Look.Profile, c.says)
		}
		if len(seen.Look.Palette) != 1 {
			t.Errorf("%s: %d swatches of one colour", c.name, len(seen.Look.Palette))
			continue
		}
		// A JPEG's own rounding is a code or two.
		if d := colour.DeltaE2000(seen.Look.Palette[0].Lab, c.want); !(d <= 0.8) {
			t.Errorf("%s: %v, want %v: ΔE00 %.2f", c.name, seen.Look.Palette[0].Lab, c.want, d)
		}
	}
}

// greyOf is the grey whose light is a power of its 8-bit code.
func greyOf(code uint8, gamma float64) colour.Lab {
	y := math.Pow(float64(code)/255, gamma)
	return colour.XYZ{X: 0.9642 * y, Y: y, Z: 0.8249 * y}.Lab()
}

func blank(w, h int) *image.Gray {
	g := image.NewGray(image.Rect(0, 0, w, h))
	for i := range g.Pix {
		g.Pix[i] = 255
	}
	return g
}

// pngSRGB puts the chunk sRGB behind a PNG's header.
func pngSRGB(b []byte) []byte {
	const header = 8 + 12 + 13
	chunk := []byte("sRGB\x00")
	out := binary.BigEndian.AppendUint32(slices.Clone(b[:header]), 1)
	out = binary.BigEndian.AppendUint32(append(out, chunk...), crc32.ChecksumIEEE(chunk))
	return append(out, b[header:]...)
}

// A preview is read by its own profile, else by its own Exif, else as the
// photo that it is of.
func TestThePreviewsOwnSpaceCounts(t *testing.T) {
	c := color.RGBA{R: 90, G: 160, B: 70, A: 255}
	photo := asJPEG(t, flat(3000, 2000, color.RGBA{R: 9, G: 9, B: 9, A: 255}), 90)
	preview := asJPEG(t, flat(1500, 1000, c), 95)
	inAdobe := inJPEG(photo, profileFile(t, "adobe.icc"))
	for _, p := range []struct {
		name           string
		photo, preview []byte
		says           string
		want           *colour.Space
	}{
		{"neither says", photo, preview, "sRGB, nothing was written", colour.SRGB},
		{"the photo's profile", inAdobe, preview, "Adobe RGB (1998), embedded profile", colour.AdobeRGB},
		{"the photo's Exif", after(photo, exifSpace(65535, "R03")), preview, "Adobe RGB (1998), by Exif", colour.AdobeRGB},
		{"the preview's profile", inAdobe, inJPEG(preview, profileFile(t, "p3.icc")), "Display P3, embedded profile", colour.DisplayP3},
		{"the preview's Exif", inAdobe, after(preview, exifSpace(1, "")), "sRGB, by Exif", colour.SRGB},
		{"the preview's Exif knows nothing", inAdobe, after(preview, exifSpace(65535, "")), "Adobe RGB (1998), embedded profile", colour.AdobeRGB},
		{"the preview's profile is of no use", inAdobe, inJPEG(preview, profileFile(t, "tables.icc")), "Adobe RGB (1998), embedded profile", colour.AdobeRGB},
	} {
		seen := seenAs(t, withMPF(p.photo, p.preview), catalogue.JPEG)
		if seen.Look.Preview != "mpf" || seen.Look.Profile != p.says {
			t.Errorf("%s: %q of %q, want %q", p.name, seen.Look.Profile, seen.Look.Preview, p.says)
		}
		if d := colour.DeltaE2000(seen.Look.Palette[0].Lab, p.want.Lab8(c.R, c.G, c.B)); !(d <= 0.8) {
			t.Errorf("%s: %v: ΔE00 %.2f", p.name, seen.Look.Palette[0].Lab, d)
		}
	}
}

// How much a profile of its own curves costs beside sRGB, in one run.
func BenchmarkGather(b *testing.B) {
	const w, h = 3000, 2000
	full := paint(scene(w, h), w, h, toSelf, encodeSRGB)
	ycc := image.NewYCbCr(full.Rect, image.YCbCrSubsampleRatio420)
	for y := range h {
		for x := range w {
			q := full.Pix[full.PixOffset(x, y):]
			yy, cb, cr := color.RGBToYCbCr(q[0], q[1], q[2])
			ycc.Y[ycc.YOffset(x, y)], ycc.Cb[ycc.COffset(x, y)], ycc.Cr[ycc.COffset(x, y)] = yy, cb, cr
		}
	}
	var primaries [3]colour.XYZ
	for i, l := range []colour.Linear{{R: 1}, {G: 1}, {B: 1}} {
		primaries[i] = colour.DisplayP3.ToXYZ(l)
	}
	power := func(g float64) func(float64) float64 {
		return func(v float64) float64 { return math.Pow(v, g) }
	}
	three, err := colour.NewSpace("three curves", [3]func(float64) float64{power(2.1), power(2.2), power(2.3)}, primaries)
	if err != nil {
		b.Fatal(err)
	}
	for _, s := range []*colour.Space{colour.SRGB, spaceOfFile(b, "p3.icc"), three} {
		name := s.Name()
		b.Run("YCbCr/"+name, func(b *testing.B) {
			for b.Loop() {
				gather(ycc, ycc.Rect, curveOf(s), pictureSide, false)
			}
		})
	}
}
