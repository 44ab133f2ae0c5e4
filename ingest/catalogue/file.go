package catalogue

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

// Source is what one file on a card looked like: enough to know it again
// without reading it whole. The card's name is no part of that, since a card
// may be mounted under another.
type Source struct {
	Card     string    // name of the card
	Path     string    // on the card, with forward slashes
	Size     int64     // bytes
	Modified time.Time // as the card's file system has it
	Quick    string    // SHA-256 of the first and last 64 KiB, hexadecimal
	File     string    // path in the library where its content is kept
}

// Held is a file of the library with the frame it belongs to.
type Held struct {
	File
	Frame FrameID // "" where it is kept without a frame
}

// Entry is what one step of an ingest adds to the catalogue, all or nothing.
type Entry struct {
	Frame   *Frame // nil where there is none
	Others  []File // files kept without a frame
	Sources []Source
}

// fileColumns are those that scanFile reads.
const fileColumns = `path, kind, name, size, sha256, card, source, modified, verified`

const putFile = `
INSERT INTO file (path, fold, frame, position, kind, name, stem, size, sha256, card, source, modified, verified)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
ON CONFLICT (path) DO UPDATE SET
    frame = excluded.frame, position = excluded.position, kind = excluded.kind, name = excluded.name,
    stem = excluded.stem, size = excluded.size, sha256 = excluded.sha256, card = excluded.card,
    source = excluded.source, modified = excluded.modified, verified = excluded.verified,
    checked = CASE WHEN file.sha256 = excluded.sha256 THEN checked END`

const putSource = `
INSERT INTO source (path, size, modified, quick, card, file) VALUES (?, ?, ?, ?, ?, ?)
ON CONFLICT DO UPDATE SET card = excluded.card, file = excluded.file`

// Record stores e in one transaction.
func (s *Store) Record(ctx context.Context, e Entry) error {
	err := s.write(ctx, func(tx *sql.Tx) error {
		if e.Frame != nil {
			if err := putFrameTx(ctx, tx, *e.Frame); err != nil {
				return err
			}
		}
		for _, f := range e.Others {
			if err := putFileTx(ctx, tx, f, nil, 0); err != nil {
				return err
			}
		}
		for _, c := range e.Sources {
			if _, err := tx.ExecContext(ctx, putSource, c.Path, c.Size, c.Modified.UnixNano(), c.Quick, c.Card, c.File); err != nil {
				return fmt.Errorf("source %q: %w", c.Path, err)
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("write catalogue: %w", err)
	}
	return nil
}

func putFileTx(ctx context.Context, tx *sql.Tx, f File, frame any, position int) error {
	_, err := tx.ExecContext(ctx, putFile, f.Path, Fold(f.Path), frame, position, string(f.Kind), f.Name, stem(f.Name),
		f.Size, f.SHA256, f.Card, f.Source, instant(f.Modified), instant(f.Verified))
	if err != nil {
		return fmt.Errorf("file %q: %w", f.Path, err)
	}
	return nil
}

// Fold is path as a disk that ignores case would compare it. Bytes that are no
// UTF-8 stay as they are, so that two names that differ in them stay two.
func Fold(path string) string {
	if utf8.ValidString(path) {
		return strings.ToLower(path)
	}
	b := []byte(path)
	for i, c := range b {
		if 'A' <= c && c <= 'Z' {
			b[i] = c + 'a' - 'A'
		}
	}
	return string(b)
}

// stem is what stands before the first dot of name, folded: coarse, so that
// DSC_0412.NEF.xmp has the stem of DSC_0412.JPG.
func stem(name string) string {
	before, _, _ := strings.Cut(name, ".")
	return Fold(before)
}

// WithContent returns the files whose SHA-256 is sum, by path.
func (s *Store) WithContent(ctx context.Context, sum string) ([]Held, error) {
	return s.held(ctx, `sha256 = ?`, sum)
}

// AtPath returns the files at path, case ignored.
func (s *Store) AtPath(ctx context.Context, path string) ([]Held, error) {
	return s.held(ctx, `fold = ?`, Fold(path))
}

// Others returns the files that are kept without a frame, by path.
func (s *Store) Others(ctx context.Context) ([]File, error) {
	held, err := s.held(ctx, `frame IS NULL`)
	if err != nil {
		return nil, err
	}
	files := make([]File, len(held))
	for i, h := range held {
		files[i] = h.File
	}
	return files, nil
}

// Files returns every file that the catalogue knows, by path.
func (s *Store) Files(ctx context.Context) ([]Held, error) {
	return s.held(ctx, `TRUE`)
}

// held returns the files for which where holds, by path.
func (s *Store) held(ctx context.Context, where string, args ...any) ([]Held, error) {
	rows, err := s.db.QueryContext(ctx, `SELECT coalesce(frame, ''), `+fileColumns+` FROM file WHERE `+where+` ORDER BY path`, args...)
	if err != nil {
		return nil, fmt.Errorf("read catalogue: %w", err)
	}
	defer rows.Close()
	var all []Held
	for rows.Next() {
		var h Held
		if h.File, err = scanFile(rows, &h.Frame); err != nil {
			return nil, fmt.Errorf("read catalogue: %w", err)
		}
		all = append(all, h)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("read catalogue: %w", err)
	}
	return all, nil
}

// scanFile reads one row: the values of before, then fileColumns.
func scanFile(rows *sql.Rows, before ...any) (File, error) {
	var f File
	var modified, verified sql.NullString
	to := append(before, &f.Path, &f.Kind, &f.Name, &f.Size, &f.SHA256, &f.Card, &f.Source, &modified, &verified)
	if err := rows.Scan(to...); err != nil {
		return File{}, err
	}
	var errs [2]error
	f.Modified, errs[0] = parseInstant(modified)
	f.Verified, errs[1] = parseInstant(verified)
	return f, errors.Join(errs[:]...)
}
