package main

import (
	"bytes"
	"encoding/json"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// dishAside is a wide frame of a dish that stands alone in its right half, on a
// bare table: a pale plate with crisp food on it, as a camera would write it.
func dishAside(t *testing.T) []byte {
	t.Helper()
	const w, h = 3000, 2000
	random := rand.New(rand.NewPCG(5, 6))
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	grain := make([]float64, 64*64)
	for i := range grain {
		grain[i] = random.Float64()
	}
	for y := range h {
		for x := range w {
			far := math.Hypot(float64(x-2250), float64(y-1000))
			n := uint8(4 * grain[(y/3%64)*64+x/3%64])
			c := color.RGBA{96 + n, 84 + n, 70 + n, 255}
			switch {
			case far < 300: // pieces of food, a dozen pixels each
				v := grain[(y/12%64)*64+x/12%64]
				c = color.RGBA{uint8(140 + 90*v), uint8(50 + 110*v*v), uint8(25 + 40*v), 255}
			case far < 430:
				c = color.RGBA{226, 222, 214, 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	exif := exifOf("2026:03:02 09:00:00", nil)
	out := []byte{0xff, 0xd8, 0xff, 0xe1, byte((len(exif) + 2) >> 8), byte(len(exif) + 2)}
	return append(append(out, exif...), b.Bytes()[2:]...)
}

// A half that stands alone is cut unasked, at each shape's pixels, and its file
// says nothing of the camera: exiftool reads it again.
func TestPostOfAHalfThatStandsAlone(t *testing.T) {
	if testing.Short() {
		t.Skip("reads six megapixels several times")
	}
	dir := t.TempDir()
	shoot, card, posts := filepath.Join(dir, "s"), filepath.Join(dir, "A001"), filepath.Join(dir, "posts")
	if err := os.MkdirAll(card, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(card, "LOMV0001.JPG"), dishAside(t), 0o644); err != nil {
		t.Fatal(err)
	}
	run := func(args ...string) string {
		code, out, errs := called(t, append(args, "--shoot", shoot)...)
		if code != 0 {
			t.Fatalf("%v: exit code %d\n%s%s", args, code, out, errs)
		}
		return out
	}
	if code, _, errs := called(t, "new", shoot, "--title", "S", "--trim", "189x246", "--days", "2026-03-02..2026-03-04", "--zone", "UTC"); code != 0 {
		t.Fatal(errs)
	}
	run("ingest", card)
	said := run("post", "LOMV0001.JPG", "--to", posts)
	if strings.Contains(said, "because you said so") || !strings.Contains(said, "right") {
		t.Errorf("it says %q", said)
	}
	for shape, size := range map[string][2]int{"4:5": {1080, 1350}, "1:1": {1080, 1080}, "3:4": {1080, 1440}, "9:16": {1080, 1920}} {
		before, _ := filepath.Glob(filepath.Join(posts, "*"))
		said := run("post", "LOMV0001.JPG", "--shape", shape, "--to", posts)
		if strings.Contains(said, "because you said so") {
			t.Errorf("%s was forced: %s", shape, said)
		}
		after, _ := filepath.Glob(filepath.Join(posts, "*"))
		if len(after) != len(before)+1 {
			t.Fatalf("%s: %d files, then %d: nothing is written over", shape, len(before), len(after))
		}
		name := filepath.Join(posts, "LOMV0001_right_"+strings.ReplaceAll(shape, ":", "x")+".jpg")
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		img, err := jpeg.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		if got := img.Bounds(); got.Dx() != size[0] || got.Dy() != size[1] {
			t.Errorf("%s: %v", shape, got)
		}
	}
	tool, err := exec.LookPath("exiftool")
	if err != nil {
		t.Skip("exiftool is not installed (Debian: libimage-exiftool-perl): what the posts hold was not read")
	}
	out, err := exec.Command(tool, "-j", "-a", "-G1", posts, filepath.Join(card, "LOMV0001.JPG")).Output()
	if err != nil {
		t.Fatal(err)
	}
	var read []map[string]any
	if err := json.Unmarshal(out, &read); err != nil {
		t.Fatal(err)
	}
	for _, tags := range read {
		source := strings.Contains(tags["SourceFile"].(string), "A001")
		camera := false
		for tag := range tags {
			for _, what := range []string{"GPS", "Make", "Model", "Serial", "Lens", "DateTime", "XMP", "IPTC", "MakerNote"} {
				camera = camera || strings.Contains(tag, what)
			}
		}
		if camera != source {
			t.Errorf("%v: facts of the camera: %v", tags["SourceFile"], camera)
		}
	}
}
