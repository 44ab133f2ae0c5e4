package audit

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// anyShoot draws a small shoot with everything in it that judgement meets.
func anyShoot(t *rapid.T) Shoot {
	titles := []string{"Dark rye", "Rye and trout", "Beetroot and caraway", "Caraway buns", "Plums"}
	kinds := []plan.NeedKind{plan.Hero, plan.NeedOverhead, plan.Half, plan.Palette, plan.NeedLandscape, plan.Detail, plan.Options}
	var recipes []plan.Recipe
	for i := range rapid.IntRange(1, 5).Draw(t, "recipes") {
		r := recipe(fmt.Sprintf("R%02d", i+1), titles[i], 11+rapid.IntRange(1, 3).Draw(t, "pages")+i*2,
			rapid.SliceOfNDistinct(rapid.SampledFrom(kinds), 1, 5, rapid.ID).Draw(t, "needs")...)
		r.Row = i + 2
		r.Props = rapid.SliceOfN(rapid.SampledFrom([]string{"bowl", "grey bowl", "bowl, grey", "Bowl"}), 0, 2).Draw(t, "props")
		recipes = append(recipes, r)
	}
	ids := []string{"R01", "R02", "R03", "R04", "R05", "rye", "caraway", "", "R77"}
	var frames []catalogue.Frame
	var said []catalogue.Decision
	for i := range rapid.IntRange(0, 12).Draw(t, "frames") {
		name := fmt.Sprintf("DSC_%04d.JPG", i)
		f := shotAt(name, float64(rapid.IntRange(0, 60).Draw(t, "minute")))
		f.Subjects = []string{rapid.SampledFrom(ids).Draw(t, "subject")}
		f.Files[0].Source = rapid.SampledFrom(ids).Draw(t, "folder") + "/" + name
		f.Look.Width = rapid.SampledFrom([]int{0, 1200, 4000, 6000}).Draw(t, "width")
		f.Look.Palette = flat(rapid.Float64Range(0, 100).Draw(t, "L"), 0, 0)
		if rapid.Bool().Draw(t, "tagged") {
			f.Exposure.Elevation = f64(-rapid.Float64Range(0, 90).Draw(t, "elevation"))
		}
		if rapid.IntRange(0, 9).Draw(t, "time") == 0 {
			f.Taken = time.Time{}
		}
		frames = append(frames, f)
		if rapid.Bool().Draw(t, "decided") {
			said = append(said, catalogue.Decision{ID: int64(len(said) + 1), Frame: f.ID, Recipe: rapid.SampledFrom(ids[:5]).Draw(t, "said"),
				Kind: rapid.SampledFrom([]catalogue.DecisionKind{catalogue.Assign, catalogue.Choose, catalogue.Choose, catalogue.Waive}).Draw(t, "kind"),
				Need: needs(rapid.SampledFrom(kinds).Draw(t, "need"))[0].String()})
		}
	}
	return shootOf(recipes, frames, said...)
}

func asJSON(t interface{ Fatal(...any) }, r Report) string {
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func TestReportIsTheSameInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyShoot(t)
		want := Run(s)
		s.Frames = rapid.Permutation(s.Frames).Draw(t, "frames in another order")
		s.Recipes = rapid.Permutation(s.Recipes).Draw(t, "recipes in another order")
		s.Decisions = rapid.Permutation(s.Decisions).Draw(t, "decisions in another order")
		got := Run(s)
		if diff := cmp.Diff(asJSON(t, want), asJSON(t, got)); diff != "" {
			t.Fatal(diff)
		}
		if diff := cmp.Diff(want.Matches, got.Matches); diff != "" {
			t.Fatal(diff)
		}
	})
}

func TestAnUnrelatedFrameNeverWorsensWhatIsSettled(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyShoot(t)
		before := Run(s)
		extra := shotAt("EXTRA.JPG", rapid.Float64Range(-10, 70).Draw(t, "minute"), rapid.SampledFrom([]string{"", "R01", "R77", "caraway"}).Draw(t, "subject"))
		extra.Look.Palette = flat(rapid.Float64Range(0, 100).Draw(t, "L"), 0, 0)
		s.Frames = append(s.Frames, extra)
		after := Run(s)
		for i, r := range before.Recipes {
			for j, f := range r.Needs {
				if got := after.Recipes[i].Needs[j]; (f.Verdict == Settled || f.Verdict == Waived) && got.Verdict != f.Verdict {
					t.Fatalf("%s of %s: %s (%s) became %s (%s)", f.Need, r.ID, f.Verdict, f.Why, got.Verdict, got.Why)
				}
			}
			if got := after.Recipes[i]; r.Strike == MayStrike && got.Strike != MayStrike {
				if strings.HasPrefix(got.StrikeWhy, string(plan.Palette)+":") && beside(before, r.ID) != beside(after, r.ID) {
					continue // the frame is not unrelated: it became the picture that the palette is held against
				}
				t.Fatalf("%s may be struck no more: %s", r.ID, got.StrikeWhy)
			}
		}
	})
}

// beside names the pictures on the spread of a recipe and on those next to it.
func beside(r Report, recipe string) string {
	at := slices.IndexFunc(r.Spreads, func(s Spread) bool { return slices.Contains(s.Recipes, recipe) })
	var all []string
	for i := max(at-1, 0); i <= at+1 && i < len(r.Spreads); i++ {
		for _, p := range r.Spreads[i].Pictures {
			all = append(all, fmt.Sprint(p.Recipe, p.FrameID, p.Chosen))
		}
	}
	return strings.Join(all, " ")
}

// What CI met on 2026-11-25: the set of R02 may go while its neighbour has no
// picture to be held against, and is held again once a frame turns up that
// makes the two spreads alike, though nobody has chosen that frame.
func TestANeighbourTooAlikeHoldsTheSetAgain(t *testing.T) {
	s := book(20, math.NaN())
	if r := Run(s).Recipes[0]; r.Strike != MayStrike {
		t.Fatalf("%s: %s", r.Strike, r.StrikeWhy)
	}
	extra := shotAt("EXTRA.JPG", 30, s.Recipes[1].ID)
	extra.Look.Palette = flat(21, 0, 0)
	s.Frames = append(s.Frames, extra)
	if r := Run(s).Recipes[0]; r.Strike != Hold || !strings.HasPrefix(r.StrikeWhy, "palette: look (too alike as it stands") {
		t.Errorf("%s: %s", r.Strike, r.StrikeWhy)
	}
}

func TestNothingIsSettledWithoutAPerson(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyShoot(t)
		s.Decisions = nil
		r := Run(s)
		for _, rec := range r.Recipes {
			if rec.Strike == MayStrike {
				t.Fatalf("%s may be struck: %s", rec.ID, rec.StrikeWhy)
			}
			for _, f := range rec.Needs {
				if f.Verdict == Settled || f.Verdict == Waived || f.Verdict == ToChoose {
					t.Fatalf("%s of %s is %s: %s", f.Need, rec.ID, f.Verdict, f.Why)
				}
				if f.Why == "" || f.Others == nil {
					t.Fatalf("%s of %s: %+v", f.Need, rec.ID, f)
				}
			}
		}
		for _, m := range r.Matches {
			if !(m.Odds >= 0 && m.Odds <= 1) || m.Recipe != "" && m.Odds < s.Rules.OddsFloor {
				t.Fatalf("odds %v of %q", m.Odds, m.Recipe)
			}
		}
	})
}

func TestReportOfNothing(t *testing.T) {
	want := `{"book":"","seen":{"frames":0,"cards":[],"last_frame":null,"unplaced":0},"recipes":[],"spreads":[],` +
		`"days":{"done":0,"of":0,"days_left":0,"needed_per_day":null,"on_pace":true,"why":"the shooting days are not known"},"props":[],"unplaced":[],"notes":[]}`
	if got := asJSON(t, Run(Shoot{})); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

// season is a shoot of the size that the job asks for: frames in sets of
// dishes of two bodies, half of them named by folder, a hero chosen of each.
func season(frames, recipes int) Shoot {
	first := []string{"Dark", "Smoked", "Baked", "Pickled", "Roasted", "Salted", "Sour", "Sweet"}
	second := []string{"rye", "trout", "plums", "beetroot", "barley", "leeks", "cabbage", "carrots", "oats", "peas"}
	s := shootOf(nil, nil)
	for i := range recipes {
		s.Recipes = append(s.Recipes, recipe(fmt.Sprintf("R%02d", i+1), first[i%8]+" "+second[i%10]+" with caraway", 11+2*i,
			plan.Hero, plan.NeedOverhead, plan.Half, plan.Palette))
	}
	each := frames / recipes
	for i := range frames {
		r := min(i/each, recipes-1)
		f := shotAt(fmt.Sprintf("DSC_%04d.JPG", i), float64(r*60+i%each))
		f.Camera.Serial = fmt.Sprint(i % 2)
		f.Look.Palette = nil
		for k := range 6 {
			f.Look.Palette = append(f.Look.Palette, colour.Swatch{Lab: colour.Lab{L: float64((i*7 + k*13) % 100), A: float64((i+k*29)%90 - 45), B: float64((r+k*17)%90 - 45)}, Share: 1.0 / 6})
		}
		if i%4 < 2 {
			f.Files[0].Source = s.Recipes[r].Title + "/" + f.Files[0].Name
			f.Subjects = []string{"Skerry Table", s.Recipes[r].ID}
		}
		if i%each == 3 {
			s.Decisions = append(s.Decisions, chose(int64(len(s.Decisions)+1), f.Files[0].Name, "hero", s.Recipes[r].ID))
		}
		s.Frames = append(s.Frames, f)
	}
	return s
}

func TestASeasonIsJudgedInWellUnderASecond(t *testing.T) {
	s := season(2000, 74)
	began := time.Now()
	r := Run(s)
	// Some 30 ms on the machine this was written on; a second is the promise.
	if took := time.Since(began); took > time.Second {
		t.Errorf("2000 frames and 74 recipes took %v", took)
	}
	placed := 0
	for _, m := range r.Matches {
		if m.Recipe != "" {
			placed++
		}
	}
	if placed < 1990 {
		t.Errorf("%d of 2000 frames are placed", placed)
	}
}

func BenchmarkRun(b *testing.B) {
	s := season(2000, 74)
	for b.Loop() {
		Run(s)
	}
}
