package catalogue

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestJournalAndCatalogueAreReconciled(t *testing.T) {
	dir := t.TempDir()
	open := func() *Store {
		s, err := Open(filepath.Join(dir, "catalogue.db"))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	s := open()
	for _, need := range []string{"hero", "half", "palette"} {
		if _, err := s.Decide(t.Context(), Decision{Kind: Waive, Recipe: "R01", Need: need, Why: "w"}); err != nil {
			t.Fatal(err)
		}
	}
	if u, err := s.Journal(t.Context()); err != nil || !u.None() {
		t.Fatalf("%+v, %v", u, err)
	}
	name := filepath.Join(dir, JournalName)
	whole, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.SplitAfter(string(whole), "\n")
	// The journal lacks one, and the catalogue lacks one.
	if err := os.WriteFile(name, []byte(lines[0]+lines[2]+strings.Replace(strings.Replace(lines[2], `"id":3`, `"id":4`, 1), "palette", "overhead", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	u, err := s.Journal(t.Context())
	if err != nil || len(u.Lost) != 1 || u.Lost[0].ID != 4 || len(u.Unwritten) != 1 || u.Unwritten[0].ID != 2 || len(u.Other) != 0 {
		t.Fatalf("%+v, %v", u, err)
	}
	if _, err := s.Reconcile(t.Context()); err != nil {
		t.Fatal(err)
	}
	all, err := s.Decisions(t.Context())
	if err != nil || len(all) != 4 || all[3].Need != "overhead" {
		t.Errorf("%+v, %v", all, err)
	}
	if u, err := s.Journal(t.Context()); err != nil || !u.None() {
		t.Errorf("afterwards: %+v, %v", u, err)
	}
	// Two of one number: a person must look.
	whole, _ = os.ReadFile(name)
	if err := os.WriteFile(name, []byte(strings.Replace(string(whole), `"R01"`, `"R02"`, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	if u, err := s.Reconcile(t.Context()); err != nil || len(u.Other) != 1 || len(u.Lost)+len(u.Unwritten) != 0 {
		t.Errorf("%+v, %v", u, err)
	}
	s.Close()
}

func TestSetAside(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.PutCard(t.Context(), Card{Name: "A001", LastRead: time.Now()}); err != nil {
		t.Fatal(err)
	}
	s.Close()
	at := time.Date(2026, 3, 4, 17, 0, 0, 0, time.UTC)
	aside, err := SetAside(path, at)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(path); !os.IsNotExist(err) {
		t.Errorf("it is still there: %v", err)
	}
	if s, err = Open(aside); err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if cards, err := s.Cards(t.Context()); err != nil || len(cards) != 1 {
		t.Errorf("what was set aside holds %v, %v", cards, err)
	}
	if err := os.WriteFile(path, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := SetAside(path, at); err == nil {
		t.Error("another was set aside onto it")
	}
}
