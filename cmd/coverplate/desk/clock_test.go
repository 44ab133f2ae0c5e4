package desk

import (
	"bytes"
	"image/color"
	"image/png"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"coverplate/ingest/slate"
)

// codesOn reads the codes in a picture of a screen, as a camera's would be.
func codesOn(t *testing.T, screen []byte) []string {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(screen))
	if err != nil {
		t.Fatal(err)
	}
	plane := slate.Picture{Width: img.Bounds().Dx(), Height: img.Bounds().Dy()}
	for y := range plane.Height {
		for x := range plane.Width {
			plane.Pix = append(plane.Pix, color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y)
		}
	}
	return slate.Read(plane)
}

// shownOn are the times that they tell.
func shownOn(t *testing.T, screen []byte) []time.Time {
	t.Helper()
	var all []time.Time
	for _, text := range codesOn(t, screen) {
		if p, err := slate.Parse(text); err == nil && p.Kind == slate.Clock {
			all = append(all, p.Shown)
		}
	}
	return all
}

// runningClock serves a clock that tells the time of now, and its address.
func runningClock(t *testing.T, now func() time.Time) (page http.Handler, url string) {
	t.Helper()
	server := httptest.NewUnstartedServer(nil)
	t.Cleanup(server.Close)
	host := server.Listener.Addr().String()
	page, err := Clock{Hosts: []string{host}, Now: now, Where: time.FixedZone("", 2*3600)}.Handler()
	if err != nil {
		t.Fatal(err)
	}
	server.Config.Handler = page
	server.Start()
	return page, server.URL
}

func TestTheClockIsGuarded(t *testing.T) {
	page, url := runningClock(t, time.Now)
	own := strings.TrimPrefix(url, "http://")
	for _, c := range []struct {
		name, method, host, path string
		want                     int
	}{
		{"the page", "GET", own, "/", 200},
		{"its code", "GET", own, "/code/clock", 200},
		{"rebound name", "GET", "evil.example", "/", 403},
		{"a page of the desk", "GET", own, "/dish/R01", 404},
		{"a form", "POST", own, "/", 405},
	} {
		r := httptest.NewRequest(c.method, "http://x"+c.path, nil)
		r.Host = c.host
		w := httptest.NewRecorder()
		page.ServeHTTP(w, r)
		if w.Code != c.want || w.Header().Get("Content-Security-Policy") != policy {
			t.Errorf("%s: %d, want %d", c.name, w.Code, c.want)
		}
	}
}

// TestTheClockRunsOnAScreen: a picture of the screen, read as a camera's would
// be, tells the time, and a second later the next.
func TestTheClockRunsOnAScreen(t *testing.T) {
	tab := newTab(t)
	_, url := runningClock(t, time.Now)
	for _, size := range [][2]int64{{1280, 800}, {412, 892}} { // a laptop, a phone
		do(t, tab, chromedp.EmulateViewport(size[0], size[1]), chromedp.Navigate(url))
		eventually(t, tab, `!!document.querySelector("#clock svg")`)
		var last time.Time
		for range 2 {
			first := evaluate[string](t, tab, `document.getElementById("time").innerText`)
			eventually(t, tab, `document.getElementById("time").innerText !== "`+first+`"`)
			screen, err := chromedp.Run(tab, chromedp.CaptureScreenshot())
			if err != nil {
				t.Fatal(err)
			}
			got := shownOn(t, screen)
			if len(got) != 1 || time.Since(got[0]) > 10*time.Second || time.Since(got[0]) < -time.Second || !got[0].After(last) {
				t.Fatalf("%v: read from the screen: %v, after %v", size, got, last)
			}
			if _, east := got[0].Zone(); east != 2*3600 {
				t.Errorf("its zone is %d s east", east)
			}
			last = got[0]
		}
		if wide := evaluate[int](t, tab, `document.documentElement.scrollWidth`); int64(wide) > size[0] {
			t.Errorf("%v: the page is %d wide", size, wide)
		}
		if !evaluate[bool](t, tab, `["clock", "time"].every(id => { const r = document.getElementById(id).getBoundingClientRect(); return r.left >= 0 && r.top >= 0 && r.right <= innerWidth && r.bottom <= innerHeight; })`) {
			t.Errorf("%v: the code and the time are not both on the screen", size)
		}
		if side, room := evaluate[float64](t, tab, `document.getElementById("clock").getBoundingClientRect().width`), float64(min(size[0], size[1])); side < 0.9*room {
			t.Errorf("%v: the code is %.0f px wide", size, side)
		}
	}
}
