package audit

import (
	"cmp"
	"fmt"
	"math"
	"path"
	"slices"
	"strings"
	"time"

	"coverplate/audit/odds"
	"coverplate/ingest/catalogue"
)

// How odds are made. Each source of evidence gives a recipe a weight in nats. A
// frame that stands alone has for a recipe whose weights add up to w the odds
// e^w over the sum of e^w of all recipes that have evidence, and 1 for "none of
// them"; so 1.4 nats alone give 0.80. Frames of one body are weighed together: a
// dish stays on set but for a change, which pauses and pictures tell. A person's
// word is final. Where two sources name different recipes for one frame, one of
// them is wrong and nothing says which: no odds go over 1/2.
const (
	personWeight = 20.0
	strong       = 2.0 // from this weight on, sources that differ contradict each other
	near         = 1.0 // a source may mean any recipe this near its strongest
	evenOdds     = 0.5
)

// claim is what speaks for one recipe as the picture of one frame.
type claim struct {
	recipe int
	weight float64
	why    []Evidence
}

// placing is a match with what a report says of it.
type placing struct {
	Match
	says    string // why it is unplaced
	guesses []string
	contra  bool // its texts name different recipes
}

// Matches says for each frame which recipe it shows, in capture order: by
// time, then path, those without a time last.
func Matches(s Shoot) []Match {
	d := lay(s)
	all := make([]Match, len(d.placed))
	for i, p := range d.placed {
		all[i] = p.Match
	}
	return all
}

// place matches all frames of the shoot: each body's frames in the order taken
// are one chain, labelled first alone and then with what other bodies and
// likeness to frames that are known add.
func (d *sheet) place() {
	d.placed, d.doubts = make([]placing, len(d.frames)), make([]string, len(d.frames))
	d.gaps, d.changes = map[string]time.Duration{}, make([]float64, len(d.frames))
	if len(d.recipes) == 0 {
		for i, f := range d.frames {
			p := &d.placed[i]
			if p.Frame = f.ID; !d.byHand(p) {
				p.says = "the plan has no recipe"
			}
		}
		return
	}
	m := d.match()
	speaks := make([][][]float64, len(m.strands))
	jumps := make([][][2]*odds.Jump, len(m.strands))
	for n, s := range m.strands {
		speaks[n] = m.speak(s)
	}
	turns := []labelling{odds.Sums, odds.Sums, odds.Label}
	for turn, by := range turns { // again with what the last says of other stretches
		for n, s := range m.strands {
			jumps[n] = jumps[n][:0]
			for k := range s.starts[:len(s.starts)-1] {
				slate, bare := m.jump(s, k)
				jumps[n] = append(jumps[n], [2]*odds.Jump{slate, bare})
			}
			s.alone = m.label(s, speaks[n], jumps[n], by, s.alone)
		}
		if turn < len(turns)-1 {
			m.sight()
		}
	}
	m.agreement()
	known := m.known()
	for n, s := range m.strands {
		s.labels = s.alone
		v := votes{s, speaks[n], m.none + 1}
		others, like := m.fromOthers(s, &v), m.fromLikeness(s, &v, known)
		if others || like {
			s.labels = m.label(s, speaks[n], jumps[n], odds.Label, s.alone)
		}
	}
	m.check()
	for i := range d.frames {
		if !d.placed[i].ByHand {
			m.settle(i)
		}
	}
	m.doubt()
	for _, s := range m.solo {
		if first := s.frames[0]; !d.frames[first].Taken.IsZero() {
			d.gaps[d.body[first]] = s.gap
		}
		for k, i := range s.frames {
			d.changes[i] = s.pause[k]
		}
	}
}

// match reads what is said of each frame.
func (d *sheet) match() *matcher {
	x := newIndex(d.Book, d.recipes)
	n := len(d.frames)
	m := &matcher{d: d, none: len(d.recipes), claims: make([][]claim, n), meant: make([][]int, n), left: make([]float64, n), slates: make([]int, n), said: make([]int, n),
		figures: make([]figures, n), at: make([]place, n), lift: math.Log(float64(len(d.recipes))), together: oneDish}
	for i, f := range d.frames {
		p := &d.placed[i]
		p.Frame, m.said[i] = f.ID, -1
		m.figures[i] = figuresOf(&f.Look)
		m.slates[i] = d.slated(i)
		if d.byHand(p) {
			if r, ok := d.recipeAt[p.Recipe]; ok && p.Recipe != "" {
				m.said[i] = r
			}
			continue
		}
		m.claims[i], m.meant[i], p.contra = x.claims(f)
	}
	for _, w := range d.onSet {
		if _, ok := d.find(w.Recipe); ok || w.Recipe == "" {
			m.on = append(m.on, w)
		} else {
			d.note("decision", w.Recipe, "", fmt.Sprintf("the log has %s on set at %s, but the plan has no %s: was it renumbered?", w.Recipe, w.From.Format("2006-01-02 15:04"), w.Recipe))
		}
	}
	slices.SortStableFunc(m.on, func(a, b catalogue.Decision) int { return a.From.Compare(b.From) })
	m.weave()
	m.anchor()
	return m
}

// byHand places a frame by a person's word, where there is one.
func (d *sheet) byHand(p *placing) bool {
	w, ok := d.said[p.Frame]
	if !ok {
		return false
	}
	p.ByHand, p.Odds = true, 1
	says := "a person chose it as " + w.Need + " of " + w.Recipe
	if w.Kind == catalogue.Assign {
		says = "a person said that it shows " + cmp.Or(w.Recipe, "no recipe")
	}
	if w.Recipe != "" {
		r, known := d.find(w.Recipe)
		if !known {
			p.Odds = 0
			p.says = says + ", which the plan does not have"
			p.Why = []Evidence{{"person", personWeight, p.says}}
			return true
		}
		p.Recipe = d.recipes[r].ID
	}
	p.Why = []Evidence{{"person", personWeight, says}}
	return true
}

// claims reads a frame's texts: what speaks for each recipe, which recipes the
// strong ones may mean (nil: there is none), and whether they contradict: whether
// what one source may mean and what another may mean have no recipe in common.
func (x *index) claims(f catalogue.Frame) (all []claim, meant []int, contra bool) {
	for from, hits := range x.texts(f) {
		top := 0.0
		for _, h := range hits {
			top = max(top, h.weight)
			i, ok := slices.BinarySearchFunc(all, h.recipe, func(c claim, r int) int { return c.recipe - r })
			if !ok {
				all = slices.Insert(all, i, claim{recipe: h.recipe})
			}
			all[i].weight += h.weight
			all[i].why = append(all[i].why, Evidence{sourceKind[from], h.weight, h.says})
		}
		if top < strong {
			continue
		}
		var may []int
		for _, h := range hits {
			if h.weight > top-near {
				may = append(may, h.recipe)
			}
		}
		if meant != nil {
			may = slices.DeleteFunc(may, func(r int) bool { return !slices.Contains(meant, r) })
			contra = contra || len(may) == 0
		}
		meant = append([]int{}, may...)
	}
	return all, meant, contra
}

// best returns the place of the strongest claim, the first of equals, and its
// odds; −1 where there is none.
func best(all []claim, contra bool) (at int, odds float64) {
	at = -1
	for i, c := range all {
		if at < 0 || c.weight > all[at].weight {
			at = i
		}
	}
	if at < 0 {
		return -1, 0
	}
	top := max(all[at].weight, 0)
	sum := math.Exp(-top)
	for _, c := range all {
		sum += math.Exp(c.weight - top)
	}
	odds = math.Exp(all[at].weight-top) / sum
	if contra {
		odds = min(odds, evenOdds)
	}
	return at, odds
}

// bodies returns the frames that have a time, by body, in the order they were
// taken.
func (d *sheet) bodies() [][]int {
	by := map[string]int{}
	var all [][]int
	for i, f := range d.frames {
		if f.Taken.IsZero() {
			continue
		}
		key := d.body[i]
		n, ok := by[key]
		if !ok {
			n = len(all)
			by[key] = n
			all = append(all, nil)
		}
		all[n] = append(all[n], i)
	}
	for _, run := range all {
		d.inBurst(run)
	}
	return all
}

// inBurst puts frames of one instant in the order of their numbers. Where these
// roll over, the low ones come after the high ones (DCF: file numbers 0001 to
// 9999, then 0001 in the next folder).
func (d *sheet) inBurst(run []int) {
	for from := 0; from < len(run); {
		to := from + 1
		for to < len(run) && d.frames[run[to]].Taken.Equal(d.frames[run[from]].Taken) {
			to++
		}
		if to-from > 1 {
			low, high := false, false
			for _, i := range run[from:to] {
				n := fileNumber(d.pathName(i))
				low, high = low || n > 0 && n < numberLow, high || n > numberHigh
			}
			slices.SortStableFunc(run[from:to], func(i, j int) int {
				a, b := fileNumber(d.pathName(i)), fileNumber(d.pathName(j))
				if low && high {
					if a < numberLow {
						a += numberHigh + numberLow
					}
					if b < numberLow {
						b += numberHigh + numberLow
					}
				}
				return cmp.Compare(a, b)
			})
		}
		from = to
	}
}

// A burst that has numbers on both sides of these has rolled over.
const numberLow, numberHigh = 1000, 9000

// fileNumber is the number that a camera's file name ends with; 0 none.
func fileNumber(name string) int {
	stem := strings.TrimSuffix(name, path.Ext(name))
	n := 0
	for k := max(0, len(stem)-4); k < len(stem); k++ {
		if stem[k] < '0' || stem[k] > '9' {
			n = 0
			continue
		}
		n = 10*n + int(stem[k]-'0')
	}
	return n
}

func firstTwo(ids []string) []string {
	two := []string{}
	for _, id := range ids {
		if len(two) < 2 && !slices.Contains(two, id) {
			two = append(two, id)
		}
	}
	return two
}

// span says a duration: "40 s", "12 min", "3 h", "2 days".
func span(t time.Duration) string {
	switch {
	case t < 2*time.Minute:
		return fmt.Sprintf("%.0f s", t.Seconds())
	case t < 2*time.Hour:
		return fmt.Sprintf("%.0f min", t.Minutes())
	case t < 48*time.Hour:
		return fmt.Sprintf("%.0f h", t.Hours())
	}
	return fmt.Sprintf("%.0f days", t.Hours()/24)
}
