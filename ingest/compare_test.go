package ingest

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// compareFiles, where set, is how many files of 24 MP TestAgainstGeneralTools
// takes.
const compareFiles = "COVERPLATE_COMPARE"

// photograph is a picture of 6000 × 4000 with the texture of one, 1/f, and grain.
func photograph(seed uint64) *image.YCbCr {
	const w, h = 6000, 4000
	random := rand.New(rand.NewPCG(seed, 9))
	img := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio422)
	light := make([]float32, w*h)
	for cell := 1024; cell >= 2; cell /= 2 {
		gw, gh := w/cell+2, h/cell+2
		grid := make([]float32, gw*gh)
		for i := range grid {
			grid[i] = float32(random.NormFloat64() * 3.5 * math.Pow(float64(cell), 0.35))
		}
		for y := range h {
			j, fy := y/cell, float32(y%cell)/float32(cell)
			line := light[y*w : (y+1)*w]
			for x := range line {
				i, fx := x/cell, float32(x%cell)/float32(cell)
				a, b := grid[j*gw+i], grid[j*gw+i+1]
				c, d := grid[(j+1)*gw+i], grid[(j+1)*gw+i+1]
				line[x] += (a*(1-fx)+b*fx)*(1-fy) + (c*(1-fx)+d*fx)*fy
			}
		}
	}
	for i, v := range light {
		img.Y[i] = uint8(min(255, max(0, 120+v+float32(random.NormFloat64()*2))))
	}
	for i := range img.Cb {
		v := light[(i/(w/2))*w+i%(w/2)*2]
		img.Cb[i], img.Cr[i] = uint8(128+min(40, max(-40, v/4))), uint8(128-min(40, max(-40, v/5)))
	}
	return img
}

// withPreview puts a preview behind a JPEG and an index of both in it, as CIPA
// DC-007 (MPF) has it: APP2 with two entries, offsets from its own header.
func withPreview(whole, preview []byte) []byte {
	mpf := []byte("MPF\x00II*\x00\x08\x00\x00\x00")
	le := func(b []byte, n int, v uint32) []byte {
		for range n {
			b = append(b, byte(v))
			v >>= 8
		}
		return b
	}
	entry := func(b []byte, tag, kind uint32, count, value uint32) []byte {
		return le(le(le(le(b, 2, tag), 2, kind), 4, count), 4, value)
	}
	mpf = le(mpf, 2, 3)
	mpf = entry(mpf, 0xb000, 7, 4, 0x30303130) // "0100"
	mpf = entry(mpf, 0xb001, 4, 1, 2)
	mpf = entry(mpf, 0xb002, 7, 32, 50)
	mpf = le(mpf, 4, 0)
	at := 2 + 4 + 4 // of the MP header in the file: SOI, marker and length, "MPF\0"
	size := len(whole) + 4 + len(mpf) + 32
	mpf = le(le(le(le(mpf, 4, 0x030000), 4, uint32(size)), 4, 0), 4, 0)
	mpf = le(le(le(le(mpf, 4, 0x010002), 4, uint32(len(preview))), 4, uint32(size-at)), 4, 0)
	out := append([]byte{0xff, 0xd8, 0xff, 0xe2, byte((len(mpf) + 2) >> 8), byte(len(mpf) + 2)}, mpf...)
	return append(append(out, whole[2:]...), preview...)
}

// TestAgainstGeneralTools holds the CPU of an ingest, all of it, against what a
// studio would script of general tools, alternating on the same card. It asserts
// nothing of speed, which a test can't: DEVELOPERS.md has the figures.
func TestAgainstGeneralTools(t *testing.T) {
	n, err := strconv.Atoi(os.Getenv(compareFiles))
	if err != nil || n < 1 {
		t.Skipf("set %s to the number of files, 8 say", compareFiles)
	}
	for _, tool := range []string{"exiftool", "sha256sum", "cp", "vipsthumbnail"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Fatalf("%s is wanted (Debian: libimage-exiftool-perl, coreutils, libvips-tools)", tool)
		}
	}
	cards := map[string]string{"with previews": t.TempDir(), "without": t.TempDir()}
	for i := range n {
		img := photograph(uint64(i))
		var b, small bytes.Buffer
		if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 92}); err != nil {
			t.Fatal(err)
		}
		p := image.NewRGBA(image.Rect(0, 0, 1620, 1080))
		for y := range 1080 {
			for x := range 1620 {
				p.Set(x, y, color.RGBAModel.Convert(img.At(x*6000/1620, y*4000/1080)))
			}
		}
		if err := jpeg.Encode(&small, p, &jpeg.Options{Quality: 85}); err != nil {
			t.Fatal(err)
		}
		one := body{"Model A", "111", fmt.Sprintf("2026:03:04 12:00:%02d", i), byte(i)}
		exif := append([]byte("Exif\x00\x00"), one.tiff()...)
		whole := append([]byte{0xff, 0xd8, 0xff, 0xe1, byte((len(exif) + 2) >> 8), byte(len(exif) + 2)}, exif...)
		whole = append(whole, b.Bytes()[2:]...)
		put(t, cards["without"], fmt.Sprintf("DCIM/100ABCDE/DSC_%04d.JPG", i), whole)
		put(t, cards["with previews"], fmt.Sprintf("DCIM/100ABCDE/DSC_%04d.JPG", i), withPreview(whole, small.Bytes()))
	}
	var said string
	cpu := func(env []string, name string, args ...string) float64 {
		cmd := exec.Command(name, args...)
		cmd.Env = append(os.Environ(), env...)
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v: %s", name, err, out)
		}
		said = strings.TrimSpace(string(out))
		return (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds()
	}
	for _, kind := range []string{"with previews", "without"} {
		files, _ := filepath.Glob(filepath.Join(cards[kind], "DCIM", "*", "*.JPG"))
		list := "'" + strings.Join(files, "' '") + "'"
		script := func(s string) float64 {
			dir := t.TempDir()
			return cpu([]string{"D=" + dir}, "sh", "-c", "cd $D && mkdir c t && "+s)
		}
		copied := "sha256sum " + list + " > s && cp " + list + " c && sha256sum c/* > r"
		for round := range 2 {
			ours := cpu([]string{childShoot + "=" + t.TempDir(), childCard + "=" + cards[kind]}, os.Args[0])
			var road float64
			var most int
			if _, err := fmt.Sscan(said, &road, &most); err != nil {
				t.Fatalf("the ingest said %q, not its CPU until the card was let go and its memory", said)
			}
			a := script("sha256sum " + list + " > s && cp " + list + " c")
			b := script("exiftool -csv " + list + " > x.csv && " + copied + " && for f in c/*; do vipsthumbnail $f -s 1024 -o $D/t/%s.jpg; done")
			c := script("exiftool -csv " + list + " > x.csv && " + copied + " && exiftool -b -PreviewImage -w $D/t/%f.jpg c")
			t.Logf("%s, round %d, CPU seconds a file until the card is let go %.3f: %.2f of (a), %.2f of (b), %.2f of (c); peak memory with all measures %d MB", kind, round+1, road/float64(n), road/a, road/b, road/c, most)
			t.Logf("%s, round %d, CPU seconds a file: ingest with all its measures %.3f; (a) sha256sum, cp %.3f; (b) script with vipsthumbnail %.3f; (c) script with exiftool's preview %.3f; ratios %.2f, %.2f, %.2f",
				kind, round+1, ours/float64(n), a/float64(n), b/float64(n), c/float64(n), ours/a, ours/b, ours/c)
		}
	}
}
