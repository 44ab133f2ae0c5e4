package paper

import (
	"fmt"
	"strings"

	"coverplate/audit"
)

// MatrixSheet is how many columns of the matrix an A4 sheet across takes at a
// size that can be read.
const MatrixSheet = 38

// Matrix is every spread against every other. Sheets are the same figures
// again for paper, in parts as wide as a sheet; nil where Whole is no wider.
type Matrix struct {
	Threshold string
	Whole     MatrixPart
	Sheets    []MatrixPart
}

// MatrixPart is some columns of the matrix, or all.
type MatrixPart struct {
	Says  string // which columns; "" all
	Heads []string
	Rows  []MatrixRow
}

// MatrixRow is a spread held against the others.
type MatrixRow struct {
	Pages, Recipes string
	Cells          []MatrixCell
}

// MatrixCell is one figure. Kind is "self", "twin", "unknown" or "".
type MatrixCell struct {
	Text, Kind string
	Next       bool // the next spread, or the one before
}

// MatrixOf puts a likeness into view; titles are of the recipes by id.
func MatrixOf(l audit.Likeness, spreads []audit.Spread, titles map[string]string) Matrix {
	recipes := map[int]string{}
	for _, s := range spreads {
		recipes[s.Spread] = strings.Join(s.Recipes, " ")
		if len(s.Recipes) == 1 {
			recipes[s.Spread] += " " + titles[s.Recipes[0]]
		}
	}
	whole := MatrixPart{Heads: l.Pages}
	for i, cells := range l.Apart {
		row := MatrixRow{Pages: l.Pages[i], Recipes: recipes[l.Spreads[i]]}
		for j, apart := range cells {
			c := MatrixCell{Next: i-j == 1 || j-i == 1}
			switch {
			case i == j:
				c.Text, c.Kind = "–", "self"
			case apart == nil:
				c.Text, c.Kind = "?", "unknown"
			case *apart < l.Threshold:
				c.Text, c.Kind = "≈"+below(*apart, l.Threshold), "twin"
			default:
				c.Text = fmt.Sprintf("%.1f", *apart)
			}
			row.Cells = append(row.Cells, c)
		}
		whole.Rows = append(whole.Rows, row)
	}
	v := Matrix{Threshold: fmt.Sprintf("%g", l.Threshold), Whole: whole}
	if n := len(l.Pages); n > MatrixSheet {
		parts := (n + MatrixSheet - 1) / MatrixSheet
		for p := range parts {
			v.Sheets = append(v.Sheets, whole.columns(p*n/parts, (p+1)*n/parts))
		}
	}
	return v
}

// columns is the part of m from column from up to column to.
func (m MatrixPart) columns(from, to int) MatrixPart {
	part := MatrixPart{Says: fmt.Sprintf("against pages %s to %s", m.Heads[from], m.Heads[to-1]), Heads: m.Heads[from:to]}
	for _, r := range m.Rows {
		r.Cells = r.Cells[from:to]
		part.Rows = append(part.Rows, r)
	}
	return part
}

// Twin is two pictures in one palette.
type Twin struct {
	Apart, One, Other, Between, Chosen string
	Frames                             [2]string
}

// TwinsOf puts the near twins into view, the nearest first.
func TwinsOf(l audit.Likeness, titles map[string]string) []Twin {
	var all []Twin
	for _, t := range l.Twins {
		v := Twin{Apart: below(t.Apart, l.Threshold), Frames: t.Frames, Between: Counted(t.PagesApart, "page", "pages"), Chosen: "not both chosen"}
		for i, at := range []*string{&v.One, &v.Other} {
			*at = strings.TrimSpace(t.Recipes[i]+" "+titles[t.Recipes[i]]) + PageSuffix(t.Pages[i])
		}
		if t.Chosen {
			v.Chosen = "both chosen"
		}
		all = append(all, v)
	}
	return all
}
