package ingest

import (
	"bytes"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"testing"

	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

// withEmbedded is a picture of b in which the camera put a preview.
func (b body) withEmbedded(t testing.TB) (whole, preview []byte) {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 1200, 800))
	for i := range img.Pix {
		img.Pix[i] = byte(i/1200/8 + i%1200/16)
	}
	colour := image.NewYCbCr(img.Rect, image.YCbCrSubsampleRatio420)
	copy(colour.Y, img.Pix)
	for i := range colour.Cb {
		colour.Cb[i], colour.Cr[i] = 100, 140
	}
	var small bytes.Buffer
	if err := jpeg.Encode(&small, colour, &jpeg.Options{Quality: 80}); err != nil {
		t.Fatal(err)
	}
	return withPreview(b.jpeg(t), small.Bytes()), small.Bytes()
}

// kept is the preview that is kept of a frame; nil none.
func (b *bench) kept(f catalogue.Frame) []byte {
	b.Helper()
	if f.Look.Picture == "" {
		return nil
	}
	out, err := os.ReadFile(onDisk(b.shoot, f.Look.Picture))
	if err != nil {
		b.Error(err)
	}
	return out
}

// When a card is let go, pictures can be shown already: the camera's own. They
// are measured after, and then kept as every other.
func TestPicturesAreShownBeforeTheyAreMeasured(t *testing.T) {
	b, card := newBench(t), filepath.Join(t.TempDir(), "A001")
	whole, preview := bodyA.withEmbedded(t)
	put(t, card, "DCIM/100ABCDE/DSC_0001.JPG", whole)
	put(t, card, "DCIM/100ABCDE/DSC_0002.JPG", bodyB.jpeg(t))
	scan := preview[bytes.Index(preview, []byte{0xFF, 0xDA}):]
	told := false
	_, err := Run(t.Context(), b.store, Options{Shoot: b.shoot, Sources: []string{card}}, func(e Event) {
		if told || e.ToMeasure == 0 {
			return
		}
		told = true
		for _, f := range b.frames() {
			got := b.kept(f)
			switch {
			case f.Measured != 0 || f.Look.Preview != "":
				t.Errorf("%s is measured already", f.Path())
			case f.Files[0].Name == "DSC_0002.JPG" && got != nil:
				t.Errorf("%s has a picture, and none was embedded", f.Path())
			case f.Files[0].Name == "DSC_0001.JPG" && !bytes.HasSuffix(got, scan):
				t.Errorf("%s: its picture is not the camera's own", f.Path())
			}
		}
	})
	if err != nil || !told {
		t.Fatalf("told of the frames to measure: %v, %v", told, err)
	}
	for _, f := range b.frames() {
		got := b.kept(f)
		if shown, err := look.Kept(got); f.Measured != Measures || err != nil || !bytes.Equal(shown, got) {
			t.Errorf("%s: measured %d, its picture is not one to be shown: %v", f.Path(), f.Measured, err)
		}
	}
	b.sound()
}

// With Later nothing is measured, and everything can be shown; the next run
// measures.
func TestLater(t *testing.T) {
	b, card := newBench(t), filepath.Join(t.TempDir(), "A001")
	whole, _ := bodyA.withEmbedded(t)
	put(t, card, "DCIM/100ABCDE/DSC_0001.JPG", whole)
	put(t, card, "DCIM/100ABCDE/DSC_0002.JPG", bodyB.jpeg(t))
	put(t, card, "DCIM/100ABCDE/DSC_0003.JPG", bodyB.jpeg(t)[:1500])
	for range 2 { // the second has nothing to do
		sum, events := b.ingest(Options{Later: true}, card)
		if sum.Waiting != 3 || sum.Measured != 0 || sum.Renewed != 0 {
			t.Errorf("%+v; want three frames that wait", sum)
		}
		for _, e := range events {
			if e.Measured+e.ToMeasure+e.Renewed+e.ToRenew != 0 {
				t.Errorf("something is measured: %+v", e)
			}
		}
	}
	for i, f := range b.frames() {
		shown, err := look.Kept(b.kept(f))
		if broken := f.Files[0].Name == "DSC_0003.JPG"; f.Measured != 0 || f.Look.Preview != "" || len(f.Look.Palette) != 0 || (err != nil || shown == nil || f.Unread != "") != broken {
			t.Errorf("frame %d, %s: %d bytes to show, measured %d, unread %q, %v", i, f.Path(), len(shown), f.Measured, f.Unread, err)
		}
	}
	sum, err := Renew(t.Context(), b.store, b.shoot, 2, nil)
	if err != nil || sum.Measured != 3 || sum.Renewed != 0 {
		t.Errorf("Renew: %+v, %v; want three first looks", sum, err)
	}
	for _, f := range b.frames() {
		if f.Measured != Measures || (len(f.Look.Palette) == 0) != (f.Files[0].Name == "DSC_0003.JPG") {
			t.Errorf("%s: measured %d, palette of %d, %s", f.Path(), f.Measured, len(f.Look.Palette), f.Unread)
		}
	}
	if sum, _ := b.ingest(Options{Later: true}, card); sum.Waiting != 0 {
		t.Errorf("%d frames wait, and all were measured", sum.Waiting)
	}
	b.sound()
}
