package look

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

func TestSmallerKeepsShapeAndSize(t *testing.T) {
	for _, c := range []struct{ w, h, side, wantW, wantH int }{
		{1024, 683, 480, 480, 320},
		{683, 1024, 480, 320, 480},
		{481, 100, 480, 480, 100},
		{480, 480, 480, 480, 480},
		{30, 20, 480, 30, 20}, // never larger
		{1, 1, 480, 1, 1},
		{1024, 3, 64, 64, 1}, // never to nothing
		{1024, 683, 1, 1, 1},
	} {
		b, err := Smaller(asJPEG(t, image.NewRGBA(image.Rect(0, 0, c.w, c.h)), 85), c.side)
		if err != nil {
			t.Errorf("%d × %d to %d: %v", c.w, c.h, c.side, err)
			continue
		}
		got, err := jpeg.DecodeConfig(bytes.NewReader(b))
		if err != nil || got.Width != c.wantW || got.Height != c.wantH {
			t.Errorf("%d × %d to %d gives %d × %d (%v), want %d × %d", c.w, c.h, c.side, got.Width, got.Height, err, c.wantW, c.wantH)
		}
	}
}

// A chequer of black and white is half the light, which in sRGB is code 188
// (IEC 61966-2-1: 1.055·0.5^(1/2.4) − 0.055 = 0.7354); the mean of the codes
// would be 128.
func TestSmallerAveragesLight(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 256, 256))
	for i := range img.Pix {
		if (i%256+i/256)%2 == 0 {
			img.Pix[i] = 255
		}
	}
	b, err := Smaller(asJPEG(t, img, 100), 64)
	if err != nil {
		t.Fatal(err)
	}
	small, err := jpeg.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if c := small.At(32, 32); !near(c, color.Gray{188}, 2) {
		t.Errorf("half the light is %v, want code 188", c)
	}
}

func TestSmallerLetsNoMetadataThrough(t *testing.T) {
	b := asJPEG(t, image.NewRGBA(image.Rect(0, 0, 20, 20)), 85)
	secret := append([]byte("\xff\xd8\xff\xe1\x00\x0c"), "Exif\x00\x00GPS!"...)
	out, err := Smaller(append(secret, b[2:]...), 420)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(out, []byte("GPS!")) || bytes.Contains(out, []byte("Exif")) {
		t.Error("the small picture carries what the large one did besides pixels")
	}
}

func TestSmallerRefusesInWords(t *testing.T) {
	whole := asJPEG(t, image.NewRGBA(image.Rect(0, 0, 200, 200)), 85)
	for name, b := range map[string][]byte{
		"nothing": nil, "words": []byte("no picture"), "a stump": whole[:len(whole)/3], "a PNG": asPNG(t, image.NewRGBA(image.Rect(0, 0, 4, 4))),
	} {
		out, err := Smaller(b, 100)
		var broken *camera.FormatError
		if !errors.As(err, &broken) || out != nil {
			t.Errorf("%s: %d bytes and %v, want none and a FormatError", name, len(out), err)
		}
	}
	if _, err := Smaller(whole, 0); err == nil {
		t.Error("to 0 pixels: no error")
	}
}

func FuzzSmaller(f *testing.F) {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewRGBA(image.Rect(0, 0, 40, 30)), nil); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes(), 16)
	f.Add(b.Bytes()[:b.Len()/2], 16)
	f.Add([]byte("\xff\xd8\xff\xc0"), 1)
	f.Fuzz(func(t *testing.T, b []byte, side int) {
		out, err := Smaller(b, side%600)
		if (err == nil) == (out == nil) {
			t.Errorf("%d bytes and error %v", len(out), err)
		}
	})
}

// BenchmarkSmaller takes real previews, where they are beside the repository,
// and prints how large they become.
func BenchmarkSmaller(b *testing.B) {
	files, _ := filepath.Glob("../../../shared/photos/food/*.jpg")
	var previews [][]byte
	for _, path := range files {
		raw, err := os.ReadFile(path)
		if err != nil {
			b.Fatal(err)
		}
		if seen, err := at(raw, catalogue.JPEG, camera.Shot{}); err == nil && seen.JPEG != nil {
			previews = append(previews, seen.JPEG)
		}
		if len(previews) == 40 {
			break
		}
	}
	if len(previews) == 0 {
		b.Skip("shared/photos/food is not beside the repository: no real preview was made smaller")
	}
	bytes, n := 0, 0
	for b.Loop() {
		out, err := Smaller(previews[n%len(previews)], 420)
		if err != nil {
			b.Fatal(err)
		}
		bytes += len(out)
		n++
	}
	b.ReportMetric(float64(bytes)/float64(n)/1000, "kB/picture")
}
