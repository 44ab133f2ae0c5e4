package ingest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"coverplate/ingest/catalogue"
)

// ManifestName is the list of all originals with their SHA-256, in the shoot's
// folder, as `sha256sum -c` reads it there.
const ManifestName = "manifest-sha256.txt"

// writeManifest makes the manifest of all originals that the catalogue knows,
// in one step: a reader sees the old one or the new one.
func writeManifest(ctx context.Context, store *catalogue.Store, shoot string) error {
	held, err := store.Files(ctx)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	for _, h := range held { // by path
		if filepath.IsAbs(h.Path) {
			continue // taken in place: not ours to vouch for
		}
		if err := manifestLine(&b, h.SHA256, h.Path); err != nil {
			return err
		}
	}
	name := filepath.Join(shoot, ManifestName)
	if old, err := os.ReadFile(name); err == nil && bytes.Equal(old, b.Bytes()) || err != nil && b.Len() == 0 {
		return nil
	}
	if err := replaceFile(name, b.Bytes()); err != nil {
		return &LibraryError{err}
	}
	return nil
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
func replaceFile(name string, content []byte) (err error) {
	part := name + ".part"
	f, err := os.OpenFile(part, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(part)
		}
	}()
	if _, err := f.Write(content); err != nil {
		return err
	}
	if err := errors.Join(f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Rename(part, name); err != nil {
		return err
	}
	return syncFolder(filepath.Dir(name))
}
