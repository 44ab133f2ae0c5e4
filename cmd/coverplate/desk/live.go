package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"sync"
	"time"
)

// event is one thing that open pages are told.
type event struct{ kind, says string }

// mostOpen is how many pages may listen at a time.
const mostOpen = 200

// hub tells open pages what is new.
type hub struct {
	mu  sync.Mutex
	all map[chan event]bool
}

// tell sends an event to all that listen. One that does not keep up misses it:
// the next tells it as much.
func (h *hub) tell(e event) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for c := range h.all {
		select {
		case c <- e:
		default:
		}
	}
}

// join listens until leave is called; nil where too many do.
func (h *hub) join() (heard chan event, leave func()) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if len(h.all) >= mostOpen {
		return nil, nil
	}
	heard = make(chan event, 8)
	h.all[heard] = true
	return heard, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		delete(h.all, heard)
	}
}

// listen tells pages how far an ingest is.
func (d *Desk) listen(ctx context.Context) {
	if d.o.Underway == nil {
		return
	}
	every := time.NewTicker(lookEvery)
	defer every.Stop()
	said := ""
	for {
		select {
		case <-ctx.Done():
			return
		case <-every.C:
		}
		if now := d.o.Underway(); now != said {
			said = now
			d.hub.tell(event{"ingest", now})
		}
	}
}

// live is the stream of server-sent events (WHATWG HTML, 9.2).
func (d *Desk) live(w http.ResponseWriter, r *http.Request) {
	heard, leave := d.hub.join()
	if heard == nil {
		http.Error(w, "too many pages are open", http.StatusServiceUnavailable)
		return
	}
	defer leave()
	h := w.Header()
	h.Set("Content-Type", "text/event-stream")
	h.Set("Cache-Control", "no-store")
	flush := http.NewResponseController(w)
	send := func(e event) error {
		b, err := json.Marshal(e.says) // one line, whatever it holds
		if err == nil {
			_, err = fmt.Fprintf(w, "event: %s\ndata: %s\n\n", e.kind, b)
		}
		if err != nil {
			return err
		}
		return flush.Flush()
	}
	hello := event{kind: "hello"}
	if st := d.state(); st != nil {
		hello.says = d.edition(st)
	}
	if send(hello) != nil {
		return
	}
	if d.o.Underway != nil && send(event{"ingest", d.o.Underway()}) != nil {
		return
	}
	still := time.NewTicker(15 * time.Second)
	defer still.Stop()
	for {
		select {
		case e := <-heard:
			if send(e) != nil {
				return
			}
		case <-still.C:
			if send(event{kind: "still"}) != nil {
				return
			}
		case <-r.Context().Done():
			return
		}
	}
}

// edition names a judgement, also beside those of a desk that was open before.
func (d *Desk) edition(st *state) string { return fmt.Sprintf("%x.%d", d.began.UnixNano(), st.n) }
