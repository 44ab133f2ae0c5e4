package ingest

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"coverplate/ingest/catalogue"
)

// shot puts n pictures that no other body has on the card.
func shot(t *testing.T, card string, from, n int, body byte) {
	t.Helper()
	for i := range n {
		one := bodyA
		one.shade, one.taken = body+byte(i), fmt.Sprintf("2026:03:04 1%d:%02d:%02d", body%10, i/60, i%60)
		put(t, card, fmt.Sprintf("DCIM/100ABCDE/DSC_%04d.JPG", from+i), one.jpeg(t))
	}
}

// names are those of the cards that the shoot knows, with how many files each had.
func (b *bench) cardNames() string {
	b.Helper()
	all, err := b.store.Cards(b.Context())
	if err != nil {
		b.Fatal(err)
	}
	var out []string
	for _, c := range all {
		out = append(out, fmt.Sprintf("%s: %d", c.Name, c.Files))
	}
	return strings.Join(out, ", ")
}

func (b *bench) wantCards(when, want string) {
	b.Helper()
	if got := b.cardNames(); got != want {
		b.Errorf("%s: cards %q, want %q", when, got, want)
	}
}

func TestTwoCardsOfOneNameAtOnePlaceInTurn(t *testing.T) {
	b, place, aside := newBench(t), filepath.Join(t.TempDir(), "NO NAME"), t.TempDir()
	first := filepath.Join(aside, "first")
	shot(t, place, 1, 3, 10)
	b.ingest(Options{}, place)
	b.wantCards("the first card", "NO NAME: 3")
	if err := os.Rename(place, first); err != nil {
		t.Fatal(err)
	}
	shot(t, place, 1, 4, 50) // the same names of files, and another card
	b.ingest(Options{}, place)
	b.wantCards("another card there", "NO NAME: 3, NO NAME (2): 4")
	var cards []string
	for _, f := range b.frames() {
		cards = append(cards, f.Files[0].Card)
	}
	slices.Sort(cards)
	if got := strings.Join(slices.Compact(cards), ", "); len(cards) != 7 || got != "NO NAME, NO NAME (2)" {
		t.Errorf("%d frames from %s", len(cards), got)
	}
	// Both grow, the first under another mount point, and are known again.
	shot(t, place, 5, 1, 60)
	shot(t, first, 4, 2, 20)
	again := filepath.Join(aside, "disk", "NO NAME")
	if err := os.MkdirAll(filepath.Dir(again), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(first, again); err != nil {
		t.Fatal(err)
	}
	b.ingest(Options{}, place, again)
	b.wantCards("both grown", "NO NAME: 5, NO NAME (2): 5")
	// A part of one says which card it is and does not replace it.
	b.ingest(Options{}, filepath.Join(place, "DCIM/100ABCDE/DSC_0005.JPG"))
	b.wantCards("a part", "NO NAME: 5, NO NAME (2): 5")
	for i, s := range b.cards(1, false) {
		if want := []string{again, place}[i]; s.Root != want || !s.Mounted || !s.Format {
			t.Errorf("%s at %s, want %s: %+v", s.Name, s.Root, want, s)
		}
	}
	if s := b.cards(1, false, place); s[0].Name != "NO NAME (2)" {
		t.Errorf("the card at %s is called %q", place, s[0].Name)
	}
	// Formatted: what was read from it stays told, and what is there now is new.
	if err := os.RemoveAll(place); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(place, 0o755); err != nil {
		t.Fatal(err)
	}
	b.ingest(Options{}, place)
	b.wantCards("empty", "NO NAME: 5, NO NAME (2): 5")
	shot(t, place, 1, 2, 80)
	b.ingest(Options{}, place)
	b.wantCards("formatted", "NO NAME: 5, NO NAME (2): 5, NO NAME (3): 2")
	s := b.cards(1, false)
	if s[1].Mounted || s[1].Format || !strings.Contains(s[1].Why, "NO NAME (3) is") || !s[2].Format || s[2].Files != 2 {
		t.Errorf("where they are: %+v", s)
	}
}

func TestTwoCardsOfOneNameAtOnce(t *testing.T) {
	b, dir := newBench(t), t.TempDir()
	one, two := filepath.Join(dir, "a", "A001"), filepath.Join(dir, "b", "A001")
	shot(t, one, 1, 2, 10)
	shot(t, two, 1, 3, 50)
	b.ingest(Options{}, one, two)
	b.wantCards("at once", "A001: 2, A001 (2): 3")
	b.ingest(Options{}, two, one)
	b.wantCards("the other way round", "A001: 2, A001 (2): 3")
	b.ingest(Options{}, two)
	b.wantCards("one alone", "A001: 2, A001 (2): 3")
}

// A catalogue that an older version made knows no marks: the next card of the
// name is taken for the one that it knows, as that version did.
func TestCardOfAnOlderCatalogue(t *testing.T) {
	b, card := newBench(t), filepath.Join(t.TempDir(), "A001")
	if err := b.store.PutCard(t.Context(), catalogue.Card{Name: "A001", Volume: "A001", Root: card, Files: 9, LastRead: time.Unix(1, 0)}); err != nil {
		t.Fatal(err)
	}
	shot(t, card, 1, 2, 10)
	b.ingest(Options{}, card)
	b.wantCards("read again", "A001: 2")
}

func TestMarks(t *testing.T) {
	root := t.TempDir()
	put(t, root, "A.JPG", []byte("picture"))
	info, err := os.Stat(filepath.Join(root, "A.JPG"))
	if err != nil {
		t.Fatal(err)
	}
	now := info.ModTime()
	for _, c := range []struct {
		name string
		mark catalogue.Mark
		want bool
	}{
		{"as it was", catalogue.Mark{Path: "A.JPG", Size: 7, Modified: now}, true},
		{"another size", catalogue.Mark{Path: "A.JPG", Size: 8, Modified: now}, false},
		{"another name", catalogue.Mark{Path: "B.JPG", Size: 7, Modified: now}, false},
		{"an hour on, in summer", catalogue.Mark{Path: "A.JPG", Size: 7, Modified: now.Add(-time.Hour)}, true},
		{"even seconds", catalogue.Mark{Path: "A.JPG", Size: 7, Modified: now.Add(-3*time.Hour + 1900*time.Millisecond)}, true},
		{"written at another time", catalogue.Mark{Path: "A.JPG", Size: 7, Modified: now.Add(2 * time.Second)}, false},
	} {
		if got := isThere(c.mark, root); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
	for _, n := range []int{0, 1, mostMarks - 1, mostMarks, mostMarks + 1, 1000} {
		c, other := &card{}, &card{}
		entries := []entry{{card: other, source: "other", size: 1, kind: catalogue.JPEG}, {card: c, source: "empty", kind: catalogue.JPEG}}
		for i := range n {
			entries = append(entries, entry{card: c, source: fmt.Sprintf("%04d", i), size: 1, kind: catalogue.JPEG})
		}
		got, want := marksOf(entries, c), min(n, mostMarks)
		seen := map[string]bool{}
		for _, m := range got {
			seen[m.Path] = true
		}
		if len(got) != want || len(seen) != want || seen["other"] || seen["empty"] {
			t.Errorf("%d files: %d marks, %d of them apart, want %d", n, len(got), len(seen), want)
		}
	}
}
