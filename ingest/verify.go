package ingest

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"coverplate/ingest/catalogue"
	"coverplate/ingest/fixity"
)

// VerifyOptions say what to read again.
type VerifyOptions struct {
	Shoot string
	Root  string // of second copies; "" the originals of the shoot
	Anew  bool   // from the beginning, whatever a run before has read
}

// Verified is what a verification found.
type Verified struct {
	Files   int            // read whole in this run and found equal
	Bytes   int64          // of those
	Before  int            // read by a run that was cut off, and not again
	Faults  []fixity.Fault // missing, changed, unreadable and extra files, by path
	Skipped int            // originals that have no second copy at Root yet
}

// verifyBatch is how many files are read between two notes in the catalogue: so
// many are read again after a crash at most.
const verifyBatch = 16

// Verify reads every original of the shoot again, or every second copy at Root,
// and holds it against the catalogue; it names what is missing, changed or can't
// be read, and files that nobody knows. A run that ctx ends is gone on with by
// the next. Nothing is written but to the catalogue. read, where it is not nil,
// is told how many files of how many are done, and bytes. Errors: the cause of
// ctx, with what was found so far; ErrGone where Root is not there; a fault of
// the catalogue.
func Verify(ctx context.Context, store *catalogue.Store, o VerifyOptions, read func(done, all int, bytes int64)) (Verified, error) {
	shoot, err := filepath.Abs(o.Shoot)
	if err != nil {
		return Verified{}, err
	}
	v := verifying{store: store, o: o, shoot: shoot, root: shoot, read: read, buf: make([]byte, chunk)}
	if o.Root != "" {
		if v.o.Root, err = filepath.Abs(o.Root); err != nil {
			return Verified{}, err
		}
		v.root = v.o.Root
		if _, err := os.Stat(filepath.Join(v.root, SecondMark)); err != nil {
			return Verified{}, fmt.Errorf("%s has no %s: %w", v.root, SecondMark, ErrGone)
		}
	}
	todo, err := v.list(ctx)
	if err != nil {
		return v.out, err
	}
	if err := v.all(ctx, todo); err != nil {
		return v.out, err
	}
	v.extra()
	v.manifest()
	slices.SortStableFunc(v.out.Faults, func(a, b fixity.Fault) int { return strings.Compare(a.Path, b.Path) })
	return v.out, store.SetChecking(context.WithoutCancel(ctx), v.o.Root, time.Time{})
}

type verifying struct {
	store *catalogue.Store
	o     VerifyOptions
	shoot string
	root  string
	read  func(done, all int, bytes int64)
	buf   []byte
	known map[string]string // SHA-256 by path, of what the catalogue knows below root or in place
	out   Verified
}

// list is what is still to be read: all but what a run that was cut off has.
func (v *verifying) list(ctx context.Context) ([]catalogue.Held, error) {
	held, err := v.store.Files(ctx)
	if err != nil {
		return nil, err
	}
	checked, err := v.store.Checked(ctx, v.o.Root)
	if err != nil {
		return nil, err
	}
	begun, err := v.store.Checking(ctx, v.o.Root)
	if v.o.Anew || errors.Is(err, catalogue.ErrNotFound) {
		begun = time.Now().UTC()
		err = v.store.SetChecking(ctx, v.o.Root, begun)
	}
	if err != nil {
		return nil, err
	}
	copied := map[string]bool{}
	if v.o.Root != "" {
		copies, err := v.store.Copies(ctx)
		if err != nil {
			return nil, err
		}
		for _, c := range copies {
			copied[c.File] = copied[c.File] || c.Root == v.o.Root
		}
	}
	v.known = map[string]string{}
	var todo []catalogue.Held
	for _, h := range held {
		if v.o.Root != "" && !copied[h.Path] {
			if !filepath.IsAbs(h.Path) {
				v.out.Skipped++
			}
			continue
		}
		v.known[h.Path] = h.SHA256
		if at := checked[h.Path]; !at.IsZero() && !at.Before(begun) {
			v.out.Before++
			continue
		}
		todo = append(todo, h)
	}
	return todo, nil
}

// all reads the files, and notes those that are equal.
func (v *verifying) all(ctx context.Context, todo []catalogue.Held) error {
	var equal []string
	note := func() error {
		err := v.store.SetChecked(context.WithoutCancel(ctx), v.o.Root, equal, time.Now().UTC())
		equal = equal[:0]
		return err
	}
	for i, h := range todo {
		says := v.one(ctx, h)
		if ctx.Err() != nil {
			return errors.Join(context.Cause(ctx), note())
		}
		if says != "" {
			v.out.Faults = append(v.out.Faults, fixity.Fault{Path: h.Path, Says: says})
		} else {
			v.out.Files++
			v.out.Bytes += h.Size
			equal = append(equal, h.Path)
		}
		if v.read != nil {
			v.read(i+1, len(todo), v.out.Bytes)
		}
		if len(equal) == verifyBatch {
			if err := note(); err != nil {
				return err
			}
		}
	}
	return note()
}

// one reads one file whole; "" where it is what it was.
func (v *verifying) one(ctx context.Context, h catalogue.Held) string {
	name := onDisk(v.root, h.Path)
	info, err := os.Lstat(name)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return "is missing"
	case err != nil:
		return "can't be read: " + fixity.WithoutPath(err).Error()
	case !info.Mode().IsRegular():
		return "is no file any more"
	case info.Size() != h.Size:
		return fmt.Sprintf("was changed: it has %d bytes, not %d", info.Size(), h.Size)
	}
	sum, err := sumOf(ctx, name, v.buf)
	switch {
	case err != nil:
		return "can't be read: " + fixity.WithoutPath(err).Error()
	case sum != h.SHA256:
		return "was changed: its checksum is another"
	}
	return ""
}

// extra names the files below originals that the catalogue doesn't know.
func (v *verifying) extra() {
	for _, p := range fixity.Extra(v.root, originals, func(p string) bool { return v.known[p] != "" }) {
		v.out.Faults = append(v.out.Faults, fixity.Fault{Path: p, Says: "is not in the catalogue: nobody knows it"})
	}
}

// manifest holds the list of checksums beside the files against the catalogue.
func (v *verifying) manifest() {
	fault := func(format string, args ...any) {
		v.out.Faults = append(v.out.Faults, fixity.Fault{Path: ManifestName, Says: fmt.Sprintf(format, args...)})
	}
	want := map[string]string{}
	for p, sum := range v.known {
		if !filepath.IsAbs(p) {
			want[p] = sum
		}
	}
	f, err := os.Open(filepath.Join(v.root, ManifestName))
	if errors.Is(err, os.ErrNotExist) && len(want) == 0 {
		return
	}
	if err != nil {
		fault("can't be read: %v; the next ingest writes it anew", fixity.WithoutPath(err))
		return
	}
	defer f.Close()
	listed, faults := fixity.ParseList(f, ManifestName, sha256.Size)
	wrong := len(faults)
	for _, l := range listed {
		if want[l.Path] != l.Sum {
			wrong++
		}
		delete(want, l.Path)
	}
	if wrong+len(want) > 0 {
		fault("is not what the catalogue says in %d lines; the next ingest writes it anew", wrong+len(want))
	}
}

// ErrNoOriginals says that the shoot has no copy of its own to put into a bag.
var ErrNoOriginals = errors.New("there is no original to put into a bag")

// Bag makes a BagIt bag of the shoot's originals at dir: fixity.WriteBag. Each
// is held against the catalogue while it is copied. It returns how many files
// it holds, and how many were taken in place and are not in it. Where none would
// be in it no bag is made: ErrNoOriginals.
func Bag(ctx context.Context, store *catalogue.Store, shoot, dir string, tags []fixity.Tag, when time.Time, read func(int)) (files, inPlace int, err error) {
	shoot, err = filepath.Abs(shoot)
	if err != nil {
		return 0, 0, err
	}
	all, err := store.Files(ctx)
	if err != nil {
		return 0, 0, err
	}
	var items []fixity.Item
	for _, h := range all {
		if filepath.IsAbs(h.Path) {
			inPlace++
			continue
		}
		items = append(items, fixity.Item{From: onDisk(shoot, h.Path), Path: h.Path, Sum: h.SHA256})
	}
	if len(items) == 0 {
		return 0, inPlace, ErrNoOriginals
	}
	return len(items), inPlace, fixity.WriteBag(ctx, dir, items, tags, when, read)
}
