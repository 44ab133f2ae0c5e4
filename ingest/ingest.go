// Package ingest brings photographs from a card into the library and the
// catalogue. Two promises hold at every moment, also when the power fails:
// nothing is ever written to a card, and no frame is in the catalogue whose
// copy was not read back whole.
package ingest

import (
	"errors"
	"fmt"
	"time"

	"coverplate/ingest/catalogue"
)

var (
	// ErrNoSource: no source was given.
	ErrNoSource = errors.New("no card or folder given")
	// ErrOwnFolder: a source is the shoot's own folder, or its originals.
	ErrOwnFolder = errors.New("this is the shoot's own folder, not a card")
	// ErrBusy: another ingest is at work in the shoot.
	ErrBusy = errors.New("another ingest is at work in this shoot; wait for it to end")
	// ErrEmpty: a picture's file has no bytes.
	ErrEmpty = errors.New("the file is empty")
	// ErrNotRegular: neither a file nor a folder.
	ErrNotRegular = errors.New("neither a file nor a folder")
)

// CopyError is a copy that was read back and found different from what was
// read from the card. The copy was thrown away.
type CopyError struct {
	Path      string // on the card
	Want, Got string // SHA-256 of what was read from the card, and of the copy
}

func (e *CopyError) Error() string {
	return fmt.Sprintf("copy of %s read back as %.12s…, not %.12s…: it was thrown away; the disk of the shoot may be failing", e.Path, e.Got, e.Want)
}

// LibraryError is a fault of the disk that the shoot is on. It ends the run,
// since no other file would fare better.
type LibraryError struct{ Err error }

func (e *LibraryError) Error() string {
	return "the shoot's folder cannot be written: " + e.Err.Error()
}

// Unwrap returns the system's error.
func (e *LibraryError) Unwrap() error { return e.Err }

// Options say what to take and how.
type Options struct {
	Shoot   string        // folder of the shoot
	Sources []string      // cards, folders or single files
	InPlace bool          // copy nothing; the catalogue holds where the files are
	Rehash  bool          // read every file whole, also those that look as they did last time
	Later   bool          // measure no pixels: what waits is measured by the next run without it, or by Renew
	DayEnds time.Duration // after midnight; the folder of a frame taken before it is the day before's
	Workers int           // frames in hand at a time; 0: as many as there are processors, at most 8

	// Second is a folder on another disk that gets the same copies, verified,
	// in the same read of the card; "" none. It must be there, and apart from
	// the shoot and the sources.
	Second string

	disk disk // nil: that of the operating system
}

func (o Options) onto() disk {
	if o.disk != nil {
		return o.disk
	}
	return osDisk{}
}

// The states of an Event.
const (
	StateCopied  = "copied"       // at least one file of the frame was copied, or is new where taken in place
	StateHere    = "already here" // all files were in the library
	StateUnread  = "unread"       // kept, but its facts or pixels could not be read; or a file that could not be read at all
	StateInPlace = "in place"     // taken without a copy
	StateSkipped = "skipped"      // a symbolic link or special file, not followed
)

// Event is one step of a run.
type Event struct {
	Source string           // path as given; "" for progress alone
	Frame  *catalogue.Frame // as the catalogue now has it, of one that was here whole a part (catalogue.Seen); nil for a file of no frame, an error or progress
	Err    error            // why Source could not be read; the run goes on
	State  string           // "" for progress alone

	FilesDone, FilesAll int
	BytesDone, BytesAll int64
	Measured, ToMeasure int // frames whose pixels were measured, when all cards are copied, verified and in the catalogue; 0 until then
	Shown, ToShow       int // with Later, frames whose preview had to be made; 0 until all cards are in the catalogue
	Renewed, ToRenew    int // frames measured again, at the end of the run; 0 until then
	Second, ToSecond    int // files copied to the second disk that it did not get in the same read; 0 until then
}

// Summary is what a run has done.
type Summary struct {
	Files       int // found on the sources, those skipped apart
	Copied      int // files copied and read back; files newly taken where in place
	AlreadyHere int // files whose content was here before
	Unread      int // frames whose facts or pixels could not be read, and files that could not be read at all
	Skipped     int // hidden and system files, symbolic links, special files
	Others      int // files kept without a frame
	Frames      int // frames on the sources
	NewFrames   int
	Renewed     int   // frames that were measured again, in the present way
	Measured    int   // frames that had their first look
	Waiting     int   // frames whose pixels were not measured yet, with Later
	Away        int   // frames measured in an older way whose originals are not at hand
	Bytes       int64 // copied
	Cards       []catalogue.Card
	Second      SecondCopies
}

// SecondCopies is what became of the second copies of a run.
type SecondCopies struct {
	Root    string // "" where none were asked for
	Apart   bool   // it surely lies on other devices than the shoot
	Copied  int    // files, read back
	Whole   int    // originals of the shoot that have their copy there, as far as its files can be seen
	Waiting int    // those that have none
	Fault   error  // why nothing more was copied there; nil all is well
}
