package catalogue

import (
	"context"
	"errors"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestDecideAfter: who did not see what another decided on the same matter is
// told, and nothing of theirs is stored; on another matter it is.
func TestDecideAfter(t *testing.T) {
	ctx := context.Background()
	s, err := Open(filepath.Join(t.TempDir(), "catalogue.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	aa, bb := FrameID(strings.Repeat("a", 64)), FrameID(strings.Repeat("b", 64))
	for _, id := range []FrameID{aa, bb} {
		if err := s.Put(ctx, Frame{ID: id, Files: []File{{Kind: JPEG, Path: string(id) + ".JPG", Name: string(id) + ".JPG", SHA256: string(id)}}}); err != nil {
			t.Fatal(err)
		}
	}
	hero := func(f FrameID) Decision { return Decision{Kind: Choose, Frame: f, Recipe: "R01", Need: "hero"} }
	options := func(f FrameID) Decision { return Decision{Kind: Choose, Frame: f, Recipe: "R01", Need: "options 2"} }
	for _, c := range []struct {
		name string
		saw  int64
		d    Decision
		want int // decisions in the way
	}{
		{"the first", 0, hero(aa), 0},             // 1
		{"the same need, unseen", 0, hero(bb), 1}, //
		{"the same need, seen", 1, hero(bb), 0},   // 2
		{"two unseen", 0, hero(aa), 2},            //
		{"another need", 0, Decision{Kind: Waive, Recipe: "R01", Need: "half", Why: "none"}, 0}, // 3
		{"another recipe", 0, Decision{Kind: Choose, Frame: aa, Recipe: "R02", Need: "hero"}, 0},
		{"a waiver of what was chosen, unseen", 1, Decision{Kind: Waive, Recipe: "R01", Need: "hero", Why: "none"}, 1},
		{"one of several", 0, options(aa), 0}, // 5
		{"another of several", 0, options(bb), 0},
		{"the same frame assigned", 6, Decision{Kind: Assign, Frame: aa, Recipe: "R01"}, 0}, // 7
		{"and again, unseen", 6, Decision{Kind: Assign, Frame: aa, Recipe: "R02"}, 1},
		{"another frame", 6, Decision{Kind: Assign, Frame: bb, Recipe: "R02"}, 0}, // 8
		{"an undo", 8, Decision{Kind: Undo, Undoes: 2}, 0},                        // 9
		{"the same undo, unseen", 8, Decision{Kind: Undo, Undoes: 2}, 1},
		{"a choice where one was taken back, unseen", 8, hero(aa), 1},
		{"and seen", 9, hero(aa), 0}, // 10
	} {
		got, err := s.DecideAfter(ctx, c.saw, []Decision{c.d})
		over := new(OvertakenError)
		n := 0
		if errors.As(err, &over) {
			n = len(over.Since)
		} else if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if n != c.want || (err == nil) != (len(got) == 1) {
			t.Errorf("%s: %d in the way (%v), want %d", c.name, n, err, c.want)
		}
	}
	all, err := s.Decisions(ctx)
	if err != nil || len(all) != 10 {
		t.Errorf("%d decisions (%v), want the 10 that nothing was in the way of", len(all), err)
	}
	// An act is stored whole or not at all.
	act := []Decision{{Kind: Assign, Frame: bb, Recipe: "R03"}, {Kind: Assign, Frame: aa, Recipe: "R03"}}
	if _, err := s.DecideAfter(ctx, 7, act); !errors.As(err, new(*OvertakenError)) {
		t.Errorf("an act of which one is overtaken: %v", err)
	}
	if again, _ := s.Decisions(ctx); len(again) != 10 {
		t.Errorf("%d decisions after an act that was refused, want 10", len(again))
	}
}

// TestWatch: a change by another connection is told, and none where nothing
// changed.
func TestWatch(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	other, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	ctx, stop := context.WithCancel(context.Background())
	told := make(chan struct{}, 100)
	ended := make(chan error, 1)
	go func() { ended <- s.Watch(ctx, 5*time.Millisecond, func() { told <- struct{}{} }) }()
	for _, by := range []*Store{other, s} {
		// The watch may not have begun: what is written again until it is told is.
		heard := false
		for end := time.Now().Add(10 * time.Second); !heard && time.Now().Before(end); {
			if err := by.PutCard(ctx, Card{Name: "A001", LastRead: time.Now()}); err != nil {
				t.Fatal(err)
			}
			select {
			case <-told:
				heard = true
			case <-time.After(100 * time.Millisecond):
			}
		}
		if !heard {
			t.Fatal("a change was not told")
		}
	}
	stop()
	if err := <-ended; !errors.Is(err, context.Canceled) {
		t.Errorf("it ended with %v", err)
	}
}
