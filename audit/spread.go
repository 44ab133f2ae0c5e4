package audit

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"coverplate/audit/plan"
	"coverplate/colour"
)

// spread is a spread with what its verdict rests on.
type spread struct {
	Spread
	rows    []int // recipes
	settled bool  // every picture on it is there and chosen
	waits   bool  // its verdict waits for neighbours alone
}

// most is how many swatches a palette distance is worked out on at most.
const most = 12

// spreads lays out the book: every spread that the plan puts a picture on, in
// page order, each held against the next.
func (d *sheet) spreads() []spread {
	var all []spread
	for i, r := range d.recipes {
		if r.Pages.IsZero() {
			continue
		}
		n := r.Pages.Spread()
		if len(all) == 0 || all[len(all)-1].Spread.Spread != n {
			all = append(all, spread{Spread: Spread{Spread: n, Recipes: []string{}, Palette: []colour.Swatch{}, Pictures: []Picture{}, Neighbours: []Neighbour{}, Surfaces: []SurfacePair{}}, settled: true})
		}
		s := &all[len(all)-1]
		s.rows = append(s.rows, i)
		s.Recipes = append(s.Recipes, r.ID)
		p := Picture{Recipe: r.ID, Pages: r.Pages.String()}
		at, chosen := d.picture(i)
		if at >= 0 {
			path := d.frames[at].Path()
			p.Frame, p.FrameID, p.Chosen = &path, d.frames[at].ID, chosen
			if s.Frame == nil {
				s.Frame, s.FrameID, s.Surface = p.Frame, p.FrameID, d.frames[at].Look.Surface
			}
		}
		s.settled = s.settled && chosen
		s.Pictures = append(s.Pictures, p)
	}
	for i := range all {
		d.dress(&all[i])
	}
	for i := range all[:max(len(all)-1, 0)] {
		if a, b := all[i].Palette, all[i+1].Palette; len(a) > 0 && len(b) > 0 {
			x := colour.PaletteDistance(a, b)
			all[i].ToNext = &x
		}
	}
	for i := range all {
		d.turn(all, i)
	}
	return all
}

// dress gives a spread its pages and its palette: that of its pictures
// together, each counting alike. A picture without a palette leaves the
// palette of the spread unknown.
func (d *sheet) dress(s *spread) {
	first, last := d.recipes[s.rows[0]].Pages.First, 0
	for _, r := range s.rows {
		p := d.recipes[r].Pages
		first, last = min(first, p.First), max(last, p.First, p.Last)
	}
	s.Pages = plan.Pages{First: first, Last: last}.String()
	if first == last {
		s.Pages = fmt.Sprint(first)
	}
	s.Chosen = s.settled
	var all []colour.Swatch
	for _, p := range s.Pictures {
		at, ok := d.frameAt[p.FrameID]
		if p.Frame == nil || !ok || len(d.frames[at].Look.Palette) == 0 {
			return
		}
		for _, w := range d.frames[at].Look.Palette {
			w.Share /= float64(len(s.Pictures))
			all = append(all, w)
		}
	}
	if len(all) > most {
		slices.SortStableFunc(all, func(a, b colour.Swatch) int { return cmp.Compare(b.Share, a.Share) })
		all = all[:most]
	}
	s.Palette = all
}

// turn judges one spread against its neighbours.
func (d *sheet) turn(all []spread, i int) {
	s := &all[i]
	there := 0
	for _, p := range s.Pictures {
		if p.Frame != nil {
			there++
		}
	}
	var known, alike, waits, notes []string
	firm := false // too alike with a picture that is chosen, as this one is
	for _, side := range []struct {
		at  int
		who string
	}{{i - 1, "the spread before"}, {i + 1, "the next"}} {
		if side.at < 0 || side.at >= len(all) {
			continue
		}
		o := all[side.at]
		who := fmt.Sprintf("%s (%s, page %s)", side.who, strings.Join(o.Recipes, ", "), o.Pages)
		to := s.ToNext
		if side.at < i {
			to = o.ToNext
		}
		if to == nil {
			if len(s.Palette) > 0 {
				waits = append(waits, who+" has no picture with a palette yet")
			}
			continue
		}
		says := fmt.Sprintf("%.1f to %s", *to, who)
		switch {
		case *to < d.Rules.TooAlike:
			says = fmt.Sprintf("%s to %s", below(*to, d.Rules.TooAlike), who)
			alike = append(alike, says)
			firm = firm || s.settled && o.settled
		default:
			known = append(known, says)
			if *to > d.Rules.Jarring && d.Rules.Jarring > 0 {
				notes = append(notes, fmt.Sprintf("the turn to %s is a jump, over %g", side.who, d.Rules.Jarring))
			}
		}
		if !o.settled {
			waits = append(waits, who+" rests on a picture that nobody has chosen")
		}
		if a, b := s.Surface, o.Surface; a != nil && b != nil && colour.DeltaE2000(a.Lab, b.Lab) < d.Rules.SameSurface {
			notes = append(notes, fmt.Sprintf("it has the surface of %s, %.1f apart", side.who, colour.DeltaE2000(a.Lab, b.Lab)))
		}
	}
	floor := fmt.Sprintf("%g is the threshold, this project's choice", d.Rules.TooAlike)
	switch {
	case there == 0:
		s.Verdict, s.Why = ToShoot, "there is no picture of it"
	case there < len(s.Pictures):
		s.Verdict, s.Why = ToShoot, fmt.Sprintf("%d of its %d pictures are there", there, len(s.Pictures))
	case len(s.Palette) == 0:
		s.Verdict, s.Why = ToLook, "its picture has no palette: its pixels could not be read"
	case firm:
		s.Verdict = ToReshoot
		s.Why = fmt.Sprintf("too alike: %s; %s: change the surface or the props of one, or choose another picture", strings.Join(alike, " and "), floor)
	case len(alike) > 0:
		s.Verdict = ToLook
		s.Why = fmt.Sprintf("too alike as it stands: %s; %s; not all of these pictures are chosen", strings.Join(alike, " and "), floor)
	case !s.settled:
		s.Verdict, s.Why = ToLook, "rests on a picture that nobody has chosen"
		if len(known) > 0 {
			s.Why += fmt.Sprintf("; as it stands, %s; %s", strings.Join(known, " and "), floor)
		}
	case len(waits) > 0:
		s.Verdict, s.waits = ToLook, true
		s.Why = strings.Join(waits, "; ")
		if len(known) > 0 {
			s.Why += fmt.Sprintf("; %s, %s", strings.Join(known, " and "), floor)
		}
	case len(known) == 0:
		s.Verdict, s.Why = Settled, "the only spread with a picture"
	default:
		s.Verdict = Settled
		s.Why = fmt.Sprintf("%s; %s", strings.Join(known, " and "), floor)
	}
	if len(notes) > 0 {
		s.Why += "; " + strings.Join(notes, "; ")
	}
}

// palette judges the palette of one recipe, and tells whether it waits for
// its neighbours alone.
func (d *sheet) palette(r int, spreads []spread) (f Finding, waits bool) {
	if f, ok := d.waiver(wish{r, string(plan.Palette)}); ok {
		return f, false
	}
	at, _ := d.picture(r)
	if at >= 0 {
		d.speakOf(&f, at, nil)
	}
	i := slices.IndexFunc(spreads, func(s spread) bool { return slices.Contains(s.rows, r) })
	switch {
	case at < 0:
		f.Verdict, f.Why = ToShoot, "there is no picture of it"
		return f, false
	case i < 0:
		f.Verdict, f.Why = ToLook, "the plan gives it no page, so its neighbours are not known"
		return f, false
	}
	s := spreads[i]
	f.Verdict, f.Why = s.Verdict, s.Why
	if _, chosen := d.picture(r); f.Verdict == ToShoot { // it is the other picture on the spread that is wanting
		f.Verdict = ToLook
		return f, chosen
	}
	return f, s.waits
}
