// Package rehearsal makes an invented shoot whose truth is known: two camera
// cards of the cookbook "Skerry Table", its plan, the choices its people made
// and the gaps that were planted in it. Every frame is rendered from dishes on
// a table under a stated camera, so elevation, focal length, distance and
// aperture are known of each. The book, its dishes, its people, its cameras
// and their makes are invented.
//
// The package is a leaf: it imports nothing of this project and nothing
// outside the standard library. The same call writes the same bytes on one kind of
// processor; others may round a pixel differently.
package rehearsal

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"time"
)

// LongSide is the long side in pixels of a frame as Write makes it.
const LongSide = 2880

// Shoot is the rehearsal as it was written, with all that a demo and a test
// need to know of it.
type Shoot struct {
	Title      string
	TrimWidth  float64 // millimetres of one page
	TrimHeight float64 // millimetres
	Bleed      float64 // millimetres
	Gutter     float64 // millimetres
	GoodPPI    float64
	FloorPPI   float64
	FirstDay   string // "2026-03-04", the first day of the shoot
	LastDay    string // the last one planned, the third
	Zone       string // IANA name
	Today      string // the day on which the report is read: the last one with frames

	// Scale is the long side of the frames over LongSide: 1 from Write. A
	// reader of a smaller shoot multiplies trim, bleed and the pixels that a
	// post needs by it, and the planted gaps stay what they are.
	Scale float64

	Cards    []string // absolute folders of the two cards
	Plan     []byte   // plan.csv
	Choices  []Choice // in the order they were made
	Waivers  []Waiver
	Gaps     []Gap    // every need whose verdict is not "settled", in page order
	Repeats  []Repeat // props that stand in more than one recipe, planned
	Clocks   []Clock  // bodies whose clock is wrong
	Unplaced []string // frames that no one can place, as Choice.File
	Unread   []string // files that no one can read, as Choice.File
	Truths   []Truth  // a member a frame, in capture order; unreadable files are not among them
}

// Choice is a decision of one of the invented people: this frame for this
// need of this recipe.
type Choice struct {
	File   string // below the folder given to Write, with forward slashes: "SKERRY-A/DCIM/100SKARV/SKER9981.JPG"
	Need   string
	Recipe string
}

// Waiver says that a need is not wanted.
type Waiver struct{ Recipe, Need, Why string }

// Gap is a verdict other than "settled" that the report must give.
type Gap struct {
	Recipe, Need string
	Verdict      string // as audit.Verdict writes it
	Says         string // what was planted, in words; the report's own words may differ
}

// Repeat is a prop or surface that the plan puts into several recipes.
type Repeat struct {
	Prop    string
	Recipes []string
}

// Clock is a body whose clock runs as others do and was set wrong: it lacks
// Slow against the studio's all through the shoot.
type Clock struct {
	Body string // serial
	Slow time.Duration
}

// Truth is what is so of one frame, whatever its file says.
type Truth struct {
	File      string  // as Choice.File
	Recipe    string  // "" for the frame that shows no dish
	Role      string  // "slate", "test", "overhead", "high", "three-quarter", "low", "detail" or "none"
	Taken     string  // the studio's wall clock, "2026-03-04T08:40:12.35"
	Body      string  // serial
	Elevation float64 // degrees of the optical axis above the table: 90 looks straight down
	Tagged    bool    // the file carries the elevation
	Azimuth   float64 // degrees about the upright, 0 from the near side of the table
	Focal     float64 // millimetres on a 36 × 24 mm sensor
	FNumber   float64
	Distance  float64 // metres from the lens to the point in focus
	Width     int     // upright pixels
	Height    int
	Turned    bool    // stored lying down with orientation 6
	Garnished bool    // the dish is finished; a test shot's is not
	Rating    float64 // xmp:Rating; 0 none
}

// Script says how a rehearsal is played.
type Script struct {
	// LongSide is that of a frame in pixels, 240 to the package's LongSide; less
	// is for tests that want the shoot and not its looks. All frames scale alike,
	// those of the body that was left in its small mode too; Shoot.Scale says by
	// how much, and Truths and the files' own sizes agree.
	LongSide int
	// First is midnight of the first day in the studio's zone, whose name the
	// shoot gets. The second follows it; the third is planned and has no frame.
	First time.Time
	// Codes are the modules of each recipe's slate, true dark, with their quiet
	// zone. Each body that shoots a dish shoots its slate first, but for the one
	// dish where it was forgotten. nil: the shoot works without slates, and all
	// other frames are the same but for their numbers.
	Codes map[string][][]bool
}

// day is the date of the nth day, 1 the first, "2026-03-04".
func (sc Script) day(n int) string { return sc.First.AddDate(0, 0, n-1).Format(time.DateOnly) }

func (sc Script) scale() float64 { return float64(sc.LongSide) / LongSide }

// Write renders the rehearsal below dir, which is made where it is missing:
// two cards and nothing else. At full size it takes some 45 CPU seconds on as
// many cores as there are, eight at most.
func Write(ctx context.Context, dir string, sc Script) (Shoot, error) {
	if sc.LongSide < 240 || sc.LongSide > LongSide {
		return Shoot{}, fmt.Errorf("long side %d px: want 240 to %d", sc.LongSide, LongSide)
	}
	dir, err := filepath.Abs(dir)
	if err != nil {
		return Shoot{}, fmt.Errorf("rehearsal folder: %w", err)
	}
	exposures := sc.exposures()
	for _, card := range cardNames {
		if err := os.MkdirAll(filepath.Join(dir, card), 0o777); err != nil {
			return Shoot{}, fmt.Errorf("make card: %w", err)
		}
	}
	if err := renderAll(ctx, dir, exposures); err != nil {
		return Shoot{}, err
	}
	s := sc.bookOf(exposures)
	s.Scale = sc.scale()
	for _, card := range cardNames {
		s.Cards = append(s.Cards, filepath.Join(dir, card))
	}
	return s, nil
}

// renderAll makes the files of all exposures, the dishes in parallel. Frames
// of one arrangement follow each other on one worker, since its light is
// worked out once.
func renderAll(ctx context.Context, dir string, exposures []exposure) error {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	var groups [][]exposure
	for _, e := range exposures {
		n := len(groups)
		if n > 0 && groups[n-1][0].sceneKey() == e.sceneKey() {
			groups[n-1] = append(groups[n-1], e)
			continue
		}
		groups = append(groups, []exposure{e})
	}
	work := make(chan []exposure)
	var wg sync.WaitGroup
	for range max(1, min(runtime.GOMAXPROCS(0), 8)) {
		wg.Go(func() {
			var d darkroom
			for g := range work {
				sc := sceneOf(g[0])
				for _, e := range g {
					if ctx.Err() != nil {
						return
					}
					if err := d.writeFrame(dir, sc, e); err != nil {
						cancel(fmt.Errorf("%s: %w", e.file(), err))
						return
					}
				}
			}
		})
	}
feed:
	for _, g := range groups {
		select {
		case work <- g:
		case <-ctx.Done():
			break feed
		}
	}
	close(work)
	wg.Wait()
	return context.Cause(ctx)
}
