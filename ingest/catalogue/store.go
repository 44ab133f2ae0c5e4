package catalogue

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"coverplate/colour"
)

const putFrame = `
INSERT INTO frame (id, taken, zone_offset, make, model, serial, lens, focal_length, focal_35, f_number, shutter, iso,
    subject_distance, elevation, orientation, colour_space, rating, title, headline, subjects, width, height,
    preview, picture, palette, surface, unread, profile, focus, light, rims, lines, matters, elevation_from, cut, slate, measured, revision, stored)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, random(), random())
ON CONFLICT (id) DO UPDATE SET
    taken = excluded.taken, zone_offset = excluded.zone_offset, make = excluded.make, model = excluded.model,
    serial = excluded.serial, lens = excluded.lens, focal_length = excluded.focal_length, focal_35 = excluded.focal_35,
    f_number = excluded.f_number, shutter = excluded.shutter, iso = excluded.iso,
    subject_distance = excluded.subject_distance, elevation = excluded.elevation, orientation = excluded.orientation,
    colour_space = excluded.colour_space, rating = excluded.rating, title = excluded.title,
    headline = excluded.headline, subjects = excluded.subjects, width = excluded.width, height = excluded.height,
    preview = excluded.preview, picture = excluded.picture, palette = excluded.palette, surface = excluded.surface,
    unread = excluded.unread, profile = excluded.profile, focus = excluded.focus, light = excluded.light,
    rims = excluded.rims, lines = excluded.lines, matters = excluded.matters, elevation_from = excluded.elevation_from, cut = excluded.cut,
    slate = excluded.slate, measured = excluded.measured, revision = excluded.revision, stored = excluded.stored`

// selectFrame begins with what stands for the measures, so that frames can be
// read whole or bare.
const (
	selectWhole = `SELECT focus, light, rims, lines, matters, 0, 0, ` + selectFrame
	selectFrame = `id, taken, zone_offset, make, model, serial, lens, focal_length, focal_35, f_number, shutter, iso,
    subject_distance, elevation, orientation, colour_space, rating, title, headline, subjects, width, height,
    preview, picture, palette, surface, unread, profile, elevation_from, cut, slate, measured
FROM frame`
)

// Put inserts the frame, or replaces all facts and files of the frame of its
// ID; what people decided is not touched. A number that is NaN or infinite is
// stored as not written, a palette that holds one as no palette, and so every
// measure of Look.
func (s *Store) Put(ctx context.Context, f Frame) error {
	return s.Record(ctx, Entry{Frame: &f})
}

func putFrameTx(ctx context.Context, tx *sql.Tx, f Frame) error {
	if len(f.Files) == 0 {
		return fmt.Errorf("frame %s: no file", f.ID)
	}
	look := f.Look.sound()
	if !finite(look.Palette...) || look.Surface != nil && !finite(*look.Surface) {
		look.Palette, look.Surface = nil, nil
	}
	palette, err := json.Marshal(nonNil(look.Palette))
	if err != nil {
		return fmt.Errorf("frame %s: palette: %w", f.ID, err)
	}
	var surface any
	if look.Surface != nil {
		b, err := json.Marshal(look.Surface)
		if err != nil {
			return fmt.Errorf("frame %s: surface: %w", f.ID, err)
		}
		surface = string(b)
	}
	subjects, err := json.Marshal(nonNil(f.Subjects))
	if err != nil {
		return fmt.Errorf("frame %s: subjects: %w", f.ID, err)
	}
	var taken any
	if !f.Taken.IsZero() {
		taken = f.Taken.UTC().Format(wallClock)
	}
	e := f.Exposure
	if _, err := tx.ExecContext(ctx, putFrame, string(f.ID), taken, f.Offset,
		f.Camera.Make, f.Camera.Model, f.Camera.Serial, f.Camera.Lens,
		written(e.FocalLength), written(e.Focal35), written(e.FNumber), written(e.Seconds), written(e.ISO),
		written(e.SubjectDistance), known(e.Elevation), f.Orientation, f.ColourSpace, known(f.Rating),
		f.Title, f.Headline, string(subjects), look.Width, look.Height, look.Preview, look.Picture,
		string(palette), surface, f.Unread, look.Profile, asJSON(look.Focus), asJSON(look.Light), listJSON(look.Rims), listJSON(look.Lines),
		asJSON(look.Matters), elevationFrom(e), e.Cut, asJSON(look.Slate), f.Measured); err != nil {
		return fmt.Errorf("frame %s: %w", f.ID, err)
	}
	return putFilesTx(ctx, tx, f)
}

// putFilesTx makes the frame's files exactly f.Files. Rows are changed rather
// than made anew: the sources that lead to them hang on them.
func putFilesTx(ctx context.Context, tx *sql.Tx, f Frame) error {
	keep := map[string]bool{}
	for i, file := range f.Files {
		keep[file.Path] = true
		if err := putFileTx(ctx, tx, file, string(f.ID), i); err != nil {
			return err
		}
	}
	rows, err := tx.QueryContext(ctx, `SELECT path FROM file WHERE frame = ?`, string(f.ID))
	if err != nil {
		return err
	}
	defer rows.Close()
	var gone []string
	for rows.Next() {
		var path string
		if err := rows.Scan(&path); err != nil {
			return err
		}
		if !keep[path] {
			gone = append(gone, path)
		}
	}
	if err := rows.Err(); err != nil {
		return err
	}
	for _, path := range gone {
		if _, err := tx.ExecContext(ctx, `DELETE FROM file WHERE path = ?`, path); err != nil {
			return err
		}
	}
	return nil
}

// Frames returns all frames in capture order, those without a time last, then
// by the path of their leading file.
func (s *Store) Frames(ctx context.Context) ([]Frame, error) {
	return s.frames(ctx, selectWhole, `TRUE`)
}

// Frame returns the frame of that ID, or ErrNotFound.
func (s *Store) Frame(ctx context.Context, id FrameID) (Frame, error) {
	all, err := s.frames(ctx, selectWhole, `id = ?`, string(id))
	if err != nil {
		return Frame{}, err
	}
	if len(all) == 0 {
		return Frame{}, fmt.Errorf("frame %s: %w", id, ErrNotFound)
	}
	return all[0], nil
}

// Named returns the frames with a file whose name has the same letters as name
// before its first dot, case ignored, in the order of Frames.
func (s *Store) Named(ctx context.Context, name string) ([]Frame, error) {
	return s.frames(ctx, selectWhole, `id IN (SELECT frame FROM file WHERE stem = ?)`, stem(name))
}

// frames returns the frames for which where holds, of each what columns asks
// for. Their order is asked for
// first, by itself: sorted with all they hold, a season of them is a hundred
// megabytes that SQLite would write to a file and read again.
func (s *Store) frames(ctx context.Context, columns, where string, args ...any) ([]Frame, error) {
	var all []Frame
	err := s.read(ctx, func(tx *sql.Tx) error {
		at, err := orderOf(ctx, tx, where, args)
		if err != nil || len(at) == 0 {
			return err
		}
		all = make([]Frame, len(at))
		if err := fillFrames(ctx, tx, all, at, columns+` WHERE `+where, args...); err != nil {
			return err
		}
		return filesOf(ctx, tx, all, at, where, args)
	})
	if err != nil {
		return nil, fmt.Errorf("read frames: %w", err)
	}
	return all, nil
}

// fillFrames reads frames to their places in all.
func fillFrames(ctx context.Context, tx *sql.Tx, all []Frame, at map[FrameID]int, query string, args ...any) error {
	rows, err := tx.QueryContext(ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		f, err := scanFrame(rows)
		if err != nil {
			return err
		}
		all[at[f.ID]] = f
	}
	return rows.Err()
}

// orderOf returns the place of each frame for which where holds, in the order of
// Frames.
func orderOf(ctx context.Context, tx *sql.Tx, where string, args []any) (map[FrameID]int, error) {
	rows, err := tx.QueryContext(ctx, `SELECT id FROM frame WHERE `+where+` ORDER BY taken IS NULL, taken,
(SELECT path FROM file WHERE frame = frame.id ORDER BY position LIMIT 1), id`, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	at := map[FrameID]int{}
	for rows.Next() {
		var id FrameID
		if err := rows.Scan(&id); err != nil {
			return nil, err
		}
		at[id] = len(at)
	}
	return at, rows.Err()
}

// filesOf fills in the files of all.
func filesOf(ctx context.Context, tx *sql.Tx, all []Frame, at map[FrameID]int, where string, args []any) error {
	rows, err := tx.QueryContext(ctx, `SELECT frame, `+fileColumns+` FROM file
WHERE frame IN (SELECT id FROM frame WHERE `+where+`) ORDER BY frame, position`, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id FrameID
		file, err := scanFile(rows, &id)
		if err != nil {
			return err
		}
		if i, ok := at[id]; ok {
			all[i].Files = append(all[i].Files, file)
		}
	}
	return rows.Err()
}

func scanFrame(rows *sql.Rows) (Frame, error) {
	var f Frame
	var taken, surface, focus, light, rims, lines, matters, slate sql.NullString
	var focal, focal35, fNumber, seconds, iso, distance, elevation, rating sql.NullFloat64
	var subjects, palette string
	e := &f.Exposure
	err := rows.Scan(&focus, &light, &rims, &lines, &matters, &f.Revision, &f.Stored, &f.ID, &taken, &f.Offset, &f.Camera.Make, &f.Camera.Model, &f.Camera.Serial, &f.Camera.Lens,
		&focal, &focal35, &fNumber, &seconds, &iso, &distance, &elevation, &f.Orientation, &f.ColourSpace, &rating,
		&f.Title, &f.Headline, &subjects, &f.Look.Width, &f.Look.Height, &f.Look.Preview, &f.Look.Picture,
		&palette, &surface, &f.Unread, &f.Look.Profile, &e.ElevationFrom, &e.Cut, &slate, &f.Measured)
	if err != nil {
		return Frame{}, err
	}
	e.FocalLength, e.Focal35, e.FNumber = focal.Float64, focal35.Float64, fNumber.Float64
	e.Seconds, e.ISO, e.SubjectDistance = seconds.Float64, iso.Float64, distance.Float64
	if elevation.Valid {
		e.Elevation = &elevation.Float64
	}
	if rating.Valid {
		f.Rating = &rating.Float64
	}
	var errs []error
	if taken.Valid {
		var err error
		f.Taken, err = time.Parse(wallClock, taken.String)
		errs = append(errs, err)
	}
	errs = append(errs, json.Unmarshal([]byte(subjects), &f.Subjects), json.Unmarshal([]byte(palette), &f.Look.Palette))
	if surface.Valid {
		f.Look.Surface = new(colour.Swatch)
		errs = append(errs, json.Unmarshal([]byte(surface.String), f.Look.Surface))
	}
	errs = append(errs, f.Look.scanMeasures(focus, light, rims, lines, matters, slate))
	if len(f.Subjects) == 0 {
		f.Subjects = nil
	}
	if f.Look.Palette = exactly(f.Look.Palette); len(f.Look.Palette) == 0 {
		f.Look.Palette = nil
	}
	if err := errors.Join(errs...); err != nil {
		return Frame{}, fmt.Errorf("frame %s: %w", f.ID, err)
	}
	return f, nil
}

// written stores a number whose zero means that it was not written.
func written(x float64) any {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return x
}

// known stores a number that is nil where it was not written.
func known(x *float64) any {
	if x == nil || math.IsNaN(*x) || math.IsInf(*x, 0) {
		return nil
	}
	return *x
}

func finite(all ...colour.Swatch) bool {
	for _, s := range all {
		for _, x := range [...]float64{s.Lab.L, s.Lab.A, s.Lab.B, s.Share} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return false
			}
		}
	}
	return true
}

// nonNil makes JSON's [] of no elements rather than null.
func nonNil[T any](all []T) []T {
	if all == nil {
		return []T{}
	}
	return all
}
