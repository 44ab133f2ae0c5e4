package audit

import (
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// change makes a frame unlike the fit one that shotAt gives.
type change func(*catalogue.Frame)

func sized(w, h int) change {
	return func(f *catalogue.Frame) { f.Look.Width, f.Look.Height = w, h }
}
func from(elevation float64) change {
	return func(f *catalogue.Frame) { f.Exposure.Elevation = f64(-elevation) }
}
func rated(x float64) change { return func(f *catalogue.Frame) { f.Rating = f64(x) } }
func unread(f *catalogue.Frame) {
	f.Look = catalogue.Look{}
	f.Unread = "the file ends early"
}

func damaged(f *catalogue.Frame) {
	f.Look.Preview, f.Unread = catalogue.Damaged, "a.JPG: JPEG: damaged: 12 % of the picture can't be read"
}

func with(all ...change) change {
	return func(f *catalogue.Frame) {
		for _, c := range all {
			c(f)
		}
	}
}

func TestVerdictOfEveryNeed(t *testing.T) {
	none := []change(nil)
	fit := with(from(85))
	for _, c := range []struct {
		name   string
		kind   plan.NeedKind
		frames []change // named a.JPG, b.JPG, …
		chosen string   // names, by comma
		want   Verdict
		why    string // a part of it
		frame  string
	}{
		{"hero without a frame", plan.Hero, none, "", ToShoot, "no frame shows it", ""},
		{"hero of fit frames that nobody chose", plan.Hero, []change{fit, fit}, "", ToLook, "2 frames may serve", "a.JPG"},
		{"hero with too few pixels", plan.Hero, []change{sized(1200, 1800)}, "", ToReshoot, "199 ppi on 153×206 mm; 240 is the floor: move closer or print it smaller", "a.JPG"},
		{"hero just below the floor is not rounded up to it", plan.Hero, []change{sized(1445, 6000)}, "", ToReshoot, "239.9 ppi", "a.JPG"},
		{"hero at the floor", plan.Hero, []change{sized(1446, 6000)}, "", ToLook, "240 ppi on 153×206 mm (300 is good, 240 the floor)", "a.JPG"},
		{"hero that lies", plan.Hero, []change{sized(6000, 4000)}, "", ToReshoot, "stands landscape", "a.JPG"},
		{"hero rejected by its rating", plan.Hero, []change{rated(-1)}, "", ToReshoot, "rejected", "a.JPG"},
		{"hero of unknown size", plan.Hero, []change{unread}, "", ToLook, "the file ends early", "a.JPG"},
		{"hero whose file is damaged", plan.Hero, []change{damaged}, "", ToReshoot, "its file is damaged: a.JPG: JPEG: damaged: 12 %", "a.JPG"},
		{"chosen hero whose file is damaged", plan.Hero, []change{damaged}, "a.JPG", ToReshoot, "its file is damaged", "a.JPG"},
		{"hero whose file is damaged beside a whole one", plan.Hero, []change{damaged, fit}, "", ToLook, "1 frame may serve", "b.JPG"},
		{"overhead whose file is damaged", plan.NeedOverhead, []change{with(from(85), damaged)}, "", ToReshoot, "its file is damaged", "a.JPG"},
		{"hero, the higher rating speaks", plan.Hero, []change{rated(2), rated(4)}, "", ToLook, "may serve", "b.JPG"},
		{"chosen fit hero", plan.Hero, []change{fit}, "a.JPG", Settled, "rests on the person who chose: focus and light", "a.JPG"},
		{"chosen hero of unknown size", plan.Hero, []change{unread}, "a.JPG", ToLook, "not known", "a.JPG"},
		{"chosen hero too small, none better", plan.Hero, []change{sized(1200, 1800)}, "a.JPG", ToReshoot, "199 ppi", "a.JPG"},
		{"chosen hero too small, another serves", plan.Hero, []change{sized(1200, 1800), fit}, "a.JPG", ToLook, "1 other frame may serve", "a.JPG"},
		{"chosen hero though rated −1: the choice is later and plainer", plan.Hero, []change{rated(-1)}, "a.JPG", Settled, "", "a.JPG"},

		{"overhead without a frame", plan.NeedOverhead, none, "", ToShoot, "no frame shows it", ""},
		{"overhead of side views", plan.NeedOverhead, []change{from(40), from(62)}, "", ToShoot, "it looks down at 62°", ""},
		{"overhead well below the bound", plan.NeedOverhead, []change{from(72.5)}, "", ToShoot, "it looks down at 72°", ""},
		{"overhead just below the bound: a level errs too", plan.NeedOverhead, []change{from(74.9)}, "", ToLook, "it looks like 74.9°, too near 75°", "a.JPG"},
		{"overhead on the bound", plan.NeedOverhead, []change{from(75)}, "", ToLook, "it looks like 75°", "a.JPG"},
		{"overhead from 76°", plan.NeedOverhead, []change{from(76)}, "", ToLook, "taken from 76°", "a.JPG"},
		{"overhead of unknown elevation", plan.NeedOverhead, []change{sized(4000, 6000)}, "", ToLook, "whether it is seen from above: no round rim found", "a.JPG"},
		{"overhead with too few pixels", plan.NeedOverhead, []change{with(from(88), sized(1200, 1800))}, "", ToReshoot, "199 ppi", "a.JPG"},
		{"chosen overhead", plan.NeedOverhead, []change{from(88)}, "a.JPG", Settled, "taken from 88°", "a.JPG"},
		{"chosen overhead of unknown elevation", plan.NeedOverhead, []change{sized(4000, 6000)}, "a.JPG", Settled, "rests on the person who chose: whether it is seen from above", "a.JPG"},
		{"chosen overhead that is none", plan.NeedOverhead, []change{from(40)}, "a.JPG", ToReshoot, "it looks down at 40°", "a.JPG"},
		{"chosen overhead that is none, another is", plan.NeedOverhead, []change{from(40), from(88)}, "a.JPG", ToLook, "look and choose again", "a.JPG"},

		{"half without a frame", plan.Half, none, "", ToShoot, "", ""},
		{"half of a small frame", plan.Half, []change{sized(1620, 1080)}, "", ToReshoot, "810×810 px for 1:1, 1080×1080 are needed", "a.JPG"},
		{"half of a large frame", plan.Half, []change{sized(6000, 4000)}, "", ToLook, "whether a half holds the dish", "a.JPG"},
		{"half of unknown size", plan.Half, []change{unread}, "", ToLook, "not known", "a.JPG"},
		{"chosen half", plan.Half, []change{sized(6000, 4000)}, "a.JPG", Settled, "whether a half holds the dish", "a.JPG"},
		{"chosen half too small", plan.Half, []change{sized(1620, 1080)}, "a.JPG", ToReshoot, "", "a.JPG"},

		{"portrait of lying frames", plan.NeedPortrait, []change{sized(6000, 4000)}, "", ToShoot, "stands landscape, not portrait", ""},
		{"portrait", plan.NeedPortrait, []change{fit}, "", ToLook, "", "a.JPG"},
		{"portrait too small", plan.NeedPortrait, []change{sized(800, 1200)}, "", ToReshoot, "ppi", "a.JPG"},
		{"chosen portrait", plan.NeedPortrait, []change{fit}, "a.JPG", Settled, "", "a.JPG"},
		{"landscape of standing frames", plan.NeedLandscape, []change{fit}, "", ToShoot, "stands portrait, not landscape", ""},
		{"landscape", plan.NeedLandscape, []change{sized(6000, 4000)}, "", ToLook, "", "a.JPG"},
		{"chosen landscape that stands", plan.NeedLandscape, []change{fit}, "a.JPG", ToReshoot, "not landscape", "a.JPG"},
		{"chosen landscape", plan.NeedLandscape, []change{sized(6000, 4000)}, "a.JPG", Settled, "", "a.JPG"},

		{"detail without a frame", plan.Detail, none, "", ToShoot, "", ""},
		{"detail", plan.Detail, []change{sized(1200, 800)}, "", ToLook, "whether it is the detail that is meant", "a.JPG"},
		{"detail rejected by its rating", plan.Detail, []change{rated(-1)}, "", ToReshoot, "rejected", "a.JPG"},
		{"chosen detail", plan.Detail, []change{sized(1200, 800)}, "a.JPG", Settled, "rests on the person", "a.JPG"},
		{"process without a frame", plan.Process, none, "", ToShoot, "", ""},
		{"process", plan.Process, []change{fit}, "", ToLook, "", "a.JPG"},
		{"chosen process", plan.Process, []change{fit}, "a.JPG", Settled, "", "a.JPG"},
		{"opener without a frame", plan.Opener, none, "", ToShoot, "", ""},
		{"opener", plan.Opener, []change{fit}, "", ToLook, "", "a.JPG"},
		{"opener too small", plan.Opener, []change{sized(800, 1200)}, "", ToReshoot, "ppi", "a.JPG"},
		{"chosen opener", plan.Opener, []change{fit}, "a.JPG", Settled, "", "a.JPG"},

		{"options without a frame", plan.Options, none, "", ToShoot, "no frame shows it", ""},
		{"options, one frame of two", plan.Options, []change{fit}, "", ToShoot, "2 set-ups are asked for, only 1 frame may serve", "a.JPG"},
		{"options, all too small", plan.Options, []change{sized(800, 1200), sized(800, 1200)}, "", ToReshoot, "ppi", "a.JPG"},
		{"options, enough frames", plan.Options, []change{fit, fit}, "", ToLook, "0 of them chosen", "a.JPG"},
		{"options, one chosen", plan.Options, []change{fit, fit}, "b.JPG", ToLook, "1 of them chosen", "b.JPG"},
		{"options, both chosen", plan.Options, []change{fit, fit}, "a.JPG,b.JPG", Settled, "2 chosen by hand", "a.JPG"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var frames []catalogue.Frame
			for i, change := range c.frames {
				f := shotAt(string(rune('a'+i))+".JPG", float64(i), "R01")
				change(&f)
				frames = append(frames, f)
			}
			need := needs(c.kind)[0].String()
			var said []catalogue.Decision
			for i, name := range strings.FieldsFunc(c.chosen, func(r rune) bool { return r == ',' }) {
				said = append(said, chose(int64(i+1), name, need, "R01"))
			}
			s := shootOf([]plan.Recipe{recipe("R01", "Dark rye", 11, c.kind)}, frames, said...)
			got := finding(Run(s), "R01", need)
			if got.Verdict != c.want || !strings.Contains(got.Why, c.why) {
				t.Errorf("%s: %q, want %s: …%s…", got.Verdict, got.Why, c.want, c.why)
			}
			if frame := ""; got.Frame != nil || c.frame != "" {
				if got.Frame != nil {
					frame = strings.TrimPrefix(*got.Frame, "originals/2026-03-04/skarv-1/")
				}
				if frame != c.frame {
					t.Errorf("speaks of %q, want %q", frame, c.frame)
				}
			}
			// A waiver ends every need, whatever was shot.
			s.Decisions = append(s.Decisions, catalogue.Decision{ID: 99, Kind: catalogue.Waive, Recipe: "R01", Need: need, Why: "not this year"})
			r := Run(s)
			if got := finding(r, "R01", need); got.Verdict != Waived || got.Why != "not this year" {
				t.Errorf("waived: %s, %q", got.Verdict, got.Why)
			}
			if r.Recipes[0].Strike != MayStrike {
				t.Errorf("all waived, yet %s: %s", r.Recipes[0].Strike, r.Recipes[0].StrikeWhy)
			}
		})
	}
}

func TestHeroHoldsToThePlannedAngle(t *testing.T) {
	for _, c := range []struct {
		name string
		f    change
		want Verdict
		why  string
	}{
		{"as planned", from(40), Settled, "seen at 40° (three-quarter)"},
		{"from above", from(85), ToReshoot, "looked down at 85° (overhead), the plan wants three-quarter"},
		{"too low", from(22), ToReshoot, "looked down at 22° (low), the plan wants three-quarter"},
		{"just too low: a level errs too", from(24.9), Settled, "rests on the person who chose: whether it is seen three-quarter, as planned: it looks like 24.9°"},
		{"not known", rated(3), Settled, "rests on the person who chose: whether it is seen three-quarter"},
	} {
		f := shotAt("a.JPG", 0, "R01")
		c.f(&f)
		r := recipe("R01", "Dark rye", 11, plan.Hero)
		r.Angle = plan.ThreeQuarter
		got := finding(Run(shootOf([]plan.Recipe{r}, []catalogue.Frame{f}, chose(1, "a.JPG", "hero", "R01"))), "R01", "hero")
		if got.Verdict != c.want || !strings.Contains(got.Why, c.why) {
			t.Errorf("%s: %s, %q, want %s: …%s…", c.name, got.Verdict, got.Why, c.want, c.why)
		}
	}
}

func TestUnknownPrintedSizeIsNeverSettled(t *testing.T) {
	r := recipe("R01", "Dark rye", 11, plan.Hero)
	r.Size, r.Pages = plan.Size{}, plan.Pages{}
	got := finding(Run(shootOf([]plan.Recipe{r}, []catalogue.Frame{shotAt("a.JPG", 0, "R01")}, chose(1, "a.JPG", "hero", "R01"))), "R01", "hero")
	if got.Verdict != ToLook || !strings.Contains(got.Why, "give it pages or a size") {
		t.Errorf("%s: %q", got.Verdict, got.Why)
	}
}

func TestChoicesThatNoLongerHoldAreSaid(t *testing.T) {
	recipes := []plan.Recipe{recipe("R01", "Dark rye", 11, plan.Hero), recipe("R02", "Smoked trout", 13, plan.Hero)}
	frames := []catalogue.Frame{shotAt("a.JPG", 0, "R01"), shotAt("b.JPG", 600, "R02")}
	for _, c := range []struct {
		name string
		said []catalogue.Decision
		part string
		want Verdict // on the hero of R01
	}{
		{"its frame is gone", []catalogue.Decision{chose(1, "gone.JPG", "hero", "R01")}, "no longer in the catalogue", ToLook},
		{"its recipe is gone", []catalogue.Decision{chose(1, "a.JPG", "hero", "R77")}, "the plan has no R77: was it renumbered?", ToShoot},
		{"another recipe later", []catalogue.Decision{chose(1, "a.JPG", "hero", "R01"), assigned(2, "a.JPG", "R02")}, "said later that it shows R02", ToShoot},
		{"no recipe later", []catalogue.Decision{chose(1, "a.JPG", "hero", "R01"), assigned(2, "a.JPG", "")}, "said later that it shows no recipe", ToShoot},
		{"a waiver of a recipe that is gone", []catalogue.Decision{{ID: 1, Kind: catalogue.Waive, Recipe: "R88", Need: "half"}}, "half of R88 is waived", ToLook},
	} {
		r := Run(shootOf(recipes, frames, c.said...))
		if !hasNote(r, "decision", c.part) {
			t.Errorf("%s: notes %v, want …%s…", c.name, r.Notes, c.part)
		}
		if got := finding(r, "R01", "hero"); got.Verdict != c.want {
			t.Errorf("%s: %s, %q, want %s", c.name, got.Verdict, got.Why, c.want)
		}
	}
}

func TestChoiceOfAnUnnamedRecipeIsOfTheMatchedOne(t *testing.T) {
	r := Run(shootOf([]plan.Recipe{recipe("R01", "Dark rye", 11, plan.Hero)}, []catalogue.Frame{shotAt("a.JPG", 0, "R01")}, chose(1, "a.JPG", "hero", "")))
	if got := finding(r, "R01", "hero"); got.Verdict != Settled {
		t.Errorf("%s: %q", got.Verdict, got.Why)
	}
}

func TestStrikeHoldsForTheMostUrgentNeed(t *testing.T) {
	f := shotAt("a.JPG", 0, "R01")
	f.Exposure.Elevation = f64(-40)
	s := shootOf([]plan.Recipe{recipe("R01", "Dark rye", 11, plan.Half, plan.NeedOverhead, plan.Hero)}, []catalogue.Frame{f}, chose(1, "a.JPG", "hero", "R01"))
	r := Run(s).Recipes[0]
	if r.Strike != Hold || !strings.HasPrefix(r.StrikeWhy, "overhead: shoot (") {
		t.Errorf("%s: %q", r.Strike, r.StrikeWhy)
	}
	s.Decisions = append(s.Decisions, chose(2, "a.JPG", "half", "R01"), catalogue.Decision{ID: 3, Kind: catalogue.Waive, Recipe: "R01", Need: "overhead"})
	if r := Run(s).Recipes[0]; r.Strike != MayStrike {
		t.Errorf("%s: %q", r.Strike, r.StrikeWhy)
	}
}
