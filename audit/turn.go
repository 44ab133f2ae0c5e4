package audit

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"coverplate/audit/plan"
	"coverplate/colour"
)

// opinion is the verdict on the palette of one picture among its neighbours.
type opinion struct {
	verdict Verdict
	why     string
	waits   bool  // for its neighbours alone
	others  []int // frames that would differ, the farthest first
}

// pairsOf are the pairs that picture j of spread i is one of. A turn that
// repeats the next spread is left out.
func pairsOf(all []spread, i, j int) []Neighbour {
	id := all[i].Recipes[j]
	var pairs []Neighbour
	for k := max(i-1, 0); k <= i; k++ {
		for _, n := range all[k].Neighbours {
			if !n.Repeats && (slices.Contains(n.Recipes[0], id) || slices.Contains(n.Recipes[1], id)) {
				pairs = append(pairs, n)
			}
		}
	}
	return pairs
}

// other is the side of a pair that is not picture j of spread i: which it is,
// and what it is called from there.
func other(all []spread, i, j int, n Neighbour) (at int, who string) {
	id := all[i].Recipes[j]
	if slices.Contains(n.Recipes[0], id) {
		at = 1
	}
	switch {
	case n.Kind == Facing && n.Pages[0] == n.Pages[1]:
		who = "the other on its page"
	case n.Kind == Facing:
		who = "the facing page"
	case n.Kind == PageTurn && at == 1:
		who = "the picture after the page turn"
	case n.Kind == PageTurn:
		who = "the picture before the page turn"
	case at == 1:
		who = "the next"
	default:
		who = "the spread before"
	}
	return at, fmt.Sprintf("%s (%s, %s)", who, strings.Join(n.Recipes[at], ", "), paged(n.Pages[at]))
}

// missing tells of which side of a pair a picture or a palette is wanting.
func missing(all []spread, n Neighbour, at int) bool {
	for _, s := range all {
		for _, p := range s.Pictures {
			if s.Spread.Spread == n.Spreads[at] && slices.Contains(n.Recipes[at], p.Recipe) && len(p.Palette) == 0 {
				return true
			}
		}
	}
	return false
}

// chosen tells whether a person chose every picture of a side of a pair.
func chosen(all []spread, n Neighbour, at int) bool {
	for _, s := range all {
		for _, p := range s.Pictures {
			if s.Spread.Spread == n.Spreads[at] && slices.Contains(n.Recipes[at], p.Recipe) && !p.Chosen {
				return false
			}
		}
	}
	return true
}

// opinion judges picture j of spread i by every pair that it is one of.
func (d *sheet) opinion(all []spread, i, j int) opinion {
	s := all[i]
	p := s.Pictures[j]
	switch {
	case p.Frame == nil:
		return opinion{verdict: ToShoot, why: "there is no picture of it"}
	case len(p.Palette) == 0:
		return opinion{verdict: ToLook, why: "its picture has no palette: its pixels could not be read"}
	}
	var known, alike, waits, notes []string
	for _, n := range pairsOf(all, i, j) {
		at, who := other(all, i, j, n)
		switch {
		case n.Contrast == Unknown && missing(all, n, at):
			waits = append(waits, who+" has no picture with a palette yet")
			continue
		case n.Contrast == Unknown: // of this spread something else is wanting, which its own pair says
			continue
		case n.Contrast == Alike:
			alike = append(alike, fmt.Sprintf("%s to %s", tenths(*n.Apart, d.Rules.TooAlike), who))
		default:
			known = append(known, fmt.Sprintf("%.1f to %s", *n.Apart, who))
			if n.Contrast == Jars {
				notes = append(notes, fmt.Sprintf("the step to %s is a jump, over %g", who, n.Threshold))
			}
		}
		if !chosen(all, n, at) {
			waits = append(waits, who+" rests on a picture that nobody has chosen")
		}
	}
	floor := fmt.Sprintf("%g is the threshold, this project's choice", d.Rules.TooAlike)
	var o opinion
	switch {
	case len(alike) > 0:
		out := d.wayOut(all, i, j)
		o.others = out.better
		switch {
		case len(out.clash) == 0 || !p.Chosen && !out.fit:
			o.verdict = ToLook
			o.why = fmt.Sprintf("too alike as it stands: %s; %s; not all of these pictures are chosen", strings.Join(alike, " and "), floor)
		case len(out.better) > 0:
			o.verdict = ToLook
			o.why = fmt.Sprintf("too alike: %s; %s; %s", strings.Join(alike, " and "), floor, out.says)
		default:
			o.verdict = ToReshoot
			o.why = fmt.Sprintf("too alike: %s; %s; %s", strings.Join(alike, " and "), floor, out.says)
		}
	case !p.Chosen:
		o.verdict, o.why = ToLook, "rests on a picture that nobody has chosen"
		if len(known) > 0 {
			o.why += fmt.Sprintf("; as it stands, %s; %s", strings.Join(known, " and "), floor)
		}
	case len(waits) > 0:
		o.verdict, o.waits = ToLook, true
		o.why = strings.Join(waits, "; ")
		if len(known) > 0 {
			o.why += fmt.Sprintf("; %s, %s", strings.Join(known, " and "), floor)
		}
	case len(known) == 0:
		o.verdict, o.why = Settled, "the only spread with a picture"
	default:
		o.verdict = Settled
		o.why = fmt.Sprintf("%s; %s", strings.Join(known, " and "), floor)
	}
	if len(notes) > 0 {
		o.why += "; " + strings.Join(notes, "; ")
	}
	return o
}

// wayOut is what can be done about a picture that clashes with neighbours
// that are chosen.
type wayOut struct {
	clash  []Neighbour // pairs too alike whose other pictures are all chosen
	fit    bool        // some frame of the recipe may serve as its hero
	better []int       // frames that may serve and clash with no chosen neighbour, the farthest first
	says   string
}

// wayOut looks among the other frames of picture j of spread i.
func (d *sheet) wayOut(all []spread, i, j int) wayOut {
	r := all[i].rows[j]
	at, isChosen := d.picture(r)
	var out wayOut
	out.clash, _, _ = d.clashes(all, i, j, at)
	if len(out.clash) == 0 {
		return out
	}
	heroes := d.heroes(r)
	out.fit = len(heroes) > 0
	better, blind := d.better(all, i, j, heroes)
	for _, b := range better {
		out.better = append(out.better, b.frame)
	}
	switch {
	case len(better) > 0:
		b := better[0]
		choose := "look at it and choose it"
		if isChosen {
			choose = "look at it and choose again"
		}
		out.says = fmt.Sprintf("%s would differ, %.1f to %s%s: %s", d.frames[b.frame].Path(), b.least, b.who, d.exposed(at, b.frame), choose)
	case len(blind) > 0:
		out.better = blind
		out.says = fmt.Sprintf("%s that may serve could not be read, so its colours are not known: look at it", counted(len(blind), "other frame", "other frames"))
	default:
		tried := "none of its other frames that may serve differs"
		if !slices.ContainsFunc(heroes, func(f int) bool { return f != at }) {
			tried = "it has no other frame that may serve"
		}
		out.says = fmt.Sprintf("%s: shoot it again, away from %s", tried, d.awayFrom(all, i, j, out.clash))
	}
	return out
}

// otherExposure is a difference in exposure, in stops, that is said beside a
// difference of palettes: two of the thirds in which cameras count (common
// practice, no source).
const otherExposure = 2.0 / 3

// exposed warns where one frame of a recipe is darker or brighter than
// another, for developing can undo that and the palettes would meet again.
func (d *sheet) exposed(from, to int) string {
	a, b := d.frames[from].Look.Light, d.frames[to].Look.Light
	if a == nil || b == nil {
		return ""
	}
	switch stops := b.Level - a.Level; {
	case stops <= -otherExposure:
		return fmt.Sprintf(" (it is %.1f stops darker: that may be all that differs)", -stops)
	case stops >= otherExposure:
		return fmt.Sprintf(" (it is %.1f stops brighter: that may be all that differs)", stops)
	}
	return ""
}

// clashes are the pairs of picture j of spread i that are too alike were it
// the frame given, as far as their other pictures are chosen; and the nearest
// of the pairs, alike or not.
func (d *sheet) clashes(all []spread, i, j, frame int) (clash []Neighbour, least float64, who string) {
	r := all[i].rows[j]
	from := max(i-1, 0)
	var rows [][]int
	for _, s := range all[from:min(i+2, len(all))] {
		rows = append(rows, s.rows)
	}
	// With this picture taken as chosen, a pair is chosen where the others are.
	local := d.laid(rows, func(o int) (int, bool) {
		if o == r {
			return frame, true
		}
		return d.picture(o)
	})
	for _, n := range pairsOf(local, i-from, j) {
		if !n.Chosen || n.Apart == nil {
			continue
		}
		if _, name := other(local, i-from, j, n); who == "" || *n.Apart < least {
			least, who = *n.Apart, name
		}
		if n.Contrast == Alike {
			clash = append(clash, n)
		}
	}
	return clash, least, who
}

// differing is a frame that would clash with no neighbour that is chosen.
type differing struct {
	frame int
	least float64 // to the nearest of those, ΔE2000
	who   string  // which that is
}

// better finds the frames, other than its own, by which picture j of spread i
// would clash with no neighbour that is chosen, the farthest first; and those
// whose colours are not known.
func (d *sheet) better(all []spread, i, j int, heroes []int) (better []differing, blind []int) {
	at, _ := d.picture(all[i].rows[j])
	for _, f := range heroes {
		switch {
		case f == at:
		case !coloured(d.frames[f].Look.Palette):
			blind = append(blind, f)
		default:
			if clash, least, who := d.clashes(all, i, j, f); len(clash) == 0 {
				better = append(better, differing{f, least, who})
			}
		}
	}
	slices.SortStableFunc(better, func(a, b differing) int { return cmp.Compare(b.least, a.least) })
	return better, blind
}

// heroes are the frames that may serve as the hero of a recipe, the best
// first.
func (d *sheet) heroes(r int) []int {
	var all []int
	for _, f := range d.fits(r, plan.Hero, d.chosen[wish{r, string(plan.Hero)}]) {
		if f.may() {
			all = append(all, f.frame)
		}
	}
	return all
}

// weighty is how many swatches of a neighbour are named to move away from.
const weighty = 3

// awayFrom tells the colours to move away from: those of the pictures that
// clash with picture j of spread i. Where another frame of one of them would
// do instead, it says so, for that is less work.
func (d *sheet) awayFrom(all []spread, i, j int, clash []Neighbour) string {
	var from, instead []string
	seen := map[int]bool{}
	for _, n := range clash {
		at, _ := other(all, i, j, n)
		for k := max(i-1, 0); k < min(i+2, len(all)); k++ {
			for l, p := range all[k].Pictures {
				r := all[k].rows[l]
				if r == all[i].rows[j] || all[k].Spread.Spread != n.Spreads[at] || !slices.Contains(n.Recipes[at], p.Recipe) || seen[r] {
					continue
				}
				seen[r] = true
				from = append(from, fmt.Sprintf("the colours of %s: %s", p.Recipe, coloursOf(p)))
				if better, _ := d.better(all, k, l, d.heroes(r)); all[i].Pictures[j].Chosen && len(better) > 0 {
					instead = append(instead, fmt.Sprintf("or choose again for %s, whose %s would differ", p.Recipe, d.frames[better[0].frame].Path()))
				}
			}
		}
	}
	return strings.Join(append([]string{strings.Join(from, ", and ")}, instead...), "; ")
}

// coloursOf names the weightiest swatches of a picture and its surface.
func coloursOf(p Picture) string {
	swatches := slices.Clone(p.Palette)
	slices.SortStableFunc(swatches, func(a, b colour.Swatch) int { return cmp.Compare(b.Share, a.Share) })
	var names []string
	for _, w := range swatches[:min(weighty, len(swatches))] {
		names = append(names, named(w))
	}
	says := strings.Join(names, ", ")
	if p.Surface != nil {
		says += ", on a surface of " + named(*p.Surface)
	}
	return says
}

// named gives the name and the hex of a swatch, worked out where it carries
// none.
func named(w colour.Swatch) string {
	return cmp.Or(w.Name, colour.Name(w.Lab)) + " " + cmp.Or(w.Hex, w.Lab.Hex())
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
	o := spreads[i].said[slices.Index(spreads[i].rows, r)]
	f.Verdict, f.Why = o.verdict, o.why
	for _, b := range o.others {
		f.Others = append(f.Others, d.frames[b].Path())
		f.OtherIDs = append(f.OtherIDs, d.frames[b].ID)
	}
	return f, o.waits
}
