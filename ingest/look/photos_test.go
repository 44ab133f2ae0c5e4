package look

import (
	"bytes"
	"errors"
	"image/jpeg"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// atFile reads a file as ingest does.
func atFile(t *testing.T, path string) (Seen, camera.Shot, error) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	kind := camera.KindOf(path)
	shot, _ := camera.Read(bytes.NewReader(b), int64(len(b)), kind)
	seen, err := At(bytes.NewReader(b), int64(len(b)), kind, shot)
	return seen, shot, err
}

// sound holds whatever At returned to its promises.
func sound(t *testing.T, seen Seen, err error) {
	t.Helper()
	var f *camera.FormatError
	var u *camera.UnsupportedError
	if err != nil && !errors.As(err, &f) && !errors.As(err, &u) {
		t.Errorf("an error without a type: %v", err)
	}
	if err != nil && strings.Contains(err.Error(), "gave up") {
		t.Errorf("panicked: %v", err)
	}
	l := seen.Look
	if err == nil && (l.Preview == "" || l.Width <= 0 && l.Preview == fromFile || seen.JPEG == nil) {
		t.Errorf("no error, and preview %q, size %d × %d, %d bytes of picture", l.Preview, l.Width, l.Height, len(seen.JPEG))
	}
	damaged := l.Preview == catalogue.Damaged
	if damaged && err == nil {
		t.Error("damaged, and no error")
	}
	if (l.Preview == "") != (len(l.Palette) == 0) && !damaged {
		t.Errorf("preview %q with a palette of %d", l.Preview, len(l.Palette))
	}
	var sum float64
	for _, s := range l.Palette {
		sum += s.Share
	}
	if len(l.Palette) > 0 && !(math.Abs(sum-1) < 1e-9) {
		t.Errorf("shares of the palette sum to %v", sum)
	}
	if (seen.JPEG != nil) != (l.Preview != "" && l.Preview != fromThumbnail) && !damaged {
		t.Errorf("preview %q with %d bytes of picture", l.Preview, len(seen.JPEG))
	}
	if seen.JPEG != nil {
		c, err := jpeg.DecodeConfig(bytes.NewReader(seen.JPEG))
		if err != nil || max(c.Width, c.Height) > pictureSide {
			t.Errorf("picture of %d × %d, %v", c.Width, c.Height, err)
		}
		if l.Width > 0 && l.Preview == fromFile && !sameShape(c.Width, c.Height, l.Width, l.Height) {
			t.Errorf("picture of %d × %d of a photo of %d × %d", c.Width, c.Height, l.Width, l.Height)
		}
		for _, mark := range []string{"Exif\x00", "http://ns.adobe.com", "ICC_PROFILE", "MPF\x00", "Photoshop"} {
			if bytes.Contains(seen.JPEG, []byte(mark)) {
				t.Errorf("metadata %q in the picture", mark)
			}
		}
	}
}

// Every real photograph is read or refused in words, in bounded time.
func TestRealPhotographs(t *testing.T) {
	for _, dir := range []string{"food", "exif", "corrupt", "raw", "heic"} {
		t.Run(dir, func(t *testing.T) {
			root := filepath.Join("..", "..", "..", "shared", "photos", dir)
			entries, err := os.ReadDir(root)
			if err != nil {
				t.Skipf("no photographs at %s: the folder is not part of the project", root)
			}
			count, longest, slowest := map[string]int{}, time.Duration(0), ""
			for i, e := range entries {
				if camera.KindOf(e.Name()) == catalogue.Other {
					continue
				}
				if sound := dir == "food" || dir == "exif"; sound && i%24 != 0 && os.Getenv("COVERPLATE_ALL_PHOTOS") == "" {
					continue // one in 24 of the sound ones; all take half a minute, ten with -race
				}
				if info, err := e.Info(); err == nil && dir == "heic" && info.Size() > 100<<10 && i%3 != 0 && os.Getenv("COVERPLATE_ALL_PHOTOS") == "" {
					continue // one in three of the large: some two seconds each
				}
				t.Run(e.Name(), func(t *testing.T) {
					start := time.Now()
					seen, _, err := atFile(t, filepath.Join(root, e.Name()))
					took := time.Since(start)
					if took > longest {
						longest, slowest = took, e.Name()
					}
					if took > 60*time.Second {
						t.Errorf("took %v", took)
					}
					sound(t, seen, err)
					key := seen.Look.Preview
					if err != nil {
						key += " refused"
						t.Logf("%q %v", seen.Look.Preview, err)
					}
					count[key]++
					if dir == "food" && err != nil {
						t.Errorf("a whole photograph was refused: %v", err)
					}
				})
			}
			t.Logf("%s: %v, longest %v (%s)", dir, count, longest, slowest)
		})
	}
}

// The samples that the goexif module carries: many are heads only.
func TestSamplesOfGoexif(t *testing.T) {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/rwcarlsen/goexif").Output()
	dir := filepath.Join(strings.TrimSpace(string(out)), "exif", "samples")
	if err != nil {
		t.Skipf("the module cache cannot be asked: %v", err)
	}
	files, _ := filepath.Glob(filepath.Join(dir, "*.[jJ][pP][gG]"))
	if len(files) == 0 {
		t.Skipf("no samples in %s", dir)
	}
	count := map[string]int{}
	for _, f := range files {
		t.Run(filepath.Base(f), func(t *testing.T) {
			seen, _, err := atFile(t, f)
			sound(t, seen, err)
			key := seen.Look.Preview
			if err != nil {
				key += " refused"
				t.Log(err)
			}
			count[key]++
		})
	}
	t.Logf("%d samples: %v", len(files), count)
}
