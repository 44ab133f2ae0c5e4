package catalogue

import (
	"context"
	"database/sql"
	"fmt"
)

const putCard = `
INSERT INTO card (name, root, files, bytes, first_read, last_read, whole) VALUES (?, ?, ?, ?, ?, ?, ?)
ON CONFLICT (name) DO UPDATE SET
    root = excluded.root, files = excluded.files, bytes = excluded.bytes,
    last_read = excluded.last_read, whole = excluded.whole`

// PutCard inserts c, or replaces what is known of the card of its name; the
// time of its first reading stays.
func (s *Store) PutCard(ctx context.Context, c Card) error {
	first := c.FirstRead
	if first.IsZero() {
		first = c.LastRead
	}
	whole := 0
	if c.Whole {
		whole = 1
	}
	_, err := s.db.ExecContext(ctx, putCard, c.Name, c.Root, c.Files, c.Bytes, instant(first), instant(c.LastRead), whole)
	if err != nil {
		return fmt.Errorf("write card %q: %w", c.Name, err)
	}
	return nil
}

// Cards returns the cards in the order in which they were first read.
func (s *Store) Cards(ctx context.Context) ([]Card, error) {
	rows, err := s.db.QueryContext(ctx, `
SELECT name, root, files, bytes, first_read, last_read, whole FROM card ORDER BY first_read, name`)
	if err != nil {
		return nil, fmt.Errorf("read cards: %w", err)
	}
	defer rows.Close()
	var all []Card
	for rows.Next() {
		var c Card
		var first, last sql.NullString
		if err := rows.Scan(&c.Name, &c.Root, &c.Files, &c.Bytes, &first, &last, &c.Whole); err != nil {
			return nil, fmt.Errorf("read cards: %w", err)
		}
		if c.FirstRead, err = parseInstant(first); err != nil {
			return nil, fmt.Errorf("read card %q: %w", c.Name, err)
		}
		if c.LastRead, err = parseInstant(last); err != nil {
			return nil, fmt.Errorf("read card %q: %w", c.Name, err)
		}
		all = append(all, c)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("read cards: %w", err)
	}
	return all, nil
}
