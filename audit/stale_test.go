package audit

import (
	"strings"
	"testing"
	"time"
)

// A folder that still has the name of the dish before is outweighed by a slate:
// the frames are placed by it, each says what stands against that, and a note
// names the slate once.
func TestASlateOutweighsAStaleFolder(t *testing.T) {
	h := newHardDay()
	h.dishes("A", at(0, "09:00:00"), "R01", "R02", "R03", "R04")
	for i := range h.Frames { // nobody changed the folder after R01
		if f := &h.Frames[i]; f.Look.Slate == nil && (h.truth[f.ID] == "R01" || h.truth[f.ID] == "R02") {
			f.Files[0].Source = "R01 Dark rye/" + f.Files[0].Name
		}
	}
	r := Run(h.Shoot)
	for _, m := range r.Matches {
		want, asked := h.truth[m.Frame]
		if !asked {
			continue
		}
		if m.Recipe != want {
			t.Errorf("%s shows %s and is given to %q with %.2f: %v", m.Frame, want, m.Recipe, m.Odds, m.Why)
		}
		against := 0
		for _, e := range m.Why {
			if strings.HasPrefix(e.Says, "against it: the folder") {
				against++
			}
		}
		if (want == "R02") != (against > 0) {
			t.Errorf("%s of %s: %v", m.Frame, want, m.Why)
		}
	}
	n := 0
	for _, x := range r.Notes {
		if strings.Contains(x.Says, "but the slate before it") {
			n++
		}
	}
	if n != 1 {
		t.Errorf("%d notes of it: %v", n, r.Notes)
	}
}

// Bodies that shoot one dish at a time are one crew, and a slate that one of them
// photographed holds for the other; those that shoot two sets are not.
func TestCrews(t *testing.T) {
	h := newHardDay()
	h.dishes("A", at(0, "09:00:00"), "R01", "R02", "R03")
	h.dishes("B", at(0, "09:02:00"), "R01", "R02", "R03")
	d := lay(h.Shoot)
	if n := len(d.match().strands); n != 1 {
		t.Errorf("two bodies on one set are %d crews", n)
	}
	h = newHardDay()
	h.dishes("A", at(0, "09:00:00"), "R01", "R03", "R05")
	h.dishes("B", at(0, "09:02:00"), "R02", "R04", "R06")
	d = lay(h.Shoot)
	if n := len(d.match().strands); n != 2 {
		t.Errorf("two bodies on two sets are %d crews", n)
	}
}

// A body that nothing is known of is of the crew beside whose dishes it shot, if
// its pictures are like theirs; with other pictures it is none of it, and neither
// is one that shoots across their changes of dish.
func TestABodyWithoutSlatesJoinsACrew(t *testing.T) {
	ids := []string{"R01", "R02", "R03", "R04", "R05", "R06"}
	for _, c := range []struct {
		name  string
		shows func(i int) string
		later time.Duration // than the slate
		want  int
	}{
		{"the same dishes", func(i int) string { return ids[i] }, 90 * time.Second, 1},
		{"other dishes", func(i int) string { return []string{"R07", "R08", "R09", "R10", "R11", "R12"}[i] }, 90 * time.Second, 2},
		{"across changes", func(i int) string { return ids[i] }, 43 * time.Minute, 2},
	} {
		h := newHardDay()
		h.dishes("A", at(0, "09:00:00"), ids...)
		for i := range ids {
			h.shoot("B", at(0, "09:00:00").Add(time.Duration(i)*45*time.Minute+c.later), c.shows(i), 8)
		}
		d := lay(h.Shoot)
		if n := len(d.match().strands); n != c.want {
			t.Errorf("%s: %d crews, want %d", c.name, n, c.want)
		}
	}
}

// A dish is asked for once its turn is over: its day, or a later dish of its day.
func TestWhatIsMissing(t *testing.T) {
	h := newHardDay()
	h.dishes("A", at(0, "09:00:00"), "R01", "R03")
	m := lay(h.Shoot).match()
	for i, want := range []float64{leftOut, leftOut, leftOut, 1, 1, 1, 1} {
		if got := m.owing[i]; got != want {
			t.Errorf("%s on its first day: %v, want %v", h.Recipes[i].ID, got, want)
		}
	}
	h.dishes("A", at(1, "09:00:00"), "R08")
	m = lay(h.Shoot).match()
	for i, want := range []float64{leftOut, leftOut, leftOut, leftOut, leftOut, leftOut, leftOut, leftOut, 1} {
		if got := m.owing[i]; got != want {
			t.Errorf("%s on the day after: %v, want %v", h.Recipes[i].ID, got, want)
		}
	}
}
