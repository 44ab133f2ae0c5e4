package desk

import (
	"context"
	"runtime/debug"
	"sync"
	"time"

	"coverplate/ingest"
	"coverplate/ingest/catalogue"
)

// nearEvery is how long what is read at 1:1 waits to be judged together.
const nearEvery = 4 * time.Second

// room is taken by what needs tens of megabytes for a moment: a judgement, a
// suggestion, an original that is decoded whole. Whoever is in it holds one.
type room chan struct{}

// How long others wait for who is in the room: a disk may hang from which an
// original is read.
const (
	decisionWaits = 2 * time.Second
	othersWait    = 20 * time.Second
)

// enter takes the room; ok is false where it goes on without it after a time.
// leave gives it back, and first the memory that was taken.
func (r room) enter(ctx context.Context, atMost time.Duration) (leave func(), ok bool) {
	soon := time.NewTimer(atMost)
	defer soon.Stop()
	select {
	case r <- struct{}{}:
		return func() { debug.FreeOSMemory(); <-r }, true
	case <-soon.C:
	case <-ctx.Done():
	}
	return debug.FreeOSMemory, false
}

// enterToJudge takes the room for a judgement. Where a person decided it goes on
// without it sooner.
func (d *Desk) enterToJudge(ctx context.Context) (leave func()) {
	for end := time.Now().Add(othersWait); ; {
		leave, ok := d.room.enter(ctx, decisionWaits)
		if ok || ctx.Err() != nil || d.near.yielded(d.state()) || time.Now().After(end) {
			return leave
		}
	}
}

// near is what is to be read at 1:1.
type near struct {
	mu     sync.Mutex
	wants  []catalogue.FrameID // of the last judgement, the most wanted first
	tried  map[catalogue.FrameID]bool
	moving bool          // whether originals are being read
	more   chan struct{} // holds one where wants are new
	await  int64         // the last decision stored here: its judgement goes first
	drop   func()        // gives up what is being read; nil nothing is
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
	if n.drop != nil {
		n.drop()
	}
}

// hold says how what is read now is given up, if it is to be at all: a decision
// may have come already.
func (n *near) hold(drop func(), await int64) {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.drop = drop; n.await > await {
		drop()
	}
}

// again has a frame be read once more that was given up.
func (n *near) again(id catalogue.FrameID) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.tried[id] = false
}

// yielded tells whether a decision is not judged yet.
func (n *near) yielded(st *state) bool {
	n.mu.Lock()
	defer n.mu.Unlock()
	return st != nil && st.last < n.await
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
// decide is judged first: what is in hand then is given up and read again.
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
		leave, _ := d.room.enter(ctx, othersWait)
		reading, drop := context.WithCancel(ctx)
		d.near.hold(drop, await)
		// A frame that can't be read stays `look`, and its docket says why.
		ingest.Closer(reading, d.o.Store, d.o.Dir, []catalogue.FrameID{id}, func(catalogue.Frame, error) { read = true })
		if reading.Err() != nil {
			d.near.again(id)
		}
		drop()
		leave()
	}
}
