package look

import (
	"bytes"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"strings"
	"testing"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

func TestRefusals(t *testing.T) {
	whole := asJPEG(t, paint(scene(300, 200), 300, 200, toSelf, encodeSRGB), 90)
	sof := bytes.Index(whole, []byte{0xFF, 0xC0})
	sized := func(w, h int) []byte {
		b := bytes.Clone(whole)
		binary.BigEndian.PutUint16(b[sof+5:], uint16(h))
		binary.BigEndian.PutUint16(b[sof+7:], uint16(w))
		return b
	}
	coded := func(m byte) []byte {
		b := bytes.Clone(whole)
		b[sof+1] = m
		return b
	}
	bits := bytes.Clone(whole)
	bits[sof+4] = 12
	bigPNG := asPNG(t, image.NewGray(image.Rect(0, 0, 4, 4)))
	binary.BigEndian.PutUint32(bigPNG[16:], 60000)
	binary.BigEndian.PutUint32(bigPNG[20:], 60000)
	resum(bigPNG)
	for _, c := range []struct {
		name        string
		kind        catalogue.FileKind
		b           []byte
		unsupported bool
		says        string
	}{
		{"nothing", catalogue.JPEG, nil, false, "empty"},
		{"the first two bytes", catalogue.JPEG, whole[:2], false, ""},
		{"cut in its head", catalogue.JPEG, whole[:sof+6], false, "before the picture begins"},
		{"cut in its pixels", catalogue.JPEG, whole[:len(whole)-200], false, "end before the picture does"},
		{"zero wide", catalogue.JPEG, sized(0, 200), false, "0 × 200"},
		{"zero high", catalogue.JPEG, sized(300, 0), false, "300 × 0"},
		{"more than it can hold", catalogue.JPEG, sized(12000, 9000), false, "cut off: 12000 × 9000"},
		{"beyond 200 megapixels", catalogue.JPEG, sized(65535, 65535), false, "65535"},
		{"lossless", catalogue.JPEG, coded(0xC3), true, "lossless"},
		{"arithmetic", catalogue.JPEG, coded(0xC9), true, "arithmetic"},
		{"twelve bits", catalogue.JPEG, bits, true, "12 bits"},
		{"a PNG beyond 200 megapixels", catalogue.Picture, bigPNG, true, "200 megapixels"},
		{"a cut PNG", catalogue.Picture, asPNG(t, image.NewGray(image.Rect(0, 0, 90, 90)))[:60], false, "end before the picture does"},
		{"a TIFF", catalogue.Picture, []byte("II*\x00\x08\x00\x00\x00\x00\x00\x00\x00\x00\x00"), false, ""},
		{"a memo", catalogue.Memo, whole, true, "no picture"},
		{"text", catalogue.JPEG, []byte("not a picture at all"), false, ""},
	} {
		seen, err := at(c.b, c.kind, camera.Shot{})
		var f *camera.FormatError
		var u *camera.UnsupportedError
		if err == nil || !errors.As(err, &f) && !errors.As(err, &u) || c.unsupported && u == nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %q does not say %q", c.name, err, c.says)
		}
		shown := seen.Look.Preview != "" || seen.JPEG != nil
		if cut := strings.HasPrefix(c.says, "end before"); shown != cut || cut && (seen.Look.Preview != catalogue.Damaged || seen.Look.Palette != nil) {
			t.Errorf("%s: pixels all the same, %q", c.name, seen.Look.Preview)
		}
	}
}

// resum mends the checksum of a PNG's first chunk.
func resum(b []byte) { binary.BigEndian.PutUint32(b[29:], crc32.ChecksumIEEE(b[12:29])) }
