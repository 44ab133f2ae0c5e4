package delivery

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

func safe(stem, ending string) string { return strings.ReplaceAll(stem, "/", "_") + ending }

func frame(id string, kinds ...catalogue.FileKind) catalogue.Frame {
	f := catalogue.Frame{ID: catalogue.FrameID(id), Look: catalogue.Look{Width: 2000, Height: 3000}}
	for _, k := range kinds {
		ending := map[catalogue.FileKind]string{catalogue.JPEG: ".JPG", catalogue.Raw: ".NEF"}[k]
		f.Files = append(f.Files, catalogue.File{Kind: k, Name: strings.ToUpper(id) + ending, Path: "originals/BODY-SERIAL/" + id + ending, SHA256: id + ending})
	}
	return f
}

// book is two recipes: R01 on page 7, R02 on none; R01 has a hero and two
// options.
func book() (audit.Shoot, audit.Report) {
	s := audit.Shoot{Book: plan.Book{Title: "Skerry Table", TrimWidth: 150, TrimHeight: 200, Bleed: 3},
		Recipes: []plan.Recipe{{ID: "R01", Title: "Rye/bread", Pages: plan.Pages{First: 7, Last: 7}, Size: plan.Size{Kind: plan.FullPage}}, {ID: "R02", Title: "Kale"}},
		Frames:  []catalogue.Frame{frame("a", catalogue.JPEG, catalogue.Raw), frame("b", catalogue.JPEG), frame("c", catalogue.JPEG), frame("d", catalogue.JPEG)}}
	r := audit.Report{Chosen: []audit.Choice{{Recipe: "R01", Need: "hero", Frame: "a"}, {Recipe: "R01", Need: "options 2", Frame: "b"}, {Recipe: "R01", Need: "options 2", Frame: "c"}},
		Recipes: []audit.Recipe{{ID: "R01", Title: "Rye/bread", Pages: "7", Needs: []audit.Finding{{Need: "hero", Verdict: audit.Settled}, {Need: "half", Verdict: audit.Waived, Why: "not wanted"},
			{Need: "overhead", Verdict: audit.ToReshoot, Why: "originals/BODY-SERIAL/a.JPG is soft"}}}}}
	return s, r
}

func spec() Spec { return Spec{Names: DefaultNames, Take: All, PPI: 200, Bleed: 3} }

func names(d Delivery) (out []string) {
	for _, p := range d.Pieces {
		out = append(out, p.Name)
	}
	return out
}

func TestNames(t *testing.T) {
	for _, c := range []struct {
		name, template string
		take           Take
		want           []string
	}{
		{"the usual ones", DefaultNames, All, []string{"007_R01_hero.jpg", "007_R01_hero.nef", "007_R01_options-1.jpg", "007_R01_options-2.jpg"}},
		{"a title with a slash", "{title} {need}.{ext}", Picture, []string{"Rye_bread hero.jpg", "Rye_bread options-1.jpg", "Rye_bread options-2.jpg"}},
		{"the camera's name", "{book}-{frame}.{ext}", Raw, []string{"Skerry Table-A.nef"}},
		{"a page as it is", "{page}{recipe}{need}.{ext}", Picture, []string{"7R01hero.jpg", "7R01options-1.jpg", "7R01options-2.jpg"}},
	} {
		s, r := book()
		sp := spec()
		sp.Names, sp.Take = c.template, c.take
		d, err := Of(s, r, sp, safe)
		if err != nil || !cmp.Equal(names(d), c.want) {
			t.Errorf("%s: %q, %v, want %q", c.name, names(d), err, c.want)
		}
		for _, p := range d.Pieces {
			if p.AsIs != (p.File.Kind == catalogue.Raw) {
				t.Errorf("%s goes out as it is: %v", p.Name, p.AsIs)
			}
		}
	}
}

func TestNamesThatAreRefused(t *testing.T) {
	s, r := book()
	for template, says := range map[string]string{
		"{page}.{ext}":                   "R01 options-1 (B.JPG)",
		"{recipe}.jpg":                   "does not end",
		"{recipe}_{ext}":                 "does not end",
		"{ext}.{ext}":                    "does not end",
		"{recipe}/{need}.{ext}":          "names a folder",
		"{receipt}.{ext}":                "no field",
		"{recipe.{ext}":                  "no field",
		"recipe}.{ext}":                  "a brace",
		"{recipe:03}.{ext}":              "not known",
		"{page:3}_{need}.{ext}":          "not known",
		"{chapter}_{frame}_{need}.{ext}": "R01 has no chapter",
	} {
		sp := spec()
		sp.Names = template
		d, err := Of(s, r, sp, safe)
		if err == nil || !strings.Contains(err.Error(), says) || len(d.Pieces) != 0 {
			t.Errorf("%s: %d pieces, %v, want %q", template, len(d.Pieces), err, says)
		}
	}
	// Names that a disk would take for one: case, and a sidecar of another frame.
	r.Chosen = []audit.Choice{{Recipe: "R01", Need: "hero", Frame: "a"}, {Recipe: "R02", Need: "hero", Frame: "b"}}
	s.Recipes[1].Title = "RYE/BREAD"
	sp := spec()
	sp.Names = "{title}.{ext}"
	var n *NamesError
	if _, err := Of(s, r, sp, safe); !errors.As(err, &n) || len(n.Says) != 1+1 { // .jpg and .xmp
		t.Errorf("two titles that differ in case: %v", err)
	}
	if _, err := Of(s, r, spec(), safe); !errors.As(err, &n) || !strings.Contains(err.Error(), "R02 has no page") {
		t.Errorf("a recipe without a page: %v", err)
	}
	sp.Names, sp.Words.Caption = DefaultNames, "{nonsense}"
	var bad *TemplateError
	if _, err := Of(s, r, sp, safe); !errors.As(err, &bad) {
		t.Errorf("a caption with a field that is none: %v", err)
	}
}

func TestGaps(t *testing.T) {
	s, r := book()
	sp := spec()
	sp.PPI, sp.Take, sp.Colours = 400, Both, []string{"sRGB"}
	s.Frames[0].ColourSpace = "srgb"
	d, err := Of(s, r, sp, safe)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, g := range d.Gaps {
		got = append(got, fmt.Sprintf("%s %s: %s", g.Need, g.State, g.Says))
	}
	// 2000 px on 153 mm (150 and the outer bleed) are 2000 / 153 · 25.4 = 332.03 ppi
	want := []string{"overhead reshoot: a.JPG is soft", "hero spec: A.JPG has 332.0 ppi", "options 2 spec: B.JPG: its colour space is not written",
		"options 2 file: B.JPG has no raw", "options 2 spec: C.JPG", "options 2 file: C.JPG has no raw", "half waived: not wanted"}
	want[0] = "overhead reshoot: A.JPG is soft"
	if len(got) != len(want) {
		t.Fatalf("%q", got)
	}
	for i := range want {
		if !strings.HasPrefix(got[i], want[i]) {
			t.Errorf("gap %d is %q, want %q", i, got[i], want[i])
		}
	}
	if d.Open() != len(want)-1 {
		t.Errorf("%d open", d.Open())
	}
	// The spec's bleed counts, not the book's: 2000 / 150 · 25.4
	sp.Bleed = 0
	if d, err = Of(s, r, sp, safe); err != nil || fmt.Sprintf("%.2f", d.Pieces[0].PPI) != "338.67" {
		t.Errorf("without bleed %.2f ppi, %v", d.Pieces[0].PPI, err)
	}
}

// What was chosen and then waived stays at home.
func TestWaivedIsNotDelivered(t *testing.T) {
	s, r := book()
	r.Chosen = append(r.Chosen, audit.Choice{Recipe: "R01", Need: "half", Frame: "d"})
	if d, err := Of(s, r, spec(), safe); err != nil || len(d.Pieces) != 4 {
		t.Errorf("%q, %v", names(d), err)
	}
}

func TestWordsOfARecipe(t *testing.T) {
	s, r := book()
	sp := spec()
	sp.Words = Words{Caption: "{title}, {need} of {book}, p. {pages}", Credit: "everyone", Keywords: []string{"x"}}
	sp.Own = map[string]Words{"r01": {Credit: "Ingrid", Keywords: []string{}, People: "unlimited"}, "r99": {}}
	d, err := Of(s, r, sp, safe)
	if err != nil {
		t.Fatal(err)
	}
	w := d.Pieces[0].Words
	if w.Caption != "Rye/bread, hero of Skerry Table, p. 7" || w.Credit != "Ingrid" || len(w.Keywords) != 0 || w.People != "unlimited" {
		t.Errorf("%+v", w)
	}
	if len(d.Says) != 1 || !strings.Contains(d.Says[0], "r99") {
		t.Errorf("%q", d.Says)
	}
}

func TestChanges(t *testing.T) {
	s, r := book()
	first, err := Of(s, r, spec(), safe)
	if err != nil {
		t.Fatal(err)
	}
	if got := Changes(first.Rows(), first.Rows()); len(got) != 0 {
		t.Errorf("nothing changed, and %v", got)
	}
	s.Recipes[0].Pages = plan.Pages{First: 9, Last: 9}
	s.Frames[0].Files = s.Frames[0].Files[:1] // no raw any more
	r.Chosen = []audit.Choice{{Recipe: "R01", Need: "hero", Frame: "a"}, {Recipe: "R01", Need: "options 2", Frame: "b"}, {Recipe: "R01", Need: "options 2", Frame: "d"}, {Recipe: "R01", Need: "detail", Frame: "b"}}
	r.Recipes[0].Needs[2].Verdict = audit.Settled
	sp := spec()
	sp.Words.Credit = "Ingrid"
	second, err := Of(s, r, sp, safe)
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[string]int{}
	for _, c := range Changes(first.Rows(), second.Rows()) {
		kinds[c.Kind]++
	}
	want := map[string]int{"another frame": 1, "new": 1, "withdrawn": 1, "renamed": 3, "words": 3, "settled": 1}
	if diff := cmp.Diff(want, kinds); diff != "" {
		t.Error(diff)
	}
}
