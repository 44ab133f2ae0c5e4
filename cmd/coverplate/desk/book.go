package desk

import (
	"context"
	"html/template"
	"net/http"
	"sync"

	"coverplate/audit"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

// bookView is the book as it lies open.
type bookView struct {
	Chrome             chrome
	Turns              string
	Spreads            []paper.Spread
	Matrix             paper.Matrix
	Twins              []paper.Twin
	Props              []propView
	Variety, Why       string
	Changes, Arguments []takeView
	Unknown, LeftOut   []string
	Weighing           bool // the suggestion is being worked out anew
	Weighed            bool // there is one, be it of the shoot a moment ago
}

// takeView is a change that can be taken with one press.
type takeView struct {
	paper.Change
	Chrome chrome
	Ref    string
}

func (d *Desk) book(w http.ResponseWriter, r *http.Request, st *state, v visitor) {
	p := bookView{Chrome: d.around(r, st, v, "The book"), Turns: paper.TurnsSay(st.report.Spreads)}
	p.Chrome.Wide = true
	picture := func(id catalogue.FrameID) template.URL { return st.pictureAt(id, midSide) }
	for _, s := range st.report.Spreads {
		p.Spreads = append(p.Spreads, paper.SpreadOf(s, st.titles, picture))
	}
	like := audit.Compare(st.report, st.shoot.Rules)
	p.Matrix, p.Twins = paper.MatrixOf(like, st.report.Spreads, st.titles), paper.TwinsOf(like, st.titles)
	p.Props = ledger(st, true)
	g, ok, old := d.suggestion(st)
	p.Weighing = !ok || old
	p.Weighed = ok
	if ok {
		p.Variety, p.Why = paper.VarietySays(g), paper.VarietyWhy(g)
		p.Unknown, p.LeftOut = paper.NotWeighed(g, st.titles)
		take := func(all []audit.Change) (views []takeView) {
			for _, c := range paper.ChangesOf(all, st.titles, picture, func(audit.Change) string { return "" }) {
				views = append(views, takeView{c, p.Chrome, st.ref(c.ToID)})
			}
			return views
		}
		p.Changes, p.Arguments = take(g.Changes), take(g.Arguments)
	}
	d.show(w, r, http.StatusOK, "book", p)
}

// suggested is the suggestion of one state, worked out when it is first asked
// for: it needs all that was measured, and time.
type suggested struct {
	mu   sync.Mutex
	n    int64 // of the state; 0 none yet
	what audit.Suggestion
	busy bool
}

// suggestion is what would make neighbours differ more, as last worked out; old
// says that it is of an earlier state. A new one is begun then, and pages are
// told when it is there.
func (d *Desk) suggestion(st *state) (g audit.Suggestion, ok, old bool) {
	s := &d.suggest
	s.mu.Lock()
	defer s.mu.Unlock()
	old = s.n != st.n
	if old && !s.busy {
		s.busy = true
		go func() {
			leave, _ := d.room.enter(context.Background(), othersWait)
			defer leave()
			shoot, err := d.o.Gather(context.Background(), st.shoot.Frames)
			var what audit.Suggestion
			if err == nil {
				shoot.Before = st.report.Memory
				what = audit.Suggest(shoot)
				err = what.Fault
			}
			s.mu.Lock()
			s.busy = false
			if err == nil {
				s.n, s.what = st.n, what
			}
			s.mu.Unlock()
			if err == nil {
				d.hub.tell(event{"shoot", ""})
			}
		}()
	}
	return s.what, s.n > 0, old
}
