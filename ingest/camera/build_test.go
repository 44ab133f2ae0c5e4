package camera

import (
	"bytes"
	"encoding/binary"
	"math"
	"testing"

	"coverplate/ingest/catalogue"
)

// The builders below lay out small files byte by byte, so that what a test
// reads is known and no photograph is needed.

// line is one entry of a directory under construction. at, where not nil, is
// a directory to point to instead of a value.
type line struct {
	id, typ uint16
	val     []byte // in the block's byte order
	at      []line
}

var little, big = binary.ByteOrder(binary.LittleEndian), binary.ByteOrder(binary.BigEndian)

func ascii(id uint16, s string) line { return line{id: id, typ: 2, val: []byte(s + "\x00")} }

func short(o binary.ByteOrder, id uint16, v ...uint16) line {
	var b []byte
	for _, x := range v {
		b = o.(binary.AppendByteOrder).AppendUint16(b, x)
	}
	return line{id: id, typ: 3, val: b}
}

func long(o binary.ByteOrder, id uint16, v ...uint32) line {
	return line{id: id, typ: 4, val: longs(o, v...)}
}

func rational(o binary.ByteOrder, id uint16, v ...uint32) line {
	return line{id: id, typ: 5, val: longs(o, v...)}
}

func srational(o binary.ByteOrder, id uint16, num, den int32) line {
	return line{id: id, typ: 10, val: longs(o, uint32(num), uint32(den))}
}

func float(o binary.ByteOrder, id uint16, v float64) line {
	b := make([]byte, 8)
	o.PutUint64(b, math.Float64bits(v))
	return line{id: id, typ: 12, val: b}
}

func below(id uint16, l ...line) line { return line{id: id, typ: 4, at: l} }

func longs(o binary.ByteOrder, v ...uint32) []byte {
	b := make([]byte, 4*len(v))
	for i, x := range v {
		o.PutUint32(b[4*i:], x)
	}
	return b
}

// layout lays out a TIFF structure of a chain of directories.
func layout(o binary.ByteOrder, chain ...[]line) []byte {
	b := []byte("II*\x00\x08\x00\x00\x00")
	if o == big {
		b = []byte("MM\x00*\x00\x00\x00\x08")
	}
	link := -1
	for _, dir := range chain {
		if link >= 0 {
			o.PutUint32(b[link:], uint32(len(b)))
		}
		b, link = directoryBytes(o, b, dir)
	}
	return b
}

func directoryBytes(o binary.ByteOrder, b []byte, dir []line) ([]byte, int) {
	start := len(b)
	b = append(b, make([]byte, 2+12*len(dir)+4)...)
	o.PutUint16(b[start:], uint16(len(dir)))
	for i, l := range dir {
		e := start + 2 + 12*i
		o.PutUint16(b[e:], l.id)
		o.PutUint16(b[e+2:], l.typ)
		if l.at != nil {
			o.PutUint32(b[e+4:], 1)
			o.PutUint32(b[e+8:], uint32(len(b)))
			b, _ = directoryBytes(o, b, l.at)
			continue
		}
		o.PutUint32(b[e+4:], uint32(int64(len(l.val))/typeSize(l.typ)))
		if len(l.val) <= 4 {
			copy(b[e+8:e+12], l.val)
			continue
		}
		o.PutUint32(b[e+8:], uint32(len(b)))
		b = append(b, l.val...)
		if len(b)%2 == 1 {
			b = append(b, 0)
		}
	}
	return b, start + 2 + 12*len(dir)
}

// seg is a JPEG segment.
func seg(marker byte, content ...string) []byte {
	var c []byte
	for _, s := range content {
		c = append(c, s...)
	}
	return append([]byte{0xFF, marker, byte((len(c) + 2) >> 8), byte(len(c) + 2)}, c...)
}

// jpegOf lays out the head of a JPEG of that size, its segments, and a mock of
// its pixels.
func jpegOf(w, h int, segments ...[]byte) []byte {
	b := []byte{0xFF, 0xD8}
	for _, s := range segments {
		b = append(b, s...)
	}
	b = append(b, seg(0xC0, string([]byte{8, byte(h >> 8), byte(h), byte(w >> 8), byte(w), 1, 1, 0x11, 0}))...)
	b = append(b, seg(0xDA, "\x01\x01\x00\x00\x3F\x00")...)
	return append(b, 0x55, 0xAA, 0xFF, 0xD9)
}

func exifJPEG(block []byte) []byte {
	return jpegOf(24, 16, seg(0xE1, "Exif\x00\x00", string(block)))
}

func read(t *testing.T, b []byte, kind catalogue.FileKind) Shot {
	t.Helper()
	s, err := Read(bytes.NewReader(b), int64(len(b)), kind)
	if err != nil {
		t.Fatalf("Read: %v", err)
	}
	return s
}

// fullBlock is a camera's Exif with all that is read.
func fullBlock(o binary.ByteOrder) []byte {
	return layout(o, []line{
		ascii(tagMake, "Islet "), ascii(tagModel, "Islet Two"), short(o, tagOrientation, 6),
		ascii(tagDateTime, "2024:03:09 12:00:00"),
		below(tagExifIFD,
			rational(o, tagExposureTime, 1, 125), rational(o, tagFNumber, 56, 10), short(o, tagISO, 400),
			ascii(tagOriginal, "2024:03:09 11:22:33"), ascii(tagOffsetOriginal, "+02:00"), ascii(tagSubSecOriginal, "07"),
			rational(o, tagSubjectDistance, 85, 100), rational(o, tagFocalLength, 100, 1),
			srational(o, tagElevation, -4512, 100), short(o, tagColourSpace, 1),
			below(tagInteropIFD, ascii(tagInteropIndex, "R98")),
			short(o, tagFocal35, 150), ascii(tagSerial, "BODY0001"), ascii(tagLensModel, "Test 100mm F2.8 Macro"),
		),
	})
}
