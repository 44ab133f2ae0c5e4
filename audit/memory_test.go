package audit

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// cupboard holds the maps of frames, and counts what is asked of it.
type cupboard struct {
	maps   map[catalogue.FrameID]catalogue.Maps
	asked  []catalogue.FrameID
	atOnce int // the most asked for together
	shut   error
}

func (c *cupboard) get(ids []catalogue.FrameID) ([]catalogue.Maps, error) {
	c.asked, c.atOnce = append(c.asked, ids...), max(c.atOnce, len(ids))
	all := make([]catalogue.Maps, len(ids))
	for i, id := range ids {
		all[i] = c.maps[id]
	}
	return all, c.shut
}

// bared is a shoot whose frames come without their maps, as catalogue.Store.Bare
// gives them, and the cupboard that holds those.
func bared(s Shoot) (Shoot, *cupboard) {
	c := &cupboard{maps: map[catalogue.FrameID]catalogue.Maps{}}
	s.Frames = slices.Clone(s.Frames)
	for i := range s.Frames {
		l := &s.Frames[i].Look
		c.maps[s.Frames[i].ID] = l.Maps()
		m := l.Maps()
		m.Rims, m.Lines = nil, nil
		if m.Focus != nil {
			f := *m.Focus
			f.Grid, f.Fine, f.Far = nil, nil, nil
			m.Focus = &f
		}
		if m.Light != nil {
			g := *m.Light
			g.Stops = [3]catalogue.Floats{}
			m.Light = &g
		}
		if m.Matters != nil {
			w := *m.Matters
			w.Weight = nil
			m.Matters = &w
		}
		*l = l.With(m)
	}
	s.Maps = c.get
	return s, c
}

// alikeIn tells by what two reports differ.
func alikeIn(t interface{ Fatal(...any) }, want, got Report) string {
	if want.Fault != nil || got.Fault != nil {
		return fmt.Sprint(want.Fault, got.Fault)
	}
	offers := func(r Report) (all [][]Offer) {
		for _, rec := range r.Recipes {
			for _, f := range rec.Needs {
				all = append(all, f.Offers)
			}
		}
		return all
	}
	return cmp.Diff(asJSON(t, want), asJSON(t, got)) + cmp.Diff(want.Matches, got.Matches) + cmp.Diff(want.Roles, got.Roles) +
		cmp.Diff(want.Views, got.Views) + cmp.Diff(want.Wants, got.Wants) + cmp.Diff(offers(want), offers(got))
}

// Maps that are asked for as they are wanted, and what is remembered, change
// nothing in the report, whatever was changed since.
func TestTheReportIsTheSameWithoutMapsInHand(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyShoot(t)
		bare, _ := bared(s)
		first := Run(bare)
		if diff := alikeIn(t, Run(s), first); diff != "" {
			t.Fatal(diff)
		}
		s.Decisions = slices.Clone(s.Decisions)[:rapid.IntRange(0, len(s.Decisions)).Draw(t, "decisions taken back")]
		s.Frames = slices.Clone(s.Frames)
		for i := range s.Frames {
			if f := &s.Frames[i]; rapid.IntRange(0, 3).Draw(t, "frame changed") == 0 {
				f.Look = f.Look.With(catalogue.Maps{Matters: f.Look.Matters})
				anyMeasures(t, f)
				f.Revision++
			}
		}
		s.Rules.Shapes = s.Rules.Shapes[:rapid.IntRange(0, len(s.Rules.Shapes)).Draw(t, "shapes")]
		bare, _ = bared(s)
		bare.Before = first.Memory
		if diff := alikeIn(t, Run(s), Run(bare)); diff != "" {
			t.Fatal(diff)
		}
	})
}

// fiveDishes is a small shoot with all that pictures can measure: dishes in sets
// of eight, two frames that show none, text to be set on one, a cut by hand.
func fiveDishes() Shoot {
	s := shootOf(nil, nil)
	for r := range 5 {
		x := recipe(fmt.Sprintf("R%02d", r+1), fmt.Sprintf("Dish %d", r), 12+2*r, plan.Hero, plan.Half, plan.Palette)
		x.Orientation, x.Surface = plan.AnyOrientation, fmt.Sprintf("board %d", r)
		s.Recipes = append(s.Recipes, x)
		for k := range 8 {
			f := shotAt(fmt.Sprintf("%d%d.JPG", r, k), float64(60*r+k), x.ID)
			well(&f)
			f.Look.Focus.Columns, f.Look.Focus.Rows = 48, 32
			l := pictured(r, 2.4-0.1*float32(k), 1.6, 0, 12)
			l.Focus.Full = f64(0.6)
			f.Look.Width, f.Look.Height = 6000, 4000
			l.Rims = []catalogue.Rim{{X: 0.5, Y: 0.35, A: 0.2, B: 0.15, Cover: 0.9, Support: 0.9, Score: 0.9}}
			f.Look = f.Look.With(l.Maps())
			f.Exposure.Elevation = nil
			s.Frames = append(s.Frames, f)
		}
	}
	s.Recipes[1].Lettering = plan.LetteringAny
	for k := range 2 {
		f := shotAt(fmt.Sprintf("none%d.JPG", k), float64(1000+k))
		plate(0.5)(&f)
		s.Frames = append(s.Frames, f)
	}
	s.Decisions = []catalogue.Decision{chose(1, "03.JPG", "hero", "R01"), chose(2, "12.JPG", "hero", "R02"),
		{ID: 3, Kind: catalogue.Crop, Frame: "id-21.JPG", Need: "hero", Rect: [4]int{100, 100, 3000, 3900}},
		{ID: 4, Kind: catalogue.Assign, Frame: "id-none0.JPG"}}
	return s
}

// Of what has not changed no map is asked for again; of a frame that was stored
// anew those of its set are.
func TestWhatHasNotChangedIsNotMeasuredAgain(t *testing.T) {
	whole := fiveDishes()
	s, c := bared(whole)
	r := Run(s)
	if diff := alikeIn(t, Run(whole), r); diff != "" {
		t.Fatal(diff)
	}
	for _, f := range s.Frames {
		if !slices.Contains(c.asked, f.ID) {
			t.Errorf("the maps of %s were not asked for", f.ID)
		}
	}
	if most := mapsAtOnce + 8; c.atOnce > most {
		t.Errorf("the maps of %d frames were asked for at once, want %d at most", c.atOnce, most)
	}
	again := func(what string, change func(*Shoot)) *cupboard {
		t.Helper()
		w := fiveDishes()
		change(&w)
		s, c := bared(w)
		s.Before = r.Memory
		if diff := alikeIn(t, Run(w), Run(s)); diff != "" {
			t.Errorf("%s: %s", what, diff)
		}
		return c
	}
	for what, change := range map[string]func(*Shoot){
		"nothing":               func(*Shoot) {},
		"a choice":              func(s *Shoot) { s.Decisions = append(s.Decisions, chose(9, "24.JPG", "hero", "R03")) },
		"the rules":             func(s *Shoot) { s.Rules.FocusShare, s.Rules.WhiteDrift = 0.99, 0.1 },
		"sharpness read at 1:1": func(s *Shoot) { s.Frames[4].Look.Focus.Full = f64(0.1) },
	} {
		// Another frame may be cut then, by itself; sets are not measured.
		if c := again(what, change); c.atOnce > 1 || what == "nothing" && len(c.asked) > 0 {
			t.Errorf("%s changed, and the maps of %v were asked for, %d at once", what, c.asked, c.atOnce)
		}
	}
	asked := again("a frame", func(s *Shoot) {
		f := &s.Frames[16] // of R03
		f.Look = f.Look.With(pictured(7, 1.2, 1.1, 0, 24).Maps())
		f.Revision = 77
	}).asked
	slices.Sort(asked)
	if asked = slices.Compact(asked); len(asked) != 8 || asked[0] != "id-20.JPG" || asked[7] != "id-27.JPG" {
		t.Errorf("a frame of R03 was stored anew, and the maps of %v were asked for; want its set's", asked)
	}
	asked = again("a shape", func(s *Shoot) { s.Rules.Shapes = []crop.Shape{{Name: "2:1", Width: 1000, Height: 500}} }).asked
	if len(asked) == 0 || slices.Contains(asked, "id-none0.JPG") {
		t.Errorf("another shape of posts, and the maps of %v were asked for; want those of frames that were cut", asked)
	}
	asked = again("an assignment", func(s *Shoot) { s.Decisions = append(s.Decisions, assigned(9, "none1.JPG", "R05")) }).asked
	if len(asked) == 0 || slices.Contains(asked, "id-00.JPG") {
		t.Errorf("a frame was given to R05, and the maps of %v were asked for; want it, and of R01 none", asked)
	}
}

// A report whose maps could not be had says so and teaches nothing.
func TestMapsThatCantBeHad(t *testing.T) {
	s, c := bared(fiveDishes())
	c.shut = errors.New("the disk is gone")
	r := Run(s)
	if !errors.Is(r.Fault, c.shut) {
		t.Errorf("fault %v, want %v", r.Fault, c.shut)
	}
	if got := Suggest(s).Fault; !errors.Is(got, c.shut) {
		t.Errorf("fault of a suggestion %v, want %v", got, c.shut)
	}
	c.shut = nil
	s.Before = r.Memory
	if diff := alikeIn(t, Run(fiveDishes()), Run(s)); diff != "" {
		t.Errorf("after the disk came back: %s", diff)
	}
	s.Maps = func([]catalogue.FrameID) ([]catalogue.Maps, error) { return nil, nil }
	s.Before = nil
	if Run(s).Fault == nil {
		t.Error("fewer maps than were asked for, and no fault")
	}
}
