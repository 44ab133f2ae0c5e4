package ingest

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"golang.org/x/sys/unix"
)

// sysBlock is where Linux tells of block devices by their numbers (sysfs(5)).
const sysBlock = "/sys/dev/block"

// devices are the disks under the folder dir: two partitions lie on one, an
// encrypted or joined volume on those it is made of. A file system without a
// disk of its own, such as one in memory or across a network, is told by its
// number alone.
func devices(dir string) []string {
	var s unix.Stat_t
	if err := unix.Stat(dir, &s); err != nil {
		return nil
	}
	number := fmt.Sprintf("%d:%d", unix.Major(uint64(s.Dev)), unix.Minor(uint64(s.Dev)))
	at, err := filepath.EvalSymlinks(filepath.Join(sysBlock, number))
	if err != nil {
		return []string{number}
	}
	out := disksUnder(at, 0)
	slices.Sort(out)
	return slices.Compact(out)
}

// disksUnder are the disks under the block device whose folder in sysfs is at.
func disksUnder(at string, depth int) []string {
	below, _ := os.ReadDir(filepath.Join(at, "slaves"))
	if len(below) == 0 || depth > 8 {
		if _, err := os.Stat(filepath.Join(at, "partition")); err == nil {
			at = filepath.Dir(at)
		}
		return []string{filepath.Base(at)}
	}
	var out []string
	for _, b := range below {
		if to, err := filepath.EvalSymlinks(filepath.Join(at, "slaves", b.Name())); err == nil {
			out = append(out, disksUnder(to, depth+1)...)
		}
	}
	return out
}

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
