package ingest

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"sync"
	"time"
)

// disk is what an ingest asks of a disk that it writes to, and of a card.
// Nothing is sure to be there after a power failure but what Sync and
// SyncFolder waited for.
type disk interface {
	// Open opens a file of a card for reading. Nothing else is done to a card.
	Open(name string) (cardFile, error)
	// Temp makes a new file in dir that no other has the name of.
	Temp(dir, pattern string) (file, error)
	// Part opens the file at name for a new content.
	Part(name string) (file, error)
	// Mkdir and MkdirAll make folders, as those of os do.
	Mkdir(name string) error
	MkdirAll(name string) error
	// Place gives the file at from the name to; it never overwrites. The error
	// is fs.ErrExist where to is taken.
	Place(from, to string) error
	// Rename gives the file at from the name to, also where to is taken.
	Rename(from, to string) error
	Remove(name string) error
	RemoveAll(name string) error
	// SyncFolder waits until the disk has the names in dir.
	SyncFolder(dir string) error
	// Devices are the physical devices that the folder dir lies on, sorted;
	// none where the system does not say.
	Devices(dir string) []string
}

// file is an open file of a disk.
type file interface {
	io.WriteCloser
	Name() string
	// Seal makes the file read-only, with the time of the one it is a copy of.
	// A disk that knows neither is no fault.
	Seal(modified time.Time)
	Sync() error
	// Forget asks the system to hold nothing of the file in memory, so that
	// the next read comes from the disk. It is a hint.
	Forget()
}

// cardFile is an open file of a card.
type cardFile interface {
	io.ReadCloser
	io.ReaderAt
	Stat() (fs.FileInfo, error)
}

// osDisk is the disk of the operating system.
type osDisk struct{}

type osFile struct{ *os.File }

func (f osFile) Seal(modified time.Time) {
	_ = f.Chmod(0o444)
	_ = os.Chtimes(f.Name(), time.Time{}, modified)
}

func (f osFile) Forget() { dropCache(f.File) }

func (osDisk) Open(name string) (cardFile, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	return f, nil
}

func (osDisk) Temp(dir, pattern string) (file, error) {
	f, err := os.CreateTemp(dir, pattern)
	if err != nil {
		return nil, err
	}
	return osFile{f}, nil
}

func (osDisk) Part(name string) (file, error) {
	f, err := os.OpenFile(name, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o644)
	if err != nil {
		return nil, err
	}
	return osFile{f}, nil
}

func (osDisk) Mkdir(name string) error      { return os.Mkdir(name, 0o755) }
func (osDisk) MkdirAll(name string) error   { return os.MkdirAll(name, 0o755) }
func (osDisk) Place(from, to string) error  { return place(from, to) }
func (osDisk) Rename(from, to string) error { return os.Rename(from, to) }
func (osDisk) Remove(name string) error     { return os.Remove(name) }
func (osDisk) RemoveAll(name string) error  { return os.RemoveAll(name) }
func (osDisk) Devices(dir string) []string  { return devices(dir) }

func (osDisk) SyncFolder(dir string) error {
	f, err := os.Open(dir)
	if err != nil {
		return err
	}
	err = f.Sync()
	return errors.Join(err, f.Close())
}

// tree is the folders below a root, made as they are needed.
type tree struct {
	disk  disk
	root  string
	mu    sync.Mutex
	known map[string]bool // those that the disk surely has
}

// make makes a folder below the root and those above it, and waits until the
// disk has them. folder is written with forward slashes.
func (t *tree) make(folder string) error {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.makeLocked(folder)
}

func (t *tree) makeLocked(folder string) error {
	if t.known[folder] || folder == "." {
		return nil
	}
	above := path.Dir(folder)
	if err := t.makeLocked(above); err != nil {
		return err
	}
	if err := t.disk.Mkdir(filepath.Join(t.root, filepath.FromSlash(folder))); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	if err := t.disk.SyncFolder(filepath.Join(t.root, filepath.FromSlash(above))); err != nil {
		return err
	}
	if t.known == nil {
		t.known = map[string]bool{}
	}
	t.known[folder] = true
	return nil
}
