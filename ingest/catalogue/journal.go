package catalogue

import (
	"bufio"
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"time"
)

// JournalName is the file beside the catalogue that decisions are appended to,
// one JSON object a line.
const JournalName = "decisions.jsonl"

// line is a decision as the journal has it.
type line struct {
	ID     int64        `json:"id"`
	At     time.Time    `json:"at"`
	Who    string       `json:"who,omitempty"`
	Kind   DecisionKind `json:"kind"`
	Frame  FrameID      `json:"frame,omitempty"`
	File   string       `json:"file,omitempty"` // the frame's leading file, for people
	Recipe string       `json:"recipe,omitempty"`
	Need   string       `json:"need,omitempty"`
	Why    string       `json:"why,omitempty"`
	Undoes int64        `json:"undoes,omitempty"`
	Rect   *[4]int      `json:"rect,omitempty"` // of a crop: x, y, width, height
}

// appendJournal adds d to the journal and waits until the disk has it.
func (s *Store) appendJournal(d Decision, file string) (err error) {
	l := line{d.ID, d.At, d.Who, d.Kind, d.Frame, file, d.Recipe, d.Need, d.Why, d.Undoes, nil}
	if d.Kind == Crop {
		l.Rect = &d.Rect
	}
	b, err := json.Marshal(l)
	if err != nil {
		return err
	}
	f, err := os.OpenFile(s.journal, os.O_CREATE|os.O_RDWR|os.O_APPEND, 0o644)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	// A line that a power failure cut short must not swallow this one.
	if size, err := f.Seek(0, io.SeekEnd); err != nil {
		return err
	} else if size > 0 {
		last := make([]byte, 1)
		if _, err := f.ReadAt(last, size-1); err != nil {
			return err
		}
		if last[0] != '\n' {
			b = append([]byte{'\n'}, b...)
		}
	}
	if _, err := f.Write(append(b, '\n')); err != nil {
		return err
	}
	return f.Sync()
}

// restore fills a catalogue that holds no decision with those of the journal
// beside it.
func (s *Store) restore(ctx context.Context, tx *sql.Tx) error {
	var some bool
	if err := tx.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM decision)`).Scan(&some); err != nil || some {
		return err
	}
	b, err := os.ReadFile(s.journal)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	all, err := parseJournal(b)
	if err != nil {
		return fmt.Errorf("%s: %w; mend that line, or move the file away to begin without its decisions", s.journal, err)
	}
	for _, d := range all {
		if err := insertDecision(ctx, tx, d); err != nil {
			return fmt.Errorf("%s: decision %d: %w", s.journal, d.ID, err)
		}
	}
	return nil
}

// parseJournal reads a journal. Where an ID stands twice the later line counts:
// the earlier was written just before its transaction failed. A last line
// without its end, cut short by a power failure, is passed over; so is the same
// line once another was begun after it.
func parseJournal(b []byte) ([]Decision, error) {
	var all []Decision
	at := map[int64]int{}
	in := bufio.NewScanner(bytes.NewReader(b))
	in.Buffer(nil, len(b)+1)
	for n := 1; in.Scan(); n++ {
		text := bytes.TrimSpace(in.Bytes())
		if len(text) == 0 {
			continue
		}
		var l line
		if err := json.Unmarshal(text, &l); err != nil {
			var cut *json.SyntaxError
			if errors.As(err, &cut) && cut.Offset >= int64(len(text)) && text[0] == '{' {
				continue // cut short: never confirmed to anybody
			}
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		d := Decision{l.ID, l.At, l.Who, l.Kind, l.Frame, l.Recipe, l.Need, l.Why, l.Undoes, [4]int{}}
		if l.Rect != nil {
			d.Rect = *l.Rect
		}
		if err := d.check(); err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		if d.At.IsZero() {
			return nil, fmt.Errorf("line %d: no time", n)
		}
		if d.ID < 1 {
			return nil, fmt.Errorf("line %d: id %d is not a decision's number (1 or more)", n, d.ID)
		}
		if i, ok := at[d.ID]; ok {
			all[i] = d
			continue
		}
		at[d.ID] = len(all)
		all = append(all, d)
	}
	return all, in.Err()
}
