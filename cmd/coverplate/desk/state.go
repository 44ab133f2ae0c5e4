package desk

import (
	"context"
	"runtime/debug"
	"slices"
	"time"

	"coverplate/audit"
	"coverplate/audit/angle"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest"
	"coverplate/ingest/catalogue"
)

// How often the desk looks whether the catalogue was changed, and how long it
// waits with a page for what was just said.
const (
	lookEvery = 300 * time.Millisecond
	waitFor   = 4 * time.Second
	closerMax = 8 // frames read at 1:1 before the verdicts are worked out anew
)

// state is the shoot as it was judged last. It is never changed.
type state struct {
	n      int64 // of the judgement, from 1
	made   time.Time
	shoot  audit.Shoot // frames without the measures that only judging needs
	report audit.Report
	fault  string // why the shoot can't be read anew; "" it can

	last    int64 // the last decision known
	frames  map[catalogue.FrameID]int
	matches map[catalogue.FrameID]int // places in report.Matches, Roles and Views
	refs    map[string]catalogue.FrameID
	titles  map[string]string
	recipes map[string]plan.Recipe
	runs    []run
	runAt   map[catalogue.FrameID]int
}

// refLength is how many hexadecimal digits of a frame's id stand in addresses.
const refLength = 12

// ref names a frame in addresses.
func (st *state) ref(id catalogue.FrameID) string {
	if len(id) < refLength || st.refs[string(id[:refLength])] != id {
		return string(id)
	}
	return string(id[:refLength])
}

// find is the frame that an address names.
func (st *state) find(ref string) (catalogue.Frame, bool) {
	id, ok := st.refs[ref]
	if !ok {
		id = catalogue.FrameID(ref)
	}
	i, ok := st.frames[id]
	if !ok {
		return catalogue.Frame{}, false
	}
	return st.shoot.Frames[i], true
}

// name is what people call a frame: its file's name on the card.
func name(f catalogue.Frame) string {
	if len(f.Files) == 0 {
		return string(f.ID)
	}
	return f.Files[0].Name
}

func (st *state) view(id catalogue.FrameID) angle.Reading {
	if i, ok := st.matches[id]; ok && i < len(st.report.Views) {
		return st.report.Views[i]
	}
	return angle.Reading{}
}

func (st *state) match(id catalogue.FrameID) audit.Match {
	if i, ok := st.matches[id]; ok {
		return st.report.Matches[i]
	}
	return audit.Match{}
}

// state is the shoot as it is known now; nil before it was read.
func (d *Desk) state() *state {
	d.mu.RLock()
	defer d.mu.RUnlock()
	return d.now
}

// next returns what is known now, and what is closed when that is replaced.
func (d *Desk) next() (*state, <-chan struct{}) {
	d.mu.RLock()
	defer d.mu.RUnlock()
	return d.now, d.news
}

// first waits until the shoot was read once.
func (d *Desk) first(ctx context.Context) (*state, error) {
	return d.until(ctx, time.Minute, anyState)
}

func anyState(*state) bool { return true }

// until waits for a state that will do, for a time at most, and returns the one
// that there is then.
func (d *Desk) until(ctx context.Context, atMost time.Duration, will func(*state) bool) (*state, error) {
	ctx, stop := context.WithTimeout(ctx, atMost)
	defer stop()
	for {
		st, news := d.next()
		if st != nil && will(st) {
			return st, nil
		}
		select {
		case <-news:
		case <-ctx.Done():
			if st != nil {
				return st, nil
			}
			return nil, context.Cause(ctx)
		}
	}
}

// touch says that there may be something new.
func (d *Desk) touch() {
	select {
	case d.changed <- struct{}{}:
	default:
	}
}

// judge works the report out anew after every change. Between two it rests at
// least as long as one takes, so that an ingest has its processor.
func (d *Desk) judge(ctx context.Context) {
	stamp := ""
	tried := map[catalogue.FrameID]bool{}
	every := time.NewTicker(time.Second)
	defer every.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-every.C:
			if d.o.Stamp == nil || d.o.Stamp() == stamp {
				continue
			}
		case <-d.changed:
		}
		if d.o.Stamp != nil {
			stamp = d.o.Stamp()
		}
		began := time.Now()
		wants := d.renew(ctx)
		debug.FreeOSMemory() // a season of frames was held, and hardly any of it is kept
		d.hub.tell(event{"shoot", ""})
		if d.closer(ctx, wants, tried) {
			d.touch()
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(time.Since(began) / 2):
		}
	}
}

// renew reads and judges the shoot, and returns the frames whose verdict needs
// a look at 1:1.
func (d *Desk) renew(ctx context.Context) []catalogue.FrameID {
	before := d.state()
	shoot, report, err := d.report(ctx, before)
	if err != nil {
		if ctx.Err() != nil {
			return nil
		}
		st := state{fault: err.Error(), made: d.o.Now()}
		if before != nil {
			st = *before
			st.fault = err.Error()
		} else {
			st.shoot.Recipes = nil
			st.index()
		}
		d.replace(&st)
		return nil
	}
	st := &state{shoot: shoot, report: report, made: d.o.Now()}
	wants := st.report.Wants
	st.shed()
	st.index()
	d.replace(st)
	return wants
}

// report reads the shoot and judges it. What before remembers of frames that
// have not changed is not worked out again.
func (d *Desk) report(ctx context.Context, before *state) (audit.Shoot, audit.Report, error) {
	shoot, err := d.o.Gather(ctx)
	if err != nil {
		return shoot, audit.Report{}, err
	}
	if before != nil {
		before.share(shoot.Frames)
		shoot.Before = before.report.Memory
	}
	r := audit.Run(shoot)
	shoot.Before, shoot.Maps = nil, nil // what was before them stays no longer than it must
	return shoot, r, r.Fault
}

func (d *Desk) replace(st *state) {
	d.mu.Lock()
	defer d.mu.Unlock()
	st.n = 1
	if d.now != nil {
		st.n = d.now.n + 1
	}
	d.now = st
	close(d.news)
	d.news = make(chan struct{})
}

// share has frames read anew hold the names and files that st holds of them
// already: both are in memory while the shoot is judged.
func (st *state) share(frames []catalogue.Frame) {
	for i := range frames {
		f := &frames[i]
		at, ok := st.frames[f.ID]
		if !ok {
			continue
		}
		was := &st.shoot.Frames[at]
		f.ID = was.ID
		if f.Camera == was.Camera {
			f.Camera = was.Camera
		}
		if f.Look.Picture == was.Look.Picture {
			f.Look.Picture = was.Look.Picture
		}
		if slices.Equal(f.Files, was.Files) {
			f.Files = was.Files
		}
	}
}

// shed lets go of what judging alone needs: of a season of frames it is most of
// the memory.
func (st *state) shed() {
	frames := slices.Clone(st.shoot.Frames)
	for i := range frames {
		l := &frames[i].Look
		l.Focus, l.Light, l.Rims, l.Lines, l.Matters, l.Palette = nil, nil, nil, nil, nil, nil
	}
	st.shoot.Frames = frames
	views := slices.Clone(st.report.Views)
	st.report.Views = views
	st.report.Wants = nil
}

func (st *state) index() {
	st.frames, st.matches = map[catalogue.FrameID]int{}, map[catalogue.FrameID]int{}
	st.refs, st.recipes = map[string]catalogue.FrameID{}, map[string]plan.Recipe{}
	for i, f := range st.shoot.Frames {
		st.frames[f.ID] = i
		if len(f.ID) >= refLength {
			if _, taken := st.refs[string(f.ID[:refLength])]; !taken {
				st.refs[string(f.ID[:refLength])] = f.ID
			}
		}
	}
	for i, m := range st.report.Matches {
		st.matches[m.Frame] = i
	}
	for _, r := range st.shoot.Recipes {
		st.recipes[r.ID] = r
	}
	for _, d := range st.shoot.Decisions {
		st.last = max(st.last, d.ID)
	}
	st.titles = paper.TitlesOf(st.report)
	st.runs = runsOf(st)
	st.runAt = map[catalogue.FrameID]int{}
	for i, r := range st.runs {
		for _, id := range r.frames {
			st.runAt[id] = i
		}
	}
}

// closer reads a few frames at 1:1 whose verdict needs it and tells whether
// any was read. Each is tried once.
func (d *Desk) closer(ctx context.Context, wants []catalogue.FrameID, tried map[catalogue.FrameID]bool) bool {
	var todo []catalogue.FrameID
	for _, id := range wants {
		if !tried[id] && len(todo) < closerMax {
			tried[id] = true
			todo = append(todo, id)
		}
	}
	if len(todo) == 0 {
		return false
	}
	// A frame that can't be read stays `look`, and its docket says why.
	ingest.Closer(ctx, d.o.Store, d.o.Dir, todo, func(catalogue.Frame, error) {})
	return true
}

// run is some frames of one body that follow each other without a long pause
// and are of one dish as far as is known, or of none.
type run struct {
	body   string
	day    string
	recipe string
	frames []catalogue.FrameID
}

// runsOf cuts the frames of each body into runs, in the order of their first
// frames.
func runsOf(st *state) []run {
	open := map[string]int{}
	var all []run
	lastAt := map[string]time.Time{}
	for _, f := range st.shoot.Frames {
		body, recipe := f.Body(), st.match(f.ID).Recipe
		i, ok := open[body]
		pause := f.Taken.Sub(lastAt[body])
		if !ok || all[i].recipe != recipe || f.Taken.IsZero() || pause > st.shoot.Rules.SetGap || dayOf(st, f) != all[i].day {
			i = len(all)
			all = append(all, run{body: body, day: dayOf(st, f), recipe: recipe})
			open[body] = i
		}
		all[i].frames = append(all[i].frames, f.ID)
		lastAt[body] = f.Taken
	}
	return all
}

// dayOf is the shooting day of a frame, "" not known.
func dayOf(st *state, f catalogue.Frame) string {
	if f.Taken.IsZero() {
		return ""
	}
	return st.shoot.Book.DayAt(f.Taken).String()
}
