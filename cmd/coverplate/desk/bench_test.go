package desk

import (
	"fmt"
	"net/http/httptest"
	"runtime"
	"strings"
	"testing"
	"time"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// season is a book of 74 recipes with 6,000 frames, as the desk keeps it.
func season() *state {
	g := audit.Shoot{Book: plan.Book{Title: "Skerry Table", TrimWidth: 189, TrimHeight: 246, FloorPPI: 240, GoodPPI: 300}, Rules: audit.DefaultRules(), Today: plan.Day{Year: 2026, Month: 3, Day: 4}}
	for i := range 74 {
		g.Recipes = append(g.Recipes, plan.Recipe{Row: i + 2, ID: fmt.Sprintf("R%02d", i+1), Title: fmt.Sprintf("Dish %d of the island", i+1), Chapter: "Chapter", Pages: plan.Pages{First: 10 + 2*i, Last: 10 + 2*i},
			Size: plan.Size{Kind: plan.FullPage}, Needs: plan.DefaultNeeds(), Day: plan.Day{Year: 2026, Month: 3, Day: 2 + i/10}})
	}
	for n := range 6000 {
		path := fmt.Sprintf("originals/2026-03-04/SKA_%04d.JPG", n)
		swatch := colour.Swatch{Hex: "#8a6a40", Lab: colour.Lab{L: 47, A: float64(n % 50), B: 28}, Share: 1, Name: "brown"}
		g.Frames = append(g.Frames, catalogue.Frame{ID: catalogue.FrameID(fmt.Sprintf("%012x%052x", n+1, n)), Taken: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC).Add(time.Duration(n) * time.Minute),
			Files: []catalogue.File{{Kind: catalogue.JPEG, Path: path, Name: path[len(path)-12:]}}, Subjects: []string{fmt.Sprintf("R%02d", n/82+1)},
			Look: catalogue.Look{Width: 6000, Height: 4000, Picture: "previews/x.jpg", Palette: []colour.Swatch{swatch}, Surface: &swatch}})
	}
	st := &state{shoot: g, report: audit.Run(g), made: time.Now()}
	st.shed()
	st.index()
	return st
}

// BenchmarkWall is the server's time of the home page and of the largest pages,
// of 74 recipes and 6,000 frames, and the memory that is held meanwhile.
func BenchmarkWall(b *testing.B) {
	runtime.GC()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	d, err := New(Options{Dir: b.TempDir(), Who: "maja", Hosts: []string{"desk"}, Now: time.Now, Where: time.UTC})
	if err != nil {
		b.Fatal(err)
	}
	defer d.Close()
	d.replace(season())
	h := d.Handler()
	for _, page := range []string{"/", "/?size=small", "/frames?show=all", "/days"} {
		b.Run(page, func(b *testing.B) {
			for b.Loop() {
				r := httptest.NewRequest("GET", "http://desk"+page, nil)
				r.Host, r.RemoteAddr = "desk", here
				w := httptest.NewRecorder()
				h.ServeHTTP(w, r)
				if w.Code != 200 || w.Body.Len() > 1<<20 {
					b.Fatalf("%d, %d bytes", w.Code, w.Body.Len())
				}
				b.ReportMetric(float64(w.Body.Len())/1024, "KiB")
			}
		})
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	b.Logf("the desk holds %d MB", (int64(after.HeapAlloc)-int64(before.HeapAlloc))>>20)
}

// TestNoPageIsOverAMegabyte: not with a season of frames either, all of them
// unplaced; every frame is on one of the pages.
func TestNoPageIsOverAMegabyte(t *testing.T) {
	d, err := New(Options{Dir: t.TempDir(), Who: "maja", Hosts: []string{"desk"}, Now: time.Now, Where: time.UTC})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	st := season()
	for _, m := range st.report.Matches {
		st.report.Unplaced = append(st.report.Unplaced, audit.UnplacedNote{FrameID: m.Frame, Why: "its name says R01 and its folder R02, and nothing tells which of them is wrong", Guesses: []string{"R01", "R02"}})
	}
	d.replace(st)
	for _, page := range []string{"/", "/frames", "/frames?show=all"} {
		boxes := 0
		for next := page; next != ""; {
			r := httptest.NewRequest("GET", "http://desk"+next, nil)
			r.Host, r.RemoteAddr = "desk", here
			w := httptest.NewRecorder()
			d.Handler().ServeHTTP(w, r)
			html := w.Body.String()
			if w.Code != 200 || len(html) > 1<<20 {
				t.Fatalf("%s: %d, %d bytes", next, w.Code, len(html))
			}
			boxes += strings.Count(html, `name="f"`)
			next = ""
			if _, after, ok := strings.Cut(html, `<p><a href="/frames?show=`); ok && strings.Contains(html, ">later frames<") {
				for _, part := range strings.Split("/frames?show="+after, `<p><a href="`) {
					if at, says, _ := strings.Cut(part, `">`); strings.HasPrefix(says, "later frames") {
						next = strings.ReplaceAll(at, "&amp;", "&")
					}
				}
			}
		}
		if page != "/" && boxes != 6000 {
			t.Errorf("%s: %d frames over all its pages, want 6000", page, boxes)
		}
	}
}
