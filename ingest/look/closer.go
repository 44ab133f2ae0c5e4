package look

import (
	"io"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// Close is what Closer made out at 1:1 of the original.
type Close struct {
	// Full is catalogue.Focus.Full: 0 … 1, of the sharpest part; nil where
	// nothing in it has an edge to tell by.
	Full *float64

	// Where that part lies in the upright picture.
	Where catalogue.Region
}

// Closer reads the original's own pixels, or an embedded preview of its full
// size, and says how sharp the sharpest of the regions is at 1:1; of the whole
// picture where no regions are given. shot is what camera.Read found; regions
// are of the upright picture. Errors are those of At.
func Closer(r io.ReaderAt, size int64, kind catalogue.FileKind, shot camera.Shot, regions ...catalogue.Region) (Close, error) {
	return Close{}, &camera.UnsupportedError{Format: "a look at 1:1", Reason: "it is not built yet"}
}
