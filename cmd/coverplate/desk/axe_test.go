package desk

import (
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"coverplate/ingest/catalogue"
)

// axeViolation is what axe-core reports (its API documentation, "results").
type axeViolation struct {
	ID     string `json:"id"`
	Impact string `json:"impact"`
	Help   string `json:"help"`
	Nodes  []struct {
		HTML    string `json:"html"`
		Summary string `json:"failureSummary"`
	} `json:"nodes"`
}

// TestNothingOfWCAGIsBroken runs axe-core, which checks what a machine can of
// WCAG 2.2 A and AA, on every page, wide and on a phone. CI fetches it from npm
// and says where in COVERPLATE_AXE.
func TestNothingOfWCAGIsBroken(t *testing.T) {
	path := os.Getenv("COVERPLATE_AXE")
	axe, err := os.ReadFile(path)
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("axe-core is wanted in COVERPLATE_AXE: %v", err)
		}
		t.Skip("set COVERPLATE_AXE to axe.min.js of the npm package axe-core")
	}
	s := newStudio(t)
	door := strings.TrimPrefix(s.desk.Link("kitchen", true)[0], "http://studio.test:1")
	host := strings.TrimPrefix(s.url, "http://")
	page := text(t, asked(t, s, "GET", host, "/dish/R01", here, nil))
	token := regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(page)[1]
	asked(t, s, "POST", host, "/decide", here, url.Values{"token": {token}, "saw": {"0"}, "back": {"/"}, "kind": {"choose"}, "frame": {"abc000000000"}, "recipe": {"R01"}, "need": {"hero"}})
	noPicture := catalogue.Frame{ID: catalogue.FrameID(strings.Repeat("e", 64)), Taken: time.Date(2026, 3, 4, 10, 50, 0, 0, time.UTC), Files: []catalogue.File{{Kind: catalogue.JPEG, Path: "originals/x/R01_0050.JPG", Name: "R01_0050.JPG", Size: 1, SHA256: strings.Repeat("e", 64), Card: "A001", Source: "DCIM/R01_0050.JPG"}}}
	if err := s.another().store.Put(context.Background(), noPicture); err != nil {
		t.Fatal(err)
	}
	s.seen(t, 9)
	tab := newTab(t)
	for _, wide := range []int64{1440, 390} {
		do(t, tab, chromedp.EmulateViewport(wide, 900))
		pages := append([]string{"/dish/R01?done=1", door}, everyPage...)
		if wide < 400 { // those that lie otherwise there
			pages = []string{"/", "/dish/R01", "/frame/abc000000000", "/frames", "/frames?show=all", "/book", "/said"}
		}
		for _, page := range pages {
			do(t, tab, chromedp.Navigate(s.url+page))
			unbroken(t, tab, string(axe), fmt.Sprintf("%s at %d", page, wide))
		}
	}
	// Who comes second is told on a page of its own.
	do(t, tab, chromedp.Navigate(s.url+"/dish/R01"))
	evaluate[bool](t, tab, `(() => { const f = document.querySelector("#s-hero .offer form"); f.elements.saw.value = "0"; f.submit(); return true; })()`)
	eventually(t, tab, `document.querySelector("h1").innerText === "Someone was first"`)
	unbroken(t, tab, string(axe), "who comes second")
	do(t, tab, chromedp.Navigate(s.url+"/frame/abc000000001"))
	evaluate[bool](t, tab, `(() => { const f = [...document.forms].find(f => f.elements.kind && f.elements.kind.value === "assign"); f.elements.recipe.value = "R02"; f.submit(); return true; })()`)
	eventually(t, tab, `document.querySelector("h1").innerText === "Its set follows"`)
	unbroken(t, tab, string(axe), "its set follows")
	s.desk.replace(emptyState())
	for _, page := range []string{"/", "/frames", "/book", "/days", "/props", "/said"} {
		do(t, tab, chromedp.Navigate(s.url+page))
		unbroken(t, tab, string(axe), page+" of an empty shoot")
	}
}

// unbroken holds the page that is open against axe-core.
func unbroken(t *testing.T, tab context.Context, axe, where string) {
	t.Helper()
	evaluate[bool](t, tab, axe+`; document.querySelectorAll("details").forEach(d => d.open = true); true`)
	got, err := chromedp.Run(tab, chromedp.Evaluate[string](`axe.run(document, {runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"], resultTypes: ["violations"]}).then(r => JSON.stringify([r.violations, r.passes.length]))`, chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("%s: %v", where, err)
	}
	var broken []axeViolation
	var passes int
	if err := json.Unmarshal([]byte(got), &[]any{&broken, &passes}); err != nil {
		t.Fatal(err)
	}
	if passes < 8 {
		t.Errorf("%s: only %d rules passed: was the page looked at?", where, passes)
	}
	for _, v := range broken {
		for _, n := range v.Nodes[:min(3, len(v.Nodes))] {
			t.Errorf("%s: %s (%s): %s\n  %.200s\n  %s", where, v.ID, v.Impact, v.Help, n.HTML, n.Summary)
		}
	}
}
