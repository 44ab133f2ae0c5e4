package ingest

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// A card of 24 MP pictures, taken by eight workers, never needs more than 150 MB:
// what is looked at at a time is bounded, whatever the card's size.
func TestMemoryIsBounded(t *testing.T) {
	if testing.Short() {
		t.Skip("decodes large pictures")
	}
	if peak() == 0 {
		t.Skip("/proc/self/status does not tell the most memory here")
	}
	img := image.NewYCbCr(image.Rect(0, 0, 6000, 4000), image.YCbCrSubsampleRatio422)
	for i := range img.Y {
		img.Y[i] = uint8(i%6000/24 + i>>7&7)
	}
	for i := range img.Cb {
		img.Cb[i], img.Cr[i] = uint8(100+i>>10&31), uint8(120+i&15)
	}
	var whole bytes.Buffer
	if err := jpeg.Encode(&whole, img, &jpeg.Options{Quality: 80}); err != nil {
		t.Fatal(err)
	}
	card, shoot := filepath.Join(t.TempDir(), "A001"), t.TempDir()
	for i := range 10 { // what stands behind a picture's end makes another content
		put(t, card, fmt.Sprintf("DCIM/100ABCDE/DSC_%04d.JPG", i), append(bytes.Clone(whole.Bytes()), byte(i)))
	}
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childShoot+"="+shoot, childCard+"="+card, childWorkers+"=8")
	out, err := cmd.CombinedOutput()
	var most int
	if _, scan := fmt.Sscan(string(out), &most); err != nil || scan != nil {
		t.Fatalf("%v: %s", err, out)
	}
	b := &bench{TB: t, shoot: shoot}
	b.open()
	defer b.store.Close()
	for _, f := range b.frames() {
		if f.Look.Preview != "decoded" {
			t.Fatalf("%s: preview %q, %s", f.Path(), f.Look.Preview, f.Unread)
		}
	}
	if n := len(b.frames()); n != 10 || most < 20 || most > 150 {
		t.Errorf("%d frames took up to %d MB, want 10 within 150", n, most)
	}
	t.Logf("%d MB", most)
}
