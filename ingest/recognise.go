package ingest

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"coverplate/ingest/catalogue"
)

// Cards are often named alike, many "NO NAME", and mounted at one place in turn.
// A card is known again by the files that were on it. One that has none of them
// is another card, or the same after it was formatted: nothing tells which, and
// what was read from it before stays as it is told.

// mostMarks is how many files are kept to know a card again; fewMarks is the
// share of them, one in so many, that must still be there: of two bodies with
// uncompressed raws and one count, one file in 1800 has the other's path, size
// and second of the hour by chance.
const (
	mostMarks = 64
	fewMarks  = 20
)

// tellCards gives the cards of the run the names that they have among all cards
// of the shoot.
func (r *run) tellCards(ctx context.Context) error {
	known, err := r.store.Cards(ctx)
	if err != nil {
		return err
	}
	claimed := map[string]bool{}
	for _, k := range known {
		claimed[k.Name] = true
	}
	mine := map[string]bool{}
	for _, c := range r.found.cards {
		k, ok := recognised(known, c.volume, c.root, mine)
		if ok {
			if c.sure, err = r.surely(ctx, k, c); err != nil {
				return err
			}
		}
		if !ok && c.files == 0 { // an empty card says nothing of itself
			k, ok = latest(known, c.volume)
		}
		c.name = k.Name
		for n := 1; !ok; n++ {
			c.name = c.volume
			if n > 1 {
				c.name = fmt.Sprintf("%s (%d)", c.volume, n)
			}
			ok = !claimed[c.name]
		}
		claimed[c.name], mine[c.name] = true, true
	}
	return nil
}

// recognised is the one of known that is at root: the one of that volume of
// whose marks most are there, or else one of which no marks are known. Names in
// without are no longer to be had.
func recognised(known []catalogue.Card, volume, root string, without map[string]bool) (best catalogue.Card, ok bool) {
	most := 0.0
	for _, k := range known {
		if k.Volume != volume || without[k.Name] {
			continue
		}
		if len(k.Marks) == 0 {
			if !ok {
				best, ok = k, true
			}
			continue
		}
		there := 0
		for _, m := range k.Marks {
			if isThere(m, root) {
				there++
			}
		}
		share := float64(there) / float64(len(k.Marks))
		if there*fewMarks >= len(k.Marks) && (share > most || share == most && k.Root == root) {
			best, ok, most = k, true, share
		}
	}
	return best, ok
}

// latest is the card of a volume's name that was read last.
func latest(known []catalogue.Card, volume string) (last catalogue.Card, ok bool) {
	for _, k := range known {
		if k.Volume == volume && (!ok || k.LastRead.After(last.LastRead)) {
			last, ok = k, true
		}
	}
	return last, ok
}

// isThere reports whether the file of a mark is at root. The times on most cards
// have no zone, so that another season moves them by an hour, and are even
// seconds (FAT, from memory).
func isThere(m catalogue.Mark, root string) bool {
	info, err := os.Lstat(filepath.Join(root, filepath.FromSlash(m.Path)))
	if err != nil || !info.Mode().IsRegular() || info.Size() != m.Size {
		return false
	}
	apart := info.ModTime().Sub(m.Modified).Abs() % time.Hour
	return min(apart, time.Hour-apart) < 2*time.Second
}

// marksOf are the files by which c is to be known again, evenly through all
// that are on it: any kind may be all that is left.
func marksOf(entries []entry, c *card) []catalogue.Mark {
	var all []entry
	for _, e := range entries {
		if e.card == c && e.size > 0 {
			all = append(all, e)
		}
	}
	slices.SortFunc(all, func(a, b entry) int { return strings.Compare(a.source, b.source) })
	marks := make([]catalogue.Mark, min(len(all), mostMarks))
	for i := range marks {
		e := all[i*len(all)/len(marks)]
		marks[i] = catalogue.Mark{Path: e.source, Size: e.size, Modified: e.modified.UTC()}
	}
	return marks
}

// whereNow tells where each of known is now: at the place of one of them where
// its files are, else where it was last. One whose place another has taken is
// not to be looked at: Why says so.
func whereNow(known []catalogue.Card) []CardState {
	at := map[string]string{}    // root by card
	taken := map[string]string{} // card by root
	mine := map[string]bool{}
	for _, k := range known {
		if taken[k.Root] != "" {
			continue
		}
		if c, ok := recognised(known, k.Volume, k.Root, mine); ok && len(c.Marks) > 0 {
			at[c.Name], taken[k.Root], mine[c.Name] = k.Root, c.Name, true
		}
	}
	for _, k := range slices.Backward(known) { // nobody's files: the place of the one that came last
		if at[k.Name] == "" && taken[k.Root] == "" {
			at[k.Name], taken[k.Root] = k.Root, k.Name
		}
	}
	out := make([]CardState, len(known))
	for i, k := range known {
		out[i] = CardState{Name: k.Name, Root: k.Root}
		if at[k.Name] != "" {
			out[i].Root = at[k.Name]
		} else {
			out[i].Why = fmt.Sprintf("it is not there now: %s is, or it was formatted since", taken[k.Root])
		}
	}
	return out
}
