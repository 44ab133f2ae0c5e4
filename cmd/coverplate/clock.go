package main

import (
	"context"
	"fmt"
	"math"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"coverplate/audit"
	"coverplate/audit/clock"
	"coverplate/ingest/catalogue"
)

// wallLayouts are how a wall clock may be written.
var wallLayouts = []string{"2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02"}

func newClock(at surroundings, where *string) *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "clock",
		Short: "list the bodies' clocks against the studio's; set one",
		Long: `Lists each body with how far its clock is off the studio's, what tells so, and
the times of its first and last frame before and after. A body that photographs
a running code (coverplate slate-clock) is told exactly; a zone that the camera
wrote is heard; a person's word stands above both. Where nothing tells, its
clock is taken as it stands. What seems wrong is named, and nothing is moved by
a guess. Times in the files stay as the cameras wrote them.`,
		Example: `  coverplate clock
  coverplate clock set 'Lomvi One #LV0001' slow 47m12s
  coverplate clock pair DSC_0412.JPG IMG_0031.JPG
  coverplate undo`,
		Args: cobra.ArbitraryArgs,
		RunE: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return onlySubcommands(cmd, args)
			}
			return runClock(cmd.Context(), at, *where, asJSON)
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON")
	cmd.AddCommand(newClockSet(at, where), newClockPair(at, where))
	return cmd
}

// clockFacts is what clock --json says of one body.
type clockFacts struct {
	Body      string         `json:"body"`
	Make      string         `json:"make"`
	Model     string         `json:"model"`
	Serial    *string        `json:"serial"`
	Frames    int            `json:"frames"`
	Timeless  int            `json:"without_time"`
	Stretches []stretchFacts `json:"stretches"` // by the body's own clock
}

// stretchFacts is a run of a body's frames moved alike.
type stretchFacts struct {
	By       clock.Source `json:"by"` // hand, code, zone, own
	Shift    float64      `json:"shift_seconds"`
	Frames   int          `json:"frames"`
	Codes    int          `json:"codes"`            // frames that show one
	Residual *float64     `json:"residual_seconds"` // the most that a code is off; null: no code
	Spread   *float64     `json:"spread_seconds"`   // between two codes; null: fewer than two
	First    momentFacts  `json:"first"`
	Last     momentFacts  `json:"last"`
}

type momentFacts struct {
	File   string `json:"file"`
	Camera string `json:"camera"` // by the body's own clock
	Studio string `json:"studio"`
}

func runClock(ctx context.Context, at surroundings, where string, asJSON bool) error {
	_, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	r := audit.Run(g.Shoot)
	all := clocksOf(g, r)
	if asJSON {
		return writeJSON(at.Stdout, all)
	}
	t := newSetter(at.Stdout, termOptionsOf(at))
	if len(all) == 0 {
		t.put(0, 2, "No frame is in the shoot yet. coverplate ingest brings a card in.")
	}
	for _, c := range all {
		c.put(t)
	}
	for _, n := range r.Notes {
		if n.Kind == "clock" {
			t.put(0, 2, "look: "+n.Says)
		}
	}
	return t.err
}

// clocksOf tells how each body's clock stands.
func clocksOf(g gathered, r audit.Report) []clockFacts {
	all := []clockFacts{}
	byBody := map[string]catalogue.Frame{}
	for _, f := range g.Frames {
		byBody[f.Body()] = f
	}
	for _, b := range r.Clocks {
		c := byBody[b.Name].Camera
		facts := clockFacts{Body: b.Name, Make: c.Make, Model: c.Model, Serial: written(c.Serial), Timeless: b.Timeless, Frames: b.Timeless, Stretches: []stretchFacts{}}
		for _, s := range b.Stretches {
			out := stretchFacts{By: s.By, Shift: s.Shift.Seconds(), Frames: len(s.Frames), Codes: len(s.Codes)}
			if len(s.Codes) > 0 {
				off := s.Off.Seconds() // 0 is a figure here, not "unknown"
				out.Residual = &off
			}
			if len(s.Codes) > 1 {
				spread := s.Spread.Seconds()
				out.Spread = &spread
			}
			moment := func(i int) momentFacts {
				return momentFacts{g.Frames[i].Path(), g.Frames[i].Taken.Format(wallLayouts[0]), r.Times[i].Time.Format(wallLayouts[0])}
			}
			out.First, out.Last = moment(s.Frames[0]), moment(s.Frames[len(s.Frames)-1])
			facts.Stretches = append(facts.Stretches, out)
			facts.Frames += len(s.Frames)
		}
		all = append(all, facts)
	}
	return all
}

// put sets a body and its stretches.
func (c clockFacts) put(t *setter) {
	t.head(plain(c.Body), counted(c.Frames, "frame", "frames"))
	for _, s := range c.Stretches {
		t.put(0, 2, s.says()+": "+counted(s.Frames, "frame", "frames"))
		for _, m := range []momentFacts{s.First, s.Last} {
			line := strings.Replace(m.Camera, "T", " ", 1)
			if m.Studio != m.Camera {
				line += " is " + strings.Replace(m.Studio, "T", " ", 1)
			}
			t.put(2, 4, line+"  "+plain(path.Base(m.File)))
			if s.First.File == s.Last.File {
				break
			}
		}
	}
	if c.Timeless > 0 {
		t.put(0, 2, "without a time: "+counted(c.Timeless, "frame", "frames"))
	}
}

// saysShift says how a clock is off: "47m12s slow".
func saysShift(d time.Duration) string {
	return strings.TrimSpace(strings.TrimPrefix(clock.Span(d), "0s") + " " + clock.Side(d))
}

// says tells how far a clock is off, and what tells so.
func (s stretchFacts) says() string {
	shift := time.Duration(math.Round(s.Shift*1000)) * time.Millisecond
	off := saysShift(shift)
	switch s.By {
	case clock.Hand:
		return off + ", a person set it"
	case clock.Code:
		says := fmt.Sprintf("%s, by %s, off by %.1f s at the most", off, counted(s.Codes, "code", "codes"), *s.Residual)
		if s.Spread != nil {
			says += fmt.Sprintf(", %.1f s apart", *s.Spread)
		}
		return says
	case clock.Zone:
		if shift == 0 {
			return "in the studio's zone, as the camera wrote; nothing tells whether it goes right"
		}
		return off + " by the zone that the camera wrote; nothing tells whether it goes right"
	}
	return "taken as it stands; nothing tells"
}

func newClockSet(at surroundings, where *string) *cobra.Command {
	var from, until string
	cmd := &cobra.Command{
		Use:   "set BODY slow|fast|right [HOW MUCH]",
		Short: "say how a body's clock is off",
		Long: `Says how much slow or fast a body's clock is against the studio's, in days,
hours, minutes and seconds: 2d, 1h, 47m12s; or that it is right, whatever zone
it wrote.

BODY is the name that coverplate clock prints, or a part of it that only it has.
--from and --until are times by the body's own clock; without them all its
frames are meant. coverplate undo takes it back.`,
		Example: `  coverplate clock set LV0001 slow 47m12s
  coverplate clock set LV0001 fast 1h --from 2026-03-04T12:00`,
		Args: usage(cobra.RangeArgs(2, 3), "a body, slow or fast, and how much"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runClockSet(cmd.Context(), at, *where, args[0], args[1:], from, until)
		},
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			if len(args) == 1 {
				return []string{"slow", "fast", "right"}, cobra.ShellCompDirectiveNoFileComp
			}
			return nil, cobra.ShellCompDirectiveNoFileComp
		},
	}
	cmd.Flags().StringVar(&from, "from", "", "the first `TIME` that is meant, by the body's own clock")
	cmd.Flags().StringVar(&until, "until", "", "the first `TIME` that is not meant any more")
	return cmd
}

func runClockSet(ctx context.Context, at surroundings, where, word string, off []string, fromWord, untilWord string) error {
	shift, err := parseShift(off)
	if err != nil {
		return misused("slow 47m12s, fast 1h, slow 2d, or right", "%w", err)
	}
	from, err := parseWall(fromWord)
	if err != nil {
		return misused("like 2026-03-04T12:00", "--from: %w", err)
	}
	until, err := parseWall(untilWord)
	if err != nil {
		return misused("like 2026-03-04T12:00", "--until: %w", err)
	}
	if !until.IsZero() && !from.Before(until) {
		return misused("--from comes first", "--from %s is not before --until %s", fromWord, untilWord)
	}
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	body, err := g.findBody(word)
	if err != nil {
		return err
	}
	return s.setClock(ctx, at, g, catalogue.Decision{Kind: catalogue.Clock, Body: body, Shift: shift, From: from, Why: "set by hand"}, until)
}

// setClock stores what a person says of a clock, until a time where one is
// given, and shows which frames it moves.
func (s shoot) setClock(ctx context.Context, at surroundings, g gathered, d catalogue.Decision, until time.Time) error {
	all := []catalogue.Decision{d}
	if !until.IsZero() {
		after := catalogue.Decision{Kind: catalogue.Clock, Body: d.Body, From: until, Need: catalogue.AsTold, Why: d.Why}
		var since time.Time
		for _, w := range catalogue.Current(g.Decisions) { // what was said of then holds on
			if w.Kind == catalogue.Clock && w.Body == d.Body && !w.From.After(until) && !w.From.Before(since) {
				after.Shift, after.Need, since = w.Shift, w.Need, w.From
			}
		}
		all = append(all, after)
	}
	before := audit.Run(g.Shoot)
	says := g.decisionSays(d)
	next := g
	next.Decisions = slices.Clone(g.Decisions)
	id := int64(len(g.Decisions))
	for _, w := range g.Decisions {
		id = max(id, w.ID)
	}
	for i, w := range all {
		w.ID = id + 1 + int64(i)
		next.Decisions = append(next.Decisions, w)
	}
	after := audit.Run(next.Shoot)
	moved, first := 0, -1
	for i := range g.Frames {
		if !before.Times[i].Time.Equal(after.Times[i].Time) {
			moved++
			if first < 0 {
				first = i
			}
		}
	}
	if moved > 0 {
		says += fmt.Sprintf("\n%s moved; %s from %s to %s", counted(moved, "frame is", "frames are"), path.Base(g.Frames[first].Path()),
			before.Times[first].Time.Format("2006-01-02 15:04:05"), after.Times[first].Time.Format("2006-01-02 15:04:05"))
	} else {
		says += "\nno frame is moved"
	}
	return s.decide(ctx, at, g, all, []string{says})
}

func newClockPair(at surroundings, where *string) *cobra.Command {
	return &cobra.Command{
		Use:   "pair RIGHT WRONG",
		Short: "set a clock by two frames of one moment",
		Long: `Sets the clock of the body that took the second frame by the first: both show
the same moment, seen by two bodies. The first is taken as right, as its own
clock stands corrected now.`,
		Example: `  coverplate clock pair DSC_0412.JPG IMG_0031.JPG`,
		Args:    usage(cobra.ExactArgs(2), "a frame of the body that is right, and one of the body to be set"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return runClockPair(cmd.Context(), at, *where, args[0], args[1])
		},
	}
}

func runClockPair(ctx context.Context, at surroundings, where, right, wrong string) error {
	s, g, err := openAndGather(ctx, at, where)
	if err != nil {
		return err
	}
	var frames [2]catalogue.Frame
	var times [2]time.Time
	r := audit.Run(g.Shoot)
	for k, word := range []string{right, wrong} {
		if frames[k], err = findFrame(g.Frames, s.Dir, word); err != nil {
			return err
		}
		i := slices.IndexFunc(g.Frames, func(f catalogue.Frame) bool { return f.ID == frames[k].ID })
		if times[k] = r.Times[i].Time; times[k].IsZero() {
			return misused("take a pair that has times", "%s has no time", frames[k].Path())
		}
	}
	body := frames[1].Body()
	if body == frames[0].Body() {
		return misused("take frames of two bodies", "both frames are of %s", body)
	}
	d := catalogue.Decision{Kind: catalogue.Clock, Body: body, Shift: times[0].Sub(frames[1].Taken),
		Why: fmt.Sprintf("pair: %s shows the moment of %s", path.Base(frames[1].Path()), path.Base(frames[0].Path()))}
	return s.setClock(ctx, at, g, d, time.Time{})
}

// findBody finds the one body whose name has word in it; case does not count.
func (g gathered) findBody(word string) (string, error) {
	var all, found []string
	for _, f := range g.Frames {
		b := f.Body()
		if slices.Contains(all, b) {
			continue
		}
		all = append(all, b)
		if strings.EqualFold(b, word) {
			return b, nil
		}
		if strings.Contains(strings.ToLower(b), strings.ToLower(word)) {
			found = append(found, b)
		}
	}
	slices.Sort(all)
	slices.Sort(found)
	switch len(found) {
	case 1:
		return found[0], nil
	case 0:
		hint := "no frame is in the shoot yet; coverplate ingest brings a card in"
		if len(all) > 0 {
			hint = "the bodies are: " + strings.Join(all, "; ")
		}
		return "", misused(hint, "no body is named %q", word)
	}
	return "", misused("give more of its name", "%q names %d bodies: %s", word, len(found), strings.Join(found, "; "))
}

// days is a number of days before the rest of a shift.
var days = regexp.MustCompile(`^(\d+)d(.*)$`)

// parseShift reads what a clock lacks: "slow 47m12s", "fast 2d1h", "right".
func parseShift(words []string) (time.Duration, error) {
	wrong := fmt.Errorf("%q does not say how a clock is off", strings.Join(words, " "))
	sign := time.Duration(1)
	switch side := strings.ToLower(words[0]); {
	case side == clock.Side(0) && len(words) == 1:
		return 0, nil
	case len(words) != 2:
		return 0, wrong
	case side == clock.Side(-1):
		sign = -1
	case side != clock.Side(1):
		return 0, wrong
	}
	rest := words[1]
	var d time.Duration
	if m := days.FindStringSubmatch(rest); m != nil {
		n, err := strconv.Atoi(m[1])
		if err != nil || n > 36500 {
			return 0, wrong
		}
		d, rest = time.Duration(n)*24*time.Hour, m[2]
	}
	if rest != "" {
		more, err := time.ParseDuration(rest)
		if err != nil || !(more >= 0 && more < 100*365*24*time.Hour) {
			return 0, wrong
		}
		d += more
	}
	return sign * d, nil
}

// parseWall reads a wall clock, its digits held in UTC; zero for "".
func parseWall(s string) (time.Time, error) {
	if s == "" {
		return time.Time{}, nil
	}
	for _, layout := range wallLayouts {
		if t, err := time.Parse(layout, s); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("%q is no time", s)
}
