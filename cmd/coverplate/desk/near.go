package desk

import (
	"context"
	"sync"
	"time"

	"coverplate/ingest"
	"coverplate/ingest/catalogue"
)

// nearEvery is how long what is read at 1:1 waits to be judged together.
const nearEvery = 4 * time.Second

// room is taken by what needs tens of megabytes for a moment: a judgement, an
// original that is decoded whole. Whoever takes it first holds one.
type room chan struct{}

// atMostAMoment is how long people wait for an original that is being read: a
// disk may hang.
const atMostAMoment = time.Second

// enter takes the room, or goes on without it after a time. leave gives it back.
func (r room) enter(ctx context.Context, atMost time.Duration) (leave func()) {
	soon := time.NewTimer(atMost)
	defer soon.Stop()
	select {
	case r <- struct{}{}:
		return func() { <-r }
	case <-soon.C:
	case <-ctx.Done():
	}
	return func() {}
}

// near is what is to be read at 1:1.
type near struct {
	mu     sync.Mutex
	wants  []catalogue.FrameID // of the last judgement, the most wanted first
	tried  map[catalogue.FrameID]bool
	moving bool          // whether originals are being read
	more   chan struct{} // holds one where wants are new
	await  int64         // the last decision stored here: its judgement goes first
}

func newNear() near {
	return near{tried: map[catalogue.FrameID]bool{}, more: make(chan struct{}, 1)}
}

// ask says which frames are wanted now.
func (n *near) ask(wants []catalogue.FrameID) {
	n.mu.Lock()
	n.wants = wants
	n.mu.Unlock()
	select {
	case n.more <- struct{}{}:
	default:
	}
}

// busy tells whether originals are being read.
func (n *near) busy() bool {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.moving
}

// yield has reading wait for the judgement of a decision.
func (n *near) yield(to int64) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.await = max(n.await, to)
}

// next is the frame to read now, which is tried once; false where there is none.
func (n *near) next() (id catalogue.FrameID, await int64, ok bool) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.moving = false
	for _, w := range n.wants {
		if !n.tried[w] {
			n.tried[w], n.moving = true, true
			return w, n.await, true
		}
	}
	return "", 0, false
}

// readNear reads frames at 1:1 whose verdict needs it, beside the judging and
// one at a time, for each takes the memory of a whole original. What people
// decide is judged first.
func (d *Desk) readNear(ctx context.Context) {
	read := false
	for {
		id, await, ok := d.near.next()
		if !ok {
			if read { // the last of them need not wait for more
				d.touch()
				d.hasten()
			}
			read = false
			select {
			case <-ctx.Done():
				return
			case <-d.near.more:
			}
			continue
		}
		if _, err := d.until(ctx, waitFor, func(st *state) bool { return st.last >= await }); err != nil || ctx.Err() != nil {
			return
		}
		leave := d.room.enter(ctx, time.Minute)
		// A frame that can't be read stays `look`, and its docket says why.
		ingest.Closer(ctx, d.o.Store, d.o.Dir, []catalogue.FrameID{id}, func(catalogue.Frame, error) {})
		leave()
		read = true
	}
}
