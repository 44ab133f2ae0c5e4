package audit

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// anyChain draws a few spreads with a few options each.
func anyChain(t *rapid.T) chain {
	var c chain
	number := rapid.SampledFrom([]int64{none, 0, 1, 2, 3, 5, 8, 13}) // few, so that ties are met
	draw := func(name string) weight {
		least := number.Draw(t, name)
		if least == none {
			return weight{least: none}
		}
		return weight{least, least + rapid.Int64Range(0, 9).Draw(t, "more")}
	}
	for i := range rapid.IntRange(1, 5).Draw(t, "spreads") {
		options := rapid.IntRange(1, 4).Draw(t, "options")
		var nodes []weight
		var moved []int
		for o := range options {
			nodes = append(nodes, draw("node"))
			moved = append(moved, min(o, 2))
		}
		if i > 0 {
			var edges [][]weight
			for range c.nodes[i-1] {
				var row []weight
				for range options {
					row = append(row, draw("edge"))
				}
				edges = append(edges, row)
			}
			c.edges = append(c.edges, edges)
		}
		c.nodes, c.moved = append(c.nodes, nodes), append(c.moved, moved)
	}
	return c
}

// of is what a choice weighs, and how many pictures it moves.
func (c chain) of(choice []int) (weight, int) {
	w, moved := weight{least: none}, 0
	for i, o := range choice {
		w = w.and(c.nodes[i][o])
		moved += c.moved[i][o]
		if i > 0 {
			w = w.and(c.edges[i-1][choice[i-1]][o])
		}
	}
	return w, moved
}

// The answer of dynamic programming is that of trying every choice.
func TestBestChoiceOfAChainIsThatOfBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyChain(t)
		got := c.best()
		gotW, gotMoved := c.of(got)
		choice := make([]int, len(c.nodes))
		for {
			w, moved := c.of(choice)
			if w.least > gotW.least || w.least == gotW.least && (w.sum > gotW.sum || w.sum == gotW.sum && moved < gotMoved) {
				t.Fatalf("%v gives %+v with %d moved, %v gives %+v with %d moved", got, gotW, gotMoved, choice, w, moved)
			}
			i := 0
			for ; i < len(choice); i++ {
				if choice[i]++; choice[i] < len(c.nodes[i]) {
					break
				}
				choice[i] = 0
			}
			if i == len(choice) {
				return
			}
		}
	})
}

// smallBook draws a book of a few recipes, some of which share a spread, with
// a few grey heroes each, of which nobody has chosen any.
// fixed tells whether a recipe has one hero only, which nothing can move.
func smallBook(t *rapid.T) (s Shoot, fixed bool) {
	var recipes []plan.Recipe
	var frames []catalogue.Frame
	page := 12
	for i := range rapid.IntRange(1, 4).Draw(t, "recipes") {
		id := fmt.Sprintf("R%02d", i+1)
		recipes = append(recipes, recipe(id, "Dish", page, plan.Hero, plan.Palette))
		page += rapid.IntRange(1, 2).Draw(t, "pages on")
		heroes := rapid.IntRange(1, 3).Draw(t, "heroes")
		fixed = fixed || heroes == 1
		for k := range heroes {
			f := shotAt(fmt.Sprintf("%s-%d.JPG", id, k), float64(600*i+k), id)
			f.Look.Palette = flat(float64(rapid.IntRange(0, 10).Draw(t, "L"))*10, 0, 0)
			frames = append(frames, f)
		}
	}
	return shootOf(recipes, frames), fixed
}

// turns is the smallest distance between neighbours and the sum of them, as
// the report has them, with the frames given chosen by hand.
func turns(s Shoot, choice map[string]catalogue.FrameID) (least, sum float64) {
	s.Decisions = nil
	for _, r := range s.Recipes {
		if id, ok := choice[r.ID]; ok {
			s.Decisions = append(s.Decisions, catalogue.Decision{ID: int64(len(s.Decisions) + 1), Kind: catalogue.Choose, Frame: id, Need: "hero", Recipe: r.ID})
		}
	}
	least = math.Inf(1)
	for _, sp := range Run(s).Spreads {
		for _, n := range sp.Neighbours {
			if n.Apart != nil && !n.Repeats {
				least, sum = min(least, *n.Apart), sum+*n.Apart
			}
		}
	}
	return least, sum
}

// The suggestion is the best of all choices, each tried by choosing it by hand
// and reading the report.
func TestSuggestionIsThatOfBruteForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, fixed := smallBook(t)
		got := Suggest(s)
		best, bestSum := math.Inf(-1), 0.0
		choices := []map[string]catalogue.FrameID{{}}
		for _, r := range s.Recipes {
			var longer []map[string]catalogue.FrameID
			for _, c := range choices {
				for _, f := range s.Frames {
					if strings.HasPrefix(f.Files[0].Name, r.ID) {
						with := map[string]catalogue.FrameID{r.ID: f.ID}
						for k, v := range c {
							with[k] = v
						}
						longer = append(longer, with)
					}
				}
			}
			choices = longer
		}
		for _, c := range choices {
			if least, sum := turns(s, c); least > best+1e-9 || least > best-1e-9 && sum > bestSum {
				best, bestSum = least, sum
			}
		}
		if got.After.Pairs == 0 {
			if !math.IsInf(best, 1) {
				t.Fatalf("nothing weighed, and %v can be had", best)
			}
			return
		}
		// A picture that nothing can move divides the book into stretches, each
		// of which has its own smallest distance made as large as can be: the
		// sum of all may then be less than a book careless of them would have.
		if math.Abs(*got.After.Least-best) > 1e-6 || !fixed && math.Abs(got.After.Sum-bestSum) > 1e-6 {
			t.Fatalf("smallest %v, sum %v; the best of %d choices is %v, sum %v", *got.After.Least, got.After.Sum, len(choices), best, bestSum)
		}
		// What the changes say is what taking them gives.
		taken := map[string]catalogue.FrameID{}
		for _, c := range got.Changes {
			taken[c.Recipe] = c.ToID
		}
		least, sum := turns(s, taken)
		if math.Abs(least-*got.After.Least) > 1e-6 || math.Abs(sum-got.After.Sum) > 1e-6 {
			t.Fatalf("taken, the changes give %v, sum %v; said were %v, %v", least, sum, *got.After.Least, got.After.Sum)
		}
		least, sum = turns(s, nil)
		if math.Abs(least-*got.Before.Least) > 1e-6 || math.Abs(sum-got.Before.Sum) > 1e-6 {
			t.Fatalf("as it stands: %v, sum %v; said were %v, %v", least, sum, *got.Before.Least, got.Before.Sum)
		}
		if *got.After.Least < *got.Before.Least-1e-9 || len(got.Arguments) > 0 {
			t.Fatalf("%+v", got)
		}
	})
}

func TestAChoiceIsArguedWithAndNeverMoved(t *testing.T) {
	s := book(50, 52, 90)
	other := shotAt("R01-other.JPG", 5, "R01")
	other.Look.Palette = flat(10, 0, 0)
	s.Frames = append(s.Frames, other)
	got := Suggest(s)
	if len(got.Changes) != 0 || len(got.Arguments) != 1 {
		t.Fatalf("changes %+v, arguments %+v", got.Changes, got.Arguments)
	}
	a := got.Arguments[0]
	// |ΔL|/S_L with S_L as spread_test.go has it: 10 and 52 lie 37.9 apart or so.
	if a.Recipe != "R01" || a.ToID != other.ID || !(a.Before < 3) || !(a.After > 30) {
		t.Errorf("%+v", a)
	}
	if !strings.Contains(got.Why, "1 picture that a person chose is too like a neighbour and would differ in another frame") {
		t.Errorf("%q", got.Why)
	}
	// Not chosen, the same frame is a change.
	s.Decisions = slices.DeleteFunc(s.Decisions, func(d catalogue.Decision) bool { return d.Recipe == "R01" })
	got = Suggest(s)
	if len(got.Changes) != 1 || got.Changes[0].ToID != other.ID || len(got.Arguments) != 0 {
		t.Errorf("not chosen: changes %+v, arguments %+v", got.Changes, got.Arguments)
	}
}

func TestWhatIsNotKnownBreaksTheBook(t *testing.T) {
	s := book(50, math.NaN(), 50, 20)
	dark := s.Frames[2]
	dark.Look.Palette = nil
	s.Frames[2] = dark // R04's pixels could not be read
	got := Suggest(s)
	if len(got.Unknown) != 2 || got.Unknown[0].Recipe != "R02" || got.Unknown[1].Recipe != "R04" {
		t.Errorf("unknown: %+v", got.Unknown)
	}
	if got.Before.Pairs != 0 || !strings.Contains(got.Why, "nothing can be weighed") {
		t.Errorf("%+v", got)
	}
}

func TestOfManyFramesTheBestAreWeighed(t *testing.T) {
	s := book(20, 80)
	s.Decisions = nil
	for i := range choicesOfOne + 5 {
		f := shotAt(fmt.Sprintf("R01-%02d.JPG", i), float64(i+1), "R01")
		f.Look.Palette = flat(30, 0, 0)
		s.Frames = append(s.Frames, f)
	}
	got := Suggest(s)
	if len(got.LeftOut) != 1 || got.LeftOut[0] != (LeftOut{"R01", choicesOfOne, choicesOfOne + 6}) {
		t.Errorf("left out: %+v", got.LeftOut)
	}
}

func BenchmarkSuggest(b *testing.B) {
	s := season(74*30, 74)
	s.Decisions = nil
	b.ReportAllocs()
	for b.Loop() {
		Suggest(s)
	}
}
