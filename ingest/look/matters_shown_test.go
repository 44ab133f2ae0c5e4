package look

import (
	"testing"

	"coverplate/colour"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/rehearsal"
)

// The renderer knows what each pixel of its frames shows: no eye and no rule of
// this package has a say in it. The floors lie a little below what was measured
// first: they catch a change that loses a dish. Dark rye on a dark board is the
// hardest.
func TestWhatMattersHoldsTheFood(t *testing.T) {
	const (
		leastFood, meanFood = 0.55, 0.95
		leastDish, meanDish = 0.60, 0.92
		meanOn              = 0.65 // of the weight of all regions, on the dish: cloths and pots stand out too
	)
	perRecipe := 2
	if testing.Short() {
		perRecipe = 1
	}
	seen := map[string]int{}
	want := func(tr rehearsal.Truth) bool {
		if tr.Role == "test" || tr.Role == "detail" || seen[tr.Recipe] >= perRecipe || testing.Short() && tr.Recipe != "R03" && tr.Recipe != "R07" && tr.Recipe != "R10" {
			return false
		}
		seen[tr.Recipe]++
		return true
	}
	var n, food, dish, on float64
	err := rehearsal.Show(480, want, func(s rehearsal.Shown) {
		l := gather(s.Image, s.Image.Bounds(), curveOf(colour.SRGB), pictureSide, false)
		var got catalogue.Look
		l.planes(colour.SRGB, 1, planesSide).measure(&got, l.raster(colour.SRGB, 1))
		if got.Matters == nil {
			t.Errorf("%s %s: nothing matters", s.Truth.Recipe, s.Truth.Role)
			return
		}
		f, d, o := truly(s, *got.Matters)
		n, food, dish, on = n+1, food+f, dish+d, on+o
		t.Logf("%s %-13s food found %.2f, dish found %.2f, weight on the dish %.2f", s.Truth.Recipe, s.Truth.Role, f, d, o)
		if !(f >= leastFood) || !(d >= leastDish) {
			t.Errorf("%s %s: food found %.2f, dish found %.2f; want %.2f and %.2f at least", s.Truth.Recipe, s.Truth.Role, f, d, leastFood, leastDish)
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("mean of %.0f frames: food found %.3f, dish found %.3f, weight on the dish %.3f", n, food/n, dish/n, on/n)
	if !(n >= 3) || !(food/n >= meanFood) || !(dish/n >= meanDish) || !(on/n >= meanOn) {
		t.Errorf("mean of %.0f frames: food found %.3f, dish found %.3f, weight on the dish %.3f; want %.2f, %.2f, %.2f", n, food/n, dish/n, on/n, meanFood, meanDish, meanOn)
	}
}

// truly is the share of the food, and of the food and its vessel, that lies in
// regions of m, and the share of the regions' weight that lies on them.
func truly(s rehearsal.Shown, m catalogue.Matters) (food, dish, on float64) {
	parts := m.Parts()
	var foods, dishes, weight float64
	for i, thing := range s.Things {
		k := i/s.Columns*m.Rows/s.Rows*m.Columns + i%s.Columns*m.Columns/s.Columns
		inside := 0.0
		if parts[k] > 0 {
			inside = 1
			weight += float64(m.Weight[k])
		}
		if thing == rehearsal.Food {
			foods++
			food += inside
		}
		if thing == rehearsal.Food || thing == rehearsal.Vessel {
			dishes++
			dish += inside
			on += inside * float64(m.Weight[k])
		}
	}
	return food / foods, dish / dishes, on / weight
}
