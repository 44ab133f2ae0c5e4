package desk

import (
	"context"
	"fmt"
	"net/http/httptest"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"slices"
	"strings"
	"testing"
	"time"

	"coverplate/audit"
	"coverplate/audit/crop"
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
	st.index()
	return st
}

// measured gives a frame measures of the sizes that ingest keeps.
func measured(f *catalogue.Frame, n int) {
	bytes := func(k int) []uint8 {
		b := make([]uint8, k)
		for i := range b {
			b[i] = uint8(i*(n%97+3)) >> 1
		}
		return b
	}
	cells := make([]float32, 24*16)
	for i := range cells {
		cells[i] = float32((i*(n%89+2))%101+1) / 1000
	}
	f.Files[0].SHA256, f.Files[0].Card = string(f.ID), "A001"
	l := &f.Look
	l.Focus = &catalogue.Focus{Score: 0.5, Columns: 48, Rows: 32, Grid: bytes(48 * 32), Fine: catalogue.FloatsOf(cells...), Far: catalogue.FloatsOf(cells...)}
	l.Light = &catalogue.Light{Level: -2, Columns: 24, Rows: 16, Stops: [3]catalogue.Floats{catalogue.FloatsOf(cells...), catalogue.FloatsOf(cells...), catalogue.FloatsOf(cells...)}}
	l.Matters = &catalogue.Matters{Columns: 96, Rows: 64, Weight: bytes(96 * 64), Regions: make([]catalogue.Region, 6)}
	l.Rims, l.Lines = make([]catalogue.Rim, 14), make([]catalogue.Line, 40)
	l.Palette = slices.Repeat([]colour.Swatch{*l.Surface}, 6)
}

// BenchmarkJudging reads a season of frames out of a catalogue and judges it, and
// again when a tenth of them was measured anew. It reports
// the memory in use at its most, with what is free and not given back, and what
// is held afterwards. The program itself and SQLite's pages come to it.
func BenchmarkJudging(b *testing.B) {
	const path = "catalogue.db"
	b.Chdir(b.TempDir())
	store, err := catalogue.Open(path)
	if err != nil {
		b.Fatal(err)
	}
	defer store.Close()
	book := season().shoot
	for n := range book.Frames {
		measured(&book.Frames[n], n)
		if err := store.Put(b.Context(), book.Frames[n]); err != nil {
			b.Fatal(err)
		}
	}
	book.Frames = nil
	d, err := New(Options{Dir: ".", Store: store, Who: "maja", Hosts: []string{"desk"}, Now: time.Now, Where: time.UTC, Gather: func(ctx context.Context, before []catalogue.Frame) (audit.Shoot, error) {
		g := book
		var err error
		g.Frames, err = store.Bare(ctx, before)
		g.Maps = func(ids []catalogue.FrameID) ([]catalogue.Maps, error) { return store.Maps(ctx, ids) }
		return g, err
	}})
	if err != nil {
		b.Fatal(err)
	}
	defer d.Close()
	// As the program runs it.
	defer debug.SetGCPercent(debug.SetGCPercent(25))
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(96 << 20))
	debug.FreeOSMemory()
	done, most := make(chan bool), make(chan uint64)
	go func() {
		peak, every := uint64(0), time.NewTicker(10*time.Millisecond)
		defer every.Stop()
		for {
			select {
			case <-done:
				most <- peak
				return
			case <-every.C:
				peak = max(peak, inUse())
			}
		}
	}()
	for b.Loop() {
		d.now = nil
		d.renew(b.Context())
		debug.FreeOSMemory()
		for n := 0; n < 6000; n += 10 { // as an ingest would that measures anew
			f, err := store.Frame(b.Context(), catalogue.FrameID(fmt.Sprintf("%012x%052x", n+1, n)))
			if err == nil {
				err = store.Put(b.Context(), f)
			}
			if err != nil {
				b.Fatal(err)
			}
		}
		if !d.renew(b.Context()) {
			b.Fatal("nothing was new")
		}
		debug.FreeOSMemory()
	}
	close(done)
	b.ReportMetric(float64(<-most)/(1<<20), "MB-at-most")
	b.ReportMetric(float64(inUse())/(1<<20), "MB-held")
	if n := len(d.state().shoot.Frames); n != 6000 {
		b.Fatalf("%d frames were judged", n)
	}
}

// inUse is all memory that Go has of the system and did not give back, bytes.
func inUse() uint64 {
	all := []metrics.Sample{{Name: "/memory/classes/total:bytes"}, {Name: "/memory/classes/heap/released:bytes"}}
	metrics.Read(all)
	return all[0].Value.Uint64() - all[1].Value.Uint64()
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

// crowded holds the page of a dish of 2,000 frames, each held against all its
// needs: its store is one without frames.
func crowded(t *testing.T) {
	t.Helper()
	store, err := catalogue.Open(filepath.Join(t.TempDir(), "catalogue.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	d, err := New(Options{Dir: t.TempDir(), Store: store, Who: "maja", Hosts: []string{"desk"}, Now: time.Now, Where: time.UTC})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	st := season()
	rec := &st.report.Recipes[0]
	for i := range 2000 {
		m := &st.report.Matches[i]
		m.Recipe = rec.ID
		for k := range rec.Needs {
			rec.Needs[k].Offers = append(rec.Needs[k].Offers, audit.Offer{Frame: m.Frame, Works: crop.No, Fails: []string{"it is soft, out of focus: 0.31 of the sharpest of its set, and the floor is 0.37", "38 % of what matters is burnt out"}, Passed: []string{"portrait", "319 ppi on 153×206 mm", "seen at 38° (three-quarter)"}})
		}
	}
	d.replace(st)
	r := httptest.NewRequest("GET", "http://desk"+dishAt(rec.ID), nil)
	r.Host, r.RemoteAddr = "desk", here
	w := httptest.NewRecorder()
	d.Handler().ServeHTTP(w, r)
	html := w.Body.String()
	if w.Code != 200 || len(html) > 1<<20 || !strings.Contains(html, "more, among all frames") || !strings.Contains(html, "that come after them") {
		t.Errorf("a dish of 2,000 frames: %d, %d bytes", w.Code, len(html))
	}
	t.Logf("a dish of 2,000 frames: %d KiB", len(html)>>10)
}

// TestNoPageIsOverAMegabyte: not with a season of frames either, all of them
// unplaced; every frame is on one of the pages.
func TestNoPageIsOverAMegabyte(t *testing.T) {
	crowded(t)
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
			if _, after, ok := strings.Cut(html, `<p id="later"><a href="/frames?show=`); ok && strings.Contains(html, ">later frames<") {
				for _, part := range strings.Split("/frames?show="+after, `<p id="later"><a href="`) {
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
