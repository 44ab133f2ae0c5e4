package look

import (
	"bytes"
	"errors"
	"image"
	"image/jpeg"
	"strings"
	"testing"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// hurt makes 40 bytes of the coded pixels such as no code begins with.
func hurt(b []byte, share float64) []byte {
	b = bytes.Clone(b)
	from := bytes.Index(b, []byte{0xFF, 0xDA})
	at := from + int(share*float64(len(b)-from))
	for i := range 40 {
		b[at+i] = 0xFF
	}
	return b
}

// A damaged photo is told, and shown by the preview that is too small else.
func TestDamagedPhotoKeepsItsPreview(t *testing.T) {
	photo := asJPEG(t, paint(scene(1800, 1200), 1800, 1200, toSelf, encodeSRGB), 60)
	small := asJPEG(t, paint(scene(640, 427), 640, 427, toSelf, encodeSRGB), 90)
	seen, err := at(withMPF(hurt(photo, 0.01), small), catalogue.JPEG, camera.Shot{})
	if err == nil {
		t.Fatal("a damaged photo was not told")
	}
	if seen.Look.Preview != catalogue.Damaged || seen.JPEG == nil || seen.Look.Width != 1800 || seen.Look.Focus == nil {
		t.Errorf("measured %q, %d bytes, %d wide", seen.Look.Preview, len(seen.JPEG), seen.Look.Width)
	}
	shown, err := jpeg.DecodeConfig(bytes.NewReader(seen.JPEG))
	if err != nil || shown.Width != 640 {
		t.Errorf("shown %d wide, %v; want the preview", shown.Width, err)
	}
}

// Without a preview as much of it is shown as can be read, upright; it is said
// how much is missing, and nothing is measured of it.
func TestDamagedPhotoIsShownAsFarAsItGoes(t *testing.T) {
	const w, h = 1200, 800
	photo := asJPEG(t, paint(scene(w, h), w, h, toSelf, encodeSRGB), 80)
	small := asJPEG(t, paint(scene(600, 400), 600, 400, toSelf, encodeSRGB), 80)
	for _, c := range []struct {
		name        string
		b           []byte
		orientation int
		says        string
		wide        int
		top, bottom bool // is there
	}{
		{"cut off", photo[:len(photo)*6/10], 1, "end before the picture does", 600, true, false},
		{"cut off, and turned", photo[:len(photo)*6/10], 3, "end before the picture does", 600, false, true},
		{"damaged", hurt(photo, 0.6), 1, "of the picture can't be read; copy it from the card again", 600, true, false},
		{"a small one", small[:len(small)*6/10], 1, "end before the picture does", 300, true, false},
	} {
		seen, err := at(c.b, catalogue.JPEG, camera.Shot{Orientation: c.orientation})
		var broken *camera.FormatError
		if !errors.As(err, &broken) || !strings.Contains(broken.Reason, c.says) {
			t.Errorf("%s: %v, want %q", c.name, err, c.says)
		}
		if l := seen.Look; l.Preview != catalogue.Damaged || l.Focus != nil || l.Light != nil || l.Palette != nil || l.Slate != nil || l.Width == 0 {
			t.Errorf("%s: %q with measures %+v", c.name, l.Preview, l)
		}
		img, err := jpeg.Decode(bytes.NewReader(seen.JPEG))
		if err != nil || img.Bounds().Dx() != c.wide {
			t.Errorf("%s: shown %v", c.name, err)
			continue
		}
		if b := img.Bounds(); unseen(img, b.Min.Y+4) == c.top || unseen(img, b.Max.Y-4) == c.bottom {
			t.Errorf("%s: grey on top %v, at the bottom %v", c.name, unseen(img, b.Min.Y+4), unseen(img, b.Max.Y-4))
		}
	}
}

// unseen reports whether all of row y is the middle grey.
func unseen(img image.Image, y int) bool {
	for x := img.Bounds().Min.X; x < img.Bounds().Max.X; x++ {
		r, g, b, _ := img.At(x, y).RGBA()
		for _, v := range []uint32{r, g, b} {
			if v>>8 < 125 || v>>8 > 131 {
				return false
			}
		}
	}
	return true
}

// Of what can't be read at all, or is coded in passes, there is no picture; nor
// is a format that is only not decoded here called damaged.
func TestDamagedBeyondShowing(t *testing.T) {
	photo := asJPEG(t, paint(scene(600, 400), 600, 400, toSelf, encodeSRGB), 80)
	from := bytes.Index(photo, []byte{0xFF, 0xDA})
	png := asPNG(t, paint(scene(300, 200), 300, 200, toSelf, encodeSRGB))
	for _, c := range []struct {
		name    string
		b       []byte
		preview string
	}{
		{"cut where its pixels begin", append(bytes.Clone(photo[:from+14]), make([]byte, 8<<10)...)[:from+14+8<<10], catalogue.Damaged},
		{"a PNG", png[:len(png)/2], catalogue.Damaged},
		{"cut in its head", photo[:from/2], ""},
		{"a text", []byte("no picture at all, only words"), ""},
	} {
		seen, err := at(c.b, catalogue.JPEG, camera.Shot{})
		if err == nil || seen.Look.Preview != c.preview || c.preview == "" && seen.JPEG != nil {
			t.Errorf("%s: %q, %d bytes shown, %v", c.name, seen.Look.Preview, len(seen.JPEG), err)
		}
	}
}
