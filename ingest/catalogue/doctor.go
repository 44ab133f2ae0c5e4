package catalogue

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"time"
)

// Integrity asks SQLite whether the file is sound and every row has those it
// hangs on; it returns what is wrong, nothing where all is well.
func (s *Store) Integrity(ctx context.Context) ([]string, error) {
	rows, err := s.db.QueryContext(ctx, `
SELECT integrity_check FROM pragma_integrity_check WHERE integrity_check <> 'ok'
UNION ALL
SELECT 'row ' || coalesce(rowid, '?') || ' of ' || "table" || ' has no ' || parent FROM pragma_foreign_key_check`)
	if err != nil {
		return []string{err.Error()}, nil
	}
	defer rows.Close()
	var all []string
	for rows.Next() {
		var says string
		if err := rows.Scan(&says); err != nil {
			return append(all, err.Error()), nil
		}
		all = append(all, says)
	}
	if err := rows.Err(); err != nil {
		if ctx.Err() != nil {
			return all, context.Cause(ctx)
		}
		all = append(all, err.Error())
	}
	return all, nil
}

// Unlike tells how the journal and the catalogue differ.
type Unlike struct {
	Lost      []Decision // in the journal alone
	Unwritten []Decision // in the catalogue alone
	Other     []int64    // of one number and two contents
}

// None reports whether they are alike.
func (u Unlike) None() bool { return len(u.Lost)+len(u.Unwritten)+len(u.Other) == 0 }

// Journal holds the journal against the catalogue.
func (s *Store) Journal(ctx context.Context) (Unlike, error) {
	var u Unlike
	here, err := s.Decisions(ctx)
	if err != nil {
		return u, err
	}
	b, err := os.ReadFile(s.journal)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return u, fmt.Errorf("read journal: %w", err)
	}
	written, err := parseJournal(b)
	if err != nil {
		return u, fmt.Errorf("%s: %w; mend that line", s.journal, err)
	}
	in := map[int64]Decision{}
	for _, d := range here {
		in[d.ID] = d
	}
	for _, d := range written {
		got, ok := in[d.ID]
		switch {
		case !ok:
			u.Lost = append(u.Lost, d)
		case !same(got, d):
			u.Other = append(u.Other, d.ID)
		}
		delete(in, d.ID)
	}
	for _, d := range here {
		if _, ok := in[d.ID]; ok {
			u.Unwritten = append(u.Unwritten, d)
		}
	}
	return u, nil
}

// same reports whether two decisions are one.
func same(a, b Decision) bool {
	times := a.At.Equal(b.At) && a.From.Equal(b.From)
	a.At, b.At, a.From, b.From = time.Time{}, time.Time{}, time.Time{}, time.Time{}
	return times && a == b
}

// Reconcile brings decisions that the journal alone has into the catalogue, and
// those that the catalogue alone has into the journal. Where two have one number
// nothing is done. It returns what was done.
func (s *Store) Reconcile(ctx context.Context) (Unlike, error) {
	u, err := s.Journal(ctx)
	if err != nil || u.None() {
		return u, err
	}
	if len(u.Other) > 0 {
		return Unlike{Other: u.Other}, nil
	}
	stored, err := s.Decisions(ctx)
	if err != nil {
		return Unlike{}, err
	}
	acts := sizes(stored)
	slices.SortFunc(u.Lost, func(a, b Decision) int { return int(a.ID - b.ID) })
	err = s.write(ctx, func(tx *sql.Tx) error {
		for _, d := range u.Lost {
			if err := insertDecision(ctx, tx, d); err != nil {
				return fmt.Errorf("decision %d: %w", d.ID, err)
			}
		}
		if len(u.Unwritten) == 0 {
			return nil
		}
		return s.appendJournal(u.Unwritten, make([]string, len(u.Unwritten)), acts)
	})
	if err != nil {
		return Unlike{}, fmt.Errorf("reconcile decisions: %w", err)
	}
	return u, nil
}

// SetAside gives the catalogue at path, which must not be open, another name
// beside it, so that a new one can be made in its place; nothing is thrown away.
// It returns that name.
func SetAside(path string, at time.Time) (string, error) {
	aside := path + "-aside-" + at.UTC().Format("20060102T150405")
	if _, err := os.Lstat(aside); !errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("set the catalogue aside: %s is there already", aside)
	}
	for _, end := range []string{"-wal", "-shm", ""} { // the file itself last: until then it is found again
		if err := os.Rename(path+end, aside+end); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return "", fmt.Errorf("set the catalogue aside: %w", err)
		}
	}
	return aside, nil
}
