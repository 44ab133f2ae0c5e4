package desk

import (
	"html/template"
	"net/http"
	"net/url"
	"strconv"

	"coverplate/audit"
	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

// onePage is the page of one frame: large, with the cut a person may draw.
type onePage struct {
	Chrome         chrome
	Ref, Name      string
	Path           string
	Picture        template.URL
	Seen           bool
	Width, Height  int // of the original, pixels
	Tall           float64
	Facts          []string
	Match          string
	Why            []string
	Recipe, Title  string
	Dish           string // address; "" none
	Angle          *paper.Angle
	Cuts           *paper.Cuts
	Need           string // what the cut is for: half, hero
	Cut            [4]int
	Own            *saidView // the person's cut that holds; nil none
	Shapes         []shapeView
	Others         []choiceView // frames of the same dish, to hold it against
	Recipes        []choiceView
	Needs          []string // for which it may be chosen
	X, Y           string
	CloseX, CloseY int
}

// shapeView is a shape that a cut may be held to.
type shapeView struct {
	Says  string
	W, H  float64
	Fixed bool
}

func (d *Desk) frame(w http.ResponseWriter, r *http.Request, st *state, v visitor) {
	f, ok := st.find(r.PathValue("frame"))
	if !ok {
		d.fail(w, r, http.StatusNotFound, "There is no such frame.", "")
		return
	}
	whole, err := d.o.Store.Frame(r.Context(), f.ID)
	if err != nil {
		d.fail(w, r, http.StatusNotFound, "There is no such frame.", "")
		return
	}
	m := st.match(f.ID)
	p := onePage{Chrome: d.around(r, st, v, name(f)), Ref: st.ref(f.ID), Name: name(f), Path: f.Path(), Picture: st.pictureAt(f.ID, fullSide),
		Width: f.Look.Width, Height: f.Look.Height, Match: matchSays(m), Recipe: m.Recipe, Title: st.titles[m.Recipe],
		Angle: paper.AngleOf(st.view(f.ID)), Need: string(plan.Half), Recipes: recipesOf(st, m.Recipe)}
	p.Facts = exposureSays(f)
	if f.Unread != "" {
		p.Facts = append(p.Facts, "could not be read whole: "+f.Unread)
	}
	for _, e := range m.Why {
		p.Why = append(p.Why, e.Says)
	}
	if m.Recipe != "" {
		p.Dish = dishAt(m.Recipe)
	}
	for _, rec := range st.report.Recipes {
		for _, need := range rec.Needs {
			if rec.ID == m.Recipe && need.Need != string(plan.Palette) {
				p.Needs = append(p.Needs, need.Need)
			}
		}
	}
	if r.URL.Query().Get("for") == string(plan.Hero) {
		p.Need = string(plan.Hero)
	}
	if p.Width > 0 && p.Height > 0 {
		p.Tall = float64(p.Height) / float64(p.Width)
		d.cutting(&p, st, whole, m.Recipe)
	}
	for _, o := range st.report.Matches {
		if o.Recipe == m.Recipe && m.Recipe != "" && o.Frame != f.ID {
			g, _ := st.find(string(o.Frame))
			p.Others = append(p.Others, choiceView{Value: st.ref(o.Frame), Says: name(g) + ", " + taken(g)})
		}
	}
	d.show(w, r, http.StatusOK, "frame", p)
}

// cutting adds the cuts of a frame for the need, and where a new one begins.
func (d *Desk) cutting(p *onePage, st *state, f catalogue.Frame, recipe string) {
	small := st.shoot
	small.Frames = []catalogue.Frame{f}
	path := f.Path()
	finding := audit.Finding{Recipe: recipe, Need: p.Need, Frame: &path, FrameID: f.ID}
	cuts := audit.NewCutter(small).Of(finding)
	p.Cuts = paper.CutsOf(p.Need, p.Name, p.Picture, p.Width, p.Height, cuts)
	p.Cut = [4]int{p.Width / 4, p.Height / 4, p.Width / 2, p.Height / 2}
	for _, c := range cuts {
		if c.Rect.Width > 0 && (c.Own || c.Works != crop.No) {
			p.Cut = [4]int{c.Rect.X, c.Rect.Y, c.Rect.Width, c.Rect.Height}
			break
		}
	}
	for _, x := range catalogue.Current(st.shoot.Decisions) {
		if x.Kind == catalogue.Crop && x.Frame == f.ID && x.Need == p.Need {
			p.Cut, p.Own = x.Rect, d.saidOf(st, x.ID)
		}
	}
	if p.Need == string(plan.Hero) {
		if w, h, ok := st.shoot.Book.Box(st.recipes[recipe]); ok {
			p.Shapes = append(p.Shapes, shapeView{"the page", w, h, true})
		}
	} else {
		for _, s := range st.shoot.Rules.Shapes {
			p.Shapes = append(p.Shapes, shapeView{s.Name, float64(s.Width), float64(s.Height), true})
		}
	}
	p.Shapes = append(p.Shapes, shapeView{"any shape", 0, 0, false})
}

// exposureSays are what the camera wrote, as people read it.
func exposureSays(f catalogue.Frame) []string {
	var all []string
	add := func(s string) {
		if s != "" {
			all = append(all, s)
		}
	}
	if !f.Taken.IsZero() {
		add(f.Taken.Format("Monday 2 January 2006, 15:04:05"))
	}
	add(f.Body())
	add(f.Camera.Lens)
	e := f.Exposure
	short := func(x float64) string { return strconv.FormatFloat(x, 'g', 4, 64) }
	if e.FocalLength > 0 {
		add(short(e.FocalLength) + " mm")
	}
	if e.FNumber > 0 {
		add("f/" + short(e.FNumber))
	}
	switch {
	case e.Seconds > 0 && e.Seconds < 0.3:
		add("1/" + strconv.FormatFloat(1/e.Seconds, 'f', 0, 64) + " s")
	case e.Seconds > 0:
		add(short(e.Seconds) + " s")
	}
	if e.ISO > 0 {
		add("ISO " + short(e.ISO))
	}
	if f.Look.Width > 0 {
		add(strconv.Itoa(f.Look.Width) + " × " + strconv.Itoa(f.Look.Height) + " px")
	}
	return all
}

// closePage shows one frame or two at 1:1, held at the same point.
type closePage struct {
	Chrome  chrome
	Frames  []closeView
	X, Y    float64 // of the middle, per cent of width and height
	Moves   []link
	Others  []choiceView
	A, B    string
	Swapped string
}

type closeView struct {
	Ref, Name, Match string
	Pixels           template.URL
	W, H             int // of the piece
	Width, Height    int // of the original
	Missing          string
}

// The piece shown at 1:1, pixels: one frame, and each of two.
const (
	pieceWide = 1200
	pieceHigh = 800
	pairWide  = 760
	pairHigh  = 860
)

func (d *Desk) close(w http.ResponseWriter, r *http.Request, st *state, v visitor) {
	q := r.URL.Query()
	p := closePage{Chrome: d.around(r, st, v, "At full size"), X: percentOf(q.Get("x")), Y: percentOf(q.Get("y")), A: q.Get("a"), B: q.Get("b")}
	p.Chrome.Wide = true
	refs := []string{p.A}
	wide, high := pieceWide, pieceHigh
	if p.B != "" {
		refs = append(refs, p.B)
		wide, high = pairWide, pairHigh
	}
	for _, ref := range refs {
		f, ok := st.find(ref)
		if !ok {
			d.fail(w, r, http.StatusNotFound, "There is no such frame.", "")
			return
		}
		c := closeView{Ref: st.ref(f.ID), Name: name(f), Match: matchSays(st.match(f.ID)), Width: f.Look.Width, Height: f.Look.Height}
		if c.Width < 1 || c.Height < 1 {
			c.Missing = "its size in pixels is not known"
		} else {
			c.W, c.H = min(wide, c.Width), min(high, c.Height)
			x := min(max(int(p.X/100*float64(c.Width))-c.W/2, 0), c.Width-c.W)
			y := min(max(int(p.Y/100*float64(c.Height))-c.H/2, 0), c.Height-c.H)
			c.Pixels = template.URL("/pixels/" + c.Ref + "?x=" + strconv.Itoa(x) + "&y=" + strconv.Itoa(y) + "&w=" + strconv.Itoa(c.W) + "&h=" + strconv.Itoa(c.H))
		}
		p.Frames = append(p.Frames, c)
	}
	first := p.Frames[0]
	stepX, stepY := 10.0, 10.0
	if first.Width > 0 && first.Height > 0 {
		stepX, stepY = 50*float64(first.W)/float64(first.Width), 50*float64(first.H)/float64(first.Height)
	}
	for _, m := range []struct {
		says   string
		dx, dy float64
	}{{"left", -stepX, 0}, {"right", stepX, 0}, {"up", 0, -stepY}, {"down", 0, stepY}} {
		p.Moves = append(p.Moves, link{To: closeAt(p.A, p.B, p.X+m.dx, p.Y+m.dy), Says: m.says})
	}
	if p.B != "" {
		p.Swapped = closeAt(p.B, p.A, p.X, p.Y)
	}
	f, _ := st.find(p.A)
	if recipe := st.match(f.ID).Recipe; recipe != "" {
		for _, o := range st.report.Matches {
			if o.Recipe == recipe && o.Frame != f.ID {
				g, _ := st.find(string(o.Frame))
				p.Others = append(p.Others, choiceView{Value: st.ref(o.Frame), Says: name(g) + ", " + taken(g), On: st.ref(o.Frame) == p.B})
			}
		}
	}
	d.show(w, r, http.StatusOK, "close", p)
}

// closeAt is the address of one frame or two at 1:1.
func closeAt(a, b string, x, y float64) string {
	q := url.Values{"a": {a}, "x": {strconv.FormatFloat(min(max(x, 0), 100), 'f', 1, 64)}, "y": {strconv.FormatFloat(min(max(y, 0), 100), 'f', 1, 64)}}
	if b != "" {
		q.Set("b", b)
	}
	return "/close?" + q.Encode()
}

// percentOf reads a place in a picture; the middle where there is none.
func percentOf(s string) float64 {
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || !(x >= 0 && x <= 100) {
		return 50
	}
	return x
}
