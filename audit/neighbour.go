package audit

import "coverplate/colour"

// Relation is how two pictures meet in the book.
type Relation string

// The three ways. Pages 2n and 2n+1 face each other; the even one, the left,
// is a verso and the odd one a recto.
const (
	// Facing are two pictures on one spread, seen side by side.
	Facing Relation = "facing"
	// NextSpread is one spread, its pictures together, and the next that the
	// plan puts a picture on, however many pages of text lie between.
	NextSpread Relation = "next"
	// PageTurn is what the eye left and what it meets when one leaf is turned:
	// the last picture of a spread (its recto, where that has one) and the
	// first of the spread after it (its verso). It is between spreads n and
	// n+1 only: over pages of text there is more than one turn.
	PageTurn Relation = "turn"
)

// Contrast is the verdict on two neighbours.
type Contrast string

// The contrasts.
const (
	Alike   Contrast = "too alike" // nearer than Rules.TooAlike
	Fine    Contrast = "fine"
	Jars    Contrast = "jarring" // farther than Rules.Jarring: noted, not held against them
	Unknown Contrast = "unknown" // one of the pictures is not there, or has no palette
)

// Neighbour is one pair of neighbours and how far they are apart.
type Neighbour struct {
	Kind     Relation    `json:"kind"`
	Spreads  [2]int      `json:"spreads"` // twice the same for facing pages
	Pages    [2]string   `json:"pages"`   // of the pictures: "24", "24-25"
	Recipes  [2][]string `json:"recipes"` // one each, but for the next spread, which may have several
	Apart    *float64    `json:"apart"`   // palette distance, ΔE2000; null unknown
	Contrast Contrast    `json:"contrast"`
	// Threshold is the setting that the contrast rests on, ΔE2000: that of
	// jarring where it jars, else that of too alike.
	Threshold float64 `json:"threshold"`
	Chosen    bool    `json:"chosen"`  // a person chose every picture of both sides
	Repeats   bool    `json:"repeats"` // a turn of the very pictures that the next spread was judged by
	Why       string  `json:"why"`     // one sentence without its full stop
}

// Ground is the verdict on the surfaces of two pictures.
type Ground string

// The grounds.
const (
	SameGround    Ground = "same" // nearer than Rules.SameSurface
	OtherGround   Ground = "differs"
	UnknownGround Ground = "unknown" // one of them is not there, or its border has no one colour
)

// SurfacePair is the surfaces of two pictures that face each other (Facing)
// or stand on one spread and the next (NextSpread).
type SurfacePair struct {
	Kind      Relation          `json:"kind"`
	Spreads   [2]int            `json:"spreads"`
	Pages     [2]string         `json:"pages"`
	Recipes   [2]string         `json:"recipes"`
	Surfaces  [2]*colour.Swatch `json:"surfaces"` // null unknown
	Apart     *float64          `json:"apart"`    // ΔE2000; null unknown
	Ground    Ground            `json:"ground"`
	Threshold float64           `json:"threshold"` // Rules.SameSurface
	Why       string            `json:"why"`
}
