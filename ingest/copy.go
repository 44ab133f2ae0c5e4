package ingest

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"time"

	"coverplate/ingest/fixity"
)

// chunk is how much is read at a time, bytes: a stop is heard that often.
const chunk = 1 << 20

// quickEnd is how much of each end of a file its quick fingerprint covers.
const quickEnd = 64 << 10

// quick is the SHA-256 of the first and last 64 KiB of r, of all of it where it
// is no longer than both.
func quick(r io.ReaderAt, size int64) (string, error) {
	h := sha256.New()
	head := min(size, quickEnd)
	tail := min(size-head, quickEnd)
	for _, part := range [...][2]int64{{0, head}, {size - tail, tail}} {
		n, err := io.Copy(h, io.NewSectionReader(r, part[0], part[1]))
		if err != nil {
			return "", err
		}
		if n != part[1] {
			return "", io.ErrUnexpectedEOF
		}
	}
	return hexSum(h), nil
}

// ends takes the fingerprint of quick from a file that is written to it.
type ends struct{ head, tail []byte }

func (e *ends) Write(p []byte) (int, error) {
	n := len(p)
	first := min(quickEnd-len(e.head), len(p))
	e.head, p = append(e.head, p[:first]...), p[first:]
	p = p[max(0, len(p)-quickEnd):]
	if over := len(e.tail) + len(p) - quickEnd; over > 0 {
		e.tail = e.tail[:copy(e.tail, e.tail[over:])]
	}
	e.tail = append(e.tail, p...)
	return n, nil
}

func (e *ends) sum() string {
	h := sha256.New()
	h.Write(e.head)
	h.Write(e.tail)
	return hexSum(h)
}

func hexSum(h hash.Hash) string { return hex.EncodeToString(h.Sum(nil)) }

// staged is a whole copy that waits below the library for its name.
type staged struct {
	path     string
	sum      string    // SHA-256
	quick    string    // fingerprint of its ends
	verified time.Time // when it was read back
	twin     *twin     // its second copy in the making; nil where there is none
}

// drop throws the copy away, and its second.
func (s *staged) drop(d disk) {
	if s.path != "" {
		d.Remove(s.path)
		s.path = ""
	}
	s.twin.drop()
}

// stage copies the file at e.path into the folder dir: hash while copying,
// sync, close, read back past the page cache, compare. two, where it is not
// nil, gets the same bytes in the same read. On an error nothing stays behind.
// Errors: those of the card as the system gives them, errChanged, *CopyError, a
// *LibraryError where the disk of dir is at fault, and the cause of ctx.
func stage(ctx context.Context, d disk, two *second, e entry, dir string, buf []byte, read func(n int)) (s staged, err error) {
	in, err := d.Open(e.path)
	if err != nil {
		return staged{}, err
	}
	defer in.Close()
	out, err := d.Temp(dir, "*.part")
	if err != nil {
		return staged{}, &LibraryError{err}
	}
	twin := two.begin(e)
	defer func() {
		if err != nil {
			out.Close() // a second Close does no harm
			d.Remove(out.Name())
			twin.drop()
		}
	}()
	var last ends
	sum, err := copyHashed(ctx, both{out, twin, &last}, in, buf, read)
	if err != nil {
		return staged{}, err
	}
	if err := unchanged(in, e); err != nil {
		return staged{}, err
	}
	twin.end(sum)
	err = sealed(ctx, out, e, sum)
	var differs *CopyError
	if err != nil && ctx.Err() == nil && !errors.As(err, &differs) {
		err = &LibraryError{err}
	}
	return staged{out.Name(), sum, last.sum(), time.Now().UTC(), twin}, err
}

// both is a copy, and its twin and fingerprint, which never fail.
type both struct {
	io.Writer
	twin *twin
	ends *ends
}

func (b both) Write(p []byte) (int, error) {
	b.twin.Write(p)
	b.ends.Write(p)
	return b.Writer.Write(p)
}

// copyHashed copies in to out, where out is not nil, and returns the SHA-256.
// That out can't be written is a *LibraryError.
func copyHashed(ctx context.Context, out io.Writer, in io.Reader, buf []byte, read func(n int)) (string, error) {
	h := sha256.New()
	if out != nil {
		out = ofLibrary{out}
	}
	_, err := fixity.Copy(ctx, out, in, buf, read, h)
	return hexSum(h), err
}

// ofLibrary tells the faults of what is written from those of what is read.
type ofLibrary struct{ io.Writer }

func (w ofLibrary) Write(p []byte) (int, error) {
	n, err := w.Writer.Write(p)
	if err != nil {
		return n, &LibraryError{err}
	}
	return n, nil
}

// unchanged makes sure that the open file f is still what e says it was.
func unchanged(f interface{ Stat() (fs.FileInfo, error) }, e entry) error {
	info, err := f.Stat()
	if err != nil {
		return err
	}
	if info.Size() != e.size || !info.ModTime().Equal(e.modified) {
		return fmt.Errorf("%s: %w", e.given, errChanged)
	}
	return nil
}

// sumOf reads the file at name, from the disk rather than the page cache where
// the system can be asked for that, and returns its SHA-256.
func sumOf(ctx context.Context, name string, buf []byte) (string, error) {
	f, err := os.Open(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	dropCache(f)
	return copyHashed(ctx, nil, f, buf, func(int) {})
}

// isCopy reports whether the file at name is a regular one with that size and
// SHA-256.
func isCopy(ctx context.Context, name string, size int64, sum string) (bool, error) {
	if !isFile(name, size) {
		return false, nil
	}
	got, err := sumOf(ctx, name, make([]byte, chunk))
	return got == sum, err
}

// isFile reports whether a regular file of that size is at name.
func isFile(name string, size int64) bool {
	info, err := os.Lstat(name)
	return err == nil && info.Mode().IsRegular() && info.Size() == size
}

// placeByLink gives the file at from the name to, which must be free; it never
// overwrites. The error is fs.ErrExist where to is taken.
func placeByLink(from, to string) error {
	err := os.Link(from, to)
	if err == nil {
		return os.Remove(from)
	}
	if errors.Is(err, fs.ErrExist) {
		return err
	}
	// A disk without links, such as exFAT: the name is reserved by an empty
	// file of our own, and only that is written over. The lock keeps other
	// ingests away.
	f, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o444)
	if err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(from, to)
}
