package catalogue

import (
	"context"
	"database/sql"
	"fmt"
)

// OvertakenError: since a person looked, others decided on the same matter. The
// decision was not stored.
type OvertakenError struct {
	Since []Decision // theirs, in the order they were made
}

func (e *OvertakenError) Error() string {
	return fmt.Sprintf("%d decisions on the same matter were made since", len(e.Since))
}

// DecideAfter is DecideAll for a person who saw all decisions up to the ID saw
// and none after it: where a later one is on the matter of one of given, or
// took one on it back, nothing is stored and the error is an *OvertakenError.
func (s *Store) DecideAfter(ctx context.Context, saw int64, given []Decision) ([]Decision, error) {
	return s.decideAll(ctx, given, func(tx *sql.Tx) error {
		all, err := decisions(ctx, tx)
		if err != nil {
			return err
		}
		if since := overtaking(all, saw, given); len(since) > 0 {
			return &OvertakenError{since}
		}
		return nil
	})
}

// overtaking are the decisions of all with an ID over saw that are on a matter
// of given.
func overtaking(all []Decision, saw int64, given []Decision) []Decision {
	byID := map[int64]Decision{}
	for _, d := range all {
		byID[d.ID] = d
	}
	// on is what a decision is about: of an undo, what it leads back to.
	on := func(d Decision) Decision {
		for d.Kind == Undo && d.Undoes < d.ID || d.Kind == Undo && d.ID == 0 {
			next, ok := byID[d.Undoes]
			if !ok {
				break
			}
			d = next
		}
		return d
	}
	var since []Decision
	for _, later := range all {
		if later.ID <= saw {
			continue
		}
		for _, g := range given {
			a, b := on(later), on(g)
			// Who undoes what was itself said since saw it: it is named by its ID.
			named := g.Kind == Undo && g.Undoes == later.ID
			same := a.ID != 0 && a.ID == b.ID || a.Act != 0 && a.Act == b.Act && later.Kind == Undo && g.Kind == Undo
			if !named && (same || replaces(a, b) || replaces(b, a)) {
				since = append(since, later)
				break
			}
		}
	}
	return since
}
