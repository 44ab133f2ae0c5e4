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
	"slices"
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
	Title  string       `json:"title,omitempty"`
	Need   string       `json:"need,omitempty"`
	Name   string       `json:"name,omitempty"`
	Why    string       `json:"why,omitempty"`
	Undoes int64        `json:"undoes,omitempty"`
	Rect   *[4]int      `json:"rect,omitempty"` // of a crop: x, y, width, height
	Act    int64        `json:"act,omitempty"`
	Of     int          `json:"of,omitempty"` // how many decisions the act has
	Body   string       `json:"body,omitempty"`
	Shift  string       `json:"shift,omitempty"` // of a clock, as "47m0s"
	From   *time.Time   `json:"from,omitempty"`  // a wall clock; its zone says nothing
}

// lineOf is d as the journal has it.
func lineOf(d Decision, file string, of int) line {
	l := line{ID: d.ID, At: d.At, Who: d.Who, Kind: d.Kind, Frame: d.Frame, File: file, Recipe: d.Recipe, Title: d.Title,
		Need: d.Need, Name: d.Name, Why: d.Why, Undoes: d.Undoes, Act: d.Act, Body: d.Body}
	if d.Act != 0 {
		l.Of = of
	}
	if d.Kind == Crop {
		l.Rect = &d.Rect
	}
	if d.Kind == Clock {
		l.Shift = d.Shift.String()
	}
	if !d.From.IsZero() {
		l.From = &d.From
	}
	return l
}

// decision is the inverse of lineOf.
func (l line) decision() (Decision, error) {
	d := Decision{ID: l.ID, At: l.At, Who: l.Who, Kind: l.Kind, Frame: l.Frame, Recipe: l.Recipe, Title: l.Title,
		Need: l.Need, Name: l.Name, Why: l.Why, Undoes: l.Undoes, Act: l.Act, Body: l.Body}
	if l.Rect != nil {
		d.Rect = *l.Rect
	}
	if l.Shift != "" {
		var err error
		if d.Shift, err = time.ParseDuration(l.Shift); err != nil {
			return d, err
		}
	}
	if l.From != nil {
		d.From = *l.From
	}
	if d.At.IsZero() {
		return d, errors.New("no time")
	}
	if d.ID < 1 {
		return d, fmt.Errorf("id %d is not a decision's number (1 or more)", d.ID)
	}
	return d, d.check()
}

// sizes counts the decisions of each act.
func sizes(all []Decision) map[int64]int {
	n := map[int64]int{}
	for _, d := range all {
		n[d.Act]++
	}
	return n
}

// appendJournal adds decisions to the journal in one write, and waits until the
// disk has them; acts are how many decisions each act has.
func (s *Store) appendJournal(all []Decision, files []string, acts map[int64]int) (err error) {
	var b []byte
	for i, d := range all {
		text, err := json.Marshal(lineOf(d, files[i], acts[d.Act]))
		if err != nil {
			return err
		}
		b = append(append(b, text...), '\n')
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
	if _, err := f.Write(b); err != nil {
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
	of := map[int64]int{} // decisions of each act
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
		d, err := l.decision()
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		if d.Act != 0 {
			of[d.Act] = l.Of
		}
		if i, ok := at[d.ID]; ok {
			all[i] = d
			continue
		}
		at[d.ID] = len(all)
		all = append(all, d)
	}
	return wholeActs(all, of), in.Err()
}

// wholeActs is all without the acts that were never confirmed: cut short by a
// power failure, or their numbers given again since.
func wholeActs(all []Decision, of map[int64]int) []Decision {
	there := sizes(all)
	return slices.DeleteFunc(all, func(d Decision) bool { return d.Act != 0 && there[d.Act] != of[d.Act] })
}
