package desk

import (
	"container/list"
	"errors"
	"fmt"
	"html/template"
	"image"
	"io"
	"net/http"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"

	"coverplate/ingest"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

// The long sides in pixels that pictures are served at: in a wall, on a
// docket, and as kept.
const (
	smallSide = 200
	midSide   = 480
	fullSide  = 1024
)

// mostPixels is the longest side of a piece at 1:1.
const mostPixels = 2048

// shelf keeps small pictures, the last asked for, up to a size.
type shelf struct {
	mu    sync.Mutex
	by    map[string]*list.Element
	order list.List
	bytes int
	hands chan struct{} // at most so many are made at a time
}

type shelved struct {
	key string
	b   []byte
}

// shelfBytes is how much the shelf holds: some thousand pictures at smallSide.
// Browsers keep what they were given.
const shelfBytes = 8 << 20

func (s *shelf) get(key string, make_ func() ([]byte, error)) ([]byte, error) {
	s.mu.Lock()
	if s.by == nil {
		s.by, s.hands = map[string]*list.Element{}, make(chan struct{}, runtime.NumCPU())
	}
	if e := s.by[key]; e != nil {
		s.order.MoveToFront(e)
		s.mu.Unlock()
		return e.Value.(shelved).b, nil
	}
	s.mu.Unlock()
	s.hands <- struct{}{}
	b, err := make_()
	<-s.hands
	if err != nil {
		return nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.by[key] == nil {
		s.by[key] = s.order.PushFront(shelved{key, b})
		s.bytes += len(b)
	}
	for s.bytes > shelfBytes {
		last := s.order.Back()
		old := s.order.Remove(last).(shelved)
		delete(s.by, old.key)
		s.bytes -= len(old.b)
	}
	return b, nil
}

// pictureAt is the address of a frame's picture; "" where none is kept. It
// holds the number of the way it was measured, so it may be kept for ever.
func (st *state) pictureAt(id catalogue.FrameID, side int) template.URL {
	i, ok := st.frames[id]
	if !ok || st.shoot.Frames[i].Look.Picture == "" {
		return ""
	}
	return template.URL(fmt.Sprintf("/picture/%s/%d?m=%d", st.ref(id), side, st.shoot.Frames[i].Measured))
}

// kept reads the preview of a frame.
func (d *Desk) kept(f catalogue.Frame) ([]byte, error) {
	rel := filepath.FromSlash(f.Look.Picture)
	if f.Look.Picture == "" || !filepath.IsLocal(rel) {
		return nil, errors.New("no picture of it is kept")
	}
	file, err := d.root.Open(rel)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	b, err := io.ReadAll(io.LimitReader(file, 32<<20))
	if err != nil {
		return nil, err
	}
	return look.Kept(b)
}

// picture serves a frame's preview at one of a few sizes.
func (d *Desk) picture(w http.ResponseWriter, r *http.Request, st *state, _ visitor) {
	f, ok := st.find(r.PathValue("frame"))
	side, err := strconv.Atoi(r.PathValue("side"))
	if !ok || err != nil || side != smallSide && side != midSide && side != fullSide {
		http.NotFound(w, r)
		return
	}
	tag := fmt.Sprintf(`"%s-%d-%d"`, f.ID, side, f.Measured)
	if r.Header.Get("If-None-Match") == tag {
		w.Header().Set("ETag", tag)
		w.WriteHeader(http.StatusNotModified)
		return
	}
	b, err := d.small(f, side)
	if err != nil {
		http.Error(w, "its small picture can't be shown", http.StatusNotFound)
		return
	}
	sendJPEG(w, tag, b)
}

// small is a frame's preview of at most side pixels.
func (d *Desk) small(f catalogue.Frame, side int) ([]byte, error) {
	if side == fullSide {
		return d.kept(f)
	}
	return d.shelf.get(fmt.Sprintf("%s-%d-%d", f.ID, side, f.Measured), func() ([]byte, error) {
		b, err := d.kept(f)
		if err != nil {
			return nil, err
		}
		return look.Smaller(b, side)
	})
}

func sendJPEG(w http.ResponseWriter, tag string, b []byte) {
	h := w.Header()
	h.Set("Content-Type", "image/jpeg")
	h.Set("Content-Length", strconv.Itoa(len(b)))
	h.Set("ETag", tag)
	h.Set("Cache-Control", "private, max-age=31536000, immutable")
	w.Write(b)
}

// pixels serves a piece of the original at 1:1: w × h pixels from x, y of the
// upright picture.
func (d *Desk) pixels(w http.ResponseWriter, r *http.Request, st *state, _ visitor) {
	f, ok := st.find(r.PathValue("frame"))
	if !ok {
		http.NotFound(w, r)
		return
	}
	var at [4]int
	for i, k := range []string{"x", "y", "w", "h"} {
		n, err := strconv.Atoi(r.URL.Query().Get(k))
		if err != nil {
			http.Error(w, "a piece is x, y, w and h in pixels", http.StatusBadRequest)
			return
		}
		at[i] = n
	}
	rect := image.Rect(at[0], at[1], at[0]+at[2], at[1]+at[3])
	whole := image.Rect(0, 0, f.Look.Width, f.Look.Height)
	if at[2] < 1 || at[3] < 1 || at[2] > mostPixels || at[3] > mostPixels || !rect.In(whole) {
		http.Error(w, "this is no piece of the picture", http.StatusBadRequest)
		return
	}
	key := fmt.Sprintf("1:1-%s-%v", f.ID, rect)
	b, err := d.shelf.get(key, func() ([]byte, error) {
		leave, _ := d.room.enter(r.Context(), othersWait)
		defer leave()
		return ingest.Post(d.o.Dir, f, look.Cut{Of: whole.Max, Rect: rect, To: rect.Size()})
	})
	if err != nil {
		http.Error(w, "its original can't be read: "+err.Error(), http.StatusNotFound)
		return
	}
	sendJPEG(w, strconv.Quote(key), b)
}

// seen serves a frame with what was measured of it drawn over it.
func (d *Desk) seen(w http.ResponseWriter, r *http.Request, st *state, _ visitor) {
	f, ok := st.find(r.PathValue("frame"))
	if !ok {
		http.NotFound(w, r)
		return
	}
	whole, err := d.o.Store.Frame(r.Context(), f.ID)
	if err != nil {
		http.NotFound(w, r)
		return
	}
	b, err := d.shelf.get(fmt.Sprintf("seen-%s-%d", f.ID, f.Measured), func() ([]byte, error) {
		preview, err := d.kept(f)
		if err != nil {
			return nil, err
		}
		return look.Draw(preview, whole.Look, look.Drawing{Side: fullSide, Bare: true})
	})
	if err != nil {
		http.Error(w, "it can't be drawn", http.StatusNotFound)
		return
	}
	sendJPEG(w, fmt.Sprintf(`"seen-%s-%d"`, f.ID, f.Measured), b)
}
