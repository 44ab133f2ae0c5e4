package catalogue

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// ids are the IDs of the decisions that hold.
func ids(all []Decision) string {
	var s []string
	for _, d := range Current(all) {
		s = append(s, fmt.Sprint(d.ID))
	}
	return strings.Join(s, " ")
}

func TestCurrent(t *testing.T) {
	assign := func(f FrameID, r string) Decision { return Decision{Kind: Assign, Frame: f, Recipe: r} }
	choose := func(f FrameID, r, n string) Decision { return Decision{Kind: Choose, Frame: f, Recipe: r, Need: n} }
	waive := func(r, n string) Decision { return Decision{Kind: Waive, Recipe: r, Need: n} }
	crop := func(f FrameID, n string) Decision {
		return Decision{Kind: Crop, Frame: f, Need: n, Rect: [4]int{0, 0, 1, 1}}
	}
	clock := func(body string, from int64) Decision {
		return Decision{Kind: Clock, Body: body, From: time.Unix(from, 0)}
	}
	on := func(r string, from int64) Decision { return Decision{Kind: On, Recipe: r, From: time.Unix(from, 0)} }
	prop := func(r, name, as string) Decision { return Decision{Kind: Prop, Recipe: r, Name: name, Need: as} }
	variant := func(r, name string, f FrameID, from int64) Decision {
		d := Decision{Kind: Variant, Recipe: r, Name: name, Frame: f}
		if f == "" {
			d.From = time.Unix(from, 0)
		}
		return d
	}
	acted := func(act int64, d Decision) Decision { d.Act = act; return d }
	undo := func(n int64) Decision { return Decision{Kind: Undo, Undoes: n} }
	for _, c := range []struct {
		name string
		all  []Decision
		want string
	}{
		{"nothing was decided", nil, ""},
		{"a later assignment of a frame replaces", []Decision{assign("f", "R1"), assign("g", "R1"), assign("f", "")}, "2 3"},
		{"undo brings the earlier back", []Decision{assign("f", "R1"), assign("f", "R2"), undo(2)}, "1"},
		{"undo of the undo takes it away again", []Decision{assign("f", "R1"), assign("f", "R2"), undo(2), undo(3)}, "2"},
		{"three undos deep", []Decision{assign("f", "R1"), undo(1), undo(2), undo(3)}, ""},
		{"undoing a replaced one changes nothing", []Decision{assign("f", "R1"), assign("f", "R2"), undo(1)}, "2"},
		{"undoing twice is undoing", []Decision{assign("f", "R1"), undo(1), undo(1)}, ""},
		{"one of two undos taken back leaves the other", []Decision{assign("f", "R1"), undo(1), undo(1), undo(2)}, ""},
		{"one frame a need", []Decision{choose("f", "R1", "hero"), choose("g", "R1", "hero")}, "2"},
		{"needs and recipes stand apart", []Decision{choose("f", "R1", "hero"), choose("f", "R1", "half"), choose("f", "R2", "hero")}, "1 2 3"},
		{"options keep several", []Decision{choose("f", "R1", "options 2"), choose("g", "R1", "options 2"), choose("f", "R1", "options 2")}, "2 3"},
		{"waiving ends the choice", []Decision{choose("f", "R1", "options 2"), choose("g", "R1", "options 2"), waive("R1", "options 2")}, "3"},
		{"choosing ends the waiver", []Decision{waive("R1", "hero"), choose("f", "R1", "hero")}, "2"},
		{"assigning and choosing stand apart", []Decision{assign("f", "R1"), choose("f", "R1", "hero")}, "1 2"},
		{"one crop a frame and need", []Decision{crop("f", "half"), crop("f", "hero"), crop("g", "half"), crop("f", "half")}, "2 3 4"},
		{"one clock a body and time from which it holds", []Decision{clock("b", 0), clock("b", 5), clock("c", 0), clock("b", 0)}, "2 3 4"},
		{"one recipe on set at a time", []Decision{on("R1", 5), on("R2", 6), on("R3", 5)}, "2 3"},
		{"a thing on a set is one thing, whatever its case", []Decision{prop("R1", "Grey bowl", ""), prop("R2", "grey bowl", ""), prop("R1", "grey bowl", TakenOff)}, "2 3"},
		{"a prop is no waiver", []Decision{waive("R1", ""), prop("R1", "bowl", ""), undo(2)}, "1"},
		{"one variant a recipe and beginning", []Decision{variant("R1", "a", "f", 0), variant("R1", "b", "", 5), variant("R1", "c", "f", 0), variant("R2", "d", "f", 0), variant("R1", "", "", 5)}, "3 4 5"},
		{"an act is taken back whole", []Decision{assign("e", "R1"), acted(2, assign("f", "R1")), acted(2, assign("g", "R1")), undo(3)}, "1"},
		{"and stands again whole", []Decision{acted(1, assign("f", "R1")), acted(1, assign("g", "R1")), undo(1), undo(3)}, "1 2"},
		{"a crop is no choice", []Decision{choose("f", "", "half"), crop("f", "half"), undo(2)}, "1"},
		{"an undo of itself, of a later one or of none does nothing", []Decision{undo(1), undo(3), assign("f", "R1"), undo(9), undo(0)}, "3"},
	} {
		for i := range c.all {
			c.all[i].ID = int64(i + 1)
		}
		if got := ids(c.all); got != c.want {
			t.Errorf("%s: %q hold, want %q", c.name, got, c.want)
		}
	}
}

// drawn is any history of decisions with IDs 1, 2, 3, …
func drawn(t *rapid.T) []Decision {
	all := make([]Decision, rapid.IntRange(0, 14).Draw(t, "n"))
	for i := range all {
		d := Decision{
			ID:   int64(i + 1),
			Kind: rapid.SampledFrom([]DecisionKind{Assign, Choose, Waive, Undo, Undo}).Draw(t, "kind"),
		}
		if d.Kind == Undo {
			d.Undoes = rapid.Int64Range(0, int64(i+2)).Draw(t, "undoes")
		} else {
			d.Frame = rapid.SampledFrom([]FrameID{"f", "g"}).Draw(t, "frame")
			d.Recipe = rapid.SampledFrom([]string{"R1", "R2"}).Draw(t, "recipe")
			d.Need = rapid.SampledFrom([]string{"hero", "options 2"}).Draw(t, "need")
		}
		if i > 0 && rapid.Bool().Draw(t, "same act") {
			if all[i-1].Act == 0 {
				all[i-1].Act = all[i-1].ID
			}
			d.Act = all[i-1].Act
		}
		all[i] = d
	}
	return all
}

// stands is the definition, word for word: neither it nor one of its act taken
// back by one that stands.
func stands(all []Decision, d Decision) bool {
	for _, u := range all {
		if u.Kind != Undo || u.ID <= d.ID || !stands(all, u) {
			continue
		}
		for _, e := range all {
			if u.Undoes == e.ID && u.ID > e.ID && (e.ID == d.ID || e.Act != 0 && e.Act == d.Act) {
				return false
			}
		}
	}
	return true
}

func TestCurrentLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := drawn(t)
		before := slices.Clone(all)
		holds := Current(all)

		// Against the definition.
		var want []Decision
		for _, d := range all {
			if d.Kind == Undo || !stands(all, d) {
				continue
			}
			replaced := false
			for _, later := range all {
				replaced = replaced || later.ID > d.ID && later.Kind != Undo && stands(all, later) && replaces(later, d)
			}
			if !replaced {
				want = append(want, d)
			}
		}
		if diff := cmp.Diff(want, holds); diff != "" {
			t.Fatalf("against the definition (-want +got):\n%s", diff)
		}
		// The order in which they are handed over does not count, and they stay.
		mixed := slices.Clone(all)
		slices.Reverse(mixed)
		if diff := cmp.Diff(holds, Current(mixed)); diff != "" {
			t.Fatalf("reversed:\n%s", diff)
		}
		if diff := cmp.Diff(before, all); diff != "" {
			t.Fatalf("the argument was changed:\n%s", diff)
		}
		// Undoing the last act is as if it had not been; undoing that, as if
		// nothing had been undone.
		if n := int64(len(all)); n > 0 {
			undone := append(slices.Clone(all), Decision{ID: n + 1, Kind: Undo, Undoes: n})
			first := n - 1
			if act := all[n-1].Act; act != 0 {
				first = act - 1
			}
			if diff := cmp.Diff(Current(all[:first]), Current(undone)); diff != "" {
				t.Fatalf("undo of the last:\n%s", diff)
			}
			redone := append(undone, Decision{ID: n + 2, Kind: Undo, Undoes: n + 1})
			if diff := cmp.Diff(holds, Current(redone)); diff != "" {
				t.Fatalf("undo of the undo:\n%s", diff)
			}
		}
		// Applying it to its own result changes nothing.
		if diff := cmp.Diff(holds, Current(holds)); diff != "" {
			t.Fatalf("twice:\n%s", diff)
		}
	})
}

func TestDecide(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s := open(t, path)
	if err := s.Put(t.Context(), full(1)); err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 3, 4, 18, 0, 0, 5, time.FixedZone("", 3600))
	var made []Decision
	for _, d := range []Decision{
		{Kind: Assign, Frame: id(1), Recipe: "R07", Who: "Una", At: at, Why: "line\nbreak \"quoted\""},
		{Kind: Choose, Frame: id(1), Recipe: "R07", Need: "hero"},
		{Kind: Waive, Recipe: "R07", Need: "half", Why: "no half in this book"},
		{Kind: Undo, Undoes: 2},
		{Kind: Crop, Frame: id(1), Need: "half", Rect: [4]int{3000, 125, 3000, 3750}},
		{Kind: Choose, Frame: id(1), Recipe: "R08", Title: "Dulse crisps", Need: "hero"},
		{Kind: Clock, Body: "M2 #4711", Shift: -47 * time.Minute, From: time.Date(2026, 3, 4, 9, 0, 0, 7, time.UTC)},
		{Kind: Clock, Body: "M2 #4712", Shift: time.Hour},
		{Kind: On, Recipe: "R09", From: time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC)},
		{Kind: Prop, Recipe: "R09", Name: "linen, oat", Need: AsSurface, Why: "the bowl broke"},
		{Kind: Variant, Recipe: "R09", Name: "without the garnish", Frame: id(1)},
		{Kind: Variant, Recipe: "R09", From: time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC)},
	} {
		got, err := s.Decide(t.Context(), d)
		if err != nil {
			t.Fatal(err)
		}
		if got.ID != int64(len(made)+1) || got.At.IsZero() {
			t.Errorf("%+v: ID or time missing", got)
		}
		made = append(made, got)
	}
	act, err := s.DecideAll(t.Context(), []Decision{{Kind: Assign, Frame: id(1), Recipe: "R10"}, {Kind: Waive, Recipe: "R10", Need: "half"}})
	if err != nil {
		t.Fatal(err)
	}
	if n := int64(len(made)) + 1; act[0].Act != n || act[1].Act != n || act[1].ID != n+1 {
		t.Errorf("made in one breath: %+v", act)
	}
	made = append(made, act...)
	if _, err := s.DecideAll(t.Context(), []Decision{{Kind: Assign, Frame: id(1)}, {Kind: Assign, Frame: id(2)}}); !errors.Is(err, ErrNotFound) {
		t.Errorf("one of two frames is not there: %v", err)
	}
	if !made[0].At.Equal(at) {
		t.Errorf("At = %v, want %v", made[0].At, at)
	}
	for _, c := range []struct {
		d    Decision
		want error
	}{
		{Decision{Kind: Assign, Frame: id(2)}, ErrNotFound},
		{Decision{Kind: Undo, Undoes: 99}, ErrNotFound},
		{Decision{Kind: Assign}, ErrDecision},
		{Decision{Kind: Choose, Frame: id(1)}, ErrDecision},
		{Decision{Kind: Waive, Recipe: "R07"}, ErrDecision},
		{Decision{Kind: Undo}, ErrDecision},
		{Decision{Kind: Crop, Frame: id(1), Rect: [4]int{0, 0, 1, 1}}, ErrDecision},
		{Decision{Kind: Crop, Frame: id(1), Need: "half", Rect: [4]int{-1, 0, 9, 9}}, ErrDecision},
		{Decision{Kind: Crop, Frame: id(1), Need: "half"}, ErrDecision},
		{Decision{Kind: Assign, Frame: id(1), Rect: [4]int{0, 0, 9, 9}}, ErrDecision},
		{Decision{Kind: "pick", Frame: id(1)}, ErrDecision},
		{Decision{Kind: Clock}, ErrDecision},
		{Decision{Kind: On, Recipe: "R01"}, ErrDecision},
		{Decision{Kind: Assign, Frame: id(1), Body: "M2"}, ErrDecision},
		{Decision{Kind: On, From: at, Shift: 1}, ErrDecision},
		{Decision{Kind: Prop, Recipe: "R01", Name: " "}, ErrDecision},
		{Decision{Kind: Prop, Name: "bowl"}, ErrDecision},
		{Decision{Kind: Prop, Recipe: "R01", Name: "bowl", Need: "hero"}, ErrDecision},
		{Decision{Kind: Variant, Recipe: "R01", Name: "bare"}, ErrDecision},
		{Decision{Kind: Variant, Recipe: "R01", Name: "bare", Frame: id(1), From: at}, ErrDecision},
		{Decision{Kind: Variant, Recipe: "R01", Frame: id(2)}, ErrNotFound},
		{Decision{Kind: Waive, Recipe: "R01", Need: "half", Name: "bowl"}, ErrDecision},
	} {
		if _, err := s.Decide(t.Context(), c.d); !errors.Is(err, c.want) {
			t.Errorf("%+v: %v, want %v", c.d, err, c.want)
		}
	}
	for _, statement := range []string{"UPDATE decision SET recipe = 'x'", "DELETE FROM decision"} {
		if _, err := s.db.Exec(statement); err == nil {
			t.Errorf("%s went through: decisions are only ever added", statement)
		}
	}
	// Facts anew leave decisions alone.
	if err := s.Put(t.Context(), full(1)); err != nil {
		t.Fatal(err)
	}
	got, err := s.Decisions(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(made, got); d != "" {
		t.Errorf("read back (-made +got):\n%s", d)
	}

	// The catalogue is lost; the journal is not.
	s.Close()
	for _, end := range []string{"", "-wal", "-shm"} {
		if err := os.Remove(path + end); err != nil && !os.IsNotExist(err) {
			t.Fatal(err)
		}
	}
	again := open(t, path)
	if got, err = again.Decisions(t.Context()); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(made, got); d != "" {
		t.Errorf("from the journal (-made +got):\n%s", d)
	}
}

func TestJournalCutShort(t *testing.T) {
	dir := t.TempDir()
	s := open(t, filepath.Join(dir, "catalogue.db"))
	if err := s.Put(t.Context(), full(1)); err != nil {
		t.Fatal(err)
	}
	journal := filepath.Join(dir, JournalName)
	d := Decision{Kind: Assign, Frame: id(1), Recipe: "R01"}
	for _, recipe := range []string{"R01", "R02"} {
		d.Recipe = recipe
		if _, err := s.Decide(t.Context(), d); err != nil {
			t.Fatal(err)
		}
		f, err := os.OpenFile(journal, os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.WriteString(`{"id":9,"at":"2026-03-0`); err != nil { // the power failed here
			t.Fatal(err)
		}
		f.Close()
	}
	b, err := os.ReadFile(journal)
	if err != nil {
		t.Fatal(err)
	}
	all, err := parseJournal(b)
	if err != nil || len(all) != 2 || all[1].Recipe != "R02" {
		t.Errorf("%v, %v; want both decisions and not the halves", all, err)
	}
}

// An act whose lines did not all reach the disk was never confirmed, nor one
// whose numbers were given again.
func TestJournalWithHalfAnAct(t *testing.T) {
	const act = `{"id":%d,"at":"2026-03-04T10:00:00Z","kind":"assign","frame":"f%[1]d","act":1,"of":3}` + "\n"
	three := fmt.Sprintf(act, 1) + fmt.Sprintf(act, 2) + fmt.Sprintf(act, 3)
	for _, c := range []struct {
		journal string
		want    int
	}{
		{three, 3},
		{three[:len(three)-9], 0},
		{three + `{"id":1,"at":"2026-03-04T10:01:00Z","kind":"assign","frame":"g"}`, 1},
	} {
		if all, err := parseJournal([]byte(c.journal)); err != nil || len(all) != c.want {
			t.Errorf("%s: %v, %v; want %d", c.journal, all, err, c.want)
		}
	}
}

func TestJournalWithAFault(t *testing.T) {
	good := `{"id":1,"at":"2026-03-04T10:00:00Z","kind":"assign","frame":"f"}` + "\n"
	for _, bad := range []string{"rubbish", `{"id":2,"kind":"assign","frame":"f"}`, `{"id":0,"at":"2026-03-04T10:00:00Z","kind":"assign","frame":"f"}`,
		`{"id":2,"at":"2026-03-04T10:00:00Z","kind":"pick"}`, `{"id":"2"}`} {
		dir := t.TempDir()
		if err := os.WriteFile(filepath.Join(dir, JournalName), []byte(good+bad+"\n"+good), 0o644); err != nil {
			t.Fatal(err)
		}
		s, err := Open(filepath.Join(dir, "catalogue.db"))
		if err == nil {
			s.Close()
			t.Errorf("%s: was opened", bad)
		} else if !strings.Contains(err.Error(), "line 2") {
			t.Errorf("%s: %v does not name the line", bad, err)
		}
	}
}

func FuzzParseJournal(f *testing.F) {
	f.Add([]byte(`{"id":1,"at":"2026-03-04T10:00:00Z","kind":"assign","frame":"f"}` + "\n" + `{"id":2,"at":"2026-`))
	f.Add([]byte(`{"id":1,"at":"2026-03-04T10:00:00Z","kind":"undo","undoes":1}` + "\n{}\n[]"))
	f.Fuzz(func(t *testing.T, b []byte) {
		all, err := parseJournal(b)
		if err != nil {
			return
		}
		seen := map[int64]bool{}
		for _, d := range all {
			if d.check() != nil || d.ID < 1 || seen[d.ID] {
				t.Errorf("%+v came through", d)
			}
			seen[d.ID] = true
		}
		Current(all)
	})
}
