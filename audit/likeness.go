package audit

// Likeness is every spread of the book held against every other. It is no
// part of the report, since it grows with the square of the book; Compare
// makes it of one.
type Likeness struct {
	Spreads []int    `json:"spreads"` // the numbers of the rows and of the columns, in page order
	Pages   []string `json:"pages"`
	// Apart holds palette distances, ΔE2000, a row a spread; 0 on the
	// diagonal, null where one of the two has no palette.
	Apart     [][]*float64 `json:"apart"`
	Threshold float64      `json:"threshold"` // Rules.TooAlike
	// Twins are the pairs of pictures anywhere in the book that are nearer
	// than the threshold, the nearest first. Pictures are held singly: two
	// spreads that differ may have a picture in common.
	Twins []Twin `json:"twins"`
}

// Twin is two pictures in one palette.
type Twin struct {
	Recipes    [2]string `json:"recipes"` // in page order
	Pages      [2]string `json:"pages"`
	Spreads    [2]int    `json:"spreads"`
	Frames     [2]string `json:"frames"` // library paths
	PagesApart int       `json:"pages_apart"`
	Apart      float64   `json:"apart"`  // ΔE2000
	Chosen     bool      `json:"chosen"` // a person chose both
}

// Compare holds every spread of a report against every other.
func Compare(r Report, rules Rules) Likeness {
	return Likeness{Spreads: []int{}, Pages: []string{}, Apart: [][]*float64{}, Threshold: rules.TooAlike, Twins: []Twin{}}
}
