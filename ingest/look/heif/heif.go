// Package heif decodes the pictures of phones and cameras that are HEIC or HIF,
// within bounds of size and time. The decoder is libheif as WebAssembly; it is in
// the program only where that was built with the tag nodynamic, since without it
// the library's binding would make the program hang on the system's C library.
package heif

import (
	"errors"
	"fmt"
	"image"
	"io"
	"time"
)

var (
	// ErrUnavailable: the program was built without the decoder.
	ErrUnavailable = errors.New("this build reads no HEIC pixels (build with -tags nodynamic)")
	// ErrTooLarge: the picture is beyond the bounds.
	ErrTooLarge = errors.New("larger than what is decoded")
	// ErrSlow: the decoder did not come to an end in time. It can't be stopped,
	// so that no other picture is decoded until it does.
	ErrSlow = errors.New("its decoder does not come to an end")
	// ErrFormat: the decoder can't read the picture.
	ErrFormat = errors.New("its decoder can't read it")
)

// The bounds of one decode. A phone's 48 megapixels take some 15 s on a slow
// core; damaged files were seen to take as long and 900 MB, which is why one is
// decoded at a time.
const (
	MaxPixels = 64 << 20
	MaxBytes  = 128 << 20
	patience  = 90 * time.Second
)

// one lets one decode in at a time.
var one = make(chan struct{}, 1)

// Decode decodes the primary picture in the size bytes of r, of width × height
// pixels as its header says. Its own turns and mirrors are done: the picture
// stands upright. It is YCbCr, grey or RGB, in the file's own colours. Errors:
// those above, and those of r.
func Decode(r io.ReaderAt, size int64, width, height int) (image.Image, error) {
	if !Available {
		return nil, ErrUnavailable
	}
	if size > MaxBytes || width <= 0 || height <= 0 || width > MaxPixels/height {
		return nil, fmt.Errorf("%d × %d pixels in %d bytes: %w", width, height, size, ErrTooLarge)
	}
	b := make([]byte, size)
	if _, err := r.ReadAt(b, 0); err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	return within(one, patience, func() (image.Image, error) { return decode(b) })
}

// within runs do when it has room, and gives up on it after a while. The room is
// only free again when do has ended.
func within(room chan struct{}, wait time.Duration, do func() (image.Image, error)) (image.Image, error) {
	enough := time.NewTimer(wait)
	defer enough.Stop()
	select {
	case room <- struct{}{}:
	case <-enough.C:
		return nil, ErrSlow
	}
	type answer struct {
		img image.Image
		err error
	}
	done := make(chan answer, 1)
	go func() {
		defer func() { <-room }()
		defer func() {
			if p := recover(); p != nil {
				done <- answer{nil, fmt.Errorf("%w: %v", ErrFormat, p)}
			}
		}()
		img, err := do()
		done <- answer{img, err}
	}()
	select {
	case a := <-done:
		return a.img, a.err
	case <-enough.C:
		return nil, ErrSlow
	}
}
