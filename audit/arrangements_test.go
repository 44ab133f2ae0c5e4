package audit

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// Of figures drawn as the scales have it, dishes around one middle and arrangements
// around each dish, what spells say for a change is half the logarithm of the ratio
// of the densities of their middles' differences, normal ones written out here: the
// eight figures are worth four.
func TestSpellsAgainstDensities(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 4))
	normal := func(x, variance float64) float64 {
		return math.Exp(-x*x/(2*variance)) / math.Sqrt(2*math.Pi*variance)
	}
	asked, right, pairsRight := 0, 0, 0
	for range 4000 {
		changed := r.IntN(2) == 0
		var dish [2][looks]float64
		for c, v := range setupsBy {
			dish[0][c] = math.Sqrt(1-v) * r.NormFloat64()
			if dish[1][c] = dish[0][c]; changed {
				dish[1][c] = math.Sqrt(1-v) * r.NormFloat64()
			}
		}
		var spells [2]spell
		sizes := [2]int{1 + r.IntN(4), 1 + r.IntN(4)}
		var middles [2][looks]float64
		for side, n := range sizes {
			for range n {
				f := figures{known: true}
				for c, v := range setupsBy {
					f.at[c] = dish[side][c] + math.Sqrt(v)*r.NormFloat64()
					middles[side][c] += f.at[c] / float64(n)
				}
				spells[side].arrangements = append(spells[side].arrangements, arrangement{f, 1})
			}
		}
		first, last := &spells[1].arrangements[0].mean, &spells[0].arrangements[sizes[0]-1].mean
		pair := pictureChange(last, first, 10)
		says := spellsChange(&spells[0], &spells[1], pair)
		if sizes[0]+sizes[1] == 2 || says == pair {
			continue
		}
		want := 0.0
		for c, v := range setupsBy {
			x := middles[0][c] - middles[1][c]
			stray := v * (1/float64(sizes[0]) + 1/float64(sizes[1]))
			want += math.Log(normal(x, stray+2*(1-v))/normal(x, stray)) / 2
		}
		if want = min(max(want, -mostAlike), mostApart); !(math.Abs(says-want) <= 1e-9) {
			t.Fatalf("%v arrangements say %.4f, the densities %.4f", sizes, says, want)
		}
		asked++
		if says > 0 == changed {
			right++
		}
		if pair > 0 == changed {
			pairsRight++
		}
	}
	if asked < 3000 || !(right > pairsRight+asked/50) {
		t.Errorf("of %d spells %d tell a change rightly, pictures next to each other %d", asked, right, pairsRight)
	}
	t.Logf("of %d spells %d tell a change rightly, pictures next to each other %d", asked, right, pairsRight)
}

// Pictures that are like none before them speak for "no dish", those that are alike
// against it: by how likely they are where half of all show something else, and where
// one of ten does; but not of frames in which it is written what they show.
func TestPicturesOfNoDish(t *testing.T) {
	density := func(x, v float64) float64 { return math.Pow(v, -2) * math.Exp(-2*x/v) } // of a mean square with 4 degrees of freedom, up to what the two share
	var p spell
	f := figures{known: true}
	if got := p.sundry(&f); got != 0 {
		t.Errorf("the first of a spell says %v", got)
	}
	p.add(&f)
	for _, off := range []float64{0, 0.2, 0.5, 1, 2, 4} {
		g := f
		for c := range g.at {
			g.at[c] = off
		}
		x := off * off / 2
		one, two := density(x, 0.065), density(x, 1)
		want := math.Log((0.5*two + 0.5*one) / (0.1*two + 0.9*one))
		if got := p.sundry(&g); !(math.Abs(got-want) <= 1e-9) {
			t.Errorf("%v apart: %v, want %v", x, got, want)
		}
	}

	shoot := func(shows ...string) *hardDay {
		h := newHardDay()
		h.dishes("A", at(0, "09:00:00"), "R01", "R02")
		for k, dish := range shows {
			f := h.take("A", at(0, "10:28:00").Add(time.Duration(k)*15*time.Second), dish)
			h.truth[f.ID] = "asked"
		}
		h.dishes("A", at(0, "10:30:00"), "R03", "R04")
		return h
	}
	// What is said for "no dish" of the second and third of them, with the share of a
	// stretch's frames that counts against it (moreFrame).
	said := func(h *hardDay) (nats []float64) {
		m := lay(h.Shoot).match()
		s := m.strands[0]
		speaks := m.speak(s)
		for k, i := range s.frames {
			if h.truth[m.d.frames[i].ID] == "asked" && s.stretch[k] == s.stretch[k-1] {
				nats = append(nats, speaks[k][m.none]-moreFrame)
			}
		}
		return nats
	}
	for _, c := range []struct {
		name      string
		h         *hardDay
		low, high float64
	}{
		{"the dish", shoot("R03", "R03", "R03"), -0.59, -0.3},
		{"other things", shoot("a window", "R09", "R11"), 0.5, 1.61},
	} {
		nats := said(c.h)
		if len(nats) != 2 || !(min(nats[0], nats[1]) > c.low && max(nats[0], nats[1]) < c.high) {
			t.Errorf("three frames of %s before its slate say %v", c.name, nats)
		}
	}
	h := shoot("a window", "R09", "R11")
	for i := range h.Frames {
		if h.truth[h.Frames[i].ID] == "asked" {
			h.Frames[i].Subjects = []string{"R03"}
		}
	}
	if nats := said(h); len(nats) != 2 || nats[0] > 1e-9 || nats[1] > 1e-9 {
		t.Errorf("frames that say themselves what they show are held against their pictures: %v", nats)
	}
}
