package audit

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// hardDay is a shoot made by hand, with its truth.
type hardDay struct {
	Shoot
	truth map[catalogue.FrameID]string
	rand  *rand.Rand
	n     map[string]int // the number of the next frame, by body
}

var hardFirst = plan.Day{Year: 2026, Month: 3, Day: 4}

func newHardDay() *hardDay {
	h := &hardDay{truth: map[catalogue.FrameID]string{}, rand: rand.New(rand.NewPCG(5, 6)), n: map[string]int{}}
	titles := []string{"Dark rye", "Smoked trout", "Beetroot soup", "Barley porridge", "Baked plums", "Leek tart", "Oat biscuits", "Pickled cucumber",
		"Roasted carrots", "Red cabbage", "Pea fritters", "Honey cake"}
	h.Shoot = shootOf(nil, nil)
	for i, title := range titles {
		r := recipe(fmt.Sprintf("R%02d", i+1), title, 11+2*i, plan.Hero)
		r.Row, r.Day = i+2, hardFirst.AddDays(i/6) // six a day
		h.Recipes = append(h.Recipes, r)
	}
	return h
}

// at is a time of a day from 0 on.
func at(day int, clock string) time.Time {
	t, err := time.Parse("15:04:05", clock)
	if err != nil {
		panic(err)
	}
	d := hardFirst.AddDays(day)
	return time.Date(d.Year, time.Month(d.Month), d.Day, t.Hour(), t.Minute(), t.Second(), 0, time.UTC)
}

// take is one frame of a body; dish "" is of nothing.
func (h *hardDay) take(body string, t time.Time, dish string) *catalogue.Frame {
	h.n[body]++
	name := fmt.Sprintf("%s_%04d.JPG", body, (h.n[body]-1)%9999+1)
	f := shotAt(fmt.Sprintf("%s%d", body, h.n[body]), 0)
	f.Taken, f.Camera.Serial = t, body
	f.Files[0] = catalogue.File{Kind: catalogue.JPEG, Name: name, Path: "originals/" + string(f.ID) + "/" + name, Card: "A001", Source: fmt.Sprintf("DCIM/%dSKARV/%s", 100+h.n[body]/10000, name)}
	f.Look.Palette = nil
	own := rand.New(rand.NewPCG(uint64(len(dish)), uint64(slices.IndexFunc(h.Recipes, func(r plan.Recipe) bool { return r.ID == dish }))))
	for i := range 6 {
		c := colour.Lab{L: 15 + 12*float64(i) + 12*own.NormFloat64(), A: 5 + 15*own.NormFloat64(), B: 10 + 15*own.NormFloat64()}
		f.Look.Palette = append(f.Look.Palette, colour.Swatch{Share: 1.0 / 6, Lab: colour.Lab{L: c.L + 3*h.rand.NormFloat64(), A: c.A + 3*h.rand.NormFloat64(), B: c.B + 3*h.rand.NormFloat64()}})
	}
	f.Look.Surface = &colour.Swatch{Share: 0.6, Lab: colour.Lab{L: 20 + 60*own.Float64() + 3*h.rand.NormFloat64(), A: 2 + 5*own.NormFloat64(), B: 8 + 8*own.NormFloat64()}}
	h.Frames = append(h.Frames, f)
	h.truth[f.ID] = dish
	return &h.Frames[len(h.Frames)-1]
}

// shoot takes n frames of a dish from t on, some twenty seconds apart.
func (h *hardDay) shoot(body string, t time.Time, dish string, n int) time.Time {
	for range n {
		h.take(body, t, dish)
		t = t.Add(time.Duration(8+h.rand.IntN(25)) * time.Second)
	}
	return t
}

// slate takes one frame of a slate, of which nothing is asked.
func (h *hardDay) slate(body string, t time.Time, dish string) {
	f := h.take(body, t, "slate")
	slated(dish)(f)
	delete(h.truth, f.ID)
}

// dishes shoots dishes from a time on, 45 minutes apart, each with its slate.
func (h *hardDay) dishes(body string, t time.Time, ids ...string) {
	for _, id := range ids {
		h.slate(body, t, id)
		h.shoot(body, t.Add(40*time.Second), id, 10)
		t = t.Add(45 * time.Minute)
	}
}

// together has two bodies shoot dishes on one set, four on the first day and six on
// the second, each with its slate.
func (h *hardDay) together() {
	for n, body := range []string{"A", "B"} {
		later := time.Duration(n) * 20 * time.Second
		h.dishes(body, at(0, "09:00:00").Add(later), "R01", "R02", "R05", "R06")
		h.dishes(body, at(1, "09:00:00").Add(later), "R07", "R08", "R09", "R10", "R11", "R12")
	}
}

// Each hard day of a shoot, with its truth: no frame is given to a wrong dish,
// and none but a stated number is left to a person.
func TestHardDays(t *testing.T) {
	for _, c := range []struct {
		name     string
		day      func(h *hardDay)
		unplaced int
	}{
		{"two bodies on two sets at once", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01", "R03", "R05")
			h.dishes("B", at(0, "09:02:00"), "R02", "R04", "R06")
		}, 0},
		{"two sets at once on a day of one", func(h *hardDay) {
			h.together()
			h.slate("A", at(0, "13:00:00"), "R03")
			h.shoot("A", at(0, "13:00:40"), "R03", 40)
			h.slate("B", at(0, "13:06:00"), "R04") // beside it
			h.shoot("B", at(0, "13:06:40"), "R04", 12)
		}, 0},
		{"a dish before its turn, and no slate", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01")
			h.shoot("A", at(0, "09:45:00"), "R03", 12)
			h.dishes("A", at(0, "10:30:00"), "R02", "R04", "R05", "R06")
			h.dishes("A", at(1, "09:00:00"), "R07", "R08", "R09")
		}, 0},
		{"a dish left over from the day before, and no slate", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01", "R02", "R03", "R04", "R05")
			h.dishes("A", at(1, "09:00:00"), "R07", "R08", "R09")
			h.shoot("A", at(1, "11:15:00"), "R06", 12)
			h.dishes("A", at(1, "12:00:00"), "R10", "R11", "R12")
		}, 12}, // if a dish was left over, which day's is not told
		{"one folder for half a day, and no slates", func(h *hardDay) {
			for i, id := range []string{"R01", "R02", "R03", "R04"} {
				h.shoot("A", at(0, "09:00:00").Add(time.Duration(i)*45*time.Minute), id, 12)
			}
			for i := range h.Frames {
				h.Frames[i].Files[0].Source = "R01 Dark rye/" + h.Frames[i].Files[0].Name
			}
			h.dishes("A", at(0, "13:00:00"), "R05", "R06")
		}, 48},
		{"a folder changed in the middle of a dish", func(h *hardDay) {
			for i, id := range []string{"R01", "R02", "R03", "R04", "R05"} {
				h.shoot("A", at(0, "09:00:00").Add(time.Duration(i)*45*time.Minute), id, 12)
				for k := range 12 {
					r := h.Recipes[i]
					if i == 2 && k < 4 {
						r = h.Recipes[1] // the dish before
					}
					f := &h.Frames[len(h.Frames)-12+k].Files[0]
					f.Source = r.ID + " " + r.Title + "/" + f.Name
				}
			}
		}, 4}, // its folder and all else differ: a question
		{"two bodies on one set, one without slates", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01", "R02", "R03", "R04")
			for i, id := range []string{"R01", "R02", "R03", "R04"} {
				h.shoot("B", at(0, "09:01:30").Add(time.Duration(i)*45*time.Minute), id, 5)
			}
		}, 0},
		{"a dish reshot on another day", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01", "R02", "R03", "R04", "R05", "R06")
			h.dishes("A", at(1, "09:00:00"), "R07", "R02", "R08", "R09")
		}, 0},
		{"a slate forgotten", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01", "R02", "R03")
			h.shoot("A", at(0, "11:16:00"), "R04", 12)
			h.dishes("A", at(0, "12:00:00"), "R05", "R06")
			h.dishes("A", at(1, "09:00:00"), "R07", "R08", "R09", "R10")
		}, 0},
		{"a slate shot late", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01")
			h.shoot("A", at(0, "09:45:00"), "R02", 4)
			h.slate("A", at(0, "09:47:00"), "R02")
			h.shoot("A", at(0, "09:47:30"), "R02", 10)
			h.dishes("A", at(0, "10:30:00"), "R03")
		}, 0},
		{"a wrong slate corrected by the next at once", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01")
			h.slate("A", at(0, "09:45:00"), "R05")
			h.slate("A", at(0, "09:45:30"), "R02")
			h.shoot("A", at(0, "09:46:00"), "R02", 10)
		}, 0},
		{"a wrong slate corrected after the first frames", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01")
			h.slate("A", at(0, "09:45:00"), "R05")
			h.shoot("A", at(0, "09:45:20"), "R02", 3)
			h.slate("A", at(0, "09:46:50"), "R02")
			h.shoot("A", at(0, "09:47:10"), "R02", 10)
			h.dishes("A", at(0, "10:30:00"), "R03")
		}, 0},
		{"a late card", func(h *hardDay) { // every third frame comes with it, and before all others
			h.dishes("A", at(0, "09:00:00"), "R01", "R02", "R03")
			var late, first []catalogue.Frame
			for i, f := range h.Frames {
				if i%3 == 2 {
					f.Files[0].Card = "A002"
					late = append(late, f)
				} else {
					first = append(first, f)
				}
			}
			h.Frames = append(late, first...)
		}, 0},
		{"a lost first card, and the slate with it", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01", "R02", "R03", "R04")
			h.dishes("A", at(1, "09:00:00"), "R07", "R08", "R09")
			h.Frames = h.Frames[5:]
		}, 6},
		{"counter roll-over within a burst, a slate at its end", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01")
			h.n["A"] = 9994
			for range 4 { // 9995 … 9998, all in one second
				h.take("A", at(0, "09:45:00"), "R02")
			}
			h.slate("A", at(0, "09:45:00"), "R02") // 9999
			h.n["A"] = 9999
			for range 4 { // 0001 … 0004
				h.take("A", at(0, "09:45:00"), "R02")
			}
			h.shoot("A", at(0, "09:45:10"), "R02", 5)
		}, 0},
		{"identical times in a burst", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01")
			h.slate("A", at(0, "09:45:00"), "R02")
			for range 30 {
				h.take("A", at(0, "09:45:00"), "R02")
			}
		}, 0},
		{"a phone without sub-seconds", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01", "R02", "R03")
			for i, id := range []string{"R01", "R02", "R03"} {
				t := at(0, "09:01:00").Add(time.Duration(i) * 45 * time.Minute)
				h.slate("phone", t, id)
				for n := range 9 { // three a second
					h.take("phone", t.Add(time.Duration(5+n/3)*time.Second), id)
				}
			}
		}, 0},
		{"one frame of twenty without any EXIF", func(h *hardDay) {
			h.dishes("A", at(0, "09:00:00"), "R01", "R02", "R03", "R04", "R05", "R06")
			lost := 0
			for i := range h.Frames {
				f := &h.Frames[i]
				if f.Look.Slate != nil || i%20 != 4 {
					continue
				}
				f.Taken, f.Camera, f.Exposure = time.Time{}, catalogue.Camera{}, catalogue.Exposure{}
				if lost%2 == 0 { // named by hand
					f.Files[0].Name = h.truth[f.ID] + "-b.jpg"
				}
				lost++
			}
		}, 2}, // those that nothing names
	} {
		t.Run(c.name, func(t *testing.T) {
			h := newHardDay()
			c.day(h)
			unplaced, listed := 0, Run(h.Shoot).Unplaced
			for _, m := range Matches(h.Shoot) {
				want, asked := h.truth[m.Frame]
				switch {
				case !asked || m.Recipe == want:
				case m.Recipe != "":
					t.Errorf("%s is given to %s with odds %.3f, and shows %s: %v", m.Frame, m.Recipe, m.Odds, want, m.Why)
				default:
					unplaced++
					if n := slices.IndexFunc(listed, func(u UnplacedNote) bool { return u.FrameID == m.Frame }); n < 0 || len(listed[n].Guesses) > 2 {
						t.Errorf("%s is unplaced and not listed so", m.Frame)
					}
				}
				if asked && m.Recipe != "" && (len(m.Why) == 0 || m.Why[0].Says == "" || strings.Contains(m.Why[0].Says, "\n")) {
					t.Errorf("%s: no line says why: %v", m.Frame, m.Why)
				}
			}
			if unplaced > c.unplaced {
				t.Errorf("%d frames are unplaced, want %d at most", unplaced, c.unplaced)
				for _, u := range listed {
					t.Logf("%s %s: %s, guesses %v", u.FrameID, h.truth[u.FrameID], u.Why, u.Guesses)
				}
			}
		})
	}
}
