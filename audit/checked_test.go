package audit

import (
	"math"
	"testing"
	"time"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// oddsOn are the odds of the first frame that is given to a recipe and that is kept.
// What keeps them low is said with them, and nothing is said where nothing does.
func oddsOn(t *testing.T, h *hardDay, recipe string, keep func(catalogue.Frame) bool) float64 {
	t.Helper()
	d := lay(h.Shoot)
	for i, p := range d.placed {
		if p.Recipe == recipe && d.frames[i].Look.Slate == nil && keep(d.frames[i]) {
			says := p.Why[len(p.Why)-1].Kind == "unchecked"
			if says && p.Odds > 0.99 || !says && p.Odds < 0.97 {
				t.Errorf("odds of %v: %+v", p.Odds, p.Why)
			}
			return p.Odds
		}
	}
	t.Fatalf("no frame is given to %s", recipe)
	return 0
}

func anyFrame(catalogue.Frame) bool { return true }

func ofBody(serial string) func(catalogue.Frame) bool {
	return func(f catalogue.Frame) bool { return f.Camera.Serial == serial }
}

func TestSureIsNeverCertain(t *testing.T) {
	for _, c := range []struct {
		odds float64
		want string
	}{{0.8, "80 %"}, {0.88, "88 %"}, {0.99, "99 %"}, {0.9949, "over 99 %"}, {1, "over 99 %"}} {
		if got := Sure(c.odds); got != c.want {
			t.Errorf("%v is %q, want %q", c.odds, got, c.want)
		}
	}
}

// inFolders puts all frames of dishes into folders of their own.
func inFolders(h *hardDay) {
	for i := range h.Frames {
		f := &h.Frames[i]
		for _, r := range h.Recipes {
			if f.Look.Slate == nil && h.truth[f.ID] == r.ID {
				f.Files[0].Source = r.ID + " " + r.Title + "/" + f.Files[0].Name
			}
		}
	}
}

// Odds over 0.88 want a check: a slate of the body itself, a person, a word in the
// frame; two kinds of words that agree; or that slates were seen to bear them out.
func TestOddsWantACheck(t *testing.T) {
	ids := []string{"R01", "R02", "R03", "R04", "R05", "R06"}
	bare := func() *hardDay { // no slate, one dish in 45 minutes
		h := newHardDay()
		for n, id := range ids {
			h.shoot("A", at(0, "09:00:00").Add(time.Duration(n)*45*time.Minute), id, 12)
		}
		return h
	}
	log := func(h *hardDay) {
		for n, id := range ids {
			h.Decisions = append(h.Decisions, catalogue.Decision{ID: int64(n + 1), Kind: catalogue.On, Recipe: id, From: at(0, "08:59:00").Add(time.Duration(n) * 45 * time.Minute)})
		}
	}
	h := bare()
	inFolders(h)
	if got := oddsOn(t, h, "R03", anyFrame); got != unchecked {
		t.Errorf("a folder alone: %v", got)
	}
	log(h)
	if got, want := oddsOn(t, h, "R03", anyFrame), 1-(1-unchecked)*(1-unchecked); !(got > 0.9 && got <= want) {
		t.Errorf("a folder and the log that agree: %v, at most %v", got, want)
	}
	h = bare()
	log(h)
	if got := oddsOn(t, h, "R03", anyFrame); got != unchecked {
		t.Errorf("the log alone: %v", got)
	}
	h = bare()
	for i := range h.Frames {
		h.Frames[i].Subjects = []string{h.truth[h.Frames[i].ID]}
	}
	if got := oddsOn(t, h, "R03", anyFrame); !(got > 0.95) {
		t.Errorf("a subject in the frame: %v", got)
	}
	h = bare()
	h.Decisions = append(h.Decisions, catalogue.Decision{ID: 1, Kind: catalogue.Assign, Frame: h.Frames[2*12+5].ID, Recipe: "R03"})
	if got := oddsOn(t, h, "R03", func(f catalogue.Frame) bool { return f.ID != h.Frames[2*12+5].ID }); !(got > 0.9) {
		t.Errorf("beside a frame of which a person spoke: %v", got)
	}

	// With slates that bear the folders out, a folder is surer where there is none:
	// by the rule of succession, of 0.88 expected as if seen 8 times.
	h = newHardDay()
	h.dishes("A", at(0, "09:00:00"), "R01", "R02", "R03", "R04", "R05")
	h.dishes("A", at(1, "09:00:00"), "R07", "R08", "R09", "R10", "R11")
	h.shoot("A", at(0, "16:00:00"), "R06", 12)
	inFolders(h)
	want := (8*0.88 + 10) / (8 + 10)
	if m := lay(h.Shoot).match(); true {
		for _, s := range m.strands {
			m.speak(s)
		}
		if m.check(); !(math.Abs(m.right[byName]-want) <= 1e-9) || m.right[byLog] != 0 {
			t.Errorf("ten folders of ten that slates bear out are right by %v, want %v; the log, of which there is none, by %v", m.right[byName], want, m.right[byLog])
		}
	}
	if got := oddsOn(t, h, "R06", anyFrame); !(got > 0.9 && got <= want) {
		t.Errorf("a folder alone, others borne out: %v, at most %v", got, want)
	}
	if got := oddsOn(t, h, "R03", anyFrame); !(got > 0.97) {
		t.Errorf("a slate of its body: %v", got)
	}
}

// What a slate tells of another body's frames is no surer than it is known that they
// shoot one dish; a slate that is shown again, and slates of few dishes, are checked by
// nothing either.
func TestSlatesThatAreNoCheck(t *testing.T) {
	h := newHardDay()
	h.dishes("A", at(0, "09:00:00"), "R01", "R02", "R03", "R04", "R05", "R06")
	for n, id := range []string{"R01", "R02", "R03", "R04", "R05", "R06"} { // B shows none, ever
		h.shoot("B", at(0, "09:01:30").Add(time.Duration(n)*45*time.Minute), id, 8)
	}
	if a, b := oddsOn(t, h, "R03", ofBody("A")), oddsOn(t, h, "R03", ofBody("B")); !(a > 0.97) || b != unchecked {
		t.Errorf("by a slate of the body itself %v, of another of which nothing is known %v", a, b)
	}

	h = newHardDay()
	h.together() // ten dishes, both show all slates
	if a, b := oddsOn(t, h, "R08", ofBody("A")), oddsOn(t, h, "R08", ofBody("B")); !(a > 0.97 && b > 0.97) {
		t.Errorf("by slates of both bodies %v and %v", a, b)
	}
	for i := range h.Frames { // B does not show that of R08
		if f := &h.Frames[i]; f.Camera.Serial == "B" && f.Look.Slate != nil && f.Look.Slate.Recipe == "R08" {
			f.Look.Slate = nil
		}
	}
	if b := oddsOn(t, h, "R08", func(f catalogue.Frame) bool { return f.Camera.Serial == "B" && h.truth[f.ID] == "R08" }); b != unchecked {
		t.Errorf("of a body that shows all slates but this: %v", b)
	}

	h = newHardDay()
	h.dishes("A", at(0, "09:00:00"), "R01", "R02", "R03", "R04", "R05", "R06")
	before := oddsOn(t, h, "R03", anyFrame)
	h.slate("A", at(0, "10:35:00"), "R03") // once more, after its ten frames
	if got := oddsOn(t, h, "R03", func(f catalogue.Frame) bool { return f.Taken.Before(at(0, "10:35:00")) }); got != unchecked || !(before > 0.97) {
		t.Errorf("between two slates of one dish %v, before the second was shown %v", got, before)
	}

	h = newHardDay()
	h.dishes("A", at(0, "09:00:00"), "R01")
	h.dishes("A", at(0, "12:45:00"), "R06")
	h.dishes("A", at(1, "09:00:00"), "R07", "R08")
	h.dishes("A", at(1, "12:45:00"), "R12")
	if got := oddsOn(t, h, "R08", anyFrame); got != unchecked { // five of twelve
		t.Errorf("slates on five dishes of twelve: %v", got)
	}

	// Without days the pauses tell how few of the dishes are slated.
	h = newHardDay()
	for n, r := range h.Recipes {
		from := at(n/6, "09:00:00").Add(time.Duration(n%6) * 45 * time.Minute)
		if n%6 == 0 {
			h.slate("A", from, r.ID)
		}
		h.shoot("A", from.Add(40*time.Second), r.ID, 10)
		h.Recipes[n].Day = plan.Day{}
	}
	if got := oddsOn(t, h, "R07", anyFrame); got != unchecked {
		t.Errorf("slates on two dishes of twelve, in a plan without days: %v", got)
	}
}
