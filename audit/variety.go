package audit

import "coverplate/ingest/catalogue"

// Suggestion is the choice of heroes by which the book turns best.
type Suggestion struct {
	// Changes are of pictures that nobody has chosen, in page order: the best
	// there is now, and the one that would differ more.
	Changes []Change `json:"changes"`
	// Arguments are with pictures that a person chose and that stand too like
	// a neighbour: each says what moving it alone would give, all the rest
	// being as suggested. Nothing of them is in Changes or After.
	Arguments []Change `json:"arguments"`
	Before    Variety  `json:"before"` // as the book stands
	After     Variety  `json:"after"`  // with Changes made
	// Unknown are the recipes that nothing is suggested beside: not shot, no
	// frame that may serve, or no palette. They break the book into runs.
	Unknown []UnknownPicture `json:"unknown"`
	// LeftOut says of which recipes not every frame was weighed, and how many.
	LeftOut []LeftOut `json:"left_out"`
	Why     string    `json:"why"` // the whole in a sentence or two
}

// Variety is how well the book turns, over every pair of neighbours that is
// known.
type Variety struct {
	Least   *float64   `json:"least"` // the smallest palette distance, ΔE2000; null where no pair is known
	LeastOf *Neighbour `json:"least_of"`
	Sum     float64    `json:"sum"` // ΔE2000, of all pairs
	Pairs   int        `json:"pairs"`
	Alike   int        `json:"alike"` // pairs too alike
}

// Change is one picture for another.
type Change struct {
	Recipe string            `json:"recipe"`
	Pages  string            `json:"pages"`
	From   string            `json:"from"` // library path
	FromID catalogue.FrameID `json:"-"`
	To     string            `json:"to"`
	ToID   catalogue.FrameID `json:"-"`
	Before float64           `json:"before"` // the smallest distance to a neighbour of it as the book stands, ΔE2000
	After  float64           `json:"after"`  // and with the change, among the others that are suggested
	Why    string            `json:"why"`
}

// UnknownPicture is a recipe whose picture has no colours to be weighed.
type UnknownPicture struct {
	Recipe string `json:"recipe"`
	Pages  string `json:"pages"`
	Why    string `json:"why"`
}

// LeftOut is a recipe with more frames that may serve than were weighed.
type LeftOut struct {
	Recipe  string `json:"recipe"`
	Weighed int    `json:"weighed"`
	Of      int    `json:"of"`
}

// Suggest chooses, among the frames of every recipe that may serve as its
// hero, those by which the book turns best.
func Suggest(s Shoot) Suggestion {
	return Suggestion{Changes: []Change{}, Arguments: []Change{}, Unknown: []UnknownPicture{}, LeftOut: []LeftOut{}}
}
