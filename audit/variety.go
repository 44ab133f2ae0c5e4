package audit

import (
	"fmt"
	"slices"

	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

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
	// Unknown are the recipes that nothing is suggested for: not shot, no
	// frame that may serve, or no palette. They break the book into runs.
	Unknown []UnknownPicture `json:"unknown"`
	// LeftOut says of which recipes not every frame was weighed, and how many.
	LeftOut []LeftOut `json:"left_out"`
	Why     string    `json:"why"` // the whole in a sentence or two

	Fault error `json:"-"` // as Report.Fault
}

// Variety is how well the book turns, over every pair of neighbours whose
// pictures may both serve and are known: not of those of UnknownPicture.
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
	Before float64           `json:"before"` // its smallest distance to a neighbour as the book stands, ΔE2000
	After  float64           `json:"after"`  // the same with this change among those that are suggested
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

// How many choices of pictures are weighed for one spread. A spread of one
// picture has its 30 best frames weighed; where several stand on it, the
// choices of each multiply, and every one is held against every one of the
// next spread, so that of each only the best few can be.
const (
	choicesOfOne  = 30
	choicesOfMany = 16
)

// Suggest chooses, among the frames of every recipe that may serve as its
// hero, those by which the book turns best: the smallest distance between
// neighbours as large as can be, then the sum of them, then the fewest
// changes. It is exact among the frames that are weighed (see LeftOut). What a
// person chose stands.
//
// The book is weighed in stretches, which no choice in one of which bears on
// another: a stretch ends where nothing can move, and where a picture is not
// known. Each has the best smallest distance of its own, so that one pair that
// nobody can part does not make the rest careless.
func Suggest(s Shoot) Suggestion {
	d := lay(s)
	out := Suggestion{Changes: []Change{}, Arguments: []Change{}, Unknown: []UnknownPicture{}, LeftOut: []LeftOut{}}
	rows := d.rows()
	tables := make([]table, len(rows))
	stands := map[int]int{} // the frame of each recipe, as the book stands
	for k, row := range rows {
		tables[k] = d.set(row, &out)
		for i, r := range row {
			stands[r] = tables[k].options[0].frames[i]
		}
	}
	suggested := map[int]int{}
	for k, o := range d.choice(tables) {
		for i, r := range rows[k] {
			suggested[r] = tables[k].options[o].frames[i]
		}
	}
	before, after := d.laid(rows, d.among(stands)), d.laid(rows, d.among(suggested))
	out.Before, out.After = d.variety(before), d.variety(after)
	for k, row := range rows {
		for j, r := range row {
			switch _, chosen := d.picture(r); {
			case suggested[r] != stands[r]:
				out.Changes = append(out.Changes, d.change(before, after, k, j, stands[r], suggested[r]))
			case chosen && suggested[r] >= 0:
				if c, ok := d.argue(rows, before, after, k, j, suggested); ok {
					out.Arguments = append(out.Arguments, c)
				}
			}
		}
	}
	out.Why = out.says()
	out.Fault = d.fault
	return out
}

// among gives the pictures of an arrangement: a frame a recipe, −1 none.
func (d *sheet) among(frames map[int]int) standing {
	return func(r int) (int, bool) {
		_, chosen := d.picture(r)
		return frames[r], chosen && frames[r] >= 0
	}
}

// table is what may stand on one spread.
type table struct {
	number  int      // of the spread
	options []option // the first is what stands
}

// option is one choice of pictures for a spread.
type option struct {
	frames  []int           // one a recipe, by page; −1 not known
	palette []colour.Swatch // of all of them; nil where one is not known
	moved   int             // how many differ from what stands
}

// set lists what may stand on a spread, and notes what is not known and what
// is left out.
func (d *sheet) set(row []int, out *Suggestion) table {
	candidates := make([][]int, len(row))
	for i, r := range row {
		var why string
		candidates[i], why = d.candidates(r)
		if why != "" {
			out.Unknown = append(out.Unknown, UnknownPicture{d.recipes[r].ID, d.recipes[r].Pages.String(), why})
		}
	}
	limit := choicesOfOne
	if len(row) > 1 {
		limit = choicesOfMany
	}
	each := howMany(candidates, limit)
	for i, r := range row {
		if n := len(candidates[i]); n > each {
			out.LeftOut = append(out.LeftOut, LeftOut{d.recipes[r].ID, each, n})
			candidates[i] = candidates[i][:each]
		}
	}
	t := table{number: d.recipes[row[0]].Pages.Spread(), options: []option{{}}}
	for _, frames := range candidates {
		var longer []option
		for _, o := range t.options {
			for n, f := range frames {
				moved := o.moved
				if n > 0 {
					moved++
				}
				longer = append(longer, option{frames: append(slices.Clone(o.frames), f), moved: moved})
			}
		}
		t.options = longer
	}
	for i := range t.options {
		var palettes [][]colour.Swatch
		for _, f := range t.options[i].frames {
			palettes = append(palettes, d.paletteOf(f))
		}
		t.options[i].palette = mixed(palettes)
	}
	return t
}

// howMany is how many of each list may be taken so that there are no more
// choices than the limit; one at least.
func howMany(lists [][]int, limit int) int {
	for each := limit; each > 1; each-- {
		choices := 1
		for _, l := range lists {
			choices = min(choices*min(len(l), each), limit+1)
		}
		if choices <= limit {
			return each
		}
	}
	return 1
}

func (d *sheet) paletteOf(frame int) []colour.Swatch {
	if frame < 0 || !coloured(d.frames[frame].Look.Palette) {
		return nil
	}
	return d.frames[frame].Look.Palette
}

// candidates are the frames that may stand for a recipe, what stands first; a
// person's choice alone where there is one. Where its picture is not known,
// they are −1 alone and why is given.
func (d *sheet) candidates(r int) (frames []int, why string) {
	at, chosen := d.picture(r)
	heroes := d.heroes(r)
	switch {
	case at < 0:
		return []int{-1}, "there is no picture of it"
	case d.paletteOf(at) == nil:
		return []int{-1}, "its picture has no palette: its pixels could not be read"
	case chosen:
		return []int{at}, ""
	case len(heroes) == 0:
		return []int{-1}, "no frame of it may serve as its hero"
	}
	for _, f := range heroes {
		if d.paletteOf(f) != nil {
			frames = append(frames, f)
		}
	}
	return frames, ""
}

// choice returns the best option of each spread.
func (d *sheet) choice(tables []table) []int {
	c := d.weighed(tables)
	chosen := make([]int, len(tables))
	for from := 0; from < len(tables); {
		to := from // the last spread of the stretch
		for to+1 < len(tables) && c.edges[to][0][0].least != none && (to == from || len(tables[to].options) > 1) {
			to++
		}
		stretch := chain{nodes: slices.Clone(c.nodes[from : to+1]), moved: c.moved[from : to+1], edges: c.edges[from:to]}
		for i := range stretch.nodes {
			if len(stretch.nodes[i]) == 1 { // what can't move bears on no choice
				stretch.nodes[i] = []weight{{least: none}}
			}
		}
		for i, o := range stretch.best() {
			chosen[from+i] = o
		}
		if to > from && len(tables[to].options) == 1 && to+1 < len(tables) {
			from = to // it bounds the next stretch too
		} else {
			from = to + 1
		}
	}
	return chosen
}

// weighed works out every distance that a choice can rest on.
func (d *sheet) weighed(tables []table) chain {
	known := map[[2]int]float64{}
	between := func(w weight, f, g int) weight {
		a, b := d.paletteOf(f), d.paletteOf(g)
		if a == nil || b == nil {
			return w
		}
		x, ok := known[[2]int{f, g}]
		if !ok {
			x = colour.PaletteDistance(a, b)
			known[[2]int{f, g}] = x
		}
		return w.with(x)
	}
	c := chain{nodes: make([][]weight, len(tables)), moved: make([][]int, len(tables)), edges: make([][][]weight, max(len(tables)-1, 0))}
	for k, t := range tables {
		for _, o := range t.options {
			w := weight{least: none}
			for i, f := range o.frames {
				for _, g := range o.frames[i+1:] {
					w = between(w, f, g)
				}
			}
			c.nodes[k] = append(c.nodes[k], w)
			c.moved[k] = append(c.moved[k], o.moved)
		}
		if k+1 == len(tables) {
			break
		}
		next := tables[k+1]
		turns := next.number == t.number+1 && len(t.options[0].frames)+len(next.options[0].frames) > 2
		c.edges[k] = make([][]weight, len(t.options))
		for a, o := range t.options {
			for _, p := range next.options {
				w := weight{least: none}
				if o.palette != nil && p.palette != nil {
					w = w.with(colour.PaletteDistance(o.palette, p.palette))
				}
				if turns {
					w = between(w, o.frames[len(o.frames)-1], p.frames[0])
				}
				c.edges[k][a] = append(c.edges[k][a], w)
			}
		}
	}
	return c
}

// variety sums up how the book turns.
func (d *sheet) variety(all []spread) Variety {
	v, w := Variety{}, weight{least: none}
	for _, s := range all {
		for _, n := range s.Neighbours {
			if n.Repeats || n.Apart == nil {
				continue
			}
			w = w.with(*n.Apart)
			v.Pairs++
			if n.Contrast == Alike {
				v.Alike++
			}
			if v.Least == nil || *n.Apart < *v.Least {
				v.Least, v.LeastOf = n.Apart, &n
			}
		}
	}
	v.Sum = float64(w.sum) / perUnit
	return v
}

// nearest is the smallest distance of picture j of spread i to a neighbour,
// and what that is called from there; ok is false where it has none.
func nearest(all []spread, i, j int) (least float64, who string, ok bool) {
	for _, n := range pairsOf(all, i, j) {
		if n.Apart != nil && (!ok || *n.Apart < least) {
			_, who = other(all, i, j, n)
			least, ok = *n.Apart, true
		}
	}
	return least, who, ok
}

// change tells what one picture for another would do, that of recipe j of
// spread k.
func (d *sheet) change(before, after []spread, k, j, from, to int) Change {
	r := d.recipes[before[k].rows[j]]
	c := Change{Recipe: r.ID, Pages: r.Pages.String(), From: d.frames[from].Path(), FromID: d.frames[from].ID, To: d.frames[to].Path(), ToID: d.frames[to].ID}
	var now, then string
	c.Before, now, _ = nearest(before, k, j)
	c.After, then, _ = nearest(after, k, j)
	c.Why = fmt.Sprintf("now %.1f to %s; then %.1f to %s%s", c.Before, now, c.After, then, d.exposed(from, to))
	return c
}

// argue tells whether another frame than the one that a person chose would
// part a picture from a neighbour that it is too like, all the rest being as
// suggested; and the one by which it would be parted the most.
func (d *sheet) argue(rows [][]int, before, after []spread, k, j int, suggested map[int]int) (Change, bool) {
	r := rows[k][j]
	most, _, ok := nearest(after, k, j)
	if !ok || most >= d.Rules.TooAlike {
		return Change{}, false
	}
	from := max(k-1, 0)
	at := suggested[r]
	best := at
	var parted []spread
	for _, f := range d.heroes(r) {
		if f == at || d.paletteOf(f) == nil {
			continue
		}
		local := d.laid(rows[from:min(k+2, len(rows))], func(o int) (int, bool) {
			if o == r {
				return f, true
			}
			return d.among(suggested)(o)
		})
		if least, _, _ := nearest(local, k-from, j); least > most {
			most, best, parted = least, f, local
		}
	}
	if best == at {
		return Change{}, false
	}
	c := d.change(before[from:min(k+2, len(rows))], parted, k-from, j, at, best)
	return c, true
}

// says puts the suggestion into a sentence or two.
func (s Suggestion) says() string {
	if s.Before.Pairs == 0 {
		return "no two neighbours have pictures that may serve yet: nothing can be weighed"
	}
	figures := fmt.Sprintf("the smallest distance between neighbours is %.1f", *s.Before.Least)
	if len(s.Changes) == 0 {
		figures = "what stands differs as well as any choice would: " + figures
		if s.Before.Pairs > 1 {
			figures += fmt.Sprintf(", the sum of %d pairs %.1f", s.Before.Pairs, s.Before.Sum)
		}
	} else {
		figures = fmt.Sprintf("%s: %s and would be %.1f, the sum of %s %.1f and would be %.1f", counted(len(s.Changes), "change", "changes"),
			figures, *s.After.Least, counted(s.Before.Pairs, "pair", "pairs"), s.Before.Sum, s.After.Sum)
	}
	if n := len(s.Arguments); n > 0 {
		figures += fmt.Sprintf("; %s too like a neighbour and would differ in another frame", counted(n, "picture that a person chose is", "pictures that a person chose are"))
	}
	return figures
}
