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
	here     *catalogue.Frame // the frame of this content, where the catalogue has it
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
// hashed, and their facts are read; what their pixels show is measured when the
// cards are done with. One file that can't be read leaves the others of its
// group.
func (t taker) take(ctx context.Context, g group, buf []byte) (out taken) {
	defer func() {
		if out.err != nil {
			out.drop(t.disk)
		}
	}()
	for _, e := range g.files {
		file, err := t.file(ctx, e, buf)
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
	out.measured = &m
	return out
}

// errCatalogue marks a fault of the catalogue, which ends the run.
var errCatalogue = errors.New("catalogue")

type catalogueError struct{ error }

func (e catalogueError) Is(target error) bool { return target == errCatalogue }
func (e catalogueError) Unwrap() error        { return e.error }

// file takes one file: known again by its looks, or read whole.
func (t taker) file(ctx context.Context, e entry, buf []byte) (got, error) {
	g := got{entry: e}
	in, err := os.Open(e.path)
	if err != nil {
		return g, err
	}
	defer in.Close()
	if err := unchanged(in, e); err != nil {
		return g, err
	}
	if g.quick, err = quick(in, e.size); err != nil {
		return g, err
	}
	held, err := t.store.Known(ctx, catalogue.Source{Path: e.source, Size: e.size, Modified: e.modified, Quick: g.quick})
	known := err == nil && t.usable(held)
	if err != nil && !errors.Is(err, catalogue.ErrNotFound) {
		return g, catalogueError{err}
	}
	if known && !t.o.Rehash {
		g.held, g.sum = &held, held.SHA256
		t.read(int(e.size))
		return g, nil
	}
	if known || t.o.InPlace {
		if g.sum, err = copyHashed(ctx, nil, in, buf, t.read); err != nil {
			return g, err
		}
		if err := unchanged(in, e); err != nil {
			return g, err
		}
		if known && g.sum == held.SHA256 {
			g.held = &held
			return g, nil
		}
		if t.o.InPlace {
			return g, nil
		}
		t.read(-int(e.size)) // it looks as it did and is not: read again to be copied
	}
	g.copy, err = stage(ctx, t.disk, t.second, e, t.incoming(), buf, t.read)
	g.sum = g.copy.sum
	return g, err
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
