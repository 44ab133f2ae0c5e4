package desk

import (
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"time"

	"coverplate/audit"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

// framesView is the wall of frames: those that no one could place, or all.
type framesView struct {
	Chrome            chrome
	All               bool
	Runs              []runView
	N, Of             int // shown, and all that there are of the kind
	Earlier, Later    string
	Recipes           []choiceView
	Days              []choiceView
	Day               string // the one asked for, in words
	Unplaced, Frames  int
	NoDish            string
	MayTake, Anything bool
}

// runView is some frames of one body that follow each other.
type runView struct {
	Ref, Says string
	N         int // frames of the run, also those that are not shown
	Why       string
	Guesses   []choiceView
	Frames    []frameView
}

// How many bytes of a page a frame and a run take at most, about, and how many
// all of them may. The page goes on by itself as it is scrolled; a browser has
// to look at every picture that is not fetched yet whenever it moves. A run is
// not parted unless it alone is as long as a page.
const (
	tightBytes    = 260
	unplacedBytes = 1400
	runBytes      = 520
	mostBytes     = 250_000
)

func (d *Desk) frames(w http.ResponseWriter, r *http.Request, st *state, v visitor) {
	q := r.URL.Query()
	p := framesView{Chrome: d.around(r, st, v, "Frames"), All: q.Get("show") == "all", Recipes: recipesOf(st, ""), Unplaced: len(st.report.Unplaced),
		Frames: len(st.shoot.Frames), NoDish: noDish, MayTake: v.choose}
	p.Chrome.Wide = true
	notes := map[catalogue.FrameID]audit.UnplacedNote{}
	for _, u := range st.report.Unplaced {
		notes[u.FrameID] = u
	}
	each, want := unplacedBytes, func(id catalogue.FrameID) bool { _, ok := notes[id]; return ok }
	if p.All {
		each, want = tightBytes, func(catalogue.FrameID) bool { return true }
	}
	day := q.Get("day")
	if !slices.ContainsFunc(st.runs, func(r run) bool { return r.day == day }) {
		day = "" // of no frame: all, as on the dockets
	}
	p.Day = paper.DayName(day)
	seen := map[string]bool{}
	from, _ := strconv.Atoi(q.Get("from"))
	from = max(from, 0)
	n, room, end := 0, mostBytes, 0
	for _, run := range st.runs {
		var rv runView
		for _, id := range run.frames {
			if !want(id) {
				continue
			}
			if !seen[run.day] {
				seen[run.day] = true
				p.Days = append(p.Days, choiceView{Value: run.day, Says: paper.DayName(run.day), On: run.day == day})
			}
			if day != "" && run.day != day {
				continue
			}
			n++
			if n <= from || room <= 0 && (len(rv.Frames) == 0 || room <= -mostBytes) {
				continue
			}
			if len(rv.Frames) == 0 {
				room -= runBytes
			}
			room -= each
			end = n
			f, _ := st.find(string(id))
			fv := frameView{Ref: st.ref(id), Name: name(f), Taken: taken(f), Picture: st.pictureAt(id, smallSide), Check: v.choose}
			if u, ok := notes[id]; ok {
				fv.Why = []string{u.Why}
				fv.Guesses = guesses(st, u.Guesses)
				if rv.Why == "" {
					rv.Why, rv.Guesses = u.Why, fv.Guesses
				}
				if u.Why == rv.Why {
					fv.Why = nil // said once, above the run
				}
			}
			if p.All {
				fv.Why = nil
			}
			rv.Frames = append(rv.Frames, fv)
		}
		if len(rv.Frames) > 0 {
			rv.Ref, rv.N = st.ref(run.frames[0]), len(run.frames)
			rv.Says = runSays(st, run)
			p.Runs = append(p.Runs, rv)
			p.N += len(rv.Frames)
		}
	}
	p.Of, p.Anything = n, n > 0
	at := func(from int) string {
		show := "unplaced"
		if p.All {
			show = "all"
		}
		return fmt.Sprintf("/frames?show=%s&day=%s&from=%d", show, template.URLQueryEscaper(day), from)
	}
	if from > 0 {
		p.Earlier = at(0)
	}
	if n > end && end > 0 {
		p.Later = at(end)
	}
	d.show(w, r, http.StatusOK, "frames", p)
}

// guesses are the dishes that a frame may show, two at most.
func guesses(st *state, ids []string) []choiceView {
	var all []choiceView
	for _, id := range ids[:min(len(ids), 2)] {
		all = append(all, choiceView{Value: id, Says: id + " " + st.titles[id]})
	}
	return all
}

// runSays names a run: when, by which body, of what.
func runSays(st *state, r run) string {
	first, _ := st.find(string(r.frames[0]))
	last, _ := st.find(string(r.frames[len(r.frames)-1]))
	says := "No time written"
	if !first.Taken.IsZero() {
		says = first.Taken.Format("Mon 2 Jan, 15:04")
		if last.Taken.Sub(first.Taken) >= time.Minute {
			says += " to " + last.Taken.Format("15:04")
		}
	}
	says += ", " + r.body
	switch {
	case r.recipe != "":
		says += ": " + r.recipe + " " + st.titles[r.recipe]
	default:
		says += ": no dish known"
	}
	return says
}
