package audit

import (
	"encoding/json"
	"fmt"
	"math"
	"testing"

	"coverplate/audit/plan"
)

func TestLikenessOfTheWholeBook(t *testing.T) {
	s := pages(book(45, 90, math.NaN(), 55, 46), page(24), page(25), page(26), page(40), page(43))
	l := Compare(Run(s), s.Rules)
	if fmt.Sprint(l.Spreads, l.Pages) != "[12 13 20 21] [24-25 26 40 43]" {
		t.Errorf("%v %v", l.Spreads, l.Pages)
	}
	for i, row := range l.Apart {
		for j, x := range row {
			switch {
			case i == 1 || j == 1:
				if x != nil {
					t.Errorf("row %d column %d: %v of a spread that is not shot", i, j, *x)
				}
			case x == nil || *x != *l.Apart[j][i] || (*x == 0) != (i == j):
				t.Errorf("row %d column %d: %v", i, j, x)
			}
		}
	}
	// Greys one apart about L 45.5, and nine about 50.5; see book. From 45 to
	// 55 it is 10 to the digits of ΔE2000, which is no twin.
	want := []Twin{
		{Recipes: [2]string{"R01", "R05"}, Pages: [2]string{"24", "43"}, Spreads: [2]int{12, 21}, PagesApart: 19, Apart: 1 / (1 + 0.015*4.5*4.5/math.Sqrt(20+4.5*4.5)), Chosen: true},
		{Recipes: [2]string{"R04", "R05"}, Pages: [2]string{"40", "43"}, Spreads: [2]int{20, 21}, PagesApart: 3, Apart: 9 / (1 + 0.015*0.25/math.Sqrt(20.25)), Chosen: true},
	}
	if len(l.Twins) != len(want) {
		t.Fatalf("%d twins: %+v", len(l.Twins), l.Twins)
	}
	for i, w := range want {
		got := l.Twins[i]
		w.Frames = [2]string{"originals/2026-03-04/skarv-1/" + w.Recipes[0] + ".JPG", "originals/2026-03-04/skarv-1/" + w.Recipes[1] + ".JPG"}
		if math.Abs(got.Apart-w.Apart) > 1e-9 {
			t.Errorf("%v: %v apart, want %v", w.Recipes, got.Apart, w.Apart)
		}
		if w.Apart = got.Apart; got != w {
			t.Errorf("got  %+v\nwant %+v", got, w)
		}
	}
	if _, err := json.Marshal(l); err != nil {
		t.Error(err)
	}
}

// The matrix and the report may not differ on what stands next to each other.
func TestLikenessAgreesWithTheNeighbours(t *testing.T) {
	s := season(300, 30)
	r := Run(s)
	l := Compare(r, s.Rules)
	for i, sp := range r.Spreads[:len(r.Spreads)-1] {
		if a, b := sp.ToNext, l.Apart[i][i+1]; (a == nil) != (b == nil) || a != nil && *a != *b {
			t.Errorf("spread %d: %v and %v", sp.Spread, a, b)
		}
	}
}

// From the last page of a double to the first of the next picture.
func TestPagesApartOfADoublePage(t *testing.T) {
	s := pages(book(50, 51), plan.Pages{First: 24, Last: 25}, plan.Pages{First: 28, Last: 29})
	if l := Compare(Run(s), s.Rules); len(l.Twins) != 1 || l.Twins[0].PagesApart != 3 {
		t.Errorf("%+v", l.Twins)
	}
}
