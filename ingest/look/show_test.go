package look

import (
	"bytes"
	"image/color"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// The camera's preview is kept coded as it is, and shown as At shows it: turned,
// in its colours, as small.
func TestEmbeddedIsTheCamerasOwn(t *testing.T) {
	photo := asJPEG(t, flat(3000, 2000, red), 90)
	second := asJPEG(t, paint(scene(1620, 1080), 1620, 1080, [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, encodeSRGB), 90)
	upright := asJPEG(t, flat(1080, 1620, blue), 90)
	for _, c := range []struct {
		name   string
		second []byte
		shot   camera.Shot
		kept   bool
	}{
		{"as it is", second, camera.Shot{}, true},
		{"turned", second, camera.Shot{Orientation: 6}, true},
		{"mirrored", second, camera.Shot{Orientation: 2}, true},
		{"upright already", upright, camera.Shot{Orientation: 8}, true},
		{"Adobe RGB by Exif", second, camera.Shot{Orientation: 3, ColourSpace: "Adobe RGB (1998)", SpaceBy: "Exif"}, true},
		{"of a space that it could not tell", second, camera.Shot{ColourSpace: "Display P3", SpaceBy: "container"}, false},
		{"a pixel too small", asJPEG(t, flat(999, 666, blue), 90), camera.Shot{}, false},
		{"of another shape", asJPEG(t, flat(1440, 1080, blue), 90), camera.Shot{}, false},
		{"too large for a page", append(bytes.Clone(second), make([]byte, mostEmbedded)...), camera.Shot{}, false},
		{"cut off", second[:len(second)/2], camera.Shot{}, false},
	} {
		b := withMPF(photo, c.second)
		r := bytes.NewReader(b)
		got, err := Embedded(r, r.Size(), catalogue.JPEG, c.shot)
		if err != nil || (got != nil) != c.kept {
			t.Errorf("%s: %d bytes, %v; want one: %v", c.name, len(got), err, c.kept)
			continue
		}
		if got == nil {
			continue
		}
		scan := c.second[bytes.Index(c.second, []byte{0xFF, 0xDA}):]
		if !bytes.HasSuffix(got, scan) {
			t.Errorf("%s: its coded pixels are not the camera's", c.name)
		}
		shown, err := Kept(got)
		if err != nil {
			t.Errorf("%s: Kept: %v", c.name, err)
			continue
		}
		seen, err := at(b, catalogue.JPEG, c.shot)
		if err != nil || seen.Look.Preview != fromMPF || !bytes.Equal(shown, seen.JPEG) {
			t.Errorf("%s: it is not shown as At shows it (%s, %v)", c.name, seen.Look.Preview, err)
		}
		again, err := Kept(shown)
		if err != nil || !bytes.Equal(again, shown) {
			t.Errorf("%s: what may be shown is not left as it is: %v", c.name, err)
		}
	}
}

// Show makes the preview that At makes.
func TestShowIsAtWithoutMeasures(t *testing.T) {
	for name, b := range map[string][]byte{
		"JPEG":             asJPEG(t, flat(3000, 2000, red), 90),
		"JPEG and preview": withMPF(asJPEG(t, flat(3000, 2000, red), 90), asJPEG(t, flat(1500, 1000, blue), 90)),
		"PNG":              asPNG(t, flat(300, 200, color.RGBA{R: 9, G: 200, B: 30, A: 255})),
		"damaged":          asJPEG(t, flat(3000, 2000, red), 90)[:3000],
	} {
		r := bytes.NewReader(b)
		got, err := Show(r, r.Size(), catalogue.JPEG, camera.Shot{Orientation: 8})
		seen, want := at(b, catalogue.JPEG, camera.Shot{Orientation: 8})
		if (err == nil) != (want == nil) || !bytes.Equal(got, seen.JPEG) || err == nil && got == nil {
			t.Errorf("%s: %d bytes, %v; At has %d, %v", name, len(got), err, len(seen.JPEG), want)
		}
	}
}

// On photographs of many cameras: what Embedded gives is shown as At shows the
// photo, and holds no serial number, place or maker's note as exiftool reads it.
func TestEmbeddedOfRealPhotographs(t *testing.T) {
	files, err := filepath.Glob("../../../shared/photos/raw/*")
	if err != nil || len(files) == 0 {
		t.Skip("../shared is not here")
	}
	n, dir := 0, t.TempDir()
	for _, path := range files {
		if kind := camera.KindOf(path); kind != catalogue.Raw && kind != catalogue.JPEG {
			continue
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		r := bytes.NewReader(b)
		shot, err := camera.Read(r, r.Size(), catalogue.Raw)
		if err != nil {
			continue
		}
		got, err := Embedded(r, r.Size(), catalogue.Raw, shot)
		if err != nil || got == nil {
			continue
		}
		n++
		shown, err := Kept(got)
		seen, want := At(r, r.Size(), catalogue.Raw, shot)
		if err != nil || want != nil || !bytes.Equal(shown, seen.JPEG) {
			t.Errorf("%s: it is not shown as At shows it: %v, %v", filepath.Base(path), err, want)
		}
		if err := os.WriteFile(filepath.Join(dir, filepath.Base(path)+".jpg"), got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d of %d files embed a preview that may be shown", n, len(files))
	if n == 0 {
		t.Fatal("none of the raws has a preview to show")
	}
	if _, err := exec.LookPath("exiftool"); err != nil {
		t.Skip("exiftool is not here")
	}
	out, err := exec.Command("exiftool", "-q", "-s", "-G1", "-Serial*", "-*Serial*", "-GPS*", "-MakerNotes:all", "-Artist", "-OwnerName", "-XMP:all", "-ext", "jpg", dir).CombinedOutput()
	for line := range strings.Lines(string(out)) {
		if !strings.HasPrefix(line, "====") {
			t.Errorf("a preview that is kept says %s", strings.TrimSpace(line))
		}
	}
	if err != nil && len(out) > 0 {
		t.Errorf("exiftool: %v", err)
	}
}
