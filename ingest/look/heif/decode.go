//go:build nodynamic

package heif

import (
	"bytes"
	"fmt"
	"image"

	"github.com/gen2brain/heic"
)

// Available tells whether this build has the decoder.
const Available = true

func decode(b []byte) (image.Image, error) {
	img, err := heic.Decode(bytes.NewReader(b))
	if err != nil {
		return nil, fmt.Errorf("%w (%v)", ErrFormat, err)
	}
	return img, nil
}
