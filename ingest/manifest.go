package ingest

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"

	"coverplate/ingest/catalogue"
	"coverplate/ingest/fixity"
)

// ManifestName is the list of all originals with their SHA-256, in the shoot's
// folder, as `sha256sum -c` reads it there.
const ManifestName = "manifest-sha256.txt"

// writeManifest makes the manifest of dir in one step: a reader sees the old
// one or the new one.
func writeManifest(d disk, dir string, files []fixity.Listed) error {
	var b bytes.Buffer
	for _, f := range files {
		if err := fixity.Line(&b, f); err != nil {
			return err
		}
	}
	name := filepath.Join(dir, ManifestName)
	if old, err := os.ReadFile(name); err == nil && bytes.Equal(old, b.Bytes()) || err != nil && b.Len() == 0 {
		return nil
	}
	return replaceFile(d, name, b.Bytes())
}

// originalsOf are the copies of the library, by path. What was taken in place is
// not ours to vouch for.
func originalsOf(ctx context.Context, store *catalogue.Store) ([]catalogue.Held, error) {
	all, err := store.Files(ctx)
	return slices.DeleteFunc(all, func(h catalogue.Held) bool { return filepath.IsAbs(h.Path) }), err
}

// replaceFile gives the file at name its new content in one step, and waits
// until the disk has it. What it writes first has the same name with ".part"
// behind it.
func replaceFile(d disk, name string, content []byte) error {
	if err := writeOver(d, name, content, file.Sync); err != nil {
		return err
	}
	return d.SyncFolder(filepath.Dir(name))
}

// writePassing is replaceFile for what is soon to be replaced itself, and may
// be lost: it waits for no disk.
func writePassing(d disk, name string, content []byte) error {
	return writeOver(d, name, content, func(file) error { return nil })
}

func writeOver(d disk, name string, content []byte, sync func(file) error) (err error) {
	part := name + ".part"
	f, err := d.Part(part)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			d.Remove(part)
		}
	}()
	if _, err := f.Write(content); err != nil {
		return err
	}
	if err := errors.Join(sync(f), f.Close()); err != nil {
		return err
	}
	return d.Rename(part, name)
}
