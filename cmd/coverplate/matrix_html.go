package main

import (
	"fmt"
	"strings"

	"coverplate/audit"
)

// matrixSheet is how many columns of the matrix an A4 sheet across takes at a
// size that can be read.
const matrixSheet = 38

// matrixView is every spread against every other. Sheets are the same figures
// again for paper, in parts as wide as a sheet; nil where Whole is no wider.
type matrixView struct {
	Threshold string
	Whole     matrixPart
	Sheets    []matrixPart
}

type matrixPart struct {
	Says  string // which columns; "" all
	Heads []string
	Rows  []matrixRow
}

type matrixRow struct {
	Pages, Recipes string
	Cells          []matrixCell
}

// matrixCell is one figure. Kind is "self", "twin", "unknown" or "".
type matrixCell struct {
	Text, Kind string
	Next       bool // the next spread, or the one before
}

func matrixOf(l audit.Likeness, spreads []audit.Spread, titles map[string]string) matrixView {
	recipes := map[int]string{}
	for _, s := range spreads {
		recipes[s.Spread] = strings.Join(s.Recipes, " ")
		if len(s.Recipes) == 1 {
			recipes[s.Spread] += " " + titles[s.Recipes[0]]
		}
	}
	whole := matrixPart{Heads: l.Pages}
	for i, cells := range l.Apart {
		row := matrixRow{Pages: l.Pages[i], Recipes: recipes[l.Spreads[i]]}
		for j, apart := range cells {
			c := matrixCell{Next: i-j == 1 || j-i == 1}
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
	v := matrixView{Threshold: fmt.Sprintf("%g", l.Threshold), Whole: whole}
	if n := len(l.Pages); n > matrixSheet {
		parts := (n + matrixSheet - 1) / matrixSheet
		for p := range parts {
			v.Sheets = append(v.Sheets, whole.columns(p*n/parts, (p+1)*n/parts))
		}
	}
	return v
}

// columns is the part of m from column from up to column to.
func (m matrixPart) columns(from, to int) matrixPart {
	part := matrixPart{Says: fmt.Sprintf("against pages %s to %s", m.Heads[from], m.Heads[to-1]), Heads: m.Heads[from:to]}
	for _, r := range m.Rows {
		r.Cells = r.Cells[from:to]
		part.Rows = append(part.Rows, r)
	}
	return part
}

// twinView is two pictures in one palette.
type twinView struct {
	Apart, One, Other, Between, Chosen string
	Frames                             [2]string
}

func twinsOf(l audit.Likeness, titles map[string]string) []twinView {
	var all []twinView
	for _, t := range l.Twins {
		v := twinView{Apart: below(t.Apart, l.Threshold), Frames: t.Frames, Between: counted(t.PagesApart, "page", "pages"), Chosen: "not both chosen"}
		for i, at := range []*string{&v.One, &v.Other} {
			*at = strings.TrimSpace(t.Recipes[i]+" "+titles[t.Recipes[i]]) + pageSuffix(t.Pages[i])
		}
		if t.Chosen {
			v.Chosen = "both chosen"
		}
		all = append(all, v)
	}
	return all
}
