package desk

import (
	"context"
	"errors"
	"reflect"
	"time"

	"coverplate/audit"
	"coverplate/audit/angle"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

// How often the desk looks whether the catalogue was changed, and how long it
// waits with a page for what was just said.
const (
	lookEvery = 300 * time.Millisecond
	waitFor   = 4 * time.Second
)

// state is the shoot as it was judged last. It is never changed.
type state struct {
	n      int64 // of the judgement, from 1
	made   time.Time
	shoot  audit.Shoot // frames without their maps
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

// hasten has what is new be judged without a rest.
func (d *Desk) hasten() {
	select {
	case d.hurry <- struct{}{}:
	default:
	}
}

// judge works the report out anew after every change. Between two it rests half
// as long as one takes, so that an ingest has its processor, and longer while
// originals are read, each of which is a change; but not where a person decided.
func (d *Desk) judge(ctx context.Context) {
	stamp := ""
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
		leave := d.enterToJudge(ctx)
		began := time.Now()
		isNew := d.renew(ctx)
		leave()
		if isNew {
			d.near.ask(d.state().report.Wants)
		}
		d.hub.tell(event{"shoot", ""}) // some pages show what is not judged
		rest := time.Since(began) / 2
		if d.near.busy() {
			rest = max(rest, nearEvery)
		}
		select {
		case <-ctx.Done():
			return
		case <-d.hurry:
		case <-time.After(rest):
		}
	}
}

// renew reads and judges the shoot, and tells whether anything was new.
func (d *Desk) renew(ctx context.Context) bool {
	before := d.state()
	shoot, report, err := d.report(ctx, before)
	if errors.Is(err, errNothingNew) || err != nil && ctx.Err() != nil {
		return false
	}
	if err != nil {
		st := state{fault: err.Error(), made: d.o.Now()}
		if before != nil {
			st = *before
			st.fault = err.Error()
		} else {
			st.shoot.Recipes = nil
			st.index()
		}
		d.replace(&st)
		return true
	}
	st := &state{shoot: shoot, report: report, made: d.o.Now()}
	st.index()
	d.replace(st)
	return true
}

// errNothingNew: the shoot is as it was judged.
var errNothingNew = errors.New("nothing is new")

// report reads the shoot and judges it. What before knows of frames that have
// not changed is neither read nor worked out again.
func (d *Desk) report(ctx context.Context, before *state) (audit.Shoot, audit.Report, error) {
	var known []catalogue.Frame
	if before != nil {
		known = before.shoot.Frames
	}
	shoot, err := d.o.Gather(ctx, known)
	if err != nil {
		return shoot, audit.Report{}, err
	}
	maps := shoot.Maps
	shoot.Maps = nil
	if before != nil && before.fault == "" && reflect.DeepEqual(before.shoot, shoot) {
		return shoot, before.report, errNothingNew
	}
	judged := shoot
	judged.Maps = maps
	if before != nil {
		judged.Before = before.report.Memory
	}
	r := audit.Run(judged)
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
