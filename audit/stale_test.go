package audit

import (
	"strings"
	"testing"
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
