package ingest

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"

	"coverplate/ingest/catalogue"
)

// got is one file of a group in hand.
type got struct {
	entry
	quick string          // fingerprint of its ends
	sum   string          // SHA-256
	held  *catalogue.Held // the file of the library that has its content; nil where it is new
	seen  *catalogue.Seen // as what it was known without being read whole; nil where it was not
	copy  staged          // where it is new and copied
}

// where is where the bytes of g can be read fastest: the library's own copy,
// else the card.
func (g got) where(shoot string) string {
	switch {
	case g.held != nil:
		return onDisk(shoot, g.held.Path)
	case g.copy.path != "":
		return g.copy.path
	}
	return g.path
}

// onDisk is the place of a path of the catalogue.
func onDisk(shoot, path string) string {
	if filepath.IsAbs(path) {
		return path
	}
	return filepath.Join(shoot, filepath.FromSlash(path))
}

// fault is a file that could not be taken.
type fault struct {
	entry
	err error
}

// taken is a group that was read whole, as far as it can be.
type taken struct {
	files    []got
	picture  bool // the first is a picture
	faults   []fault
	here     *catalogue.Frame // the frame of this content, where the catalogue has it; see inShort
	measured *measured        // nil where nothing had to be measured
	err      error            // ends the run
}

// asItWas reports whether the catalogue has every file of the group, all of one
// frame, and nothing of it is to be measured.
func (t *taken) asItWas() bool {
	return t.here != nil && t.measured == nil && len(t.faults) == 0 && !slices.ContainsFunc(t.files, func(g got) bool {
		return g.held == nil || g.held.Frame != t.here.ID
	})
}

// inShort is the frame of the group where all of it was known without being
// read: what catalogue.Seen tells of it, and these files. nil where a part of
// the group is of another frame, or of none.
func (t *taken) inShort() *catalogue.Frame {
	var f catalogue.Frame
	for i, g := range t.files {
		if g.seen == nil || g.seen.Frame == nil || i > 0 && g.seen.Frame.ID != f.ID {
			return nil
		}
		if i == 0 {
			f = *g.seen.Frame
		}
		f.Files = append(f.Files, g.held.File)
	}
	if len(t.faults) > 0 {
		return nil
	}
	return &f
}

// taker is what the workers share.
type taker struct {
	store  *catalogue.Store
	o      Options
	disk   disk
	second *second // nil where none is asked for
	shoot  string  // absolute
	read   func(n int)
}

// incoming is the folder where copies wait.
func (t taker) incoming() string { return filepath.Join(t.shoot, originals, incoming) }

// take reads a group: those files that are not known are copied, or in place
// hashed, and their facts and the camera's own preview are read; what their
// pixels show is measured when the cards are done with. One file that can't be read leaves the others of its
// group.
func (t taker) take(ctx context.Context, g job, buf []byte) (out taken) {
	defer func() {
		if out.err != nil {
			out.drop(t.disk)
		}
	}()
	for _, e := range g.files {
		file, err := t.file(ctx, e, g.seen[e.source], buf)
		var library *LibraryError
		switch {
		case err == nil:
			out.files = append(out.files, file)
		case ctx.Err() != nil:
			out.err = context.Cause(ctx)
			return out
		case errors.As(err, &library), errors.Is(err, errCatalogue):
			out.err = err
			return out
		default:
			out.faults = append(out.faults, fault{e, err})
		}
	}
	if len(out.files) == 0 || !pictorial(out.files[0].kind) {
		return out
	}
	out.picture = true
	if out.here = out.inShort(); out.here != nil && !t.wantsLook(*out.here) {
		return out
	}
	if out.here, out.err = t.sameContent(ctx, out.files); out.err != nil {
		return out
	}
	if out.here != nil && !t.wantsLook(*out.here) {
		return out
	}
	files := t.located(out.files)
	if out.here != nil {
		files = t.locatedOf(*out.here)
	}
	m := measure(files, out.here != nil)
	if out.here == nil {
		m.embedded(files)
	}
	out.measured = &m
	return out
}

// errCatalogue marks a fault of the catalogue, which ends the run.
var errCatalogue = errors.New("catalogue")

type catalogueError struct{ error }

func (e catalogueError) Is(target error) bool { return target == errCatalogue }
func (e catalogueError) Unwrap() error        { return e.error }

// file takes one file: known again by its looks, or read whole, once. before
// is what was taken under its path before.
func (t taker) file(ctx context.Context, e entry, before []catalogue.Seen, buf []byte) (g got, err error) {
	g.entry = e
	before = alike(before, e.size, e.modified)
	known := (*catalogue.Seen)(nil)
	if e.card.sure && !t.o.Rehash {
		known = onCard(before, e.card.name)
	}
	if known == nil && len(before) > 0 {
		if g.quick, err = t.ends(e); err != nil {
			return g, err
		}
		known = byEnds(before, g.quick)
	}
	if known != nil && !t.usable(known.Held) {
		known = nil
	}
	if known != nil && !t.o.Rehash {
		g.quick, g.sum, g.held, g.seen = known.Quick, known.Held.SHA256, &known.Held, known
		t.read(int(e.size))
		return g, nil
	}
	if known != nil || t.o.InPlace {
		if g.sum, g.quick, err = t.whole(ctx, e, buf); err != nil {
			return g, err
		}
		if known != nil && g.sum == known.Held.SHA256 {
			g.held = &known.Held
			return g, nil
		}
		if t.o.InPlace {
			return g, nil
		}
		t.read(-int(e.size)) // it looks as it did and is not: read again to be copied
	}
	g.copy, err = stage(ctx, t.disk, t.second, e, t.incoming(), buf, t.read)
	g.sum, g.quick = g.copy.sum, g.copy.quick
	return g, err
}

// ends is the fingerprint of the ends of a file on a card.
func (t taker) ends(e entry) (string, error) {
	in, err := t.disk.Open(e.path)
	if err != nil {
		return "", err
	}
	defer in.Close()
	if err := unchanged(in, e); err != nil {
		return "", err
	}
	return quick(in, e.size)
}

// whole reads a file on a card and returns the SHA-256 of all of it and of its
// ends.
func (t taker) whole(ctx context.Context, e entry, buf []byte) (sum, quick string, err error) {
	in, err := t.disk.Open(e.path)
	if err != nil {
		return "", "", err
	}
	defer in.Close()
	var both ends
	if sum, err = copyHashed(ctx, &both, in, buf, t.read); err != nil {
		return "", "", err
	}
	return sum, both.sum(), unchanged(in, e)
}

// usable reports whether the file of the catalogue is where it says and of that
// size; unless in place is asked for, it must be a copy of our own.
func (t taker) usable(h catalogue.Held) bool {
	if !t.o.InPlace && filepath.IsAbs(h.Path) {
		return false
	}
	return isFile(onDisk(t.shoot, h.Path), h.Size)
}

// sameContent is the frame that has the content of one of the pictures, the
// leading one's before the others'; nil where there is none.
func (t taker) sameContent(ctx context.Context, files []got) (*catalogue.Frame, error) {
	for _, g := range files {
		if !pictorial(g.kind) {
			continue
		}
		var id catalogue.FrameID
		if g.held != nil {
			id = g.held.Frame
		} else {
			all, err := t.store.WithContent(ctx, g.sum)
			if err != nil {
				return nil, err
			}
			for _, h := range all {
				if h.Frame != "" {
					id = h.Frame
					break
				}
			}
		}
		if id != "" {
			f, err := t.store.Frame(ctx, id)
			return &f, err
		}
	}
	return nil, nil
}

// wantsLook reports whether the frame should be measured again: it could not be
// read last time, or its preview is gone.
func (t taker) wantsLook(f catalogue.Frame) bool {
	if waits(f) {
		return false // see renew
	}
	if f.Unread != "" {
		return true
	}
	if f.Look.Picture == "" {
		return f.Look.Preview == ""
	}
	info, err := os.Stat(onDisk(t.shoot, f.Look.Picture))
	return err != nil || info.Size() == 0
}

func (t taker) located(files []got) []located {
	out := make([]located, len(files))
	for i, g := range files {
		out[i] = located{g.kind, g.name(), g.where(t.shoot), g.modified}
	}
	return out
}

// locatedOf is where the files of a frame of the catalogue are.
func (t taker) locatedOf(f catalogue.Frame) []located {
	var out []located
	for _, file := range f.Files {
		if file.Kind != catalogue.Other {
			out = append(out, located{file.Kind, file.Name, onDisk(t.shoot, file.Path), file.Modified})
		}
	}
	return out
}

// drop throws the copies away that found no place.
func (t *taken) drop(d disk) {
	for i := range t.files {
		t.files[i].copy.drop(d)
	}
}
