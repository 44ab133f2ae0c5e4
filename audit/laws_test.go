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
		anyMeasures(t, &f)
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

// anyMeasures draws what pixels measure, with gaps, and now and then what no
// pixels can measure.
func anyMeasures(t *rapid.T, f *catalogue.Frame) {
	part := rapid.OneOf(rapid.Float64Range(0, 1), rapid.SampledFrom([]float64{0, 0.02, 0.1, 0.2, 0.7, 0.9, 1, 1, 1}))
	f.Exposure.FocalLength = rapid.SampledFrom([]float64{0, 50, 55, 90}).Draw(t, "focal length")
	f.Exposure.Seconds = rapid.SampledFrom([]float64{0, 0.01, 0.5}).Draw(t, "seconds")
	if rapid.IntRange(0, 3).Draw(t, "focus") > 0 {
		f.Look.Focus = &catalogue.Focus{Score: part.Draw(t, "score"), Motion: part.Draw(t, "motion"), Direction: 12}
		if rapid.Bool().Draw(t, "read at 1:1") {
			f.Look.Focus.Full = f64(part.Draw(t, "full"))
		}
		if rapid.IntRange(0, 19).Draw(t, "broken") == 0 {
			f.Look.Focus.Score = rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), -1, 2}).Draw(t, "broken score")
		}
	}
	if rapid.IntRange(0, 3).Draw(t, "light") > 0 {
		f.Look.Light = &catalogue.Light{MattersHigh: part.Draw(t, "burnt") * 0.05, MattersLow: part.Draw(t, "black") * 0.2,
			Level: rapid.Float64Range(-6, 0).Draw(t, "level")}
		if slant := rapid.SampledFrom([]float32{0, 0, 0.3, 0.3, 0.9}).Draw(t, "picture"); slant > 0 {
			more := rapid.SampledFrom([]float64{0, 0, 0.5, -1, math.Inf(-1)})
			onSlope(slant, more.Draw(t, "red"), 0, more.Draw(t, "blue"))(f)
			if m := f.Look.Focus; m != nil {
				m.Columns, m.Rows, m.Grid = 6, 4, slices.Repeat([]uint8{100}, 24)
				for range 6 {
					m.Fine = append(m.Fine, catalogue.FloatOf(rapid.SampledFrom([]float32{0.01, 0.02, 0.005, -1e-6}).Draw(t, "fine")))
					m.Far = append(m.Far, catalogue.FloatOf(rapid.SampledFrom([]float32{0.01, 0.008, 0.01, 0, float32(math.NaN())}).Draw(t, "far")))
				}
			}
		}
	}
	for range rapid.IntRange(0, 2).Draw(t, "rims") {
		f.Look.Rims = append(f.Look.Rims, catalogue.Rim{X: 0.5, Y: 0.75, A: 0.3, B: 0.3 * rapid.Float64Range(0.1, 1).Draw(t, "ratio"),
			Cover: part.Draw(t, "cover"), Support: 0.9, Score: part.Draw(t, "rim")})
	}
	if word := rapid.SampledFrom([]string{"", "", "", "", "test", "chart", "slate", "hero", "overhead"}).Draw(t, "word"); word != "" {
		f.Subjects = append(f.Subjects, word)
	}
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
		if diff := cmp.Diff(want.Roles, got.Roles); diff != "" {
			t.Fatal(diff)
		}
		if diff := cmp.Diff(want.Wants, got.Wants); diff != "" {
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
				if companions(before, f.FrameID, extra.ID) != companions(after, f.FrameID, extra.ID) {
					continue // the frame is not unrelated: it joined two sets
				}
				if got := after.Recipes[i].Needs[j]; (f.Verdict == Settled || f.Verdict == Waived) && got.Verdict != f.Verdict {
					t.Fatalf("%s of %s: %s (%s) became %s (%s)", f.Need, r.ID, f.Verdict, f.Why, got.Verdict, got.Why)
				}
			}
			if got := after.Recipes[i]; r.Strike == MayStrike && got.Strike != MayStrike {
				if strings.HasPrefix(got.StrikeWhy, string(plan.Palette)+":") && neighbours(before, r.ID) != neighbours(after, r.ID) {
					continue // the frame is not unrelated: it became the picture that the palette is held against
				}
				joined := slices.ContainsFunc(r.Needs, func(f Finding) bool {
					return companions(before, f.FrameID, extra.ID) != companions(after, f.FrameID, extra.ID)
				})
				if joined {
					continue
				}
				t.Fatalf("%s may be struck no more: %s", r.ID, got.StrikeWhy)
			}
		}
	})
}

// companions names the frames of the set of a frame, but for one.
func companions(r Report, frame, but catalogue.FrameID) string {
	at := slices.IndexFunc(r.Roles, func(f FrameRoles) bool { return f.Frame == frame })
	if at < 0 || r.Roles[at].Set == 0 {
		return ""
	}
	var all []string
	for _, f := range r.Roles {
		if f.Set == r.Roles[at].Set && f.Frame != but {
			all = append(all, string(f.Frame))
		}
	}
	return strings.Join(all, " ")
}

// neighbours names the pictures on the spread of a recipe and on those next to it.
func neighbours(r Report, recipe string) string {
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
				if f.Verdict == Settled || f.Verdict == Waived {
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

// What is offered for a choice has passed every test: each is made here once
// more, from the frame's own facts.
func TestWhatIsOfferedForAChoiceIsMeasuredAndFit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyShoot(t)
		r := Run(s)
		for _, rec := range r.Recipes {
			for _, f := range rec.Needs {
				if f.Verdict != ToChoose {
					continue
				}
				at := slices.IndexFunc(s.Frames, func(x catalogue.Frame) bool { return x.ID == f.FrameID })
				x := s.Frames[at]
				focus, light := x.Look.Focus, x.Look.Light
				if focus == nil || focus.Full == nil || !(*focus.Full >= s.Rules.FocusFloor) || light == nil ||
					!(light.MattersHigh <= s.Rules.MostBurnt) || !(light.MattersLow <= s.Rules.MostBlocked) || x.Look.Width <= 0 {
					t.Fatalf("%s of %s offers %s: %+v, %+v: %s", f.Need, rec.ID, x.ID, focus, light, f.Why)
				}
				if slices.Contains([]string{"half", "detail", "options 2", "palette"}, f.Need) {
					t.Fatalf("%s of %s is offered for a choice: %s", f.Need, rec.ID, f.Why)
				}
				if idle := x.Subjects[len(x.Subjects)-1]; slices.Contains([]string{"test", "chart", "slate"}, idle) &&
					!slices.ContainsFunc(s.Decisions, func(d catalogue.Decision) bool { return d.Frame == x.ID && d.Kind == catalogue.Choose }) {
					t.Fatalf("%s of %s offers a %s", f.Need, rec.ID, idle)
				}
				if f.Need == "overhead" && x.Exposure.Elevation != nil && *x.Exposure.Elevation > -76 {
					t.Fatalf("%s is offered as overhead: %s", x.ID, f.Why)
				}
				if f.Need == "overhead" && x.Exposure.Elevation == nil && len(x.Look.Rims) == 0 {
					t.Fatalf("%s is offered as overhead, and nothing says so: %s", x.ID, f.Why)
				}
			}
		}
	})
}

// What is not measured is never offered, and never settles by measuring.
func TestWithoutMeasuresNothingIsOffered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyShoot(t)
		focus := rapid.Bool().Draw(t, "focus, not light")
		for i := range s.Frames {
			if focus {
				s.Frames[i].Look.Focus = nil
			} else {
				s.Frames[i].Look.Light = nil
			}
		}
		r := Run(s)
		if focus && len(r.Wants) > 0 {
			t.Fatalf("wanted at 1:1, though nothing of their focus is known: %v", r.Wants)
		}
		for _, rec := range r.Recipes {
			for _, f := range rec.Needs {
				if f.Verdict == ToChoose || f.Verdict == Settled && f.Need != "palette" && !strings.Contains(f.Why, "rests on the person") {
					t.Fatalf("%s of %s: %s, %s", f.Need, rec.ID, f.Verdict, f.Why)
				}
			}
		}
	})
}

// A worse frame is never judged better: what is blurred beyond the floor is
// neither settled nor offered.
func TestBlurIsNeverSettled(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyShoot(t)
		for i := range s.Frames {
			if f := s.Frames[i].Look.Focus; f != nil {
				s.Frames[i].Look.Focus = &catalogue.Focus{Score: 0.1, Full: f64(0.01), Motion: f.Motion}
			} else {
				s.Frames[i].Look.Focus = &catalogue.Focus{Score: 0.1, Full: f64(0)}
			}
		}
		for _, rec := range Run(s).Recipes {
			for _, f := range rec.Needs {
				if (f.Verdict == ToChoose || f.Verdict == Settled || f.Verdict == ToLook) && f.Need != "palette" {
					t.Fatalf("%s of %s: %s, %s", f.Need, rec.ID, f.Verdict, f.Why)
				}
			}
		}
	})
}

func TestWantedFramesAreFewAndNotYetReadAtFullSize(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyShoot(t)
		r := Run(s)
		seen := map[catalogue.FrameID]bool{}
		for _, id := range r.Wants {
			at := slices.IndexFunc(s.Frames, func(x catalogue.Frame) bool { return x.ID == id })
			if seen[id] || at < 0 || s.Frames[at].Look.Focus == nil || s.Frames[at].Look.Focus.Full != nil {
				t.Fatalf("%s is wanted", id)
			}
			seen[id] = true
		}
		if len(r.Wants) > wantsRecipe*len(s.Recipes) {
			t.Fatalf("%d frames are wanted of %d recipes", len(r.Wants), len(s.Recipes))
		}
		for _, f := range r.Roles {
			for _, x := range f.Roles {
				if !(x.Score >= 0 && x.Score <= 1) || len(x.Why) == 0 {
					t.Fatalf("%s: %+v", f.Frame, x)
				}
			}
		}
	})
}

func TestReportOfNothing(t *testing.T) {
	want := `{"book":"","seen":{"frames":0,"cards":[],"last_frame":null,"unplaced":0,"bodies":[]},"recipes":[],"spreads":[],` +
		`"days":{"done":0,"of":0,"days_left":0,"needed_per_day":null,"on_pace":true,"why":"the shooting days are not known","by_day":[],"per_day":null,"ends":null},"props":[],"unplaced":[],"notes":[]}`
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
		f.Exposure.FocalLength, f.Exposure.Focal35 = 50, 50
		dish(0.4+float64(i%5)/20, 0.75, 0.2+float64(i%7)/30)(&f)
		f.Look.Focus.Score, f.Look.Focus.Full = 0.5+float64(i%11)/30, nil
		if i%3 == 0 {
			f.Look.Focus.Full = f64(0.5)
		}
		f.Look.Light = &catalogue.Light{MattersHigh: float64(i%23) / 1000, Level: -2 - float64(i%5)/4}
		cellsOf(&f.Look, 3*r+i%3, float32(i%11)/30)
		for k := range 3 {
			f.Look.Rims = append(f.Look.Rims, catalogue.Rim{X: 0.5, Y: 0.75, A: 0.3, B: 0.3 - float64(i%7)/30, Cover: 0.9, Support: 0.9, Score: 0.9 - float64(k)/5})
		}
		if i%each == 3 {
			s.Decisions = append(s.Decisions, chose(int64(len(s.Decisions)+1), f.Files[0].Name, "hero", s.Recipes[r].ID))
		}
		s.Frames = append(s.Frames, f)
	}
	return s
}

// cellsOf gives a frame the cells of one of many pictures, 24 × 16 of them.
func cellsOf(l *catalogue.Look, picture int, soft float32) {
	f, g := l.Focus, l.Light
	f.Columns, f.Rows, g.Columns, g.Rows = 48, 32, 24, 16
	f.Grid = slices.Repeat([]uint8{90, 120}, 48*16)
	for i := range 24 * 16 {
		v := float32((i*(2*picture+7))%97) / 97
		f.Fine, f.Far = append(f.Fine, catalogue.FloatOf(0.002+0.003*v-0.001*soft)), append(f.Far, catalogue.FloatOf(0.002+0.001*v))
		for c := range g.Stops {
			g.Stops[c] = append(g.Stops[c], catalogue.FloatOf(-3+2*v-0.1*soft))
		}
	}
}

// How fast, BenchmarkRun says: no test takes the time, since other work on the
// machine would fail it.
func TestASeasonIsPlaced(t *testing.T) {
	r := Run(season(2000, 74))
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
	for _, n := range []int{2000, 10000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			s := season(n, 74)
			b.ReportAllocs()
			for b.Loop() {
				Run(s)
			}
		})
	}
}
