package audit

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"coverplate/colour"
)

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
	l := Likeness{Spreads: []int{}, Pages: []string{}, Apart: make([][]*float64, len(r.Spreads)), Threshold: rules.TooAlike, Twins: []Twin{}}
	for i, s := range r.Spreads {
		l.Spreads, l.Pages = append(l.Spreads, s.Spread), append(l.Pages, s.Pages)
		l.Apart[i] = make([]*float64, len(r.Spreads))
	}
	for i, s := range r.Spreads {
		for j, o := range r.Spreads[:i+1] {
			if !coloured(s.Palette) || !coloured(o.Palette) {
				continue
			}
			x := 0.0
			if i != j {
				x = colour.PaletteDistance(o.Palette, s.Palette)
			}
			l.Apart[i][j], l.Apart[j][i] = &x, &x
		}
	}
	type hung struct {
		spread int
		Picture
	}
	var pictures []hung
	for _, s := range r.Spreads {
		for _, p := range s.Pictures {
			if p.Frame != nil && coloured(p.Palette) {
				pictures = append(pictures, hung{s.Spread, p})
			}
		}
	}
	for i, p := range pictures {
		for _, q := range pictures[i+1:] {
			x := colour.PaletteDistance(p.Palette, q.Palette)
			if !(x < rules.TooAlike) {
				continue
			}
			l.Twins = append(l.Twins, Twin{Recipes: [2]string{p.Recipe, q.Recipe}, Pages: [2]string{p.Pages, q.Pages}, Spreads: [2]int{p.spread, q.spread},
				Frames: [2]string{*p.Frame, *q.Frame}, PagesApart: firstPage(q.Pages) - lastPage(p.Pages), Apart: x, Chosen: p.Chosen && q.Chosen})
		}
	}
	slices.SortStableFunc(l.Twins, func(a, b Twin) int { return cmp.Compare(a.Apart, b.Apart) })
	return l
}

// firstPage and lastPage read the pages of a picture, "24" or "24-25".
func firstPage(pages string) int {
	first, _, _ := strings.Cut(pages, "-")
	n, _ := strconv.Atoi(first) // the report wrote it
	return n
}

func lastPage(pages string) int {
	if _, last, two := strings.Cut(pages, "-"); two {
		return firstPage(last)
	}
	return firstPage(pages)
}
