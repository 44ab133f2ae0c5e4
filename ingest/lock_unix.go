//go:build unix

package ingest

import (
	"errors"
	"os"
	"path/filepath"

	"golang.org/x/sys/unix"
)

// lock keeps other ingests out of the shoot until release is called or the
// process ends, however it ends. The file stays; only the lock on it counts.
func lock(shoot string) (release func(), err error) {
	f, err := os.OpenFile(filepath.Join(shoot, ".ingest.lock"), os.O_CREATE|os.O_RDWR, 0o644)
	if err != nil {
		return nil, &LibraryError{err}
	}
	if err := unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB); err != nil {
		f.Close()
		if errors.Is(err, unix.EWOULDBLOCK) {
			return nil, ErrBusy
		}
		return nil, &LibraryError{err}
	}
	return func() { f.Close() }, nil
}
