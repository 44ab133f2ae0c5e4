package audit

import (
	"cmp"
	"fmt"
	"math"
	"path"
	"slices"
	"strings"

	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// How roles are scored. Each role begins at its own odds, each piece of
// evidence adds its nats, and the score is the probability that comes of the
// sum. Roles are scored apart, for they do not exclude each other. All weights
// are stated choices; none is measured.
var (
	allRoles  = [...]Role{RoleHero, RoleOverhead, RoleDetail, RoleProcess, RoleTest, RoleChart, RoleSlate, RoleBehind}
	roleFirst = map[Role]float64{RoleHero: -1, RoleOverhead: -2, RoleDetail: -2, RoleProcess: -2, RoleTest: -2, RoleChart: -4, RoleSlate: -4, RoleBehind: -4}
)

// idleRoles never count as coverage, unless a person chose the frame.
var idleRoles = map[Role]string{
	RoleTest: "a test shot", RoleChart: "a chart", RoleSlate: "a slate", RoleBehind: "taken behind the scenes",
}

// roleWords are what people write on frames, as words folds it.
var roleWords = map[string]Role{
	"test": RoleTest, "test shot": RoleTest, "test frame": RoleTest, "light test": RoleTest, "lighting test": RoleTest,
	"exposure test": RoleTest, "focus test": RoleTest,
	"chart": RoleChart, "colour chart": RoleChart, "color chart": RoleChart, "colour card": RoleChart, "color card": RoleChart,
	"colour target": RoleChart, "color target": RoleChart, "grey card": RoleChart, "gray card": RoleChart, "white balance": RoleChart,
	"slate": RoleSlate, "clapper": RoleSlate, "clapperboard": RoleSlate,
	"behind the scene": RoleBehind, "behind scene": RoleBehind, "bts": RoleBehind, "making of": RoleBehind,
	"detail": RoleDetail, "close up": RoleDetail, "process": RoleProcess, "step": RoleProcess,
	"hero": RoleHero, "overhead": RoleOverhead, "top down": RoleOverhead, "flat lay": RoleOverhead,
}

// roleOf reads a role out of a text that says nothing else: its words, but
// for numbers and what names the recipe. A word that the recipe's own title,
// props or surface have says nothing: a slate may be what the dish lies on.
func (x *roleReader) roleOf(recipe int, text string) Role {
	if strings.TrimSpace(text) == "" {
		return ""
	}
	key := roleText{recipe, text}
	if r, ok := x.read[key]; ok {
		return r
	}
	own := x.own(recipe)
	var rest []string
	for _, w := range words(text) {
		if !number(w) && !own.names[w] {
			rest = append(rest, w)
		}
	}
	role := roleWords[strings.Join(rest, " ")]
	for _, w := range rest {
		if own.things[w] {
			role = ""
		}
	}
	x.read[key] = role
	return role
}

// roleReader keeps what it read.
type roleReader struct {
	d    *sheet
	read map[roleText]Role
	of   map[int]ownWords
}

type roleText struct {
	recipe int // −1 none
	text   string
}

// ownWords are the words of a recipe: of its id and title, and of its props
// and surface.
type ownWords struct{ names, things map[string]bool }

func (x *roleReader) own(recipe int) ownWords {
	if o, ok := x.of[recipe]; ok {
		return o
	}
	o := ownWords{map[string]bool{}, map[string]bool{}}
	if recipe >= 0 {
		r := x.d.recipes[recipe]
		for _, w := range append(words(r.ID), words(r.Title)...) {
			o.names[w] = true
		}
		for _, p := range append(slices.Clone(r.Props), r.Surface) {
			for _, w := range words(p) {
				o.things[w] = true
			}
		}
	}
	x.of[recipe] = o
	return o
}

// written lists the texts of a frame that may name its role, with the kind of
// evidence and what they are called.
func roleTexts(f catalogue.Frame) []roleSource {
	var all []roleSource
	for _, s := range f.Subjects {
		all = append(all, roleSource{fromMetadata, "the subject", s})
	}
	all = append(all, roleSource{fromMetadata, "the title", f.Title}, roleSource{fromMetadata, "the headline", f.Headline})
	var x *index // folders ask nothing of it
	for _, file := range f.Files {
		for _, folder := range x.folders(file) {
			if !cameraFolder.MatchString(folder) {
				all = append(all, roleSource{fromFolder, "the folder", folder})
			}
		}
		name := cmp.Or(file.Name, path.Base(file.Path))
		all = append(all, roleSource{fromName, "the file name", written(strings.TrimSuffix(name, path.Ext(name)))})
	}
	return all
}

type roleSource struct {
	from        source
	label, text string
}

// bar finds what a person chose or wrote on each frame of its role, and bars
// those that never count as coverage.
func (d *sheet) bar() {
	d.barred = make([]string, len(d.frames))
	d.roles = make([]FrameRoles, len(d.frames))
	x := roleReader{d, map[roleText]Role{}, map[int]ownWords{}}
	chosen := map[int]map[Role]bool{}
	for w, frames := range d.chosen {
		for _, i := range frames {
			if chosen[i] == nil {
				chosen[i] = map[Role]bool{}
			}
			chosen[i][needRole(plan.NeedKind(w.need))] = true
		}
	}
	for i, f := range d.frames {
		d.roles[i] = FrameRoles{Frame: f.ID, Roles: []RoleScore{}}
		said := map[Role][]Evidence{}
		for _, role := range allRoles {
			if chosen[i][role] {
				said[role] = append(said[role], Evidence{"person", personWeight, "a person chose it as " + string(role)})
			}
		}
		recipe := -1
		if r, ok := d.recipeAt[d.placed[i].Recipe]; ok && d.placed[i].Recipe != "" {
			recipe = r
		}
		for _, t := range roleTexts(f) {
			role := x.roleOf(recipe, t.text)
			if role == "" || slices.ContainsFunc(said[role], func(e Evidence) bool { return e.Kind == sourceKind[t.from] }) {
				continue
			}
			says := fmt.Sprintf("%s %q", t.label, t.text)
			said[role] = append(said[role], Evidence{sourceKind[t.from], idWeight[t.from], says})
			if idle := idleRoles[role]; idle != "" && d.barred[i] == "" && chosen[i] == nil {
				d.barred[i] = fmt.Sprintf("it is %s: %s", idle, says)
			}
		}
		if slate := f.Look.Slate; slate != nil {
			// Whoever chose it: the card stands in the picture.
			says := fmt.Sprintf("a code stands in it, %q", slate.Text)
			said[RoleSlate] = append(said[RoleSlate], Evidence{"slate", slateWeight, says})
			d.barred[i] = "it is a slate: " + says
		}
		for _, role := range allRoles {
			if len(said[role]) > 0 {
				d.roles[i].Roles = append(d.roles[i].Roles, RoleScore{Role: role, Sure: true, Why: said[role]})
			}
		}
	}
}

// needRole is the role that a frame chosen for a need has; "" none of its own.
func needRole(kind plan.NeedKind) Role {
	switch kind {
	case plan.Hero:
		return RoleHero
	case plan.NeedOverhead:
		return RoleOverhead
	case plan.Detail:
		return RoleDetail
	case plan.Process:
		return RoleProcess
	}
	return ""
}

// cast scores the roles of all frames.
func (d *sheet) cast() {
	for i := range d.frames {
		by := map[Role]*RoleScore{}
		for k := range d.roles[i].Roles {
			by[d.roles[i].Roles[k].Role] = &d.roles[i].Roles[k]
		}
		c := casting{by: by}
		d.speakFor(&c, i)
		all := make([]RoleScore, 0, len(by))
		for _, role := range allRoles {
			r := by[role]
			if r == nil {
				continue
			}
			sum, spoken := roleFirst[role], false
			for k, e := range r.Why {
				sum += e.Weight
				spoken = spoken || e.Weight > 0
				r.Why[k].Says = d.one(e.Says)
			}
			if r.Score = 1 / (1 + math.Exp(-sum)); spoken {
				all = append(all, *r)
			}
		}
		slices.SortStableFunc(all, func(a, b RoleScore) int { return cmp.Compare(b.Score, a.Score) })
		d.roles[i].Roles = all
		if n := d.setAt[i]; n >= 0 {
			d.roles[i].Set = d.setNumber[n]
		}
	}
}

// casting collects what speaks for the roles of one frame.
type casting struct{ by map[Role]*RoleScore }

func (c *casting) add(role Role, kind string, weight float64, says string) {
	if c.by[role] == nil {
		c.by[role] = &RoleScore{Role: role}
	}
	c.by[role].Why = append(c.by[role].Why, Evidence{kind, weight, says})
}

// speakFor says what the facts of a frame say of its roles.
func (d *sheet) speakFor(c *casting, at int) {
	f := d.frames[at]
	if f.Rating != nil {
		says := fmt.Sprintf("rated %g", *f.Rating)
		switch {
		case *f.Rating < 0:
			c.add(RoleHero, "rating", -4, says)
		case *f.Rating >= 4:
			c.add(RoleHero, "rating", 1.5, says)
			c.add(RoleTest, "rating", -3, says)
		case *f.Rating >= 3:
			c.add(RoleHero, "rating", 0.5, says)
			c.add(RoleTest, "rating", -2, says)
		}
	}
	d.speakOfPlace(c, at)
	if v := d.views[at]; v.Known {
		// The chance itself, as log-odds over where the role begins.
		p := min(max(v.Overhead, 0.005), 0.995)
		c.add(RoleOverhead, "angle", math.Log(p/(1-p))-roleFirst[RoleOverhead], "seen from "+v.degrees())
	}
	if r, ok := d.recipeAt[d.placed[at].Recipe]; ok && d.placed[at].Recipe != "" {
		d.speakOfPlan(c, at, d.recipes[r])
	}
	if area := mainArea(f.Look.Matters); area < 1 {
		switch {
		case area >= 0.6:
			c.add(RoleDetail, "size", 1, fmt.Sprintf("what matters fills %.0f %% of it", 100*area))
		case area <= 0.3:
			c.add(RoleDetail, "size", -1, fmt.Sprintf("what matters fills %.0f %% of it", 100*area))
		}
	}
	if says := patches(f.Look.Palette); says != "" {
		c.add(RoleChart, "palette", 2.5, says)
	}
	if wide := f.Exposure.Focal35; wide > 0 && wide <= 28 {
		c.add(RoleBehind, "lens", 1, fmt.Sprintf("a wide lens, like %.0f mm", wide))
	}
}

// speakOfPlan holds a frame against what the plan wishes.
func (d *sheet) speakOfPlan(c *casting, at int, r plan.Recipe) {
	f := d.frames[at]
	if w, h := f.Look.Width, f.Look.Height; w > 0 && h > 0 && (r.Orientation == plan.Portrait || r.Orientation == plan.Landscape) {
		if got := stands(w, h); got == r.Orientation {
			c.add(RoleHero, "orientation", 0.5, "stands as planned, "+string(got))
		} else {
			c.add(RoleHero, "orientation", -1.5, "stands "+string(got)+", not as planned")
		}
	}
	if v := d.views[at]; v.named() && r.Angle != "" && r.Angle != plan.AnyAngle && r.Angle != plan.UnknownAngle {
		if v.Class == r.Angle {
			c.add(RoleHero, "angle", 1, "seen as planned, "+string(r.Angle))
		} else if v.isNot(r.Angle) {
			c.add(RoleHero, "angle", -1.5, "seen "+string(v.Class)+", planned "+string(r.Angle))
		}
	}
}

// speakOfPlace says what the place of a frame in its set tells: the first are
// tests, the last that no longer change the proper shot.
func (d *sheet) speakOfPlace(c *casting, at int) {
	if d.setAt[at] < 0 {
		return
	}
	s := d.sets[d.setAt[at]]
	place := slices.Index(s.frames, at)
	n := len(s.frames)
	switch {
	case n < 3:
	case place == 0:
		c.add(RoleTest, "set", 1, fmt.Sprintf("the first of %d of its set", n))
	case place >= s.steady && s.steady < n-1:
		says := fmt.Sprintf("among the last %d of its set, which no longer change", n-s.steady)
		c.add(RoleHero, "set", 1, says)
		c.add(RoleTest, "set", -1.5, says)
	}
	if off, others := d.besides[at].stops, d.besides[at].others; others >= 2 && math.Abs(off) > d.Rules.LevelDrift {
		says := fmt.Sprintf("its exposure is %+.1f stops off its set", off)
		c.add(RoleTest, "light", 1.5, says)
		c.add(RoleHero, "light", -1, says)
	}
	if d.focus(at) != nil {
		if d.besides[at].ofBest < d.Rules.FocusShare {
			c.add(RoleHero, "focus", -0.5, "softer than the best of its set")
		}
	}
}

// patches tells the colours of a chart: greys in steps, and strong colours all
// around.
func patches(palette []colour.Swatch) string {
	var greys, hues []float64
	for _, w := range palette {
		chroma := math.Hypot(w.Lab.A, w.Lab.B)
		switch {
		case chroma < 6:
			greys = append(greys, w.Lab.L)
		case chroma > 35:
			hues = append(hues, math.Atan2(w.Lab.B, w.Lab.A)*180/math.Pi)
		}
	}
	if len(greys) < 2 || len(hues) < 3 || slices.Max(greys)-slices.Min(greys) < 30 {
		return ""
	}
	slices.Sort(hues)
	for k, h := range hues {
		next := hues[(k+1)%len(hues)]
		if gap := math.Mod(next-h+360, 360); gap < 50 || gap > 200 {
			return ""
		}
	}
	return "greys in steps and strong colours all around, as on a chart"
}

// standing is how likely a frame is meant for a need, and whether it is likelier
// a test or a chart.
func (d *sheet) standing(at int, kind plan.NeedKind) (score float64, lowered bool) {
	want := needRole(kind)
	if want == "" {
		want = RoleHero
	}
	for _, r := range d.roles[at].Roles {
		if r.Role == want {
			score = r.Score
		}
		if (r.Role == RoleTest || r.Role == RoleChart) && r.Score > 0.5 {
			lowered = true
		}
	}
	return score, lowered
}

// Roles says for each frame what it is likely for, in the order of Matches.
func Roles(s Shoot) []FrameRoles { return lay(s).roles }
