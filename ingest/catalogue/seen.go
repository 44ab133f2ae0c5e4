package catalogue

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"
)

// Seen is a file of a card as it was when it was last taken, and what is kept
// of it.
type Seen struct {
	Source
	Held Held

	// Frame is the frame of Held, nil where that has none: its ID and Unread,
	// Measured, Look.Preview and Look.Picture, and no more of it.
	Frame *Frame
}

// mostPaths is how many paths one query asks for: half of what SQLite lets one
// statement have had values for at its least (SQLITE_MAX_VARIABLE_NUMBER, 999
// before 3.32; from its manual).
const mostPaths = 500

// SeenAs returns what was ever taken under each of the paths on whatever card,
// as far as its content is still in the catalogue. The path, with forward
// slashes, is compared byte for byte.
func (s *Store) SeenAs(ctx context.Context, paths []string) (map[string][]Seen, error) {
	out := map[string][]Seen{}
	for len(paths) > 0 {
		n := min(len(paths), mostPaths)
		if err := s.seenAs(ctx, paths[:n], out); err != nil {
			return nil, fmt.Errorf("read catalogue: %w", err)
		}
		paths = paths[n:]
	}
	return out, nil
}

func (s *Store) seenAs(ctx context.Context, paths []string, out map[string][]Seen) error {
	args := make([]any, len(paths))
	for i, p := range paths {
		args[i] = p
	}
	rows, err := s.db.QueryContext(ctx, `
SELECT source.path, source.size, source.modified, source.quick, source.card,
    frame.id, frame.unread, frame.measured, frame.preview, frame.picture,
    file.path, file.kind, file.name, file.size, file.sha256, file.card, file.source, file.modified, file.verified
FROM source JOIN file ON file.path = source.file LEFT JOIN frame ON frame.id = file.frame
WHERE source.path IN (?`+strings.Repeat(", ?", len(paths)-1)+`)
ORDER BY source.path, source.size, source.modified, source.quick`, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var one Seen
		var modified int64
		var id, unread, preview, picture sql.NullString
		var measured sql.NullInt64
		one.Held.File, err = scanFile(rows, &one.Path, &one.Size, &modified, &one.Quick, &one.Card, &id, &unread, &measured, &preview, &picture)
		if err != nil {
			return err
		}
		one.Modified, one.File, one.Held.Frame = time.Unix(0, modified).UTC(), one.Held.Path, FrameID(id.String)
		if id.Valid {
			one.Frame = &Frame{ID: FrameID(id.String), Unread: unread.String, Measured: int(measured.Int64),
				Look: Look{Preview: preview.String, Picture: picture.String}}
		}
		out[one.Path] = append(out[one.Path], one)
	}
	return rows.Err()
}
