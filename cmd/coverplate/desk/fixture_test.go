package desk

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// hostile is what a plan or a camera may hold: it must be shown, never obeyed,
// and no page grows sideways of it.
const hostile = `<script>window.owned=1</script><img src=x onerror="window.owned=1">"'&{{.}} ` + "aVeryLongWordThatSomebodyPastedFromAManuscriptAndThatNoLineOfAPhoneOrOfATableCanHold"

// studio is an invented shoot with a desk that serves it.
type studio struct {
	t      testing.TB
	dir    string
	store  *catalogue.Store
	desk   *Desk
	server *httptest.Server
	url    string
	book   plan.Book
	plan   []plan.Recipe
	rules  audit.Rules
	said   atomic.Value  // how far an ingest is, a string
	fault  atomic.Value  // what is wrong with the plan, a string
	held   chan struct{} // the shoot is not read until it is closed; nil it is
}

// plate is a small JPEG: a round plate of food on a table.
func plate(t testing.TB, food color.Color, w, h int) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			dx, dy := float64(x-w/2)/float64(h), float64(y-h/2)/float64(h)
			c := color.Color(color.RGBA{uint8(170 + (x*7+y*3)%9), 140, 100, 255})
			switch r := dx*dx + dy*dy; {
			case r < 0.03:
				c = food
			case r < 0.1:
				c = color.RGBA{235, 232, 225, 255}
			}
			img.Set(x, y, c)
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 90}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// newStudio is a shoot of three dishes, eight frames and a desk, open until the
// test ends. Its third dish has a hostile title.
func newStudio(t testing.TB, with ...func(*studio)) *studio {
	t.Helper()
	s := &studio{t: t, dir: t.TempDir(), rules: audit.DefaultRules()}
	for _, set := range with {
		set(s)
	}
	s.book = plan.Book{Title: "Skerry Table", TrimWidth: 100, TrimHeight: 130, Bleed: 3, Gutter: 6, GoodPPI: 60, FloorPPI: 40,
		FirstDay: plan.Day{Year: 2026, Month: 3, Day: 4}, LastDay: plan.Day{Year: 2026, Month: 3, Day: 5}}
	for i := range s.rules.Shapes {
		s.rules.Shapes[i].Width, s.rules.Shapes[i].Height = s.rules.Shapes[i].Width/8, s.rules.Shapes[i].Height/8
	}
	needs := []plan.Need{{Kind: plan.Hero}, {Kind: plan.Half}, {Kind: plan.Palette}}
	s.plan = []plan.Recipe{
		{Row: 2, ID: "R01", Title: "Barley broth", Chapter: "Soups", Pages: plan.Pages{First: 10, Last: 11}, Size: plan.Size{Kind: plan.DoublePage}, Needs: needs, Props: []string{"grey bowl"}, Surface: "oak", Day: s.book.FirstDay},
		{Row: 3, ID: "R02", Title: "Rye flatbread", Chapter: "Breads", Pages: plan.Pages{First: 13, Last: 13}, Size: plan.Size{Kind: plan.FullPage}, Needs: needs, Props: []string{"grey bowl"}, Surface: "oak", Day: s.book.LastDay},
		{Row: 4, ID: "R03", Title: hostile, Chapter: hostile, Pages: plan.Pages{First: 15, Last: 15}, Size: plan.Size{Kind: plan.FullPage}, Needs: needs, Props: []string{hostile}, Surface: hostile, Day: s.book.LastDay, Notes: hostile},
	}
	var err error
	if s.store, err = catalogue.Open(filepath.Join(s.dir, "catalogue.db")); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.store.Close() })
	for i := range 4 {
		s.frame(i, "R01", fmt.Sprintf("R01_%04d.JPG", i))
	}
	for i := range 3 {
		s.frame(10+i, "", fmt.Sprintf("SKA_%04d.JPG", i))
	}
	s.frame(20, "R03", "R03_\"><b>owned.JPG")
	s.open()
	return s
}

// frame puts a frame into the library and the catalogue; folder names its dish,
// "" none.
func (s *studio) frame(n int, folder, file string) catalogue.FrameID {
	s.t.Helper()
	b := plate(s.t, color.RGBA{uint8(40 + 20*n%200), uint8(90 + 11*n%120), 60, 255}, 480, 360)
	id := catalogue.FrameID(fmt.Sprintf("%012x%052x", 0xabc000000000+uint64(n), n))
	rel := "originals/2026-03-04/" + filepath.Join("x"+folder, file)
	preview := fmt.Sprintf("previews/ab/%s.jpg", id)
	for _, p := range []string{rel, preview} {
		full := filepath.Join(s.dir, filepath.FromSlash(p))
		if err := os.MkdirAll(filepath.Dir(full), 0o777); err != nil {
			s.t.Fatal(err)
		}
		if err := os.WriteFile(full, b, 0o666); err != nil {
			s.t.Fatal(err)
		}
	}
	swatch := colour.Swatch{Hex: "#8a6a40", Lab: colour.Lab{L: 47, A: float64(8 + n), B: 28}, Share: 1, Name: "brown"}
	f := catalogue.Frame{ID: id, Taken: time.Date(2026, 3, 4, 10, n, 0, 0, time.UTC), Camera: catalogue.Camera{Make: "Skarv", Model: hostile, Serial: "7"},
		Exposure: catalogue.Exposure{FocalLength: 50, FNumber: 8, Seconds: 0.01, ISO: 100},
		Files:    []catalogue.File{{Kind: catalogue.JPEG, Path: rel, Name: file, Size: int64(len(b)), SHA256: string(id), Card: "A001", Source: "DCIM/" + file}},
		Look:     catalogue.Look{Width: 480, Height: 360, Preview: "decoded", Picture: preview, Palette: []colour.Swatch{swatch}, Surface: &swatch}, Measured: 1}
	if folder != "" {
		f.Subjects = []string{folder}
	}
	if err := s.store.Put(context.Background(), f); err != nil {
		s.t.Fatal(err)
	}
	return id
}

// open opens the desk.
func (s *studio) open() {
	s.t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		s.t.Fatal(err)
	}
	host := l.Addr().String()
	ctx, stop := context.WithCancel(context.Background())
	s.desk, err = New(Options{Dir: s.dir, Store: s.store, Copies: 2, Who: "maja", Hosts: []string{host, "studio.test:1"}, LAN: true, Now: time.Now, Where: time.UTC,
		Stamp:    func() string { says, _ := s.fault.Load().(string); return says },
		Underway: func() string { says, _ := s.said.Load().(string); return says },
		Gather: func(ctx context.Context, before []catalogue.Frame) (audit.Shoot, error) {
			g := audit.Shoot{ID: "SKERRY", Book: s.book, Recipes: slices.Clone(s.plan), Rules: s.rules, Today: s.book.FirstDay}
			if says, _ := s.fault.Load().(string); says != "" {
				return g, errors.New(says)
			}
			if s.held != nil {
				<-s.held
			}
			var err error
			if g.Frames, err = s.store.Bare(ctx, before); err != nil {
				return g, err
			}
			g.Maps = func(ids []catalogue.FrameID) ([]catalogue.Maps, error) { return s.store.Maps(ctx, ids) }
			g.Decisions, err = s.store.Decisions(ctx)
			return g, err
		}})
	if err != nil {
		s.t.Fatal(err)
	}
	server := &httptest.Server{Listener: l, Config: &http.Server{Handler: s.desk.Handler(), BaseContext: func(net.Listener) context.Context { return ctx }}}
	server.Start()
	ran := make(chan error, 1)
	go func() { ran <- s.desk.Run(ctx) }()
	if s.held == nil { // a page does not wait long for it
		if _, err := s.desk.first(ctx); err != nil {
			s.t.Fatal(err)
		}
	}
	s.t.Cleanup(func() {
		stop()
		server.CloseClientConnections()
		server.Close()
		if err := <-ran; err != nil {
			s.t.Error(err)
		}
		s.desk.Close()
	})
	s.server, s.url = server, server.URL
}

// seen waits until the desk has judged n frames.
func (s *studio) seen(t *testing.T, n int) {
	t.Helper()
	for end := time.Now().Add(15 * time.Second); len(s.desk.state().shoot.Frames) != n; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("%d frames were judged, want %d", len(s.desk.state().shoot.Frames), n)
		}
	}
}

// decisions are those that hold.
func (s *studio) decisions() []catalogue.Decision {
	s.t.Helper()
	all, err := s.store.Decisions(context.Background())
	if err != nil {
		s.t.Fatal(err)
	}
	return catalogue.Current(all)
}
