package audit

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// every calls f with each choice of options, the options' own indices.
func every(options []int, f func([]int)) {
	at := make([]int, len(options))
	for {
		f(at)
		i := len(at) - 1
		for ; i >= 0; i-- {
			if at[i]++; at[i] < options[i] {
				break
			}
			at[i] = 0
		}
		if i < 0 {
			return
		}
	}
}

// anyBook draws a book of a few recipes, some two a spread, some not shot,
// some chosen, with a few frames each.
func anyBook(t *rapid.T) Shoot {
	var recipes []plan.Recipe
	var frames []catalogue.Frame
	var said []catalogue.Decision
	at := 9
	for i := range rapid.IntRange(1, 5).Draw(t, "recipes") {
		id := fmt.Sprintf("R%02d", i+1)
		at += rapid.IntRange(1, 3).Draw(t, "pages on")
		recipes = append(recipes, recipe(id, "Dish", at, plan.Hero, plan.Palette))
		n := rapid.IntRange(0, 3).Draw(t, "frames")
		for k := range n {
			f := shotAt(fmt.Sprintf("%s_%d.JPG", id, k), float64(600*i+k), id)
			f.Look.Palette = flat(float64(rapid.IntRange(0, 20).Draw(t, "L")*5), 0, float64(rapid.IntRange(-2, 2).Draw(t, "b")*10))
			switch rapid.IntRange(0, 9).Draw(t, "fault") {
			case 0:
				f.Look.Palette = nil
			case 1:
				f.Look.Width, f.Look.Height = 300, 450
			}
			frames = append(frames, f)
		}
		if n > 0 && rapid.IntRange(0, 3).Draw(t, "chosen") == 0 {
			said = append(said, chose(int64(i+1), fmt.Sprintf("%s_%d.JPG", id, rapid.IntRange(0, n-1).Draw(t, "which")), "hero", id))
		}
	}
	return shootOf(recipes, frames, said...)
}

// chosenBy makes a person choose, for every recipe given, the frame given.
func chosenBy(s Shoot, frames map[string]catalogue.FrameID) Shoot {
	s.Decisions = slices.Clone(s.Decisions)
	for i, r := range s.Recipes {
		if id, ok := frames[r.ID]; ok {
			s.Decisions = append(s.Decisions, catalogue.Decision{ID: int64(1000 + i), Kind: catalogue.Choose, Need: "hero", Recipe: r.ID, Frame: id})
		}
	}
	return s
}

// varietyOf sums up a report by itself: every pair of neighbours that is known,
// apart from those of the recipes left out.
func varietyOf(r Report, unknown map[string]bool) (least float64, sum float64, pairs int) {
	least = math.Inf(1)
	for _, s := range r.Spreads {
		for _, n := range s.Neighbours {
			if n.Repeats || n.Apart == nil || slices.ContainsFunc(append(slices.Clone(n.Recipes[0]), n.Recipes[1]...), func(id string) bool { return unknown[id] }) {
				continue
			}
			least, sum, pairs = min(least, *n.Apart), sum+*n.Apart, pairs+1
		}
	}
	return least, sum, pairs
}

// Whole books, by the report alone: each choice is made by a person's
// decisions, and the report's own pairs are counted. The smallest distance can
// not be beaten; and where the book is one stretch, nor can the sum.
func TestSuggestAgainstEveryChoice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyBook(t)
		got := Suggest(s)
		d := lay(s)
		unknown := map[string]bool{}
		for _, u := range got.Unknown {
			unknown[u.Recipe] = true
		}
		var free []int // recipes that may move
		var options []int
		var heroes [][]int
		fixed := false
		for r := range d.recipes {
			_, chosen := d.picture(r)
			if unknown[d.recipes[r].ID] {
				fixed = true
				continue
			}
			if chosen {
				fixed = true
				continue
			}
			h := slices.DeleteFunc(d.heroes(r), func(f int) bool { return d.frames[f].Look.Palette == nil })
			free, options, heroes = append(free, r), append(options, len(h)), append(heroes, h)
			fixed = fixed || len(h) == 1
		}
		suggested := map[string]catalogue.FrameID{}
		for i, r := range free {
			suggested[d.recipes[r].ID] = d.frames[heroes[i][0]].ID
		}
		before, beforeSum, n := varietyOf(Run(chosenBy(s, suggested)), unknown)
		for _, c := range got.Changes {
			if _, movable := suggested[c.Recipe]; !movable || suggested[c.Recipe] != c.FromID || c.ToID == c.FromID {
				t.Fatalf("%+v is no change of what nobody has chosen", c)
			}
			suggested[c.Recipe] = c.ToID
		}
		least, sum, _ := varietyOf(Run(chosenBy(s, suggested)), unknown)
		if n != got.Before.Pairs || n != got.After.Pairs || math.Abs(beforeSum-got.Before.Sum) > 1e-6 || math.Abs(sum-got.After.Sum) > 1e-6 ||
			n > 0 && (before != *got.Before.Least || least != *got.After.Least) {
			t.Fatalf("%+v %+v; the reports have %v %v, then %v %v, of %d", got.Before, got.After, before, beforeSum, least, sum, n)
		}
		if least < before {
			t.Fatalf("the smallest distance falls from %v to %v", before, least)
		}
		every(options, func(at []int) {
			all := map[string]catalogue.FrameID{}
			for i, o := range at {
				all[d.recipes[free[i]].ID] = d.frames[heroes[i][o]].ID
			}
			l, x, _ := varietyOf(Run(chosenBy(s, all)), unknown)
			if l > least || !fixed && l == least && x > sum+1e-6 {
				t.Fatalf("%v gives %v, %v; suggested is %v, %v", all, l, x, least, sum)
			}
		})
	})
}

func TestSuggestionIsTheSameInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyBook(t)
		want := Suggest(s)
		s.Frames = rapid.Permutation(s.Frames).Draw(t, "frames in another order")
		s.Recipes = rapid.Permutation(s.Recipes).Draw(t, "recipes in another order")
		if got := Suggest(s); !reflect.DeepEqual(got, want) {
			t.Fatalf("got %+v, want %+v", got, want)
		}
	})
}

// Following a suggestion leaves nothing to suggest.
func TestASuggestionFollowedIsTheLast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyBook(t)
		first := Suggest(s)
		follow := map[string]catalogue.FrameID{}
		for _, c := range first.Changes {
			follow[c.Recipe] = c.ToID
		}
		second := Suggest(chosenBy(s, follow))
		if len(second.Changes) > 0 && len(follow) == len(first.Changes) && second.After.Least != nil && *second.After.Least > *first.After.Least {
			t.Fatalf("after %+v still %+v", first, second)
		}
		if first.After.Pairs != second.Before.Pairs || first.After.Sum != second.Before.Sum {
			t.Fatalf("promised %+v, stands %+v", first.After, second.Before)
		}
	})
}

func TestSuggestSaysWhatAndByHowMuch(t *testing.T) {
	s := without(again(book(45, 50, 55), "R02", "R02B.JPG", 90), "R02") // 50 stands, 90 is 40 and 35 away by L
	got := Suggest(s)
	if len(got.Changes) != 1 || len(got.Arguments) != 0 || len(got.Unknown) != 0 {
		t.Fatalf("%+v", got)
	}
	c := got.Changes[0]
	if c.Recipe != "R02" || c.Pages != "13" || !strings.HasSuffix(c.From, "/R02.JPG") || !strings.HasSuffix(c.To, "/R02B.JPG") || !(c.Before < 5.1 && c.After > 25) ||
		!strings.Contains(c.Why, "now 4.9 to the spread before (R01, page 11); then 2") || !strings.Contains(c.Why, " to the next (R03, page 15)") {
		t.Errorf("%+v", c)
	}
	if got.Before.Alike != 2 || got.After.Alike != 0 || got.Before.Pairs != 2 || got.Before.LeastOf == nil || got.Before.LeastOf.Recipes[0][0] != "R01" {
		t.Errorf("before %+v, after %+v", got.Before, got.After)
	}
	if !strings.HasPrefix(got.Why, "1 change: the smallest distance between neighbours is 4.9 and would be 2") {
		t.Errorf("%q", got.Why)
	}
}

// A pair that nobody can part is not the measure of the rest: R03 moves away
// from R04, though the book's smallest distance is that of R01 and R02.
func TestAPairThatCannotPartDoesNotMakeTheRestCareless(t *testing.T) {
	s := without(book(50, 51, 80, 86, 50), "R04")
	s = again(s, "R04", "R04B.JPG", 65) // to 80 and 50: both over 10; 86 to 80 is under 5, its sum is larger
	got := Suggest(s)
	if len(got.Changes) != 1 || got.Changes[0].Recipe != "R04" || *got.Before.Least != *got.After.Least || got.After.Sum >= got.Before.Sum {
		t.Errorf("%+v", got)
	}
}

// longChain is a book of 74 spreads with 30 pictures to choose from on each.
func longChain(spreads, options int) chain {
	c := chain{}
	x := uint32(1)
	draw := func() weight {
		x = x*1664525 + 1013904223
		return weight{least: none}.with(float64(x>>16) / 1000)
	}
	for i := range spreads {
		c.nodes = append(c.nodes, slices.Repeat([]weight{{least: none}}, options))
		c.moved = append(c.moved, make([]int, options))
		if i == 0 {
			continue
		}
		edges := make([][]weight, options)
		for a := range edges {
			for range options {
				edges[a] = append(edges[a], draw())
			}
		}
		c.edges = append(c.edges, edges)
	}
	return c
}

func BenchmarkChoiceOf74With30Each(b *testing.B) {
	c := longChain(74, 30)
	for b.Loop() {
		c.best()
	}
}

func BenchmarkSuggestASeason(b *testing.B) {
	s := season(2000, 74)
	s.Decisions = nil
	for b.Loop() {
		Suggest(s)
	}
}

// What can't move bears on no choice, the pair of a spread included: R01 and
// R02 face each other for good and are one apart, and R03 still moves to where
// its own nearest is farther, though the sum falls.
func TestFacingPagesThatCannotPartDoNotMakeTheRestCareless(t *testing.T) {
	s := pages(book(40, 41, 40, 90), page(20), page(21), page(22), page(24))
	s = again(without(s, "R03"), "R03", "R03B.JPG", 65)
	// R03 at 40: nearest under 1; at 65 both its sides are over 20.
	got := Suggest(s)
	if len(got.Changes) != 1 || got.Changes[0].Recipe != "R03" || got.After.Sum >= got.Before.Sum+60 || *got.Before.Least > 1.1 {
		t.Errorf("%+v", got)
	}
	// The other way about: the sum alone would leave R03 beside R04.
	s = pages(book(40, 41, 88, 90), page(20), page(21), page(22), page(24))
	s = again(without(s, "R03"), "R03", "R03B.JPG", 65)
	got = Suggest(s)
	if len(got.Changes) != 1 || got.Changes[0].Recipe != "R03" || got.After.Sum >= got.Before.Sum {
		t.Errorf("%+v", got)
	}
}

func TestAChoiceThatDiffersEnoughIsLetAlone(t *testing.T) {
	if got := Suggest(again(book(40, 60), "R02", "R02B.JPG", 95)); len(got.Arguments)+len(got.Changes) != 0 {
		t.Errorf("%+v", got)
	}
}

// Two frames that differ alike: what stands, stays.
func TestNothingMovesForNothing(t *testing.T) {
	s := without(again(book(45, 55), "R02", "R02B.JPG", 55), "R02")
	if got := Suggest(s); len(got.Changes) != 0 || !strings.HasPrefix(got.Why, "what stands differs as well as any choice would") {
		t.Errorf("%+v", got)
	}
	// Both may move, and either would do as much: one does.
	s = without(again(without(again(book(50, 50), "R01", "R01B.JPG", 60), "R01"), "R02", "R02B.JPG", 60), "R02")
	if got := Suggest(s); len(got.Changes) != 1 {
		t.Errorf("%+v", got)
	}
}

// Over pages of text no page turn is weighed: beside R03 at 95 R02 may stand,
// as it may not on the page before.
func TestChoiceWeighsATurnOfOneLeafOnly(t *testing.T) {
	for last, want := range map[int]int{26: 1, 30: 0} {
		s := pages(book(0, 95, 95), page(24), page(25), page(last))
		s = without(again(s, "R02", "R02B.JPG", 50), "R02")
		if got := Suggest(s); len(got.Changes) != want {
			t.Errorf("page %d: %+v", last, got.Changes)
		}
	}
}
