package look

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"coverplate/colour"
	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// posted cuts b and decodes the answer; b must be as it was.
func posted(t *testing.T, b []byte, shot camera.Shot, cut Cut) (image.Image, []byte) {
	t.Helper()
	before := bytes.Clone(b)
	out, err := Post(bytes.NewReader(b), int64(len(b)), catalogue.JPEG, shot, cut)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(before, b) {
		t.Fatal("the original was changed")
	}
	img, err := jpeg.Decode(bytes.NewReader(out))
	if err != nil {
		t.Fatal(err)
	}
	if s := img.Bounds().Size(); s != cut.To {
		t.Fatalf("%v, want %v", s, cut.To)
	}
	return img, out
}

// labOf is the mean colour of the middle of a part, as sRGB.
func labOf(img image.Image, at image.Rectangle) colour.Lab {
	var sum [3]float64
	n := 0.0
	for y := at.Min.Y; y < at.Max.Y; y++ {
		for x := at.Min.X; x < at.Max.X; x++ {
			r, g, b, _ := img.At(x, y).RGBA()
			for k, v := range []uint32{r, g, b} {
				sum[k] += float64(v) / 65535
			}
			n++
		}
	}
	return colour.SRGB.ToXYZ(colour.SRGB.Linearise(colour.Encoded{R: sum[0] / n, G: sum[1] / n, B: sum[2] / n})).Lab()
}

// A post keeps the scene's colours, whatever space and format it comes in. The
// truth is the painted light, through formulas of outside (made_test.go).
func TestPostKeepsColours(t *testing.T) {
	const w, h = 1200, 800
	pix := scene(w, h)
	adobe := paint(pix, w, h, toAdobe, encodeAdobe)
	plain := paint(pix, w, h, toSelf, encodeSRGB)
	p3 := inJPEG(asJPEG(t, paint(pix, w, h, toP3, encodeSRGB), 97), profileFile(t, "p3.icc"))
	ofP3, err := camera.Read(bytes.NewReader(p3), int64(len(p3)), catalogue.JPEG)
	if err != nil {
		t.Fatal(err)
	}
	cut := Cut{Of: image.Pt(w, h), Rect: image.Rect(0, 0, 640, 800), To: image.Pt(320, 400)}
	for name, c := range map[string]struct {
		b    []byte
		shot camera.Shot
	}{
		"sRGB JPEG":  {asJPEG(t, plain, 95), camera.Shot{}},
		"Adobe JPEG": {asJPEG(t, adobe, 95), camera.Shot{ColourSpace: "Adobe RGB (1998)", SpaceBy: "Exif"}},
		"sRGB PNG":   {asPNG(t, plain), camera.Shot{}},
		"P3 JPEG":    {p3, ofP3},
	} {
		img, out := posted(t, c.b, c.shot, cut)
		for _, at := range []image.Point{{100, 100}, {1100, 100}, {660, 400}} {
			if !at.In(cut.Rect) {
				continue
			}
			p := pix[at.Y*w+at.X]
			want := colour.SRGB.ToXYZ(colour.Linear{R: p[0], G: p[1], B: p[2]}).Lab()
			mid := image.Pt(at.X/2, at.Y/2)
			got := labOf(img, image.Rectangle{mid, mid}.Inset(-6))
			if d := colour.DeltaE2000(got, want); d > 1 {
				t.Errorf("%s at %v: ΔE00 %.2f, want at most 1", name, at, d)
			}
		}
		for _, part := range []string{"Exif", "ICC_PROFILE", "http", "Photoshop"} {
			if bytes.Contains(out, []byte(part)) {
				t.Errorf("%s: the post holds %q", name, part)
			}
		}
	}
}

// An edge comes to where it must, and light is averaged: a chequer of black
// and white is code 188 (IEC 61966-2-1 at half the light).
func TestPostAveragesLightAndKeepsEdges(t *testing.T) {
	const w, h = 800, 400
	img := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			switch {
			case x < 200:
				img.SetGray(x, y, color.Gray{uint8((x + y) % 2 * 255)})
			case x >= 600:
				img.SetGray(x, y, color.Gray{255})
			}
		}
	}
	got, _ := posted(t, asPNG(t, img), camera.Shot{}, Cut{Of: image.Pt(w, h), Rect: image.Rect(0, 0, w, h), To: image.Pt(400, 200)})
	grey := func(x int) int { return int(color.GrayModel.Convert(got.At(x, 100)).(color.Gray).Y) }
	if v := grey(50); v < 185 || v > 191 {
		t.Errorf("a chequer is %d, want 188", v)
	}
	if grey(297) > 20 || grey(302) < 235 {
		t.Errorf("the edge at 300: %d before, %d behind", grey(297), grey(302))
	}
}

// At 1:1 nothing was reduced, so nothing is given back: a soft edge looks as
// soft as it is.
func TestPostAtFullSizeIsNotSharpened(t *testing.T) {
	const w, h = 200, 100
	img := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.SetGray(x, y, color.Gray{uint8(min(200, max(60, 60+(x-90)*7)))}) // an edge over 20 pixels
		}
	}
	got, _ := posted(t, asPNG(t, img), camera.Shot{}, Cut{Of: image.Pt(w, h), Rect: image.Rect(40, 20, 160, 80), To: image.Pt(120, 60)})
	for x := 2; x < 118; x++ {
		want := int(img.GrayAt(40+x, 50).Y)
		if v := int(color.GrayModel.Convert(got.At(x, 30)).(color.Gray).Y); v < want-3 || v > want+3 { // what a JPEG at 90 may err
			t.Errorf("at %d: %d, want %d", x, v, want)
		}
	}
}

// The part is of the upright picture, in every orientation: what stands there
// is what upright, held against Exif elsewhere, puts there.
func TestPostCutsTheUprightPicture(t *testing.T) {
	const w, h = 240, 160
	pix := make([][3]uint8, w*h)
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range pix {
		pix[i] = [3]uint8{uint8(i % w), uint8(i / w), 90}
		img.SetRGBA(i%w, i/w, color.RGBA{pix[i][0], pix[i][1], 90, 255})
	}
	b := asPNG(t, img)
	for o := 1; o <= 8; o++ {
		up, uw, uh := upright(pix, w, h, o)
		got, _ := posted(t, b, camera.Shot{Orientation: o}, Cut{Of: image.Pt(uw, uh), Rect: image.Rect(10, 20, 90, 120), To: image.Pt(40, 50)})
		for _, at := range []image.Point{{5, 5}, {34, 5}, {5, 44}, {34, 44}} {
			p := up[(20+2*at.Y)*uw+10+2*at.X]
			if !near(got.At(at.X, at.Y), color.RGBA{p[0], p[1], p[2], 255}, 6) {
				t.Errorf("orientation %d at %v: %v, want %v", o, at, got.At(at.X, at.Y), p)
			}
		}
	}
}

func TestPostRefusesInWords(t *testing.T) {
	b := asPNG(t, flat(200, 100, color.RGBA{A: 255}))
	of := image.Pt(200, 100)
	for want, cut := range map[string]Cut{
		"fewer than":     {of, image.Rect(0, 0, 50, 50), image.Pt(60, 60)},
		"leaves the":     {of, image.Rect(150, 0, 250, 100), image.Pt(60, 60)},
		"another shape":  {of, image.Rect(0, 0, 100, 100), image.Pt(40, 50)},
		"no size":        {of, image.Rect(0, 0, 100, 100), image.Pt(0, 50)},
		"than was measu": {image.Pt(300, 300), image.Rect(0, 0, 100, 100), image.Pt(50, 50)},
	} {
		if _, err := Post(bytes.NewReader(b), int64(len(b)), catalogue.Picture, camera.Shot{}, cut); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v, want %q", cut, err, want)
		}
	}
	raw := []byte("II*\x00\x08\x00\x00\x00\x00\x00\x00\x00\x00\x00")
	if _, err := Post(bytes.NewReader(raw), int64(len(raw)), catalogue.Raw, camera.Shot{Width: 200, Height: 100}, Cut{of, image.Rect(0, 0, 50, 50), image.Pt(50, 50)}); err == nil {
		t.Error("a raw without pixels gave a post")
	}
}

// exiftool (Phil Harvey's) finds no more in a post than its file and its size.
func TestPostHoldsNoMetadata(t *testing.T) {
	tool, err := exec.LookPath("exiftool")
	if err != nil {
		t.Skip("exiftool is not installed")
	}
	b := asJPEG(t, flat(200, 100, color.RGBA{R: 90, A: 255}), 90)
	b = after(b, exifSpace(1, "R98"))
	_, out := posted(t, b, camera.Shot{}, Cut{image.Pt(200, 100), image.Rect(0, 0, 100, 100), image.Pt(50, 50)})
	tags := func(b []byte) string {
		name := filepath.Join(t.TempDir(), "post.jpg")
		if err := os.WriteFile(name, b, 0o600); err != nil {
			t.Fatal(err)
		}
		said, err := exec.Command(tool, "-G", "-EXIF:all", "-XMP:all", "-IPTC:all", "-MakerNotes:all", "-ICC_Profile:all", "-GPS:all", name).CombinedOutput()
		if err != nil && len(said) > 0 {
			t.Fatal(err, string(said))
		}
		return string(said)
	}
	if tags(b) == "" {
		t.Fatal("the original holds no metadata: the test can't fail")
	}
	if s := tags(out); s != "" {
		t.Errorf("the post holds metadata:\n%s", s)
	}
}

// A raw is posted from a preview of its full size, upright; one whose preview is
// too small for the part is refused.
func TestPostOfARaw(t *testing.T) {
	const w, h = 800, 600
	pix := scene(w, h)
	jpeg := asJPEG(t, paint(pix, w, h, toSelf, encodeSRGB), 95)
	for _, o := range []int{1, 6} {
		raw := withPreview(jpeg, w, h, o)
		shot, err := camera.Read(bytes.NewReader(raw), int64(len(raw)), catalogue.Raw)
		if err != nil {
			t.Fatal(err)
		}
		up, uw, uh := upright(pix, w, h, o)
		cut := Cut{Of: image.Pt(uw, uh), Rect: image.Rect(0, 0, 400, 500), To: image.Pt(320, 400)}
		out, err := Post(bytes.NewReader(raw), int64(len(raw)), catalogue.Raw, shot, cut)
		if err != nil {
			t.Fatal(err)
		}
		img, _, err := image.Decode(bytes.NewReader(out))
		if err != nil || img.Bounds().Size() != cut.To {
			t.Fatalf("orientation %d: %v, %v", o, img.Bounds(), err)
		}
		for _, at := range []image.Point{{60, 60}, {340, 60}, {60, 440}} {
			p := up[at.Y*uw+at.X]
			want := colour.SRGB.ToXYZ(colour.Linear{R: p[0], G: p[1], B: p[2]}).Lab()
			mid := image.Pt(at.X*4/5, at.Y*4/5)
			if d := colour.DeltaE2000(labOf(img, image.Rectangle{mid, mid}.Inset(-5)), want); d > 1 {
				t.Errorf("orientation %d at %v: ΔE00 %.2f", o, at, d)
			}
		}
	}
	small := withPreview(jpeg, 6*w, 6*h, 1)
	shot, err := camera.Read(bytes.NewReader(small), int64(len(small)), catalogue.Raw)
	if err != nil {
		t.Fatal(err)
	}
	_, err = Post(bytes.NewReader(small), int64(len(small)), catalogue.Raw, shot, Cut{Of: image.Pt(6*w, 6*h), Rect: image.Rect(0, 0, 2160, 2700), To: image.Pt(1080, 1350)})
	if err == nil || !strings.Contains(err.Error(), "a raw without pixels of its full size") {
		t.Errorf("a preview of a sixth: %v", err)
	}
}
