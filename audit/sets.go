package audit

import (
	"math"
	"slices"
	"time"

	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// A set is a run of frames of one recipe and one body without a long pause:
// one dish in one arrangement, as far as can be told. Sets of two bodies at one
// time have one number, but are measured apart: what a body measures is
// held against its own frames alone: another lens, sensor or preview makes
// another figure of the same sharpness.
type set struct {
	frames []int // in capture order
	steady int   // place in frames from which on the picture no longer changes
}

// Frames are alike where the figures of one may be held against those of
// another. All bounds are the project's own choice.
const (
	alikeElevation = 15.0 // degrees
	alikeFocal     = 1.25 // the longer over the shorter
	alikeRegion    = 2.0  // area of the main thing, the larger over the smaller
	steadyPalette  = 4.0  // palette distance within which a picture has not changed
)

// gather finds the sets: of one recipe, parted where the body paused longer than
// its own rhythm has it within a dish, or where pause and change of picture
// together make it likelier than not that another arrangement began. Frames that
// are sure to be charts, slates or tests, or show no recipe, are in none.
func (d *sheet) gather() {
	d.setAt = make([]int, len(d.frames))
	for i := range d.setAt {
		d.setAt[i] = -1
	}
	for _, run := range append(d.bodies(), d.timeless()...) {
		last := map[string]int{} // recipe to its frame before in this run
		open := ""               // the recipe on the table
		change := leastChange    // the most since the frame before
		gap := d.gapOf(d.body[run[0]])
		for _, i := range run {
			change = max(change, d.changes[i])
			recipe := d.placed[i].Recipe
			if recipe == "" || d.barred[i] != "" {
				continue
			}
			prev, seen := last[recipe]
			pause := d.frames[i].Taken.Sub(d.frames[prev].Taken)
			if !seen || open != recipe || gap > 0 && (pause >= gap || change > 0) {
				d.sets = append(d.sets, set{})
				d.setAt[i] = len(d.sets) - 1
			} else {
				d.setAt[i] = d.setAt[prev]
			}
			s := &d.sets[d.setAt[i]]
			s.frames = append(s.frames, i)
			last[recipe], open, change = i, recipe, leastChange
		}
	}
	d.numberSets()
	d.joinSets()
}

// gapOf is the pause of a body in which the dish is as likely changed as not.
func (d *sheet) gapOf(body string) time.Duration {
	if gap, ok := d.gaps[body]; ok {
		return gap
	}
	return d.Rules.SetGap
}

// numberSets puts the sets in the order of their first frames.
func (d *sheet) numberSets() {
	slices.SortFunc(d.sets, func(a, b set) int { return a.frames[0] - b.frames[0] })
	for n, s := range d.sets {
		for _, i := range s.frames {
			d.setAt[i] = n
		}
	}
}

// joinSets gives one number to sets of two bodies that shot one dish at one
// time: each joins the earlier set of another body that it overlaps longest. A
// pause within which the dish is not likely changed is no gap between them.
// Sets of one body never join: a pause or a picture parted them.
func (d *sheet) joinSets() {
	d.setNumber = make([]int, len(d.sets))
	bodies := make([][]string, len(d.sets)+1) // by number
	of := map[string][]int{}                  // the sets before, by recipe
	next := 0
	for n := range d.sets {
		s := &d.sets[n]
		first, end := &d.frames[s.frames[0]], &d.frames[s.frames[len(s.frames)-1]]
		body, best, longest := d.body[s.frames[0]], -1, time.Duration(0)
		recipe := d.placed[s.frames[0]].Recipe
		for _, m := range slices.Backward(of[recipe]) {
			t := &d.sets[m]
			start, last := &d.frames[t.frames[0]], &d.frames[t.frames[len(t.frames)-1]]
			if first.Taken.IsZero() || start.Taken.IsZero() || slices.Contains(bodies[d.setNumber[m]], body) {
				continue
			}
			slack := min(d.gapOf(body), d.gapOf(d.body[t.frames[0]])) / 2
			both := earlier(end.Taken, last.Taken).Sub(later(first.Taken, start.Taken)) + slack
			if both > longest {
				best, longest = m, both
			}
		}
		if best >= 0 {
			d.setNumber[n] = d.setNumber[best]
		} else {
			next++
			d.setNumber[n] = next
		}
		bodies[d.setNumber[n]] = append(bodies[d.setNumber[n]], body)
		of[recipe] = append(of[recipe], n)
	}
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

func later(a, b time.Time) time.Time {
	if a.Before(b) {
		return b
	}
	return a
}

// timeless returns the frames without a time, by body: nothing tells one set
// of a dish from another among them.
func (d *sheet) timeless() [][]int {
	by := map[string][]int{}
	var order []string
	for i, f := range d.frames {
		if !f.Taken.IsZero() {
			continue
		}
		key := f.Body() + "\x00" + d.placed[i].Recipe // a run of its own each, so that no other breaks it
		if by[key] == nil {
			order = append(order, key)
		}
		by[key] = append(by[key], i)
	}
	var all [][]int
	for _, key := range order {
		all = append(all, by[key])
	}
	return all
}

// measureSet finds which frames of a set show one picture, and where the set
// stops changing.
func (d *sheet) measureSet(s *set) {
	looks := make([]*catalogue.Look, len(s.frames))
	for k, i := range s.frames {
		looks[k] = &d.frames[i].Look
	}
	for _, v := range scenesOf(looks) {
		for k, at := range v.frames {
			v.frames[k] = s.frames[at]
			d.sceneAt[s.frames[at]], d.gains[s.frames[at]] = len(d.scenes), v.gains[k]
		}
		d.scenes = append(d.scenes, v)
		d.castsOf(v)
	}
	for _, i := range s.frames {
		if f := d.focus(i); f != nil {
			d.sharpness[i] = sharpIn(f, d.placeAt(i))
		}
	}
	s.steady = len(s.frames) - 1
	for s.steady > 0 && d.still(s.frames[s.steady-1], s.frames[s.steady]) {
		s.steady--
	}
	d.compare(s)
}

// placeAt is what matters in the frames that show what this one shows; nil not
// known.
func (d *sheet) placeAt(at int) []float64 {
	if d.sceneAt[at] < 0 {
		return nil
	}
	return d.scenes[d.sceneAt[at]].place
}

// onePicture reports whether two frames show one picture from one place.
func (d *sheet) onePicture(i, j int) bool {
	return i == j || d.sceneAt[i] >= 0 && d.sceneAt[i] == d.sceneAt[j]
}

// sharpBeside is how sharp a frame is against another, 1 as sharp: both where
// the frame itself is sharp, if they show one picture, else each where it is.
func (d *sheet) sharpBeside(at, other int) float64 {
	if at == other {
		return 1
	}
	f, g := d.focus(at), d.focus(other)
	mine := ownPart(f, d.placeAt(at))
	theirs := mine
	if !d.onePicture(at, other) {
		theirs = ownPart(g, d.placeAt(other))
	}
	return shareOf(sharpIn(f, mine), sharpIn(g, theirs))
}

// still reports whether two frames show one picture: the same colours in the
// same shares, from one place.
func (d *sheet) still(i, j int) bool {
	a, b := d.frames[i].Look.Palette, d.frames[j].Look.Palette
	if len(a) == 0 || len(b) == 0 || !d.alike(i, j) {
		return false
	}
	return colour.PaletteDistance(a, b) < steadyPalette
}

// alike reports whether the figures of two frames of one set may be held
// against each other: they show one picture, or what was measured is of one
// kind, and angle, lens and the size of the main thing are known to be about
// the same. Where they are not known they are not alike.
func (d *sheet) alike(i, j int) bool {
	if d.onePicture(i, j) {
		return true
	}
	a, b := &d.frames[i], &d.frames[j]
	va, vb := &d.views[i], &d.views[j]
	return a.Look.Preview == b.Look.Preview &&
		va.named() && vb.named() && math.Abs(va.Elevation-vb.Elevation) <= alikeElevation &&
		nearly(a.Exposure.FocalLength, b.Exposure.FocalLength, alikeFocal) &&
		nearly(mainArea(a.Look.Matters), mainArea(b.Look.Matters), alikeRegion)
}

// nearly reports whether two positive quantities are within a factor of each
// other.
func nearly(a, b, factor float64) bool {
	return a > 0 && b > 0 && a <= b*factor && b <= a*factor
}

// mainArea is the area of the weightiest region, a share of the picture; 1
// where it was not measured.
func mainArea(m *catalogue.Matters) float64 {
	if m == nil || len(m.Regions) == 0 {
		return 1
	}
	return m.Regions[0].Width * m.Regions[0].Height
}

// beside is what the other frames of its set tell of a frame.
type beside struct {
	sharpest int     // of the set; the frame itself where none is sharper
	alike    int     // the sharpest of the alike ones
	ofBest   float64 // how sharp it is against sharpest, 1 as sharp
	ofAlike  float64 // and against alike
	stops    float64 // brighter than the middle of the alike ones
	others   int     // how many alike ones stops is taken from
}

// compare holds the frames of a set against each other.
func (d *sheet) compare(s *set) {
	levels := make([]float64, 0, len(s.frames))
	for _, at := range s.frames {
		b := beside{sharpest: at, alike: at, ofBest: 1, ofAlike: 1}
		mine, light := d.focus(at), d.light(at)
		levels = levels[:0]
		for _, i := range s.frames {
			if i == at {
				continue
			}
			f, l := d.focus(i), d.light(i)
			sharper := mine != nil && f != nil && d.sharpness[i] > d.sharpness[at]
			if sharper && d.sharpness[i] > d.sharpness[b.sharpest] {
				b.sharpest = i
			}
			if (!sharper || d.sharpness[i] <= d.sharpness[b.alike]) && (light == nil || l == nil) || !d.alike(i, at) {
				continue
			}
			if sharper && d.sharpness[i] > d.sharpness[b.alike] {
				b.alike = i
			}
			if light != nil && l != nil {
				levels = append(levels, d.brighter(i, at))
			}
		}
		if b.others = len(levels); b.others > 0 {
			b.stops = offMiddle(levels, 0)
		}
		if mine != nil {
			b.ofBest, b.ofAlike = d.sharpBeside(at, b.sharpest), d.sharpBeside(at, b.alike)
		}
		d.besides[at] = b
	}
}

// fewestCasts is how many frames of one picture a cast is told from: of two it
// can't be said which was changed.
const fewestCasts = 3

// castsOf tells how far each frame's neutral lies off the middle of those that
// show the same surfaces. Of other frames nothing is said: which surface of
// theirs is neutral is not known.
func (d *sheet) castsOf(v scene) {
	if len(v.frames) < fewestCasts {
		return
	}
	others := make([]float64, 0, len(v.gains))
	for k, at := range v.frames {
		var off [3]float64
		for c := range off {
			others = others[:0]
			for i, g := range v.gains {
				if i != k {
					others = append(others, g[c])
				}
			}
			off[c] = offMiddle(others, v.gains[k][c])
		}
		d.casts[at] = castBy(off)
	}
}

// offMiddle is how far own lies above the middle of all, itself among them; 0
// where it is between the two in the middle. others is put in order.
func offMiddle(others []float64, own float64) float64 {
	slices.Sort(others)
	n := len(others)
	low, high := others[(n-1)/2], others[n/2] // of an even number of others the middle with own lies between
	return own - min(max(own, low), high)
}

// brighter is by how many stops frame i is brighter than j: by the surfaces
// that both show, where they show one picture, else by what matters in each.
func (d *sheet) brighter(i, j int) float64 {
	if d.onePicture(i, j) {
		return stopsOf(d.gains[i]) - stopsOf(d.gains[j])
	}
	return d.light(i).Level - d.light(j).Level
}

// focus returns what was measured of a frame's focus; nil where nothing was,
// or what stands there is no such measure.
func (d *sheet) focus(at int) *catalogue.Focus {
	f := d.frames[at].Look.Focus
	if f == nil || !share(f.Score) || !share(f.Motion) || f.Full != nil && !share(*f.Full) {
		return nil
	}
	return f
}

// light is focus for light.
func (d *sheet) light(at int) *catalogue.Light {
	l := d.frames[at].Look.Light
	if l == nil || !share(l.MattersHigh) || !share(l.MattersLow) ||
		!finite(l.Level) {
		return nil
	}
	for _, x := range [...]float64{l.High[0], l.High[1], l.High[2], l.Low[0], l.Low[1], l.Low[2], l.MattersBy[0], l.MattersBy[1], l.MattersBy[2]} {
		if !share(x) {
			return nil
		}
	}
	return l
}

func share(x float64) bool  { return x >= 0 && x <= 1 }
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
