package audit

import (
	"math"
	"strings"
	"testing"

	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// A page bleeds on its outer edge, head and foot; a double page on all four, and
// is folded in its middle. The lengths are those of plan.Book.Box: trim
// 189 × 246 mm, 3 mm of bleed.
func TestPrintCuts(t *testing.T) {
	book := plan.Book{TrimWidth: 189, TrimHeight: 246, Bleed: 3, Gutter: 6, GoodPPI: 300, FloorPPI: 240}
	pages := func(s string) plan.Pages {
		p, err := plan.ParsePages(s)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	size := func(s string) plan.Size {
		z, err := plan.ParseSize(s)
		if err != nil {
			t.Fatal(err)
		}
		return z
	}
	l := catalogue.Look{Width: 4000, Height: 6000}
	for _, c := range []struct {
		pages, size string
		trim        [4]float64
		fold        float64
	}{
		{"24", "full", [4]float64{3.0 / 192, 3.0 / 252, 0, 3.0 / 252}, 0}, // a left page
		{"25", "full", [4]float64{0, 3.0 / 252, 3.0 / 192, 3.0 / 252}, 0},
		{"24-25", "double", [4]float64{3.0 / 384, 3.0 / 252, 3.0 / 384, 3.0 / 252}, 6.0 / 384},
		{"24", "100x80 mm", [4]float64{}, 0},
	} {
		got, ok := PrintCut(l, book, plan.Recipe{Pages: pages(c.pages), Size: size(c.size)})
		if !ok {
			t.Errorf("p. %s, %s: no cut", c.pages, c.size)
			continue
		}
		for i := range c.trim {
			if !(math.Abs(got.Trim[i]-c.trim[i]) < 1e-9) {
				t.Errorf("p. %s, %s: trim %v, want %v", c.pages, c.size, got.Trim, c.trim)
				break
			}
		}
		if !(math.Abs(got.Fold-c.fold) < 1e-9) {
			t.Errorf("p. %s, %s: fold %v, want %v", c.pages, c.size, got.Fold, c.fold)
		}
		if !strings.Contains(got.Says, "ppi") {
			t.Errorf("p. %s, %s: %q", c.pages, c.size, got.Says)
		}
	}
	small := catalogue.Look{Width: 800, Height: 1200}
	if got, ok := PrintCut(small, book, plan.Recipe{Pages: pages("24"), Size: size("full")}); !ok || got.Works != crop.No || !strings.Contains(got.Says, "240 is the floor") {
		t.Errorf("too few pixels: %+v", got)
	}
	if _, ok := PrintCut(catalogue.Look{}, book, plan.Recipe{Pages: pages("24")}); ok {
		t.Error("a picture without a size is cut")
	}
	if _, ok := PrintCut(l, plan.Book{}, plan.Recipe{Size: size("full")}); ok {
		t.Error("a page without a size is filled")
	}
}

func TestHalfCuts(t *testing.T) {
	shapes := []Shape{{Name: "4:5", Width: 1080, Height: 1350}, {Name: "1:1", Width: 1080, Height: 1080}, {Name: "9:16", Width: 5000, Height: 9000}}
	got := HalfCuts(catalogue.Look{Width: 6000, Height: 4000}, shapes)
	if len(got) != 3 || got[0].For != "4:5" || got[1].For != "1:1" || got[0].Works != crop.Look || got[2].Works != crop.No {
		t.Errorf("%+v", got)
	}
	for _, c := range got[:2] {
		if c.Rect.Width <= 0 || !strings.Contains(c.Says, "half") {
			t.Errorf("%+v", c)
		}
	}
	if got := HalfCuts(catalogue.Look{}, shapes); len(got) != 0 {
		t.Errorf("of no size: %+v", got)
	}
}

func TestCutterTakesAPersonsCut(t *testing.T) {
	book := plan.Book{TrimWidth: 189, TrimHeight: 246, Bleed: 3, GoodPPI: 300, FloorPPI: 240}
	pages, err := plan.ParsePages("24")
	if err != nil {
		t.Fatal(err)
	}
	s := Shoot{Book: book, Rules: DefaultRules(), Recipes: []plan.Recipe{{ID: "R07", Pages: pages}},
		Frames:    []catalogue.Frame{{ID: "f", Look: catalogue.Look{Width: 4000, Height: 6000}}},
		Decisions: []catalogue.Decision{{ID: 1, Kind: catalogue.Crop, Frame: "f", Need: "half", Rect: [4]int{100, 200, 1080, 1350}}, {ID: 2, Kind: catalogue.Crop, Frame: "f", Need: "hero", Rect: [4]int{0, 0, 3000, 4000}}}}
	c := NewCutter(s)
	for need, want := range map[string]crop.Rect{"half": {X: 100, Y: 200, Width: 1080, Height: 1350}, "hero": {X: 0, Y: 0, Width: 3000, Height: 4000}} {
		got := c.Of(Finding{Recipe: "R07", Need: need, FrameID: "f"})
		if len(got) != 1 || !got[0].Own || got[0].Rect != want || got[0].Works == crop.No {
			t.Errorf("%s: %+v", need, got)
		}
	}
	s.Decisions = nil
	c = NewCutter(s)
	if got := c.Of(Finding{Recipe: "R07", Need: "hero", FrameID: "f"}); len(got) != 1 || got[0].Own || got[0].For != "print" {
		t.Errorf("hero: %+v", got)
	}
	if got := c.Of(Finding{Recipe: "R07", Need: "half", FrameID: "f"}); len(got) != len(s.Rules.Shapes) {
		t.Errorf("half: %+v", got)
	}
	for _, f := range []Finding{{Need: "overhead", FrameID: "f"}, {Need: "hero", FrameID: "gone"}, {Need: "hero"}, {Need: "hero", FrameID: "f", Recipe: "cut from the plan"}} {
		if got := c.Of(f); len(got) != 0 {
			t.Errorf("%+v: %+v", f, got)
		}
	}
}
