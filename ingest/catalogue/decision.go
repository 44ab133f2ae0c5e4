package catalogue

import "time"

// DecisionKind tells what a person decided.
type DecisionKind string

// The kinds of decision. An Undo names the decision it takes back.
const (
	Assign DecisionKind = "assign" // Frame shows Recipe; Recipe "" says that it shows none
	Choose DecisionKind = "choose" // Frame is the chosen one for Need of the recipe it is matched to
	Waive  DecisionKind = "waive"  // Need of Recipe is not wanted, Why says so
	Crop   DecisionKind = "crop"   // Rect is the part of Frame for Need: "half" for a post, "hero" for the printed place
	Clock  DecisionKind = "clock"  // from From on, Body's clock and Shift make the studio's
	On     DecisionKind = "on"     // at From, by the studio's clock, Recipe came on set; Recipe "" says that nothing is on set
	Prop   DecisionKind = "prop"   // Name was on the set of Recipe: a prop, or what Need says
	// Variant: from Frame on, or from the studio's wall time From on, the
	// frames of Recipe show it as Name has it; Name "" ends that.
	Variant DecisionKind = "variant"
	Undo    DecisionKind = "undo" // Undoes is taken back, with all that was decided in the same act
)

// What Need says of a Prop; "" is a prop.
const (
	AsSurface = "surface" // the dish stood on it
	TakenOff  = "off"     // it was not on that set after all
)

// AsTold is the Need of a Clock that takes a person's word back from From on:
// codes and offsets tell again.
const AsTold = "as told"

// Decision is what a person said. Decisions are only ever added: a later one
// on the same matter replaces an earlier, and an Undo brings that back.
type Decision struct {
	ID     int64     // in the order they were made
	At     time.Time // UTC
	Who    string    // the person, as the system names them; "" unknown
	Kind   DecisionKind
	Frame  FrameID // Assign, Choose, Crop, Variant
	Recipe string  // Assign, Choose, Waive, On, Prop, Variant
	Title  string  // of Recipe when it was said, since ids are given anew; "" not known
	Need   string  // Choose, Waive, Crop; AsTold or "" of Clock; AsSurface, TakenOff or "" of Prop
	Name   string  // Prop, Variant
	Why    string
	Undoes int64         // Undo
	Rect   [4]int        // Crop: x, y, width, height in upright pixels of the original
	Act    int64         // the first decision made in the same breath; 0 made alone
	Body   string        // Clock, On: as Frame.Body has it; "" of On: all bodies
	Shift  time.Duration // Clock: what is added to the body's clock
	From   time.Time     // Clock, On, Variant: a wall clock, its digits held in UTC; zero of Clock: always
}
