package desk

import (
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"coverplate/audit"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

// wallView is the home page: what to do next, and a docket a dish.
type wallView struct {
	Chrome       chrome
	Seen         string
	Pace         string
	Ahead        []string // what is left, and whether it will do
	Cards        string
	Counts       []countView
	Next         []nextView
	More         int // things to do beyond those named
	Filter       filterView
	Groups       []groupView
	Shown, Of    int
	Strike, Hold int
	Size         string // small, usual, large
	HeadFirst    bool   // how it all stands comes before the dockets: not for who looks for some, at all at a glance, or from afar
}

type countView struct {
	Verdict string
	N       int
	To      string
}

type nextView struct {
	Verdict, Says, To, Recipe, Title, Need, Why, When string
}

// groupView is some dockets under a heading; Says "" has none.
type groupView struct {
	Says    string
	Dockets []docketView
}

type docketView struct {
	paper.Docket
	To string
}

// filterView is the form above the wall.
type filterView struct {
	Day, Chapter, Verdict, Q, Order, Size string
	Days, Chapters, Verdicts              []choiceView
	Any                                   bool // whether anything is left out
}

type choiceView struct {
	Value, Says string
	On          bool
}

// mostNext is how many things to do stand above the wall.
const mostNext = 5

func dishAt(recipe string) string { return "/dish/" + url.PathEscape(recipe) }

func (d *Desk) wall(w http.ResponseWriter, r *http.Request, st *state, v visitor) {
	f := filterOf(st, r.URL.Query())
	view := wallView{Chrome: d.around(r, st, v, "Dockets"), Seen: paper.SeenSays(st.report.Seen),
		Cards: d.cardsSay(st), Filter: f, Of: len(st.report.Recipes), Size: f.Size, HeadFirst: f.Size == "usual" && !f.Any}
	view.Chrome.Wide = true
	view.Pace, view.Ahead = paceOf(st)
	n := map[audit.Verdict]int{}
	for _, rec := range st.report.Recipes {
		for _, need := range rec.Needs {
			n[need.Verdict]++
		}
		if rec.Strike == audit.MayStrike {
			view.Strike++
		} else {
			view.Hold++
		}
	}
	for _, verdict := range verdicts {
		view.Counts = append(view.Counts, countView{string(verdict), n[verdict], "/?verdict=" + string(verdict)})
	}
	for _, group := range paper.Todo(st.report) {
		for _, t := range group.Tasks {
			// The needs of one dish that want the same are one thing to do.
			if n := len(view.Next); n > 0 && view.Next[n-1].Recipe == t.Recipe && view.Next[n-1].Verdict == string(group.Verdict) {
				view.Next[n-1].Need += ", " + t.Need
				if view.Next[n-1].Why != t.Why {
					view.Next[n-1].Why += "; " + t.Need + ": " + t.Why
				}
				continue
			}
			if len(view.Next) == mostNext {
				view.More++
				continue
			}
			view.Next = append(view.Next, nextView{string(group.Verdict), group.Says, dishAt(t.Recipe) + "#" + anchor(t.Need), t.Recipe, t.Title, t.Need, t.Why, when(t)})
		}
	}
	picture := func(id catalogue.FrameID) template.URL { return st.pictureAt(id, midSide) }
	at := map[string]int{}
	for _, rec := range st.report.Recipes {
		if !f.lets(rec, st) {
			continue
		}
		key := ""
		if f.Order == "day" {
			key = rec.Day
		}
		i, ok := at[key]
		if !ok {
			i = len(view.Groups)
			at[key] = i
			g := groupView{}
			if f.Order == "day" {
				g.Says = paper.DayName(rec.Day)
			}
			view.Groups = append(view.Groups, g)
		}
		doc := paper.DocketOf(rec, picture, nil)
		doc.Day = shortDay(rec.Day)
		view.Groups[i].Dockets = append(view.Groups[i].Dockets, docketView{doc, dishAt(rec.ID)})
		view.Shown++
	}
	if f.Order == "day" {
		days := make(map[string]string, len(at))
		for key := range at {
			days[paper.DayName(key)] = key
		}
		slices.SortStableFunc(view.Groups, func(a, b groupView) int {
			x, y := days[a.Says], days[b.Says]
			if x == "" || y == "" { // no day comes last
				return strings.Compare(y, x)
			}
			return strings.Compare(x, y)
		})
	}
	d.show(w, r, http.StatusOK, "wall", view)
}

// paceOf is how much is covered, and line by line what is left and whether it
// will do.
func paceOf(st *state) (covered string, ahead []string) {
	says := strings.Split(strings.TrimSuffix(paper.PaceSays(st.report.Days), "."), "; ")
	for _, s := range says[1:] {
		ahead = append(ahead, paper.UpperFirst(s))
	}
	return says[0], ahead
}

// verdicts in the order of doing.
var verdicts = []audit.Verdict{audit.ToShoot, audit.ToReshoot, audit.ToLook, audit.ToChoose, audit.Settled, audit.Waived}

func when(t paper.Task) string {
	says := shortDay(t.Day)
	if t.Pages != "" {
		says += paper.PageSuffix(t.Pages)
	}
	return says
}

// shortDay is a day as a docket has room for: "Thu 26 Nov".
func shortDay(day string) string {
	at, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return paper.DayName(day)
	}
	return at.Format("Mon 2 Jan")
}

// filterOf reads the form. What it doesn't know it takes for "all".
func filterOf(st *state, q url.Values) filterView {
	f := filterView{Q: strings.TrimSpace(q.Get("q")), Order: "page", Size: "usual"}
	if q.Get("order") == "day" {
		f.Order = "day"
	}
	if s := q.Get("size"); s == "small" || s == "large" {
		f.Size = s
	}
	pick := func(all []choiceView, want string) string {
		for i := range all {
			if want != "" && all[i].Value == want {
				all[i].On = true
				return want
			}
		}
		return ""
	}
	seen := map[string]bool{}
	add := func(to *[]choiceView, kind, value, says string) {
		if value != "" && !seen[kind+value] {
			seen[kind+value] = true
			*to = append(*to, choiceView{Value: value, Says: says})
		}
	}
	for _, rec := range st.report.Recipes {
		add(&f.Days, "d", rec.Day, paper.DayName(rec.Day))
		add(&f.Chapters, "c", rec.Chapter, rec.Chapter)
	}
	slices.SortFunc(f.Days, func(a, b choiceView) int { return strings.Compare(a.Value, b.Value) })
	for _, v := range verdicts {
		add(&f.Verdicts, "v", string(v), string(v))
	}
	f.Day, f.Chapter, f.Verdict = pick(f.Days, q.Get("day")), pick(f.Chapters, q.Get("chapter")), pick(f.Verdicts, q.Get("verdict"))
	f.Any = f.Day != "" || f.Chapter != "" || f.Verdict != "" || f.Q != ""
	return f
}

// lets tells whether a recipe passes the filter.
func (f filterView) lets(rec audit.Recipe, st *state) bool {
	if f.Day != "" && rec.Day != f.Day || f.Chapter != "" && rec.Chapter != f.Chapter {
		return false
	}
	if f.Verdict != "" && !slices.ContainsFunc(rec.Needs, func(x audit.Finding) bool { return string(x.Verdict) == f.Verdict }) {
		return false
	}
	if f.Q == "" {
		return true
	}
	r := st.recipes[rec.ID]
	text := strings.ToLower(strings.Join(append([]string{rec.ID, rec.Title, rec.Chapter, r.Surface, r.Notes, "p." + rec.Pages}, r.Props...), " \n"))
	for _, word := range strings.Fields(strings.ToLower(f.Q)) {
		if !strings.Contains(text, word) {
			return false
		}
	}
	return true
}

// anchor makes an element's id of a need: "options 3" is "options-3".
func anchor(need string) string { return strings.ReplaceAll(need, " ", "-") }

// cardsSay tells in a line how the cards stand.
func (d *Desk) cardsSay(st *state) string {
	n := len(st.shoot.Cards)
	if n == 0 {
		return "No card was read yet."
	}
	seen, at := d.cards.last()
	if at.IsZero() {
		return fmt.Sprintf("%s read; not looked at yet whether they may be formatted.", paper.Counted(n, "card", "cards"))
	}
	safe := 0
	for _, c := range seen {
		if c.Format {
			safe++
		}
	}
	return fmt.Sprintf("%s read: %d may be formatted, %d to be kept, as looked at %s.", paper.Counted(n, "card", "cards"), safe, len(seen)-safe, at.In(d.o.Where).Format("15:04"))
}
