package main

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
)

// pictureOf is a JPEG with an Exif segment laid out by CIPA DC-008: taken is
// "2026:03:02 09:00:00", elevation in whole degrees as Exif counts, −90 down.
func pictureOf(width, height int, dish color.RGBA, taken string, elevation *int) []byte {
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			c := color.RGBA{150, 148, 145, 255}
			if dx, dy := float64(x-width/2), float64(y-height/2); dx*dx+dy*dy < float64(min(width, height)*min(width, height))/6 {
				c = dish
			}
			img.SetRGBA(x, y, c)
		}
	}
	return withExif(img, taken, elevation)
}

// withExif is img as such a JPEG.
func withExif(img image.Image, taken string, elevation *int) []byte {
	var pixels bytes.Buffer
	if err := jpeg.Encode(&pixels, img, &jpeg.Options{Quality: 85}); err != nil {
		panic(err)
	}
	exif := exifOf(taken, elevation)
	out := []byte{0xff, 0xd8, 0xff, 0xe1, byte((len(exif) + 2) >> 8), byte(len(exif) + 2)}
	return append(append(out, exif...), pixels.Bytes()[2:]...)
}

func exifOf(taken string, elevation *int) []byte {
	le := binary.LittleEndian
	type entry struct {
		tag, kind uint16
		count     uint32
		data      []byte
	}
	text := func(tag uint16, s string) entry { return entry{tag, 2, uint32(len(s) + 1), append([]byte(s), 0)} }
	ratio := func(tag, kind uint16, n, d int32) entry {
		b := le.AppendUint32(nil, uint32(n))
		return entry{tag, kind, 1, le.AppendUint32(b, uint32(d))}
	}
	// directory lays out one IFD that begins at offset at.
	directory := func(at int, entries []entry) []byte {
		ifd := le.AppendUint16(nil, uint16(len(entries)))
		far := at + 2 + 12*len(entries) + 4
		var more []byte
		for _, e := range entries {
			ifd = le.AppendUint16(le.AppendUint16(ifd, e.tag), e.kind)
			ifd = le.AppendUint32(ifd, e.count)
			if len(e.data) <= 4 {
				ifd = append(ifd, append(e.data, make([]byte, 4-len(e.data))...)...)
			} else {
				ifd = le.AppendUint32(ifd, uint32(far+len(more)))
				more = append(more, e.data...)
			}
		}
		return append(le.AppendUint32(ifd, 0), more...)
	}
	first := []entry{text(0x010f, "Lomvi"), text(0x0110, "Lomvi One"), {0x8769, 4, 1, nil}}
	size := len(directory(8, append(first[:2:2], entry{0x8769, 4, 1, make([]byte, 4)})))
	first[2].data = le.AppendUint32(nil, uint32(8+size))
	below := []entry{ratio(0x829a, 5, 1, 125), ratio(0x829d, 5, 56, 10), text(0x9003, taken), ratio(0x920a, 5, 50, 1)}
	if elevation != nil {
		below = append(below, ratio(0x9405, 10, int32(*elevation), 1))
	}
	below = append(below, text(0xa431, "LV0001"))
	b := append([]byte("Exif\x00\x00II*\x00"), 8, 0, 0, 0)
	b = append(b, directory(8, first)...)
	return append(b, directory(8+size, below)...)
}
