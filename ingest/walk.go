package ingest

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"time"

	"coverplate/ingest/catalogue"
)

// card is one source: a card, a folder or the folder of a single file.
type card struct {
	name    string // its own among all cards of the shoot, once tellCards has told it
	volume  string // the name of its folder or volume
	root    string // absolute; paths on the card are below it
	files   int
	bytes   int64
	partial bool // only a part of what is below root was asked for
	missed  bool // something on it was not taken
	sure    bool // it is surely the card of that name: see surely
}

// entry is one file on a card.
type entry struct {
	card     *card
	path     string // on the disk, absolute
	given    string // as the person named it
	source   string // on the card, with forward slashes
	kind     catalogue.FileKind
	size     int64 // bytes
	modified time.Time
}

func (e entry) name() string { return path.Base(e.source) }

// problem is something on a card that can't be taken.
type problem struct {
	given string
	err   error // nil: passed over, and no fault
}

// found is what a walk over all sources gives.
type found struct {
	cards    []*card
	entries  []entry // in the order of the sources, then of the folders
	problems []problem
	skipped  int // hidden and system files, links, special files
}

// walk lists all that is on the sources. Symbolic links are not followed, save
// a source that is one itself. Errors: ErrNoSource, ErrOwnFolder, a source that
// can't be read at all; anything below a source that can't be is a problem.
func walk(ctx context.Context, shoot string, sources []string) (found, error) {
	if len(sources) == 0 {
		return found{}, ErrNoSource
	}
	shoot, err := realPath(shoot)
	if err != nil {
		return found{}, err
	}
	w := walker{ctx: ctx, shoot: shoot, seen: map[string]bool{}}
	for _, s := range sources {
		if err := w.source(s); err != nil {
			return found{}, err
		}
	}
	return w.found, nil
}

// realPath is name absolute and without symbolic links.
func realPath(name string) (string, error) {
	abs, err := filepath.Abs(name)
	if err != nil {
		return "", err
	}
	return filepath.EvalSymlinks(abs)
}

type walker struct {
	found
	ctx   context.Context
	shoot string          // real path
	seen  map[string]bool // real paths of files, for sources that overlap
}

func (w *walker) source(given string) error {
	real, err := realPath(given)
	if err != nil {
		return fmt.Errorf("read source: %w", err)
	}
	info, err := os.Stat(real)
	if err != nil {
		return fmt.Errorf("read source: %w", err)
	}
	if real == w.shoot || within(real, filepath.Join(w.shoot, originals)) || within(real, filepath.Join(w.shoot, previews)) {
		return fmt.Errorf("read source %s: %w", given, ErrOwnFolder)
	}
	if !info.IsDir() && !info.Mode().IsRegular() {
		return fmt.Errorf("read source %s: %w", given, ErrNotRegular)
	}
	c := w.card(real, info.IsDir())
	if !info.IsDir() {
		w.file(c, real, given, info)
		return nil
	}
	if _, err := os.ReadDir(real); err != nil {
		return fmt.Errorf("read source: %w", err) // nothing of it can be read: said at once
	}
	return filepath.WalkDir(real, func(name string, d fs.DirEntry, err error) error {
		if w.ctx.Err() != nil {
			return context.Cause(w.ctx)
		}
		shown := given
		if name != real {
			shown = filepath.Join(given, strings.TrimPrefix(name, real))
		}
		if err != nil {
			w.miss(c, shown, err)
			return nil // WalkDir goes on with what it could list
		}
		switch {
		case name == real:
		case litter(d.Name()) || d.IsDir() && name == w.shoot:
			w.skipped++
			if d.IsDir() {
				return fs.SkipDir
			}
		case d.IsDir():
		case !d.Type().IsRegular():
			w.skipped++
			w.problems = append(w.problems, problem{given: shown})
		default:
			info, err := d.Info()
			if err != nil {
				w.miss(c, shown, err)
				return nil
			}
			w.file(c, name, shown, info)
		}
		return nil
	})
}

func (w *walker) miss(c *card, given string, err error) {
	c.missed = true
	w.problems = append(w.problems, problem{given, err})
}

func (w *walker) file(c *card, real, given string, info fs.FileInfo) {
	if w.seen[real] {
		return
	}
	w.seen[real] = true
	rel, err := filepath.Rel(c.root, real)
	if err != nil {
		w.miss(c, given, err)
		return
	}
	c.files++
	c.bytes += info.Size()
	w.entries = append(w.entries, entry{
		card: c, path: real, given: given, source: filepath.ToSlash(rel),
		kind: kindOf(info.Name()), size: info.Size(), modified: info.ModTime(),
	})
}

// card is the card that real is on: what holds its DCIM folder, where there is
// one above or at real; else real itself, or the folder of that single file.
func (w *walker) card(real string, dir bool) *card {
	root, partial := real, false
	if !dir {
		root, partial = filepath.Dir(real), true
	}
	for p := root; p != filepath.Dir(p); p = filepath.Dir(p) {
		if strings.EqualFold(filepath.Base(p), "DCIM") {
			partial = partial || p != root
			root = filepath.Dir(p)
			break
		}
	}
	name := filepath.Base(root)
	if root == filepath.Dir(root) {
		name = "card"
	}
	for _, c := range w.cards {
		if c.root == root {
			c.partial = c.partial && partial
			return c
		}
	}
	c := &card{name: name, volume: name, root: root, partial: partial}
	w.cards = append(w.cards, c)
	return c
}

// within reports whether name is dir or below it; both are real paths.
func within(name, dir string) bool {
	rel, err := filepath.Rel(dir, name)
	return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
}

// litter reports whether a name is hidden, or is what an operating system
// leaves on every disk. Folders of rescued files (LOST.DIR, FOUND.000) are no
// litter: photographs may be in them. Common practice, no source.
func litter(name string) bool {
	if strings.HasPrefix(name, ".") {
		return true
	}
	switch strings.ToLower(name) {
	case "thumbs.db", "ehthumbs.db", "desktop.ini", "system volume information", "$recycle.bin", "recycler",
		"lost+found", "__macosx", "icon\r":
		return true
	}
	return false
}

// errChanged: a file is being written while we read it.
var errChanged = errors.New("it changed while it was read; run again when it is complete")
