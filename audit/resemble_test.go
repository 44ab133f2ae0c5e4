package audit

import (
	"math"
	"testing"

	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// The scales and mean square differences of resemble.go, measured again on the
// photographs of shared/photos/food: pairs of one dish, and of two dishes of one
// cook.
func TestResemblanceAgainstPhotographs(t *testing.T) {
	if testing.Short() {
		t.Skip("short: reads 247 photographs")
	}
	all := prints(t, 1000) // no twins but the first's
	of := make([]figures, len(all))
	for i, p := range all {
		of[i] = figuresOf(&catalogue.Look{Palette: p.own, Surface: p.surface})
		if !of[i].known {
			t.Fatalf("%s has no figures", p.dish)
		}
	}
	var dish, cook, cook2, nDish, nCook float64
	var scale, one [looks]float64
	for i, p := range all {
		for j, q := range all[:i] {
			if p.source != q.source {
				continue
			}
			x := of[i].apart(&of[j])
			if p.dish == q.dish {
				dish, nDish = dish+x, nDish+1
				for c := range one {
					one[c] += (of[i].at[c] - of[j].at[c]) * (of[i].at[c] - of[j].at[c]) / 2
				}
				continue
			}
			cook, cook2, nCook = cook+x, cook2+x*x, nCook+1
			for c := range scale {
				scale[c] += (of[i].at[c] - of[j].at[c]) * (of[i].at[c] - of[j].at[c]) / 2
			}
		}
	}
	mean := cook / nCook
	freedomIs := 2 * mean * mean / (cook2/nCook - mean*mean) // of a scaled chi square
	t.Logf("%g pairs of one dish: %.3f; %g of two dishes of one cook: %.3f, as of %.1f independent figures", nDish, dish/nDish, nCook, mean, freedomIs)
	if got := dish / nDish; !(math.Abs(got-setups) <= 0.1) {
		t.Errorf("one dish: %.3f, stated %v", got, setups)
	}
	if !(math.Abs(mean-1) <= 0.1) || !(math.Abs(freedomIs-freedom) <= 1) {
		t.Errorf("two dishes: %.3f as of %.1f figures, stated 1 and %v", mean, freedomIs, float64(freedom))
	}
	for c, x := range scale {
		if x /= nCook; !(x > 0.7 && x < 1.4) {
			t.Errorf("figure %d: its mean square difference is %.2f of what its scale says", c, x)
		}
		if want := math.Pow(one[c]/nDish, 2.0/3) * math.Pow(setups, 1.0/3); !(math.Abs(setupsBy[c]/want-1) <= 0.1) {
			t.Errorf("figure %d: of one dish %.2f, a third of the way to %v %.2f, stated %v", c, one[c]/nDish, setups, want, setupsBy[c])
		}
	}
}

// What a difference says: alike pictures speak against a change and for a dish,
// pictures as far apart as two dishes the other way, evenly in between; never
// without end.
func TestWhatADifferenceSays(t *testing.T) {
	at := func(x float64) *figures {
		f := &figures{known: true}
		f.at[0] = x
		return f
	}
	zero := at(0)
	last, lastLike := math.Inf(-1), math.Inf(1)
	for _, x := range []float64{0, 1, 2, 3, 4, 5, 6, 8} {
		change, like := pictureChange(zero, at(x), 0), resembles(zero, at(x))
		if change < last || like > lastLike || change < -mostAlike || change > mostApart {
			t.Errorf("%v apart says %v for a change and %v for the dish, and nearer said %v and %v", x, change, like, last, lastLike)
		}
		last, lastLike = change, like
	}
	if pictureChange(zero, zero, 0) != -mostAlike || !(pictureChange(zero, at(4.5), 0) > 0) || !(resembles(zero, zero) > 20) || !(resembles(zero, at(4)) < 1) {
		t.Errorf("says %v, %v, %v, %v", pictureChange(zero, zero, 0), pictureChange(zero, at(4.5), 0), resembles(zero, zero), resembles(zero, at(4)))
	}
	// After a long pause another arrangement of the dish is to be expected.
	if !(pictureChange(zero, at(3), 1) < pictureChange(zero, at(3), 0)) {
		t.Error("a pause doesn't excuse another picture")
	}
	if pictureChange(zero, &figures{}, 0) != 0 {
		t.Error("an unknown picture says something")
	}
	if f := figuresOf(&catalogue.Look{Palette: []colour.Swatch{{Lab: colour.Lab{L: 50}, Share: 1}}}); f.known {
		t.Error("a picture without a surface is known")
	}
}
