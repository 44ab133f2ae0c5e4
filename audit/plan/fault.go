package plan

import (
	"fmt"
	"strings"
)

// ValueError is a value that a plan can't mean, with what would be right.
// Every Parse function of this package returns one, or several joined.
type ValueError struct {
	Value string // as it was written
	Says  string // what is wrong with it
	Want  string // what would be right
}

func (e *ValueError) Error() string {
	return fmt.Sprintf("%q %s: %s", e.Value, e.Says, e.Want)
}

// String gives the fault as one line: where, what, and the way out.
func (f Fault) String() string {
	var b strings.Builder
	b.WriteString(f.File)
	if f.Row > 0 {
		fmt.Fprintf(&b, " row %d", f.Row)
	}
	if f.Column != "" {
		fmt.Fprintf(&b, ", %s", f.Column)
	}
	if f.Value != "" {
		fmt.Fprintf(&b, " %q", f.Value)
	}
	b.WriteString(": " + f.Says)
	if f.Want != "" {
		b.WriteString("; " + f.Want)
	}
	return strings.TrimPrefix(b.String(), " ")
}
