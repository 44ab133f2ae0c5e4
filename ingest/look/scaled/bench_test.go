package scaled

import (
	"bytes"
	"fmt"
	"image/jpeg"
	"testing"
)

// BenchmarkDecode holds each scale against image/jpeg, on a picture of 6 MP with
// the texture of a photograph: go test -bench Decode -run - -cpu 1.
func BenchmarkDecode(b *testing.B) {
	file := encoded(b, textured(3000, 2000, 2), 92)
	b.Run("image/jpeg", func(b *testing.B) {
		b.SetBytes(int64(len(file)))
		b.ReportAllocs()
		for b.Loop() {
			if _, err := jpeg.Decode(bytes.NewReader(file)); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, den := range []int{8, 4, 2} {
		b.Run(fmt.Sprintf("to 1/%d", den), func(b *testing.B) {
			b.SetBytes(int64(len(file)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Decode(bytes.NewReader(file), den); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
