package look

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"testing"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// flat is a picture of one colour.
func flat(w, h int, c color.RGBA) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := 0; i < len(img.Pix); i += 4 {
		img.Pix[i], img.Pix[i+1], img.Pix[i+2], img.Pix[i+3] = c.R, c.G, c.B, 255
	}
	return img
}

// withMPF puts a second picture behind a JPEG, indexed as CIPA DC-007 has it
// (layout of reference/07_xmp_mpf_notes.md).
func withMPF(main, second []byte) []byte {
	le := binary.LittleEndian
	mp := append([]byte("MPF\x00II*\x00"), 8, 0, 0, 0)
	mp = le.AppendUint16(mp, 1)
	mp = le.AppendUint16(mp, 0xB002)
	mp = le.AppendUint16(mp, 7)
	mp = le.AppendUint32(mp, 32)
	mp = le.AppendUint32(mp, 26) // of the entries, from the byte order mark
	mp = le.AppendUint32(mp, 0)
	entry := func(attr, size, off uint32) {
		mp = le.AppendUint32(mp, attr)
		mp = le.AppendUint32(mp, size)
		mp = le.AppendUint32(mp, off)
		mp = le.AppendUint32(mp, 0)
	}
	total := len(main) + 4 + 8 + 4 + 18 + 32
	entry(0x20030000, uint32(total), 0)
	entry(0x00010002, uint32(len(second)), uint32(total-10)) // the mark stands at byte 2+4+4
	out := append([]byte{0xFF, 0xD8, 0xFF, 0xE2}, 0, 0)
	binary.BigEndian.PutUint16(out[4:], uint16(len(mp)+2))
	out = append(append(out, mp...), main[2:]...)
	return append(out, second...)
}

var (
	red  = color.RGBA{R: 180, G: 40, B: 30, A: 255}
	blue = color.RGBA{R: 30, G: 60, B: 170, A: 255}
)

// The photo is red, its preview blue: the palette tells which was measured.
func TestWhichPixelsAreMeasured(t *testing.T) {
	photo := asJPEG(t, flat(3000, 2000, red), 90)
	grey := image.NewGray(image.Rect(0, 0, 1500, 1000))
	for _, c := range []struct {
		name        string
		second      image.Image
		orientation int
		from        string
		w, h        int // of the picture for people
	}{
		{"large enough", flat(1000, 667, blue), 1, fromMPF, 1000, 667},
		{"a pixel too small", flat(999, 666, blue), 1, fromFile, 1024, 683},
		{"another shape", flat(1440, 1080, blue), 1, fromFile, 1024, 683},
		{"a grey gain map", grey, 1, fromFile, 1024, 683},
		{"lying like the photo", flat(1620, 1080, blue), 6, fromMPF, 683, 1024},
		{"upright beside a lying photo", flat(1080, 1620, blue), 6, fromMPF, 683, 1024},
	} {
		b := withMPF(photo, asJPEG(t, c.second, 90))
		seen, err := at(b, catalogue.JPEG, camera.Shot{Orientation: c.orientation})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if seen.Look.Preview != c.from {
			t.Errorf("%s: measured %q, want %q", c.name, seen.Look.Preview, c.from)
		}
		pic, err := jpeg.Decode(bytes.NewReader(seen.JPEG))
		if err != nil {
			t.Fatal(err)
		}
		if p := pic.Bounds(); p.Dx() != c.w || p.Dy() != c.h {
			t.Errorf("%s: picture of %v, want %d × %d", c.name, p, c.w, c.h)
		}
		want := red
		if c.from == fromMPF {
			want = blue
		}
		if got := pic.At(200, 200); !near(got, want, 4) {
			t.Errorf("%s: picture shows %v, want %v", c.name, got, want)
		}
	}

	// Two fifths of a small photo are enough.
	small := withMPF(asJPEG(t, flat(1200, 800, red), 90), asJPEG(t, flat(480, 320, blue), 90))
	if seen, err := at(small, catalogue.JPEG, camera.Shot{}); err != nil || seen.Look.Preview != fromMPF {
		t.Errorf("480 of 1200 pixels: measured %q, %v", seen.Look.Preview, err)
	}
	// A broken preview costs nothing but itself.
	second := asJPEG(t, flat(1620, 1080, blue), 90)
	broken := withMPF(photo, second[:len(second)/2])
	if seen, err := at(broken, catalogue.JPEG, camera.Shot{}); err != nil || seen.Look.Preview != fromFile {
		t.Errorf("a broken preview: measured %q, %v", seen.Look.Preview, err)
	}
}

func TestSameInputSameBytes(t *testing.T) {
	b := asJPEG(t, paint(scene(2100, 1400), 2100, 1400, toSelf, encodeSRGB), 85)
	var first string
	for range 3 {
		seen, err := at(b, catalogue.JPEG, camera.Shot{ColourSpace: "Adobe RGB (1998)", Orientation: 6})
		if err != nil {
			t.Fatal(err)
		}
		got := fmt.Sprintf("%x %+v %+v", seen.JPEG, seen.Look.Palette, *seen.Look.Surface)
		if first == "" {
			first = got
		}
		if got != first {
			t.Fatal("the same bytes gave two answers")
		}
	}
}

// A progressive JPEG of many scans costs a pass each; the limit ends it.
func TestManyScans(t *testing.T) {
	b := append([]byte{0xFF, 0xD8}, bytes.Repeat([]byte{0xFF, 0xDA}, maxScans+2)...)
	c := &scanCounter{r: bytes.NewReader(b), pixels: 1}
	var err error
	for buf := make([]byte, 7); err == nil; { // 7: marks fall across two reads
		_, err = c.Read(buf)
	}
	if _, ok := err.(*camera.FormatError); !ok || c.scans <= maxScans {
		t.Errorf("%d scans end in %v", c.scans, err)
	}
	c = &scanCounter{r: bytes.NewReader(b[:12]), pixels: maxScanPixels}
	if _, err = c.Read(make([]byte, 64)); err == nil {
		t.Error("five passes over four thousand megapixels were allowed")
	}
}

func FuzzAt(f *testing.F) {
	img := paint(scene(48, 32), 48, 32, toSelf, encodeSRGB)
	whole := asJPEG(f, img, 60)
	for _, b := range [][]byte{nil, whole, whole[:len(whole)/2], asPNG(f, img), withMPF(whole, asJPEG(f, flat(24, 16, blue), 50)), []byte("II*\x00\x08\x00\x00\x00\x00\x00"), []byte("RIFF\x10\x00\x00\x00WEBPVP8 ")} {
		f.Add(b, uint8(0), 6)
	}
	kinds := []catalogue.FileKind{catalogue.JPEG, catalogue.HEIC, catalogue.Picture, catalogue.Raw, catalogue.Thumb}
	f.Fuzz(func(t *testing.T, b []byte, kind uint8, orientation int) {
		if len(b) > 32<<10 {
			return // promises of pixels grow with the file; the bounds have their own tests
		}
		k := kinds[int(kind)%len(kinds)]
		shot, _ := camera.Read(bytes.NewReader(b), int64(len(b)), k)
		shot.Orientation = orientation
		seen, err := at(b, k, shot)
		sound(t, seen, err)
		// What is shown of the camera's own is a picture, or nothing.
		if own, err := Embedded(bytes.NewReader(b), int64(len(b)), k, shot); err == nil && own != nil {
			if shown, err := camera.Read(bytes.NewReader(own), int64(len(own)), catalogue.JPEG); err != nil || shown.Camera != (catalogue.Camera{}) || !shown.Taken.IsZero() {
				t.Errorf("an embedded preview says %+v, %v", shown, err)
			}
		}
		if shown, err := Kept(b); err == nil && shown == nil {
			t.Error("a kept preview is shown as nothing, and without an error")
		}
	})
}

// The cost of a look against the decode that it must contain, in one run:
// compare At/24MP with Decode/24MP, and see what a preview saves.
func BenchmarkAt(b *testing.B) {
	const w, h = 6000, 4000
	noisy := paint(scene(w, h), w, h, toSelf, encodeSRGB)
	seed := uint32(1)
	for i := range noisy.Pix { // grain, so that the file has the size of a camera's
		seed = seed*1664525 + 1013904223
		if i%4 != 3 {
			noisy.Pix[i] = uint8(min(255, max(0, int(noisy.Pix[i])+int(seed>>28)-8)))
		}
	}
	photo := asJPEG(b, noisy, 92)
	preview := asJPEG(b, paint(scene(1620, 1080), 1620, 1080, toSelf, encodeSRGB), 85)
	run := func(name string, data []byte) {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := at(data, catalogue.JPEG, camera.Shot{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
	b.Run("Decode/24MP", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := jpeg.Decode(bytes.NewReader(photo)); err != nil {
				b.Fatal(err)
			}
		}
	})
	run("At/24MP", photo)
	run("At/24MP with preview", withMPF(photo, preview))
}
