package ingest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"coverplate/ingest/catalogue"
)

// ManifestName is the list of all originals with their SHA-256, in the shoot's
// folder, as `sha256sum -c` reads it there.
const ManifestName = "manifest-sha256.txt"

// listed is a file that a manifest vouches for.
type listed struct{ sum, path string }

// writeManifest makes the manifest of dir in one step: a reader sees the old
// one or the new one.
func writeManifest(d disk, dir string, files []listed) error {
	var b bytes.Buffer
	for _, f := range files {
		if err := manifestLine(&b, f.sum, f.path); err != nil {
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

// manifestLine writes one line as GNU coreutils do: a name that holds a
// backslash, line feed or carriage return has them escaped, and the line then
// begins with a backslash. No other character is special.
func manifestLine(w io.Writer, sum, name string) error {
	escaped := strings.NewReplacer(`\`, `\\`, "\n", `\n`, "\r", `\r`).Replace(name)
	mark := ""
	if escaped != name {
		mark = `\`
	}
	_, err := fmt.Fprintf(w, "%s%s  %s\n", mark, sum, escaped)
	return err
}

// replaceFile gives the file at name its new content in one step. What it
// writes first has the same name with ".part" behind it.
func replaceFile(d disk, name string, content []byte) (err error) {
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
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := d.Rename(part, name); err != nil {
		return err
	}
	return d.SyncFolder(filepath.Dir(name))
}
