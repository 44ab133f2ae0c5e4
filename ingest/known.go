package ingest

import (
	"context"
	"path/filepath"
	"slices"
	"time"

	"coverplate/ingest/catalogue"
)

// A file of a card is known again by path, size, time and the fingerprint of
// its ends. Path, size and time alone don't tell two files apart: two bodies
// with uncompressed raws that are released by one trigger share all three. They
// are enough on a card that is surely the one it was: then nothing of its files
// is read.

// probes is how many files of a card are looked at to be sure that it is the
// one it was. Two cards of one path, size and time throughout differ in all of
// them.
const probes = 8

// alike are those of seen that a file of that size and time may be: path is
// the same already.
func alike(seen []catalogue.Seen, size int64, modified time.Time) []catalogue.Seen {
	return slices.DeleteFunc(slices.Clone(seen), func(s catalogue.Seen) bool {
		return s.Size != size || !s.Modified.Equal(modified)
	})
}

// byEnds is the one of seen whose fingerprint is ends; nil where none is.
func byEnds(seen []catalogue.Seen, ends string) *catalogue.Seen {
	for i := range seen {
		if seen[i].Quick == ends {
			return &seen[i]
		}
	}
	return nil
}

// onCard is the only one of seen that was last seen on the card of that name;
// nil where there is none, or more than one.
func onCard(seen []catalogue.Seen, card string) (one *catalogue.Seen) {
	for i := range seen {
		switch {
		case seen[i].Card != card:
		case one != nil:
			return nil
		default:
			one = &seen[i]
		}
	}
	return one
}

// surely reports whether the card c is the card k beyond doubt: every file that
// it is known by is there, and of some of them the ends are read and have the
// fingerprints that they had. The error is a fault of the catalogue.
func (r *run) surely(ctx context.Context, k catalogue.Card, c *card) (bool, error) {
	for _, m := range k.Marks {
		if !isThere(m, c.root) {
			return false, nil
		}
	}
	var paths []string
	for i := range min(probes, len(k.Marks)) {
		paths = append(paths, k.Marks[i*len(k.Marks)/min(probes, len(k.Marks))].Path)
	}
	seen, err := r.store.SeenAs(ctx, paths)
	if err != nil {
		return false, err
	}
	for _, p := range paths {
		if !r.asItWas(filepath.Join(c.root, filepath.FromSlash(p)), k.Name, seen[p]) {
			return false, nil
		}
	}
	return len(paths) > 0, nil
}

// asItWas reports whether the ends of the file at path are those of the one of
// seen that was on the card of that name.
func (r *run) asItWas(path, card string, seen []catalogue.Seen) bool {
	in, err := r.disk.Open(path)
	if err != nil {
		return false
	}
	defer in.Close()
	info, err := in.Stat()
	if err != nil {
		return false
	}
	before := onCard(alike(seen, info.Size(), info.ModTime()), card)
	if before == nil {
		return false
	}
	ends, err := quick(in, info.Size())
	return err == nil && ends == before.Quick
}

// batch is how many groups one question to the catalogue is asked for.
const batch = 256

// job is a group and what was taken under the paths of its files before.
type job struct {
	group
	seen map[string][]catalogue.Seen
}

// jobs hands the groups to each, with what is known of them; it ends when each
// returns false. The error is a fault of the catalogue.
func (r *run) jobs(ctx context.Context, each func(job) bool) error {
	for some := range slices.Chunk(groups(r.found.entries), batch) {
		var paths []string
		for _, g := range some {
			for _, e := range g.files {
				paths = append(paths, e.source)
			}
		}
		seen, err := r.store.SeenAs(ctx, paths)
		if err != nil {
			return catalogueError{err}
		}
		for _, g := range some {
			if !each(job{g, seen}) {
				return nil
			}
		}
	}
	return nil
}
