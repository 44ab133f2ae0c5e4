package desk

import (
	"fmt"
	"html/template"
	"net/http"
	"slices"

	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

// saidView is one act of a person.
type saidView struct {
	ID     int64
	When   string
	Who    string
	Says   string
	More   int    // frames beyond the one named
	Holds  bool   // it was neither replaced nor taken back
	Back   string // where its undo leads
	Undone bool

	Picture template.URL // of the frame, where two decisions are held against each other
}

// saidOf is the act that a decision is of; nil where there is none.
func (d *Desk) saidOf(st *state, id int64) *saidView {
	for _, s := range d.allSaid(st) {
		if s.ID == id {
			return &s
		}
	}
	return nil
}

// allSaid lists the acts, the last first.
func (d *Desk) allSaid(st *state) []saidView {
	holds := map[int64]bool{}
	for _, x := range catalogue.Current(st.shoot.Decisions) {
		holds[x.ID] = true
	}
	var all []saidView
	by := map[int64]int{} // acts
	for _, x := range st.shoot.Decisions {
		if i, ok := by[x.Act]; ok && x.Act != 0 {
			all[i].More++
			all[i].Holds = all[i].Holds || holds[x.ID]
			continue
		}
		s := saidView{ID: x.ID, When: x.At.In(d.o.Where).Format("Mon 2 Jan, 15:04"), Who: x.Who, Says: d.says(st, x), Holds: holds[x.ID]}
		if s.Who == "" {
			s.Who = "not known"
		}
		by[x.Act] = len(all)
		all = append(all, s)
	}
	slices.Reverse(all)
	return all
}

// says puts a decision into words.
func (d *Desk) says(st *state, x catalogue.Decision) string {
	frame := string(x.Frame)
	if i, ok := st.frames[x.Frame]; ok {
		frame = name(st.shoot.Frames[i])
	}
	dish := x.Recipe
	if t := st.titles[x.Recipe]; t != "" {
		dish += " " + t
	} else if x.Title != "" {
		dish += " " + x.Title
	}
	switch x.Kind {
	case catalogue.Assign:
		if x.Recipe == "" {
			return frame + " shows no dish"
		}
		return frame + " shows " + dish
	case catalogue.Choose:
		return fmt.Sprintf("%s, %s: %s", dish, x.Need, frame)
	case catalogue.Waive:
		return fmt.Sprintf("%s, %s is not wanted: %s", dish, x.Need, x.Why)
	case catalogue.Crop:
		use := "a post"
		if x.Need != "half" {
			use = "its page"
		}
		return fmt.Sprintf("%s cut for %s: %d × %d from %d, %d", frame, use, x.Rect[2], x.Rect[3], x.Rect[0], x.Rect[1])
	case catalogue.On:
		if x.Recipe == "" {
			return "nothing is on set from " + x.From.Format("15:04")
		}
		return dish + " came on set at " + x.From.Format("15:04")
	case catalogue.Clock:
		return fmt.Sprintf("the clock of %s is set by %s", x.Body, x.Shift)
	case catalogue.Prop:
		switch x.Need {
		case catalogue.TakenOff:
			return dish + ": " + x.Name + " is not on set"
		case catalogue.AsSurface:
			return dish + ": on " + x.Name
		}
		return dish + ": on set, " + x.Name
	case catalogue.Variant:
		since := "from " + frame + " on"
		if x.Frame == "" {
			since = "from " + x.From.Format("15:04") + " on"
		}
		if x.Name == "" {
			return dish + ": no named variant " + since
		}
		return dish + ": " + x.Name + ", " + since
	case catalogue.Undo:
		for _, y := range st.shoot.Decisions {
			if y.ID == x.Undoes {
				return "taken back: " + d.says(st, y)
			}
		}
		return "something was taken back"
	}
	return string(x.Kind)
}

// logView is the page of what was decided.
type logView struct {
	Chrome chrome
	All    []saidView
	Rest   int
}

// mostSaid is how many acts a page names.
const mostSaid = 400

func (d *Desk) said(w http.ResponseWriter, r *http.Request, st *state, v visitor) {
	view := logView{Chrome: d.around(r, st, v, "What was decided"), All: d.allSaid(st)}
	if n := len(view.All); n > mostSaid {
		view.All, view.Rest = view.All[:mostSaid], n-mostSaid
	}
	d.show(w, r, http.StatusOK, "said", view)
}

// overtakenView tells a person that another was first.
type overtakenView struct {
	Chrome  chrome
	Theirs  []saidView
	Yours   []string
	Picture template.URL // of your frame
	Same    []fieldView  // of the form, to be sent again by who still wants it
	Saw     int64
	Back    string
}

type fieldView struct{ Name, Value string }

// overtaken shows what others decided on the same matter meanwhile, and lets
// the person say theirs all the same.
func (d *Desk) overtaken(w http.ResponseWriter, r *http.Request, st *state, since, acts []catalogue.Decision) {
	last := since[len(since)-1].ID
	if now, err := d.until(r.Context(), waitFor, func(now *state) bool { return now.last >= last }); err == nil {
		st = now
	}
	view := overtakenView{Chrome: d.around(r, st, visitorOf(r), "Someone was first"), Saw: max(last, st.last), Back: r.PostForm.Get("back")}
	view.Chrome.Here = backTo(view.Back)
	for _, x := range since {
		view.Theirs = append(view.Theirs, saidView{When: x.At.In(d.o.Where).Format("15:04:05"), Who: x.Who, Says: d.says(st, x), Picture: st.pictureAt(x.Frame, midSide)})
	}
	view.Yours, view.Picture = append(view.Yours, d.says(st, acts[0])), st.pictureAt(acts[0].Frame, midSide)
	if len(acts) > 1 {
		view.Yours = append(view.Yours, "and "+paper.Counted(len(acts)-1, "frame", "frames")+" more")
	}
	view.Same = sentAgain(r, "")
	d.show(w, r, http.StatusConflict, "overtaken", view)
}
