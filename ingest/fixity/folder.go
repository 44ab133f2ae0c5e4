package fixity

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"hash"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// CheckFolder checks the files below dir against the list of SHA-256 named
// list, in it, as sha256sum -c does there, and names those that the list does
// not have: below the folders that it lists files in, hidden files apart. read
// is that of CheckBag. Errors: the list can't be opened, or the cause of ctx;
// all else is a Fault.
func CheckFolder(ctx context.Context, dir, list string, read func(int)) (Checked, error) {
	f, err := os.Open(filepath.Join(dir, list))
	if err != nil {
		return Checked{}, err
	}
	defer f.Close()
	all, faults := ParseList(f, list, sha256.Size)
	var out Checked
	fault := func(path, says string) { out.Faults = append(out.Faults, Fault{path, says}) }
	for _, err := range faults {
		fault("", err.Error())
	}
	listed, tops := map[string]string{}, map[string]bool{}
	for _, l := range all {
		p := strings.TrimPrefix(l.Path, "./")
		if unsafe(p) {
			fault(list, "names "+l.Path+", which leads out of the folder: not looked at")
			continue
		}
		if old, twice := listed[p]; twice && old != l.Sum {
			fault(p, "is listed twice, with two checksums")
			continue
		}
		listed[p] = l.Sum
		top, _, below := strings.Cut(p, "/")
		if !below {
			top = "."
		}
		tops[top] = true
	}
	for _, p := range sortedKeys(listed) {
		if ctx.Err() != nil {
			return out, context.Cause(ctx)
		}
		full := filepath.Join(dir, filepath.FromSlash(p))
		info, err := os.Lstat(full)
		switch {
		case err != nil:
			fault(p, "is listed and missing")
			continue
		case !info.Mode().IsRegular():
			fault(p, "is no file any more")
			continue
		}
		h := sha256.New()
		n, err := hashFile(ctx, full, []hash.Hash{h}, read)
		if ctx.Err() != nil {
			return out, context.Cause(ctx)
		}
		if err != nil {
			fault(p, "can't be read: "+WithoutPath(err).Error())
			continue
		}
		out.Files++
		out.Bytes += n
		if hex.EncodeToString(h.Sum(nil)) != listed[p] {
			fault(p, "was changed: its checksum is another")
		}
	}
	for _, top := range sortedKeys(tops) {
		for _, p := range Extra(dir, top, func(p string) bool { _, ok := listed[p]; return ok || p == list }) {
			fault(p, "is not listed")
		}
	}
	return out, nil
}

// Extra are the files below the folder top of dir, as paths below dir, that
// known does not know; hidden ones and what lies in hidden folders apart. Where
// top is ".", only the files in dir itself.
func Extra(dir, top string, known func(path string) bool) []string {
	var out []string
	root := filepath.Join(dir, filepath.FromSlash(top))
	_ = filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return nil // what can't be read is missing, or not ours
		}
		if name != root && strings.HasPrefix(d.Name(), ".") {
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if d.IsDir() {
			if top == "." && name != root {
				return fs.SkipDir
			}
			return nil
		}
		rel, err := filepath.Rel(dir, name)
		if rel = filepath.ToSlash(rel); err == nil && !known(rel) {
			out = append(out, rel)
		}
		return nil
	})
	slices.Sort(out)
	return out
}

func sortedKeys[V any](m map[string]V) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// Composed is a name in the form in which most systems write it (Unicode's
// NFC): two names that look alike are then one.
func Composed(name string) string { return norm.NFC.String(name) }
