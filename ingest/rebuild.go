package ingest

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"coverplate/ingest/catalogue"
	"coverplate/ingest/fixity"
)

// Health is what is wrong between a catalogue, its originals and its journal.
type Health struct {
	Broken   []string       // what SQLite says of the file
	Missing  []fixity.Fault // files of the catalogue that are not there, or not of their size
	Unknown  []string       // originals that are not in the catalogue, paths below the shoot
	Journal  catalogue.Unlike
	Unread   error // why the journal can't be read; nil it can
	Previews int   // frames whose preview is gone: the next ingest makes it anew
}

// Well reports whether nothing is wrong.
func (h Health) Well() bool {
	return len(h.Broken)+len(h.Missing)+len(h.Unknown) == 0 && h.Journal.None() && h.Unread == nil
}

// Examine holds the catalogue against the folder of its shoot and against its
// journal. Nothing is read whole, and nothing changed.
func Examine(ctx context.Context, store *catalogue.Store, shoot string) (Health, error) {
	shoot, err := filepath.Abs(shoot)
	if err != nil {
		return Health{}, err
	}
	var h Health
	if h.Broken, err = store.Integrity(ctx); err != nil {
		return h, err
	}
	held, err := store.Files(ctx)
	if err != nil {
		return h, err
	}
	known := map[string]bool{}
	for _, f := range held {
		known[f.Path] = true
		if info, err := os.Lstat(onDisk(shoot, f.Path)); err != nil {
			h.Missing = append(h.Missing, fixity.Fault{Path: f.Path, Says: "is missing"})
		} else if !info.Mode().IsRegular() || info.Size() != f.Size {
			h.Missing = append(h.Missing, fixity.Fault{Path: f.Path, Says: fmt.Sprintf("was changed: it has %d bytes, not %d", info.Size(), f.Size)})
		}
	}
	h.Unknown = fixity.Extra(shoot, originals, func(p string) bool { return known[p] })
	frames, err := store.Frames(ctx)
	if err != nil {
		return h, err
	}
	for _, f := range frames {
		if p := f.Look.Picture; p != "" {
			if _, err := os.Stat(onDisk(shoot, p)); err != nil {
				h.Previews++
			}
		}
	}
	h.Journal, h.Unread = store.Journal(ctx)
	return h, nil
}

// Rebuilt is what Rebuild did.
type Rebuilt struct {
	Files, Frames int              // brought into the catalogue
	Faults        []fixity.Fault   // originals that can't be vouched for, and what could not be read
	Decisions     catalogue.Unlike // what was reconciled; where Other is not empty nothing was
	Manifest      string           // where the old manifest was kept, since it says other than the files; "" nowhere
}

// Rebuild brings the originals that the catalogue doesn't know into it, all of
// them where the catalogue was lost, and reconciles decisions with the journal.
// Each is read whole: one that the manifest lists with the same checksum is as
// it was verified, any other is taken in unverified and named. Nothing of the
// originals is changed. report is told of each file. Errors: ErrBusy, the cause
// of ctx, and faults of the catalogue and the shoot's disk.
func Rebuild(ctx context.Context, store *catalogue.Store, shoot string, report func(Event)) (Rebuilt, error) {
	shoot, err := filepath.Abs(shoot)
	if err != nil {
		return Rebuilt{}, err
	}
	release, err := lock(shoot)
	if err != nil {
		return Rebuilt{}, fmt.Errorf("rebuild %s: %w", shoot, err)
	}
	defer release()
	r := rebuild{run: run{store: store, o: Options{Shoot: shoot}, disk: osDisk{}, shoot: shoot, report: report}, buf: make([]byte, chunk)}
	if err := r.all(ctx); err != nil {
		if ctx.Err() != nil {
			return r.out, context.Cause(ctx)
		}
		return r.out, fmt.Errorf("rebuild %s: %w", shoot, err)
	}
	return r.out, nil
}

type rebuild struct {
	run
	listed map[string]string // SHA-256 by path, as the manifest has it
	buf    []byte
	out    Rebuilt
}

func (r *rebuild) all(ctx context.Context) error {
	old, err := r.readManifest()
	if err != nil {
		return err
	}
	held, err := r.store.Files(ctx)
	if err != nil {
		return err
	}
	entries := r.unknown(held)
	r.run.all.FilesAll = len(entries)
	for _, g := range groups(entries) {
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		if err := r.take(ctx, g); err != nil {
			return err
		}
	}
	if r.out.Decisions, err = r.store.Reconcile(ctx); err != nil {
		return err
	}
	if len(r.out.Faults) > 0 && len(old) > 0 { // what the manifest says of them must not be lost
		name := strings.TrimSuffix(ManifestName, ".txt") + "-before-" + time.Now().UTC().Format("20060102T150405") + ".txt"
		if err := replaceFile(r.disk, filepath.Join(r.shoot, name), old); err != nil {
			return &LibraryError{err}
		}
		r.out.Manifest = name
	}
	return r.finish(ctx, true)
}

// readManifest reads the list of what was verified.
func (r *rebuild) readManifest() ([]byte, error) {
	r.listed = map[string]string{}
	b, err := os.ReadFile(filepath.Join(r.shoot, ManifestName))
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			err = nil
		}
		return nil, err
	}
	all, _ := fixity.ParseList(strings.NewReader(string(b)), ManifestName, sha256.Size)
	for _, l := range all {
		r.listed[l.Path] = l.Sum
	}
	return b, nil
}

// unknown are the originals that the catalogue doesn't have.
func (r *rebuild) unknown(held []catalogue.Held) []entry {
	known := map[string]bool{}
	for _, h := range held {
		known[h.Path] = true
	}
	all := &card{root: r.shoot}
	var out []entry
	for _, p := range fixity.Extra(r.shoot, originals, func(p string) bool { return known[p] }) {
		info, err := os.Lstat(onDisk(r.shoot, p))
		if err != nil || !info.Mode().IsRegular() {
			r.out.Faults = append(r.out.Faults, fixity.Fault{Path: p, Says: "neither a file nor a folder"})
			continue
		}
		out = append(out, entry{card: all, path: onDisk(r.shoot, p), given: p, source: p, kind: kindOf(path.Base(p)), size: info.Size(), modified: info.ModTime()})
	}
	return out
}

// take brings one group into the catalogue.
func (r *rebuild) take(ctx context.Context, g group) error {
	files := make([]catalogue.File, 0, len(g.files))
	for _, e := range g.files {
		sum, err := sumOf(ctx, e.path, r.buf)
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		r.run.all.FilesDone++
		if err != nil {
			r.out.Faults = append(r.out.Faults, fixity.Fault{Path: e.source, Says: "can't be read: " + fixity.WithoutPath(err).Error()})
			continue
		}
		f := catalogue.File{Kind: e.kind, Path: e.source, Name: e.name(), Size: e.size, SHA256: sum, Modified: e.modified.UTC()}
		switch want, listed := r.listed[e.source]; {
		case !listed:
			r.out.Faults = append(r.out.Faults, fixity.Fault{Path: e.source, Says: "is not in the manifest: taken in, but nobody can tell whether it is what was copied"})
		case want != sum:
			r.out.Faults = append(r.out.Faults, fixity.Fault{Path: e.source, Says: "was changed: its checksum is not the manifest's; taken in as it is now"})
		default:
			f.Verified = time.Now().UTC()
		}
		files = append(files, f)
	}
	if len(files) == 0 {
		return nil
	}
	trueNames(files)
	rest, ok := strings.CutPrefix(files[0].Path, originals+"/other/")
	if !pictorial(files[0].Kind) || ok {
		for i := range files {
			if ok {
				files[i].Card, files[i].Source, _ = strings.Cut(strings.TrimSuffix(rest, path.Base(rest))+path.Base(files[i].Path), "/")
			}
		}
		r.out.Files += len(files)
		r.tell(Event{Source: files[0].Path, State: StateHere})
		return r.loose(ctx, files)
	}
	return r.frame(ctx, files)
}

// trueNames takes off the names the suffix that place gave them, which begins
// as the checksum of the leading file does.
func trueNames(files []catalogue.File) {
	for _, digits := range [...]int{64, 24, 12, 6} {
		mark := "-" + files[0].SHA256[:digits]
		if !strings.HasSuffix(stemOf(files[0].Name), mark) {
			continue
		}
		for i := range files {
			files[i].Name = strings.Replace(files[i].Name, mark, "", 1)
		}
		return
	}
}

// loose keeps files of no picture: with the frame that they stand beside, else
// without one.
func (r *rebuild) loose(ctx context.Context, files []catalogue.File) error {
	f, err := r.beside(ctx, files[0])
	if err == nil {
		return r.join(ctx, f, files)
	}
	if !errors.Is(err, catalogue.ErrNotFound) {
		return err
	}
	return r.store.Record(ctx, catalogue.Entry{Others: files})
}

// frame keeps the files of a picture: with the frame of its content, or that it
// stands beside, else as a new one.
func (r *rebuild) frame(ctx context.Context, files []catalogue.File) error {
	r.out.Files += len(files)
	id := catalogue.FrameID(files[0].SHA256)
	f, err := r.store.Frame(ctx, id)
	if errors.Is(err, catalogue.ErrNotFound) {
		f, err = r.beside(ctx, files[0])
	}
	if errors.Is(err, catalogue.ErrNotFound) {
		r.out.Frames++
		f, err = catalogue.Frame{ID: id}, nil
	}
	if err != nil {
		return err
	}
	return r.join(ctx, f, files)
}

// beside is the frame whose leading file has the folder and stem of file; else
// catalogue.ErrNotFound.
func (r *rebuild) beside(ctx context.Context, file catalogue.File) (catalogue.Frame, error) {
	all, err := r.store.Named(ctx, file.Name)
	if err != nil {
		return catalogue.Frame{}, err
	}
	for _, f := range all {
		lead := f.Path()
		if path.Dir(lead) == path.Dir(file.Path) && catalogue.Fold(stemOf(path.Base(lead))) == catalogue.Fold(stemOf(path.Base(file.Path))) {
			return f, nil
		}
	}
	return catalogue.Frame{}, catalogue.ErrNotFound
}

// join gives files to a frame and measures it anew.
func (r *rebuild) join(ctx context.Context, f catalogue.Frame, files []catalogue.File) error {
	for _, file := range files {
		f.Files = slices.DeleteFunc(f.Files, func(old catalogue.File) bool { // a row whose file is gone gives way
			return old.SHA256 == file.SHA256 && !isFile(onDisk(r.shoot, old.Path), old.Size)
		})
		f.Files = append(f.Files, file)
	}
	slices.SortStableFunc(f.Files, func(a, b catalogue.File) int { return cmp.Compare(rank(a.Kind), rank(b.Kind)) })
	t := taker{store: r.store, o: r.o, disk: r.disk, shoot: r.shoot}
	k := keeper{taker: t}
	m := measure(t.locatedOf(f), true)
	m.facts(&f)
	if err := k.setLook(&f, m); err != nil {
		return err
	}
	if err := r.store.Put(ctx, f); err != nil {
		return err
	}
	r.tell(Event{Source: f.Path(), Frame: &f, State: StateHere})
	return nil
}
