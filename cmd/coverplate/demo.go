package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/desk"
	"coverplate/ingest"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/rehearsal"
)

func newDemo(at surroundings) *cobra.Command {
	return &cobra.Command{
		Use:   "demo [DIR]",
		Short: "run the whole job on an invented shoot",
		Long: `Renders two small cards of an invented shoot, "Skerry Table", with gaps
planted in it, and does the whole job on them: plan, ingest, decisions,
report. It takes about half a minute on two cores. Everything is written below
DIR, by default a new folder among the temporary ones; DIR must be empty or
new.`,
		Example: `  coverplate demo
  coverplate demo ~/skerry-rehearsal`,
		Args: usage(cobra.MaximumNArgs(1), "at most one folder"),
		RunE: func(cmd *cobra.Command, args []string) error {
			dir := ""
			if len(args) == 1 {
				dir = args[0]
			}
			return runDemo(cmd.Context(), at, dir, rehearsal.LongSide)
		},
	}
}

// demoFolder makes the folder that a demo is written to.
func demoFolder(dir string) (string, error) {
	if dir == "" {
		return os.MkdirTemp("", "coverplate-demo-")
	}
	entries, err := os.ReadDir(dir)
	switch {
	case err == nil && len(entries) > 0:
		return "", misused("give an empty folder or a new one; without DIR the demo makes its own", "%s is not empty", dir)
	case err != nil && !errors.Is(err, os.ErrNotExist):
		return "", err
	}
	return filepath.Abs(dir)
}

// runDemo does the whole job on a rehearsal whose frames are longSide pixels
// long.
func runDemo(ctx context.Context, at surroundings, dir string, longSide int) error {
	dir, err := demoFolder(dir)
	if err != nil {
		return err
	}
	t := newSetter(at.Stdout, termOptionsOf(at))
	t.put(0, 2, "Rendering two cards of an invented shoot, half a minute on two cores, into")
	t.whole("  " + dir)
	codes, err := rehearsedSlates()
	if err != nil {
		return err
	}
	first, err := rehearsedFirst(at.Now())
	if err != nil {
		return err
	}
	reh, err := rehearsal.Write(ctx, dir, rehearsal.Script{LongSide: longSide, First: first, Codes: codes})
	if err != nil {
		return err
	}
	s, at, err := rehearsedShoot(at, reh, filepath.Join(dir, "skerry-table"))
	if err != nil {
		return err
	}
	path, err := s.planPath()
	if err != nil {
		return err
	}
	sheet, err := readPlan(path, s.Settings.Book)
	if err != nil {
		return err
	}
	t.head("plan check", "")
	t.put(0, 2, planSays(path, sheet))
	t.head("ingest", strings.Join(cardNames(reh.Cards), ", "))
	quiet := at
	if _, ok := terminal(at.Stdout); !ok {
		quiet.Stdout = &withoutFrames{at.Stdout}
	}
	if err := runIngest(ctx, quiet, s, ingest.Options{Shoot: s.Dir, Sources: reh.Cards}); err != nil && !errors.Is(err, errWanting) {
		return err
	}
	if err := rehearsedDecisions(ctx, at, s, reh); err != nil {
		return err
	}
	t.head("decisions", fmt.Sprintf("%s and %s of the invented people", counted(len(reh.Choices), "choice", "choices"), counted(len(reh.Waivers), "waiver", "waivers")))
	g, err := s.gather(ctx, at.Now())
	if err != nil {
		return err
	}
	r, missed, err := s.auditCloser(ctx, at, &g, nil)
	if err != nil {
		return err
	}
	sayMissed(at, missed)
	t.head("audit", "")
	if err := errors.Join(t.err, renderReport(at.Stdout, r, termOptionsOf(at))); err != nil {
		return err
	}
	page := filepath.Join(dir, "report.html")
	flat := filepath.Join(dir, "flatplan.html")
	if err := errors.Join(s.writeReport(page, r, g), s.writeFlatplan(flat, r, g)); err != nil {
		return err
	}
	wrong := unlike(r, reh, g.Frames)
	t.head("planted and found", "")
	if len(wrong) == 0 {
		t.put(0, 2, fmt.Sprintf("%s planted in this shoot, and the report finds exactly these, none more. It places every frame with its dish, though the slate of one was forgotten; names the body whose clock is slow, the prop that stands in two recipes, and the frame that no one can place.", counted(len(reh.Gaps), "gap was", "gaps were")))
	}
	for _, w := range wrong {
		t.put(0, 2, w)
	}
	sayNext(t, s.Dir, page, flat)
	if len(wrong) > 0 {
		return errors.Join(t.err, errors.New("the report differs from what was planted"))
	}
	return t.err
}

// withoutFrames drops the line a frame that ingest prints where there is no
// terminal; a demo's reader wants the sum.
type withoutFrames struct {
	w interface{ Write([]byte) (int, error) }
}

func (q *withoutFrames) Write(p []byte) (int, error) {
	for _, state := range []string{ingest.StateCopied, ingest.StateHere, ingest.StateSkipped} {
		if strings.HasPrefix(string(p), state+"  ") {
			return len(p), nil
		}
	}
	return q.w.Write(p)
}

func cardNames(dirs []string) []string {
	names := make([]string, len(dirs))
	for i, d := range dirs {
		names[i] = filepath.Base(d)
	}
	return names
}

// rehearsedID is the invented shoot's, in the codes of its slates.
const rehearsedID = "SKARV"

// rehearsedSlates are the codes of the invented dishes' slates, as the command
// slates prints them.
func rehearsedSlates() (map[string][][]bool, error) {
	codes := map[string][][]bool{}
	for id, title := range rehearsal.Titles() {
		code, err := desk.DishCode(rehearsedID, id, title)
		if err != nil {
			return nil, err
		}
		codes[id] = code
	}
	return codes, nil
}

// rehearsedFirst is the first day of a shoot that was photographed on the two
// days before now and has one planned for the day of now, so that whoever tries
// a command on it afterwards has the last shooting day before him.
func rehearsedFirst(now time.Time) (time.Time, error) {
	studio, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		return time.Time{}, err
	}
	y, m, d := now.In(studio).Date()
	return time.Date(y, m, d-2, 0, 0, 0, 0, studio), nil
}

// rehearsedShoot makes the rehearsal's shoot folder. The surroundings that
// come back have the rehearsal's own day.
func rehearsedShoot(at surroundings, reh rehearsal.Shoot, dir string) (shoot, surroundings, error) {
	o := newOptions{Title: reh.Title, Trim: trimOf(reh.TrimWidth, reh.TrimHeight), Days: reh.FirstDay + ".." + reh.LastDay, Zone: reh.Zone}
	st, _, err := o.settings(at.Zone)
	if err != nil {
		return shoot{}, at, err
	}
	// Frames that were rendered small are asked for fewer pixels alike.
	st.Book.Bleed, st.Book.Gutter, st.Book.GoodPPI, st.Book.FloorPPI = reh.Bleed, reh.Gutter, reh.GoodPPI*reh.Scale, reh.FloorPPI*reh.Scale
	for i := range st.Rules.Shapes {
		p := &st.Rules.Shapes[i]
		p.Width, p.Height = int(math.Round(float64(p.Width)*reh.Scale)), int(math.Round(float64(p.Height)*reh.Scale))
	}
	today, err := plan.ParseDay(reh.Today)
	if err != nil {
		return shoot{}, at, err
	}
	at.Now = func() time.Time { return time.Date(today.Year, today.Month, today.Day, 18, 0, 0, 0, st.Where) }
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return shoot{}, at, err
	}
	if err := writeNew(filepath.Join(dir, "plan.csv"), reh.Plan); err != nil {
		return shoot{}, at, err
	}
	st.ID = rehearsedID
	silent := at
	silent.Stdout = &strings.Builder{}
	if err := makeShoot(silent, dir, st, false); err != nil {
		return shoot{}, at, err
	}
	s, err := openShoot(dir)
	return s, at, err
}

// rehearsedDecisions records what the invented people decided.
func rehearsedDecisions(ctx context.Context, at surroundings, s shoot, reh rehearsal.Shoot) error {
	g, err := s.gather(ctx, at.Now())
	if err != nil {
		return err
	}
	var all []catalogue.Decision
	for _, c := range reh.Choices {
		f, err := findFrame(g.Frames, s.Dir, c.File)
		if err != nil {
			return err
		}
		all = append(all, catalogue.Decision{Kind: catalogue.Choose, Frame: f.ID, Recipe: c.Recipe, Need: c.Need})
	}
	for _, w := range reh.Waivers {
		all = append(all, catalogue.Decision{Kind: catalogue.Waive, Recipe: w.Recipe, Need: w.Need, Why: w.Why})
	}
	at.Stdout, at.Who = &strings.Builder{}, func() string { return "rehearsal" }
	for _, d := range all { // each by itself, so that they can be taken back one by one
		if err := s.decide(ctx, at, g, []catalogue.Decision{d}, nil); err != nil {
			return err
		}
	}
	return nil
}

// unlike names every difference between a report and what was planted; none
// says that the report found exactly that.
func unlike(r audit.Report, reh rehearsal.Shoot, frames []catalogue.Frame) []string {
	planted := map[string]string{}
	for _, g := range reh.Gaps {
		planted[g.Recipe+" "+g.Need] = g.Verdict
	}
	var wrong []string
	for _, rec := range r.Recipes {
		for _, f := range rec.Needs {
			key := rec.ID + " " + f.Need
			want, ok := planted[key]
			delete(planted, key)
			switch {
			case !ok && f.Verdict != audit.Settled:
				wrong = append(wrong, fmt.Sprintf("%s: the report says %s (%s), and nothing was planted there", key, f.Verdict, f.Why))
			case ok && want != string(f.Verdict):
				wrong = append(wrong, fmt.Sprintf("%s: the report says %s (%s), and %s was planted", key, f.Verdict, f.Why, want))
			}
		}
	}
	for key, want := range planted {
		wrong = append(wrong, key+": "+want+" was planted, and the report does not speak of it")
	}
	wrong = append(wrong, misplaced(r, reh, frames)...)
	wrong = append(wrong, wrongClocks(r, reh)...)
	repeats := map[string]string{}
	for _, p := range reh.Repeats {
		repeats[p.Prop] = strings.Join(p.Recipes, " ")
	}
	for _, p := range r.Props {
		if repeats[p.Prop] != strings.Join(p.Recipes, " ") {
			wrong = append(wrong, fmt.Sprintf("%s: the report sees it in %s, and it was planted in %q", p.Prop, strings.Join(p.Recipes, " "), repeats[p.Prop]))
		}
		delete(repeats, p.Prop)
	}
	for prop, in := range repeats {
		wrong = append(wrong, prop+": was planted in "+in+", and the report does not speak of it")
	}
	slices.Sort(wrong)
	return wrong
}

// misplaced names the frames that a report places otherwise than the rehearsal
// knows, or does not list though no one can place them.
func misplaced(r audit.Report, reh rehearsal.Shoot, frames []catalogue.Frame) []string {
	var wrong []string
	type place struct {
		path string
		id   catalogue.FrameID
	}
	paths := map[string]place{} // of a file on its card
	for _, f := range frames {
		for _, file := range f.Files {
			paths[file.Card+"/"+file.Source] = place{f.Path(), f.ID}
		}
	}
	unplaced := map[string]bool{}
	for _, u := range r.Unplaced {
		unplaced[u.Frame] = true
	}
	for _, file := range reh.Unplaced {
		if !unplaced[paths[file].path] {
			wrong = append(wrong, file+": no one can place it, and the report does not list it")
		}
		delete(unplaced, paths[file].path)
	}
	for path := range unplaced {
		wrong = append(wrong, path+": is listed as unplaced, and can be placed")
	}
	dish := map[catalogue.FrameID]string{}
	for _, m := range r.Matches {
		dish[m.Frame] = m.Recipe
	}
	for _, t := range reh.Truths {
		got, seen := dish[paths[t.File].id]
		if t.Recipe != "" && (!seen || got != "" && got != t.Recipe) { // those placed nowhere are named above
			wrong = append(wrong, fmt.Sprintf("%s: the report places it with %q, and it shows %s", t.File, got, t.Recipe))
		}
	}
	return wrong
}

// clockCommand is what a note on a clock ends with: the way it is off, and how
// much.
var clockCommand = regexp.MustCompile(`coverplate clock set '[^']*' (slow|fast) ([0-9hms.]+)`)

// wrongClocks names the bodies whose clocks a report sees otherwise than the
// rehearsal set them. Two bodies are not pointed at a dish in the same instant:
// ten minutes are let pass.
func wrongClocks(r audit.Report, reh rehearsal.Shoot) []string {
	var wrong []string
	said := map[string]bool{}
	for _, n := range r.Notes {
		if n.Kind != "clock" {
			continue
		}
		right := false
		for _, c := range reh.Clocks {
			m := clockCommand.FindStringSubmatch(n.Says)
			if m == nil || !strings.Contains(n.Says, c.Body) || m[1] != "slow" {
				continue
			}
			if much, err := time.ParseDuration(m[2]); err == nil && (much-c.Slow).Abs() <= 10*time.Minute {
				right, said[c.Body] = true, true
			}
		}
		if !right {
			wrong = append(wrong, "a clock that is so was not planted: "+n.Says)
		}
	}
	for _, c := range reh.Clocks {
		if !said[c.Body] {
			wrong = append(wrong, fmt.Sprintf("%s: its clock is %s slow, and the report does not say so", c.Body, c.Slow))
		}
	}
	return wrong
}

// sayNext tells how to open the page and what to try. Paths and commands stand
// unfolded, so that they can be copied.
func sayNext(t *setter, dir, page, flat string) {
	t.head("see it", "")
	t.put(0, 2, "The report as a page, with pictures and palettes; open it in a browser:")
	t.whole("  " + page)
	t.put(0, 2, "The book as it lies open, spread by spread, with a value check in grey:")
	t.whole("  " + flat)
	t.head("try next", "")
	for _, line := range []string{"cd " + shellWord(dir), "coverplate frames", "coverplate flatplan --suggest", "coverplate audit --json", "coverplate choose --undo && coverplate audit"} {
		t.whole("  " + line)
	}
	if _, err := exec.LookPath("coverplate"); err != nil {
		t.put(0, 2, "These need the program on your path; in its source, go install ./cmd/coverplate puts it there.")
	}
}

// whole sets s on one line, however long it is.
func (t *setter) whole(s string) {
	if t.err == nil {
		_, t.err = fmt.Fprintln(t.w, plain(s))
	}
}
