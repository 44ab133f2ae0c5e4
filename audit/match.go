package audit

import (
	"cmp"
	"fmt"
	"math"
	"path"
	"slices"
	"strings"
	"time"

	"coverplate/ingest/catalogue"
)

// How odds are made. Each source of evidence gives a recipe a weight in nats;
// a recipe's weights add up to w, and its odds are e^w over the sum of e^w of
// all recipes that have evidence, and 1 for "none of them". So 1.4 nats alone
// give 0.80. A person's word is final. Where two sources name different
// recipes, one of them is wrong and nothing says which: no odds go over 1/2.
const (
	personWeight = 20.0
	mostTime     = 4.0 // that one neighbour in time can lend, nats
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

// place matches all frames of the shoot.
func (d *sheet) place() {
	x := newIndex(d.Book, d.recipes)
	floor := d.Rules.OddsFloor
	d.placed = make([]placing, len(d.frames))
	claims := make([][]claim, len(d.frames))
	anchor := make([]int, len(d.frames)) // recipe that a frame lends, -1 none
	for i, f := range d.frames {
		p := &d.placed[i]
		p.Frame = f.ID
		anchor[i] = -1
		if d.byHand(p) {
			if r, ok := d.recipeAt[p.Recipe]; ok {
				anchor[i] = r
			}
			continue
		}
		claims[i], p.contra = x.claims(f)
		if r, odds := best(claims[i], p.contra); r >= 0 && odds >= floor {
			anchor[i] = claims[i][r].recipe
		}
	}
	for _, run := range d.bodies() {
		d.lend(run, claims, anchor)
	}
	for i := range d.frames {
		if !d.placed[i].ByHand {
			d.settle(&d.placed[i], claims[i])
		}
	}
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

// claims reads a frame's texts, and reports whether they contradict: whether
// what one source may mean and what another may mean have no recipe in common.
func (x *index) claims(f catalogue.Frame) (all []claim, contra bool) {
	var meant []int
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
	return all, contra
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

// bodies returns the frames that have a time, by body, in capture order.
func (d *sheet) bodies() [][]int {
	by := map[string]int{}
	var all [][]int
	for i, f := range d.frames {
		if f.Taken.IsZero() {
			continue
		}
		key := f.Body()
		n, ok := by[key]
		if !ok {
			n = len(all)
			by[key] = n
			all = append(all, nil)
		}
		all[n] = append(all[n], i)
	}
	return all
}

// change is the chance that the dish was changed in a pause: half at SetGap,
// and by the square, since to change a set takes time. A stated choice.
func (r Rules) change(pause time.Duration) float64 {
	if r.SetGap <= 0 {
		return 1
	}
	g := float64(pause) / float64(r.SetGap)
	return min(1, g*g/2)
}

// neighbour is the nearest frame on one side whose recipe is known.
type neighbour struct {
	frame, recipe int
	same          float64       // chance that no pause between changed the dish
	longest       time.Duration // of those pauses
}

// lend gives the frames of one body that nothing names the recipes of their
// neighbours in time.
func (d *sheet) lend(run []int, claims [][]claim, anchor []int) {
	before := d.neighbours(run, anchor, 1)
	after := d.neighbours(run, anchor, -1)
	for k, i := range run {
		p := &d.placed[i]
		if anchor[i] >= 0 || p.ByHand || p.contra {
			continue
		}
		for _, side := range []struct {
			neighbour
			word string
		}{{before[k], "after"}, {after[k], "before"}} {
			if side.recipe < 0 {
				continue
			}
			weight := min(mostTime, math.Log(side.same/(1-side.same))) // ±Inf at 1 and 0
			if !(weight > 0) {
				p.guesses = append(p.guesses, d.recipes[side.recipe].ID)
				continue
			}
			apart := d.frames[i].Taken.Sub(d.frames[side.frame].Taken).Abs()
			e := Evidence{"time", weight, fmt.Sprintf("%s %s %s, which shows %s; longest pause %s", span(apart), side.word,
				path.Base(d.frames[side.frame].Path()), d.recipes[side.recipe].ID, span(side.longest))}
			at, ok := slices.BinarySearchFunc(claims[i], side.recipe, func(c claim, r int) int { return c.recipe - r })
			if !ok {
				claims[i] = slices.Insert(claims[i], at, claim{recipe: side.recipe})
			}
			claims[i][at].weight += weight
			claims[i][at].why = append(claims[i][at].why, e)
		}
	}
}

// neighbours goes through a run forwards (step 1) or backwards (−1).
func (d *sheet) neighbours(run []int, anchor []int, step int) []neighbour {
	all := make([]neighbour, len(run))
	last := neighbour{recipe: -1}
	k := 0
	if step < 0 {
		k = len(run) - 1
	}
	for range run {
		if prev := k - step; prev >= 0 && prev < len(run) && last.recipe >= 0 {
			pause := d.frames[run[k]].Taken.Sub(d.frames[run[prev]].Taken).Abs()
			last.same *= 1 - d.Rules.change(pause)
			last.longest = max(last.longest, pause)
		}
		all[k] = last
		if r := anchor[run[k]]; r >= 0 {
			last = neighbour{frame: run[k], recipe: r, same: 1}
		}
		k += step
	}
	return all
}

// settle turns a frame's claims into its match.
func (d *sheet) settle(p *placing, claims []claim) {
	around := p.guesses
	p.guesses = nil
	at, odds := best(claims, p.contra)
	if at < 0 {
		p.says = "nothing names a recipe, and no frame near it in time has one"
		p.guesses = firstTwo(around)
		return
	}
	order := slices.Clone(claims)
	slices.SortStableFunc(order, func(a, b claim) int { return cmp.Compare(b.weight, a.weight) })
	p.Odds = odds
	p.Why = append(p.Why, order[0].why...)
	for _, c := range order[1:] {
		p.guesses = append(p.guesses, d.recipes[c.recipe].ID)
		if c.weight >= leastWeight {
			for _, e := range c.why {
				p.Why = append(p.Why, Evidence{e.Kind, -e.Weight, "against it: " + e.Says})
			}
		}
	}
	top := d.recipes[order[0].recipe].ID
	if odds >= d.Rules.OddsFloor {
		p.Recipe = top
		p.guesses = nil
		return
	}
	p.guesses = firstTwo(append(append([]string{top}, p.guesses...), around...))
	switch {
	case p.contra:
		var says []string
		for _, e := range p.Why {
			says = append(says, strings.TrimPrefix(e.Says, "against it: "))
		}
		p.says = "its texts contradict each other: " + strings.Join(says, "; ")
	default:
		p.says = fmt.Sprintf("%s has odds of %.2f, %.2f is the floor: %s", top, odds, d.Rules.OddsFloor, order[0].why[0].Says)
	}
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
