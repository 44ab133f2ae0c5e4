//go:build unix

package scaled

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
)

// BenchmarkAgainstDjpeg holds the CPU of reading and decoding a file to 1/4 and
// 1/2 against that of libjpeg-turbo's djpeg on the same file, alternating. Of
// each file the best of all rounds counts, on both sides. Files are those of the
// folder COVERPLATE_CARD, else two made ones of 24 MP, 4:2:2 and 4:2:0.
func BenchmarkAgainstDjpeg(b *testing.B) {
	tool, err := exec.LookPath("djpeg")
	if err != nil {
		b.Skip("djpeg is not installed (Debian: libjpeg-turbo-progs)")
	}
	var files []string
	if dir := os.Getenv("COVERPLATE_CARD"); dir != "" {
		files, _ = filepath.Glob(filepath.Join(dir, "*.JPG"))
	} else {
		img := textured(6000, 4000, 2)
		for _, s := range []string{"2x1", "2x2"} {
			name := filepath.Join(b.TempDir(), s+".JPG")
			if err := os.WriteFile(name, cjpeg(b, img, "-quality", "92", "-sample", s), 0o600); err != nil {
				b.Fatal(err)
			}
			files = append(files, name)
		}
	}
	if len(files) == 0 {
		b.Fatal("no *.JPG in COVERPLATE_CARD")
	}
	own := func() float64 {
		var u syscall.Rusage
		if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
			b.Fatal(err)
		}
		return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
	}
	for _, den := range []int{4, 2} {
		b.Run("1/"+strconv.Itoa(den), func(b *testing.B) {
			ours, theirs := make([]float64, len(files)), make([]float64, len(files))
			best := func(of *float64, v float64) {
				if *of == 0 || v < *of {
					*of = v
				}
			}
			for b.Loop() {
				for i, name := range files {
					before := own()
					file, err := os.ReadFile(name)
					if err != nil {
						b.Fatal(err)
					}
					if _, err := Decode(bytes.NewReader(file), den); err != nil {
						b.Fatal(err)
					}
					best(&ours[i], own()-before)
					cmd := exec.Command(tool, "-scale", "1/"+strconv.Itoa(den), "-outfile", os.DevNull, name)
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
			b.ReportMetric(us/them, "of-djpeg")
			b.ReportMetric(us/float64(len(files))*1e3, "ms-CPU/file")
			b.ReportMetric(0, "ns/op")
		})
	}
}
