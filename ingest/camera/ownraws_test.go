package camera

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"coverplate/ingest/catalogue"
)

// foveonOf lays out a Foveon raw of 2268 × 1512, turned by 90°, with a picture in
// JPEG and pairs of properties.
func foveonOf(picture []byte, properties ...string) []byte {
	le := func(v ...uint32) string { return string(longs(little, v...)) }
	b := []byte("FOVb" + le(0x00020002) + strings.Repeat("\x00", 20) + le(2268, 1512, 90))
	image := len(b)
	b = append(b, "SECi"+le(0x00020000, 2, 18, 24, 16, 0)...)
	b = append(b, picture...)
	props := len(b)
	var places, text []byte
	for i := range len(properties) / 2 {
		for _, s := range properties[2*i : 2*i+2] {
			places = binary.LittleEndian.AppendUint32(places, uint32(len(text)/2))
			for _, u := range append(utf16.Encode([]rune(s)), 0) {
				text = binary.LittleEndian.AppendUint16(text, u)
			}
		}
	}
	b = append(b, "SECp"+le(0x00020000, uint32(len(properties)/2), 0, 0, uint32(len(text)/2))...)
	b = append(append(b, places...), text...)
	dir := len(b)
	b = append(b, "SECd"+le(0x00020000, 2)...)
	b = append(b, le(uint32(image), uint32(props-image))+"IMA2"...)
	b = append(b, le(uint32(props), uint32(dir-props))+"PROP"...)
	return append(b, le(uint32(dir))...)
}

// ciffOf lays out an early Canon raw: two heaps, the inner with what the camera
// wrote, and a picture in JPEG.
func ciffOf(picture []byte) []byte {
	le := func(v ...uint32) string { return string(longs(little, v...)) }
	shorts := func(v ...uint16) (s string) {
		for _, x := range v {
			s += string(binary.LittleEndian.AppendUint16(nil, x))
		}
		return s
	}
	type record struct {
		tag   uint16
		value string
	}
	heap := func(records ...record) string {
		var values, dir string
		dir = shorts(uint16(len(records)))
		for _, r := range records {
			if r.tag&0x4000 != 0 {
				dir += shorts(r.tag) + (r.value + strings.Repeat("\x00", 8))[:8]
				continue
			}
			dir += shorts(r.tag) + le(uint32(len(r.value)), uint32(len(values)))
			values += r.value
		}
		return values + dir + le(uint32(len(values)))
	}
	shot := make([]uint16, 23)
	shot[2], shot[21], shot[22] = 160, 96+20, 0x10000-(32+12) // ISO 100, f/2^(11/6), 2^(4/3) s
	inner := heap(
		record{0x080A, "Islet\x00Islet EOS One\x00"},
		record{0x180B | 0x4000, le(4711)},
		record{0x180E, le(1772789469, 0, 0)},
		record{0x1810, le(3072, 2048, math.Float32bits(1), 0)},
		record{0x1029, shorts(2, 227, 0, 0)},
		record{0x102D, string(shorts(make([]uint16, 25)...)) + shorts(32)},
		record{0x102A, shorts(shot...)},
	)
	return []byte("II\x1A\x00\x00\x00HEAPCCDR" + strings.Repeat("\x00", 12) + heap(record{0x2007, string(picture)}, record{0x300A, inner}))
}

// Raws that are no TIFF say when and how they were taken, and where their
// pictures lie. Fields as ExifTool 12.57's tables have them, which reads the
// samples of ../shared/photos/raw alike.
func TestRawsWithoutExif(t *testing.T) {
	plainJPEG := jpegOf(24, 16)
	foveon := foveonOf(plainJPEG, "TIME", "1772789469", "CAMMANUF", "ISLET", "CAMMODEL", "Islet Three", "CAMSERIAL", "42", "FLENGTH", "30", "FLEQ35MM", "51", "APERTURE", "8.35", "SHUTTER", "0.01", "ISO", "100", "LENSMODEL", "x")
	taken := time.Date(2026, 3, 6, 9, 31, 9, 0, time.UTC)
	s := read(t, foveon, catalogue.Raw)
	if e := s.Exposure; !s.Taken.Equal(taken) || s.Camera.Make != "ISLET" || s.Camera.Model != "Islet Three" || s.Camera.Serial != "42" ||
		e.FocalLength != 30 || e.Focal35 != 51 || e.FNumber != 8.35 || e.Seconds != 0.01 || e.ISO != 100 || s.Width != 2268 || s.Height != 1512 || s.Orientation != 6 {
		t.Errorf("Foveon: %+v", s)
	}
	s = read(t, ciffOf(plainJPEG), catalogue.Raw)
	if e := s.Exposure; !s.Taken.Equal(taken) || s.Camera.Make != "Islet" || s.Camera.Model != "Islet EOS One" || s.Camera.Serial != "0000004711" ||
		e.FocalLength != 227.0/32 || e.FNumber != 3.56 || math.Abs(e.Seconds-math.Exp2(4.0/3)) > 1e-9 || e.ISO != 100 || s.Width != 3072 || s.Height != 2048 || s.Orientation != 1 {
		t.Errorf("CIFF: %+v", s)
	}
	for name, b := range map[string][]byte{"Foveon": foveon, "CIFF": ciffOf(plainJPEG)} {
		p, err := Previews(bytes.NewReader(b), int64(len(b)), catalogue.Raw)
		if err != nil || len(p) != 1 || p[0].From != "raw" || p[0].Width != 24 || !bytes.HasPrefix(b[p[0].Offset:], plainJPEG) {
			t.Errorf("%s: previews %+v, %v", name, p, err)
		}
		for _, cut := range []int{20, len(b) / 2, len(b) - 3} {
			var broken *FormatError
			if _, err := Read(bytes.NewReader(b[:cut]), int64(cut), catalogue.Raw); !errors.As(err, &broken) {
				t.Errorf("%s cut at %d: %v", name, cut, err)
			}
		}
	}
	// The Exif of a Foveon's picture goes before its properties, and its own size
	// is not the picture's.
	s = read(t, foveonOf(exifJPEG(fullBlock(little)), "CAMMODEL", "Islet Three", "ISO", "1"), catalogue.Raw)
	if s.Camera.Model != "Islet Two" || s.Width != 2268 || s.Exposure.ISO == 1 {
		t.Errorf("with Exif: %+v", s)
	}
}

// A heap that holds itself, and promises without end, end in a refusal or in
// facts, with little read.
func TestRawsThatLoop(t *testing.T) {
	b := ciffOf(jpegOf(24, 16))
	end := len(b) - 4
	dir := 26 + int(binary.LittleEndian.Uint32(b[end:]))
	loop := slices.Clone(b)
	for at := dir + 2; at+10 <= end; at += 10 { // every record is the whole heap
		binary.LittleEndian.PutUint16(loop[at:], 0x300A)
		binary.LittleEndian.PutUint32(loop[at+2:], uint32(len(b)-26))
		binary.LittleEndian.PutUint32(loop[at+6:], 0)
	}
	r := &counted{ReaderAt: bytes.NewReader(loop)}
	if _, err := Read(r, int64(len(loop)), catalogue.Raw); err != nil && !refused(err) {
		t.Errorf("%v", err)
	}
	if r.n > 1<<20 {
		t.Errorf("%d bytes read of %d", r.n, len(loop))
	}
}
