package catalogue

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"
)

// Card is one source that frames were read from.
type Card struct {
	Name      string    // its own: the volume's, and a number where another card had that first
	Volume    string    // the name of its folder or volume, which several cards may have
	Root      string    // where it was mounted when last read
	Files     int       // files on it when last read
	Bytes     int64     // their size
	FirstRead time.Time // UTC
	LastRead  time.Time // UTC
	Whole     bool      // the last read came to its end without an unread file
	Marks     []Mark    // some of the files that were on it when last read; none: not known
}

// Mark is a file by which a card is known again.
type Mark struct {
	Path     string    `json:"path"` // on the card, with forward slashes
	Size     int64     `json:"size"` // bytes
	Modified time.Time `json:"modified"`
}

const putCard = `
INSERT INTO card (name, volume, root, files, bytes, first_read, last_read, whole, marks) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)
ON CONFLICT (name) DO UPDATE SET
    volume = excluded.volume, root = excluded.root, files = excluded.files, bytes = excluded.bytes,
    last_read = excluded.last_read, whole = excluded.whole, marks = excluded.marks`

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
	marks, err := json.Marshal(append([]Mark{}, c.Marks...))
	if err != nil {
		return fmt.Errorf("write card %q: %w", c.Name, err)
	}
	_, err = s.db.ExecContext(ctx, putCard, c.Name, c.Volume, c.Root, c.Files, c.Bytes, instant(first), instant(c.LastRead), whole, string(marks))
	if err != nil {
		return fmt.Errorf("write card %q: %w", c.Name, err)
	}
	return nil
}

// Cards returns the cards in the order in which they were first read.
func (s *Store) Cards(ctx context.Context) ([]Card, error) {
	rows, err := s.db.QueryContext(ctx, `
SELECT name, coalesce(nullif(volume, ''), name), root, files, bytes, first_read, last_read, whole, marks FROM card ORDER BY first_read, name`)
	if err != nil {
		return nil, fmt.Errorf("read cards: %w", err)
	}
	defer rows.Close()
	var all []Card
	for rows.Next() {
		var c Card
		var first, last sql.NullString
		var marks string
		if err := rows.Scan(&c.Name, &c.Volume, &c.Root, &c.Files, &c.Bytes, &first, &last, &c.Whole, &marks); err != nil {
			return nil, fmt.Errorf("read cards: %w", err)
		}
		if err := json.Unmarshal([]byte(marks), &c.Marks); err != nil {
			return nil, fmt.Errorf("read card %q: %w", c.Name, err)
		}
		if len(c.Marks) == 0 {
			c.Marks = nil
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
