package scaled

import (
	"bytes"
	"errors"
	"strings"
	"testing"
)

// manyBlocks is a file that claims units of 4 × 4 blocks of each of its three
// planes, 48 where T.81 allows 10 (B.2.3), with codes of 16 bits for values of
// 15: a unit takes more of the scan than is made ready before it.
func manyBlocks() []byte {
	var b bytes.Buffer
	b.Write([]byte{0xff, soi, 0xff, dqt, 0, 67, 0})
	b.WriteString(strings.Repeat("\x01", 64))
	b.Write([]byte{0xff, sof0, 0, 17, 8, 0x10, 0, 0x10, 0, 3, 1, 0x44, 0, 2, 0x44, 0, 3, 0x44, 0})
	for _, class := range []byte{0x00, 0x10} {
		b.Write([]byte{0xff, dht, 0, 20, class})
		b.Write(make([]byte, 15))
		b.Write([]byte{1, 0x0f}) // one code of 16 zeros, for a value of 15 bits
	}
	b.Write([]byte{0xff, sos, 0, 12, 3, 1, 0, 2, 0, 3, 0, 0, 63, 0})
	b.Write(make([]byte, 2<<20))
	return b.Bytes()
}

func TestUnitsOfTooManyBlocks(t *testing.T) {
	for _, den := range []int{8, 4, 2} {
		if img, err := Decode(bytes.NewReader(manyBlocks()), den); img != nil || !errors.Is(err, ErrUnsupported) {
			t.Errorf("1/%d: %v, want %v", den, err, ErrUnsupported)
		}
	}
}
