package catalogue

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
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
    json_remove(matters, '$.weight'), revision, stored, ` + selectFrame

// Bare returns all frames as Frames does but without their maps: Focus has its
// scores and no grid, Light no stops, Matters its regions and no weights, and
// there are no rims and lines. Maps gives them. Of before, what Bare returned
// earlier, frames are taken as they are that were not stored since.
func (s *Store) Bare(ctx context.Context, before []Frame) ([]Frame, error) {
	var all []Frame
	err := s.read(ctx, func(tx *sql.Tx) error {
		at, err := orderOf(ctx, tx, `TRUE`, nil)
		if err != nil || len(at) == 0 {
			return err
		}
		was := make(map[FrameID]*Frame, len(before))
		for i := range before {
			was[before[i].ID] = &before[i]
		}
		all = make([]Frame, len(at))
		anew, err := unchanged(ctx, tx, all, at, was)
		if err != nil {
			return err
		}
		query, args := selectBare, []any(nil)
		if len(anew) < len(all) {
			asked, err := json.Marshal(anew)
			if err != nil {
				return err
			}
			query, args = selectBare+` WHERE id IN (SELECT value FROM json_each(?))`, []any{string(asked)}
		}
		if len(anew) > 0 {
			if err := fillFrames(ctx, tx, all, at, query, args...); err != nil {
				return err
			}
		}
		if err := filesOf(ctx, tx, all, at, `TRUE`, nil); err != nil {
			return err
		}
		for i := range all {
			if f := was[all[i].ID]; f != nil && slices.Equal(f.Files, all[i].Files) {
				all[i].Files = f.Files
			}
		}
		return nil
	})
	if err == nil {
		return all, nil
	}
	if ctx.Err() == nil {
		// SQLite says of JSON that is none only that there is some.
		if _, whole := s.Frames(ctx); whole != nil {
			return nil, whole
		}
	}
	return nil, fmt.Errorf("read frames: %w", err)
}

// unchanged lays what was read before and was not stored since to its place in
// all, without its files, and returns the frames that are to be read.
func unchanged(ctx context.Context, tx *sql.Tx, all []Frame, at map[FrameID]int, was map[FrameID]*Frame) (anew []FrameID, err error) {
	rows, err := tx.QueryContext(ctx, `SELECT id, stored FROM frame`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var id FrameID
		var stored int64
		if err := rows.Scan(&id, &stored); err != nil {
			return nil, err
		}
		f := was[id]
		if f == nil || f.Stored != stored {
			anew = append(anew, id)
			continue
		}
		all[at[id]] = *f
		all[at[id]].Files = nil
	}
	return anew, rows.Err()
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
