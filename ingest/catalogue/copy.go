package catalogue

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// Copy is a copy of a file of the library on another disk, below Root under the
// same path. It was read back and found equal when it was made.
type Copy struct {
	File     string    // path in the library
	Root     string    // absolute folder
	SHA256   string    // of the content, hexadecimal; a copy of what the file no longer is says nothing
	Apart    bool      // Root surely lay on other devices than the shoot
	Verified time.Time // when it was read back
	Checked  time.Time // last read whole since, and found equal; zero never
}

const putCopy = `
INSERT INTO copy (file, root, sha256, apart, verified) VALUES (?, ?, ?, ?, ?)
ON CONFLICT (file, root) DO UPDATE SET
    sha256 = excluded.sha256, apart = excluded.apart, verified = excluded.verified, checked = NULL`

// PutCopies stores what is known of copies, all or nothing. Each file must be
// in the catalogue.
func (s *Store) PutCopies(ctx context.Context, all []Copy) error {
	if len(all) == 0 {
		return nil
	}
	err := s.write(ctx, func(tx *sql.Tx) error {
		for _, c := range all {
			if _, err := tx.ExecContext(ctx, putCopy, c.File, c.Root, c.SHA256, c.Apart, instant(c.Verified)); err != nil {
				return fmt.Errorf("copy of %q: %w", c.File, err)
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("write catalogue: %w", err)
	}
	return nil
}

// Copies returns the copies whose content is that of their file, by root and
// path.
func (s *Store) Copies(ctx context.Context) ([]Copy, error) {
	rows, err := s.db.QueryContext(ctx, `
SELECT copy.file, copy.root, copy.sha256, copy.apart, copy.verified, copy.checked
FROM copy JOIN file ON file.path = copy.file AND file.sha256 = copy.sha256 ORDER BY copy.root, copy.file`)
	if err != nil {
		return nil, fmt.Errorf("read copies: %w", err)
	}
	defer rows.Close()
	var all []Copy
	for rows.Next() {
		var c Copy
		var verified, checked sql.NullString
		if err := rows.Scan(&c.File, &c.Root, &c.SHA256, &c.Apart, &verified, &checked); err != nil {
			return nil, fmt.Errorf("read copies: %w", err)
		}
		if c.Verified, err = parseInstant(verified); err != nil {
			return nil, fmt.Errorf("read copy of %q: %w", c.File, err)
		}
		if c.Checked, err = parseInstant(checked); err != nil {
			return nil, fmt.Errorf("read copy of %q: %w", c.File, err)
		}
		all = append(all, c)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("read copies: %w", err)
	}
	return all, nil
}

// SetChecked notes that the file at path, or where root is not "" its copy
// below root, was read whole at the time at and found equal.
func (s *Store) SetChecked(ctx context.Context, root string, paths []string, at time.Time) error {
	if len(paths) == 0 {
		return nil
	}
	err := s.write(ctx, func(tx *sql.Tx) error {
		for _, p := range paths {
			var err error
			if root == "" {
				_, err = tx.ExecContext(ctx, `UPDATE file SET checked = ? WHERE path = ?`, instant(at), p)
			} else {
				_, err = tx.ExecContext(ctx, `UPDATE copy SET checked = ? WHERE file = ? AND root = ?`, instant(at), p, root)
			}
			if err != nil {
				return fmt.Errorf("%q: %w", p, err)
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("write catalogue: %w", err)
	}
	return nil
}

// Checking returns when the verification of root, "" for the shoot itself, that
// has not come to its end was begun; ErrNotFound where none is under way.
func (s *Store) Checking(ctx context.Context, root string) (time.Time, error) {
	var at sql.NullString
	err := s.db.QueryRowContext(ctx, `SELECT begun FROM verification WHERE root = ?`, root).Scan(&at)
	if err == sql.ErrNoRows {
		return time.Time{}, fmt.Errorf("verification of %q: %w", root, ErrNotFound)
	}
	if err != nil {
		return time.Time{}, fmt.Errorf("read catalogue: %w", err)
	}
	return parseInstant(at)
}

// SetChecking notes that a verification of root was begun at the time at, or
// with the zero time that it has come to its end.
func (s *Store) SetChecking(ctx context.Context, root string, at time.Time) error {
	var err error
	if at.IsZero() {
		_, err = s.db.ExecContext(ctx, `DELETE FROM verification WHERE root = ?`, root)
	} else {
		_, err = s.db.ExecContext(ctx, `INSERT INTO verification (root, begun) VALUES (?, ?)
ON CONFLICT (root) DO UPDATE SET begun = excluded.begun`, root, instant(at))
	}
	if err != nil {
		return fmt.Errorf("write catalogue: %w", err)
	}
	return nil
}

// Checked returns when each file of the library, or where root is not "" its
// copy below root, was last read whole since it was verified and found equal, by
// its path; those that never were are not in it.
func (s *Store) Checked(ctx context.Context, root string) (map[string]time.Time, error) {
	query, args := `SELECT path, checked FROM file WHERE checked IS NOT NULL`, []any(nil)
	if root != "" {
		query, args = `SELECT file, checked FROM copy WHERE checked IS NOT NULL AND root = ?`, []any{root}
	}
	rows, err := s.db.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, fmt.Errorf("read catalogue: %w", err)
	}
	defer rows.Close()
	out := map[string]time.Time{}
	for rows.Next() {
		var path string
		var at sql.NullString
		if err := rows.Scan(&path, &at); err != nil {
			return nil, fmt.Errorf("read catalogue: %w", err)
		}
		if out[path], err = parseInstant(at); err != nil {
			return nil, fmt.Errorf("read check of %q: %w", path, err)
		}
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("read catalogue: %w", err)
	}
	return out, nil
}
