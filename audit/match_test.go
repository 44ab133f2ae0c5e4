package audit

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

var dishes = []plan.Recipe{
	recipe("R01", "Dark rye with caraway butter", 11, plan.Hero),
	recipe("R02", "Smoked trout with soured cream", 13, plan.Hero),
	recipe("R03", "Beetroot and caraway", 15, plan.Hero),
	recipe("R04", "Pearl barley with leeks", 17, plan.Hero),
	recipe("R07", "Crème of parsnips", 23, plan.Hero),
	recipe("12", "Bread rolls", 31, plan.Hero),
}

func matchOf(t *testing.T, s Shoot, name string) Match {
	t.Helper()
	for _, m := range Matches(s) {
		if m.Frame == catalogue.FrameID("id-"+name) {
			return m
		}
	}
	t.Fatalf("no match of %s", name)
	return Match{}
}

func TestNamesOfOneFrame(t *testing.T) {
	name := func(file, source string) change {
		return func(f *catalogue.Frame) { f.Files[0].Name, f.Files[0].Source = file, source+"/"+file }
	}
	subject := func(all ...string) change { return func(f *catalogue.Frame) { f.Subjects = all } }
	for _, c := range []struct {
		name  string
		frame change
		want  string
	}{
		{"camera-made names say nothing", func(*catalogue.Frame) {}, ""},
		{"a subject is the id", subject("R03"), "R03"},
		{"an id in other letters", subject("r03"), "R03"},
		{"an id without its zero", subject("R3"), "R03"},
		{"an id within a longer word is none", subject("XR03"), ""},
		{"an id that goes on is none", subject("R031"), ""},
		{"the headline", func(f *catalogue.Frame) { f.Headline = "Smoked trout with soured cream" }, "R02"},
		{"the title, accents and plural away", func(f *catalogue.Frame) { f.Title = "creme of parsnip" }, "R07"},
		{"accents as marks of their own", func(f *catalogue.Frame) { f.Title = "Cre\u0300me of parsnips" }, "R07"},
		{"a folder has the id", name("DSC_0412.JPG", "R04 second try"), "R04"},
		{"a folder has the title", name("DSC_0412.JPG", "tether/pearl-barley_leek"), "R04"},
		{"a file name of a person's", name("trout-cream-03.jpg", "x"), "R02"},
		{"a file name in humps", name("SmokedTrout2.jpg", "x"), "R02"},
		{"a body that was told its prefix", name("R03_0412.JPG", "DCIM/100SKARV"), "R03"},
		{"a camera-made name that a person lengthened", name("DSC_0412-R03.JPG", "x"), "R03"},
		{"a word of two recipes places nothing", name("caraway.jpg", "x"), ""},
		{"a folder of the DCF standard names no dish", name("DSC_0001.JPG", "DCIM/100TROUT"), ""},
		{"a file of the DCF standard names no dish", name("BEET0412.JPG", "x"), ""},
		{"a phone's name is no id", name("IMG_0012.JPG", "x"), ""},
		{"a phone's edited name is no id", name("IMG_E0012.JPG", "x"), ""},
		{"a folder called as the body is names no dish", name("a-b.jpg", "R7"), ""},
		{"an id of digits is not found in a date", name("x.jpg", "2026-12-04"), ""},
		{"an id of digits as a whole subject", subject("12"), "12"},
		{"an id of digits as a whole folder", name("x.jpg", "12"), "12"},
		{"an id of digits is no file number", name("12.jpg", "x"), ""},
		{"a card's number is no dish", func(f *catalogue.Frame) { f.Files[0].Card = "R03" }, ""},
		{"a card named by a person", func(f *catalogue.Frame) { f.Files[0].Card = "R03 beetroot" }, "R03"},
		{"the library's own folders count for nothing", func(f *catalogue.Frame) { f.Files[0].Path = "originals/2026-03-04/R03/DSC_0412.JPG" }, ""},
		{"a sidecar's name counts as the file's", func(f *catalogue.Frame) {
			f.Files = append(f.Files, catalogue.File{Kind: catalogue.Sidecar, Name: "R04-b.xmp", Source: "R04-b.xmp"})
		}, "R04"},
		{"subject and folder differ", with(subject("R03"), name("x.jpg", "R07")), ""},
		{"subject against folder and name", with(subject("R03"), name("R07-1.jpg", "R07")), ""},
		{"two ids among the subjects", subject("R03", "R02"), ""},
		{"a subject outweighs a stray word", with(subject("R03"), name("x.jpg", "cream")), "R03"},
		{"no time and no camera", func(f *catalogue.Frame) {
			*f = catalogue.Frame{ID: f.ID, Subjects: []string{"R01"}}
		}, "R01"},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := shotAt("DSC_0412.JPG", 0)
			c.frame(&f)
			s := shootOf(dishes, []catalogue.Frame{f})
			m := matchOf(t, s, "DSC_0412.JPG")
			if m.Recipe != c.want {
				t.Errorf("recipe %q with odds %.3f, want %q: %v", m.Recipe, m.Odds, c.want, m.Why)
			}
			if m.ByHand || !(m.Odds >= 0 && m.Odds < 1) {
				t.Errorf("odds %v, by hand %v", m.Odds, m.ByHand)
			}
			r := Run(s)
			if (c.want == "") != (len(r.Unplaced) == 1) || r.Seen.Unplaced != len(r.Unplaced) {
				t.Errorf("unplaced: %v", r.Unplaced)
			}
		})
	}
}

func TestContradictionIsSaidWithBothGuesses(t *testing.T) {
	f := shotAt("DSC_0412.JPG", 1, "R03")
	f.Files[0].Source = "R07/DSC_0412.JPG"
	// Neighbours in time must not tip it: one of the texts is wrong.
	r := Run(shootOf(dishes, []catalogue.Frame{shotAt("DSC_0411.JPG", 0, "R07"), f, shotAt("DSC_0413.JPG", 2, "R07")}))
	if len(r.Unplaced) != 1 || !slices.Equal(r.Unplaced[0].Guesses, []string{"R03", "R07"}) ||
		!strings.Contains(r.Unplaced[0].Why, `the subject "R03" names R03`) || !strings.Contains(r.Unplaced[0].Why, `the folder "R07" names R07`) {
		t.Errorf("unplaced: %+v", r.Unplaced)
	}
	if !hasNote(r, "contradiction", "contradict") {
		t.Errorf("notes: %v", r.Notes)
	}
	if m := r.Matches[1]; m.Odds > evenOdds {
		t.Errorf("odds %.3f of a contradiction, want at most %.1f", m.Odds, evenOdds)
	}
}

func TestAPersonsWordIsFinal(t *testing.T) {
	frames := []catalogue.Frame{shotAt("DSC_0412.JPG", 0, "R03")}
	for _, c := range []struct {
		said catalogue.Decision
		want string
		odds float64
	}{
		{assigned(1, "DSC_0412.JPG", "R01"), "R01", 1},
		{assigned(1, "DSC_0412.JPG", "r01"), "R01", 1},
		{assigned(1, "DSC_0412.JPG", ""), "", 1},
		{chose(1, "DSC_0412.JPG", "hero", "R02"), "R02", 1},
		{assigned(1, "DSC_0412.JPG", "R99"), "", 0},
	} {
		s := shootOf(dishes, frames, c.said)
		m := matchOf(t, s, "DSC_0412.JPG")
		if m.Recipe != c.want || m.Odds != c.odds || !m.ByHand || len(m.Why) != 1 || m.Why[0].Kind != "person" {
			t.Errorf("%+v: %+v", c.said, m)
		}
		// "No recipe" is an answer, so the frame is not listed as unplaced;
		// a recipe that the plan lacks is not.
		if n := len(Run(s).Unplaced); (n == 1) != (c.said.Recipe == "R99") {
			t.Errorf("%+v: %d unplaced", c.said, n)
		}
	}
}

// What frames before and after lend, pictures unknown.
func TestTimeLendsARecipe(t *testing.T) {
	at := func(minutes float64, subject ...string) catalogue.Frame {
		f := shotAt("x.JPG", minutes, subject...)
		f.Look.Palette = nil
		return f
	}
	of := func(serial string, f catalogue.Frame) catalogue.Frame { f.Camera.Serial = serial; return f }
	for _, c := range []struct {
		name   string
		others []catalogue.Frame
		want   string
	}{
		{"nobody near", nil, ""},
		{"one before, two minutes", []catalogue.Frame{at(-2, "R01")}, "R01"},
		{"one after, two minutes", []catalogue.Frame{at(2, "R01")}, "R01"},
		{"one at the same second", []catalogue.Frame{at(0, "R01")}, "R01"},
		{"a pause of the set gap is as likely a change as not", []catalogue.Frame{at(-10, "R01")}, ""},
		{"an hour before", []catalogue.Frame{at(-60, "R01")}, ""},
		{"the same on both sides", []catalogue.Frame{at(-6, "R01"), at(6, "R01")}, "R01"},
		{"two recipes as near as each other", []catalogue.Frame{at(-2, "R01"), at(2, "R02")}, ""},
		{"two recipes, the pause tells", []catalogue.Frame{at(-1, "R01"), at(9, "R02")}, "R01"},
		{"through frames that have none", []catalogue.Frame{at(-12, "R01"), at(-9), at(-6), at(-3)}, "R01"},
		{"a person's none does not spread", []catalogue.Frame{at(-4, "R01"), at(-2)}, "R01"},
		{"another body at the same time is no proof", []catalogue.Frame{of("SK-2", at(-1, "R01"))}, ""},
		{"another body an hour before lends nothing", []catalogue.Frame{of("SK-2", at(-60, "R01"))}, ""},
		{"another body that shot the same dish before", []catalogue.Frame{at(-63, "R02"), of("SK-2", at(-62, "R02")), at(-61, "R02"),
			of("SK-2", at(-32, "R03")), at(-31, "R03"), of("SK-2", at(-92, "R04")), at(-91, "R04"), of("SK-2", at(-122, "R07")), at(-121, "R07"), of("SK-2", at(-1, "R01")), of("SK-2", at(1, "R01"))}, "R01"},
	} {
		t.Run(c.name, func(t *testing.T) {
			me := at(0)
			me.ID, me.Files[0].Path = "id-me.JPG", "originals/me.JPG"
			frames := []catalogue.Frame{me}
			for i, f := range c.others {
				f.ID = catalogue.FrameID("id-" + string(rune('a'+i)))
				frames = append(frames, f)
			}
			s := shootOf(dishes, frames)
			if strings.Contains(c.name, "none does") {
				s.Decisions = []catalogue.Decision{{ID: 1, Kind: catalogue.Assign, Frame: "id-b"}}
			}
			if m := matchOf(t, s, "me.JPG"); m.Recipe != c.want {
				t.Errorf("%q with odds %.3f, want %q: %v", m.Recipe, m.Odds, c.want, m.Why)
			}
		})
	}
}

// The longer the pause, the less it lends; and it is said.
func TestTimeWeakensWithThePause(t *testing.T) {
	last := 1.0
	for _, minutes := range []float64{1, 2, 5, 10, 20, 60, 600} {
		a, me := shotAt("a.JPG", 0, "R01"), shotAt("me.JPG", minutes)
		a.Look.Palette = nil
		d := lay(shootOf(dishes, []catalogue.Frame{a, me}))
		p := d.placed[1]
		odds := 0.0 // of R01; where another dish is likelier it is below 1/2
		if p.Recipe == "R01" || len(p.guesses) > 0 && p.guesses[0] == "R01" {
			odds = p.Odds
		}
		if !(odds < last) && odds > 0 || minutes < 20 && odds == 0 || odds > last {
			t.Errorf("%v min: %+v, and a shorter pause lends %v", minutes, p, last)
		}
		last = odds
		if minutes == 5 {
			if want := "5 min after a.JPG, which shows R01; longest pause 5 min"; len(p.Why) != 1 || p.Why[0].Says != want || p.Why[0].Kind != "time" {
				t.Errorf("says %+v, want %q", p.Why, want)
			}
		}
	}
	if last != 0 {
		t.Errorf("ten hours after it still lends most: %v", last)
	}
}

// "Rye" alone fits both; the title that has all of the words and more is meant.
func TestTheFullerTitleIsMeant(t *testing.T) {
	recipes := []plan.Recipe{recipe("R01", "Rye bread with honey", 11, plan.Hero), recipe("R02", "Trout on rye", 13, plan.Hero),
		recipe("R03", "Rye pancakes", 15, plan.Hero), recipe("R04", "Barley bread", 17, plan.Hero)}
	f := shotAt("DSC_0412.JPG", 0, "rye bread")
	m := matchOf(t, shootOf(recipes, []catalogue.Frame{f}), "DSC_0412.JPG")
	if m.Recipe != "R01" || len(m.Why) != 1 {
		t.Errorf("%+v, want R01 with nothing against it", m)
	}
	// By hand: rye is one of three recipes', bread of two, honey of one, so
	// the text has (1/3 + 1/2) of (1/3 + 1/2 + 1), 5/11 of 5 nats.
	if len(m.Why) == 1 && math.Abs(m.Why[0].Weight-25.0/11) > 1e-12 {
		t.Errorf("weight %v, want 25/11", m.Why[0].Weight)
	}
}

func TestAnIDButForZerosWeighsLess(t *testing.T) {
	for subject, want := range map[string]float64{"R03": 6, "R3": 4.5} {
		m := matchOf(t, shootOf(dishes, []catalogue.Frame{shotAt("a.JPG", 0, subject)}), "a.JPG")
		if len(m.Why) != 1 || m.Why[0].Weight != want || math.Abs(m.Odds-1/(1+math.Exp(-want))) > 1e-12 {
			t.Errorf("%s: %+v, want %v nats", subject, m, want)
		}
	}
	// Where both are ids, neither stands for the other.
	recipes := []plan.Recipe{recipe("R3", "A", 11, plan.Hero), recipe("R03", "B", 13, plan.Hero)}
	for _, subject := range []string{"R3", "R03"} {
		if m := matchOf(t, shootOf(recipes, []catalogue.Frame{shotAt("a.JPG", 0, subject)}), "a.JPG"); m.Recipe != subject {
			t.Errorf("%s: %+v", subject, m)
		}
	}
}

func TestWrongClocksBreakNothing(t *testing.T) {
	old, future, blank := shotAt("old.JPG", 0), shotAt("future.JPG", 0), shotAt("blank.JPG", 0)
	old.Taken = time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC)
	future.Taken = time.Date(2099, 1, 1, 0, 0, 0, 0, time.UTC)
	blank.Taken, blank.Look.Palette = time.Time{}, nil // its likeness to others must not place it
	r := Run(shootOf(dishes, []catalogue.Frame{blank, future, shotAt("a.JPG", 0, "R01"), old, shotAt("b.JPG", 1)}))
	var order []string
	for _, m := range r.Matches {
		order = append(order, strings.TrimPrefix(string(m.Frame), "id-")+"="+m.Recipe)
	}
	if want := "old.JPG= a.JPG=R01 b.JPG=R01 future.JPG= blank.JPG="; strings.Join(order, " ") != want {
		t.Errorf("matches %v, want %s", order, want)
	}
	if r.Seen.LastFrame == nil || *r.Seen.LastFrame != "2026-03-04T09:01:00" {
		t.Errorf("last frame %v", r.Seen.LastFrame)
	}
	if !hasNote(r, "clock", "1 frame dated 1970-01-01") || !hasNote(r, "clock", "1 frame is dated outside") {
		t.Errorf("notes %v", r.Notes)
	}
}

func TestWordsOfNames(t *testing.T) {
	for in, want := range map[string]string{
		"Crème brûlée, the Cook's": "creme brulee the cook",
		"R07_hero-2":               "r07 hero 2",
		"RyeBread":                 "rye bread",
		"R07Hero":                  "r07 hero",
		"tomatoes berries radishes glass couscous": "tomato berry radish glass couscous",
		"Rømmegrøt æ ß":                            "rommegrot ae ss",
		"":                                         "",
		"--":                                       "",
	} {
		if got := strings.Join(words(in), " "); got != want {
			t.Errorf("words(%q) = %q, want %q", in, got, want)
		}
	}
}

func FuzzWords(f *testing.F) {
	for _, s := range []string{"Crème", "R07_0412", "\xff\xfe", "ẞ", "e\u0301"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, w := range words(s) {
			if w == "" || strings.ContainsAny(w, " -_./") {
				t.Errorf("words(%q) has %q", s, w)
			}
			if p := plain(w); plain(p) != p {
				t.Errorf("plain(%q) = %q is not plain", w, p)
			}
		}
		written(s)
	})
}
