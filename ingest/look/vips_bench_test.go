//go:build unix

package look

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"coverplate/colour"
)

// BenchmarkAgainstVipsthumbnail holds the CPU of making a preview of 1024 pixels
// from a file's own pixels, reading, decoding, averaging and encoding, against
// that of `vipsthumbnail -s 1024` on the same file, alternating. Of each file
// the best of all rounds counts, on both sides. COVERPLATE_CARD is a folder of
// *.JPG (DEVELOPERS.md says how one is made).
func BenchmarkAgainstVipsthumbnail(b *testing.B) {
	tool, err := exec.LookPath("vipsthumbnail")
	if err != nil {
		b.Skip("vipsthumbnail is not installed (Debian: libvips-tools)")
	}
	files, _ := filepath.Glob(filepath.Join(os.Getenv("COVERPLATE_CARD"), "*.JPG"))
	if len(files) == 0 {
		b.Skip("COVERPLATE_CARD is no folder with *.JPG")
	}
	own := func() float64 {
		var u syscall.Rusage
		if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
			b.Fatal(err)
		}
		return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
	}
	ours, theirs := make([]float64, len(files)), make([]float64, len(files))
	best := func(of *float64, v float64) {
		if *of == 0 || v < *of {
			*of = v
		}
	}
	small := filepath.Join(b.TempDir(), "small.jpg")
	for b.Loop() {
		for i, name := range files {
			before := own()
			file, err := os.ReadFile(name)
			if err != nil {
				b.Fatal(err)
			}
			r := bytes.NewReader(file)
			h, err := headerOf(r, r.Size())
			if err != nil {
				b.Fatal(err)
			}
			img, err := decodeSmaller(r, r.Size(), h, enoughPixels)
			if err != nil {
				b.Fatal(err)
			}
			l := gather(img, img.Bounds(), curveOf(colour.SRGB), pictureSide, false)
			if _, err := l.picture(colour.SRGB, 1); err != nil {
				b.Fatal(err)
			}
			best(&ours[i], own()-before)
			cmd := exec.Command(tool, name, "-s", "1024", "-o", small)
			if out, err := cmd.CombinedOutput(); err != nil {
				b.Fatalf("%v: %s", err, out)
			}
			best(&theirs[i], (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds())
		}
	}
	var us, them float64
	for i := range files {
		us, them = us+ours[i], them+theirs[i]
	}
	b.ReportMetric(us/them, "of-vipsthumbnail")
	b.ReportMetric(us/float64(len(files))*1e3, "ms-CPU/file")
	b.ReportMetric(0, "ns/op")
}
