package ingest

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"

	"coverplate/ingest/catalogue"
	"coverplate/ingest/fixity"
)

// StateSecond is the state of an Event that tells of a second copy.
const StateSecond = "second copy"

// Second brings the second copies of a shoot up to date from its originals; no
// card is needed. report is that of Run; only Second of the Summary is set.
// Errors: ErrSecond, ErrBusy, and a fault of the catalogue; what is wrong with
// the second disk is said in the Summary.
func Second(ctx context.Context, store *catalogue.Store, o Options, report func(Event)) (Summary, error) {
	shoot, err := filepath.Abs(o.Shoot)
	if err != nil {
		return Summary{}, fmt.Errorf("copy %s: %w", o.Shoot, err)
	}
	release, err := lock(shoot)
	if err != nil {
		return Summary{}, fmt.Errorf("copy %s: %w", o.Shoot, err)
	}
	defer release()
	r := run{store: store, o: o, disk: o.onto(), shoot: shoot, report: report}
	letGo, err := r.openSecond(ctx)
	if err == nil {
		defer letGo()
		err = r.fillSecond(ctx)
	}
	if ctx.Err() != nil {
		return r.sum, context.Cause(ctx)
	}
	if err != nil {
		return r.sum, fmt.Errorf("copy %s: %w", o.Shoot, err)
	}
	return r.sum, nil
}

// openSecond makes the folder of the second copies ready, where one is asked
// for. That it can't be used is no error of the run.
func (r *run) openSecond(ctx context.Context) (release func(), err error) {
	if r.o.Second == "" {
		return func() {}, nil
	}
	if r.o.InPlace {
		return nil, fmt.Errorf("what is taken in place has no copy: %w", ErrSecond)
	}
	root, err := filepath.Abs(r.o.Second)
	if err != nil {
		return nil, err
	}
	if err := checkSecond(root, r.shoot, r.found); err != nil {
		return nil, err
	}
	copies, err := r.store.Copies(ctx)
	if err != nil {
		return nil, err
	}
	known := false
	for _, c := range copies {
		known = known || c.Root == root
	}
	r.second, release = openSecond(r.disk, root, r.shoot, known, r.workers())
	r.sum.Second = SecondCopies{Root: root, Apart: r.second.apart}
	if fault := r.second.broken(); fault != nil {
		r.said = true
		r.tell(Event{Source: r.o.Second, Err: fault, State: StateSecond})
	}
	return release, nil
}

// noteSeconds stores what the second disk has by now.
func (t taker) noteSeconds(ctx context.Context) error {
	if t.second == nil {
		return nil
	}
	return t.store.PutCopies(ctx, t.second.flush())
}

// fillSecond copies what the second disk did not get in the same read, and
// sums up.
func (r *run) fillSecond(ctx context.Context) error {
	s := r.second
	if s == nil {
		return nil
	}
	s.wait(ctx)
	t := taker{store: r.store, second: s}
	if err := t.noteSeconds(context.WithoutCancel(ctx)); err != nil {
		return err
	}
	todo, whole, err := r.lacking(ctx)
	if err != nil {
		return err
	}
	r.all.ToSecond = len(todo)
	buf := make([]byte, chunk)
	done := map[string]bool{}
	for _, h := range todo {
		if s.broken() != nil || ctx.Err() != nil {
			break
		}
		err := s.fill(ctx, r.shoot, h, buf)
		var original *originalError
		switch {
		case ctx.Err() != nil:
		case err == nil:
			done[h.Path] = true
			r.all.Second++
			r.tell(Event{Source: h.Path, State: StateSecond})
		case errors.As(err, &original), errors.Is(err, fs.ErrExist):
			r.tell(Event{Source: h.Path, Err: err, State: StateSecond})
		default:
			s.fail(err)
		}
		if err := t.noteSeconds(context.WithoutCancel(ctx)); err != nil {
			return err
		}
	}
	sum := &r.sum.Second
	sum.Copied, sum.Whole, sum.Waiting, sum.Fault = s.count(), whole+len(done), len(todo)-len(done), s.broken()
	if sum.Fault != nil {
		if !r.said {
			r.tell(Event{Source: s.root, Err: sum.Fault, State: StateSecond})
		}
		return nil
	}
	return r.endSecond(context.WithoutCancel(ctx))
}

// lacking are the originals without a copy below the second's root; whole
// counts the others. A copy that is not there any more is none.
func (r *run) lacking(ctx context.Context) (todo []catalogue.Held, whole int, err error) {
	held, err := originalsOf(ctx, r.store)
	if err != nil {
		return nil, 0, err
	}
	copies, err := r.store.Copies(ctx)
	if err != nil {
		return nil, 0, err
	}
	there := map[string]bool{}
	for _, c := range copies {
		if c.Root == r.second.root {
			there[c.File] = true
		}
	}
	for _, h := range held {
		if there[h.Path] && isFile(filepath.Join(r.second.root, filepath.FromSlash(h.Path)), h.Size) {
			whole++
		} else {
			todo = append(todo, h)
		}
	}
	return todo, whole, nil
}

// endSecond writes the manifest of the second disk and clears up there.
func (r *run) endSecond(ctx context.Context) error {
	copies, err := r.store.Copies(ctx)
	if err != nil {
		return err
	}
	var all []fixity.Listed
	for _, c := range copies {
		if c.Root == r.second.root {
			all = append(all, fixity.Listed{Sum: c.SHA256, Path: c.File})
		}
	}
	err = errors.Join(r.disk.RemoveAll(r.second.incoming()), writeManifest(r.disk, r.second.root, all))
	if err != nil {
		r.second.fail(err)
		r.sum.Second.Fault = err
		r.tell(Event{Source: r.second.root, Err: err, State: StateSecond})
	}
	return nil
}
