package catalogue

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
)

// asJSON is v as it is stored, nil (NULL) where v is nil. JSON holds neither
// NaN nor infinity: a measure with such a number is none.
func asJSON[T any](v *T) any {
	if v == nil {
		return nil
	}
	b, err := json.Marshal(v)
	if err != nil {
		return nil
	}
	return string(b)
}

// fromJSON is the inverse of asJSON.
func fromJSON[T any](s sql.NullString, what string) (*T, error) {
	if !s.Valid {
		return nil, nil
	}
	v := new(T)
	if err := json.Unmarshal([]byte(s.String), v); err != nil {
		return nil, fmt.Errorf("%s: %w", what, err)
	}
	return v, nil
}

// grid tells whether n values fill a grid of so many columns and rows.
func grid(n, columns, rows int) bool {
	return columns > 0 && rows > 0 && n%columns == 0 && n/columns == rows
}

// sound is the look without what cannot be true: a grid that lacks cells, a
// number that is none.
func (l Look) sound() Look {
	if l.Focus != nil && !grid(len(l.Focus.Grid), l.Focus.Columns, l.Focus.Rows) {
		l.Focus = nil
	}
	if f := l.Focus; f != nil && len(f.Fine)+len(f.Far) > 0 {
		columns, rows := f.Cells()
		if len(f.Fine) != columns*rows || len(f.Far) != len(f.Fine) || !numbers(f.Fine) || !numbers(f.Far) {
			l.Focus = nil
		}
	}
	if g := l.Light; g != nil && len(g.Stops[0])+len(g.Stops[1])+len(g.Stops[2]) > 0 {
		for _, s := range g.Stops {
			if !grid(len(s), g.Columns, g.Rows) || !numbers(s) {
				l.Light = nil
			}
		}
	}
	if l.Matters != nil && !grid(len(l.Matters.Weight), l.Matters.Columns, l.Matters.Rows) {
		l.Matters = nil
	}
	l.Rims, l.Lines = storable(l.Rims), storable(l.Lines)
	return l
}

// numbers tells whether all of v are numbers and none is infinite.
func numbers(v Floats) bool {
	for _, f := range v {
		if x := f.Value(); x-x != 0 {
			return false
		}
	}
	return true
}

// storable is those of all whose numbers are such.
func storable[T any](all []T) []T {
	var out []T
	for _, v := range all {
		if asJSON(&v) != nil {
			out = append(out, v)
		}
	}
	return out
}

// listJSON is a list as it is stored; NULL for none.
func listJSON[T any](list []T) any {
	if len(list) == 0 {
		return nil
	}
	return asJSON(&list)
}

// exactly is list in a room of its size.
func exactly[T any](list []T) []T {
	if list == nil {
		return nil
	}
	out := make([]T, len(list))
	copy(out, list)
	return out
}

// scanMeasures reads what asJSON and listJSON stored.
func (l *Look) scanMeasures(focus, light, rims, lines, matters, slate sql.NullString) error {
	var errs [6]error
	var all *[]Rim
	var straight *[]Line
	l.Focus, errs[0] = fromJSON[Focus](focus, "focus")
	l.Light, errs[1] = fromJSON[Light](light, "light")
	all, errs[2] = fromJSON[[]Rim](rims, "rims")
	l.Matters, errs[3] = fromJSON[Matters](matters, "what matters")
	straight, errs[4] = fromJSON[[]Line](lines, "lines")
	l.Slate, errs[5] = fromJSON[Slate](slate, "slate")
	// A season of them is held: without the room that a list grown step by
	// step has to spare.
	if all != nil {
		l.Rims = exactly(*all)
	}
	if straight != nil {
		l.Lines = exactly(*straight)
	}
	if l.Matters != nil {
		l.Matters.Regions = exactly(l.Matters.Regions)
	}
	return errors.Join(errs[:]...)
}

// elevationFrom is what tells the elevation, "" where there is none.
func elevationFrom(e Exposure) string {
	if known(e.Elevation) == nil {
		return ""
	}
	return string(e.ElevationFrom)
}

// MeasuredBefore returns the frames whose facts and look were measured in an
// earlier way than version, in the order of Frames.
func (s *Store) MeasuredBefore(ctx context.Context, version int) ([]Frame, error) {
	return s.frames(ctx, selectWhole, `measured < ?`, version)
}

// SetFull stores how sharp the frame is at 1:1 of its original, 0 … 1, beside
// its other measures of focus. ErrNotFound where there is no such frame, or it
// has no measure of focus.
func (s *Store) SetFull(ctx context.Context, id FrameID, full float64) error {
	return s.setFocus(ctx, id, func(f *Focus) { f.Full, f.NotFull = &full, "" })
}

// SetNotFull stores why it can't be told how sharp the frame is at 1:1, so that
// it is not sought again. Errors are those of SetFull.
func (s *Store) SetNotFull(ctx context.Context, id FrameID, why string) error {
	return s.setFocus(ctx, id, func(f *Focus) { f.Full, f.NotFull = nil, why })
}

// setFocus changes the stored focus of a frame.
func (s *Store) setFocus(ctx context.Context, id FrameID, change func(*Focus)) error {
	err := s.write(ctx, func(tx *sql.Tx) error {
		var text sql.NullString
		err := tx.QueryRowContext(ctx, `SELECT focus FROM frame WHERE id = ?`, string(id)).Scan(&text)
		if errors.Is(err, sql.ErrNoRows) || err == nil && !text.Valid {
			return ErrNotFound
		}
		if err != nil {
			return err
		}
		focus, err := fromJSON[Focus](text, "focus")
		if err != nil {
			return err
		}
		change(focus)
		stored := asJSON(focus)
		if stored == nil {
			return errors.New("its sharpness is no number")
		}
		_, err = tx.ExecContext(ctx, `UPDATE frame SET focus = ?, stored = random() WHERE id = ?`, stored, string(id))
		return err
	})
	if err != nil {
		return fmt.Errorf("frame %s at 1:1: %w", id, err)
	}
	return nil
}
