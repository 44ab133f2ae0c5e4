package audit

import (
	"fmt"
	"strings"
	"time"

	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// The invented shoot that the tests judge: a book of 150 × 200 mm pages, so
// that a full page with bleed is 153 × 206 mm.

func f64(x float64) *float64 { return &x }

func testBook() plan.Book {
	return plan.Book{Title: "Skerry Table", TrimWidth: 150, TrimHeight: 200, Bleed: 3, Gutter: 8, GoodPPI: 300, FloorPPI: 240,
		FirstDay: plan.Day{Year: 2026, Month: 3, Day: 2}, LastDay: plan.Day{Year: 2026, Month: 3, Day: 11}, DayEnds: plan.DayEnds}
}

func needs(kinds ...plan.NeedKind) []plan.Need {
	var all []plan.Need
	for _, k := range kinds {
		n := plan.Need{Kind: k}
		if k == plan.Options {
			n.N = 2
		}
		all = append(all, n)
	}
	return all
}

func recipe(id, title string, page int, kinds ...plan.NeedKind) plan.Recipe {
	return plan.Recipe{Row: page, ID: id, Title: title, Pages: plan.Pages{First: page, Last: page},
		Size: plan.Size{Kind: plan.FullPage}, Orientation: plan.Portrait, Angle: plan.AnyAngle, Needs: needs(kinds...)}
}

// shotAt is a frame of the body "SK-1", taken minutes after nine.
func shotAt(name string, minutes float64, subject ...string) catalogue.Frame {
	taken := time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC).Add(time.Duration(minutes * float64(time.Minute)))
	return catalogue.Frame{
		ID:     catalogue.FrameID("id-" + name),
		Files:  []catalogue.File{{Kind: catalogue.JPEG, Path: "originals/2026-03-04/skarv-1/" + name, Name: name, Card: "A001", Source: "DCIM/100SKARV/" + name}},
		Taken:  taken,
		Camera: catalogue.Camera{Make: "Skarv", Model: "R7", Serial: "SK-1"},
		Look: catalogue.Look{Width: 4000, Height: 6000, Palette: flat(50, 0, 0),
			Surface: &colour.Swatch{Lab: colour.Lab{L: 90}, Share: 1}},
		Subjects: subject,
	}
}

func flat(l, a, b float64) []colour.Swatch {
	return []colour.Swatch{{Lab: colour.Lab{L: l, A: a, B: b}, Share: 1}}
}

func chose(id int64, frame, need, recipe string) catalogue.Decision {
	return catalogue.Decision{ID: id, Kind: catalogue.Choose, Frame: catalogue.FrameID("id-" + frame), Need: need, Recipe: recipe}
}

func assigned(id int64, frame, recipe string) catalogue.Decision {
	return catalogue.Decision{ID: id, Kind: catalogue.Assign, Frame: catalogue.FrameID("id-" + frame), Recipe: recipe}
}

func shootOf(recipes []plan.Recipe, frames []catalogue.Frame, said ...catalogue.Decision) Shoot {
	return Shoot{Book: testBook(), Recipes: recipes, Frames: frames, Decisions: said, Rules: DefaultRules(),
		Today: plan.Day{Year: 2026, Month: 3, Day: 8}}
}

// finding returns the finding on a recipe's need.
func finding(r Report, recipe, need string) Finding {
	for _, rec := range r.Recipes {
		for _, f := range rec.Needs {
			if rec.ID == recipe && f.Need == need {
				return f
			}
		}
	}
	return Finding{Why: fmt.Sprintf("no finding on %s of %s", need, recipe)}
}

func hasNote(r Report, kind, part string) bool {
	for _, n := range r.Notes {
		if n.Kind == kind && strings.Contains(n.Says, part) {
			return true
		}
	}
	return false
}
