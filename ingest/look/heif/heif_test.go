package heif

import (
	"bytes"
	"errors"
	"image"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"testing/synctest"
	"time"
)

// sample is a picture that the decoder's own module carries; its size is as
// exiftool 12.57 reads it.
func sample(t testing.TB) []byte {
	t.Helper()
	if !Available {
		t.Skip("built without the decoder: go test -tags nodynamic (as .ci/run does)")
	}
	dir, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/gen2brain/heic").Output()
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(dir)), "testdata", "test8.heic"))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestDecode(t *testing.T) {
	b := sample(t)
	img, err := Decode(bytes.NewReader(b), int64(len(b)), 512, 512)
	if err != nil {
		t.Fatal(err)
	}
	if img.Bounds() != image.Rect(0, 0, 512, 512) {
		t.Errorf("%v", img.Bounds())
	}
	// Not of one colour: the planes are where they should be.
	var sum, square float64
	for y := 0; y < 512; y += 8 {
		for x := 0; x < 512; x += 8 {
			r, g, bl, _ := img.At(x, y).RGBA()
			v := float64(r+g+bl) / 3 / 257
			sum += v / 4096
			square += v * v / 4096
		}
	}
	if spread := math.Sqrt(square - sum*sum); spread < 10 || sum < 20 || sum > 235 {
		t.Errorf("mean %.0f, spread %.0f: no picture", sum, spread)
	}
	for name, cut := range map[string][]byte{"cut off": b[:len(b)/3], "no HEIC": []byte("0000ftypheicnothing"), "nothing": nil} {
		if _, err := Decode(bytes.NewReader(cut), int64(len(cut)), 512, 512); !errors.Is(err, ErrFormat) {
			t.Errorf("%s: %v, want ErrFormat", name, err)
		}
	}
	broken := errors.New("the card was pulled")
	r := readerAt{iotest.ErrReader(broken)}
	if _, err := Decode(r, 100, 512, 512); !errors.Is(err, broken) {
		t.Errorf("an error of the reader: %v", err)
	}
}

type readerAt struct {
	r interface{ Read([]byte) (int, error) }
}

func (r readerAt) ReadAt(p []byte, _ int64) (int, error) { return r.r.Read(p) }

func TestBounds(t *testing.T) {
	want := ErrTooLarge
	if !Available {
		want = ErrUnavailable
	}
	for _, c := range []struct {
		size int64
		w, h int
	}{{MaxBytes + 1, 10, 10}, {10, 1 << 20, 1 << 20}, {10, 0, 10}, {10, 10, -1}, {10, MaxPixels, 2}} {
		if _, err := Decode(bytes.NewReader(nil), c.size, c.w, c.h); !errors.Is(err, want) {
			t.Errorf("%+v: %v, want %v", c, err, want)
		}
	}
}

func TestADecoderThatHangs(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		let, room := make(chan bool), make(chan struct{}, 1)
		hang := func() (image.Image, error) { <-let; return nil, nil }
		if _, err := within(room, time.Second, hang); !errors.Is(err, ErrSlow) {
			t.Errorf("%v, want ErrSlow", err)
		}
		if _, err := within(room, time.Second, func() (image.Image, error) { return nil, nil }); !errors.Is(err, ErrSlow) {
			t.Errorf("beside one that hangs: %v, want ErrSlow", err)
		}
		close(let)
		synctest.Wait()
		if _, err := within(room, time.Second, func() (image.Image, error) { panic("index") }); !errors.Is(err, ErrFormat) {
			t.Errorf("a panic: %v", err)
		}
		if _, err := within(room, time.Second, func() (image.Image, error) { return nil, nil }); err != nil {
			t.Errorf("afterwards: %v", err)
		}
	})
}

// Whatever the bytes, a decode ends in a picture of the size asked for or in one
// of our errors. The decoder takes a tenth of a second a time: this is slow.
func FuzzDecode(f *testing.F) {
	b := sample(f)
	f.Add(b[:2048])
	f.Add(b)
	// The first decode compiles the decoder, which may take longer than the ten
	// seconds that an input is given.
	if _, err := Decode(bytes.NewReader(b), int64(len(b)), 512, 512); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 256<<10 {
			return
		}
		img, err := Decode(bytes.NewReader(b), int64(len(b)), 512, 512)
		if (img == nil) == (err == nil) {
			t.Errorf("%v and %v", img, err)
		}
		if err != nil && !errors.Is(err, ErrFormat) && !errors.Is(err, ErrTooLarge) {
			t.Errorf("%v is none of ours", err)
		}
		if img != nil {
			r := img.Bounds()
			img.At(r.Max.X-1, r.Max.Y-1)
		}
	})
}
