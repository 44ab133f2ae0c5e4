package ingest

import (
	"errors"
	"io/fs"
	"os"

	"golang.org/x/sys/unix"
)

// dropCache asks the system to forget what it holds of f in memory, so that
// the next read comes from the disk. Only synced pages can be dropped; it is a
// hint, and no fault where it is not heard.
func dropCache(f *os.File) {
	_ = unix.Fadvise(int(f.Fd()), 0, 0, unix.FADV_DONTNEED)
}

// place gives the file at from the name to, which must be free; it never
// overwrites. The error is fs.ErrExist where to is taken.
func place(from, to string) error {
	err := unix.Renameat2(unix.AT_FDCWD, from, unix.AT_FDCWD, to, unix.RENAME_NOREPLACE)
	switch {
	case err == nil:
		return nil
	case errors.Is(err, unix.EEXIST):
		return &fs.PathError{Op: "rename", Path: to, Err: err}
	case errors.Is(err, unix.EINVAL), errors.Is(err, unix.ENOSYS), errors.Is(err, unix.EOPNOTSUPP):
		return placeByLink(from, to) // a disk that does not know the flag
	}
	return &os.LinkError{Op: "rename", Old: from, New: to, Err: err}
}
