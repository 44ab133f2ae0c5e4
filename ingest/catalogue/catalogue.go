// Package catalogue holds all that is known of every frame of a shoot, in one
// SQLite file: facts, files and where they came from, cards, and what people
// decided. All SQL and the database driver live here, and driver errors stop at
// its door. Decisions are also appended to a plain-text journal beside the
// file, so that a lost catalogue loses none of them.
package catalogue

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"path/filepath"
	"strings"
	"time"

	_ "modernc.org/sqlite" // registers the driver "sqlite"
)

var (
	// ErrNotFound: the catalogue holds no such thing.
	ErrNotFound = errors.New("not in the catalogue")
	// ErrNewer: a later version of coverplate made or changed the catalogue.
	ErrNewer = errors.New("the catalogue was made by a newer version of coverplate; use that version, nothing was changed")
	// ErrForeign: the file is not a catalogue.
	ErrForeign = errors.New("the file is not a coverplate catalogue; nothing was changed")
)

// applicationID marks our files in SQLite's header ("CvPl").
const applicationID = 0x4376506c

//go:embed migrations/*.sql
var scripts embed.FS

// Store is an open catalogue. It may be used by many goroutines and by several
// processes at once.
type Store struct {
	db      *sql.DB
	path    string
	journal string // path of decisions.jsonl
}

// Open opens the catalogue at path and makes it where there is none; its
// folder must exist. An older catalogue is brought to the present schema. Where
// the catalogue is made anew and a journal of decisions stands beside it, the
// decisions are read back from there. Errors: ErrNewer, ErrForeign, or what the
// system says of path.
func Open(path string) (*Store, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("open catalogue %s: %w", path, err)
	}
	s := &Store{path: abs, journal: filepath.Join(filepath.Dir(abs), JournalName)}
	if s.db, err = sql.Open("sqlite", dsn(abs)); err != nil {
		return nil, fmt.Errorf("open catalogue %s: %w", path, err)
	}
	// Readers of WAL don't wait for the writer; more connections than this
	// would only hold memory.
	s.db.SetMaxOpenConns(4)
	if err := patiently(func() error { return s.migrate(context.Background()) }); err != nil {
		s.db.Close()
		return nil, fmt.Errorf("open catalogue %s: %w", path, err)
	}
	return s, nil
}

// patiently does what it is given again while SQLite says that another process
// is in its way, for as long as busy_timeout: the first turn to WAL, and the
// recovery of one, don't wait by themselves.
func patiently(do func() error) error {
	for end := time.Now().Add(10 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		err := do()
		if err == nil || !strings.Contains(err.Error(), "SQLITE_BUSY") || time.Now().After(end) {
			return err
		}
	}
}

// dsn is the driver's name of the file at path, with all pragmas, so that each
// connection of the pool has them. Immediate transactions: one that reads and
// then writes would otherwise lose to SQLITE_BUSY without waiting.
func dsn(path string) string {
	q := url.Values{}
	q.Add("_pragma", "busy_timeout(10000)") // milliseconds
	q.Add("_pragma", "journal_mode(WAL)")
	q.Add("_pragma", "synchronous(FULL)")
	q.Add("_pragma", "foreign_keys(ON)")
	q.Set("_txlock", "immediate")
	u := url.URL{Scheme: "file", OmitHost: true, Path: filepath.ToSlash(path), RawQuery: q.Encode()}
	return u.String()
}

// Close lets go of the catalogue.
func (s *Store) Close() error { return s.db.Close() }

// migrate runs the scripts that the file has not seen, each in a transaction
// that reads and sets the version.
func (s *Store) migrate(ctx context.Context) error {
	names, err := fs.Glob(scripts, "migrations/*.sql")
	if err != nil {
		return err
	}
	latest := len(names) // Glob sorts: script n is names[n-1]
	for {
		// A look without a lock first: most openings have nothing to do.
		version, err := s.version(ctx, s.db)
		if err != nil {
			return err
		}
		if version == latest {
			return nil
		}
		if version > latest {
			return fmt.Errorf("schema %d, this version knows %d: %w", version, latest, ErrNewer)
		}
		if err := s.runScript(ctx, names); err != nil {
			return err
		}
	}
}

type querier interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// version is the schema's number, after making sure that the file is ours or
// empty.
func (s *Store) version(ctx context.Context, q querier) (int, error) {
	var version, id, tables int
	err := q.QueryRowContext(ctx, `
SELECT (SELECT user_version FROM pragma_user_version),
       (SELECT application_id FROM pragma_application_id),
       (SELECT count(*) FROM sqlite_schema)`).Scan(&version, &id, &tables)
	if err != nil {
		if strings.Contains(err.Error(), "not a database") { // SQLITE_NOTADB has no sentinel
			return 0, ErrForeign
		}
		return 0, err
	}
	if id != applicationID && (version != 0 || tables != 0 || id != 0) {
		return 0, ErrForeign
	}
	return version, nil
}

// runScript runs the one script that is next.
func (s *Store) runScript(ctx context.Context, names []string) error {
	return s.write(ctx, func(tx *sql.Tx) error {
		version, err := s.version(ctx, tx)
		if err != nil {
			return err
		}
		if version >= len(names) {
			return nil // another process was first
		}
		text, err := scripts.ReadFile(names[version])
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, string(text)); err != nil {
			return fmt.Errorf("script %s: %w", names[version], err)
		}
		if version+1 == len(names) {
			if err := s.restore(ctx, tx); err != nil {
				return err
			}
		}
		_, err = tx.ExecContext(ctx, fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, version+1))
		return err
	})
}

// write runs do in one immediate transaction and commits it where do returns
// nil.
func (s *Store) write(ctx context.Context, do func(*sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // does nothing after a commit
	if err := do(tx); err != nil {
		return err
	}
	return tx.Commit()
}

// read runs do on one unchanging view of the catalogue.
func (s *Store) read(ctx context.Context, do func(*sql.Tx) error) error {
	tx, err := s.db.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return err
	}
	defer tx.Rollback()
	return do(tx)
}

// wallClock is how a camera's clock is stored: no zone, since it has none, and
// text that sorts as time does.
const wallClock = "2006-01-02T15:04:05.999999999"

// instant stores t as text, and a zero t as NULL.
func instant(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.UTC().Format(time.RFC3339Nano)
}

// parseInstant is the inverse of instant.
func parseInstant(s sql.NullString) (time.Time, error) {
	if !s.Valid {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.RFC3339Nano, s.String)
	return t.UTC(), err
}
