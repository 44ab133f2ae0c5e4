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

// compareFiles is how many files of 24 MP BenchmarkAgainstGeneralTools takes.
const compareFiles = 16

// compareCards makes one card whose files have an embedded preview and one
// whose files have none, of the same photographs.
func compareCards(b *testing.B) (with, without string) {
	with, without = filepath.Join(b.TempDir(), "A001"), filepath.Join(b.TempDir(), "A002")
	var big, small [2][]byte
	for i := range big {
		img := photograph(uint64(i))
		var whole, preview bytes.Buffer
		if err := jpeg.Encode(&whole, img, &jpeg.Options{Quality: 92}); err != nil {
			b.Fatal(err)
		}
		p := image.NewRGBA(image.Rect(0, 0, 1620, 1080))
		for y := range 1080 {
			for x := range 1620 {
				p.Set(x, y, color.RGBAModel.Convert(img.At(x*6000/1620, y*4000/1080)))
			}
		}
		if err := jpeg.Encode(&preview, p, &jpeg.Options{Quality: 85}); err != nil {
			b.Fatal(err)
		}
		big[i], small[i] = whole.Bytes(), preview.Bytes()
	}
	for i := range compareFiles {
		one := body{"Model A", "111", fmt.Sprintf("2026:03:04 12:00:%02d", i), byte(i)}
		exif := append([]byte("Exif\x00\x00"), one.tiff()...)
		whole := append([]byte{0xff, 0xd8, 0xff, 0xe1, byte((len(exif) + 2) >> 8), byte(len(exif) + 2)}, exif...)
		whole = append(whole, big[i%2][2:]...)
		name := fmt.Sprintf("DCIM/100ABCDE/DSC_%04d.JPG", i)
		put(b, without, name, whole)
		put(b, with, name, withPreview(whole, small[i%2]))
	}
	return with, without
}

// BenchmarkAgainstGeneralTools holds the CPU of an ingest, of its whole process,
// against what a studio would script of general tools, in turn on the same card,
// copies verified by reading back on both sides. Contestants that do the same:
// "shown" copies, verifies and keeps previews, as the scripts do; "measured"
// looks at the pixels besides, which no script does. The figures are ratios of
// each one's best round: shown/a is "shown" over script (a), and so on; -v has
// the seconds. It takes some minutes: -benchtime 3x.
func BenchmarkAgainstGeneralTools(b *testing.B) {
	for _, tool := range []string{"exiftool", "sha256sum", "cp", "vipsthumbnail"} {
		if _, err := exec.LookPath(tool); err != nil {
			b.Skipf("%s is wanted (Debian: libimage-exiftool-perl, coreutils, libvips-tools)", tool)
		}
	}
	with, without := compareCards(b)
	b.Run("embedded", func(b *testing.B) { compare(b, with, compareFiles) })
	b.Run("none", func(b *testing.B) { compare(b, without, 0) })
}

// compare lets the contestants take card by turns; so many of its files have an
// embedded preview, which script (c) must find.
func compare(b *testing.B, card string, embedded int) {
	cpu := func(env []string, name string, args ...string) float64 {
		cmd := exec.Command(name, args...)
		cmd.Env = append(os.Environ(), env...)
		if out, err := cmd.CombinedOutput(); err != nil {
			b.Fatalf("%s: %v: %s", name, err, out)
		}
		return (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds()
	}
	files, err := filepath.Glob(filepath.Join(card, "DCIM", "*", "*.JPG"))
	if err != nil || len(files) != compareFiles {
		b.Fatalf("%d files, %v", len(files), err)
	}
	list := "'" + strings.Join(files, "' '") + "'"
	script := func(s string) func() float64 {
		return func() float64 { return cpu([]string{"D=" + b.TempDir()}, "sh", "-c", "cd $D && mkdir c t && "+s) }
	}
	ours := func(env ...string) func() float64 {
		return func() float64 {
			return cpu(append(env, childShoot+"="+b.TempDir(), childCard+"="+card), os.Args[0])
		}
	}
	copied := "exiftool -csv " + list + " > x.csv && sha256sum " + list + " > s && cp " + list + " c && sha256sum c/* > r && "
	contestants := []struct {
		name string
		run  func() float64
		best float64
	}{
		{name: "a", run: script("sha256sum " + list + " > s && cp " + list + " c")},
		{name: "shown", run: ours(childLater + "=1")},
		{name: "b", run: script(copied + "for f in c/*; do vipsthumbnail $f -s 1024 -o $D/t/%s.jpg; done")},
		{name: "measured", run: ours()},
		{name: "c", run: script(copied + "exiftool -b -PreviewImage -w $D/t/%f.jpg c; test $(ls t | wc -l) -eq " + strconv.Itoa(embedded))},
	}
	for b.Loop() {
		for i := range contestants {
			c := &contestants[i]
			if took := c.run(); c.best == 0 || took < c.best {
				c.best = took
			}
		}
	}
	best := map[string]float64{}
	for _, c := range contestants {
		best[c.name] = c.best
		b.Logf("%s: %.3f s of CPU a file", c.name, c.best/compareFiles)
	}
	for _, of := range []string{"shown", "measured"} {
		for _, to := range []string{"a", "b", "c"} {
			b.ReportMetric(best[of]/best[to], of+"/"+to)
		}
	}
	b.ReportMetric(0, "ns/op")
}
