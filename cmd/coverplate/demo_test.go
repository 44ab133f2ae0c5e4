package main

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"coverplate/audit"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/rehearsal"
)

// demoSize is the long side in pixels at which the demo is rendered here, a
// sixth of the demo's own. The pixels asked for shrink with it, all to whole
// numbers, so that verdicts on them stay.
const demoSize = 480

// rehearsedToday is the day on which the rehearsal's report is read.
const rehearsedToday = "2026-03-05"

// plantedGaps is every need that must not be settled, and what it must be. It
// stands here apart from the rehearsal's own list, so that a change there is
// seen.
func plantedGaps() []string {
	return []string{
		"R02 overhead: shoot",   // all frames are from the side
		"R02 hero: look",        // the white plate is burnt out, another frame may serve
		"R04 half: look",        // any half of the chosen frame cuts the plate
		"R04 hero: reshoot",     // every frame lies, and the page stands
		"R05 palette: reshoot",  // too like R06
		"R06 palette: reshoot",  // too like R05
		"R06 overhead: reshoot", // from 58°: no level says so, a rim and straight edges do
		"R08 hero: look",        // focused behind the bowl, the frame before is sharp
		"R08 overhead: waived",  // the author does not want it
		"R10 hero: reshoot",     // a body was left in its small mode
		"R11 hero: choose",      // nobody has chosen
		"R11 palette: look",     // rests on what nobody has chosen
		"R12 hero: shoot",       // the berries missed the boat
		"R12 overhead: shoot",
		"R12 half: shoot",
		"R12 palette: shoot",
	}
}

// TestDemoFindsWhatWasPlanted runs the whole job on the rehearsal: what the
// report finds must be what was planted, no less and no more, and the list of
// it stands here.
func TestDemoFindsWhatWasPlanted(t *testing.T) {
	if testing.Short() {
		t.Skip("renders some eighty small frames; not with -short")
	}
	dir := t.TempDir()
	var out, errs bytes.Buffer
	at := surroundings{Stdin: &bytes.Buffer{}, Stdout: &out, Stderr: &errs,
		Now:    func() time.Time { return time.Date(2026, 3, 6, 8, 0, 0, 0, time.UTC) },
		Getenv: func(string) string { return "" }, Zone: func() string { return "" }, Who: func() string { return "" }}
	if err := runDemo(t.Context(), at, dir, demoSize); err != nil {
		t.Errorf("demo: %v", err)
	}
	t.Logf("%s%s", out.String(), errs.String())
	s, err := openShoot(filepath.Join(dir, "skerry-table"))
	if err != nil {
		t.Fatal(err)
	}
	today, err := time.Parse(time.DateOnly, rehearsedToday)
	if err != nil {
		t.Fatal(err)
	}
	g, err := s.gather(t.Context(), today.Add(18*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, rec := range audit.Run(g.Shoot).Recipes {
		for _, f := range rec.Needs {
			if f.Verdict != audit.Settled {
				got = append(got, rec.ID+" "+f.Need+": "+string(f.Verdict))
			}
		}
	}
	slices.Sort(got)
	if want := slices.Sorted(slices.Values(plantedGaps())); !slices.Equal(got, want) {
		t.Errorf("the report finds\n\t%s\nand planted was\n\t%s", strings.Join(got, "\n\t"), strings.Join(want, "\n\t"))
	}
	slatesOfDemo(t, g)
	for _, want := range []string{"and the report finds exactly these", "open it in a browser", "coverplate choose --undo", "Caution: format a card only"} {
		if !strings.Contains(strings.Join(strings.Fields(out.String()), " "), want) {
			t.Errorf("the demo does not say %q", want)
		}
	}
	page, err := os.ReadFile(filepath.Join(dir, "report.html"))
	if err != nil || !bytes.Contains(page, []byte("data:image/jpeg;base64,")) {
		t.Errorf("the page has no pictures: %v", err)
	}
	if code, said, _ := called(t, "cards", "--shoot", s.Dir); code != exitWanting || !strings.Contains(said, "SKERRY-A: keep") || !strings.Contains(said, "SKERRY-B: keep") {
		t.Errorf("of cards with one copy of each file (exit code %d) it says %q", code, said)
	}
	// A second ingest of the same cards copies nothing.
	code, said, _ := called(t, "ingest", filepath.Join(dir, "SKERRY-A"), filepath.Join(dir, "SKERRY-B"), "--shoot", s.Dir)
	if !strings.Contains(said, "nothing was copied") {
		t.Errorf("a second ingest (exit code %d) says %q", code, said)
	}
}

// slatesOfDemo holds that each slate of the rehearsal was read as what it is:
// those of R01 to R11 but R04's, which was forgotten, from each body that shot
// the dish. R10's, from the body that was left in its small mode, is 200 pixels
// wide at this size, less than a pixel a module; at the rehearsal's own it is read.
func slatesOfDemo(t *testing.T, g gathered) {
	t.Helper()
	got := map[string]int{}
	for _, f := range g.Frames {
		if s := f.Look.Slate; s != nil {
			if s.Shoot != rehearsedID {
				t.Errorf("%s: slate of the shoot %q", f.Path(), s.Shoot)
			}
			if title := rehearsal.Titles()[s.Recipe]; s.Title != audit.TitleMark(title) {
				t.Errorf("%s: the mark %q of a title, and %s is %q", f.Path(), s.Title, s.Recipe, title)
			}
			got[s.Recipe+" "+f.Camera.Model]++
		}
	}
	want := map[string]int{}
	for _, r := range []string{"R01", "R02", "R03", "R05", "R06", "R07", "R08", "R09", "R11"} {
		want[r+" SKARVOY S6"] = 1
		if r != "R02" {
			want[r+" Brimholm B2"] = 1
		}
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("slates read (− want, + got):\n%s", d)
	}
}

// TestUnlikeSeesEveryDifference holds that the demo can't call itself right
// where it is not.
func TestUnlikeSeesEveryDifference(t *testing.T) {
	report := func(verdicts ...audit.Verdict) audit.Report {
		r := audit.Report{Recipes: []audit.Recipe{{ID: "R01"}}}
		for i, v := range verdicts {
			r.Recipes[0].Needs = append(r.Recipes[0].Needs, audit.Finding{Need: []string{"hero", "half"}[i], Verdict: v})
		}
		return r
	}
	planted := rehearsal.Shoot{Gaps: []rehearsal.Gap{{Recipe: "R01", Need: "half", Verdict: "reshoot"}}}
	for name, c := range map[string]struct {
		r    audit.Report
		want string
	}{
		"as planted":           {report(audit.Settled, audit.ToReshoot), ""},
		"a gap not found":      {report(audit.Settled, audit.Settled), "R01 half: the report says settled (), and reshoot was planted"},
		"a gap invented":       {report(audit.ToLook, audit.ToReshoot), "R01 hero: the report says look (), and nothing was planted there"},
		"another verdict":      {report(audit.Settled, audit.ToLook), "R01 half: the report says look (), and reshoot was planted"},
		"a need not spoken of": {report(audit.Settled), "R01 half: reshoot was planted, and the report does not speak of it"},
	} {
		t.Run(name, func(t *testing.T) {
			if got := strings.Join(unlike(c.r, planted, nil), "\n"); got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
		})
	}
	r := report(audit.Settled, audit.ToReshoot)
	r.Unplaced = []audit.UnplacedNote{{Frame: "originals/x.jpg"}}
	if got := unlike(r, planted, nil); len(got) != 1 {
		t.Errorf("a frame wrongly called unplaced gives %q", got)
	}
	slow := audit.Note{Kind: "clock", Says: "B 77: about 46 min slow. If so: coverplate clock set 'B 77' slow 46m"}
	shown := report(audit.Settled, audit.ToReshoot)
	shown.Matches = []audit.Match{{Frame: "aa", Recipe: "R02"}}
	frames := []catalogue.Frame{{ID: "aa", Files: []catalogue.File{{Card: "A", Source: "x.jpg"}}}}
	for name, c := range map[string]struct {
		turn func(r *audit.Report, reh *rehearsal.Shoot)
		want int
	}{
		"a slow clock seen": {func(r *audit.Report, reh *rehearsal.Shoot) {
			r.Notes, reh.Clocks = []audit.Note{slow}, []rehearsal.Clock{{Body: "77", Slow: 47 * time.Minute}}
		}, 0},
		"a slow clock not seen": {func(_ *audit.Report, reh *rehearsal.Shoot) {
			reh.Clocks = []rehearsal.Clock{{Body: "77", Slow: 47 * time.Minute}}
		}, 1},
		"a slow clock seen by far too much": {func(r *audit.Report, reh *rehearsal.Shoot) {
			r.Notes, reh.Clocks = []audit.Note{slow}, []rehearsal.Clock{{Body: "77", Slow: 17 * time.Minute}}
		}, 2},
		"a clock blamed": {func(r *audit.Report, _ *rehearsal.Shoot) { r.Notes = []audit.Note{slow} }, 1},
		"a prop twice, seen": {func(r *audit.Report, reh *rehearsal.Shoot) {
			r.Props, reh.Repeats = []audit.Prop{{Prop: "bowl", Recipes: []string{"R01", "R02"}}}, []rehearsal.Repeat{{Prop: "bowl", Recipes: []string{"R01", "R02"}}}
		}, 0},
		"a prop twice, not seen": {func(_ *audit.Report, reh *rehearsal.Shoot) {
			reh.Repeats = []rehearsal.Repeat{{Prop: "bowl", Recipes: []string{"R01", "R02"}}}
		}, 1},
		"a prop invented": {func(r *audit.Report, _ *rehearsal.Shoot) {
			r.Props = []audit.Prop{{Prop: "bowl", Recipes: []string{"R01", "R02"}}}
		}, 1},
		"a frame placed right": {func(_ *audit.Report, reh *rehearsal.Shoot) {
			reh.Truths = []rehearsal.Truth{{File: "A/x.jpg", Recipe: "R02"}}
		}, 0},
		"a frame placed wrong": {func(_ *audit.Report, reh *rehearsal.Shoot) {
			reh.Truths = []rehearsal.Truth{{File: "A/x.jpg", Recipe: "R01"}}
		}, 1},
		"a frame lost": {func(_ *audit.Report, reh *rehearsal.Shoot) {
			reh.Truths = []rehearsal.Truth{{File: "A/y.jpg", Recipe: "R02"}}
		}, 1},
	} {
		t.Run(name, func(t *testing.T) {
			r, reh := shown, planted
			c.turn(&r, &reh)
			if got := unlike(r, reh, frames); len(got) != c.want {
				t.Errorf("got %d differences %q, want %d", len(got), got, c.want)
			}
		})
	}
	planted.Unplaced = []string{"A/x.jpg"}
	if got := unlike(report(audit.Settled, audit.ToReshoot), planted, nil); len(got) != 1 {
		t.Errorf("a frame that no one can place and that is not listed gives %q", got)
	}
}
