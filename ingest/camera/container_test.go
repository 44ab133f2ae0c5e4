package camera

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"testing"

	"coverplate/ingest/catalogue"

	"github.com/google/go-cmp/cmp"
)

// bx is a box of ISO/IEC 14496-12.
func bx(kind string, content ...string) string {
	c := strings.Join(content, "")
	return string(longs(big, uint32(8+len(c)))) + kind + c
}

func be(v ...uint32) string { return string(longs(big, v...)) }

// heicOf lays out a HEIC of one picture of 4032 × 3024 with these properties
// beside its size, and the items Exif and XMP.
func heicOf(exif, packet string, properties ...string) []byte {
	ftyp := bx("ftyp", "heic\x00\x00\x00\x00mif1heic")
	build := func(at uint32) string {
		infe := func(id byte, rest string) string {
			return bx("infe", "\x02\x00\x00\x00\x00", string([]byte{id}), "\x00\x00", rest)
		}
		n := byte(1 + len(properties))
		assoc := []byte{0, 0, 0, 0, 0, 0, 0, 1, 0, 1, n}
		for i := byte(1); i <= n; i++ {
			assoc = append(assoc, i|0x80)
		}
		place := func(id byte, off, size int) string {
			return "\x00" + string([]byte{id}) + "\x00\x00\x00\x01" + be(uint32(off), uint32(size))
		}
		exifAt := int(at) + 8
		return bx("meta", "\x00\x00\x00\x00",
			bx("hdlr", "\x00\x00\x00\x00\x00\x00\x00\x00pict"),
			bx("pitm", "\x00\x00\x00\x00\x00\x01"),
			bx("iinf", "\x00\x00\x00\x00\x00\x03", infe(1, "hvc1\x00"), infe(2, "Exif\x00"), infe(3, "mime\x00application/rdf+xml\x00")),
			bx("iprp", bx("ipco", append([]string{bx("ispe", be(0, 4032, 3024))}, properties...)...), bx("ipma", string(assoc))),
			bx("iloc", "\x00\x00\x00\x00\x44\x00\x00\x02", place(2, exifAt, len(exif)), place(3, exifAt+len(exif), len(packet))),
		)
	}
	at := uint32(len(ftyp) + len(build(0)))
	return []byte(ftyp + build(at) + bx("mdat", exif, packet))
}

func TestHEIC(t *testing.T) {
	thumb := string(jpegOf(160, 120))
	for name, prefix := range map[string]string{"with its mark": be(6) + "Exif\x00\x00", "bare": be(0), "mark not counted": be(0) + "Exif\x00\x00"} {
		b := heicOf(prefix+string(fullBlock(big)), inRDF(`xmp:Rating="3"`, ""), bx("colr", "prof", string(profileOf("mluc", "Display P3"))))
		s := read(t, b, catalogue.HEIC)
		if s.Width != 4032 || s.Height != 3024 || s.Camera.Model != "Islet Two" || s.Rating == nil || *s.Rating != 3 || s.ColourSpace != "Display P3" {
			t.Errorf("%s: %+v", name, s)
		}
	}
	block := layout(big, []line{ascii(tagModel, "Islet Two")}, []line{long(big, tagJPEGOffset, 0), long(big, tagJPEGLength, uint32(len(thumb)))})
	big.PutUint32(block[bytes.Index(block, []byte{2, 1, 0, 4})+8:], uint32(len(block)))
	b := heicOf(be(0)+string(block)+thumb, "")
	p, err := Previews(bytes.NewReader(b), int64(len(b)), catalogue.HEIC)
	if err != nil || len(p) != 1 || p[0].From != "exif" || p[0].Width != 160 || string(b[p[0].Offset:][:p[0].Size]) != thumb {
		t.Errorf("thumbnail: %+v, %v", p, err)
	}
}

// 1 is BT.709, which is sRGB's, 12 is P3's and 9 is BT.2020 (ITU-T H.273, table
// 2, from memory); a profile counts before them.
func TestColoursOfAHEICByCodePoints(t *testing.T) {
	nclx := func(n byte) string { return bx("colr", "nclx\x00"+string([]byte{n})+"\x00\x0D\x00\x06\x80") }
	bare := layout(big, []line{ascii(tagModel, "Islet Two")})
	for want, p := range map[string][]string{
		"sRGB": {nclx(1)}, "Display P3": {nclx(12)}, "": {nclx(9)},
		"Adobe RGB (1998)": {nclx(12), bx("colr", "prof", string(profileOf("desc", "Adobe RGB (1998)")))},
	} {
		if s := read(t, heicOf(be(0)+string(bare), inRDF("", ""), p...), catalogue.HEIC); s.ColourSpace != want {
			t.Errorf("colour space %q, want %q", s.ColourSpace, want)
		}
	}
}

// irot turns anti-clockwise in quarters; imir 0 exchanges top and bottom, 1
// left and right (ISO/IEC 23008-12; imir from memory). The Exif orientation of
// a turn, and of two in a row, is by shared/reference/07_orientation.csv.
func TestTheContainersTurnCounts(t *testing.T) {
	irot := func(a int) string { return bx("irot", string([]byte{byte(a)})) }
	imir := func(a int) string { return bx("imir", string([]byte{byte(a)})) }
	for _, c := range []struct {
		want       int
		properties []string
	}{
		{6, nil}, // Exif's own
		{1, []string{irot(0)}}, {8, []string{irot(1)}}, {3, []string{irot(2)}}, {6, []string{irot(3)}},
		{4, []string{imir(0)}}, {2, []string{imir(1)}},
		{3, []string{imir(0), imir(1)}},
		{7, []string{irot(3), imir(0)}}, // turned clockwise, then top and bottom exchanged
		{5, []string{irot(3), imir(1)}},
	} {
		s := read(t, heicOf(be(0)+string(fullBlock(big)), inRDF("", ""), c.properties...), catalogue.HEIC)
		if moved := byMap(c.properties, 6); s.Orientation != c.want || moved != c.want {
			t.Errorf("%q: orientation %d, want %d; by moving pixels %d", c.properties, s.Orientation, c.want, moved)
		}
		if len(c.properties) > 0 && s.Orientation != 6 && len(s.Warnings) != 1 {
			t.Errorf("%q: warnings %q, want one of the contradiction", c.properties, s.Warnings)
		}
	}
}

// byMap finds the orientation of the properties by moving the four corners of
// a 3 × 2 picture, with the maps of 07_orientation.csv.
func byMap(properties []string, none int) int {
	if len(properties) == 0 {
		return none
	}
	type xy struct{ x, y int }
	const w0, h0 = 3, 2
	maps := [9]func(x, y, w, h int) xy{
		1: func(x, y, w, h int) xy { return xy{x, y} },
		2: func(x, y, w, h int) xy { return xy{w - 1 - x, y} },
		3: func(x, y, w, h int) xy { return xy{w - 1 - x, h - 1 - y} },
		4: func(x, y, w, h int) xy { return xy{x, h - 1 - y} },
		5: func(x, y, w, h int) xy { return xy{y, x} },
		6: func(x, y, w, h int) xy { return xy{h - 1 - y, x} },
		7: func(x, y, w, h int) xy { return xy{h - 1 - y, w - 1 - x} },
		8: func(x, y, w, h int) xy { return xy{y, w - 1 - x} },
	}
	for o := 1; o <= 8; o++ {
		same := true
		for _, c := range []xy{{0, 0}, {2, 0}, {0, 1}, {2, 1}} {
			x, y, w, h := c.x, c.y, w0, h0
			for _, p := range properties {
				switch a := int(p[8]); {
				case p[4:8] == "irot":
					for range a { // a quarter anti-clockwise
						x, y, w, h = y, w-1-x, h, w
					}
				case a == 0:
					y = h - 1 - y
				default:
					x = w - 1 - x
				}
			}
			same = same && maps[o](c.x, c.y, w0, h0) == xy{x, y}
		}
		if same {
			return o
		}
	}
	return 0
}

func TestCR3(t *testing.T) {
	o := little
	main := string(layout(o, []line{short(o, tagImageWidth, 6000), short(o, tagImageLength, 4000), ascii(tagModel, "Islet Two"), short(o, tagOrientation, 8)}))
	exif := string(layout(o, []line{ascii(tagOriginal, "2026:03:04 17:41:09"), rational(o, tagFNumber, 56, 10)}))
	small, middle, large := string(jpegOf(160, 120)), string(jpegOf(1620, 1080)), string(jpegOf(6000, 4000))
	build := func(at uint32) string {
		return bx("ftyp", "crx \x00\x00\x00\x01crx isom") +
			bx("moov", bx("uuid", uuidCanon, bx("CMT1", main), bx("CMT2", exif), bx("THMB", be(0, 160<<16|120, 0, 0), small)),
				bx("trak", bx("mdia", bx("minf", bx("stbl", bx("stsz", be(0, uint32(len(large)), 1)), bx("co64", be(0, 1, 0, at))))))) +
			bx("uuid", uuidXMP, inRDF(`xmp:Rating="5"`, "")) +
			bx("uuid", uuidPreview, be(0, 1), bx("PRVW", be(0, 0, 0, 0), middle))
	}
	b := []byte(build(uint32(len(build(0))+8)) + bx("mdat", large))
	s := read(t, b, catalogue.Raw)
	if s.Width != 6000 || s.Height != 4000 || s.Orientation != 8 || s.Exposure.FNumber != 5.6 || moment(s.Taken) != "2026:03:04 17:41:09" || *s.Rating != 5 {
		t.Errorf("%+v", s)
	}
	sizes(t, b, catalogue.Raw, "raw 6000×4000, raw 1620×1080, raw 160×120")
}

// sizes compares what Previews finds, and that each is where it says.
func sizes(t *testing.T, b []byte, kind catalogue.FileKind, want string) {
	t.Helper()
	p, err := Previews(bytes.NewReader(b), int64(len(b)), kind)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, x := range p {
		got = append(got, fmt.Sprintf("%s %d×%d", x.From, x.Width, x.Height))
		if c := b[x.Offset:][:x.Size]; !bytes.HasPrefix(c, []byte("\xFF\xD8\xFF")) || !bytes.HasSuffix(c, []byte("\xFF\xD9")) {
			t.Errorf("%s: not the bytes of a JPEG", got[len(got)-1])
		}
	}
	if g := strings.Join(got, ", "); g != want {
		t.Errorf("previews %q, want %q", g, want)
	}
}

func TestRAF(t *testing.T) {
	jpeg := string(jpegOf(1920, 1280, seg(0xE1, "Exif\x00\x00", string(fullBlock(little)))))
	list := be(2) + "\x01\x00\x00\x04\x10\x10\x18\x20" + "\x01\x11\x00\x04\x10\x00\x18\x00"
	b := []byte("FUJIFILMCCD-RAW " + strings.Repeat("\x00", 68) + be(100, uint32(len(jpeg)), uint32(100+len(jpeg)), uint32(len(list))) + jpeg + list)
	if s := read(t, b, catalogue.Raw); s.Width != 6144 || s.Height != 4096 || s.Camera.Model != "Islet Two" || s.Orientation != 6 {
		t.Errorf("%+v", s)
	}
	sizes(t, b, catalogue.Raw, "raw 1920×1280")
}

// rawOf lays out a TIFF-based raw like a NEF: IFD0 of a small picture, below it
// a large JPEG and the sensor's picture, IFD1 with a thumbnail.
func rawOf(magic string) []byte {
	o := little
	small, large := jpegOf(160, 120), jpegOf(6016, 4016)
	lossless := bytes.Replace(jpegOf(6032, 4024), []byte{0xFF, 0xC0}, []byte{0xFF, 0xC3}, 1)
	build := func(atSmall, atLarge, atRaw int) []byte {
		return layout(o, []line{
			long(o, tagSubfileType, 1), short(o, tagImageWidth, 160), short(o, tagImageLength, 120), ascii(tagModel, "Islet Two"), short(o, tagOrientation, 8),
			below(tagSubIFDs, long(o, tagSubfileType, 1), long(o, tagJPEGOffset, uint32(atLarge)), long(o, tagJPEGLength, uint32(len(large))),
				below(tagSubIFDs, long(o, tagSubfileType, 0), short(o, tagImageWidth, 6032), short(o, tagImageLength, 4024),
					long(o, tagStripOffsets, uint32(atRaw)), long(o, tagStripCounts, uint32(len(lossless))))),
			below(tagExifIFD, rational(o, tagFNumber, 8, 1)),
		}, []line{long(o, tagJPEGOffset, uint32(atSmall)), long(o, tagJPEGLength, uint32(len(small)))})
	}
	n := len(build(0, 0, 0))
	b := build(n, n+len(small), n+len(small)+len(large))
	b = append(append(append(b, small...), large...), lossless...)
	copy(b, magic)
	return b
}

func TestRawsBuiltLikeATIFF(t *testing.T) {
	for _, magic := range []string{"II*\x00", "IIRO", "IIRS", "IIU\x00"} {
		b := rawOf(magic)
		s := read(t, b, catalogue.Raw)
		if s.Width != 6032 || s.Height != 4024 || s.Orientation != 8 || s.Exposure.FNumber != 8 || s.Warnings != nil {
			t.Errorf("%q: %+v", magic, s)
		}
		sizes(t, b, catalogue.Raw, "raw 6016×4016, raw 160×120")
	}
}

func TestPanasonicsBordersAndWholeJPEG(t *testing.T) {
	o := little
	whole := jpegOf(1920, 1440)
	build := func(at int) []byte {
		b := layout(o, []line{short(o, tagSensorTop, 4), short(o, tagSensorLeft, 8), short(o, tagSensorBottom, 3004), short(o, tagSensorRight, 4008),
			{id: tagJpgFromRaw, typ: 7, val: bytes.Repeat([]byte{1}, len(whole))}})
		copy(b, "IIU\x00")
		return b
	}
	b := build(0)
	copy(b[bytes.Index(b, bytes.Repeat([]byte{1}, len(whole))):], whole)
	if s := read(t, b, catalogue.Raw); s.Width != 4000 || s.Height != 3000 {
		t.Errorf("%d × %d, want 4000 × 3000", s.Width, s.Height)
	}
	sizes(t, b, catalogue.Raw, "raw 1920×1440")
}

// Classes as in shared/reference/07_xmp_mpf_notes.md: only large thumbnails are
// the same picture again.
func TestMultiPictureJPEG(t *testing.T) {
	for attr, want := range map[uint32]string{
		0x00010001: "mpf 640×480, exif 160×120", 0x00010002: "mpf 640×480, exif 160×120",
		0x00020001: "exif 160×120", 0x00020002: "exif 160×120", 0x00020003: "exif 160×120", 0x00000000: "exif 160×120", 0x01010001: "exif 160×120",
	} {
		thumb, second := jpegOf(160, 120), jpegOf(640, 480)
		block := layout(big, []line{ascii(tagModel, "Islet Two")}, []line{long(big, tagJPEGOffset, 0), long(big, tagJPEGLength, uint32(len(thumb)))})
		big.PutUint32(block[bytes.Index(block, []byte{2, 1, 0, 4})+8:], uint32(len(block)))
		app1 := seg(0xE1, "Exif\x00\x00", string(block), string(thumb))
		index := func(off int) []byte {
			e := longs(big, 0x20030000, 0, 0, 0, attr, uint32(len(second)), uint32(off), 0)
			return seg(0xE2, mpfMark, string(layout(big, []line{long(big, 0xB001, 2), {id: 0xB002, typ: 7, val: e}})))
		}
		first := jpegOf(4000, 3000, app1, index(0))
		mark := 2 + len(app1) + 8
		b := append(jpegOf(4000, 3000, app1, index(len(first)-mark)), second...)
		sizes(t, b, catalogue.JPEG, want)
	}
}

func TestAPreviewThatIsNotWholeIsNone(t *testing.T) {
	b := rawOf("II*\x00")
	full, _ := Previews(bytes.NewReader(b), int64(len(b)), catalogue.Raw)
	end := full[0].Offset + full[0].Size
	for cut, want := range map[int64]int{end: 2, end - 1: 1} {
		p, err := Previews(bytes.NewReader(b[:cut]), cut, catalogue.Raw)
		if err != nil || len(p) != want {
			t.Errorf("cut at %d: %d previews, %v; want %d", cut, len(p), err, want)
		}
	}
}

func TestPNGAndWebP(t *testing.T) {
	p3 := profileFile(t, "p3.icc")
	png := string(pngWith(pngChunk("iCCP", "p3\x00\x00"+packed(p3)), pngChunk("eXIf", string(fullBlock(big))),
		pngChunk("iTXt", "XML:com.adobe.xmp\x00\x00\x00\x00\x00"+inRDF(`xmp:Rating="1"`, ""))))
	little32 := func(v int) string { return string(longs(little, uint32(v))) }
	rchunk := func(kind, c string) string { return kind + little32(len(c)) + c + strings.Repeat("\x00", len(c)%2) }
	body := "WEBP" + rchunk("VP8X", "\x2C\x00\x00\x00\x2B\x01\x00\xC7\x00\x00") + rchunk("ICCP", p3) + rchunk("VP8 ", "xxx") +
		rchunk("EXIF", string(fullBlock(big))) + rchunk("XMP ", inRDF(`xmp:Rating="1"`, ""))
	for name, b := range map[string]string{"PNG": png, "WebP": "RIFF" + little32(len(body)) + body} {
		s := read(t, []byte(b), catalogue.Picture)
		if s.Width != 300 || s.Height != 200 || s.Camera.Model != "Islet Two" || s.Rating == nil || *s.Rating != 1 || s.ColourSpace != "Display P3" || len(s.Warnings) != 1 { // that Exif says sRGB
			t.Errorf("%s: %+v", name, s)
		}
	}
	for want, b := range map[int]string{640: "VP8 " + little32(10) + "\x00\x00\x00\x9D\x01\x2A\x80\x02\xE0\x01", 64: "VP8L" + little32(6) + "\x2F\x3F\x40\x00\x00\x00"} {
		if s := read(t, []byte("RIFF\x00\x00\x00\x00WEBP"+b), catalogue.Picture); s.Width != want {
			t.Errorf("plain WebP: width %d, want %d", s.Width, want)
		}
	}
}

// What stands before the pixels may be longer than the first read: 527 KB was
// seen. Only what is needed is read, and the padding is stepped over.
func TestTheFirstReadGrows(t *testing.T) {
	var parts [][]byte
	for range 9 {
		parts = append(parts, seg(0xE2, strings.Repeat("x", 65_000)))
	}
	parts = append(parts, seg(0xE1, "Exif\x00\x00", string(fullBlock(little))))
	b := jpegOf(4000, 3000, parts...)
	r := &counted{ReaderAt: bytes.NewReader(b)}
	s, err := Read(r, int64(len(b)), catalogue.JPEG)
	if err != nil || s.Width != 4000 || s.Camera.Model != "Islet Two" {
		t.Fatalf("%+v, %v", s, err)
	}
	if r.n > 160<<10 {
		t.Errorf("read %d KB of %d KB", r.n>>10, len(b)>>10)
	}
}

type counted struct {
	io.ReaderAt
	n int
}

func (c *counted) ReadAt(p []byte, off int64) (int, error) {
	n, err := c.ReaderAt.ReadAt(p, off)
	c.n += n
	return n, err
}

func TestKindOf(t *testing.T) {
	for name, want := range map[string]catalogue.FileKind{
		"DSC_0001.JPG": catalogue.JPEG, "a.jpeg": catalogue.JPEG, "IMG_1.HEIC": catalogue.HEIC, "X.HIF": catalogue.HEIC, "a.CR3": catalogue.Raw, "a.Nef": catalogue.Raw,
		"a.raf": catalogue.Raw, "a.tif": catalogue.Picture, "a.png": catalogue.Picture, "a.webp": catalogue.Picture, "a.XMP": catalogue.Sidecar, "a.CR3.xmp": catalogue.Sidecar,
		"a.wav": catalogue.Memo, "a.THM": catalogue.Thumb, "a.mov": catalogue.Other, "a": catalogue.Other, "": catalogue.Other, ".jpg": catalogue.JPEG,
	} {
		if got := KindOf(name); got != want {
			t.Errorf("KindOf(%q) = %q, want %q", name, got, want)
		}
	}
}

// Whatever the bytes, a call ends, keeps its promises and reads no more than
// its bounds.
func FuzzRead(f *testing.F) {
	f.Add(exifJPEG(fullBlock(little)))
	f.Add(exifJPEG(fullBlock(big)))
	f.Add(phone(big, [3]int32{-38, 2, -94}, 100))
	f.Add(rawOf("II*\x00"))
	f.Add(rawOf("IIU\x00"))
	f.Add(heicOf(be(0)+string(fullBlock(big)), inRDF(`xmp:Rating="3"`, ""), bx("irot", "\x01"), bx("imir", "\x00")))
	f.Add([]byte("FUJIFILMCCD-RAW " + strings.Repeat("\x00", 68) + be(100, 4, 100, 4) + "\xFF\xD8\xFF\xD9"))
	f.Add([]byte("RIFF\x00\x00\x00\x00WEBPVP8L\x06\x00\x00\x00\x2F\x3F\x40\x00\x00\x00"))
	f.Add([]byte("\x89PNG\r\n\x1A\n" + be(13) + "IHDR" + be(300, 200) + "\x08\x02\x00\x00\x00" + be(0)))
	f.Add([]byte(bx("ftyp", "crx \x00\x00\x00\x01crx ") + bx("moov", bx("uuid", uuidCanon, bx("CMT1", string(layout(little, []line{short(little, tagImageWidth, 9)})))))))
	f.Add(foveonOf(exifJPEG(fullBlock(little)), "TIME", "1772789469", "FLENGTH", "30"))
	f.Add(ciffOf(jpegOf(24, 16)))
	p3 := profileFile(f, "p3.icc")
	f.Add(jpegOf(24, 16, iccSeg(2, 2, p3[100:]), iccSeg(1, 2, p3[:100])))
	f.Add(pngWith(pngChunk("iCCP", "p\x00\x00"+packed(p3))))
	f.Add(webpWith(p3))
	f.Fuzz(func(t *testing.T, b []byte) {
		r := &counted{ReaderAt: bytes.NewReader(b)}
		s, err := Read(r, int64(len(b)), catalogue.JPEG)
		if r.n > 2*maxRead+headSize {
			t.Errorf("read %d bytes", r.n)
		}
		if err != nil {
			if !refused(err) {
				t.Errorf("%T: %v", err, err)
			}
			return
		}
		plain(t, "fuzzed", s)
		again, _ := Read(bytes.NewReader(b), int64(len(b)), catalogue.JPEG)
		if d := cmp.Diff(s, again, sameSpace); d != "" {
			t.Error(d)
		}
		p, err := Previews(bytes.NewReader(b), int64(len(b)), catalogue.JPEG)
		if err != nil {
			t.Error(err)
		}
		for _, x := range p {
			if x.Offset <= 0 || x.Size <= 0 || x.Offset+x.Size > int64(len(b)) || x.Width < 1 || x.Height < 1 {
				t.Errorf("preview %+v of %d bytes", x, len(b))
			}
		}
	})
}
