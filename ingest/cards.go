package ingest

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"coverplate/ingest/catalogue"
	"coverplate/ingest/fixity"
)

// CardState is a card as it is now, and whether it may be formatted.
type CardState struct {
	Name    string
	Root    string // where it is, or was last
	Mounted bool   // something can be read there now
	Format  bool   // each file on it has as many verified copies as are wanted
	Why     string // where it must be kept: why, in a line
	Files   int    // on it now, hidden and system files apart
	Bytes   int64
	Passed  int        // hidden and system files, which are not copied
	Lacking []CardFile // files that stand in the way, by path
	Away    []string   // roots of second copies that count and are not plugged in now
	Oldest  time.Time  // when the first of the copies that count was read back; zero where none counts
}

// CardFile is a file on a card that stands in the way of formatting it.
type CardFile struct {
	Path   string // on the card, with forward slashes
	Copies int    // verified, on different devices
	Why    string
}

// maxLitter is how large a hidden file may be before a person must look at it,
// bytes: what systems leave behind is smaller. Common practice, no source.
const maxLitter = 1 << 20

// Cards looks at cards as they are now, file by file: those at roots, or where
// there is none all that the catalogue knows, where they were last. A file is
// known by its path, size, time and both ends, or where that is not enough, and
// with rehash always, by its whole content. wanted is how many verified copies
// on different devices each must have. Errors: the cause of ctx, and a fault of
// the catalogue.
func Cards(ctx context.Context, store *catalogue.Store, shoot string, wanted int, roots []string, rehash bool) ([]CardState, error) {
	shoot, err := filepath.Abs(shoot)
	if err != nil {
		return nil, err
	}
	all, err := store.Cards(ctx)
	if err != nil {
		return nil, err
	}
	copies, err := store.Copies(ctx)
	if err != nil {
		return nil, err
	}
	l := cardLook{ctx: ctx, store: store, shoot: shoot, wanted: wanted, rehash: rehash,
		copies: map[string][]catalogue.Copy{}, devices: map[string][]string{}, buf: make([]byte, chunk)}
	for _, c := range copies {
		l.copies[c.File] = append(l.copies[c.File], c)
	}
	var out []CardState
	for _, root := range roots {
		real, err := realPath(root)
		if err != nil {
			out = append(out, CardState{Name: filepath.Base(root), Root: root})
			continue
		}
		w := walker{}
		c := w.card(real, true)
		if k, ok := recognised(all, c.volume, c.root, nil); ok {
			c.name = k.Name
		}
		out = append(out, CardState{Name: c.name, Root: c.root})
	}
	if len(roots) == 0 {
		out = whereNow(all)
	}
	for i := range out {
		if out[i].Why != "" {
			continue // it is elsewhere
		}
		if err := l.card(&out[i]); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// cardLook is one look at cards.
type cardLook struct {
	ctx     context.Context
	store   *catalogue.Store
	shoot   string
	wanted  int
	rehash  bool
	copies  map[string][]catalogue.Copy // by the path of their file
	devices map[string][]string         // of the roots that are plugged in; nil away
	buf     []byte
}

// card looks at one card.
func (l *cardLook) card(s *CardState) error {
	if info, err := os.Stat(s.Root); err != nil || !info.IsDir() {
		s.Why = "it is not mounted now: what is on it can't be seen"
		return nil
	}
	s.Mounted = true
	lacks := func(path string, copies int, format string, args ...any) {
		s.Lacking = append(s.Lacking, CardFile{path, copies, fmt.Sprintf(format, args...)})
	}
	err := filepath.WalkDir(s.Root, func(name string, d fs.DirEntry, err error) error {
		if l.ctx.Err() != nil {
			return context.Cause(l.ctx)
		}
		rel, relErr := filepath.Rel(s.Root, name)
		if relErr != nil {
			return relErr
		}
		rel = filepath.ToSlash(rel)
		switch {
		case err != nil:
			lacks(rel, 0, "it can't be read: %v", fixity.WithoutPath(err))
			return nil
		case d.IsDir():
			return nil // hidden folders too: there may be pictures in them
		case !d.Type().IsRegular():
			lacks(rel, 0, "a link or special file: it is not copied")
			return nil
		}
		info, err := d.Info()
		if err != nil {
			lacks(rel, 0, "it can't be read: %v", fixity.WithoutPath(err))
			return nil
		}
		if hidden(rel) {
			s.Passed++
			if ownWork(d.Name(), info.Size()) {
				lacks(rel, 0, "hidden, and not copied; look at it and copy it by hand if it is wanted")
			}
			return nil
		}
		s.Files++
		s.Bytes += info.Size()
		n, why, err := l.file(s, entry{path: name, given: name, source: rel, kind: kindOf(d.Name()), size: info.Size(), modified: info.ModTime()})
		if err != nil {
			return err
		}
		if n < l.wanted {
			lacks(rel, n, "%s", why)
		}
		return nil
	})
	if err != nil {
		return err
	}
	slices.Sort(s.Away)
	switch {
	case len(s.Lacking) > 0:
		s.Why = fmt.Sprintf("%d of %d files on it stand in the way", len(s.Lacking), s.Files+s.Passed)
	case s.Files == 0:
		s.Why = "there is nothing on it: it is not mounted, or was formatted already"
	default:
		s.Format = true
	}
	return nil
}

// hidden reports whether any part of a path on a card is hidden or a system's.
func hidden(rel string) bool {
	return slices.ContainsFunc(strings.Split(rel, "/"), litter)
}

// ownWork reports whether a hidden file could be somebody's: a picture, or too
// large for what systems leave. "._DSC_0412.JPG" is no picture but what one
// system keeps beside it.
func ownWork(name string, size int64) bool {
	return !strings.HasPrefix(name, "._") && (pictorial(kindOf(name)) && size > 0 || size > maxLitter)
}

// file counts the verified copies of a file on a card, on different devices.
// why says what is wanting. The error is a fault of the catalogue or the cause
// of ctx.
func (l *cardLook) file(s *CardState, e entry) (copies int, why string, err error) {
	sum, err := l.sum(e)
	var broken catalogueError
	switch {
	case l.ctx.Err() != nil, errors.As(err, &broken):
		return 0, "", err
	case err != nil:
		return 0, fmt.Sprintf("it can't be read: %v", fixity.WithoutPath(err)), nil
	}
	held, err := l.store.WithContent(l.ctx, sum)
	if err != nil {
		return 0, "", catalogueError{err}
	}
	if len(held) == 0 {
		return 0, "it is not in the shoot: run coverplate ingest on this card", nil
	}
	best, bestWhy := 0, ""
	for _, h := range held {
		n, why, away, oldest := l.count(h)
		if n > best || bestWhy == "" {
			best, bestWhy = n, why
		}
		if n >= l.wanted {
			for _, r := range away {
				if !slices.Contains(s.Away, r) {
					s.Away = append(s.Away, r)
				}
			}
			if s.Oldest.IsZero() || oldest.Before(s.Oldest) {
				s.Oldest = oldest
			}
			return n, "", nil
		}
	}
	return best, bestWhy, nil
}

// sum is the SHA-256 of a file on a card: from the catalogue, where it was read
// whole before and looks the same, else of all that is in it.
func (l *cardLook) sum(e entry) (string, error) {
	in, err := os.Open(e.path)
	if err != nil {
		return "", err
	}
	defer in.Close()
	if !l.rehash {
		seen, err := l.store.SeenAs(l.ctx, []string{e.source})
		if err != nil {
			return "", catalogueError{err}
		}
		if before := alike(seen[e.source], e.size, e.modified); len(before) > 0 {
			ends, err := quick(in, e.size)
			if err != nil {
				return "", err
			}
			if known := byEnds(before, ends); known != nil {
				return known.Held.SHA256, nil
			}
		}
	}
	sum, err := copyHashed(l.ctx, nil, in, l.buf, func(int) {})
	if err == nil {
		err = unchanged(in, e)
	}
	return sum, err
}

// count counts the verified copies of one file of the library: that in the
// shoot, and second copies that surely lie on other devices. away are the roots
// that count and can't be seen now.
func (l *cardLook) count(h catalogue.Held) (n int, why string, away []string, oldest time.Time) {
	switch {
	case filepath.IsAbs(h.Path):
		return 0, "it was taken in place: there is no copy", nil, oldest
	case h.Verified.IsZero():
		return 0, "its copy in the shoot was never read back", nil, oldest
	case !isFile(onDisk(l.shoot, h.Path), h.Size):
		return 0, fmt.Sprintf("its copy in the shoot is gone: %s", h.Path), nil, oldest
	}
	n, oldest = 1, h.Verified
	why = "it has one verified copy; give a second disk with coverplate ingest --second"
	var used [][]string
	for _, c := range l.copies[h.Path] {
		on, plugged := l.plugged(c.Root)
		switch {
		case !c.Apart:
			why = fmt.Sprintf("its second copy in %s is not surely on another device than the shoot", c.Root)
			continue
		case plugged && !isFile(filepath.Join(c.Root, filepath.FromSlash(c.File)), h.Size):
			why = fmt.Sprintf("its second copy in %s is gone; run coverplate ingest --second", c.Root)
			continue
		case plugged && slices.ContainsFunc(used, func(u []string) bool { return !apart(u, on) }):
			continue // two folders of one disk are one
		}
		if plugged {
			used = append(used, on)
		} else {
			away = append(away, c.Root)
		}
		n++
		if c.Verified.Before(oldest) {
			oldest = c.Verified
		}
	}
	return n, why, away, oldest
}

// plugged tells whether a root of second copies can be seen, and its devices.
func (l *cardLook) plugged(root string) (on []string, plugged bool) {
	on, known := l.devices[root]
	if !known {
		if _, err := os.Stat(filepath.Join(root, SecondMark)); err == nil {
			on = devices(root)
		}
		l.devices[root] = on
	}
	return on, on != nil
}
