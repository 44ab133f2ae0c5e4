package catalogue

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// ErrDecision: a decision that lacks what its kind needs.
var ErrDecision = errors.New("not a decision")

// check reports what d lacks.
func (d Decision) check() error {
	switch d.Kind {
	case Assign:
		if d.Frame == "" {
			return fmt.Errorf("%w: assign names no frame", ErrDecision)
		}
	case Choose:
		if d.Frame == "" || d.Need == "" {
			return fmt.Errorf("%w: choose names no frame or no need", ErrDecision)
		}
	case Waive:
		if d.Recipe == "" || d.Need == "" {
			return fmt.Errorf("%w: waive names no recipe or no need", ErrDecision)
		}
	case Crop:
		if d.Frame == "" || d.Need == "" {
			return fmt.Errorf("%w: crop names no frame or no need", ErrDecision)
		}
		if d.Rect[0] < 0 || d.Rect[1] < 0 || d.Rect[2] < 1 || d.Rect[3] < 1 {
			return fmt.Errorf("%w: crop to %v is no part of a picture", ErrDecision, d.Rect)
		}
	case Clock:
		if d.Body == "" {
			return fmt.Errorf("%w: clock names no body", ErrDecision)
		}
	case On:
		if d.From.IsZero() {
			return fmt.Errorf("%w: on names no time from which it holds", ErrDecision)
		}
	case Prop:
		if d.Recipe == "" || strings.TrimSpace(d.Name) == "" {
			return fmt.Errorf("%w: prop names no recipe or no thing", ErrDecision)
		}
		if d.Need != "" && d.Need != AsSurface && d.Need != TakenOff {
			return fmt.Errorf("%w: a prop is no %q", ErrDecision, d.Need)
		}
	case Variant:
		if d.Recipe == "" || (d.Frame == "") == d.From.IsZero() {
			return fmt.Errorf("%w: variant names no recipe, or not one of frame and time", ErrDecision)
		}
	case Undo:
		if d.Undoes < 1 {
			return fmt.Errorf("%w: undo names no decision", ErrDecision)
		}
	default:
		return fmt.Errorf("%w: kind %q", ErrDecision, d.Kind)
	}
	if d.Kind != Crop && d.Rect != [4]int{} {
		return fmt.Errorf("%w: %s has no rectangle", ErrDecision, d.Kind)
	}
	if d.Kind != Clock && d.Shift != 0 {
		return fmt.Errorf("%w: %s sets no clock", ErrDecision, d.Kind)
	}
	if d.Kind != Prop && d.Kind != Variant && d.Name != "" {
		return fmt.Errorf("%w: %s has no name", ErrDecision, d.Kind)
	}
	if d.Kind != Clock && d.Kind != On && (d.Body != "" || d.Kind != Variant && !d.From.IsZero()) {
		return fmt.Errorf("%w: %s is of no body's clock", ErrDecision, d.Kind)
	}
	if d.Act < 0 || d.ID > 0 && d.Act > d.ID {
		return fmt.Errorf("%w: act %d is no earlier decision", ErrDecision, d.Act)
	}
	if d.Kind != Undo && d.Undoes != 0 {
		return fmt.Errorf("%w: %s undoes nothing", ErrDecision, d.Kind)
	}
	return nil
}

// Decide adds a decision, as DecideAll does.
func (s *Store) Decide(ctx context.Context, d Decision) (Decision, error) {
	all, err := s.DecideAll(ctx, []Decision{d})
	if err != nil {
		return Decision{}, err
	}
	return all[0], nil
}

// DecideAll adds decisions made in one breath, all or none, and returns them
// with their IDs and their act, and with the present time where At was zero.
// They are in the journal, and synced, before they are in the catalogue.
// Errors: ErrDecision, and ErrNotFound where a frame or a decision to be undone
// is not there.
func (s *Store) DecideAll(ctx context.Context, given []Decision) ([]Decision, error) {
	return s.decideAll(ctx, given, func(*sql.Tx) error { return nil })
}

// decideAll adds decisions where may has nothing against it, asked in the same
// transaction.
func (s *Store) decideAll(ctx context.Context, given []Decision, may func(*sql.Tx) error) ([]Decision, error) {
	if len(given) == 0 {
		return nil, fmt.Errorf("%w: nothing was decided", ErrDecision)
	}
	all := slices.Clone(given)
	now := time.Now()
	for i := range all {
		d := &all[i]
		d.Act = 0
		if err := d.check(); err != nil {
			return nil, err
		}
		if d.At.IsZero() {
			d.At = now
		}
		d.At = d.At.UTC().Round(0) // no monotonic reading: what is returned equals what is read later
		if !d.From.IsZero() {
			d.From = d.From.UTC().Round(0)
		}
	}
	err := s.write(ctx, func(tx *sql.Tx) error {
		if err := may(tx); err != nil {
			return err
		}
		var first int64
		if err := tx.QueryRowContext(ctx, `SELECT coalesce(max(id), 0) + 1 FROM decision`).Scan(&first); err != nil {
			return err
		}
		files := make([]string, len(all))
		for i := range all {
			d := &all[i]
			d.ID = first + int64(i)
			if len(all) > 1 {
				d.Act = first
			}
			var err error
			if files[i], err = s.decides(ctx, tx, *d); err != nil {
				return err
			}
			if err := insertDecision(ctx, tx, *d); err != nil {
				return err
			}
		}
		return s.appendJournal(all, files, sizes(all))
	})
	if err != nil {
		return nil, fmt.Errorf("write decision: %w", err)
	}
	return all, nil
}

// decides makes sure that what d speaks of is there, and returns the path of
// its frame's leading file.
func (s *Store) decides(ctx context.Context, tx *sql.Tx, d Decision) (file string, err error) {
	if d.Frame != "" {
		err := tx.QueryRowContext(ctx, `
SELECT coalesce((SELECT path FROM file WHERE frame = frame.id ORDER BY position LIMIT 1), '')
FROM frame WHERE id = ?`, string(d.Frame)).Scan(&file)
		if errors.Is(err, sql.ErrNoRows) {
			return "", fmt.Errorf("frame %s: %w", d.Frame, ErrNotFound)
		} else if err != nil {
			return "", err
		}
	}
	if d.Kind == Undo {
		var n int
		err := tx.QueryRowContext(ctx, `SELECT 1 FROM decision WHERE id = ?`, d.Undoes).Scan(&n)
		if errors.Is(err, sql.ErrNoRows) {
			return "", fmt.Errorf("decision %d: %w", d.Undoes, ErrNotFound)
		} else if err != nil {
			return "", err
		}
	}
	return file, nil
}

func insertDecision(ctx context.Context, tx *sql.Tx, d Decision) error {
	var undoes any
	if d.Kind == Undo {
		undoes = d.Undoes
	}
	var rect any
	if d.Kind == Crop {
		b, err := json.Marshal(d.Rect)
		if err != nil {
			return err
		}
		rect = string(b)
	}
	var since any
	if !d.From.IsZero() {
		since = d.From.UTC().Format(wallClock)
	}
	_, err := tx.ExecContext(ctx, `
INSERT INTO decision (id, at, who, kind, frame, recipe, title, need, name, why, undoes, rect, act, body, shift, since)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		d.ID, instant(d.At), d.Who, string(d.Kind), string(d.Frame), d.Recipe, d.Title, d.Need, d.Name, d.Why, undoes, rect,
		d.Act, d.Body, int64(d.Shift), since)
	return err
}

// Decisions returns all decisions, also those replaced or taken back, in the
// order they were made. Current tells which of them hold.
func (s *Store) Decisions(ctx context.Context) ([]Decision, error) { return decisions(ctx, s.db) }

// decisions is Decisions, on the database or within a transaction.
func decisions(ctx context.Context, q interface {
	QueryContext(context.Context, string, ...any) (*sql.Rows, error)
}) ([]Decision, error) {
	rows, err := q.QueryContext(ctx, `
SELECT id, at, who, kind, frame, recipe, title, need, name, why, coalesce(undoes, 0), coalesce(rect, '[0,0,0,0]'), act, body, shift, since
FROM decision ORDER BY id`)
	if err != nil {
		return nil, fmt.Errorf("read decisions: %w", err)
	}
	defer rows.Close()
	var all []Decision
	for rows.Next() {
		var d Decision
		var at, since sql.NullString
		var rect string
		if err := rows.Scan(&d.ID, &at, &d.Who, &d.Kind, &d.Frame, &d.Recipe, &d.Title, &d.Need, &d.Name, &d.Why, &d.Undoes, &rect,
			&d.Act, &d.Body, &d.Shift, &since); err != nil {
			return nil, fmt.Errorf("read decisions: %w", err)
		}
		if err := json.Unmarshal([]byte(rect), &d.Rect); err != nil {
			return nil, fmt.Errorf("read decision %d: %w", d.ID, err)
		}
		if d.At, err = parseInstant(at); err != nil {
			return nil, fmt.Errorf("read decision %d: %w", d.ID, err)
		}
		if since.Valid {
			if d.From, err = time.Parse(wallClock, since.String); err != nil {
				return nil, fmt.Errorf("read decision %d: %w", d.ID, err)
			}
		}
		all = append(all, d)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("read decisions: %w", err)
	}
	return all, nil
}
