package desk

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

// wrong is a form that can't be carried out, in words for who sent it.
type wrong struct{ says string }

func (w wrong) Error() string { return w.says }

func wrongf(format string, args ...any) error { return wrong{fmt.Sprintf(format, args...)} }

// decide stores what a person said: an act of one decision or more, with the
// person's name. A form carries the last decision that its page knew of; where
// others have decided on the same matter since, it is not stored and they are
// shown.
func (d *Desk) decide(w http.ResponseWriter, r *http.Request) {
	v := visitorOf(r)
	if !v.choose {
		d.fail(w, r, http.StatusForbidden, "This link is for looking.", "Ask whoever runs the desk for one that may choose; nothing was stored.")
		return
	}
	st, err := d.first(r.Context())
	if err != nil {
		d.fail(w, r, http.StatusServiceUnavailable, "The shoot can't be read yet.", err.Error())
		return
	}
	form := r.PostForm
	acts, err := d.actsOf(st, form)
	named := acts
	var follow []catalogue.FrameID
	var ask bool
	if err == nil {
		acts, follow, ask = st.reach(acts, form.Get("reach"))
	}
	saw, sawErr := strconv.ParseInt(form.Get("saw"), 10, 64)
	if err == nil && sawErr != nil {
		err = wrongf("the form does not say what it knew of")
	}
	if err != nil {
		d.fail(w, r, http.StatusBadRequest, "This could not be stored.", err.Error())
		return
	}
	if ask {
		d.along(w, r, st, named, follow)
		return
	}
	for i := range acts {
		acts[i].Who, acts[i].At = v.name, d.o.Now()
		acts[i].Title = st.titles[acts[i].Recipe]
	}
	stored, err := d.o.Store.DecideAfter(r.Context(), saw, acts)
	overtaken := new(catalogue.OvertakenError)
	switch {
	case errors.As(err, &overtaken):
		d.overtaken(w, r, st, overtaken.Since, acts)
		return
	case err != nil:
		d.fail(w, r, http.StatusInternalServerError, "This could not be stored.", err.Error())
		return
	}
	last := stored[len(stored)-1].ID
	d.near.yield(last)
	d.touch()
	d.hasten()
	d.until(r.Context(), waitFor, func(now *state) bool { return now.last >= last })
	http.Redirect(w, r, back(form.Get("back"), stored[0].ID), http.StatusSeeOther)
}

// back is where a form leads: the page it stood on, told what was done. What is
// no address of ours leads home.
func back(to string, done int64) string {
	u := ours(to)
	q := u.Query()
	q.Set("done", strconv.FormatInt(done, 10))
	u.RawQuery = q.Encode()
	return u.String()
}

// backTo is an address of ours that a form came from, home where it is none.
func backTo(to string) string {
	u := ours(to)
	return u.String()
}

// ours is an address without all that could lead elsewhere.
func ours(to string) url.URL {
	u, err := url.Parse(to)
	if err != nil || u.Scheme != "" || u.Host != "" || u.Opaque != "" || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(u.Path, "//") || strings.Contains(to, `\`) {
		u = &url.URL{Path: "/"}
	}
	return url.URL{Path: u.Path, RawPath: u.RawPath, RawQuery: u.RawQuery, Fragment: u.Fragment}
}

// actsOf reads what a form decides.
func (d *Desk) actsOf(st *state, form url.Values) ([]catalogue.Decision, error) {
	recipe, need := form.Get("recipe"), form.Get("need")
	switch kind := catalogue.DecisionKind(form.Get("kind")); kind {
	case catalogue.Choose:
		f, ok := st.find(form.Get("frame"))
		if !ok {
			return nil, wrongf("the frame is not in the catalogue")
		}
		if st.match(f.ID).Recipe != recipe {
			return nil, wrongf("%s does not show %s any more: say first which dish it is", name(f), recipe)
		}
		if err := st.asks(recipe, need); err != nil {
			return nil, err
		}
		return []catalogue.Decision{{Kind: kind, Frame: f.ID, Recipe: recipe, Need: need}}, nil
	case catalogue.Waive:
		why := strings.TrimSpace(form.Get("why"))
		if why == "" {
			return nil, wrongf("a need is waived with a reason, and none was given")
		}
		if _, err := st.needOf(recipe, need); err != nil {
			return nil, err
		}
		return []catalogue.Decision{{Kind: kind, Recipe: recipe, Need: need, Why: why}}, nil
	case catalogue.Crop:
		return st.cropOf(form)
	case catalogue.Undo:
		id, err := strconv.ParseInt(form.Get("undoes"), 10, 64)
		if err != nil || !slices.ContainsFunc(catalogue.Current(st.shoot.Decisions), func(x catalogue.Decision) bool { return x.ID == id }) {
			return nil, wrongf("that does not hold any more, so there is nothing to take back")
		}
		return []catalogue.Decision{{Kind: kind, Undoes: id}}, nil
	case catalogue.Assign:
		return st.assigned(form)
	case catalogue.On:
		return d.onOf(st, recipe)
	case catalogue.Prop:
		return st.propOf(form)
	case catalogue.Variant:
		return d.variantOf(st, form)
	}
	return nil, wrongf("the desk does not know what is meant")
}

// needOf is a need of a recipe of the plan.
func (st *state) needOf(recipe, need string) (plan.Need, error) {
	r, ok := st.recipes[recipe]
	if !ok {
		return plan.Need{}, wrongf("the plan has no recipe %q any more", recipe)
	}
	for _, rec := range st.report.Recipes {
		if rec.ID != recipe {
			continue
		}
		for _, f := range rec.Needs {
			if f.Need == need {
				return plan.ParseNeed(need)
			}
		}
	}
	return plan.Need{}, wrongf("%s has no need %q", r.ID, need)
}

// asks tells whether a frame can be chosen for a need of a recipe.
func (st *state) asks(recipe, need string) error {
	n, err := st.needOf(recipe, need)
	if err == nil && n.Kind == plan.Palette {
		err = wrongf("a palette is measured, not chosen: choose the hero")
	}
	return err
}

// cropOf reads a person's cut: pixels of the upright original.
func (st *state) cropOf(form url.Values) ([]catalogue.Decision, error) {
	f, ok := st.find(form.Get("frame"))
	need := form.Get("need")
	if !ok || need != string(plan.Half) && need != string(plan.Hero) {
		return nil, wrongf("a cut is of a frame, for its page or for a post")
	}
	var rect [4]int
	for i, k := range []string{"x", "y", "w", "h"} {
		n, err := strconv.ParseFloat(strings.TrimSpace(form.Get(k)), 64)
		if err != nil || n != n || n < -1e6 || n > 1e6 {
			return nil, wrongf("%q is no number of pixels", form.Get(k))
		}
		rect[i] = int(n + 0.5)
	}
	w, h := f.Look.Width, f.Look.Height
	if rect[0] < 0 || rect[1] < 0 || rect[2] < 1 || rect[3] < 1 || rect[0]+rect[2] > w || rect[1]+rect[3] > h {
		return nil, wrongf("a cut of %d × %d at %d, %d does not lie in the picture of %d × %d", rect[2], rect[3], rect[0], rect[1], w, h)
	}
	return []catalogue.Decision{{Kind: catalogue.Crop, Frame: f.ID, Need: need, Rect: rect}}, nil
}

// assigned reads which frames show a dish: one, those that were marked, or a
// whole run as the page showed it.
func (st *state) assigned(form url.Values) ([]catalogue.Decision, error) {
	recipe := form.Get("recipe")
	var frames []catalogue.FrameID
	switch one, whole := form.Get("one"), form.Get("run"); {
	case one != "":
		ref, to, _ := strings.Cut(one, ":")
		f, ok := st.find(ref)
		if !ok {
			return nil, wrongf("the frame is not in the catalogue")
		}
		frames, recipe = []catalogue.FrameID{f.ID}, to
	case whole != "":
		part := strings.SplitN(whole, ":", 3)
		if len(part) != 3 {
			return nil, wrongf("the run is not named")
		}
		f, ok := st.find(part[0])
		if !ok {
			return nil, wrongf("the run is not in the catalogue any more")
		}
		frames, recipe = st.runs[st.runAt[f.ID]].frames, part[2]
		if frames[0] != f.ID || strconv.Itoa(len(frames)) != part[1] {
			return nil, wrongf("the run has changed since the page was made: look again, it has %s now", paper.Counted(len(frames), "frame", "frames"))
		}
	default:
		for _, ref := range form["f"] {
			f, ok := st.find(ref)
			if !ok {
				return nil, wrongf("a frame is not in the catalogue")
			}
			frames = append(frames, f.ID)
		}
	}
	if len(frames) == 0 {
		return nil, wrongf("no frame was marked: mark one or more first")
	}
	switch _, ok := st.recipes[recipe]; {
	case recipe == "":
		return nil, wrongf("no dish was named")
	case recipe == noDish:
		recipe = ""
	case !ok:
		return nil, wrongf("the plan has no recipe %q", recipe)
	}
	var acts []catalogue.Decision
	for _, id := range frames {
		acts = append(acts, catalogue.Decision{Kind: catalogue.Assign, Frame: id, Recipe: recipe})
	}
	return acts, nil
}

// noDish stands in forms for "shows no dish". No recipe has an id with a space
// at its end.
const noDish = "none "
