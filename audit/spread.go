package audit

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"coverplate/audit/plan"
	"coverplate/colour"
)

// spread is a spread with the recipes whose pictures stand on it.
type spread struct {
	Spread
	rows []int     // recipes, by page
	said []opinion // on the palette of each
}

// standing says which picture stands for a recipe, −1 none, and whether a
// person chose it.
type standing func(recipe int) (frame int, chosen bool)

// most is how many swatches a palette distance is worked out on at most.
const most = 12

// spreads lays out the book: every spread that the plan puts a picture on, in
// page order, each with its neighbours and its verdict.
func (d *sheet) spreads() []spread {
	all := d.laid(d.rows(), d.picture)
	for i := range all {
		d.verdict(all, i)
	}
	return all
}

// rows returns the recipes of each spread that the plan puts a picture on.
func (d *sheet) rows() [][]int {
	var all [][]int
	for i, r := range d.recipes {
		switch {
		case r.Pages.IsZero():
		case len(all) > 0 && d.recipes[all[len(all)-1][0]].Pages.Spread() == r.Pages.Spread():
			all[len(all)-1] = append(all[len(all)-1], i)
		default:
			all = append(all, []int{i})
		}
	}
	return all
}

// laid makes spreads of some rows that follow each other, without a verdict.
func (d *sheet) laid(rows [][]int, stands standing) []spread {
	all := make([]spread, len(rows))
	for i, row := range rows {
		all[i] = d.dressed(row, stands)
	}
	for i := range all {
		var next *Spread
		if i+1 < len(all) {
			next = &all[i+1].Spread
		}
		d.meet(&all[i].Spread, next)
	}
	return all
}

// dressed makes a spread with its pages and its palette: that of its pictures
// together, each counting alike. A picture without a palette leaves the
// palette of the spread unknown.
func (d *sheet) dressed(row []int, stands standing) spread {
	s := spread{Spread: Spread{Spread: d.recipes[row[0]].Pages.Spread(), Recipes: []string{}, Palette: []colour.Swatch{}, Chosen: true,
		Pictures: []Picture{}, Neighbours: []Neighbour{}, Surfaces: []SurfacePair{}}, rows: row}
	first, last := d.recipes[row[0]].Pages.First, 0
	var palettes [][]colour.Swatch
	for _, r := range row {
		pages := d.recipes[r].Pages
		first, last = min(first, pages.First), max(last, pages.First, pages.Last)
		p := Picture{Recipe: d.recipes[r].ID, Pages: pages.String()}
		if at, chosen := stands(r); at >= 0 {
			look := d.frames[at].Look
			path := d.frames[at].Path()
			p.Frame, p.FrameID, p.Chosen, p.Surface = &path, d.frames[at].ID, chosen, look.Surface
			if coloured(look.Palette) {
				p.Palette = look.Palette
			}
			if s.Frame == nil {
				s.Frame, s.FrameID, s.Surface = p.Frame, p.FrameID, p.Surface
			}
		}
		s.Recipes = append(s.Recipes, p.Recipe)
		s.Chosen = s.Chosen && p.Chosen
		s.Pictures = append(s.Pictures, p)
		palettes = append(palettes, p.Palette)
	}
	s.Pages = plan.Pages{First: first, Last: last}.String()
	if all := mixed(palettes); all != nil {
		s.Palette = all
	}
	return s
}

// mixed is the palette of pictures together, each counting alike; nil where
// one of them has none. Of too many swatches the smallest are left out.
func mixed(palettes [][]colour.Swatch) []colour.Swatch {
	var all []colour.Swatch
	for _, p := range palettes {
		if len(p) == 0 {
			return nil
		}
		for _, w := range p {
			w.Share /= float64(len(palettes))
			all = append(all, w)
		}
	}
	if len(all) > most {
		slices.SortStableFunc(all, func(a, b colour.Swatch) int { return cmp.Compare(b.Share, a.Share) })
		all = all[:most]
	}
	return all
}

// coloured reports whether a palette can be held against another: it has area,
// and figures throughout.
func coloured(palette []colour.Swatch) bool {
	sum := 0.0
	for _, w := range palette {
		for _, x := range [...]float64{w.Share, w.Lab.L, w.Lab.A, w.Lab.B} {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return false
			}
		}
		sum += max(w.Share, 0)
	}
	return sum > 0 && !math.IsInf(sum, 1)
}

// verdict judges a spread by the palettes of its recipes: the most urgent of
// their verdicts is its own.
func (d *sheet) verdict(all []spread, i int) {
	s := &all[i]
	there := 0
	for _, p := range s.Pictures {
		if p.Frame != nil {
			there++
		}
	}
	s.Verdict = Settled
	for j := range s.rows {
		o := d.opinion(all, i, j)
		s.said = append(s.said, o)
		if first := slices.Index(urgency, s.Verdict); o.verdict != Settled && (first < 0 || slices.Index(urgency, o.verdict) < first) {
			s.Verdict = o.verdict
		}
	}
	switch {
	case there == 0:
		s.Verdict, s.Why = ToShoot, "there is no picture of it"
	case there < len(s.Pictures):
		s.Verdict, s.Why = ToShoot, fmt.Sprintf("%d of its %d pictures are there", there, len(s.Pictures))
	case len(s.said) == 1:
		s.Why = s.said[0].why
	default:
		var whys []string
		for j, o := range s.said {
			if o.verdict == s.Verdict {
				whys = append(whys, s.Recipes[j]+": "+o.why)
			}
		}
		s.Why = strings.Join(whys, "; ")
	}
}
