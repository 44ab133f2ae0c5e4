//go:build !nodynamic

package heif

import "image"

// Available tells whether this build has the decoder.
const Available = false

func decode([]byte) (image.Image, error) { return nil, ErrUnavailable }
