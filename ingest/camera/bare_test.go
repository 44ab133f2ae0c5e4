package camera

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"coverplate/ingest/catalogue"
)

// tool is a program of Debian that a test reads with; it may be wanting on a
// desk and not in CI.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil && os.Getenv("CI") == "true" {
		t.Fatalf("%s is wanted", name)
	} else if err != nil {
		t.Skipf("%s is not here", name)
	}
	return path
}

func grey(t testing.TB) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 96, 64))
	for i := range 96 * 64 {
		img.SetRGBA(i%96, i/96, color.RGBA{uint8(i), uint8(i / 96 * 4), 90, 255})
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// What exiftool wrote into a JPEG of place, serial numbers and names is gone,
// as exiftool reads it; what says how it was taken is there, and djpeg decodes
// the same pixels.
func TestBaredHoldsNoPlaceOrSerial(t *testing.T) {
	exiftool, djpeg := tool(t, "exiftool"), tool(t, "djpeg")
	dir := t.TempDir()
	from, to := filepath.Join(dir, "from.jpg"), filepath.Join(dir, "to.jpg")
	if err := os.WriteFile(from, grey(t), 0o644); err != nil {
		t.Fatal(err)
	}
	secrets := []string{"-GPSLatitude=60.39", "-GPSLatitudeRef=N", "-GPSLongitude=5.32", "-GPSLongitudeRef=E", "-SerialNumber=SECRET1", "-LensSerialNumber=SECRET2",
		"-OwnerName=SECRET3", "-Artist=SECRET4", "-IFD0:Copyright=SECRET5", "-UserComment=SECRET6", "-ImageUniqueID=SECRET7", "-ImageDescription=SECRET8",
		"-XMP-exif:GPSLatitude=60.39", "-XMP-aux:SerialNumber=SECRET9", "-IPTC:City=SECRET10", "-Comment=SECRET11", "-CameraSerialNumber=SECRET12"}
	kept := []string{"-Make=Skarvoy", "-Model=Skarvoy S6", "-Orientation#=6", "-ExposureTime=1/125", "-FNumber=5.6", "-ISO=200", "-FocalLength=90",
		"-LensModel=Macro 90", "-DateTimeOriginal=2026:03:04 10:00:00", "-OffsetTimeOriginal=+01:00", "-ColorSpace#=1", "-InteropIndex=R03"}
	for _, order := range []string{"II", "MM"} {
		args := append(append([]string{"-q", "-overwrite_original", "-ExifByteOrder=" + order}, secrets...), append(kept, from)...)
		if err := os.WriteFile(from, grey(t), 0o644); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command(exiftool, args...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		b, err := os.ReadFile(from)
		if err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(string(b), "SECRET"); n < 10 {
			t.Fatalf("only %d secrets were written", n)
		}
		tail := append(bytes.Clone(b), "SECRET behind the picture"...)
		got, err := Bared(tail, []byte("<?xpacket?>"))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(to, got, 0o644); err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(got, []byte("SECRET")) {
			t.Errorf("%s: a secret is left", order)
		}
		read := func(args ...string) string {
			out, err := exec.Command(exiftool, args...).CombinedOutput()
			if err != nil {
				t.Errorf("%v: %s", err, out)
			}
			return string(out)
		}
		if all := read("-a", "-u", "-G1", "-s", "--System:all", to); strings.Contains(all, "GPS") || strings.Contains(all, "Serial") || strings.Contains(all, "Artist") {
			t.Errorf("%s: left:\n%s", order, all)
		}
		wants := []string{"-Make", "-Model", "-Orientation", "-ExposureTime", "-FNumber", "-ISO", "-FocalLength", "-LensModel", "-DateTimeOriginal",
			"-OffsetTimeOriginal", "-ColorSpace", "-InteropIndex", "-ExifByteOrder"}
		if was, is := read(append(wants, from)...), read(append(wants, to)...); was != is || strings.Count(was, "\n") != len(wants) {
			t.Errorf("%s: was\n%sis\n%s", order, was, is)
		}
		var pixels [2][]byte
		for i, f := range []string{from, to} {
			if pixels[i], err = exec.Command(djpeg, "-pnm", f).Output(); err != nil {
				t.Fatal(err)
			}
		}
		if len(pixels[0]) < 96*64*3 || !bytes.Equal(pixels[0], pixels[1]) {
			t.Errorf("%s: djpeg decodes other pixels", order)
		}
	}
}

func TestBaredRefuses(t *testing.T) {
	b := grey(t)
	for name, in := range map[string][]byte{
		"nothing": nil, "no JPEG": []byte("GIF89a"), "a head alone": b[:300], "cut in its pixels": b[:len(b)-9], "no picture": {0xFF, 0xD8, 0xFF, 0xD9},
	} {
		var f *FormatError
		if _, err := Bared(in, nil); !errors.As(err, &f) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := Bared(b, make([]byte, 70_000)); err == nil {
		t.Error("a packet of 70 kB fits in no segment")
	}
}

func FuzzBared(f *testing.F) {
	f.Add(grey(f))
	f.Fuzz(func(t *testing.T, b []byte) {
		out, err := Bared(b, nil)
		if err != nil {
			return
		}
		again, err := Bared(out, nil)
		if err != nil || !bytes.Equal(again, out) {
			t.Errorf("bared twice is another: %v", err)
		}
		if shot, err := Read(bytes.NewReader(out), int64(len(out)), catalogue.JPEG); err == nil && shot.Camera.Serial != "" {
			t.Error("a serial number is left")
		}
	})
}
