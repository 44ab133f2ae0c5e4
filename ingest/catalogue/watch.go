package catalogue

import (
	"context"
	"fmt"
	"time"
)

// Watch calls changed after the catalogue was changed, by this process or by
// another, until ctx ends; it looks every so often, and several changes between
// two looks are told as one. It holds a connection of its own, since SQLite
// tells a connection of the changes of others alone (PRAGMA data_version). The
// error is the cause of ctx, or a fault of the catalogue.
func (s *Store) Watch(ctx context.Context, every time.Duration, changed func()) error {
	conn, err := s.db.Conn(ctx)
	if err != nil {
		return fmt.Errorf("watch the catalogue: %w", err)
	}
	defer conn.Close()
	tick := time.NewTicker(every)
	defer tick.Stop()
	seen := int64(-1)
	for {
		var version int64
		if err := conn.QueryRowContext(ctx, `PRAGMA data_version`).Scan(&version); err != nil {
			if ctx.Err() != nil {
				return context.Cause(ctx)
			}
			return fmt.Errorf("watch the catalogue: %w", err)
		}
		if seen >= 0 && version != seen {
			changed()
		}
		seen = version
		select {
		case <-tick.C:
		case <-ctx.Done():
			return context.Cause(ctx)
		}
	}
}
