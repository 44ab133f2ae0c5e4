package audit

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// sharpAs gives a frame a focus: score on screen, and at 1:1 where full is
// not negative.
func sharpAs(score, full float64) change {
	return func(f *catalogue.Frame) {
		f.Look.Focus = &catalogue.Focus{Score: score}
		if full >= 0 {
			f.Look.Focus.Full = &full
		}
	}
}

func moved(share, along, seconds float64) change {
	return func(f *catalogue.Frame) {
		f.Look.Focus.Motion, f.Look.Focus.Direction, f.Exposure.Seconds = share, along, seconds
	}
}

func litAs(burnt, black float64) change {
	return func(f *catalogue.Frame) {
		f.Look.Light = &catalogue.Light{MattersHigh: burnt, MattersLow: black, MattersBy: [3]float64{burnt, burnt, burnt}, Level: -2.5}
	}
}

// onSlope gives a frame a picture of its own slant in cells of 6 × 4, under so
// much more light by channel, in stops.
func onSlope(slant float32, r, g, b float64) change {
	return func(f *catalogue.Frame) {
		l := f.Look.Light
		l.Columns, l.Rows = 6, 4
		for c, more := range [3]float64{r, g, b} {
			l.Stops[c] = make(catalogue.Floats, 24)
			for i := range l.Stops[c] {
				l.Stops[c][i] = catalogue.FloatOf(-3 + slant*float32(i%6-3) + (1-slant)*float32(i/6-2) + float32(more))
			}
		}
	}
}

func level(stops float64) change { return func(f *catalogue.Frame) { f.Look.Light.Level = stops } }
func lens(mm float64) change     { return func(f *catalogue.Frame) { f.Exposure.FocalLength = mm } }
func said(subject string) change {
	return func(f *catalogue.Frame) { f.Subjects = append(f.Subjects, subject) }
}

// plate puts a rim in the middle of the frame, a share of its width wide and
// a part of that tall.
func plate(ratio float64) change {
	return func(f *catalogue.Frame) {
		f.Exposure.FocalLength, f.Exposure.Focal35 = 50, 50
		f.Look.Rims = []catalogue.Rim{{X: 0.5, Y: 0.75, A: 0.3, B: 0.3 * ratio, Cover: 0.95, Support: 0.95, Score: 0.9}}
	}
}

// all that a camera tells and pixels measure, and all well: a three-quarter
// view with 50 mm.
var well = with(from(40), lens(50), sharpAs(0.8, 0.6), litAs(0.004, 0.01))
var wellAbove = with(well, from(88))

func TestVerdictByFocusLightAngleAndRole(t *testing.T) {
	soft, blurred := with(well, sharpAs(0.3, -1)), with(well, sharpAs(0.3, 0.05))
	for _, c := range []struct {
		name   string
		kind   plan.NeedKind
		frames []change // named a.JPG, b.JPG, …
		chosen string
		want   Verdict
		why    string // parts of it, by |; one after ! must not stand there
		frame  string
		wants  string // frames wanted at 1:1
	}{
		{"hero that passes every test", plan.Hero, []change{well}, "", ToChoose, "1 frame passes every test, nobody has chosen|sharp (0.60 at 1:1)|light holds", "a.JPG", ""},
		{"hero chosen that passes every test", plan.Hero, []change{well}, "a.JPG", Settled, "chosen by hand; stands portrait|sharp|!rests on", "a.JPG", ""},
		{"of two heroes one passes every test", plan.Hero, []change{with(well, sharpAs(0.8, -1)), well}, "", ToChoose, "1 frame passes", "b.JPG", ""},
		{"hero without its focus", plan.Hero, []change{with(from(40), litAs(0, 0))}, "", ToLook, "eyes must tell: focus", "a.JPG", ""},
		{"hero without its light", plan.Hero, []change{with(from(40), sharpAs(0.8, 0.6))}, "", ToLook, "eyes must tell: light", "a.JPG", ""},
		{"hero chosen without its light", plan.Hero, []change{with(from(40), sharpAs(0.8, 0.6))}, "a.JPG", Settled, "rests on the person who chose: light", "a.JPG", ""},
		{"hero not read at 1:1", plan.Hero, []change{with(well, sharpAs(0.8, -1))}, "", ToLook, "sharpness at 1:1, not read yet", "a.JPG", "a.JPG"},
		{"chosen hero not read at 1:1", plan.Hero, []change{with(well, sharpAs(0.8, -1)), well}, "a.JPG", Settled, "rests on the person who chose: sharpness at 1:1", "a.JPG", "a.JPG"},
		{"hero soft at 1:1", plan.Hero, []change{blurred}, "", ToReshoot, "its only frame is not fit: it is soft, out of focus: sharpness 0.05 at 1:1, 0.37 is the floor", "a.JPG", ""},
		{"hero at the floor at 1:1", plan.Hero, []change{with(well, sharpAs(0.8, 0.37))}, "", ToChoose, "0.37 at 1:1", "a.JPG", ""},
		{"hero a hair below the floor is not rounded up to it", plan.Hero, []change{with(well, sharpAs(0.8, 0.3699))}, "", ToReshoot, "sharpness 0.3699 at 1:1", "a.JPG", ""},
		{"hero moved", plan.Hero, []change{with(blurred, moved(0.8, 12, 0.5))}, "", ToReshoot, "blurred by motion along 12° (0.80) in 0.5 s: the floor or the camera moved|!out of focus", "a.JPG", ""},
		{"hero moved in a short exposure", plan.Hero, []change{with(blurred, moved(0.8, 12, 0.01))}, "", ToReshoot, "blurred by motion along 12°|!the floor or", "a.JPG", ""},
		{"hero of boards: lines of one direction are no fault", plan.Hero, []change{with(well, moved(0.8, 12, 0.5))}, "", ToChoose, "more is lost along 12° than across it (0.80)", "a.JPG", ""},
		{"chosen hero softer than an alike one", plan.Hero, []change{soft, well}, "a.JPG", ToLook, "the chosen frame is not fit: it is soft, out of focus: focus 0.37 of the sharpest alike frame of its set, b.JPG; 0.7 is the floor|1 other frame may serve", "a.JPG", ""},
		{"chosen hero softer than one that shows it otherwise", plan.Hero, []change{soft, wellAbove}, "a.JPG", Settled, "rests on the person who chose: sharpness at 1:1, not read yet: focus 0.37 of the set's best, which shows it otherwise", "a.JPG", "a.JPG"},
		{"chosen hero softer than one of another lens", plan.Hero, []change{soft, with(well, lens(90))}, "a.JPG", Settled, "which shows it otherwise", "a.JPG", "a.JPG"},
		{"chosen hero softer than one of unknown angle", plan.Hero, []change{soft, func(f *catalogue.Frame) { well(f); f.Exposure.Elevation = nil }}, "a.JPG", Settled, "which shows it otherwise", "a.JPG", "a.JPG"},
		{"softest that is still fit", plan.Hero, []change{with(well, sharpAs(0.57, 0.5)), well}, "a.JPG", Settled, "focus 0.71 of the set's best", "a.JPG", ""},
		{"hero burnt", plan.Hero, []change{with(well, litAs(0.08, 0))}, "", ToReshoot, "8 % of what matters is burnt out (white: crockery, cloth or cream as a rule), 2 % may be", "a.JPG", ""},
		{"hero a hair over the limit is not rounded down to it", plan.Hero, []change{with(well, litAs(0.020004, 0))}, "", ToReshoot, "2.0004 % of what matters", "a.JPG", ""},
		{"hero at the limit", plan.Hero, []change{with(well, litAs(0.02, 0.1))}, "", ToChoose, "light holds", "a.JPG", ""},
		{"hero whose red runs out", plan.Hero, []change{with(well, litAs(0.08, 0), func(f *catalogue.Frame) { f.Look.Light.MattersBy = [3]float64{0.1, 0.01, 0.01} })}, "", ToLook, "in 8 % of what matters its red alone runs out", "a.JPG", ""},
		{"hero with a burnt window that doesn't matter", plan.Hero, []change{with(well, func(f *catalogue.Frame) { f.Look.Light.High = [3]float64{0.3, 0.3, 0.3} })}, "", ToChoose, "!burnt out", "a.JPG", ""},
		{"hero without drawing in the shadows", plan.Hero, []change{with(well, litAs(0, 0.25))}, "", ToReshoot, "25 % of what matters is black without drawing", "a.JPG", ""},
		{"hero both soft and burnt", plan.Hero, []change{with(blurred, litAs(0.08, 0))}, "", ToReshoot, "it is soft, out of focus|8 % of what matters", "a.JPG", ""},
		{"hero darker than its set is noted", plan.Hero, []change{with(well, level(-4)), well, well}, "a.JPG", Settled, "1.5 stops darker than the alike frames of its set", "a.JPG", ""},
		{"hero darker than others of its picture is noted", plan.Hero, []change{with(well, onSlope(0.3, -1, -1, -1)), with(well, onSlope(0.3, 0, 0, 0)), with(well, onSlope(0.3, 0, 0, 0))}, "a.JPG", Settled, "1.0 stops darker than the alike frames of its set|!white", "a.JPG", ""},
		{"a hand over a sixth of a picture makes no other light", plan.Hero, []change{with(well, onSlope(0.3, 0, 0, 0), func(f *catalogue.Frame) {
			for c := range f.Look.Light.Stops {
				for i := range 4 {
					at := &f.Look.Light.Stops[c][6*i]
					*at = catalogue.FloatOf(at.Value() - 0.9)
				}
			}
		}), with(well, onSlope(0.3, 0, 0, 0)), with(well, onSlope(0.3, 0, 0, 0))}, "a.JPG", Settled, "!stops|!white", "a.JPG", ""},
		// Red half a stop up and blue half a stop down: of a grey of 60 % by hand
		// with CIE's formulas in sRGB of D50, a = 12.4 and b = 23.6 (see
		// TestCastOfAPaleSurface).
		{"hero of another white is noted", plan.Hero, []change{with(well, onSlope(0.3, 0.5, 0, -0.5)), with(well, onSlope(0.3, 0, 0, 0)), with(well, onSlope(0.3, 0, 0, 0))}, "a.JPG", Settled, "ΔE off that of the frames of the same picture", "a.JPG", ""},
		{"of two frames none is of another white", plan.Hero, []change{with(well, onSlope(0.3, 0.5, 0, -0.5)), with(well, onSlope(0.3, 0, 0, 0))}, "a.JPG", Settled, "!white", "a.JPG", ""},
		{"the white of another picture is not told", plan.Hero, []change{with(well, onSlope(0.9, 0.5, 0, -0.5)), with(well, onSlope(0.3, 0, 0, 0)), with(well, onSlope(0.3, 0, 0, 0))}, "a.JPG", Settled, "!white", "a.JPG", ""},

		{"overhead that passes every test", plan.NeedOverhead, []change{well, wellAbove}, "", ToChoose, "taken from 88°", "b.JPG", ""},
		{"the only overhead is soft", plan.NeedOverhead, []change{well, with(wellAbove, sharpAs(0.25, 0.1)), well}, "", ToReshoot, "the only frame of its kind is not fit: it is soft, out of focus|focus 0.31 of the set's best", "b.JPG", ""},
		{"overhead on the bound", plan.NeedOverhead, []change{with(well, from(75.2))}, "", ToLook, "it looks like 75°, too near 75°", "a.JPG", ""},
		{"overhead by a rim", plan.NeedOverhead, []change{with(sharpAs(0.8, 0.6), litAs(0, 0), plate(0.995))}, "", ToChoose, "taken from 8", "a.JPG", ""},
		{"overhead near the bound by a rim", plan.NeedOverhead, []change{with(sharpAs(0.8, 0.6), litAs(0, 0), plate(0.955))}, "", ToLook, "too near 75°, where an overhead begins (a rim", "a.JPG", ""},
		{"overhead that a rim says is none", plan.NeedOverhead, []change{with(sharpAs(0.8, 0.6), litAs(0, 0), plate(0.62))}, "", ToShoot, "it looks down at 3", "", ""},
		{"chosen overhead that a rim says is none", plan.NeedOverhead, []change{with(sharpAs(0.8, 0.6), litAs(0, 0), plate(0.62))}, "a.JPG", ToReshoot, "an overhead is from 75° (a rim 62 % as tall", "a.JPG", ""},
		{"chosen overhead near the bound by a rim", plan.NeedOverhead, []change{with(sharpAs(0.8, 0.6), litAs(0, 0), plate(0.955))}, "a.JPG", Settled, "rests on the person who chose: whether it is seen from above", "a.JPG", ""},

		{"portrait that passes every test", plan.NeedPortrait, []change{well}, "", ToChoose, "sharp", "a.JPG", ""},
		{"portrait soft", plan.NeedPortrait, []change{blurred}, "", ToReshoot, "it is soft", "a.JPG", ""},
		{"landscape that passes every test", plan.NeedLandscape, []change{with(well, sized(6000, 4000))}, "", ToChoose, "", "a.JPG", ""},
		{"half stays a look", plan.Half, []change{with(well, sized(6000, 4000))}, "", ToLook, "whether a half holds the dish", "a.JPG", ""},
		{"half needs no look at 1:1", plan.Half, []change{with(well, sized(6000, 4000), sharpAs(0.8, -1))}, "", ToLook, "sharp on screen", "a.JPG", ""},
		{"half soft at 1:1", plan.Half, []change{with(blurred, sized(6000, 4000))}, "", ToReshoot, "it is soft", "a.JPG", ""},
		{"detail stays a look", plan.Detail, []change{well}, "", ToLook, "whether it is the detail that is meant", "a.JPG", ""},
		{"detail burnt", plan.Detail, []change{with(well, litAs(0.5, 0))}, "", ToReshoot, "50 % of what matters is burnt out", "a.JPG", ""},
		{"process stays a look", plan.Process, []change{well}, "", ToLook, "whether it is the process that is meant", "a.JPG", ""},
		{"opener stays a look", plan.Opener, []change{well}, "", ToLook, "", "a.JPG", ""},
		{"options stay a look", plan.Options, []change{well, well}, "", ToLook, "whether their set-ups differ", "a.JPG", ""},
		{"options, all soft", plan.Options, []change{blurred, blurred}, "", ToReshoot, "it is soft", "a.JPG", ""},
		{"options chosen, focus and light measured", plan.Options, []change{well, well}, "a.JPG,b.JPG", Settled, "whether set-ups differ|!focus", "a.JPG", ""},

		{"a test shot is no hero", plan.Hero, []change{with(well, said("Test shot"))}, "", ToShoot, `it is a test shot: the subject "Test shot"`, "", ""},
		{"a test shot that a person chose is", plan.Hero, []change{with(well, said("test"))}, "a.JPG", Settled, "", "a.JPG", ""},
		{"a chart is no overhead", plan.NeedOverhead, []change{with(wellAbove, said("colour chart"))}, "", ToShoot, "it is a chart", "", ""},
		{"a slate is no half", plan.Half, []change{with(well, sized(6000, 4000), said("slate"))}, "", ToShoot, "it is a slate", "", ""},
		{"behind the scenes is no detail", plan.Detail, []change{with(well, said("Behind the scenes"))}, "", ToShoot, "behind the scenes", "", ""},
		{"a sharp chart does not make the dish look soft", plan.Hero, []change{with(well, sharpAs(0.3, 0.5)), with(well, said("chart"))}, "a.JPG", Settled, "!set's best", "a.JPG", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			var frames []catalogue.Frame
			for i, change := range c.frames {
				f := shotAt(string(rune('a'+i))+".JPG", float64(i), "R01")
				change(&f)
				frames = append(frames, f)
			}
			need := needs(c.kind)[0].String()
			var all []catalogue.Decision
			for i, name := range strings.FieldsFunc(c.chosen, func(r rune) bool { return r == ',' }) {
				all = append(all, chose(int64(i+1), name, need, "R01"))
			}
			r := Run(shootOf([]plan.Recipe{recipe("R01", "Dark rye", 11, c.kind)}, frames, all...))
			got := finding(r, "R01", need)
			if got.Verdict != c.want {
				t.Errorf("%s: %q, want %s", got.Verdict, got.Why, c.want)
			}
			for part := range strings.SplitSeq(c.why, "|") {
				if not, ok := strings.CutPrefix(part, "!"); ok && strings.Contains(got.Why, not) {
					t.Errorf("%q has %q", got.Why, not)
				} else if !ok && !strings.Contains(got.Why, part) {
					t.Errorf("%q lacks %q", got.Why, part)
				}
			}
			frame := ""
			if got.Frame != nil {
				frame = strings.TrimPrefix(*got.Frame, "originals/2026-03-04/skarv-1/")
			}
			if frame != c.frame {
				t.Errorf("speaks of %q, want %q", frame, c.frame)
			}
			var wants []string
			for _, id := range r.Wants {
				wants = append(wants, strings.TrimPrefix(string(id), "id-"))
			}
			if got := strings.Join(wants, ","); got != c.wants {
				t.Errorf("wants %q at 1:1, want %q", got, c.wants)
			}
		})
	}
}

// The floor at 1:1 is where half of the subjective quality is left of a picture
// printed at 300 pixels an inch and seen from where one of them is an arcminute,
// 29 cm: the mean over octaves of the contrast that it keeps from 3 to 12 cycles
// a degree (subjective quality factor; Granger and Cupery, Photographic Science
// and Engineering 16 (1972) 221–230; from memory). What is measured at 1:1 is
// the contrast kept at a period of 8 pixels, exp(−2π²σ²/64) of a blur of σ
// (reference 09).
func TestFocusFloorLeavesHalfOfTheQuality(t *testing.T) {
	quality := func(full float64) float64 {
		sigma := math.Sqrt(-math.Log(full) * 64 / (2 * math.Pi * math.Pi))
		const steps = 1000
		sum := 0.0
		for i := range steps {
			f := 3 * math.Pow(4, (float64(i)+0.5)/steps) / 60 // cycles an arcminute, a pixel
			sum += math.Exp(-2 * math.Pi * math.Pi * sigma * sigma * f * f)
		}
		return sum / steps
	}
	floor := DefaultRules().FocusFloor
	if got := quality(floor); !(math.Abs(got-0.5) <= 0.005) { // the floor has two digits
		t.Errorf("a floor of %v leaves a quality of %.3f, want a half", floor, got)
	}
	// What depth calls sharp passes it: a disc of 0.03 mm on 6000 pixels over
	// 36 mm, the usual circle of confusion, is 5 pixels wide, and spreads light
	// as far as a Gaussian of a quarter of that.
	const sigma = 0.03 / 36 * 6000 / 4
	if full := math.Exp(-2 * math.Pi * math.Pi * sigma * sigma / 64); !(full > floor) {
		t.Errorf("at the edge of the depth of field sharpness at 1:1 is %.2f, under the floor of %v", full, floor)
	}
}

// Sets of two bodies at one time are one by number.
func TestSetsAreOfOneRecipeAndNoLongPause(t *testing.T) {
	at := func(name string, minutes float64, recipe, serial string) catalogue.Frame {
		f := shotAt(name, minutes, recipe)
		f.Camera.Serial = serial
		return f
	}
	undated := at("h.JPG", 0, "R01", "1")
	undated.Taken = time.Time{}
	chart := at("i.JPG", 1.5, "R01", "1")
	chart.Subjects = append(chart.Subjects, "chart")
	frames := []catalogue.Frame{
		at("a.JPG", 0, "R01", "1"), at("b.JPG", 1, "R01", "2"), at("c.JPG", 2, "R01", "1"),
		at("d.JPG", 10, "R01", "1"), // within ten minutes
		at("e.JPG", 21, "R01", "1"), // a pause
		at("f.JPG", 23, "R02", "1"), at("g.JPG", 24, "R01", "1"), undated, chart,
		at("j.JPG", 60, "R01", "1"), at("k.JPG", 62, "R01", "1"), at("l.JPG", 65, "R01", "1"), // another arrangement after three minutes
		at("m.JPG", 90, "R02", "2"), at("n.JPG", 61, "R02", "2"),
	}
	frames[5].Look.Palette = flat(20, 40, 30)
	frames[11].Look.Palette, frames[11].Look.Surface = flat(80, -30, 20), &colour.Swatch{Lab: colour.Lab{L: 20, A: 10}, Share: 1}
	for _, n := range []int{12, 13} {
		frames[n].Look.Palette = flat(20, 40, 30)
	}
	s := shootOf([]plan.Recipe{recipe("R01", "Dark rye", 11, plan.Hero), recipe("R02", "Smoked trout", 13, plan.Hero)}, frames)
	got := map[string]int{}
	for _, r := range Roles(s) {
		got[strings.TrimPrefix(string(r.Frame), "id-")[:1]] = r.Set
	}
	want := map[string]int{"a": 1, "b": 1, "c": 1, "d": 1, "e": 2, "f": 3, "g": 4, "i": 0, "j": 5, "k": 5, "n": 6, "l": 7, "m": 8, "h": 9}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("sets %v, want %v", got, want)
	}
}

// roleScores returns the scores of a frame's roles by name.
func roleScores(s Shoot, name string) map[Role]float64 {
	all := map[Role]float64{}
	for _, r := range Roles(s) {
		if r.Frame == catalogue.FrameID("id-"+name) {
			for _, x := range r.Roles {
				all[x.Role] = x.Score
			}
		}
	}
	return all
}

func TestRolesByTheirEvidence(t *testing.T) {
	three := recipe("R01", "Dark rye", 11, plan.Hero, plan.NeedOverhead, plan.Detail)
	three.Angle = plan.ThreeQuarter
	three.Props = []string{"black slate"}
	frames := func(all ...change) []catalogue.Frame {
		var out []catalogue.Frame
		for i, c := range all {
			f := shotAt(string(rune('a'+i))+".JPG", float64(i), "R01")
			c(&f)
			out = append(out, f)
		}
		return out
	}
	s := shootOf([]plan.Recipe{three}, frames(
		with(well, func(f *catalogue.Frame) { f.Look.Palette = flat(30, 0, 0) }), well, well, well))
	first, last := roleScores(s, "a.JPG"), roleScores(s, "d.JPG")
	if !(first[RoleTest] > last[RoleTest] && last[RoleHero] > first[RoleHero]) {
		t.Errorf("the first of a set: %v; the last of three that no longer change: %v", first, last)
	}
	s.Frames[3].Rating = f64(5)
	if five := roleScores(s, "d.JPG"); !(five[RoleHero] > last[RoleHero]) {
		t.Errorf("rated 5: %v, unrated: %v", five, last)
	}
	if above := roleScores(shootOf([]plan.Recipe{three}, frames(wellAbove)), "a.JPG"); !(above[RoleOverhead] > 0.9) {
		t.Errorf("from above: %v", above)
	}
	if side := roleScores(s, "a.JPG"); side[RoleOverhead] != 0 {
		t.Errorf("from the side: %v", side)
	}
	for word, role := range map[string]Role{"Test": RoleTest, "R01 test 2": RoleTest, "colour chart": RoleChart, "Grey card": RoleChart,
		"Clapperboard": RoleSlate, "BTS": RoleBehind, "close-up": RoleDetail, "Steps": RoleProcess, "hero": RoleHero,
		"slate": "", "test kitchen": "", "pie chart of sales": "", "detailed": ""} {
		one := shootOf([]plan.Recipe{three}, frames(func(f *catalogue.Frame) { f.Subjects = append(f.Subjects, word) }))
		sure := Role("")
		for _, x := range Roles(one)[0].Roles {
			if x.Sure {
				sure = x.Role
			}
		}
		if sure != role {
			t.Errorf("the subject %q says %q, want %q", word, sure, role)
		}
	}
	// Patches look like a chart, but a bowl of bright fruit might too: it is
	// never barred for that, only looked at last.
	patchy := func(f *catalogue.Frame) {
		well(f)
		f.Look.Palette = nil
		for _, lab := range []colour.Lab{{L: 95}, {L: 50}, {L: 10}, {L: 50, A: 60, B: 30}, {L: 50, A: -50, B: 40}, {L: 40, A: 10, B: -60}} {
			f.Look.Palette = append(f.Look.Palette, colour.Swatch{Lab: lab, Share: 1.0 / 6})
		}
	}
	one := shootOf([]plan.Recipe{three}, frames(patchy))
	if got := finding(Run(one), "R01", "hero"); got.Verdict != ToChoose {
		t.Errorf("patches alone: %s, %q", got.Verdict, got.Why)
	}
	if got := roleScores(one, "a.JPG"); !(got[RoleChart] > 0.1 && got[RoleChart] < 0.5) {
		t.Errorf("patches alone: %v", got)
	}
}

func TestAClosersRoundsEnd(t *testing.T) {
	var frames []catalogue.Frame
	for i := range 12 {
		f := shotAt(fmt.Sprintf("%02d.JPG", i), float64(i), "R01")
		with(well, sharpAs(0.8, -1))(&f)
		frames = append(frames, f)
	}
	s := shootOf([]plan.Recipe{recipe("R01", "Dark rye", 11, plan.Hero, plan.NeedPortrait)}, frames)
	seen := map[catalogue.FrameID]bool{}
	for round := 0; ; round++ {
		r := Run(s)
		if len(r.Wants) == 0 {
			if got := finding(r, "R01", "hero"); got.Verdict != ToReshoot || len(seen) != 12 {
				t.Errorf("after %d frames at 1:1, all soft: %s, %q", len(seen), got.Verdict, got.Why)
			}
			return
		}
		if len(r.Wants) > wantsRecipe {
			t.Fatalf("%d frames are wanted of one recipe", len(r.Wants))
		}
		for _, id := range r.Wants {
			if seen[id] {
				t.Fatalf("%s is wanted twice", id)
			}
			seen[id] = true
			for i := range s.Frames {
				if s.Frames[i].ID == id {
					s.Frames[i].Look.Focus.Full = f64(0.01)
				}
			}
		}
	}
}

// TestWhatCantBeReadAtFullSizeIsNotAskedForAgain holds that an original without
// its own pixels leaves its need with a person, and does not come back in Wants.
func TestWhatCantBeReadAtFullSizeIsNotAskedForAgain(t *testing.T) {
	f := shotAt("a.JPG", 0)
	with(well, sharpAs(0.8, -1))(&f)
	s := shootOf([]plan.Recipe{recipe("R01", "Dark rye", 11, plan.Hero, plan.NeedPortrait)}, []catalogue.Frame{f})
	s.Decisions = []catalogue.Decision{{ID: 1, Kind: catalogue.Assign, Frame: f.ID, Recipe: "R01"}}
	if r := Run(s); len(r.Wants) != 1 {
		t.Fatalf("%d frames are wanted, want 1: %+v", len(r.Wants), finding(r, "R01", "hero"))
	}
	s.Frames[0].Look.Focus.NotFull = "a raw without pixels of its full size"
	r := Run(s)
	got := finding(r, "R01", "hero")
	if len(r.Wants) != 0 || got.Verdict != ToLook || !strings.Contains(got.Why, "without pixels of its full size") {
		t.Errorf("wanted %d; %s, %q", len(r.Wants), got.Verdict, got.Why)
	}
}
