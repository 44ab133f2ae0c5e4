package desk

import (
	"context"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"

	"coverplate/audit"
	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

// dishView is the page of one dish.
type dishView struct {
	Chrome            chrome
	ID, Title         string
	Facts             []string // chapter, pages, day, surface, props, as the plan has them
	Notes             string
	Strike, StrikeWhy string
	Variants          []string
	Needs             []dishNeed
	Sets              []setView
	Before, After     *link // the dishes beside it in page order
	OnSet             []onSetView
	Ledger            []string     // names of all props and surfaces, for whoever logs one
	Begin             []choiceView // frames with which a variant can begin
}

// dishNeed is one need with the frames held against it.
type dishNeed struct {
	Anchor, Need, Verdict, Why string
	Recipe                     string
	Palette                    bool
	Picture                    template.URL
	Large                      template.URL // the same at full size
	Name, Ref                  string       // of the frame the verdict speaks of
	Cuts                       *paper.Cuts
	Angle                      *paper.Angle
	Offers                     []offerView
	More                       []offerView // beyond the first few
	Rest                       int         // of them that are not shown here: each has its own page
	Said                       *saidView   // the choice or waiver that holds; nil none
	Bars                       []paper.Bar
	Swatches                   []paper.Swatch
}

type offerView struct {
	Chrome                  chrome
	Recipe, Need            string
	Ref, Name, Taken, Works string
	Picture                 template.URL
	Chosen                  bool
	Fails, Eyes, Passed     []string
	Notes                   []string
	Against                 string // the frame it is held against on the page of two
}

// setView is a run of frames of one dish in one arrangement.
type setView struct {
	Says   string
	Frames []frameView
	Rest   int // frames that are not shown here
}

type frameView struct {
	Ref, Name, Taken string
	Picture          template.URL
	Match            string
	Why              []string
	Guesses          []choiceView
	Check            bool
}

// How many frames are shown for a need before the rest is folded, how many of
// them at all, and how many of the sets: the page stays below a megabyte.
const (
	firstOffers = 6
	mostOffers  = 30
	mostInSets  = 600
)

func (d *Desk) dish(w http.ResponseWriter, r *http.Request, st *state, v visitor) {
	at := slices.IndexFunc(st.report.Recipes, func(x audit.Recipe) bool { return x.ID == r.PathValue("recipe") })
	if at < 0 {
		d.fail(w, r, http.StatusNotFound, "The plan has no such dish.", "It may have been given another id since.")
		return
	}
	rec := st.report.Recipes[at]
	view := dishView{Chrome: d.around(r, st, v, rec.ID+" "+rec.Title), ID: rec.ID, Title: rec.Title, Strike: string(rec.Strike), StrikeWhy: paper.StrikeSays(rec),
		Facts: factsOf(st.recipes[rec.ID]), Notes: st.recipes[rec.ID].Notes}
	for _, v := range rec.Variants {
		view.Variants = append(view.Variants, paper.VariantSays(v))
	}
	beside := func(i int) *link {
		if i < 0 || i >= len(st.report.Recipes) {
			return nil
		}
		x := st.report.Recipes[i]
		return &link{To: dishAt(x.ID), Says: x.ID + " " + x.Title}
	}
	view.Before, view.After = beside(at-1), beside(at+1)
	cuts := d.cutterOf(r.Context(), st, rec)
	said := map[string]*saidView{}
	for _, s := range catalogue.Current(st.shoot.Decisions) {
		if s.Recipe == rec.ID && (s.Kind == catalogue.Choose || s.Kind == catalogue.Waive) {
			said[s.Need] = d.saidOf(st, s.ID)
			if said[s.Need] == nil && s.Act != 0 {
				said[s.Need] = d.saidOf(st, s.Act)
			}
		}
	}
	for _, f := range rec.Needs {
		n := dishNeed{Anchor: anchor(f.Need), Need: f.Need, Verdict: string(f.Verdict), Why: f.Why, Recipe: rec.ID, Palette: f.Need == string(plan.Palette), Said: said[f.Need]}
		if f.Frame != nil {
			frame, _ := st.find(string(f.FrameID))
			n.Picture, n.Large, n.Name, n.Ref = st.pictureAt(f.FrameID, midSide), st.pictureAt(f.FrameID, fullSide), name(frame), st.ref(f.FrameID)
			n.Angle = paper.AngleOf(st.view(f.FrameID))
			if f.Verdict != audit.Waived {
				cw, ch, all := cuts(f)
				n.Cuts = paper.CutsOf(f.Need, name(frame), n.Large, cw, ch, all)
			}
		}
		if n.Palette {
			n.Bars, n.Swatches = paletteOf(st, rec.ID)
		}
		for i, o := range f.Offers {
			ov := d.offer(st, o)
			ov.Chrome, ov.Recipe, ov.Need = view.Chrome, rec.ID, f.Need
			if o.Frame != f.FrameID {
				ov.Against = n.Ref
			}
			switch {
			case i < firstOffers:
				n.Offers = append(n.Offers, ov)
			case i < mostOffers || o.Chosen:
				n.More = append(n.More, ov)
			default:
				n.Rest++
			}
		}
		view.Needs = append(view.Needs, n)
	}
	view.Sets = setsOf(st, rec.ID)
	view.OnSet = st.onSetOf(view.Chrome, rec.ID)
	if v.choose {
		for _, t := range st.report.Things {
			view.Ledger = append(view.Ledger, t.Name)
		}
		for _, s := range view.Sets {
			for _, f := range s.Frames {
				view.Begin = append(view.Begin, choiceView{Value: f.Ref, Says: f.Name + ", " + f.Taken})
			}
		}
	}
	d.show(w, r, http.StatusOK, "dish", view)
}

// factsOf are what the plan says of a dish.
func factsOf(r plan.Recipe) []string {
	var all []string
	add := func(name, says string) {
		if says != "" {
			all = append(all, strings.TrimSpace(name+" "+says))
		}
	}
	add("", r.Chapter)
	add("p.", r.Pages.String())
	if !r.Day.IsZero() {
		add("", paper.DayName(r.Day.String()))
	}
	add("size:", r.Size.String())
	add("", string(r.Orientation))
	if r.Angle != plan.AnyAngle {
		add("angle:", string(r.Angle))
	}
	add("surface:", r.Surface)
	add("props:", strings.Join(r.Props, ", "))
	if r.Lettering != "" {
		add("lettering:", string(r.Lettering))
	}
	if r.Allergens != "" {
		add("allergens, as the plan has them:", r.Allergens)
	}
	return all
}

// recipesOf are the dishes that a frame can be said to show; here is left out.
func recipesOf(st *state, here string) []choiceView {
	var all []choiceView
	for _, x := range st.report.Recipes {
		if x.ID != here {
			all = append(all, choiceView{Value: x.ID, Says: x.ID + " " + x.Title})
		}
	}
	return all
}

// cutterOf cuts the frames that the findings of a recipe speak of. What cutting
// needs of them is read anew: the desk does not keep it.
func (d *Desk) cutterOf(ctx context.Context, st *state, rec audit.Recipe) func(audit.Finding) (w, h int, cuts []audit.Cut) {
	small := st.shoot
	small.Frames = nil
	looks := map[catalogue.FrameID]catalogue.Look{}
	for _, f := range rec.Needs {
		if f.Frame == nil {
			continue
		}
		if _, ok := looks[f.FrameID]; ok {
			continue
		}
		frame, err := d.o.Store.Frame(ctx, f.FrameID)
		if err != nil {
			continue
		}
		looks[f.FrameID] = frame.Look
		small.Frames = append(small.Frames, frame)
	}
	c := audit.NewCutter(small)
	return func(f audit.Finding) (int, int, []audit.Cut) {
		l := looks[f.FrameID]
		return l.Width, l.Height, c.Of(f)
	}
}

func (d *Desk) offer(st *state, o audit.Offer) offerView {
	f, _ := st.find(string(o.Frame))
	v := offerView{Ref: st.ref(o.Frame), Name: name(f), Taken: taken(f), Works: worksSays(o.Works), Picture: st.pictureAt(o.Frame, midSide),
		Chosen: o.Chosen, Fails: o.Fails, Eyes: o.Eyes, Passed: o.Passed, Notes: o.Notes}
	return v
}

func worksSays(w crop.Works) string {
	switch w {
	case crop.Yes:
		return "fit"
	case crop.No:
		return "not fit"
	}
	return "may serve"
}

func taken(f catalogue.Frame) string {
	if f.Taken.IsZero() {
		return "no time"
	}
	return f.Taken.Format("15:04:05")
}

// paletteOf is the palette of a recipe's picture on its spread.
func paletteOf(st *state, recipe string) ([]paper.Bar, []paper.Swatch) {
	for _, s := range st.report.Spreads {
		for _, p := range paper.SpreadOf(s, st.titles, func(catalogue.FrameID) template.URL { return "" }).Pictures {
			if p.Recipe == recipe {
				return p.Bars, p.Swatches
			}
		}
	}
	return nil, nil
}

// setsOf are the frames of a recipe, set by set.
func setsOf(st *state, recipe string) []setView {
	var all []setView
	at := map[int]int{}
	var first, last []time.Time
	var bodies []string
	shown := 0
	for i, m := range st.report.Matches {
		if m.Recipe != recipe {
			continue
		}
		f, ok := st.find(string(m.Frame))
		if !ok {
			continue
		}
		set := st.report.Roles[i].Set
		k, seen := at[set]
		if !seen {
			k = len(all)
			at[set] = k
			all, first, last, bodies = append(all, setView{}), append(first, f.Taken), append(last, f.Taken), append(bodies, f.Body())
		}
		last[k] = f.Taken
		if shown++; shown > mostInSets {
			all[k].Rest++
			continue
		}
		all[k].Frames = append(all[k].Frames, st.frameView(f, m, st.report.Roles[i].Roles))
	}
	for set, k := range at {
		says := "Set"
		if set == 0 {
			says = "In no set: charts, slates, tests, or no dish"
		}
		all[k].Says = fmt.Sprintf("%s, %s, %s", says, bodies[k], paper.Counted(len(all[k].Frames)+all[k].Rest, "frame", "frames"))
		if !first[k].IsZero() {
			all[k].Says = fmt.Sprintf("%s of %s, %s to %s, %s, %s", says, first[k].Format("Monday 2 January"), first[k].Format("15:04"), last[k].Format("15:04"),
				bodies[k], paper.Counted(len(all[k].Frames)+all[k].Rest, "frame", "frames"))
		}
	}
	return all
}

// frameView is a frame with its match and the reasons for it.
func (st *state) frameView(f catalogue.Frame, m audit.Match, roles []audit.RoleScore) frameView {
	v := frameView{Ref: st.ref(f.ID), Name: name(f), Taken: taken(f), Picture: st.pictureAt(f.ID, smallSide), Match: matchSays(m)}
	for _, e := range m.Why {
		v.Why = append(v.Why, e.Says)
	}
	if len(roles) > 0 && roles[0].Score >= 0.5 {
		v.Why = append(v.Why, "likely "+string(roles[0].Role))
	}
	return v
}

// matchSays tells how sure a match is.
func matchSays(m audit.Match) string {
	switch {
	case m.ByHand && m.Recipe == "":
		return "a person says: no dish"
	case m.ByHand:
		return "a person says so"
	case m.Recipe == "":
		return "unplaced"
	}
	return audit.Sure(m.Odds) + " sure"
}
