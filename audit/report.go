package audit

import (
	"fmt"
	"time"

	"coverplate/audit/angle"
	"coverplate/audit/clock"
	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// Verdict on a need, named by what a person must now do.
type Verdict string

// The verdicts, in the order in which people act on them.
const (
	ToShoot   Verdict = "shoot"   // there is no frame
	ToReshoot Verdict = "reshoot" // frames exist and none is fit
	ToLook    Verdict = "look"    // a frame may serve, but the tool can't tell
	ToChoose  Verdict = "choose"  // fit frames exist, nobody has chosen
	Settled   Verdict = "settled" // a person chose a fit frame
	Waived    Verdict = "waived"  // not wanted
)

// Shape is one shape of a social post.
type Shape = crop.Shape

// Rules are the settings that judgement rests on.
type Rules struct {
	Shapes    []Shape
	TooAlike  float64       // palette distance, ΔE2000, under which neighbouring spreads are too alike
	Jarring   float64       // palette distance over which the turn is noted
	OddsFloor float64       // 0 … 1; a match below it is unplaced
	SetGap    time.Duration // a pause of one body in which the dish is as likely changed as not, until its own pauses tell; 0: any pause may be a change, and none parts sets

	// SameSurface is the difference of two borders, ΔE2000, under which they
	// are noted as one surface.
	SameSurface float64

	FocusShare  float64 // 0 … 1; of the sharpest alike frame of its set, below which a frame is soft
	FocusFloor  float64 // 0 … 1; sharpness at 1:1 below which a frame is soft whatever its set
	MotionShare float64 // 0 … 1; directional loss from which a soft frame is called moved, not out of focus
	MostBurnt   float64 // 0 … 1; share of what matters that may be clipped high
	MostBlocked float64 // 0 … 1; share of what matters that may be clipped low
	LevelDrift  float64 // stops from the middle of its set over which a frame's exposure is noted
	WhiteDrift  float64 // difference of cast from the middle of its set, Lab a and b, over which it is noted
}

// Shoot is all that a report rests on.
type Shoot struct {
	ID        string // that its slates carry; "" none yet
	Book      plan.Book
	Recipes   []plan.Recipe
	Earlier   []Titled // dishes of earlier plans, by which slates of an old numbering are told
	Frames    []catalogue.Frame
	Decisions []catalogue.Decision
	Cards     []catalogue.Card
	Rules     Rules
	Zone      *time.Location // the studio's; nil: what cameras wrote of their zones is not heard
	Today     plan.Day       // in the shoot's zone; a day ends when the book says

	// Maps gives the maps of frames in the order of their ids, each asked for
	// once at a time, where Frames come without; nil: they have them. A set is
	// asked for at a time, so that a season's need not be in memory together.
	Maps   func([]catalogue.FrameID) ([]catalogue.Maps, error)
	Before *Memory // of an earlier Run of this shoot; nil none
}

// Evidence is one reason for a match, a role or a verdict.
type Evidence struct {
	Kind   string  `json:"kind"`   // "person", "metadata", "folder", "name", "time", "focus", "light", "angle", "pixels", …
	Weight float64 `json:"weight"` // log-odds, nats; of a test 1 passed, −1 failed, 0 not made or a note
	Says   string  `json:"says"`
}

// Match says which recipe a frame shows.
type Match struct {
	Frame  catalogue.FrameID
	Recipe string  // "" unplaced, or a person said none
	Odds   float64 // probability, 0 … 1
	Why    []Evidence
	ByHand bool
}

// Sure says odds, 0 … 1, in percent, and never rounds up to certainty.
func Sure(odds float64) string {
	if odds > 0.99 {
		return "over 99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*odds)
}

// Role is what a frame is for.
type Role string

// The roles.
const (
	RoleHero     Role = "hero"
	RoleOverhead Role = "overhead"
	RoleDetail   Role = "detail"
	RoleProcess  Role = "process"
	RoleTest     Role = "test"
	RoleChart    Role = "chart"
	RoleSlate    Role = "slate"
	RoleBehind   Role = "behind the scenes"
)

// RoleScore says how likely a frame is of a role. Scores of different roles
// do not exclude each other: an overhead may be the hero.
type RoleScore struct {
	Role  Role       `json:"role"`
	Score float64    `json:"score"` // probability, 0 … 1
	Sure  bool       `json:"sure"`  // a person, or a word written on the frame, says so
	Why   []Evidence `json:"why"`
}

// FrameRoles is what a frame is likely for.
type FrameRoles struct {
	Frame catalogue.FrameID
	Set   int         // number of its set from 1 in capture order: one recipe, no long pause, bodies that shot it at one time together; 0 none
	Roles []RoleScore // those that something speaks for, the likeliest first
}

// Report is a shoot held against its plan.
type Report struct {
	Book     string         `json:"book"`
	Seen     Seen           `json:"seen"`
	Recipes  []Recipe       `json:"recipes"` // in page order
	Spreads  []Spread       `json:"spreads"` // in page order
	Days     Pace           `json:"days"`
	Props    []Prop         `json:"props"` // those used more than once
	Things   []Thing        `json:"-"`     // every prop and surface, by page
	Unplaced []UnplacedNote `json:"unplaced"`
	Matches  []Match        `json:"-"` // one a frame, in capture order
	Notes    []Note         `json:"notes"`

	Times  []clock.Told `json:"-"` // when each was taken by the studio's clock; in the order of Shoot.Frames
	Clocks []clock.Body `json:"-"` // by name; their frames are places in Shoot.Frames

	// Wants are frames whose verdict needs a look at 1:1 that they have not
	// had (Look.Focus.Full is nil), each once, the most wanted first and a few
	// a recipe. A caller that can, measures them and runs again: other frames
	// may be wanted then, never the same where their Full is known.
	Wants  []catalogue.FrameID `json:"-"`
	Chosen []Choice            `json:"-"` // what people chose and what can be counted on, in page order
	Roles  []FrameRoles        `json:"-"` // one a frame, in the order of Matches
	Views  []angle.Reading     `json:"-"` // from where each was seen, its set's frames besides; in the order of Matches

	Memory *Memory `json:"-"` // for the next Run; nil where there is a Fault
	Fault  error   `json:"-"` // what Shoot.Maps said: nothing can be told by the report then; nil all is well
}

// Choice is a frame that a person chose for a need, be it fit or not.
type Choice struct {
	Recipe string
	Need   string // as the plan writes it; of one that it no longer asks for, as the person did
	Frame  catalogue.FrameID
}

// Note is something that a person should know and that no verdict says.
type Note struct {
	Kind   string `json:"kind"`   // "decision", "contradiction", "clock", "prop", "plan"
	Recipe string `json:"recipe"` // "" none
	Frame  string `json:"frame"`  // library path, or the id where the frame is gone; "" none
	Says   string `json:"says"`
}

// Seen is what the report rests on.
type Seen struct {
	Frames    int      `json:"frames"`
	Cards     []string `json:"cards"`
	LastFrame *string  `json:"last_frame"` // wall clock, "2026-03-04T17:41:09"; null where no frame has a time
	Unplaced  int      `json:"unplaced"`

	Bodies []SeenBody `json:"bodies"` // by name
}

// Strike is whether a set may be struck.
type Strike string

// The two answers. Hold is the answer wherever anything is unknown.
const (
	MayStrike Strike = "strike"
	Hold      Strike = "hold"
)

// Recipe is what the report says of one recipe.
type Recipe struct {
	ID        string    `json:"id"`
	Title     string    `json:"title"`
	Chapter   string    `json:"chapter"`
	Pages     string    `json:"pages"`
	Spread    int       `json:"spread"`  // of pages 2n and 2n+1; 0 where the plan gives no page
	Day       string    `json:"day"`     // planned, "2026-03-04"; "" none
	Covered   string    `json:"covered"` // shooting day of the last frame that its settled needs rest on, where the set may be struck; "" not covered, or no frame has a time
	Frames    int       `json:"frames"`
	Strike    Strike    `json:"strike"`
	StrikeWhy string    `json:"strike_why"`
	Turn      string    `json:"would_turn"`    // what would turn that answer
	LastFrame *string   `json:"last_frame"`    // library path of its last frame; null none
	LastAt    *string   `json:"last_at"`       // the studio's wall clock
	Stood     *float64  `json:"stood_minutes"` // on set at least, from the first to the last frame of that day; null not known
	Unread    []string  `json:"unread"`        // what is known of frames that may show it and were not read
	Needs     []Finding `json:"needs"`
	Variants  []Variant `json:"variants"` // as named on set; none where nobody named one
}

// Finding is the verdict on one need of one recipe.
type Finding struct {
	Recipe   string              `json:"-"`
	Need     string              `json:"need"`
	Verdict  Verdict             `json:"verdict"`
	Frame    *string             `json:"frame"` // library path of the frame the verdict speaks of; null none
	FrameID  catalogue.FrameID   `json:"-"`
	Variant  string              `json:"variant,omitempty"` // that the frame shows
	Why      string              `json:"why"`
	Evidence []Evidence          `json:"evidence,omitempty"`
	Others   []string            `json:"others"` // paths of other frames that may serve, best first
	OtherIDs []catalogue.FrameID `json:"-"`
	Offers   []Offer             `json:"-"` // the recipe's frames held against the need, the best first; none of a palette or what is waived
}

// Offer is one frame held against one need: what it passed, what it failed,
// and what is left to eyes.
type Offer struct {
	Frame  catalogue.FrameID
	Works  crop.Works // yes: it passes every test; look: nothing known speaks against it; no
	Chosen bool       // by a person, for this need
	Passed []string
	Fails  []string // with their figures; first why it is no such picture at all
	Eyes   []string // what could not be told
	Notes  []string
}

// Spread is what the report says of one spread that carries a picture.
type Spread struct {
	Spread  int               `json:"spread"`
	Pages   string            `json:"pages"`
	Recipes []string          `json:"recipes"`
	Frame   *string           `json:"frame"` // the picture the palette is of; null none
	FrameID catalogue.FrameID `json:"-"`
	Chosen  bool              `json:"chosen"` // a person chose it; else it is the best that is there
	Palette []colour.Swatch   `json:"palette"`
	Surface *colour.Swatch    `json:"surface"`
	ToNext  *float64          `json:"to_next"` // palette distance to the next spread with a picture, ΔE2000; null unknown
	Verdict Verdict           `json:"verdict"`
	Why     string            `json:"why"`

	// Pictures are those of the spread's recipes, by page; Palette is of all
	// of them, Frame the first that is there.
	Pictures []Picture `json:"pictures"`

	// Neighbours are the pairs on this spread and those from it to the next;
	// Surfaces the same of the ground that the pictures were taken on.
	Neighbours []Neighbour   `json:"neighbours"`
	Surfaces   []SurfacePair `json:"surfaces"`
}

// Picture is what stands, or would stand, for one recipe on its spread.
type Picture struct {
	Recipe  string            `json:"recipe"`
	Pages   string            `json:"pages"` // "24", "24-25"
	Frame   *string           `json:"frame"` // null none
	FrameID catalogue.FrameID `json:"-"`
	Chosen  bool              `json:"chosen"`
	Palette []colour.Swatch   `json:"-"` // nil unknown; that of the frame
	Surface *colour.Swatch    `json:"-"`
}

// Prop is a prop or surface planned for, or on set with, more than one recipe,
// where the plan gives no reason.
type Prop struct {
	Prop    string   `json:"prop"`
	Recipes []string `json:"recipes"`
	Spreads []int    `json:"spreads"`
	Why     string   `json:"why"`
	Kind    string   `json:"kind"` // "prop", "surface"
}

// UnplacedNote is a frame that no recipe can claim.
type UnplacedNote struct {
	Frame   string            `json:"frame"`
	FrameID catalogue.FrameID `json:"-"`
	Taken   *string           `json:"taken"`
	Why     string            `json:"why"`
	Guesses []string          `json:"guesses"` // recipe ids, best first
}
