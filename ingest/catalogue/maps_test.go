package catalogue

import (
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Frames come without their maps and are the same with them; a revision stands
// until a frame is stored anew.
func TestFramesWithoutTheirMaps(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "catalogue.db"))
	unmeasured := full(2)
	unmeasured.Look = Look{}
	want := []Frame{full(1), unmeasured, full(3)}
	for _, f := range want {
		if err := s.Put(t.Context(), f); err != nil {
			t.Fatal(err)
		}
	}
	bare := func() []Frame {
		t.Helper()
		all, err := s.Bare(t.Context(), nil)
		if err != nil || len(all) != len(want) {
			t.Fatalf("%d frames, %v", len(all), err)
		}
		return all
	}
	all := bare()
	whole, err := s.Frames(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var ids []FrameID
	revisions := map[FrameID]int64{}
	for i, f := range all {
		ids = append(ids, f.ID)
		if f.Revision == 0 {
			t.Errorf("%s has no revision", f.ID)
		}
		revisions[f.ID] = f.Revision
		f.Revision, f.Stored = 0, 0
		if l := whole[i].Look; l.Focus != nil {
			b := f.Look
			if b.Focus.Grid != nil || b.Focus.Fine != nil || b.Focus.Far != nil || b.Light.Stops[0] != nil || b.Matters.Weight != nil || b.Rims != nil || b.Lines != nil {
				t.Errorf("%s comes with maps: %+v", f.ID, b)
			}
			focus, light, matters := *l.Focus, *l.Light, *l.Matters
			focus.Grid, focus.Fine, focus.Far, light.Stops, matters.Weight = nil, nil, nil, [3]Floats{}, nil
			whole[i].Look = l.With(Maps{Focus: &focus, Light: &light, Matters: &matters})
		}
		if d := cmp.Diff(whole[i], f); d != "" {
			t.Errorf("all else is as in Frames (-want +got):\n%s", d)
		}
	}
	ids[0], ids[2] = ids[2], ids[0]
	maps, err := s.Maps(t.Context(), ids)
	if err != nil {
		t.Fatal(err)
	}
	for i, id := range ids {
		f, err := s.Frame(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(f.Look.Maps(), maps[i]); d != "" {
			t.Errorf("maps of %s (-want +got):\n%s", id, d)
		}
	}
	if _, err := s.Maps(t.Context(), []FrameID{id(1), id(9)}); !errors.Is(err, ErrNotFound) {
		t.Errorf("maps of a frame that is not there: %v, want ErrNotFound", err)
	}
	if none, err := s.Maps(t.Context(), nil); err != nil || len(none) != 0 {
		t.Errorf("maps of no frame: %v, %v", none, err)
	}

	if err := s.SetFull(t.Context(), id(1), 0.25); err != nil {
		t.Fatal(err)
	}
	if err := s.Put(t.Context(), full(3)); err != nil {
		t.Fatal(err)
	}
	// What is handed back is what a reading of all gives.
	now, err := s.Bare(t.Context(), all)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(bare(), now); d != "" {
		t.Errorf("with what was read before (-want +got):\n%s", d)
	}
	all[1].Title, all[0].Title, all[2].Title = "kept", "read", "read"
	if now, err = s.Bare(t.Context(), all); err != nil || now[0].Title == "read" || now[1].Title != "kept" || now[2].Title == "read" {
		t.Errorf("titles %q, %q, %q, %v; only the second frame was not stored since", now[0].Title, now[1].Title, now[2].Title, err)
	}
	for _, f := range bare() {
		if same := f.Revision == revisions[f.ID]; same != (f.ID != id(3)) {
			t.Errorf("%s was %d and is %d; only what was stored anew has another revision", f.ID, revisions[f.ID], f.Revision)
		}
		if f.ID == id(1) && (f.Look.Focus.Full == nil || *f.Look.Focus.Full != 0.25) {
			t.Errorf("what was read at 1:1 is missing: %+v", f.Look.Focus)
		}
	}

	// A file that another frame took over is no longer the first one's, which was
	// not stored; a frame more is there.
	before := bare()
	more := full(4)
	more.Files = append(more.Files, full(2).Files[1])
	if err := s.Put(t.Context(), more); err != nil {
		t.Fatal(err)
	}
	want = append(want, more)
	if now, err = s.Bare(t.Context(), before); err != nil || len(now) != 4 || len(now[1].Files) != 1 || len(now[3].Files) != 3 {
		t.Errorf("a file that moved: %+v, %v", now, err)
	}
	if d := cmp.Diff(bare(), now); d != "" {
		t.Errorf("with what was read before (-want +got):\n%s", d)
	}

	// Of measures that are none it is said which frame has them.
	if _, err := s.db.Exec(`UPDATE frame SET focus = '{"score":' WHERE id = ?`, string(id(1))); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Bare(t.Context(), nil); err == nil || !strings.Contains(err.Error(), string(id(1))) {
		t.Errorf("a frame whose focus is no JSON: %v, want an error that names it", err)
	}
}
