package audit

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// The fourth simulator does what its routines say: frames are of the plan and of
// its days, as many dishes have a slate, a folder or a line of the log as a crew
// states, give or take what people get wrong, and a seed makes one shoot.
func TestFourthIsSane(t *testing.T) {
	for _, how := range routines {
		var dishes, tethered, slated, foldered, logged, withFolders, clocked, wrongSlates, slates float64
		const shoots = 12
		for seed := range uint64(shoots) {
			s := simulateFourth(seed+1, how)
			if seed == 0 && !reflect.DeepEqual(s, simulateFourth(1, how)) {
				t.Errorf("%s: one seed makes two shoots", how.name)
			}
			named := map[string]plan.Recipe{}
			for _, p := range s.Recipes {
				named[p.ID] = p
			}
			if n := len(named); n != len(s.Recipes) || n < 65 || n > 83 {
				t.Errorf("%s: %d ids of %d dishes, seventy-odd are wanted", how.name, n, len(s.Recipes))
			}
			if n := len(s.Frames); n < 800 || n > 8000 || n != len(s.truth) {
				t.Errorf("%s: %d frames, %d with a truth", how.name, n, len(s.truth))
			}
			shot, onTether, hasSlate, hasFolder := map[string]int{}, map[string]bool{}, map[string]bool{}, map[string]bool{}
			clock, none := false, 0
			for _, f := range s.Frames {
				truth, told := s.truth[f.ID]
				p, known := named[truth]
				if !told || truth != "" && !known {
					t.Fatalf("%s: frame %s is of %q, which the plan hasn't", how.name, f.ID, truth)
				}
				if day := s.Book.DayAt(f.Taken); !f.Taken.IsZero() && (day.Before(s.Book.FirstDay) || s.Book.LastDay.Before(day)) {
					t.Errorf("%s: frame %s is of %s, the shoot from %s to %s", how.name, f.ID, f.Taken, s.Book.FirstDay, s.Book.LastDay)
				}
				if code := f.Look.Slate; code != nil {
					if !s.slate[f.ID] {
						t.Errorf("%s: frame %s counts though a slate stands in it", how.name, f.ID)
					}
					if clock = clock || code.Recipe == ""; code.Recipe != "" {
						slates++
						if hasSlate[truth] = hasSlate[truth] || code.Recipe == truth; code.Recipe != truth {
							wrongSlates++
						}
					}
				}
				if truth == "" {
					none++
					continue
				}
				shot[truth]++
				if f.Files[0].Card == "tether" && !s.slate[f.ID] {
					onTether[truth] = true
					hasFolder[truth] = hasFolder[truth] || inFolderOf(f, p)
				}
			}
			if len(shot) < len(s.Recipes)*17/20 {
				t.Errorf("%s: %d of %d dishes were shot", how.name, len(shot), len(s.Recipes))
			}
			if none == 0 || none > len(s.Frames)/5 {
				t.Errorf("%s: %d of %d frames show no dish", how.name, none, len(s.Frames))
			}
			lines := map[string]bool{}
			for k, d := range s.Decisions {
				if d.Kind != catalogue.On || d.ID != int64(k+1) || k > 0 && d.At.Before(s.Decisions[k-1].At) {
					t.Errorf("%s: line %d of the log is %+v", how.name, k, d)
				}
				if _, ok := named[d.Recipe]; d.Recipe != "" && !ok {
					t.Errorf("%s: the log names %q, which the plan hasn't", how.name, d.Recipe)
				}
				lines[d.Recipe] = true
			}
			for id := range shot {
				dishes++
				slated += one(hasSlate[id])
				logged += one(lines[id])
			}
			if clocked += one(clock); len(hasFolder) > 0 && has(hasFolder) {
				withFolders++
				for id := range onTether {
					tethered++
					foldered += one(hasFolder[id])
				}
			}
		}
		for _, c := range []struct {
			of        string
			got, want float64
			tolerance float64
		}{
			{"dishes with a slate", slated / dishes, how.slated, 0.07},
			{"dishes with a line of the log", logged / dishes, how.logged, 0.07},
			{"dishes with a folder, where there are", foldered / math.Max(tethered, 1), how.made, 0.1},
			{"shoots with folders", withFolders / shoots, how.folders, 0.3},
			{"shoots with a clock", clocked / shoots, how.told, 0.35},
			{"slates of another dish", wrongSlates / math.Max(slates, 1), how.wrong, 0.04},
		} {
			if c.of == "dishes with a folder, where there are" && withFolders == 0 {
				continue
			}
			if !(math.Abs(c.got-c.want) <= c.tolerance) {
				t.Errorf("%s: %.3f of %s, stated is %.3f", how.name, c.got, c.of, c.want)
			}
		}
		if how.folders == 1 && withFolders != shoots {
			t.Errorf("%s: %v of %d shoots have folders", how.name, withFolders, shoots)
		}
	}
}

func one(is bool) float64 {
	if is {
		return 1
	}
	return 0
}

func has(of map[string]bool) bool {
	for _, is := range of {
		if is {
			return true
		}
	}
	return false
}

// inFolderOf tells whether a frame lies in a folder named after a dish, in one of
// the ways that helpers name them.
func inFolderOf(f catalogue.Frame, p plan.Recipe) bool {
	for _, part := range strings.Split(f.Files[0].Source, "/") {
		low := strings.ToLower(part)
		title := strings.ToLower(p.Title)
		if part == p.ID || low == title || low == strings.ReplaceAll(title, " ", "-") || part == p.ID+" "+p.Title || len(part) > 3 && low[3:] == title || len(part) > 4 && low[4:] == title {
			return true
		}
	}
	return false
}
