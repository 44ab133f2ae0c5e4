package look

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"sync"

	"golang.org/x/image/webp"

	"coverplate/ingest/camera"
	"coverplate/ingest/look/scaled"
)

// shrink is how many times smaller a picture may be decoded so that its long
// side keeps least pixels: 8, 4, 2, or 1 for the whole of it. A least of 0 asks
// for the whole.
func (h header) shrink(least int) int {
	if h.format != isJPEG || h.progressive || least <= 0 {
		return 1
	}
	for den := 8; den > 1; den /= 2 {
		if (max(h.width, h.height)+den-1)/den >= least {
			return den
		}
	}
	return 1
}

// room is the memory that it takes, about, to decode to a long side of least
// pixels, and to look at them: their light, the preview and the planes.
func (h header) room(least int) int64 {
	den := int64(h.shrink(least))
	long := int64(max(h.width, h.height)) / den
	cells := int64(h.width) / den * (int64(h.height) / den)
	if k := max(1, long/pictureSide); k > 1 {
		cells /= k * k
	}
	return h.memory/(den*den) + 12*cells + 24<<20
}

// errWhole is of a picture that can be decoded whole alone, which takes more
// memory: see room.
var errWhole = errors.New("it can't be decoded smaller")

// decodeSmaller reads the pixels of the picture whose header is h, not more of
// them than it takes to keep least on the long side: see shrink. Its errors are
// those of headerOf, and errWhole.
func decodeSmaller(r io.ReaderAt, size int64, h header, least int) (image.Image, error) {
	den := h.shrink(least)
	if den == 1 {
		return decode(r, size, h)
	}
	img, err := scaled.Decode(bufio.NewReaderSize(io.NewSectionReader(r, 0, size), 128<<10), den)
	var damaged *scaled.DamagedError
	switch {
	case errors.Is(err, scaled.ErrUnsupported), errors.Is(err, scaled.ErrFormat):
		return nil, errWhole // image/jpeg knows the file, or says what is wrong with it
	case errors.As(err, &damaged):
		return nil, missing(damaged, size)
	case err != nil:
		return nil, fmt.Errorf("read the picture: %w", err)
	}
	if b := img.Bounds(); b.Dx() != (h.width+den-1)/den || b.Dy() != (h.height+den-1)/den {
		return nil, h.differs(b.Dx()*den, b.Dy()*den)
	}
	return img, nil
}

// missing says how much of a JPEG of size bytes can't be read.
func missing(d *scaled.DamagedError, size int64) error {
	share := (100*d.Blocks + d.Of - 1) / d.Of
	reason := fmt.Sprintf("damaged: %d %% of the picture can't be read", share)
	if d.Cut {
		reason = fmt.Sprintf("cut off: its %d bytes end before the picture does, %d %% of it is missing", size, share)
	}
	return &camera.FormatError{Format: string(isJPEG), Reason: reason + "; copy it from the card again"}
}

// readable is as much of the damaged JPEG whose header is h as can be read, the
// rest of it grey, with least pixels on its long side where it has twice as many,
// and what is missing, in words. It is nil where that is all, or where the JPEG is
// coded in passes: what is left of those is no picture to judge by.
func readable(r io.ReaderAt, size int64, h header, least int) (image.Image, error) {
	den := max(2, h.shrink(least))
	img, err := scaled.Decode(bufio.NewReaderSize(io.NewSectionReader(r, 0, size), 128<<10), den)
	var damaged *scaled.DamagedError
	if img == nil || !errors.As(err, &damaged) {
		return nil, err
	}
	if b := img.Bounds(); damaged.Blocks >= damaged.Of || b.Dx() != (h.width+den-1)/den || b.Dy() != (h.height+den-1)/den {
		return nil, err
	}
	return img, missing(damaged, size)
}

// differs is the fault of a file whose body shows another size than its header.
func (h header) differs(w, ht int) error {
	return &camera.FormatError{Format: string(h.format), Reason: fmt.Sprintf("its header says %d × %d pixels, its body %d × %d", h.width, h.height, w, ht)}
}

// decode reads the pixels of the picture whose header is h. Its errors are
// those of headerOf.
func decode(r io.ReaderAt, size int64, h header) (image.Image, error) {
	end := &endSeer{r: io.NewSectionReader(r, 0, size)}
	br := bufio.NewReaderSize(end, 128<<10)
	var img image.Image
	var err error
	switch h.format {
	case isJPEG:
		img, err = jpeg.Decode(&scanCounter{r: br, pixels: int64(h.width) * int64(h.height)})
	case isPNG:
		img, err = png.Decode(br)
	case isWebP:
		img, err = webp.Decode(br)
	default:
		return nil, &camera.UnsupportedError{Format: string(h.format)}
	}
	if err != nil {
		if end.seen { // whatever the decoder calls it, it asked for more than there is
			err = io.ErrUnexpectedEOF
		}
		return nil, inWords(h.format, err, size)
	}
	// The decoders made memory for the header that we have seen; a file that
	// shows them another one is up to no good.
	if b := img.Bounds(); b.Dx() != h.width || b.Dy() != h.height {
		return nil, h.differs(b.Dx(), b.Dy())
	}
	return img, nil
}

// inWords turns the error of a decoder into one that says what is wrong with
// the file. size is the bytes the decoder was given.
func inWords(f format, err error, size int64) error {
	var (
		known       *camera.FormatError
		broken      jpeg.FormatError
		unsupported jpeg.UnsupportedError
		brokenPNG   png.FormatError
		otherPNG    png.UnsupportedError
	)
	switch {
	case errors.As(err, &known):
		return known
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return &camera.FormatError{Format: string(f), Reason: fmt.Sprintf("cut off: its %d bytes end before the picture does; copy it from the card again", size)}
	case errors.As(err, &broken):
		return &camera.FormatError{Format: string(f), Reason: "damaged: " + string(broken)}
	case errors.As(err, &unsupported):
		return &camera.UnsupportedError{Format: "JPEG with an unusual coding", Reason: string(unsupported)}
	case errors.As(err, &brokenPNG):
		return &camera.FormatError{Format: string(f), Reason: "damaged: " + string(brokenPNG)}
	case errors.As(err, &otherPNG):
		return &camera.UnsupportedError{Format: "PNG with an unusual coding", Reason: string(otherPNG)}
	case f == isWebP, f == isPNG: // webp, vp8, zlib and the like have no types of their own
		return &camera.FormatError{Format: string(f), Reason: "damaged: " + err.Error()}
	}
	return fmt.Errorf("read the picture: %w", err)
}

// endSeer notes that a reader was asked for more than it has.
type endSeer struct {
	r    io.Reader
	seen bool
}

func (e *endSeer) Read(p []byte) (int, error) {
	n, err := e.r.Read(p)
	e.seen = e.seen || err == io.EOF
	return n, err
}

// scanCounter passes a JPEG on to its decoder and stops it where the file
// begins more scans than any camera or software writes. A scan of a
// progressive JPEG may take ten bytes and cost a pass over all pixels.
type scanCounter struct {
	r      io.Reader
	pixels int64
	scans  int64
	last   byte // of the read before
}

var startOfScan = []byte{0xFF, 0xDA}

func (c *scanCounter) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	if n == 0 {
		return n, err
	}
	if c.last == 0xFF && p[0] == 0xDA {
		c.scans++
	}
	c.scans += int64(bytes.Count(p[:n], startOfScan))
	c.last = p[n-1]
	if c.scans > maxScans || c.scans > 1 && c.scans*c.pixels > maxScanPixels {
		return 0, &camera.FormatError{Format: "JPEG", Reason: fmt.Sprintf("it paints its picture in more than %d passes, which no camera does", c.scans-1)}
	}
	return n, err
}

// gate lets decodes in as long as the memory they take together stays within
// the budget of the process: workers are many, memory is one.
type gate struct {
	mu   sync.Mutex
	wake sync.Cond
	free int64
	all  int64
}

func newGate(budget int64) *gate {
	g := &gate{free: budget, all: budget}
	g.wake.L = &g.mu
	return g
}

// enter waits for room for n bytes and returns the function that gives it back.
// What takes more than the budget waits until it is alone.
func (g *gate) enter(n int64) (leave func()) {
	n = min(n, g.all)
	g.mu.Lock()
	defer g.mu.Unlock()
	for g.free < n {
		g.wake.Wait()
	}
	g.free -= n
	return func() {
		g.mu.Lock()
		g.free += n
		g.mu.Unlock()
		g.wake.Broadcast()
	}
}

// decodeRoom is the process's memory for decodes. It is the one thing in this
// package that two calls share.
var decodeRoom = newGate(roomBudget)
