// Package delivery says what leaves the studio: which files of the frames that
// people chose, under which names, with which words, and what is wanting. It
// touches no file. The same shoot and the same spec give the same delivery.
package delivery

import (
	"fmt"
	"slices"
	"strings"

	"coverplate/audit"
	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// Take tells which files of a frame are delivered.
type Take string

// What may be taken of a frame.
const (
	All     Take = "all"  // its picture and its raw, each where it is there
	Both    Take = "both" // its picture and its raw, which must be there
	Picture Take = "jpeg" // its JPEG, else its HEIC, PNG, TIFF or WebP
	Raw     Take = "raw"
)

// Takes are all of them.
func Takes() []Take { return []Take{All, Both, Picture, Raw} }

// DefaultNames is the template of names that a spec without one has.
const DefaultNames = "{page:03}_{recipe}_{need}.{ext}"

// Spec is what a publisher asks of a delivery.
type Spec struct {
	Names   string // template of names
	Take    Take
	PPI     float64  // least effective pixels an inch at the printed size with bleed
	Bleed   float64  // millimetres on each outer edge
	Colours []string // colour spaces that pictures may have; none: any
	Words   Words
	Own     map[string]Words // of a recipe, by its id in lower case, instead of Words
	AsShot  bool             // JPEGs go out byte for byte, place and serial numbers with them
}

// Words are what a delivery says of a picture. Templates may hold the fields
// of names but ext and n.
type Words struct {
	Caption, Headline                   string // templates
	Keywords                            []string
	Creator, Credit, Source, Copyright  string
	Usage, Statement, Instructions, Job string
	People, Property                    string // releases: none, not applicable, limited, unlimited; "" not said
	PeopleReleases, PropertyReleases    []string
}

// Piece is one file that is delivered.
type Piece struct {
	Recipe  plan.Recipe
	Need    string // as its name has it: "hero", "options-2"
	Frame   catalogue.Frame
	File    catalogue.File
	Name    string
	Sidecar string // shared by the files of one frame for one need
	Words   Words  // filled in
	Cuts    []audit.Cut
	PPI     float64 // at the printed size; 0 not known, or not printed
	AsIs    bool    // it goes out byte for byte, with whatever the camera wrote
}

// Gap is something that is not settled, or that is waived.
type Gap struct {
	Recipe, Title, Pages, Need string
	State                      string // a verdict, or "spec", "file"
	Says                       string
}

// Waived tells whether nobody waits for it.
func (g Gap) Waived() bool { return g.State == string(audit.Waived) }

// Delivery is what leaves, in page order, and what is wanting.
type Delivery struct {
	Pieces []Piece
	Gaps   []Gap    // what is waived last
	Says   []string // what a person should know besides
}

// Open counts the gaps that are not waived.
func (d Delivery) Open() int {
	n := 0
	for _, g := range d.Gaps {
		if !g.Waived() {
			n++
		}
	}
	return n
}

// maker makes a delivery.
type maker struct {
	shoot   audit.Shoot
	spec    Spec
	report  audit.Report
	recipes map[string]plan.Recipe
	frames  map[catalogue.FrameID]catalogue.Frame
	cutter  audit.Cutter
	short   *strings.Replacer
	out     Delivery
}

// Of makes the delivery of a shoot. safe makes of a stem and an ending a name
// that every usual system can hold. Errors: a *TemplateError, a *NamesError.
func Of(s audit.Shoot, r audit.Report, spec Spec, safe func(stem, ending string) string) (Delivery, error) {
	names, err := parseNames(spec.Names)
	if err != nil {
		return Delivery{}, err
	}
	s.Book.Bleed = spec.Bleed
	m := maker{shoot: s, spec: spec, report: r, recipes: map[string]plan.Recipe{}, frames: map[catalogue.FrameID]catalogue.Frame{}, cutter: audit.NewCutter(s)}
	for _, rec := range s.Recipes {
		if _, twice := m.recipes[rec.ID]; !twice {
			m.recipes[rec.ID] = rec
		}
	}
	var paths []string
	for _, f := range s.Frames {
		m.frames[f.ID] = f
		for _, file := range f.Files {
			if file.Path != "" { // it holds the body's serial number
				paths = append(paths, file.Path, file.Name)
			}
		}
	}
	m.short = strings.NewReplacer(paths...)
	if err := m.words(); err != nil {
		return Delivery{}, err
	}
	for i := 0; i < len(r.Chosen); {
		n := i
		for n < len(r.Chosen) && r.Chosen[n].Recipe == r.Chosen[i].Recipe && r.Chosen[n].Need == r.Chosen[i].Need {
			n++
		}
		for k, c := range r.Chosen[i:n] {
			number := k + 1
			if n-i == 1 && !strings.HasPrefix(c.Need, string(plan.Options)) {
				number = 0
			}
			if !m.waived(c) {
				m.piece(c, number)
			}
		}
		i = n
	}
	m.gaps()
	if err := m.name(names, safe); err != nil {
		return Delivery{}, err
	}
	return m.out, nil
}

// waived tells whether a person said later that a chosen frame is not wanted.
func (m *maker) waived(c audit.Choice) bool {
	for _, r := range m.report.Recipes {
		for _, f := range r.Needs {
			if r.ID == c.Recipe && f.Need == c.Need && f.Verdict == audit.Waived {
				return true
			}
		}
	}
	return false
}

// words makes sure that the spec's words can be filled in, and that its own
// words are of recipes that there are.
func (m *maker) words() error {
	all := map[string]Words{"": m.spec.Words}
	for id, w := range m.spec.Own {
		all[id] = w
		known := slices.ContainsFunc(m.shoot.Recipes, func(r plan.Recipe) bool { return strings.EqualFold(r.ID, id) })
		if !known {
			m.out.Says = append(m.out.Says, fmt.Sprintf("The spec has words for %s, and the plan has no such recipe.", id))
		}
	}
	slices.Sort(m.out.Says)
	for _, w := range all {
		for _, t := range []string{w.Caption, w.Headline} {
			if _, err := parse(t, wordFields); err != nil {
				return err
			}
		}
	}
	return nil
}

// piece adds the files of one chosen frame.
func (m *maker) piece(c audit.Choice, number int) {
	f, ok := m.frames[c.Frame]
	r := m.recipes[c.Recipe]
	if !ok {
		return // the audit says so in its notes
	}
	need, _, _ := strings.Cut(c.Need, " ")
	if number > 0 {
		need = fmt.Sprintf("%s-%d", need, number)
	}
	p := Piece{Recipe: r, Need: need, Frame: f, Words: m.wordsOf(r)}
	p.Cuts = m.cutter.Of(audit.Finding{Recipe: r.ID, Need: c.Need, FrameID: f.ID})
	p.Words.Caption = m.fill(p.Words.Caption, p)
	p.Words.Headline = m.fill(p.Words.Headline, p)
	m.suits(&p, c.Need)
	picture, raw := fileOf(f, catalogue.JPEG, catalogue.HEIC, catalogue.Picture), fileOf(f, catalogue.Raw)
	want := m.spec.Take
	taken := 0
	for _, k := range []struct {
		file *catalogue.File
		is   Take
	}{{picture, Picture}, {raw, Raw}} {
		switch {
		case want != All && want != Both && want != k.is:
		case k.file != nil:
			taken++
			p.File = *k.file
			p.AsIs = m.spec.AsShot || k.file.Kind != catalogue.JPEG
			m.out.Pieces = append(m.out.Pieces, p)
		case want != All:
			m.gap(r, c.Need, "file", fmt.Sprintf("%s has no %s: another frame, or take = %q in the spec", lead(f), k.is, All))
		}
	}
	if taken == 0 && want == All {
		m.gap(r, c.Need, "file", lead(f)+" has neither picture nor raw")
	}
}

// lead is the name of a frame's leading file on its card.
func lead(f catalogue.Frame) string {
	if len(f.Files) == 0 {
		return string(f.ID)
	}
	return f.Files[0].Name
}

// fileOf is the first file of the first of kinds that a frame has.
func fileOf(f catalogue.Frame, kinds ...catalogue.FileKind) *catalogue.File {
	for _, k := range kinds {
		for i := range f.Files {
			if f.Files[i].Kind == k {
				return &f.Files[i]
			}
		}
	}
	return nil
}

// suits holds a piece against what the spec asks of print and colour.
func (m *maker) suits(p *Piece, need string) {
	r := p.Recipe
	if need == string(plan.Hero) {
		w, h, ok := m.shoot.Book.Box(r)
		for _, c := range p.Cuts {
			if ok && c.For == "print" {
				p.PPI = crop.PPI(p.Frame.Look.Width, p.Frame.Look.Height, w, h) // our cut uses the whole of one side
				if c.Own {
					p.PPI = crop.PPI(c.Rect.Width, c.Rect.Height, w, h)
				}
			}
		}
		switch {
		case p.PPI == 0:
			m.gap(r, need, "spec", lead(p.Frame)+": its printed size is not known, so neither are its pixels an inch: give it pages and a size in the plan")
		case p.PPI < m.spec.PPI-1e-6:
			m.gap(r, need, "spec", fmt.Sprintf("%s has %.1f ppi on %.0f×%.0f mm with bleed; the spec asks for %g: print it smaller, or agree on less with who gets it", lead(p.Frame), p.PPI, w, h, m.spec.PPI))
		}
	}
	if len(m.spec.Colours) == 0 || m.spec.Take == Raw {
		return
	}
	got := p.Frame.ColourSpace
	if !slices.ContainsFunc(m.spec.Colours, func(c string) bool { return strings.EqualFold(c, got) }) {
		if got == "" {
			got = "not written"
		}
		m.gap(r, need, "spec", fmt.Sprintf("%s: its colour space is %s; the spec takes %s", lead(p.Frame), got, strings.Join(m.spec.Colours, ", ")))
	}
}

func (m *maker) gap(r plan.Recipe, need, state, says string) {
	m.out.Gaps = append(m.out.Gaps, Gap{r.ID, r.Title, r.Pages.String(), need, state, says})
}

// gaps adds what the audit finds unsettled, in page order before what was found
// of the pieces, and what is waived behind all.
func (m *maker) gaps() {
	found := m.out.Gaps
	m.out.Gaps = nil
	var waived []Gap
	for _, rec := range m.report.Recipes {
		for _, f := range rec.Needs {
			g := Gap{rec.ID, rec.Title, rec.Pages, f.Need, string(f.Verdict), m.short.Replace(f.Why)}
			switch f.Verdict {
			case audit.Settled:
			case audit.Waived:
				waived = append(waived, g)
			default:
				m.out.Gaps = append(m.out.Gaps, g)
			}
		}
	}
	m.out.Gaps = append(append(m.out.Gaps, found...), waived...)
}

// wordsOf are the spec's words for a recipe.
func (m *maker) wordsOf(r plan.Recipe) Words {
	w, own := m.spec.Words, m.spec.Own[strings.ToLower(r.ID)]
	for _, f := range []struct{ to, from *string }{{&w.Caption, &own.Caption}, {&w.Headline, &own.Headline}, {&w.Creator, &own.Creator},
		{&w.Credit, &own.Credit}, {&w.Source, &own.Source}, {&w.Copyright, &own.Copyright}, {&w.Usage, &own.Usage}, {&w.Statement, &own.Statement},
		{&w.Instructions, &own.Instructions}, {&w.Job, &own.Job}, {&w.People, &own.People}, {&w.Property, &own.Property}} {
		if *f.from != "" {
			*f.to = *f.from
		}
	}
	for _, f := range []struct{ to, from *[]string }{{&w.Keywords, &own.Keywords}, {&w.PeopleReleases, &own.PeopleReleases}, {&w.PropertyReleases, &own.PropertyReleases}} {
		if *f.from != nil {
			*f.to = *f.from
		}
	}
	return w
}
