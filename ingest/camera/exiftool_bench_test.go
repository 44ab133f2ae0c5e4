//go:build unix

package camera

import (
	"cmp"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"coverplate/ingest/catalogue"
)

// BenchmarkAgainstExiftool holds the CPU of opening files and reading their
// headers, and where their previews lie, against that of `exiftool -fast2 -json`,
// one process over all of them, so that it starts but once; alternating. The best
// of all rounds counts on both sides. Files are those of the folder
// COVERPLATE_CARD, else the photographs of ../shared/photos.
func BenchmarkAgainstExiftool(b *testing.B) {
	tool, err := exec.LookPath("exiftool")
	if err != nil {
		b.Skip("exiftool is not installed (Debian: libimage-exiftool-perl)")
	}
	dir := cmp.Or(os.Getenv("COVERPLATE_CARD"), filepath.Join("..", "..", "..", "shared", "photos", "*"))
	all, _ := filepath.Glob(filepath.Join(dir, "*.*"))
	var files []string
	for _, name := range all {
		switch KindOf(name) {
		case catalogue.JPEG, catalogue.HEIC, catalogue.Picture, catalogue.Raw:
			files = append(files, name)
		}
	}
	if len(files) == 0 {
		b.Skipf("no pictures in %s", dir)
	}
	own := func() float64 {
		var u syscall.Rusage
		if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
			b.Fatal(err)
		}
		return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
	}
	read := func(name string) (facts bool) {
		f, err := os.Open(name)
		if err != nil {
			b.Fatal(err)
		}
		defer f.Close()
		size, err := f.Seek(0, io.SeekEnd)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := Read(f, size, KindOf(name)); err != nil {
			return false
		}
		_, err = Previews(f, size, KindOf(name))
		return err == nil
	}
	var us, them float64
	best := func(of *float64, v float64) {
		if *of == 0 || v < *of {
			*of = v
		}
	}
	for b.Loop() {
		before, facts := own(), 0
		for _, name := range files {
			if read(name) {
				facts++
			}
		}
		best(&us, own()-before)
		if facts < len(files)/2 {
			b.Fatalf("%d of %d files were read", facts, len(files))
		}
		cmd := exec.Command(tool, append([]string{"-fast2", "-json"}, files...)...)
		out, err := cmd.Output()
		if len(out) < 100*len(files) { // it exits 1 where one of them is no picture
			b.Fatalf("exiftool said %d bytes of %d files: %v", len(out), len(files), err)
		}
		best(&them, (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds())
	}
	b.ReportMetric(us/them, "of-exiftool")
	b.ReportMetric(us/float64(len(files))*1e6, "µs-CPU/file")
	b.ReportMetric(float64(len(files)), "files")
	b.ReportMetric(0, "ns/op")
}
