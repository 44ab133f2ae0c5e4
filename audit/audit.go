// Package audit holds a shoot against its plan: which recipe each frame
// shows, which needs are met and by what, how the book turns, and what must
// still be done. It is pure: no disk, no clock, no pixels. The same shoot
// gives the same report, byte for byte, whatever the order of its frames and
// recipes; and nothing unknown is ever called done.
package audit

import "time"

// DefaultRules returns the settings of a shoot that states none.
func DefaultRules() Rules {
	return Rules{OddsFloor: 0.8, SetGap: 10 * time.Minute}
}

// Matches says for each frame which recipe it shows, in capture order.
func Matches(s Shoot) []Match { return nil }

// Run holds the shoot against its plan.
func Run(s Shoot) Report { return Report{Book: s.Book.Title, Matches: Matches(s)} }
