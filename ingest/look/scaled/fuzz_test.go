package scaled

import (
	"bytes"
	"errors"
	"image"
	"testing"
)

func FuzzDecode(f *testing.F) {
	for _, q := range []int{20, 95} {
		f.Add(encoded(f, textured(40, 24, 1), q), byte(4))
	}
	grey := image.NewGray(image.Rect(0, 0, 17, 9))
	f.Add(encoded(f, grey, 90), byte(8))
	f.Add(manyBlocks()[:16<<10], byte(2))
	f.Fuzz(func(t *testing.T, b []byte, den byte) {
		if i := bytes.Index(b, []byte{0xff, sof0}); i >= 0 && len(b) > i+9 { // large pictures cost time, and show nothing more
			b[i+5], b[i+7] = 0, 0
		}
		// Any other number is refused at once: every input must be decoded.
		img, err := Decode(bytes.NewReader(b), []int{8, 4, 2}[den%3])
		if err != nil && img != nil && !errors.As(err, new(*DamagedError)) {
			t.Errorf("a picture with %v", err)
		}
		if img == nil && err == nil {
			t.Error("neither a picture nor an error")
		}
		if img != nil {
			r := img.Bounds()
			img.At(r.Max.X-1, r.Max.Y-1)
		}
	})
}
