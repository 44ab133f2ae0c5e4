package catalogue

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
)

// Maps are what was measured of a picture place by place. Of what is known of
// a frame they are nine bytes of ten.
type Maps struct {
	Focus   *Focus
	Light   *Light
	Rims    []Rim
	Lines   []Line
	Matters *Matters
}

// With is l with m in the place of its own.
func (l Look) With(m Maps) Look {
	l.Focus, l.Light, l.Rims, l.Lines, l.Matters = m.Focus, m.Light, m.Rims, m.Lines, m.Matters
	return l
}

// Maps are those of the look.
func (l Look) Maps() Maps { return Maps{l.Focus, l.Light, l.Rims, l.Lines, l.Matters} }

// selectBare leaves out what selectWhole gives place by place.
const selectBare = `SELECT json_remove(focus, '$.grid', '$.fine', '$.far'), json_remove(light, '$.stops'), NULL, NULL,
    json_remove(matters, '$.weight'), revision, ` + selectFrame

// Bare returns all frames as Frames does but without their maps: Focus has its
// scores and no grid, Light no stops, Matters its regions and no weights, and
// there are no rims and lines. Maps gives them.
func (s *Store) Bare(ctx context.Context) ([]Frame, error) {
	all, err := s.frames(ctx, selectBare, `TRUE`)
	if err != nil && ctx.Err() == nil {
		// SQLite says of JSON that is none only that there is some.
		if _, whole := s.Frames(ctx); whole != nil {
			return nil, whole
		}
	}
	return all, err
}

// Maps returns the maps of frames in the order of ids; ErrNotFound where one of
// them is not known.
func (s *Store) Maps(ctx context.Context, ids []FrameID) ([]Maps, error) {
	at := make(map[FrameID]int, len(ids))
	for i, id := range ids {
		at[id] = i
	}
	asked, err := json.Marshal(ids)
	if err != nil {
		return nil, err
	}
	all, found := make([]Maps, len(ids)), 0
	err = s.read(ctx, func(tx *sql.Tx) error {
		rows, err := tx.QueryContext(ctx, `SELECT id, focus, light, rims, lines, matters FROM frame
WHERE id IN (SELECT value FROM json_each(?))`, string(asked))
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			var id FrameID
			var l Look
			var focus, light, rims, lines, matters sql.NullString
			if err := rows.Scan(&id, &focus, &light, &rims, &lines, &matters); err != nil {
				return err
			}
			if err := l.scanMeasures(focus, light, rims, lines, matters, sql.NullString{}); err != nil {
				return fmt.Errorf("frame %s: %w", id, err)
			}
			all[at[id]] = l.Maps()
			found++
		}
		return rows.Err()
	})
	if err == nil && found != len(at) {
		err = ErrNotFound
	}
	if err != nil {
		return nil, fmt.Errorf("read the measures of frames: %w", err)
	}
	return all, nil
}
