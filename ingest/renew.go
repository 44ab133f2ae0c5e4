package ingest

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"sync"

	"coverplate/ingest/catalogue"
)

// Measures is the number of the way in which facts are read and pixels are
// looked at. Raise it with every change that leaves frames measured before
// without a fact, or with a worse one: they are measured again, from their
// originals in the library, at the end of the next run.
//
// 2: focus, light, rims, what matters, embedded profiles, gravity.
// 3: slopes and light cell by cell, by which frames of one picture are held
// against each other.
// 4: straight edges.
// 5: what matters by vessel, and no longer in shadows.
// 6: what matters with plates that are not round, and not where light falls off.
// 7: pictures that were cut.
// 8: slates.
const Measures = 8

// StateRenewed is the state of an Event that tells of a frame measured again.
const StateRenewed = "measured again"

// StateMeasured is that of an Event that tells of a frame's first look.
const StateMeasured = "measured"

// Renew measures again all frames of the shoot whose facts and look were
// measured in an older way, from their originals; no card is needed. What is
// stored of a frame whose original is not at hand stays as it is. Each frame is
// stored as soon as it is measured, so that a run that ctx ends is gone on with
// by the next one. workers and report are those of Run; only the Measured,
// Renewed, Away and Unread of the Summary are set.
func Renew(ctx context.Context, store *catalogue.Store, shoot string, workers int, report func(Event)) (Summary, error) {
	shoot, err := filepath.Abs(shoot)
	if err != nil {
		return Summary{}, fmt.Errorf("measure %s again: %w", shoot, err)
	}
	release, err := lock(shoot)
	if err != nil {
		return Summary{}, fmt.Errorf("measure %s again: %w", shoot, err)
	}
	defer release()
	defer collectSooner()()
	r := run{store: store, o: Options{Shoot: shoot, Workers: workers}, disk: osDisk{}, shoot: shoot, report: report}
	err = r.renew(ctx)
	if err != nil && ctx.Err() == nil {
		err = fmt.Errorf("measure %s again: %w", shoot, err)
	}
	return r.sum, err
}

// renewal is a frame and what was measured of it.
type renewal struct {
	frame catalogue.Frame
	measured
}

// renew measures what waits for its first look, and again what was measured in
// an older way.
func (r *run) renew(ctx context.Context) error {
	old, err := r.store.MeasuredBefore(ctx, Measures)
	if err != nil || len(old) == 0 {
		return err
	}
	t := taker{store: r.store, o: r.o, disk: r.disk, shoot: r.shoot}
	var fresh, todo []catalogue.Frame
	for _, f := range old {
		switch {
		case !t.atHand(f):
			r.sum.Away++
		case waits(f):
			fresh = append(fresh, f)
		default:
			todo = append(todo, f)
		}
	}
	if r.all.ToMeasure = len(fresh); len(fresh) > 0 {
		r.tell(Event{})
	}
	if err := r.measureAll(ctx, t, fresh); err != nil {
		return err
	}
	r.all.ToRenew = len(todo)
	return r.measureAll(ctx, t, todo)
}

// measureAll measures frames: all of them wait for their first look, or none.
func (r *run) measureAll(ctx context.Context, t taker, todo []catalogue.Frame) error {
	k := keeper{taker: t}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	for n := range r.each(ctx, todo, func(f catalogue.Frame) measured { return measure(t.locatedOf(f), true) }) {
		if ctx.Err() != nil {
			continue // the workers are ending
		}
		first, before, err := waits(n.frame), n.frame.Unread, error(nil)
		if n.look.Preview == "" && n.frame.Look.Preview != "" {
			// What was known of it is more than what can be read now.
			n.frame.Unread, n.frame.Measured = n.unread(), Measures
		} else {
			n.facts(&n.frame)
			err = k.setLook(&n.frame, n.measured)
		}
		if err == nil {
			err = r.store.Put(context.WithoutCancel(ctx), n.frame)
		}
		if err != nil {
			stop(err)
			continue
		}
		e := Event{Source: n.frame.Path(), Frame: &n.frame, State: StateRenewed}
		if first {
			r.sum.Measured++
			r.all.Measured++
			e.Source, e.State = cmp.Or(r.given[n.frame.ID], e.Source), StateMeasured
		} else {
			r.sum.Renewed++
			r.all.Renewed++
		}
		if n.frame.Unread != "" && (first || before == "") {
			r.sum.Unread++
			e.Err = errors.New(n.frame.Unread)
			if first {
				e.State = StateUnread
			}
		}
		r.tell(e)
	}
	return context.Cause(ctx)
}

// waits reports whether a frame waits for its first look.
func waits(f catalogue.Frame) bool { return f.Measured == 0 && f.Look.Preview == "" }

// atHand reports whether the pictures of a frame are where the catalogue says.
func (t taker) atHand(f catalogue.Frame) bool {
	any := false
	for _, file := range f.Files {
		if pictorial(file.Kind) {
			if !isFile(onDisk(t.shoot, file.Path), file.Size) {
				return false
			}
			any = true
		}
	}
	return any
}

// StateShown is that of an Event that tells of a frame whose preview was made,
// and which waits for its first look.
const StateShown = "waits to be measured"

// showRest makes previews, of the frames that wait for their first look, of
// those in which the camera embedded none.
func (r *run) showRest(ctx context.Context) error {
	old, err := r.store.MeasuredBefore(ctx, Measures)
	if err != nil {
		return err
	}
	k := keeper{taker: taker{store: r.store, o: r.o, disk: r.disk, shoot: r.shoot}}
	var todo []catalogue.Frame
	for _, f := range old {
		if !waits(f) {
			continue
		}
		r.sum.Waiting++
		if f.Look.Picture == "" && k.atHand(f) {
			todo = append(todo, f)
		}
	}
	if r.all.ToShow = len(todo); len(todo) > 0 {
		r.tell(Event{})
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	for n := range r.each(ctx, todo, func(f catalogue.Frame) measured {
		files := k.locatedOf(f)
		m := measure(files, false)
		m.show(files)
		return m
	}) {
		if ctx.Err() != nil {
			continue // the workers are ending
		}
		e := Event{Source: n.frame.Path(), Frame: &n.frame, State: StateShown}
		before := n.frame.Unread
		if n.frame.Unread = n.unread(); n.frame.Unread != "" && before == "" {
			r.sum.Unread++
			e.Err, e.State = errors.New(n.frame.Unread), StateUnread
		}
		var err error
		if n.picture != nil {
			err = k.keepPicture(&n.frame, n.picture, replaceFile)
		}
		if err == nil {
			err = r.store.Put(context.WithoutCancel(ctx), n.frame)
		}
		if err != nil {
			stop(err)
			continue
		}
		r.all.Shown++
		r.tell(e)
	}
	return context.Cause(ctx)
}

// each has the workers do something with each of the frames, and closes what
// it returns when they are gone.
func (r *run) each(ctx context.Context, frames []catalogue.Frame, do func(catalogue.Frame) measured) <-chan renewal {
	todo, out := make(chan catalogue.Frame), make(chan renewal)
	var busy sync.WaitGroup
	busy.Go(func() {
		defer close(todo)
		for _, f := range frames {
			select {
			case todo <- f:
			case <-ctx.Done():
				return
			}
		}
	})
	for range r.workers() {
		busy.Go(func() {
			for f := range todo {
				out <- renewal{f, do(f)} // the writer reads until the end
			}
		})
	}
	go func() {
		busy.Wait()
		close(out)
	}()
	return out
}
