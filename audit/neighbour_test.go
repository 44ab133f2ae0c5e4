package audit

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// pages puts the recipes of a book on pages of their own.
func pages(s Shoot, all ...plan.Pages) Shoot {
	for i, p := range all {
		s.Recipes[i].Pages = p
	}
	return s
}

func page(n int) plan.Pages { return plan.Pages{First: n, Last: n} }

// told is what is asserted of a pair: its two recipes, what they are, the
// contrast and the distance to the unit.
func told(n Neighbour) string {
	apart := "?"
	if n.Apart != nil {
		apart = below(*n.Apart)
	}
	return string(n.Kind) + " " + strings.Join(n.Recipes[0], "+") + " " + strings.Join(n.Recipes[1], "+") + ": " + string(n.Contrast) + " " + apart
}

func neighboursOf(r Report) []string {
	var all []string
	for _, s := range r.Spreads {
		for _, n := range s.Neighbours {
			if !n.Repeats {
				all = append(all, told(n))
			}
		}
	}
	return all
}

// Distances are those of greys, see book. Of two pictures together the half of
// the area of each goes to the half of the other's that is nearest; along one
// line of greys, the darker to the darker. From 45 to 55 it is 10. At a mean of
// 85 S_L is 1 + 0.015·1225/√1245 = 1.5208: from 80 to 90 it is 6.575. At 45 it
// is 1 + 0.015·25/√45 = 1.0559: from 10 to 80 it is 66.29. So from 10 and 90
// together to 80 it is the half of both, 36.4.
func TestNeighboursOfEveryKind(t *testing.T) {
	nan := math.NaN()
	for name, c := range map[string]struct {
		s    Shoot
		want []string
	}{
		"a spread each, one leaf between": {pages(book(45, 55), page(25), page(26)), []string{"next R01 R02: fine 10"}},
		"facing pages":                    {pages(book(45, 55), page(24), page(25)), []string{"facing R01 R02: fine 10"}},
		"facing pages too alike":          {pages(book(80, 90), page(24), page(25)), []string{"facing R01 R02: too alike 7"}},
		"facing pages that jar":           {pages(book(0, 100), page(24), page(25)), []string{"facing R01 R02: jarring 100"}},
		"two on one page":                 {pages(book(45, 55), page(24), page(24)), []string{"facing R01 R02: fine 10"}},
		"a facing page not shot":          {pages(book(45, nan), page(24), page(25)), []string{"facing R01 R02: unknown ?"}},
		"two and one, over a turn": {pages(book(10, 90, 80), page(24), page(25), page(26)),
			[]string{"facing R01 R02: jarring 80", "next R01+R02 R03: jarring 36", "turn R02 R03: too alike 7"}},
		"one and two, over a turn": {pages(book(80, 10, 90), page(24), page(26), page(27)),
			[]string{"next R01 R02+R03: jarring 36", "turn R01 R02: jarring 66", "facing R02 R03: jarring 80"}},
		"over pages of text there is more than one turn": {pages(book(10, 90, 80), page(24), page(25), page(30)),
			[]string{"facing R01 R02: jarring 80", "next R01+R02 R03: jarring 36"}},
		"one of two not shot": {pages(book(nan, 90, 80), page(24), page(25), page(26)),
			[]string{"facing R01 R02: unknown ?", "next R01+R02 R03: unknown ?", "turn R02 R03: too alike 7"}},
		"over a double page": {pages(book(45, 55, 45), page(23), plan.Pages{First: 24, Last: 25}, page(26)),
			[]string{"next R01 R02: fine 10", "next R02 R03: fine 10"}},
	} {
		t.Run(name, func(t *testing.T) {
			got := neighboursOf(Run(c.s))
			slices.Sort(got)
			slices.Sort(c.want)
			if !slices.Equal(got, c.want) {
				t.Errorf("got  %q\nwant %q", got, c.want)
			}
		})
	}
}

func TestNeighbourSaysPagesFigureAndThreshold(t *testing.T) {
	r := Run(pages(book(10, 90, 80, math.NaN()), page(24), page(25), page(26), page(29)))
	want := []string{
		"R01 (page 24) and R02 (page 25), which face each other: 80.0 apart, jarring over 30",
		"R01, R02 (pages 24-25) and R03 (page 26), the next: 36.4 apart, jarring over 30",
		"over the page turn, R02 (page 25, recto) and R03 (page 26, verso): 6.6 apart, too alike under 10",
		"R03 (page 26) and R04 (page 29), the next: not known, R04 has no picture yet",
		"over the page turn, R03 (page 26, verso) and R04 (page 29, recto): not known, R04 has no picture yet",
	}
	var got []string
	for _, s := range r.Spreads {
		for _, n := range s.Neighbours {
			got = append(got, n.Why)
			if wide := n.Contrast == Jars; (n.Threshold == 30) != wide || (n.Threshold == 10) == wide {
				t.Errorf("%s: threshold %g", n.Why, n.Threshold)
			}
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if x := r.Spreads[0].ToNext; x == nil || *x != *r.Spreads[0].Neighbours[1].Apart {
		t.Errorf("to next %v is not the figure of the next spread", x)
	}
}

func TestATurnOfTheSamePicturesIsSaidOnce(t *testing.T) {
	r := Run(pages(book(50, 54), page(25), page(26)))
	n := r.Spreads[0].Neighbours
	if len(n) != 2 || n[0].Repeats || !n[1].Repeats || *n[0].Apart != *n[1].Apart {
		t.Fatalf("%+v", n)
	}
	if why := r.Spreads[0].Why; strings.Contains(why, "turn") {
		t.Errorf("%q", why)
	}
}

// Facing pages and page turns bear on the palette of the pictures they are of,
// and of no other.
func TestFacingPagesAndTurnsBearOnPalettes(t *testing.T) {
	r := Run(pages(book(10, 90, 80), page(24), page(25), page(26)))
	for id, want := range map[string]struct {
		v    Verdict
		part string
	}{
		"R01": {Settled, "80.0 to the facing page (R02, page 25)"},
		"R02": {ToReshoot, "too alike: 6.6 to the picture after the page turn (R03, page 26)"},
		"R03": {ToReshoot, "too alike: 6.6 to the picture before the page turn (R02, page 25)"},
	} {
		if got := finding(r, id, "palette"); got.Verdict != want.v || !strings.Contains(got.Why, want.part) {
			t.Errorf("%s: %s, %q", id, got.Verdict, got.Why)
		}
	}
	if s := r.Spreads[0]; s.Verdict != ToReshoot || !strings.HasPrefix(s.Why, "R02: too alike") || strings.Contains(s.Why, "R01: ") {
		t.Errorf("%s: %q", s.Verdict, s.Why)
	}
	s := pages(book(45, math.NaN()), page(24), page(25))
	if got := finding(Run(s), "R01", "palette"); got.Verdict != ToLook || got.Why != "the facing page (R02, page 25) has no picture with a palette yet" {
		t.Errorf("%s: %q", got.Verdict, got.Why)
	}
	if got := Run(s).Spreads[0]; got.Verdict != ToShoot || got.Why != "1 of its 2 pictures are there" {
		t.Errorf("%s: %q", got.Verdict, got.Why)
	}
}

// A palette without area, or with a figure that is none, is no palette: it is
// unknown, and the report can still be written as JSON.
func TestAPaletteWithoutAreaIsUnknown(t *testing.T) {
	for name, p := range map[string][]colour.Swatch{
		"no area":     {{Lab: colour.Lab{L: 50}}},
		"no number":   {{Lab: colour.Lab{L: math.NaN()}, Share: 1}},
		"no end":      {{Lab: colour.Lab{L: 50}, Share: math.Inf(1)}},
		"no swatches": {},
	} {
		s := book(20, 80)
		s.Frames[1].Look.Palette = p
		r := Run(s)
		if n := r.Spreads[0].Neighbours[0]; n.Contrast != Unknown || n.Apart != nil || r.Spreads[0].ToNext != nil || r.Spreads[1].Verdict != ToLook {
			t.Errorf("%s: %+v, %s", name, n, r.Spreads[1].Verdict)
		}
		if _, err := json.Marshal(r); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Along the greys from L 50 to 51 ΔE2000 is 1/S_L with S_L = 1 + 0.015·0.25/√20.25.
func TestSameSurfaceIsAFindingOfItsOwn(t *testing.T) {
	on := func(l ...float64) Shoot {
		s := book(20, 80)
		for i, x := range l {
			s.Frames[i].Look.Surface = &colour.Swatch{Lab: colour.Lab{L: x}}
		}
		return s
	}
	noBorder := on(50)
	noBorder.Frames[1].Look.Surface = nil
	noColour := on(50, math.NaN())
	unshot := on(50, 50)
	unshot.Frames, unshot.Decisions = unshot.Frames[:1], unshot.Decisions[:1]
	for name, c := range map[string]struct {
		s     Shoot
		want  Ground
		apart float64
		why   string
	}{
		"one surface":           {on(50, 51), SameGround, 1 / (1 + 0.015*0.25/math.Sqrt(20.25)), "R01 (page 11) and R02 (page 13): one surface, 1.0 apart, under 5"},
		"below by a hair":       {on(50, 55.0), SameGround, 5 / (1 + 0.015*6.25/math.Sqrt(26.25)), "one surface, 4.9 apart, under 5"},
		"another":               {on(45, 55), OtherGround, 10, "surfaces 10.0 apart, 5 is the threshold"},
		"at the threshold":      {on(47.5, 52.5), OtherGround, 5, "surfaces 5.0 apart"},
		"no border of a colour": {noBorder, UnknownGround, 0, "not known, the picture of R02 has no surface of one colour"},
		"not a colour":          {noColour, UnknownGround, 0, "not known, a surface has no colour"},
		"not shot":              {unshot, UnknownGround, 0, "not known, R02 has no picture yet"},
	} {
		all := Run(c.s).Spreads[0].Surfaces
		if len(all) != 1 {
			t.Errorf("%s: %d pairs", name, len(all))
			continue
		}
		g := all[0]
		if g.Ground != c.want || !strings.Contains(g.Why, c.why) || (g.Apart == nil) != (c.want == UnknownGround) || g.Threshold != 5 || g.Kind != NextSpread {
			t.Errorf("%s: %+v", name, g)
		}
		if g.Apart != nil && math.Abs(*g.Apart-c.apart) > 1e-9 {
			t.Errorf("%s: %v apart, want %v", name, *g.Apart, c.apart)
		}
	}
	facing := Run(pages(on(50, 51), page(24), page(25))).Spreads[0].Surfaces
	if len(facing) != 1 || facing[0].Kind != Facing || facing[0].Ground != SameGround {
		t.Errorf("facing: %+v", facing)
	}
}

// again adds a frame of a recipe that may serve as its hero.
func again(s Shoot, id, name string, l float64) Shoot {
	f := shotAt(name, 5000+l, id)
	f.Look.Palette = flat(l, 0, 0)
	s.Frames = append(s.Frames, f)
	return s
}

func without(s Shoot, id string) Shoot {
	s.Decisions = slices.DeleteFunc(s.Decisions, func(d catalogue.Decision) bool { return d.Recipe == id })
	return s
}

func TestAPaletteThatClashes(t *testing.T) {
	tooSmall := again(book(50, 54), "R02", "R02B.JPG", 80)
	tooSmall.Frames[2].Look.Width, tooSmall.Frames[2].Look.Height = 400, 600
	unread := again(book(50, 54), "R02", "R02B.JPG", 80)
	unread.Frames[2].Look.Palette = nil
	darker := again(book(50, 54), "R02", "R02B.JPG", 30)
	darker.Frames[1].Look.Light, darker.Frames[2].Look.Light = &catalogue.Light{Level: -2}, &catalogue.Light{Level: -3.2}
	blue := book(50, 54)
	blue.Frames[0].Look.Palette = []colour.Swatch{
		{Lab: colour.Lab{L: 50}, Share: 0.30, Hex: "#777777", Name: "medium grey"}, {Lab: colour.Lab{L: 51}, Share: 0.2, Hex: "#797979", Name: "light grey"},
		{Lab: colour.Lab{L: 52}, Share: 0.35, Hex: "#7c7c7c", Name: "pale grey"}, {Lab: colour.Lab{L: 49}, Share: 0.15, Hex: "#747474", Name: "dark grey"}}
	blue.Frames[0].Look.Surface = &colour.Swatch{Lab: colour.Lab{L: 90}, Hex: "#e2e2e2", Name: "white"}
	for name, c := range map[string]struct {
		s      Shoot
		want   Verdict // of the palette of R02
		parts  []string
		others []string // the names of frames
	}{
		"no other frame": {book(50, 54), ToReshoot, []string{"it has no other frame that may serve: shoot it again, away from the colours of R01: "}, nil},
		"named by weight, with the surface": {blue, ToReshoot,
			[]string{"the colours of R01: pale grey #7c7c7c, medium grey #777777, light grey #797979, on a surface of white #e2e2e2"}, nil},
		"no other that differs": {again(book(50, 54), "R02", "R02B.JPG", 55), ToReshoot, []string{"none of its other frames that may serve differs: shoot it again"}, nil},
		"another that differs": {again(again(book(50, 54), "R02", "R02B.JPG", 65), "R02", "R02C.JPG", 80), ToLook,
			[]string{"R02C.JPG would differ, ", " to the spread before (R01, page 11): look at it and choose again"}, []string{"R02C.JPG", "R02B.JPG"}},
		"another that differs, none chosen": {without(again(book(50, 54), "R02", "R02B.JPG", 80), "R02"), ToLook, []string{"R02B.JPG would differ", "look at it and choose it"}, []string{"R02B.JPG"}},
		"none chosen, none differs":         {without(again(book(50, 54), "R02", "R02B.JPG", 52), "R02"), ToReshoot, []string{"none of its other frames that may serve differs"}, nil},
		"another that is not fit":           {tooSmall, ToReshoot, []string{"it has no other frame that may serve"}, nil},
		"another that could not be read":    {unread, ToLook, []string{"1 other frame that may serve could not be read, so its colours are not known"}, []string{"R02B.JPG"}},
		"another that is only darker":       {darker, ToLook, []string{"(it is 1.2 stops darker: that may be all that differs)"}, []string{"R02B.JPG"}},
		"another that clashes with the other side": {again(book(50, 54, 90), "R02", "R02B.JPG", 88), ToReshoot,
			[]string{"none of its other frames that may serve differs"}, nil},
		"the other side is not chosen, so it is not counted": {without(again(book(50, 54, 90), "R02", "R02B.JPG", 88), "R03"), ToLook, []string{"R02B.JPG would differ"}, []string{"R02B.JPG"}},
		"it is the neighbour that may move": {again(book(50, 54), "R01", "R01B.JPG", 20), ToReshoot,
			[]string{"it has no other frame that may serve", "; or choose again for R01, whose originals/2026-03-04/skarv-1/R01B.JPG would differ"}, nil},
		"both sides clash": {book(50, 54, 52), ToReshoot, []string{"too alike: 4.0 to the spread before (R01, page 11) and 2.0 to the next (R03, page 15)", "colours of R01: ", ", and the colours of R03: "}, nil},
		"the facing page":  {pages(book(50, 54), page(24), page(25)), ToReshoot, []string{"too alike: 4.0 to the facing page (R01, page 24)", "away from the colours of R01: "}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			f := finding(Run(c.s), "R02", "palette")
			if f.Verdict != c.want {
				t.Errorf("%s, want %s: %q", f.Verdict, c.want, f.Why)
			}
			for _, p := range c.parts {
				if !strings.Contains(f.Why, p) {
					t.Errorf("%q: want …%s…", f.Why, p)
				}
			}
			var others []string
			for _, o := range f.Others {
				others = append(others, o[strings.LastIndex(o, "/")+1:])
			}
			if !slices.Equal(others, c.others) {
				t.Errorf("others %v, want %v", others, c.others)
			}
		})
	}
}

func TestAStepJarsOverItsThresholdAndNotAtIt(t *testing.T) {
	s := book(45, 55)
	x := *Run(s).Spreads[0].ToNext
	for threshold, want := range map[float64]Contrast{x - 0.01: Jars, x: Fine, x + 0.01: Fine, 0: Fine} {
		s.Rules.Jarring = threshold
		if n := Run(s).Spreads[0].Neighbours[0]; n.Contrast != want {
			t.Errorf("%v apart, jarring over %v: %s", x, threshold, n.Contrast)
		}
	}
}

// Of a recipe without a frame that may serve nothing is known: its hero is to
// be shot again, and the palette with it may differ.
func TestAnUnfitPictureThatNobodyChoseDoesNotReshootItsPalette(t *testing.T) {
	s := without(book(50, 52), "R02")
	s.Frames[1].Look.Width, s.Frames[1].Look.Height = 300, 450
	if f := finding(Run(s), "R02", "palette"); f.Verdict != ToLook || !strings.HasPrefix(f.Why, "too alike as it stands") {
		t.Errorf("%s: %q", f.Verdict, f.Why)
	}
}
