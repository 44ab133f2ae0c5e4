package ingest

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"time"

	"coverplate/ingest/catalogue"
)

// keeper gives copies their places and tells the catalogue. There is one, and
// one goroutine calls it.
type keeper struct {
	taker
	folders *tree // of the library
}

// kept is what became of a group.
type kept struct {
	frame  *catalogue.Frame
	isNew  bool  // the frame
	files  int   // copied, or newly taken in place
	here   int   // whose content was here before
	others int   // kept without a frame
	bytes  int64 // copied
	faults []fault
}

// keep takes a group into the library. An error ends the run.
func (k *keeper) keep(ctx context.Context, t taken) (kept, error) {
	defer t.drop(k.disk)
	if err := k.noteSeconds(ctx); err != nil {
		return kept{}, err
	}
	if t.picture {
		return k.keepFrame(ctx, t)
	}
	var sum kept
	for _, g := range t.files {
		one, err := k.keepLoose(ctx, g)
		if err != nil {
			return sum, err
		}
		sum.frame = cmp.Or(one.frame, sum.frame)
		sum.files += one.files
		sum.here += one.here
		sum.others += one.others
		sum.bytes += one.bytes
		sum.faults = append(sum.faults, one.faults...)
	}
	return sum, nil
}

// keepFrame keeps the files of a picture: with the frame that has its content
// or is surely the same exposure, else as a new one.
func (k *keeper) keepFrame(ctx context.Context, t taken) (kept, error) {
	if t.asItWas() {
		return kept{frame: t.here, here: len(t.files)}, nil
	}
	frame, err := k.sameContent(ctx, t.files) // anew: another worker's may have come since
	if err != nil {
		return kept{}, err
	}
	if frame == nil {
		if frame, err = k.sameExposure(ctx, t); err != nil {
			return kept{}, err
		}
	}
	if frame != nil {
		return k.join(ctx, *frame, t.files, t.measured)
	}
	if t.measured == nil {
		files := k.located(t.files)
		m := measure(files, false)
		m.embedded(files)
		t.measured = &m
	}
	f := catalogue.Frame{ID: catalogue.FrameID(t.files[0].sum)}
	t.measured.facts(&f)
	out, err := k.join(ctx, f, t.files, t.measured)
	out.isNew = true
	return out, err
}

// join adds those of files that the frame lacks to it; a new frame has no file
// yet. m is what was measured of the frame, nil where nothing was.
func (k *keeper) join(ctx context.Context, frame catalogue.Frame, files []got, m *measured) (kept, error) {
	out := kept{frame: &frame}
	isNew := len(frame.Files) == 0
	stem := stemOf(files[0].name())
	folder, as, key := folderOf(frame, k.o.DayEnds), stem, files[0].sum
	if lead := frame.Path(); lead != "" && !filepath.IsAbs(lead) {
		folder, as = path.Dir(lead), stemOf(path.Base(lead))
	}
	var fresh []got
	var hand []got // those of files that have or get a place
	var at []catalogue.File
	for _, g := range files {
		file, here, err := k.settle(ctx, &frame, &g)
		var library *LibraryError
		if errors.As(err, &library) || errors.Is(err, errCatalogue) || err != nil && ctx.Err() != nil {
			return kept{}, err
		} else if err != nil {
			out.faults = append(out.faults, fault{g.entry, err})
			continue
		}
		if here {
			hand, at = append(hand, g), append(at, file)
			out.here++
		} else {
			fresh = append(fresh, g)
		}
	}
	if len(fresh) > 0 {
		if !isNew {
			key = fresh[0].sum
		}
		placed, err := k.place(ctx, frame.ID, folder, stem, as, key, fresh)
		if err != nil {
			return kept{}, err
		}
		for i, file := range placed {
			// A row whose file is gone, or was in place and is now copied, gives way.
			frame.Files = slices.DeleteFunc(frame.Files, func(f catalogue.File) bool {
				return f.Path == file.Path || sameFile(f, fresh[i]) && !k.usable(catalogue.Held{File: f})
			})
			frame.Files = append(frame.Files, file)
			out.files++
			if !k.o.InPlace {
				out.bytes += file.Size
			}
		}
		hand, at = append(hand, fresh...), append(at, placed...)
	}
	slices.SortStableFunc(frame.Files, func(a, b catalogue.File) int { return cmp.Compare(rank(a.Kind), rank(b.Kind)) })
	if isNew {
		frame.Unread, frame.Measured = m.unread(), 0
		if m.picture != nil {
			if err := k.keepPicture(&frame, m.picture, writePassing); err != nil {
				return kept{}, err
			}
		}
	} else if again, err := k.remeasure(&frame, out.files > 0, m); err != nil {
		return kept{}, err
	} else if !again && !slices.ContainsFunc(files, func(g got) bool { return g.held == nil || g.held.Frame != frame.ID }) {
		return out, nil // all of it is as it was: the disk need not be waited for
	}
	err := k.store.Record(ctx, catalogue.Entry{Frame: &frame, Sources: sources(hand, at)})
	return out, err
}

// settle finds the file of the library that has the content of g already, for
// a frame that g belongs to; here tells whether there is one. Where the only
// one is another frame's and g must be this frame's own, it is copied now.
func (k *keeper) settle(ctx context.Context, frame *catalogue.Frame, g *got) (file catalogue.File, here bool, err error) {
	for _, f := range frame.Files {
		if sameFile(f, *g) && k.usable(catalogue.Held{File: f}) {
			return f, true, nil
		}
	}
	if g.held != nil && g.held.Frame == "" {
		// It came before its picture: now it is of this frame.
		file = g.held.File
		file.Kind = g.kind
		frame.Files = append(frame.Files, file)
		return file, true, nil
	}
	if pictorial(g.kind) {
		// The picture of another frame stays with that.
		all, err := k.store.WithContent(ctx, g.sum)
		if err != nil {
			return catalogue.File{}, false, catalogueError{err}
		}
		for _, h := range all {
			if h.Frame != "" && h.Frame != frame.ID && k.usable(h) {
				return h.File, true, nil
			}
		}
	}
	if g.copy.path == "" && !k.o.InPlace {
		// It looked like a known file of another frame, and small files do.
		g.held = nil
		if g.copy, err = stage(ctx, k.disk, nil, g.entry, k.incoming(), make([]byte, chunk), func(int) {}); err != nil {
			return catalogue.File{}, false, err
		}
		g.sum = g.copy.sum
	}
	return catalogue.File{}, false, nil
}

// remeasure reads the facts of the frame anew where it got files, and looks at
// its pixels anew where those are wanting; again tells whether it did.
func (k *keeper) remeasure(f *catalogue.Frame, grown bool, m *measured) (again bool, err error) {
	pixels := k.wantsLook(*f)
	if !grown && !pixels {
		return false, nil
	}
	if m == nil || grown {
		anew := measure(k.locatedOf(*f), pixels)
		m = &anew
	}
	m.facts(f)
	f.Unread = m.unread()
	if !pixels {
		return true, nil
	}
	return true, k.setLook(f, *m)
}

// setLook gives f its look and keeps its preview; where none could be made at
// its first look, the camera's own stays.
func (k *keeper) setLook(f *catalogue.Frame, m measured) error {
	before := ""
	if waits(*f) {
		before = f.Look.Picture
	}
	f.Look, f.Unread, f.Measured = m.look, m.unread(), Measures
	if m.picture == nil {
		f.Look.Picture = before
		return nil
	}
	return k.keepPicture(f, m.picture, replaceFile)
}

// keepPicture keeps the preview of f, by write.
func (k *keeper) keepPicture(f *catalogue.Frame, picture []byte, write func(disk, string, []byte) error) error {
	name := path.Join(previews, string(f.ID[:2]), string(f.ID)+".jpg")
	full := onDisk(k.shoot, name)
	if err := k.disk.MkdirAll(filepath.Dir(full)); err != nil {
		return &LibraryError{err}
	}
	if err := write(k.disk, full, picture); err != nil {
		return &LibraryError{err}
	}
	f.Look.Picture = name
	return nil
}

// sameFile reports whether the content of g is that of f. Pictures are told by
// their content alone; small files, of which many are alike, by their name too.
func sameFile(f catalogue.File, g got) bool {
	return f.SHA256 == g.sum && (pictorial(g.kind) || catalogue.Fold(f.Name) == catalogue.Fold(g.name()))
}

// sameExposure is the one frame that is surely the same exposure as the new
// files of t: same stem, same body, same time, and without a file of their
// kinds. nil where there is none, or more than one.
func (k *keeper) sameExposure(ctx context.Context, t taken) (*catalogue.Frame, error) {
	if t.measured == nil || t.measured.shot.Taken.IsZero() || t.measured.shot.Camera.Model == "" {
		return nil, nil
	}
	all, err := k.store.Named(ctx, t.files[0].name())
	if err != nil {
		return nil, err
	}
	var one *catalogue.Frame
	for i, f := range all {
		if !k.complements(f, t) {
			continue
		}
		if one != nil {
			return nil, nil
		}
		one = &all[i]
	}
	return one, nil
}

func (k *keeper) complements(f catalogue.Frame, t taken) bool {
	shot := t.measured.shot
	if !f.Taken.Equal(shot.Taken) || f.Camera.Make != shot.Camera.Make || f.Camera.Model != shot.Camera.Model ||
		f.Camera.Serial != shot.Camera.Serial {
		return false
	}
	lead := t.files[0]
	same := false
	for _, file := range f.Files {
		if !pictorial(file.Kind) {
			continue
		}
		// A body that writes no serial number could be two of a kind: then the
		// folder on the card must be the same too.
		if catalogue.Fold(stemOf(file.Name)) == catalogue.Fold(stemOf(lead.name())) &&
			(shot.Camera.Serial != "" || path.Dir(file.Source) == path.Dir(lead.source)) {
			same = true
		}
		for _, g := range t.files {
			if g.kind == file.Kind {
				return false
			}
		}
	}
	return same
}

// keepLoose keeps one file that no picture came with: with its frame where that
// is surely known, else as it stood on the card.
func (k *keeper) keepLoose(ctx context.Context, g got) (kept, error) {
	if g.held == nil || g.held.Frame == "" {
		frame, err := k.frameBeside(ctx, g)
		if err != nil {
			return kept{}, err
		}
		if frame != nil {
			return k.join(ctx, *frame, []got{g}, nil)
		}
	}
	if g.held != nil { // it is as it was
		out := kept{here: 1}
		if g.held.Frame == "" {
			out.others = 1
		}
		return out, nil
	}
	all, err := k.store.WithContent(ctx, g.sum)
	if err != nil {
		return kept{}, err
	}
	for _, h := range all {
		if h.Frame == "" && catalogue.Fold(h.Name) == catalogue.Fold(g.name()) && k.usable(h) {
			err := k.store.Record(ctx, catalogue.Entry{Sources: sources([]got{g}, []catalogue.File{h.File})})
			return kept{here: 1, others: 1}, err
		}
	}
	folder, name := path.Split(otherPath(g.entry))
	stem := name[:len(name)-len(path.Ext(name))]
	files, err := k.place(ctx, "", path.Clean(folder), stem, stem, g.sum, []got{g})
	if err != nil {
		return kept{}, err
	}
	err = k.store.Record(ctx, catalogue.Entry{Others: files, Sources: sources([]got{g}, files)})
	out := kept{files: 1, others: 1}
	if !k.o.InPlace {
		out.bytes = g.size
	}
	return out, err
}

// frameBeside is the frame that a sidecar, memo or thumbnail without a picture
// belongs to: the only one of its stem that came from its folder on its card.
func (k *keeper) frameBeside(ctx context.Context, g got) (*catalogue.Frame, error) {
	switch g.kind {
	case catalogue.Sidecar, catalogue.Memo, catalogue.Thumb:
	default:
		return nil, nil
	}
	all, err := k.store.Named(ctx, g.name())
	if err != nil {
		return nil, err
	}
	var one *catalogue.Frame
	for i, f := range all {
		beside := slices.ContainsFunc(f.Files, func(file catalogue.File) bool {
			return pictorial(file.Kind) && file.Card == g.card.name && path.Dir(file.Source) == path.Dir(g.source) &&
				catalogue.Fold(stemOf(file.Name)) == catalogue.Fold(stemOf(g.name()))
		})
		if !beside {
			continue
		}
		if one != nil {
			return nil, nil
		}
		one = &all[i]
	}
	return one, nil
}

// place gives all of files their names in folder, and returns them as the
// catalogue is to have them. stem is what their names on the card begin with,
// as what it becomes. Where one of the names is taken by other content, all
// get a suffix of key.
func (k *keeper) place(ctx context.Context, frame catalogue.FrameID, folder, stem, as, key string, files []got) ([]catalogue.File, error) {
	out := make([]catalogue.File, len(files))
	for i, g := range files {
		out[i] = catalogue.File{Kind: g.kind, Path: filepath.ToSlash(g.path), Name: g.name(), Size: g.size, SHA256: g.sum,
			Card: g.card.name, Source: g.source, Modified: g.modified.UTC(), Verified: g.copy.verified}
	}
	if k.o.InPlace {
		return out, nil
	}
	if err := k.folders.make(folder); err != nil {
		return nil, &LibraryError{err}
	}
	for _, digits := range [...]int{0, 6, 12, 24, len(key)} {
		free := true
		for i, g := range files {
			rest := g.name()
			if len(rest) >= len(stem) && rest[:len(stem)] == stem {
				rest = rest[len(stem):]
			} else { // the same stem in another case
				rest = rest[len(stemOf(rest)):]
			}
			out[i].Path = path.Join(folder, suffixed(as, rest, key[:digits]))
			ok, err := k.free(ctx, frame, out[i], out[:i])
			if err != nil {
				return nil, err
			}
			free = free && ok
		}
		if !free {
			continue
		}
		return out, k.moveAll(ctx, files, out)
	}
	return nil, &LibraryError{fmt.Errorf("no free name for %s in %s: %w", files[0].name(), folder, fs.ErrExist)}
}

// free reports whether f may have its path: nothing else has it, on the disk or
// in the catalogue, case ignored. The very same content, left there by a run
// that was cut off, or lost from there since, does not stand in the way.
func (k *keeper) free(ctx context.Context, frame catalogue.FrameID, f catalogue.File, others []catalogue.File) (bool, error) {
	for _, o := range others {
		if catalogue.Fold(o.Path) == catalogue.Fold(f.Path) {
			return false, nil
		}
	}
	rows, err := k.store.AtPath(ctx, f.Path)
	if err != nil {
		return false, err
	}
	for _, h := range rows {
		if h.Path != f.Path || h.SHA256 != f.SHA256 || h.Frame != frame {
			return false, nil
		}
	}
	full := onDisk(k.shoot, f.Path)
	if _, err := os.Lstat(full); errors.Is(err, fs.ErrNotExist) {
		return true, nil
	} else if err != nil {
		return false, &LibraryError{err}
	}
	same, err := isCopy(ctx, full, f.Size, f.SHA256)
	if err != nil {
		return false, nil // unreadable is not ours to trust
	}
	return same, nil
}

// moveAll moves the copies to their places and waits until the disk has them
// there. A place that holds the very same content already is left as it is.
func (k *keeper) moveAll(ctx context.Context, files []got, to []catalogue.File) error {
	for i, g := range files {
		full := onDisk(k.shoot, to[i].Path)
		err := k.disk.Place(g.copy.path, full)
		if errors.Is(err, fs.ErrExist) {
			same, readErr := isCopy(ctx, full, g.size, g.sum)
			if readErr != nil || !same {
				return &LibraryError{err} // somebody else writes there at the same time
			}
			to[i].Verified = time.Now().UTC()
		} else if err != nil {
			return &LibraryError{err}
		}
	}
	if err := k.disk.SyncFolder(onDisk(k.shoot, path.Dir(to[0].Path))); err != nil {
		return &LibraryError{err}
	}
	for i, g := range files {
		g.copy.twin.goTo(to[i].Path)
	}
	return nil
}

// sources says of each file in hand where its content is kept.
func sources(files []got, at []catalogue.File) []catalogue.Source {
	out := make([]catalogue.Source, len(files))
	for i, g := range files {
		out[i] = catalogue.Source{Card: g.card.name, Path: g.source, Size: g.size, Modified: g.modified, Quick: g.quick, File: at[i].Path}
	}
	return out
}
