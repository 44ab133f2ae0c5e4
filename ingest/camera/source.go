package camera

import (
	"errors"
	"fmt"
	"io"
)

// Bounds of one call. Measured on 115 camera JPEGs, what stands before the
// pixels is 15 KB in the median and 527 KB at most, and a raw's directories
// are under 4 KB; the bounds leave a wide margin above that.
const (
	headSize  = 64 << 10 // the first read; most pictures need no other
	windowLen = 8 << 10  // a read elsewhere fetches at least this much
	maxPiece  = 4 << 20  // one value: an XMP packet or the boxes of a HEIC
	maxRead   = 32 << 20 // all bytes handed out in one call
	maxReads  = 20_000   // pieces handed out in one call
)

// errBudget is what a hostile file ends in; a sound one never does.
var errBudget = errors.New("asks for more reading than any sound picture")

// errOutside is an offset or length that the file does not hold.
var errOutside = errors.New("points outside the file")

// source hands out pieces of a file within the bounds above. It keeps the
// first 64 KB, where nearly all lies, and one moving window for the rest.
type source struct {
	r    io.ReaderAt
	size int64

	head   []byte
	window []byte
	at0    int64 // offset of window

	bytes int64 // handed out so far
	reads int

	fault error // the first error of r itself: the disk's, not the picture's
}

func newSource(r io.ReaderAt, size int64) (*source, error) {
	s := &source{r: r, size: size}
	if size <= 0 {
		return s, nil
	}
	s.head = make([]byte, min(size, headSize))
	n, err := r.ReadAt(s.head, 0)
	s.head = s.head[:n]
	if n == 0 && err != nil && err != io.EOF {
		return nil, fmt.Errorf("read the picture: %w", err)
	}
	if err == io.EOF || err == io.ErrUnexpectedEOF {
		s.size = min(s.size, int64(n)) // it is shorter than we were told
	}
	return s, nil
}

// piece returns n bytes from off, in a slice that is the caller's own.
func (s *source) piece(off, n int64) ([]byte, error) {
	if off < 0 || n < 0 || off > s.size || n > s.size-off {
		return nil, errOutside
	}
	if n > maxPiece {
		return nil, errBudget
	}
	s.bytes += n
	s.reads++
	if s.bytes > maxRead || s.reads > maxReads {
		return nil, errBudget
	}
	out := make([]byte, n)
	switch {
	case off+n <= int64(len(s.head)):
		copy(out, s.head[off:])
		return out, nil
	case off >= s.at0 && off+n <= s.at0+int64(len(s.window)):
		copy(out, s.window[off-s.at0:])
		return out, nil
	case n >= windowLen:
		return out, s.fill(out, off)
	}
	w := make([]byte, min(windowLen, s.size-off))
	if err := s.fill(w, off); err != nil {
		return nil, err
	}
	s.window, s.at0 = w, off
	copy(out, w)
	return out, nil
}

// upTo returns as many of n bytes from off as the file holds.
func (s *source) upTo(off, n int64) []byte {
	if off < 0 || off >= s.size {
		return nil
	}
	b, err := s.piece(off, min(n, s.size-off))
	if err != nil {
		return nil
	}
	return b
}

func (s *source) fill(b []byte, off int64) error {
	n, err := s.r.ReadAt(b, off)
	if n == len(b) {
		return nil
	}
	if err != nil && err != io.EOF && s.fault == nil {
		s.fault = err
	}
	return errOutside
}
