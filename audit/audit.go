// Package audit holds a shoot against its plan: which recipe each frame
// shows, which needs are met and by what, how the book turns, and what must
// still be done. It is pure: no disk, no clock, no pixels. The same shoot
// gives the same report, byte for byte, whatever the order of its frames and
// recipes; and nothing unknown is ever called done.
package audit

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"coverplate/audit/clock"
	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// DefaultRules returns the settings of a shoot that states none.
//
// The shapes are third-party statements of what platforms show (reference
// file 06_social_sizes.csv, as of the dates given). No published value says
// when two spreads look different: both palette thresholds are this project's
// choice, see tooAlike and jarring. SameSurface follows Mokrzycki and Tatol (2011),
// for whom an observer sees two different colours from 5 on, though in the
// older ΔE of 1976, and so does WhiteDrift. FocusFloor is a blur of σ 1.8 pixels
// at 1:1: half of the subjective quality is left where it is printed at 300
// pixels an inch (TestFocusFloorLeavesHalfOfTheQuality). MotionShare is the
// least multiple of 0.05 from which at most one of twenty pictures that did not
// move is called moved, at any grain, among the photographs that look's
// constants were chosen on (TestFocusFallsWithEveryBlur in ingest/look). OddsFloor
// and SetGap are common sense, no source; so are the limits of light and
// FocusShare, all provisional.
func DefaultRules() Rules {
	return Rules{
		Shapes: []Shape{
			{Name: "4:5", Width: 1080, Height: 1350, AsOf: "2026-05"},
			{Name: "1:1", Width: 1080, Height: 1080, AsOf: "2026-05"},
			{Name: "9:16", Width: 1080, Height: 1920, AsOf: "2026-05"},
			{Name: "3:4", Width: 1080, Height: 1440, AsOf: "2026-05"},
		},
		TooAlike:    tooAlike,
		Jarring:     jarring,
		OddsFloor:   0.8,
		SetGap:      10 * time.Minute,
		SameSurface: 5,
		FocusShare:  0.7,
		FocusFloor:  0.37,
		MotionShare: 0.4,
		MostBurnt:   0.02,
		MostBlocked: 0.1,
		LevelDrift:  0.7,
		WhiteDrift:  5,
	}
}

// sheet is a shoot laid out for judgement.
type sheet struct {
	Shoot
	recipes   []plan.Recipe         // in page order
	frames    []catalogue.Frame     // in capture order, each once
	body      []string              // by frame: Frame.Body
	meant     map[[2]string]meaning // by recipe and title of a slate
	frameAt   map[catalogue.FrameID]int
	recipeAt  map[string]int // by id, the first of each
	folded    map[string][]int
	said      map[catalogue.FrameID]catalogue.Decision // which recipe a frame shows
	choices   []catalogue.Decision
	logged    map[int][]catalogue.Decision // props on the set of each recipe
	starts    map[int][]start              // variants of each recipe
	variant   []string                     // by frame; "" none was named
	onSet     []catalogue.Decision         // what came on set, and when
	waivers   map[wish]catalogue.Decision
	chosen    map[wish][]int // frames, in capture order
	lost      map[wish]bool  // its chosen frame is no more
	placed    []placing      // by frame
	doubts    []string       // by frame: why the dish of its slate can't be known; "" it can, or there is none
	shows     [][]int        // frames of each recipe, in capture order
	maybe     []int          // unplaced frames that may show each recipe
	notes     []Note
	readings  []clock.Reading // in the order of Shoot.Frames; so told
	told      []clock.Told
	clocks    []clock.Body
	views     []view                   // by frame
	barred    []string                 // by frame: why it never counts as coverage; "" it may
	roles     []FrameRoles             // by frame
	setAt     []int                    // by frame: its place in sets; −1 none
	sets      []set                    // by their first frames
	setNumber []int                    // by set: from 1, one of those of bodies that shot one dish at one time
	besides   []beside                 // by frame
	changes   []float64                // by frame: log-odds that the dish was changed before it, by pause and picture
	gaps      map[string]time.Duration // by body: the pause in which the dish is as likely changed as not

	scenes    []scene      // frames that show one picture, set by set
	sceneAt   []int        // by frame: its place in scenes; −1 none
	gains     [][3]float64 // by frame: how much more light it got than the first of its scene, stops by channel
	casts     []float64    // by frame: how far its neutral is off its scene's, Lab a and b; 0 not known
	sharpness []float64    // by frame: of what matters in its scene; −1 not known

	rough []float64 // by frame: of its border; NaN not measured

	tested map[contest][]fit

	crops map[part]crop.Rect // a person's own

	gauges map[int]*crop.Gauge // by frame, of the recipe in hand
	memory *Memory             // for the next Run
	fault  error               // why maps could not be had; nil they could
}

// part is a frame as it is cut for one need.
type part struct {
	frame int
	need  string
}

// wish is one need of one recipe.
type wish struct {
	recipe int
	need   string
}

// needKey is a need without its number: options are one matter.
func needKey(need string) string {
	need = strings.ToLower(strings.TrimSpace(need))
	if strings.HasPrefix(need, string(plan.Options)) {
		return string(plan.Options)
	}
	return need
}

// lay sorts the shoot, takes in what people decided and matches the frames.
func lay(s Shoot) *sheet {
	d := &sheet{Shoot: s, frameAt: map[catalogue.FrameID]int{}, recipeAt: map[string]int{}, folded: map[string][]int{},
		said: map[catalogue.FrameID]catalogue.Decision{}, waivers: map[wish]catalogue.Decision{}, logged: map[int][]catalogue.Decision{},
		chosen: map[wish][]int{}, lost: map[wish]bool{}, tested: map[contest][]fit{},
		crops: map[part]crop.Rect{}, memory: &Memory{map[setKey]*setMeasures{}, map[version]*pieces{}, s.Rules.Shapes, map[string]string{}},
		gauges: map[int]*crop.Gauge{}, meant: map[[2]string]meaning{}}
	d.recipes = slices.Clone(s.Recipes)
	slices.SortStableFunc(d.recipes, func(a, b plan.Recipe) int {
		return cmp.Or(cmp.Compare(unset(a.Pages.First), unset(b.Pages.First)), cmp.Compare(a.Pages.Last, b.Pages.Last),
			cmp.Compare(a.Row, b.Row), cmp.Compare(a.ID, b.ID), cmp.Compare(a.Title, b.Title))
	})
	for i, r := range d.recipes {
		if _, twice := d.recipeAt[r.ID]; !twice {
			d.recipeAt[r.ID] = i
			key := folding(r.ID)
			d.folded[key] = append(d.folded[key], i)
		}
	}
	decided, notes := Renumbered(s.Recipes, s.Decisions)
	d.notes = notes
	holds := catalogue.Current(decided)
	d.frames = slices.Clone(s.Frames)
	d.setClocks(holds)
	slices.SortStableFunc(d.frames, func(a, b catalogue.Frame) int {
		if a.Taken.IsZero() != b.Taken.IsZero() {
			if a.Taken.IsZero() {
				return 1
			}
			return -1
		}
		return cmp.Or(a.Taken.Compare(b.Taken), cmp.Compare(a.Path(), b.Path()), cmp.Compare(a.ID, b.ID))
	})
	d.frames = slices.CompactFunc(d.frames, func(a, b catalogue.Frame) bool { return a.ID == b.ID })
	d.body = make([]string, len(d.frames))
	for i, f := range d.frames {
		d.frameAt[f.ID], d.body[i] = i, f.Body()
	}
	d.hear(holds)
	d.place()
	d.shows = make([][]int, len(d.recipes))
	d.maybe = make([]int, len(d.recipes))
	for i, p := range d.placed {
		if r, ok := d.recipeAt[p.Recipe]; ok && p.Recipe != "" {
			d.shows[r] = append(d.shows[r], i)
		} else if len(p.guesses) > 0 && p.Odds > 0 {
			d.maybe[d.recipeAt[p.guesses[0]]]++
		}
	}
	d.choose()
	d.nameVariants(holds)
	d.bar()
	d.gather()
	d.measure()
	d.cast()
	return d
}

func unset(page int) int {
	if page <= 0 {
		return math.MaxInt
	}
	return page
}

// find returns the recipe of an id as a person wrote it.
func (d *sheet) find(id string) (int, bool) {
	if r, ok := d.recipeAt[id]; ok {
		return r, true
	}
	if all := d.folded[folding(id)]; len(all) == 1 {
		return all[0], true
	}
	return 0, false
}

// hear takes in the decisions that hold.
func (d *sheet) hear(all []catalogue.Decision) {
	for _, w := range all {
		_, known := d.find(w.Recipe)
		switch w.Kind {
		case catalogue.Assign:
			d.said[w.Frame] = w
		case catalogue.Choose:
			d.choices = append(d.choices, w)
			if _, said := d.said[w.Frame]; w.Recipe != "" && (known || !said) {
				d.said[w.Frame] = w
			}
		case catalogue.On:
			d.onSet = append(d.onSet, w)
		case catalogue.Crop:
			if at, ok := d.frameAt[w.Frame]; ok {
				d.crops[part{at, needKey(w.Need)}] = crop.Rect{X: w.Rect[0], Y: w.Rect[1], Width: w.Rect[2], Height: w.Rect[3]}
			} else {
				d.note("decision", "", string(w.Frame), "the frame that was cropped by hand is no longer in the catalogue: read its card again")
			}
		case catalogue.Prop:
			if r, ok := d.find(w.Recipe); ok {
				d.logged[r] = append(d.logged[r], w)
			} else {
				d.note("decision", w.Recipe, "", fmt.Sprintf("%s was on the set of %s, but the plan has no %s: was it renumbered?", w.Name, w.Recipe, w.Recipe))
			}
		case catalogue.Waive:
			if r, ok := d.find(w.Recipe); ok {
				d.waivers[wish{r, needKey(w.Need)}] = w
			} else {
				d.note("decision", w.Recipe, "", fmt.Sprintf("%s of %s is waived, but the plan has no %s: was it renumbered?", w.Need, w.Recipe, w.Recipe))
			}
		}
	}
}

// choose holds the choices against the frames and the plan.
func (d *sheet) choose() {
	for _, w := range d.choices {
		r, known := d.find(w.Recipe)
		at, here := d.frameAt[w.Frame]
		if !here {
			if known {
				d.lost[wish{r, needKey(w.Need)}] = true
			}
			d.note("decision", w.Recipe, string(w.Frame), fmt.Sprintf("the frame chosen as %s of %s is no longer in the catalogue: choose another, or read its card again", w.Need, cmp.Or(w.Recipe, "its recipe")))
			continue
		}
		name, match := d.frames[at].Path(), d.placed[at].Recipe
		if w.Recipe == "" {
			r, known = d.recipeAt[match]
			known = known && match != ""
		}
		switch {
		case !known && w.Recipe == "":
			d.note("decision", "", name, fmt.Sprintf("chosen as %s, but it shows no recipe that is known: assign it", w.Need))
		case !known:
			d.note("decision", w.Recipe, name, fmt.Sprintf("chosen as %s of %s, but the plan has no %s: was it renumbered? assign the frame to the recipe that it shows", w.Need, w.Recipe, w.Recipe))
		case d.recipes[r].ID != match:
			d.lost[wish{r, needKey(w.Need)}] = true
			d.note("decision", d.recipes[r].ID, name, fmt.Sprintf("chosen as %s of %s, but it was said later that it shows %s: choose again", w.Need, d.recipes[r].ID, cmp.Or(match, "no recipe")))
		default:
			key := wish{r, needKey(w.Need)}
			if !slices.Contains(d.chosen[key], at) {
				d.chosen[key] = append(d.chosen[key], at)
				slices.Sort(d.chosen[key])
			}
		}
	}
}

// choicesMade are the frames that people chose, by recipe, need and time.
func (d *sheet) choicesMade() []Choice {
	var out []Choice
	for i, r := range d.recipes {
		asked := map[string]bool{}
		for _, n := range needsOf(r) {
			asked[needKey(n.String())] = true
			for _, at := range d.chosen[wish{i, needKey(n.String())}] {
				out = append(out, Choice{r.ID, n.String(), d.frames[at].ID})
			}
		}
		var more []Choice
		for w, frames := range d.chosen {
			for _, at := range frames {
				if w.recipe == i && !asked[w.need] {
					more = append(more, Choice{r.ID, w.need, d.frames[at].ID})
				}
			}
		}
		slices.SortFunc(more, func(a, b Choice) int {
			return cmp.Or(cmp.Compare(a.Need, b.Need), cmp.Compare(d.frameAt[a.Frame], d.frameAt[b.Frame]))
		})
		out = append(out, more...)
	}
	return out
}

func (d *sheet) note(kind, recipe, frame, says string) {
	d.notes = append(d.notes, Note{kind, recipe, frame, says})
}

// Run holds the shoot against its plan.
func Run(s Shoot) Report {
	d := lay(s)
	r := Report{Book: s.Book.Title, Recipes: []Recipe{}, Unplaced: []UnplacedNote{}, Matches: make([]Match, len(d.placed)), Times: d.told, Clocks: d.clocks}
	for i, p := range d.placed {
		for k := range p.Why {
			p.Why[k].Says = d.one(p.Why[k].Says)
		}
		r.Matches[i] = p.Match
		if p.Recipe == "" && p.says != "" {
			r.Unplaced = append(r.Unplaced, UnplacedNote{Frame: d.frames[i].Path(), FrameID: p.Frame, Taken: wallClock(d.frames[i].Taken), Why: p.says, Guesses: firstTwo(p.guesses)})
		}
		if p.contra && !p.ByHand {
			d.note("contradiction", "", d.frames[i].Path(), p.says)
		}
	}
	r.Seen = d.seen(len(r.Unplaced), d.suspectClocks())
	spreads := d.spreads()
	r.Spreads = make([]Spread, len(spreads))
	for i, sp := range spreads {
		r.Spreads[i] = sp.Spread
	}
	var wanted []catalogue.FrameID
	for i := range d.recipes {
		r.Recipes = append(r.Recipes, d.recipe(i, spreads, r.Seen.Bodies))
		chosen, rest := d.wants(i)
		r.Wants, wanted = append(r.Wants, chosen...), append(wanted, rest...)
		d.forget(i)
	}
	r.Wants = append(r.Wants, wanted...) // choices come first, since they hold or free a set
	r.Chosen = d.choicesMade()
	r.Roles = d.roles
	for _, v := range d.views {
		r.Views = append(r.Views, v.Reading)
	}
	r.Days = d.pace(r.Recipes)
	r.Things = d.things(r.Recipes)
	d.oneGround()
	r.Props = repeats(r.Things)
	if r.Fault = d.fault; d.fault == nil {
		r.Memory = d.memory
	}
	r.Notes = d.notes
	if r.Notes == nil {
		r.Notes = []Note{}
	}
	return r
}

// seen says what the report rests on. A frame dated outside of the shooting
// days is noted, unless that was explained, and is not the last one where others
// are.
func (d *sheet) seen(unplaced int, explained map[catalogue.FrameID]bool) Seen {
	s := Seen{Frames: len(d.frames), Cards: []string{}, Unplaced: unplaced}
	for _, c := range d.Cards {
		s.Cards = append(s.Cards, c.Name)
	}
	slices.Sort(s.Cards)
	s.Cards = slices.Compact(s.Cards)
	var last, any time.Time
	outside := 0
	first := ""
	for _, f := range d.frames {
		if f.Taken.IsZero() {
			continue
		}
		any = f.Taken
		day := d.Book.DayAt(f.Taken)
		if !d.Book.FirstDay.IsZero() && day.Before(d.Book.FirstDay) || !d.Book.LastDay.IsZero() && d.Book.LastDay.Before(day) {
			if !explained[f.ID] {
				outside++
				first = cmp.Or(first, f.Path())
			}
			continue
		}
		last = f.Taken
	}
	if outside > 0 {
		d.note("clock", "", first, fmt.Sprintf("%s dated outside of the shooting days, this one first: a clock may be wrong", counted(outside, "frame is", "frames are")))
	}
	if last.IsZero() {
		last = any
	}
	s.LastFrame = wallClock(last)
	s.Bodies = d.seenBodies()
	return s
}

// wallClock gives a wall clock to the second; nil where there is none.
func wallClock(t time.Time) *string {
	if t.IsZero() {
		return nil
	}
	s := t.Format("2006-01-02T15:04:05")
	return &s
}

func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Palette distances, ΔE2000, of the default rules. No published value says
// when two spreads look different; these are chosen by a rule on the photographs
// of one cook and held against seven others, whose pictures had no say
// (TestDefaultThresholdsAgainstPhotographs; the figures and their chart are in
// DEVELOPERS.md, "How far palettes lie apart"). To the eye pairs about 8 apart
// could be of one set, at 10 they are kin, at 15 they are not, and at 30 the one
// is light or grey where the other is dark or coloured.
const (
	// tooAlike is the least multiple of 5 under which 99 of 100 near twins lie:
	// a picture and itself framed a tenth closer, a third of a stop lighter or
	// darker, or compressed again. What is nearer can't be told from a twin.
	tooAlike = 10.0
	// jarring is the least multiple of 5 that 5 of 100 pairs of one cook's
	// dishes exceed at most.
	jarring = 30.0
)
