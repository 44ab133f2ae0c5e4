package ingest

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"coverplate/ingest/catalogue"
)

var (
	// ErrSecond: the folder for the second copies can't be one.
	ErrSecond = errors.New("second copies can't go there")
	// ErrGone: the folder for the second copies is not the one it was.
	ErrGone = errors.New("the disk of the second copies is not there; plug it in and run again with the same --second")
	// errBehind: the second disk could not keep up with the card.
	errBehind = errors.New("the second disk fell behind")
)

// SecondMark is the file that marks a folder as one of second copies. A disk
// that is unplugged leaves an empty folder behind, on the disk of the system:
// without the mark nothing more is copied there.
const SecondMark = "coverplate-second-copies.txt"

const secondSays = `This folder holds second copies of a shoot's originals, made and read back by
coverplate. Leave this file: it tells the disk from the empty folder that stays
where a disk is unplugged. sha256sum -c manifest-sha256.txt checks the copies.
`

// patience is how long the first copies of a run wait in all for the second
// disk to take pieces. After that they leave it behind: what it lacks is copied
// at the end, at its own pace.
const patience = 2 * time.Second

// second is where second copies go. Each is written in the same read of the
// card as the first, by a goroutine of its own: whatever befalls it, the first
// does not wait for it longer than patience in all. What it did not get is copied from
// the first at the end.
type second struct {
	disk  disk
	root  string // absolute
	apart bool   // on other devices than the shoot

	folders *tree
	slots   chan struct{} // files in hand
	work    sync.WaitGroup
	spare   chan []byte // pieces of chunk bytes that nobody holds

	mu      sync.Mutex
	fault   error            // nothing more is copied there in this run
	settled []catalogue.Copy // whole and in place, and not yet in the catalogue
	copied  int              // files so far
	waited  time.Duration    // by the first copies
}

// checkSecond makes sure that root is apart from the shoot and from all sources:
// nothing is ever written to a card.
func checkSecond(root, shoot string, found found) error {
	real, err := realPath(root)
	if err != nil {
		return nil // not there: said when it is opened, the run goes on
	}
	at, err := realPath(shoot)
	if err != nil {
		return err
	}
	if within(real, at) || within(at, real) {
		return fmt.Errorf("%s: it is the shoot's own folder, or the shoot lies in it: %w", root, ErrSecond)
	}
	for _, c := range found.cards {
		if within(real, c.root) || within(c.root, real) {
			return fmt.Errorf("%s: it is on the card %s, or that lies in it, and nothing is ever written to a card: %w", root, c.name, ErrSecond)
		}
	}
	return nil
}

// openSecond makes root ready. known tells whether copies went there before. A
// second that can't be used is returned with its fault.
func openSecond(d disk, root, shoot string, known bool, workers int) (s *second, release func()) {
	s = &second{disk: d, root: root, slots: make(chan struct{}, 2*workers), folders: &tree{disk: d, root: root}}
	s.spare = make(chan []byte, 8*workers)
	release = func() {}
	info, err := os.Stat(root)
	switch {
	case err != nil && known:
		s.fault = fmt.Errorf("%s: %w", root, ErrGone)
		return s, release
	case err != nil:
		s.fault = err
		return s, release
	case !info.IsDir():
		s.fault = fmt.Errorf("%s: not a folder", root)
		return s, release
	}
	mark := filepath.Join(root, SecondMark)
	if _, err := os.Stat(mark); errors.Is(err, fs.ErrNotExist) && known {
		s.fault = fmt.Errorf("%s has no %s: %w", root, SecondMark, ErrGone)
		return s, release
	} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
		s.fault = err
		return s, release
	} else if err != nil {
		if s.fault = replaceFile(d, mark, []byte(secondSays)); s.fault != nil {
			return s, release
		}
	}
	free, err := lock(root)
	if err != nil {
		s.fault = err
		return s, release
	}
	s.apart = apart(d.Devices(root), d.Devices(shoot))
	err = errors.Join(d.RemoveAll(s.incoming()), d.MkdirAll(s.incoming()), d.SyncFolder(root))
	if err != nil {
		s.fault = err
	}
	return s, free
}

// apart reports whether two folders lie on devices that are surely different.
func apart(a, b []string) bool {
	for _, one := range a {
		if slices.Contains(b, one) {
			return false
		}
	}
	return len(a) > 0 && len(b) > 0
}

func (s *second) incoming() string { return filepath.Join(s.root, originals, incoming) }

// broken is why nothing more is copied there; nil while it works.
func (s *second) broken() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.fault
}

// count is how many copies were made in this run.
func (s *second) count() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.copied
}

// left is what is left of the patience with it.
func (s *second) left() time.Duration {
	s.mu.Lock()
	defer s.mu.Unlock()
	return max(0, patience-s.waited)
}

// fail lets the second be for the rest of the run. Whatever the system says of
// a disk that is there no more, ErrGone says what to do.
func (s *second) fail(err error) {
	if _, there := os.Stat(filepath.Join(s.root, SecondMark)); errors.Is(there, fs.ErrNotExist) {
		err = fmt.Errorf("%s has no %s: %w", s.root, SecondMark, ErrGone)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.fault == nil {
		s.fault = err
	}
}

// settle notes a copy that is whole, read back and in its place.
func (s *second) settle(path, sum string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.copied++
	s.settled = append(s.settled, catalogue.Copy{File: path, Root: s.root, SHA256: sum, Apart: s.apart, Verified: time.Now().UTC()})
}

// flush takes what is whole and in place since the last call.
func (s *second) flush() []catalogue.Copy {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := s.settled
	s.settled = nil
	return out
}

// twin is a second copy in the making. Its methods are called in the order
// Write, end or drop, and after end goTo or drop; a nil twin does nothing.
type twin struct {
	s      *second
	pieces chan []byte
	lost   bool   // it fell behind; of the writing side
	sum    string // SHA-256 of what was written; set before pieces is closed, "" where it is to be thrown away
	ended  bool
	place  chan string // at most one path below the root; closed without one it is thrown away
	gone   bool
}

// begin starts the second copy of e; nil where the second is broken or has its
// hands full.
func (s *second) begin(e entry) *twin {
	if s == nil || s.broken() != nil || s.left() == 0 {
		return nil
	}
	select {
	case s.slots <- struct{}{}:
	default:
		return nil
	}
	t := &twin{s: s, pieces: make(chan []byte, 4), place: make(chan string, 1)}
	s.work.Go(func() {
		defer func() { <-s.slots }()
		t.copy(e)
	})
	return t
}

// Write hands b on; it never fails, and waits at most for what is left of the
// patience.
func (t *twin) Write(b []byte) {
	if t == nil || t.lost || len(b) == 0 {
		return
	}
	var piece []byte
	select {
	case piece = <-t.s.spare:
	default:
		piece = make([]byte, 0, chunk)
	}
	piece = append(piece[:0], b...)
	select {
	case t.pieces <- piece:
		return
	default:
	}
	begun, wait := time.Now(), time.NewTimer(t.s.left())
	defer wait.Stop()
	select {
	case t.pieces <- piece:
	case <-wait.C:
		t.lost = true
	}
	t.s.mu.Lock()
	defer t.s.mu.Unlock()
	t.s.waited += time.Since(begun)
}

// end says that all was written, and what its SHA-256 is.
func (t *twin) end(sum string) {
	if t == nil || t.ended {
		return
	}
	t.ended = true
	if !t.lost {
		t.sum = sum
	}
	close(t.pieces)
}

// goTo gives the copy its place, below the root.
func (t *twin) goTo(path string) {
	if t == nil || t.gone {
		return
	}
	t.gone = true
	t.place <- path
	close(t.place)
}

// drop throws the copy away, unless it has its place.
func (t *twin) drop() {
	if t == nil || t.gone {
		return
	}
	t.end("")
	t.gone = true
	close(t.place)
}

// copy is the goroutine of a twin.
func (t *twin) copy(e entry) {
	s := t.s
	part, err := t.stage(e)
	if err == nil && t.sum == "" {
		err = errBehind
	}
	to, wanted := <-t.place
	if part != "" && (err != nil || !wanted) {
		s.disk.Remove(part)
	}
	switch {
	case errors.Is(err, errBehind), err == nil && !wanted:
		return // left to the end of the run
	case err != nil:
		s.fail(err)
		return
	}
	if err := s.put(part, to, e.size, t.sum); err != nil {
		s.disk.Remove(part)
		if !errors.Is(err, fs.ErrExist) {
			s.fail(err)
		}
	}
}

// stage writes what comes, waits until the disk has it and reads it back. It
// listens to the end whatever happens.
func (t *twin) stage(e entry) (part string, err error) {
	out, err := t.s.disk.Temp(t.s.incoming(), "*.part")
	if err == nil {
		part = out.Name()
	}
	for piece := range t.pieces {
		if err == nil {
			_, err = out.Write(piece)
		}
		select {
		case t.s.spare <- piece:
		default:
		}
	}
	if out == nil {
		return "", err
	}
	if err != nil || t.sum == "" {
		return part, errors.Join(err, out.Close())
	}
	return part, sealed(context.Background(), out, e, t.sum)
}

// sealed ends the copy out of e: made read-only, synced, closed, read back past
// the page cache and compared with the SHA-256 sum.
func sealed(ctx context.Context, out file, e entry, sum string) error {
	out.Seal(e.modified)
	if err := out.Sync(); err != nil {
		out.Close()
		return err
	}
	out.Forget()
	if err := out.Close(); err != nil {
		return err
	}
	got, err := sumOf(ctx, out.Name(), make([]byte, chunk))
	if err != nil {
		return err
	}
	if got != sum {
		return &CopyError{e.given, sum, got}
	}
	return nil
}

// put moves the whole copy part to its place and notes it for the catalogue. The
// very same content that is there already is as good; other content is an
// fs.ErrExist and left alone.
func (s *second) put(part, to string, size int64, sum string) error {
	full := filepath.Join(s.root, filepath.FromSlash(to))
	if err := s.folders.make(path.Dir(to)); err != nil {
		return err
	}
	err := s.disk.Place(part, full)
	if errors.Is(err, fs.ErrExist) {
		if same, readErr := isCopy(context.Background(), full, size, sum); readErr != nil || !same {
			return fmt.Errorf("%s is another file than the shoot's; move it away and run again: %w", full, fs.ErrExist)
		}
		s.disk.Remove(part)
	} else if err != nil {
		return err
	}
	if err := s.disk.SyncFolder(filepath.Dir(full)); err != nil {
		return err
	}
	s.settle(to, sum)
	return nil
}

// wait waits until all twins have ended, or ctx has.
func (s *second) wait(ctx context.Context) {
	done := make(chan struct{})
	go func() {
		s.work.Wait()
		close(done)
	}()
	select {
	case <-done:
	case <-ctx.Done():
	}
}

// fill copies one original to the second disk: what was in the shoot before,
// or what the second disk did not get in the same read. The original is read
// whole and held against the catalogue first.
func (s *second) fill(ctx context.Context, shoot string, h catalogue.Held, buf []byte) error {
	from := onDisk(shoot, h.Path)
	in, err := os.Open(from)
	if err != nil {
		return &originalError{h.Path, err}
	}
	defer in.Close()
	full := filepath.Join(s.root, filepath.FromSlash(h.Path))
	if same, err := isCopy(ctx, full, h.Size, h.SHA256); err == nil && same { // from a run that was cut off
		if err := s.folders.make(path.Dir(h.Path)); err != nil {
			return err
		}
		if err := s.disk.SyncFolder(filepath.Dir(full)); err != nil {
			return err
		}
		s.settle(h.Path, h.SHA256)
		return nil
	}
	out, err := s.disk.Temp(s.incoming(), "*.part")
	if err != nil {
		return err
	}
	sum, err := copyHashed(ctx, out, in, buf, func(int) {})
	switch {
	case err == nil && sum != h.SHA256:
		err = &originalError{h.Path, fmt.Errorf("it reads as %.12s… and was taken as %.12s…", sum, h.SHA256)}
		out.Close()
	case err == nil:
		err = sealed(ctx, out, entry{given: h.Path, modified: h.Modified}, sum)
	default:
		out.Close()
	}
	if err == nil {
		err = s.put(out.Name(), h.Path, h.Size, sum)
	}
	if err != nil {
		s.disk.Remove(out.Name())
	}
	return err
}

// originalError is an original of the shoot that is not what it was.
type originalError struct {
	path string // below the shoot's folder
	err  error
}

func (e *originalError) Error() string {
	return fmt.Sprintf("%s: the original in the shoot can't be copied: %v; coverplate verify reads them all", e.path, e.err)
}
func (e *originalError) Unwrap() error { return e.err }
