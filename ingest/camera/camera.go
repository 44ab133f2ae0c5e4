// Package camera reads what a camera, or the software after it, wrote into a
// picture beside the pixels: the Exif of JPEG, HEIC, TIFF, PNG, WebP and raw
// files, XMP packets and sidecars, the size of the picture as it is stored,
// and where its embedded JPEG previews lie. It decodes no pixel.
//
// Three promises hold for any bytes whatever. Memory and time are bounded: a
// call reads no more than a few megabytes and never recurses without a limit.
// What is zero, unknown, infinite or nonsense reads as "not written", never as
// a number. And the wall clock of a frame is the digits that the camera wrote,
// whichever zone this machine is in.
//
// The goexif module is named here alone and sees one directory entry at a
// time, laid out anew by this package, because it can hang or exhaust the
// machine on a hundred bytes of its own choosing.
package camera

import (
	"fmt"
	"io"
	"time"

	"coverplate/ingest/catalogue"
)

// Shot is what the camera wrote of one exposure. Zero and nil fields were not
// written, or were written as unknown or nonsense.
type Shot struct {
	Taken       time.Time // the camera's wall clock with its fraction of a second, its digits held in UTC
	Offset      string    // of that clock from UTC, "+01:00"
	Camera      catalogue.Camera
	Exposure    catalogue.Exposure
	Orientation int    // 1 … 8 as Exif has it
	ColourSpace string // as catalogue.Frame.ColourSpace has it
	SpaceBy     string // what says so: "embedded profile", "container" (a PNG's or HEIC's own field), "Exif"; "" nothing
	Rating      *float64
	Title       string
	Headline    string
	Subjects    []string
	Width       int // pixels as stored, before orientation
	Height      int // pixels as stored, before orientation

	// Profile is the embedded ICC profile, also where it can't be used; nil
	// where there is none.
	Profile *Profile

	// Warnings say in words what is damaged or contradicts itself. The rest
	// of the facts stand.
	Warnings []string
	Damaged  bool // Warnings tell of damage, not of contradictions alone
}

// Read reads the facts of the picture of size bytes in r. The bytes decide
// what the file is, so a JPEG that is named like a raw is read as a JPEG; kind
// only words the error of a file that is nothing we know.
//
// Exif, XMP or the size being absent is not an error; a damaged one is told in
// Warnings. The error is a *FormatError for a file that is broken or not a
// picture and an *UnsupportedError for one that this package does not read.
// An error of r itself is returned wrapped.
func Read(r io.ReaderAt, size int64, kind catalogue.FileKind) (Shot, error) {
	p, err := open(r, size, kind)
	if err != nil {
		return Shot{}, err
	}
	return p.shot(), nil
}

// Preview is a JPEG embedded in a picture, whole and of a kind that image/jpeg
// can decode by its header.
type Preview struct {
	From   string // "exif": its thumbnail; "mpf": a multi-picture JPEG; "raw": a raw's own
	Offset int64  // of its first byte in the file
	Size   int64  // bytes
	Width  int    // pixels, as stored
	Height int    // pixels, as stored
}

// Previews finds the JPEGs embedded in the picture of size bytes in r, the
// largest first, without decoding one. The picture itself, where it is a JPEG,
// is not among them. No preview is not an error; errors are those of Read.
func Previews(r io.ReaderAt, size int64, kind catalogue.FileKind) ([]Preview, error) {
	p, err := open(r, size, kind)
	if err != nil {
		return nil, err
	}
	return p.wholePreviews(), nil
}

// FormatError tells of a file that is broken or is not what its name says.
type FormatError struct {
	Format string // what we took it for: "JPEG", "HEIC", "XMP", "picture"
	Reason string
}

func (e *FormatError) Error() string { return fmt.Sprintf("%s: %s", e.Format, e.Reason) }

// UnsupportedError tells of a file that may well be sound but that this
// package does not read.
type UnsupportedError struct {
	Format string // what it is, in words
	Reason string // what to do instead, or why; may be empty
}

func (e *UnsupportedError) Error() string {
	if e.Reason == "" {
		return e.Format + " is not supported"
	}
	return e.Format + " is not supported: " + e.Reason
}
