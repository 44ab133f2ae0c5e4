package audit

import (
	"testing"
	"time"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// A corrected set teaches: what looks like it is likelier of its dish than
// before, in a later set of another body and among frames without a time, and
// nothing is surer that looks otherwise.
func TestACorrectedSetIsEvidenceForWhatLooksLikeIt(t *testing.T) {
	h := newHardDay()
	for i := range h.Recipes { // nothing tells but likeness
		h.Recipes[i].Day = plan.Day{}
	}
	h.shoot("A", at(0, "09:00:00"), "R04", 6)
	h.dishes("A", at(0, "11:00:00"), "R01", "R02", "R03", "R05", "R06", "R07", "R08")
	h.shoot("B", at(1, "09:00:00"), "R04", 6) // the same dish
	h.shoot("B", at(1, "12:00:00"), "R09", 6) // another
	bare := h.take("A", at(0, "09:00:00"), "R04")
	bare.Taken, bare.Camera = time.Time{}, catalogue.Camera{}
	odds := func(s Shoot, frame catalogue.FrameID) float64 {
		d := lay(s)
		i := d.frameAt[frame]
		if p := d.placed[i]; p.Recipe == "R04" || len(p.guesses) > 0 && p.guesses[0] == "R04" {
			return p.Odds
		}
		return 0
	}
	said := h.Shoot
	for n := range 6 {
		said.Decisions = append(said.Decisions, catalogue.Decision{ID: int64(n + 1), Kind: catalogue.Assign, Frame: h.Frames[n].ID, Recipe: "R04", Title: "Barley porridge"})
	}
	like, other := catalogue.FrameID("id-B3"), catalogue.FrameID("id-B9")
	for _, id := range []catalogue.FrameID{like, bare.ID} {
		if before, after := odds(h.Shoot, id), odds(said, id); !(after > before+0.25) {
			t.Errorf("%s has odds of %.3f for R04 before the correction, and %.3f after", id, before, after)
		}
	}
	if after := odds(said, other); after > 0 {
		t.Errorf("%s, which looks otherwise, has odds of %.3f for R04", other, after)
	}
	told := false
	for _, m := range Matches(said) {
		for _, e := range m.Why {
			told = told || m.Frame == like && e.Kind == "likeness" && e.Says == "looks like A_0001.JPG, which shows R04 by a person's word"
		}
	}
	if !told {
		t.Error("nothing says that likeness to the corrected set speaks for it")
	}
	// The plan is numbered anew: what was said keeps to the dish.
	again := said
	again.Recipes = append([]plan.Recipe{}, said.Recipes...)
	again.Recipes[3].ID, again.Recipes[8].ID = "R44", "R04"
	for _, m := range Matches(again) {
		if m.Frame == h.Frames[0].ID && (m.Recipe != "R44" || !m.ByHand) {
			t.Errorf("after the plan was numbered anew: %+v", m)
		}
		if m.Frame == like && m.Recipe == "R04" {
			t.Errorf("likeness is for the number, not for the dish: %+v", m)
		}
	}
}

// A person's word on one frame goes on to those of its set, as far as nothing
// tells of a change.
func TestOneCorrectedFrameCarriesItsSet(t *testing.T) {
	h := newHardDay()
	h.shoot("A", at(0, "09:00:00"), "R04", 8)
	h.shoot("A", at(0, "11:00:00"), "R05", 8)
	h.Decisions = []catalogue.Decision{{ID: 1, Kind: catalogue.Assign, Frame: h.Frames[3].ID, Recipe: "R04"}}
	for i, m := range Matches(h.Shoot) {
		if (i < 8) != (m.Recipe == "R04") || (i == 3) != m.ByHand {
			t.Errorf("frame %d: %+v", i, m)
		}
	}
}
