package desk

import (
	"net/http"
	"strconv"

	"coverplate/audit"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

// alongView asks how far an assignment reaches, before it is stored: the set of
// what was named goes with it, or not.
type alongView struct {
	Chrome chrome
	Named  string // "SKA_0412.JPG" or "3 frames"
	Alone  string // "this one alone", "these 3 alone"
	Dish   string
	N, All int
	When   string
	Frames []frameView // the first of those that follow
	More   int         // of them that are not shown
	Same   []fieldView // of the form, to be sent again
	Saw    int64
	Back   string
}

// mostAlong is how many of the frames that follow are shown.
const mostAlong = 60

// What a form says of the sets of its frames: nothing yet, that they stay, or
// "set " and how many frames it was told would follow.
const (
	alone   = "alone"
	withSet = "set "
)

// reach adds the sets of the frames that a person assigned to a dish, where the
// form says so; ask is true where it says nothing and there are such, or others
// than it was told of.
func (st *state) reach(acts []catalogue.Decision, says string) (all []catalogue.Decision, follow []catalogue.FrameID, ask bool) {
	if acts[0].Kind != catalogue.Assign || acts[0].Recipe == "" || says == alone {
		return acts, nil, false
	}
	ids := make([]catalogue.FrameID, len(acts))
	for i, x := range acts {
		ids[i] = x.Frame
	}
	follow = audit.Along(st.shoot, st.report, ids)
	if len(follow) == 0 {
		return acts, nil, false
	}
	if says != withSet+strconv.Itoa(len(follow)) {
		return nil, follow, true
	}
	for _, id := range follow {
		acts = append(acts, catalogue.Decision{Kind: catalogue.Assign, Frame: id, Recipe: acts[0].Recipe})
	}
	return acts, follow, false
}

// along shows which frames would follow and asks whether they shall.
func (d *Desk) along(w http.ResponseWriter, r *http.Request, st *state, acts []catalogue.Decision, follow []catalogue.FrameID) {
	v := visitorOf(r)
	p := alongView{Chrome: d.around(r, st, v, "Its set follows"), Alone: "This one alone", Dish: acts[0].Recipe + " " + st.titles[acts[0].Recipe],
		N: len(follow), All: len(follow) + len(acts), Same: sentAgain(r, "reach"), Back: r.PostForm.Get("back")}
	p.Saw, _ = strconv.ParseInt(r.PostForm.Get("saw"), 10, 64)
	p.Chrome.Here = backTo(p.Back)
	f, _ := st.find(string(acts[0].Frame))
	p.Named = name(f)
	if len(acts) > 1 {
		p.Named = paper.Counted(len(acts), "frame", "frames")
		p.Alone = "These " + strconv.Itoa(len(acts)) + " alone"
	}
	var first, last catalogue.Frame
	for i, id := range follow {
		f, _ := st.find(string(id))
		if !f.Taken.IsZero() && (first.Taken.IsZero() || f.Taken.Before(first.Taken)) {
			first = f
		}
		if f.Taken.After(last.Taken) {
			last = f
		}
		if i < mostAlong {
			p.Frames = append(p.Frames, frameView{Ref: st.ref(id), Name: name(f), Taken: taken(f), Picture: st.pictureAt(id, smallSide)})
		}
	}
	p.More = len(follow) - len(p.Frames)
	if !first.Taken.IsZero() {
		p.When = first.Taken.Format("Monday 2 January, 15:04:05") + " to " + last.Taken.Format("15:04:05")
	}
	d.show(w, r, http.StatusOK, "along", p)
}

// sentAgain are the fields of a form that a page carries so that it can be sent
// again, but for one.
func sentAgain(r *http.Request, but string) []fieldView {
	var all []fieldView
	for _, k := range []string{"kind", "frame", "recipe", "need", "why", "undoes", "x", "y", "w", "h", "one", "run", "f", "name", "as", "another", "from", "ends", "reach"} {
		if k == but {
			continue
		}
		for _, value := range r.PostForm[k] {
			all = append(all, fieldView{k, value})
		}
	}
	return all
}
