// Package plan holds what the author means to shoot: the book, its recipes
// with their needs, pages, props and days, and what makes a plan sound. It
// reads no file; package plansheet does.
package plan

import "time"

// Day is a calendar day of the shoot.
type Day struct {
	Year  int
	Month time.Month
	Day   int
}

// Book is what all recipes share.
type Book struct {
	Title      string
	TrimWidth  float64       // millimetres of one page
	TrimHeight float64       // millimetres
	Bleed      float64       // millimetres on each outer edge
	Gutter     float64       // millimetres on each side of the fold where nothing that matters may lie
	GoodPPI    float64       // effective pixels an inch that are good; common practice, no source: 300
	FloorPPI   float64       // below which a picture is not fit; common practice, no source: 240
	FirstDay   Day           // first shooting day
	LastDay    Day           // last shooting day
	Off        []Day         // days between them on which nobody shoots, in order
	DayEnds    time.Duration // after midnight; what is done before it is of the day before
}

// DayEnds is when a shooting day ends unless the book says otherwise: by then
// the longest day is over. Common practice, no source.
const DayEnds = 4 * time.Hour

// DayAt is the shooting day of a wall clock, whose digits t holds in UTC.
func (b Book) DayAt(t time.Time) Day { return DayOf(t.Add(-b.DayEnds)) }

// Pages is where a picture stands: one page, or a spread of two.
// The zero value means that the plan does not say.
type Pages struct{ First, Last int }

// SizeKind names how large a picture is printed.
type SizeKind string

// The sizes that a plan can name.
const (
	FullPage   SizeKind = "full"
	DoublePage SizeKind = "double"
	HalfPage   SizeKind = "half"
	Quarter    SizeKind = "quarter"
	Measured   SizeKind = "measured" // Width and Height are given
)

// Size is the printed size of a picture.
type Size struct {
	Kind          SizeKind
	Width, Height float64 // millimetres, where Kind is Measured
}

// Orientation is the way a picture stands.
type Orientation string

// The orientations; the empty one leaves it open.
const (
	AnyOrientation Orientation = ""
	Portrait       Orientation = "portrait"
	Landscape      Orientation = "landscape"
	Square         Orientation = "square"
)

// Angle is from where the camera looks at the dish.
type Angle string

// The angles, by elevation above the table: overhead from 75°, high from 50°,
// three-quarter from 25°, low below.
const (
	AnyAngle     Angle = "any"
	Overhead     Angle = "overhead"
	High         Angle = "high"
	ThreeQuarter Angle = "three-quarter"
	Low          Angle = "low"
	UnknownAngle Angle = "unknown" // of a frame, never of a plan
)

// NeedKind names what a recipe must leave the studio with.
type NeedKind string

// The needs. Options asks for N different set-ups.
const (
	Hero          NeedKind = "hero"
	NeedOverhead  NeedKind = "overhead"
	Half          NeedKind = "half"
	Palette       NeedKind = "palette"
	NeedPortrait  NeedKind = "portrait"
	NeedLandscape NeedKind = "landscape"
	Detail        NeedKind = "detail"
	Process       NeedKind = "process"
	Opener        NeedKind = "opener"
	Options       NeedKind = "options"
)

// Need is one entry of a recipe's needs.
type Need struct {
	Kind NeedKind
	N    int // of Options, at least 2; else 0
}

// Recipe is one row of the plan.
type Recipe struct {
	Row         int    // in the sheet, counted from 1 with the header
	ID          string // short, unique
	Title       string
	Chapter     string
	Pages       Pages
	Size        Size
	Orientation Orientation
	Angle       Angle
	Needs       []Need
	Props       []string
	Surface     string
	Day         Day       // zero: not planned for a day
	Lettering   Lettering // where text is set on the picture; "" nowhere
	Allergens   string    // as the author wrote them; "" says nothing, never that there are none
	Notes       string
	Extra       []Field // columns of the author's own, in their order
}

// Field is a column that the tool does not know, kept as it was.
type Field struct{ Name, Value string }

// Fault is one thing wrong with a plan, with all that is needed to mend it.
type Fault struct {
	File   string `json:"file"`
	Row    int    `json:"row"`    // as the sheet counts, header included; 0: the whole file
	Column string `json:"column"` // the header as written; "" the whole row
	Value  string `json:"value"`
	Says   string `json:"says"` // what is wrong
	Want   string `json:"want"` // what would be right
}
