package main

import (
	"math"
	"testing"

	"coverplate/audit"
	"coverplate/audit/crop"
	"coverplate/audit/delivery"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/sheet"
	"coverplate/ingest/catalogue"
)

func near(a, b [4]float64) bool {
	for i := range a {
		if !(math.Abs(a[i]-b[i]) < 1e-9) {
			return false
		}
	}
	return true
}

// Shares of two pages of 200 × 250 mm, worked out by hand.
func TestPicturesStandOnTheirPages(t *testing.T) {
	book := plan.Book{TrimWidth: 200, TrimHeight: 250, Bleed: 3}
	full, double := plan.Size{Kind: plan.FullPage}, plan.Size{Kind: plan.DoublePage}
	for name, c := range map[string]struct {
		recipes []plan.Recipe
		want    [][4]float64
	}{
		"a right page": {[]plan.Recipe{{ID: "A", Pages: plan.Pages{First: 7, Last: 7}, Size: full}}, [][4]float64{{0.5, 0, 0.5, 1}}},
		"a left page":  {[]plan.Recipe{{ID: "A", Pages: plan.Pages{First: 8, Last: 8}, Size: full}}, [][4]float64{{0, 0, 0.5, 1}}},
		"both pages":   {[]plan.Recipe{{ID: "A", Pages: plan.Pages{First: 8, Last: 9}, Size: double}}, [][4]float64{{0, 0, 1, 1}}},
		"a small one in the middle": {[]plan.Recipe{{ID: "A", Pages: plan.Pages{First: 8, Last: 8}, Size: plan.Size{Kind: plan.Measured, Width: 100, Height: 50}}},
			[][4]float64{{0.125, 0.4, 0.25, 0.2}}},
		"two on one page, one beside": {[]plan.Recipe{{ID: "A", Pages: plan.Pages{First: 8, Last: 8}, Size: plan.Size{Kind: plan.Measured, Width: 200, Height: 125}},
			{ID: "B", Pages: plan.Pages{First: 8, Last: 8}, Size: full}, {ID: "C", Pages: plan.Pages{First: 9, Last: 9}, Size: full}},
			[][4]float64{{0, 0, 0.5, 0.5}, {0.125, 0.5, 0.25, 0.5}, {0.5, 0, 0.5, 1}}},
	} {
		recipes, all := map[string]plan.Recipe{}, []audit.Picture{}
		for _, r := range c.recipes {
			recipes[r.ID] = r
			all = append(all, audit.Picture{Recipe: r.ID})
		}
		for i, got := range wallPlaces(book, all, recipes) {
			if !near(got, c.want[i]) {
				t.Errorf("%s: %d stands at %v, want %v", name, i, got, c.want[i])
			}
		}
	}
}

// What is shown of a picture has the shape of its place, from its middle.
func TestPartHasTheShapeOfItsPlace(t *testing.T) {
	c := audit.NewCutter(audit.Shoot{})
	place := sheet.WallPicture{Width: 0.5, Height: 1} // one page of 0.8 by its height
	for _, p := range []struct {
		name string
		look catalogue.Look
		want [4]float64
	}{
		{"too wide", catalogue.Look{Width: 1600, Height: 1000}, [4]float64{0.25, 0, 0.5, 1}},
		{"too tall", catalogue.Look{Width: 800, Height: 2000}, [4]float64{0, 0.25, 1, 0.5}},
		{"right", catalogue.Look{Width: 800, Height: 1000}, [4]float64{0, 0, 1, 1}},
	} {
		if got := partOf(c, audit.Picture{}, p.look, place, 0.8); !near(got, p.want) {
			t.Errorf("%s: %v, want %v", p.name, got, p.want)
		}
	}
}

// Regions are shares of the upright picture; a half that does not serve is none.
func TestRegionsOfADelivery(t *testing.T) {
	w := wordsOf(delivery.Piece{Frame: catalogue.Frame{Look: catalogue.Look{Width: 1000, Height: 2000}}, Cuts: []audit.Cut{
		{For: "print", Rect: crop.Rect{X: 100, Y: 200, Width: 500, Height: 1000}, Works: crop.No},
		{For: "4:5", Rect: crop.Rect{X: 0, Y: 500, Width: 1000, Height: 1250}, Works: crop.Look}, {For: "1:1", Rect: crop.Rect{Width: 9, Height: 9}, Works: crop.No}}})
	if len(w.Regions) != 2 {
		t.Fatalf("%+v", w.Regions)
	}
	for i, want := range [][4]float64{{0.1, 0.1, 0.5, 0.5}, {0, 0.25, 1, 0.625}} {
		if r := w.Regions[i]; !near([4]float64{r.X, r.Y, r.Width, r.Height}, want) || r.ID != []string{"print", "half-4x5"}[i] {
			t.Errorf("region %d is %+v, want %v", i, r, want)
		}
	}
}
