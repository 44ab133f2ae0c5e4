package audit

import (
	"math"
	"testing"
	"time"
)

// Where it is known which pauses were changes, what a crossing says is the ratio of
// the shares of either that cross, each with what is expected beforehand added
// (Laplace's rule of succession, for shares other than a half).
func TestWhatACrossingSays(t *testing.T) {
	const sure = 1e12
	pauses := func(n, crossing int, odds float64) (all []crossing) {
		for k := range n {
			all = append(all, crossingOf(k < crossing, odds))
		}
		return all
	}
	for _, c := range []struct {
		name                    string
		changes, of, within, in int // changes, those that cross, pauses within a dish, those that cross
		want                    float64
	}{
		{"nothing known", 0, 0, 0, 0, math.Log(0.3 / 0.15)},
		{"a folder a dish", 9, 6, 40, 0, math.Log(((1.2 + 6) / (4 + 9)) / (1.2 / (8 + 40)))},
		{"now and then within a dish", 9, 6, 40, 4, math.Log(((1.2 + 6) / (4 + 9)) / ((1.2 + 4) / (8 + 40)))},
		{"at random", 9, 2, 40, 20, 0}, // it speaks against no change
	} {
		all := append(pauses(c.changes, c.of, sure), pauses(c.within, c.in, 1/sure)...)
		if got := crossingSays(all); !(math.Abs(got-c.want) <= 1e-9) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func crossingOf(is bool, odds float64) crossing { return crossing{is: is, odds: odds} }

// Pictures that leave a folder in a pause that is as likely within a dish tell that
// the dish was changed; with a crew whose folders come and go they tell less.
func TestLeavingAFolderTellsAChange(t *testing.T) {
	shoot := func(inFolder func(dish, k int) bool) (stays float64) {
		h := newHardDay()
		ids := []string{"R01", "R02", "R03", "R04", "R05", "R06"}
		for n, id := range ids {
			from := at(0, "09:00:00").Add(time.Duration(n) * 45 * time.Minute)
			if id == "R04" { // without a slate, soon after R03
				from = at(0, "10:30:00").Add(19 * time.Minute)
			} else {
				h.slate("A", from, id)
			}
			for k := range 12 {
				f := h.take("A", from.Add(40*time.Second+time.Duration(k)*75*time.Second), id)
				if inFolder(n, k) {
					f.Files[0].Source = id + " " + h.Recipes[n].Title + "/" + f.Files[0].Name
				}
			}
		}
		m := lay(h.Shoot).match()
		s := m.strands[0]
		m.speak(s)
		for k, i := range s.frames {
			if h.truth[m.d.frames[i].ID] == "R04" {
				return s.stay[k]
			}
		}
		t.Fatal("no frame of R04")
		return 0
	}
	never := shoot(func(int, int) bool { return false })
	leaves := shoot(func(dish, _ int) bool { return dish != 3 })
	random := shoot(func(dish, k int) bool { return (dish+k)%2 == 0 && dish != 3 })
	odds := func(stays float64) float64 { return (1 - stays) / stays }
	if !(odds(leaves) > 5*odds(never)) || !(odds(random) < odds(leaves)/2) {
		t.Errorf("odds of a change: %.3f where a folder is left, %.3f where there is none, %.3f where it comes and goes", odds(leaves), odds(never), odds(random))
	}
}
