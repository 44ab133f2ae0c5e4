package ingest

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"sync"
	"sync/atomic"
	"time"

	"coverplate/ingest/catalogue"
	"coverplate/ingest/fixity"
)

// tick is how often progress is told while nothing else is.
const tick = 200 * time.Millisecond

// Run takes all that is on the sources into the shoot. What was taken before is
// known again and left alone; what a run before could not end is completed.
// One file that can't be read is told to report and the run goes on. All is
// copied, read back and in the catalogue with the previews that the cameras
// embedded, and the cards are let go, before pixels are measured: of the
// library's own copies.
//
// report is called on the caller's goroutine. When ctx ends, so does the run,
// between two files at the latest after one piece of one, and the error is the
// cause; the shoot is then as if the rest had not been asked for. Other errors:
// ErrNoSource, ErrOwnFolder, ErrBusy, a source that is not there, a
// *LibraryError, and a fault of the catalogue.
func Run(ctx context.Context, store *catalogue.Store, o Options, report func(Event)) (Summary, error) {
	shoot, err := filepath.Abs(o.Shoot)
	if err != nil {
		return Summary{}, fmt.Errorf("ingest into %s: %w", o.Shoot, err)
	}
	release, err := lock(shoot)
	if err != nil {
		return Summary{}, fmt.Errorf("ingest into %s: %w", o.Shoot, err)
	}
	defer release()
	defer collectSooner()()
	sources, err := walk(ctx, shoot, o.Sources)
	if err != nil {
		return Summary{}, err
	}
	r := run{store: store, o: o, disk: o.onto(), shoot: shoot, found: sources, report: report,
		given: map[catalogue.FrameID]string{}}
	for _, e := range sources.entries {
		r.all.BytesAll += e.size
	}
	r.all.FilesAll = len(sources.entries)
	r.sum.Files, r.sum.Skipped = len(sources.entries), sources.skipped
	if err := r.tellCards(ctx); err != nil {
		return r.sum, fmt.Errorf("ingest into %s: %w", o.Shoot, err)
	}
	if err := r.prepare(); err != nil {
		return r.sum, fmt.Errorf("ingest into %s: %w", o.Shoot, &LibraryError{err})
	}
	letGo, err := r.openSecond(ctx)
	if err != nil {
		return r.sum, fmt.Errorf("ingest into %s: %w", o.Shoot, err)
	}
	defer letGo()
	err = errors.Join(r.takeAll(ctx), r.finish(context.WithoutCancel(ctx), ctx.Err() == nil))
	if err == nil {
		err = r.fillSecond(ctx)
	}
	switch {
	case err != nil:
	case o.Later:
		err = r.showRest(ctx)
	default:
		err = r.renew(ctx)
	}
	if ctx.Err() != nil {
		return r.sum, context.Cause(ctx)
	}
	if err != nil {
		return r.sum, fmt.Errorf("ingest into %s: %w", o.Shoot, err)
	}
	return r.sum, nil
}

// collectAt is the memory, bytes, from which a run collects what it no longer
// needs rather than take more.
const collectAt = 112 << 20

// collectSooner has the process keep to collectAt, unless it was told a limit
// (GOMEMLIMIT), until the function it returns is called.
func collectSooner() (asBefore func()) {
	before := debug.SetMemoryLimit(-1)
	if before != math.MaxInt64 {
		return func() {}
	}
	debug.SetMemoryLimit(collectAt)
	return func() { debug.SetMemoryLimit(before) }
}

// run is one Run at work.
type run struct {
	store  *catalogue.Store
	o      Options
	disk   disk
	second *second // nil where none is asked for
	said   bool    // what is wrong with second
	shoot  string
	found  found
	report func(Event)

	all  Event        // the counts so far
	read atomic.Int64 // bytes, by all workers

	given map[catalogue.FrameID]string // where the frames that wait for their first look came from
	sum   Summary
}

// prepare clears away what a run that was cut off left, and makes the folder
// for copies that wait.
func (r *run) prepare() error {
	if err := r.sweep(); err != nil {
		return err
	}
	if r.o.InPlace {
		return nil
	}
	if err := r.disk.MkdirAll(filepath.Join(r.shoot, originals, incoming)); err != nil {
		return err
	}
	return r.disk.SyncFolder(r.shoot)
}

func (r *run) sweep() error {
	parts, err := filepath.Glob(filepath.Join(globQuote(r.shoot), previews, "??", "*.jpg.part"))
	if err != nil {
		return err
	}
	parts = append(parts, filepath.Join(r.shoot, ManifestName+".part"))
	errs := []error{r.disk.RemoveAll(filepath.Join(r.shoot, originals, incoming))}
	for _, p := range parts {
		errs = append(errs, r.disk.RemoveAll(p))
	}
	return errors.Join(errs...)
}

// globQuote is a path that a pattern takes for itself.
func globQuote(path string) string {
	var out []rune
	for _, c := range path {
		if c == '*' || c == '?' || c == '[' || c == '\\' {
			out = append(out, '\\')
		}
		out = append(out, c)
	}
	return string(out)
}

// takeAll runs the workers, and is the one writer.
func (r *run) takeAll(ctx context.Context) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	for _, p := range r.found.problems {
		if p.err == nil {
			r.tell(Event{Source: p.given, State: StateSkipped})
			continue
		}
		r.sum.Unread++
		r.tell(Event{Source: p.given, Err: p.err, State: StateUnread})
	}
	t := taker{store: r.store, o: r.o, disk: r.disk, shoot: r.shoot, second: r.second, read: func(n int) { r.read.Add(int64(n)) }}
	k := keeper{taker: t, folders: &tree{disk: r.disk, root: r.shoot}}
	for out := range r.work(ctx, t) {
		if out.err == nil && ctx.Err() != nil {
			out.err = context.Cause(ctx)
		}
		if out.err != nil {
			out.drop(r.disk)
			stop(out.err) // the first cause counts; the workers end
			continue
		}
		if out.progress {
			r.tell(Event{})
			continue
		}
		// A step that was begun is ended, whatever comes.
		kept, err := k.keep(context.WithoutCancel(ctx), out.taken)
		if err != nil {
			stop(err)
			continue
		}
		r.done(out.taken, kept)
	}
	return context.Cause(ctx)
}

// step is what the writer hears: a group, or that time has passed.
type step struct {
	taken
	progress bool
}

// work has the groups taken by the workers, and closes what it returns when
// they are all gone.
func (r *run) work(ctx context.Context, t taker) <-chan step {
	todo, steps := make(chan job), make(chan step)
	var busy, clock sync.WaitGroup
	busy.Go(func() {
		defer close(todo)
		err := r.jobs(ctx, func(j job) bool {
			select {
			case todo <- j:
				return true
			case <-ctx.Done():
				return false
			}
		})
		if err != nil {
			steps <- step{taken: taken{err: err}}
		}
	})
	for range r.workers() {
		busy.Go(func() {
			buf := make([]byte, chunk)
			for g := range todo {
				steps <- step{taken: t.take(ctx, g, buf)} // the writer reads until the end
			}
		})
	}
	ended := make(chan struct{})
	clock.Go(func() {
		every := time.NewTicker(tick)
		defer every.Stop()
		for {
			select {
			case <-every.C:
				select {
				case steps <- step{progress: true}:
				case <-ended:
					return
				}
			case <-ended:
				return
			}
		}
	})
	go func() {
		busy.Wait()
		close(ended)
		clock.Wait()
		close(steps)
	}()
	return steps
}

func (r *run) workers() int {
	if r.o.Workers > 0 {
		return r.o.Workers
	}
	return min(runtime.NumCPU(), 8)
}

// done counts a group and tells of it.
func (r *run) done(t taken, k kept) {
	for _, f := range append(t.faults, k.faults...) {
		f.card.missed = true
		r.sum.Unread++
		r.all.FilesDone++
		r.tell(Event{Source: f.given, Err: f.err, State: StateUnread})
	}
	r.sum.Copied += k.files
	r.sum.AlreadyHere += k.here
	r.sum.Others += k.others
	r.sum.Bytes += k.bytes
	if len(t.files) == 0 {
		return
	}
	r.all.FilesDone += len(t.files) - len(k.faults)
	e := Event{Source: t.files[0].given, Frame: k.frame, State: StateHere}
	if k.files > 0 {
		e.State = StateCopied
		if r.o.InPlace {
			e.State = StateInPlace
		}
	}
	if t.picture {
		r.sum.Frames++
		if k.isNew {
			r.sum.NewFrames++
		}
	}
	if k.frame != nil && waits(*k.frame) && !r.o.Later {
		r.given[k.frame.ID] = t.files[0].given // what can't be read of it is told when its pixels are measured
	} else if k.frame != nil && k.frame.Unread != "" {
		e.State, e.Err = StateUnread, errors.New(k.frame.Unread)
		r.sum.Unread++
	}
	r.tell(e)
	for _, g := range t.files {
		if g.size == 0 && pictorial(kindOf(g.name())) {
			r.sum.Unread++
			r.tell(Event{Source: g.given, Err: ErrEmpty, State: StateUnread})
		}
	}
}

// tell reports e with the counts so far.
func (r *run) tell(e Event) {
	e.FilesDone, e.FilesAll = r.all.FilesDone, r.all.FilesAll
	e.Renewed, e.ToRenew = r.all.Renewed, r.all.ToRenew
	e.Shown, e.ToShow = r.all.Shown, r.all.ToShow
	e.Measured, e.ToMeasure = r.all.Measured, r.all.ToMeasure
	e.Second, e.ToSecond = r.all.Second, r.all.ToSecond
	e.BytesDone, e.BytesAll = min(r.read.Load(), r.all.BytesAll), r.all.BytesAll
	if r.report != nil {
		r.report(e)
	}
}

// finish stores what is known of the cards and writes the manifest.
func (r *run) finish(ctx context.Context, ended bool) error {
	known, err := r.store.Cards(ctx)
	if err != nil {
		return err
	}
	stored := map[string]bool{}
	for _, c := range known {
		stored[c.Name] = true
	}
	now := time.Now().UTC()
	for _, c := range r.found.cards {
		ended := ended && r.all.FilesDone == r.all.FilesAll
		out := catalogue.Card{Name: c.name, Volume: c.volume, Root: c.root, Files: c.files, Bytes: c.bytes,
			FirstRead: now, LastRead: now, Whole: ended && !c.missed && !c.partial, Marks: marksOf(r.found.entries, c)}
		r.sum.Cards = append(r.sum.Cards, out)
		if (c.partial || c.files == 0) && stored[c.name] {
			continue // what is known of the whole card, or of what was on it, says more
		}
		if err := r.store.PutCard(ctx, out); err != nil {
			return err
		}
	}
	// The workers are gone: nothing waits any more.
	if err := r.sweep(); err != nil {
		return &LibraryError{err}
	}
	held, err := originalsOf(ctx, r.store)
	if err != nil {
		return err
	}
	all := make([]fixity.Listed, len(held))
	for i, h := range held {
		all[i] = fixity.Listed{Sum: h.SHA256, Path: h.Path}
	}
	if err := writeManifest(r.disk, r.shoot, all); err != nil {
		return &LibraryError{err}
	}
	return nil
}
