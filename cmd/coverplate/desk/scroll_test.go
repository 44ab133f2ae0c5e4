package desk

import (
	"context"
	"fmt"
	"image/color"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/chromedp"
)

// scrolled is how a page took it to be scrolled through.
type scrolled struct {
	Deltas   []float64 // milliseconds from one drawn frame to the next
	Shift    float64   // layout shift, WICG Layout Instability: shares of the view
	Pictures float64   // that were loaded
	Elements float64   // in the page at the end
	Before   float64   // height that the page had at first, px
	After    float64   // and at last
	CPU      float64   // milliseconds of the page's own thread a drawn frame, however busy the machine is
	Layout   float64   // of them in style and layout
}

// spent is what the page's thread has worked so far, in seconds of CPU.
func spent(t *testing.T, tab context.Context) (all, layout float64) {
	t.Helper()
	if _, err := chromedp.Call(tab, performance.Enable, performance.EnableParams{TimeDomain: performance.EnableTimeDomainThreadTicks}); err != nil {
		t.Fatal(err)
	}
	got, err := chromedp.Call(tab, performance.GetMetrics, cdp.Empty{})
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range got.Metrics {
		switch m.Name {
		case "TaskDuration":
			all = m.Value
		case "LayoutDuration", "RecalcStyleDuration":
			layout += m.Value
		}
	}
	return all, layout
}

// pass scrolls the open page by steps of 90 px, one a drawn frame, as a wheel
// that is turned fast does.
func pass(t *testing.T, tab context.Context, steps int) scrolled {
	t.Helper()
	all, layout := spent(t, tab)
	evaluate[bool](t, tab, fmt.Sprintf(`(() => {
		window.measured = null;
		const deltas = [], before = document.documentElement.scrollHeight;
		let shift = 0, last = 0;
		new PerformanceObserver(l => { for (const e of l.getEntries()) shift += e.value; }).observe({type: "layout-shift", buffered: false});
		const step = now => {
			if (last) deltas.push(now - last);
			last = now;
			scrollBy(0, 90);
			if (deltas.length < %d) { requestAnimationFrame(step); return; }
			const pictures = [...document.images].filter(i => i.complete && i.naturalWidth > 0).length;
			window.measured = {Deltas: deltas, Shift: shift, Pictures: pictures, Elements: document.querySelectorAll("*").length, Before: before, After: document.documentElement.scrollHeight};
		};
		requestAnimationFrame(step);
		return true;
	})()`, steps))
	eventually(t, tab, `window.measured !== null`)
	got := evaluate[scrolled](t, tab, `window.measured`)
	slices.Sort(got.Deltas)
	allNow, layoutNow := spent(t, tab)
	got.CPU, got.Layout = 1000*(allNow-all)/float64(steps), 1000*(layoutNow-layout)/float64(steps)
	return got
}

func (s scrolled) at(share float64) float64 { return s.Deltas[int(share*float64(len(s.Deltas)-1))] }

func (s scrolled) String() string {
	return fmt.Sprintf("%d drawn frames: half within %.1f ms, 95 %% within %.1f, 99 %% within %.1f; %.2f ms of CPU each, %.2f of them layout; %g pictures, %g elements, shift %.4f, %g px high and then %g",
		len(s.Deltas), s.at(0.5), s.at(0.95), s.at(0.99), s.CPU, s.Layout, s.Pictures, s.Elements, s.Shift, s.Before, s.After)
}

// plainPage is as high as the wall and holds nothing but lines: what this
// machine's browser can do at best.
var plainPage = "<!doctype html><title>plain</title>" + strings.Repeat("<p style='height:4rem'>a line</p>", 900)

// TestAWallOfFramesScrolls scrolls fast through all frames of a season, and
// through a plain page beside it. Times are told and not held, they are this
// machine's; held are what makes them: only pictures near the view are fetched,
// nothing jumps, the page is as long as it said and goes on. COVERPLATE_DESK names a desk
// that is open, to be measured instead.
func TestAWallOfFramesScrolls(t *testing.T) {
	tab := newTab(t)
	var asked atomic.Int64
	at := os.Getenv("COVERPLATE_DESK")
	if at == "" {
		at = seasonDesk(t, &asked)
	}
	plain := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, plainPage) }))
	defer plain.Close()
	const steps = 100
	do(t, tab, chromedp.EmulateViewport(1366, 768), chromedp.Navigate(plain.URL))
	beside := pass(t, tab, steps)
	do(t, tab, chromedp.Navigate(at+"/frames?show=all"))
	size := evaluate[float64](t, tab, `performance.getEntriesByType("navigation")[0].decodedBodySize`)
	all := evaluate[float64](t, tab, `document.images.length`)
	wall := pass(t, tab, steps)
	t.Logf("plain: %v", beside)
	t.Logf("wall, %.0f KiB of HTML with %.0f pictures: %v", size/1024, all, wall)
	t.Logf("ratio of the wall to the plain page: half %.2f, 95 %% %.2f, 99 %% %.2f; %d pictures asked of the desk", wall.at(0.5)/beside.at(0.5), wall.at(0.95)/beside.at(0.95), wall.at(0.99)/beside.at(0.99), asked.Load())
	if size > 1<<20 || all < 500 {
		t.Errorf("%.0f bytes of HTML with %.0f pictures", size, all)
	}
	// 100 steps are 9,000 px, and a browser looks up to 2,500 px ahead: rows of a
	// frame are 120 px high and hold 11 pictures.
	if wall.Pictures > 1300 {
		t.Errorf("%g of %g pictures were fetched", wall.Pictures, all)
	}
	if wall.Shift > 0.02 {
		t.Errorf("what was in view moved by %.3f views", wall.Shift)
	}
	// The page goes on where its end comes near, with each frame once.
	eventually(t, tab, fmt.Sprintf(`scrollTo(0, document.documentElement.scrollHeight), document.querySelectorAll('input[name="f"]').length > %g`, all))
	if twice := evaluate[float64](t, tab, `(all => all.length - new Set(all).size)([...document.querySelectorAll('input[name="f"]')].map(x => x.value))`); twice != 0 {
		t.Errorf("%g frames are there twice", twice)
	}
	// It is as long as it said before it was laid out.
	high := evaluate[[]float64](t, tab, `(() => {
		const said = document.documentElement.scrollHeight;
		document.querySelectorAll(".run").forEach(x => x.style.contentVisibility = "visible");
		return [said, document.documentElement.scrollHeight];
	})()`)
	if said, is := high[0], high[1]; said < 0.9*is || said > 1.1*is {
		t.Errorf("the page said %g px and is %g", said, is)
	}
}

// seasonDesk opens a desk of 74 recipes and 6,000 frames, all of one picture;
// asked counts those that are fetched.
func seasonDesk(t *testing.T, asked *atomic.Int64) string {
	t.Helper()
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "previews"), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "previews", "x.jpg"), plate(t, color.RGBA{120, 60, 40, 255}, 384, 256), 0o666); err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	d, err := New(Options{Dir: dir, Who: "maja", Hosts: []string{l.Addr().String()}, Now: time.Now, Where: time.UTC})
	if err != nil {
		t.Fatal(err)
	}
	d.replace(season())
	h := d.Handler()
	server := &httptest.Server{Listener: l, Config: &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, "/picture/") {
			asked.Add(1)
		}
		h.ServeHTTP(w, r)
	})}}
	server.Start()
	t.Cleanup(func() {
		server.CloseClientConnections()
		server.Close()
		d.Close()
	})
	return server.URL
}
