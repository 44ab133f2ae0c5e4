package plan

import "errors"

var errNotYet = errors.New("not written yet")

// ParseDay reads a calendar day.
func ParseDay(s string) (Day, error) { return Day{}, errNotYet }

// IsZero tells whether the day was not written.
func (d Day) IsZero() bool { return d == Day{} }

// String gives the day as "2026-03-04", "" for none.
func (d Day) String() string { return "" }

// Before tells whether d comes before e.
func (d Day) Before(e Day) bool { return false }

// AddDays gives the day n days later.
func (d Day) AddDays(n int) Day { return d }

// Sub gives the days from e to d.
func (d Day) Sub(e Day) int { return 0 }

// ParsePages reads one page or a spread.
func ParsePages(s string) (Pages, error) { return Pages{}, errNotYet }

// IsZero tells whether the plan does not say the pages.
func (p Pages) IsZero() bool { return p == Pages{} }

// String gives "24", "24-25" or "".
func (p Pages) String() string { return "" }

// Spread is n for the pages 2n and 2n+1, 0 where there is no page.
func (p Pages) Spread() int { return p.First / 2 }

// ParseNeeds reads a list of needs; an empty one means the usual four.
func ParseNeeds(s string) ([]Need, error) { return nil, errNotYet }

// DefaultNeeds are the needs of a recipe whose row names none.
func DefaultNeeds() []Need {
	return []Need{{Kind: Hero}, {Kind: NeedOverhead}, {Kind: Half}, {Kind: Palette}}
}

// String gives the need as a plan writes it.
func (n Need) String() string { return "" }

// ParseSize reads the printed size of a picture.
func ParseSize(s string) (Size, error) { return Size{}, errNotYet }

// String gives the size as a plan writes it.
func (s Size) String() string { return "" }

// ParseAngle reads an angle; an empty one is AnyAngle.
func ParseAngle(s string) (Angle, error) { return AnyAngle, errNotYet }

// ParseOrientation reads an orientation; an empty one leaves it open.
func ParseOrientation(s string) (Orientation, error) { return AnyOrientation, errNotYet }

// ParseProps reads a list of props.
func ParseProps(s string) []string { return nil }

// AngleOf names the angle of an elevation above the table in degrees.
func AngleOf(elevation float64) Angle { return UnknownAngle }

// Box gives the printed box of a recipe's picture in millimetres, with bleed.
func (b Book) Box(r Recipe) (w, h float64, ok bool) { return 0, 0, false }

// Check names all that is unsound in a plan, in row order.
func Check(b Book, rs []Recipe, file string) []Fault { return nil }

// String gives the fault as one line.
func (f Fault) String() string { return f.Says }

// ValueError is a value that can't be read: what is wrong, what would be right.
type ValueError struct{ Value, Says, Want string }

func (e *ValueError) Error() string { return e.Says + ": " + e.Want }
