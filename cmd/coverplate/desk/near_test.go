package desk

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"coverplate/audit"
	"coverplate/ingest/catalogue"
)

// soon waits for what another goroutine brings about.
func soon(t *testing.T, what string, is func() bool) {
	t.Helper()
	for end := time.Now().Add(time.Minute); !is(); time.Sleep(2 * time.Millisecond) { // a busy machine, and the race detector
		if time.Now().After(end) {
			t.Fatalf("%s: not within a minute", what)
		}
	}
}

// What a person decides is shown while an original is read at 1:1, here out of a
// pipe that nobody writes to, as on a disk that hangs; what was read is judged.
func TestDecisionsShowWhileOriginalsAreRead(t *testing.T) {
	s := newStudio(t)
	x := newTeller(t, s)
	var pipes []string
	var ids []catalogue.FrameID
	for i := range 3 {
		f, err := s.store.Frame(t.Context(), s.desk.state().shoot.Frames[i].ID) // of R01
		if err != nil {
			t.Fatal(err)
		}
		f.Look.Focus = &catalogue.Focus{Score: 0.8, Columns: 1, Rows: 1, Grid: []uint8{200}}
		if i < 2 {
			pipe := filepath.Join(s.dir, filepath.FromSlash(f.Path()))
			if err := os.Remove(pipe); err != nil {
				t.Fatal(err)
			}
			if err := syscall.Mkfifo(pipe, 0o600); err != nil {
				t.Fatal(err)
			}
			pipes = append(pipes, pipe)
		}
		if err := s.store.Put(t.Context(), f); err != nil {
			t.Fatal(err)
		}
		ids = append(ids, f.ID)
	}
	// A reader of a pipe stands until somebody opens it for writing.
	release := func() bool {
		for i, p := range pipes {
			if w, err := os.OpenFile(p, os.O_WRONLY|syscall.O_NONBLOCK, 0); err == nil {
				w.Close()
				pipes = append(pipes[:i], pipes[i+1:]...)
				return true
			}
		}
		return false
	}
	defer func() { // nobody may stand before a pipe when the desk is closed
		for _, p := range pipes {
			if both, err := os.OpenFile(p, os.O_RDWR|syscall.O_NONBLOCK, 0); err == nil {
				os.Remove(p)
				both.Close()
			}
		}
	}()
	soon(t, "an original is being read", s.desk.near.busy)
	for i, said := range [][]string{
		{"kind", "waive", "recipe", "R02", "need", "half", "why", "the editor wants none"},
		{"kind", "choose", "recipe", "R01", "need", "hero", "frame", string(ids[2])},
	} {
		if code, page := x.tell(t, said...); code != 303 {
			t.Fatalf("%v: %d, %s", said, code, page)
		}
		if last := s.desk.state().last; last != int64(i+1) {
			t.Errorf("decision %d is not shown while an original is read; %d is", i+1, last)
		}
	}
	if !s.desk.near.busy() {
		t.Error("nothing was being read any more")
	}
	soon(t, "the pipe is let go", release)
	// Where the other pipe's turn came before the choice was judged, it holds the
	// reader too.
	soon(t, "what was read at 1:1 is judged", func() bool {
		release()
		f, _ := s.desk.state().find(string(ids[2]))
		return f.Look.Focus != nil && (f.Look.Focus.Full != nil || f.Look.Focus.NotFull != "")
	})
	soon(t, "all was tried", func() bool { return !s.desk.near.busy() })
}

// A shoot in which nothing changed is not judged anew.
func TestNothingNewIsNotJudged(t *testing.T) {
	s := newStudio(t)
	o := s.desk.o
	var change struct {
		title string
		floor float64
		fault error
	}
	o.Gather = func(ctx context.Context, before []catalogue.Frame) (audit.Shoot, error) {
		g, err := s.desk.o.Gather(ctx, before)
		g.Recipes[0].Title += change.title
		g.Rules.FocusFloor += change.floor
		return g, errors.Join(err, change.fault)
	}
	d, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	if !d.renew(t.Context()) {
		t.Fatal("a shoot that was never judged is not new")
	}
	if d.renew(t.Context()) || d.state().n != 1 {
		t.Errorf("it was judged again, %d", d.state().n)
	}
	for what, make_ := range map[string]func() error{
		"a decision": func() error {
			_, err := s.store.Decide(context.Background(), catalogue.Decision{Kind: catalogue.Waive, Recipe: "R01", Need: "half", Why: "none wanted", Who: "maja", At: time.Now()})
			return err
		},
		"the plan":   func() error { change.title = " anew"; return nil },
		"the rules":  func() error { change.floor = 0.1; return nil },
		"a frame":    func() error { s.frame(30, "R02", "R02_0001.JPG"); return nil },
		"its faults": func() error { change.fault = errors.New("the plan is not there"); return nil },
	} {
		if err := make_(); err != nil {
			t.Fatal(err)
		}
		if !d.renew(t.Context()) {
			t.Errorf("%s changed and nothing is new", what)
		}
		change.fault = nil
		d.renew(t.Context())
	}
	if st := d.state(); st.fault != "" || len(st.shoot.Frames) != 9 || st.titles["R01"] != "Barley broth anew" {
		t.Errorf("it is not judged as it stands: %q, %d frames, %q", st.fault, len(st.shoot.Frames), st.titles["R01"])
	}
}
