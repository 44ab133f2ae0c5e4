package ingest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

// Closer reads frames at 1:1 of their originals and stores how sharp what
// matters in them is there: Look.Focus.Full. It takes a full decode each, on as
// many processors as there are. Originals are only read.
//
// Where an original's pixels can't tell, be it for good, that is stored as
// Look.Focus.NotFull; an original that is not at hand now is only reported, and
// may be tried again another time. Frames that the catalogue does not know, or
// that have no measure of focus, are passed over.
//
// report is called on the caller's goroutine for each frame of ids once it is
// done with, in no certain order; err is why it could not be told, or nil. When
// ctx ends, so does Closer: frames in hand are given up, as if they had not been
// asked for; the error is the cause. Other errors are faults of the catalogue.
func Closer(ctx context.Context, store *catalogue.Store, shoot string, ids []catalogue.FrameID, report func(f catalogue.Frame, err error)) error {
	shoot, err := filepath.Abs(shoot)
	if err != nil {
		return fmt.Errorf("look closer: %w", err)
	}
	var frames []catalogue.Frame
	for _, id := range ids {
		f, err := store.Frame(ctx, id)
		switch {
		case errors.Is(err, catalogue.ErrNotFound):
		case err != nil:
			return fmt.Errorf("look closer: %w", err)
		case f.Look.Focus != nil:
			frames = append(frames, f)
		}
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	t := taker{store: store, shoot: shoot}
	for seen := range closely(ctx, t, frames) {
		kept := context.WithoutCancel(ctx)
		switch id := seen.frame.ID; {
		case seen.full != nil:
			err = store.SetFull(kept, id, *seen.full)
		case seen.forGood:
			err = store.SetNotFull(kept, id, seen.err.Error())
		}
		if err != nil {
			stop(fmt.Errorf("look closer: %w", err))
			continue // the workers are ending
		}
		report(seen.frame, seen.err)
	}
	return context.Cause(ctx)
}

// closeUp is a frame and what was seen of it at 1:1.
type closeUp struct {
	frame   catalogue.Frame
	full    *float64
	err     error // why full is nil
	forGood bool  // the bytes are what they are: another try tells the same
}

// closely has the frames read by workers, and closes what it returns when they
// are gone. What ctx cuts short is not told of.
func closely(ctx context.Context, t taker, frames []catalogue.Frame) <-chan closeUp {
	todo, out := make(chan catalogue.Frame, len(frames)), make(chan closeUp)
	for _, f := range frames {
		todo <- f
	}
	close(todo)
	var busy sync.WaitGroup
	for range min(runtime.NumCPU(), len(frames)) {
		busy.Go(func() {
			for f := range todo {
				if ctx.Err() != nil {
					continue
				}
				if seen := t.closeUp(ctx, f); ctx.Err() == nil || seen.full != nil {
					out <- seen // it is read until the end
				}
			}
		})
	}
	go func() {
		busy.Wait()
		close(out)
	}()
	return out
}

// untilEnded reads until a context ends: a decoder asks for more a few thousand
// times a picture.
type untilEnded struct {
	io.ReaderAt
	ctx context.Context
}

func (r untilEnded) ReadAt(b []byte, at int64) (int, error) {
	if r.ctx.Err() != nil {
		return 0, context.Cause(r.ctx)
	}
	return r.ReaderAt.ReadAt(b, at)
}

// closeUp reads the first picture of the frame that shows its pixels whole. What
// it returns without full says nothing when ctx has ended.
func (t taker) closeUp(ctx context.Context, f catalogue.Frame) closeUp {
	out := closeUp{frame: f, forGood: true}
	var regions []catalogue.Region
	if m := f.Look.Matters; m != nil {
		regions = m.Regions
	}
	var why []string
	for _, file := range t.locatedOf(f) {
		if !pictorial(file.kind) {
			continue
		}
		var near look.Close
		shot, err := readShot(file)
		if err == nil {
			err = guarded(file.path, func(r io.ReaderAt, size int64) error {
				near, err = look.Closer(untilEnded{r, ctx}, size, file.kind, shot, regions...)
				return err
			})
		}
		switch {
		case err == nil && near.Full != nil:
			out.full, out.err, out.forGood = near.Full, nil, false
			return out
		case err == nil:
			err = errors.New("nothing in it has an edge to tell by")
		case errors.As(err, new(*camera.FormatError)), errors.As(err, new(*camera.UnsupportedError)):
		default:
			out.forGood = false
		}
		if path := new(os.PathError); errors.As(err, &path) {
			err = path.Err // the name is said already
		}
		why = append(why, file.name+": "+err.Error())
	}
	if len(why) == 0 {
		why = []string{"it has no picture"}
	}
	out.err = errors.New(strings.Join(why, "; "))
	return out
}
