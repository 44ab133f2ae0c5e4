package desk

import (
	"context"
	"fmt"
	"image/color"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"coverplate/audit"
	"coverplate/ingest"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/slate"
)

// TestChooseAndTakeBack: a hero is chosen with the mouse, the page says so, the
// decision has its person, and it is taken back.
func TestChooseAndTakeBack(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	do(t, tab, chromedp.EmulateViewport(1440, 900), chromedp.Navigate(s.url+"/dish/R01"),
		chromedp.Click(`#s-hero .offer form button`))
	eventually(t, tab, `!!document.querySelector(".done") && document.querySelector(".done").innerText.includes("R01 Barley broth, hero: R01_")`)
	eventually(t, tab, `!!document.querySelector("#s-hero .offer.chosen")`)
	got := s.decisions()
	if len(got) != 1 || got[0].Kind != catalogue.Choose || got[0].Recipe != "R01" || got[0].Need != "hero" || got[0].Who != "maja" || got[0].Title != "Barley broth" {
		t.Fatalf("the decisions are %+v", got)
	}
	do(t, tab, chromedp.Click(`.done button`))
	eventually(t, tab, `!document.querySelector("#s-hero .offer.chosen") && document.querySelector(".done").innerText.includes("taken back")`)
	if got := s.decisions(); len(got) != 0 {
		t.Errorf("after taking back %v holds", got)
	}
}

// TestAssignARange: three frames are marked from one to another with the
// keyboard alone, and said to show a dish in one act.
func TestAssignARange(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	do(t, tab, chromedp.EmulateViewport(1440, 900), chromedp.Navigate(s.url+"/frames"))
	eventually(t, tab, `document.querySelectorAll('input[name="f"]').length === 3`)
	// Tab until the first frame has the focus, as a person without a mouse does.
	reach := func(what string) {
		t.Helper()
		for range 80 {
			if evaluate[bool](t, tab, `document.activeElement.matches(`+"`"+what+"`"+`)`) {
				return
			}
			do(t, tab, chromedp.KeyEvent(kb.Tab))
		}
		t.Fatalf("%s can't be reached with Tab", what)
	}
	reach(`input[name="f"]`)
	do(t, tab, chromedp.KeyEvent(" "))
	last := `document.querySelectorAll('input[name="f"]')[2] === document.activeElement`
	for range 20 {
		do(t, tab, chromedp.KeyEvent(kb.Tab))
		if evaluate[bool](t, tab, last) {
			break
		}
	}
	do(t, tab, chromedp.KeyEvent(" ", chromedp.KeyModifiers(chromedp.ModifierShift)))
	eventually(t, tab, `document.getElementById("marked").innerText === "3 frames marked"`)
	do(t, tab, chromedp.Focus(`#marking select[name="recipe"]`), chromedp.KeyEvent("R02"), chromedp.KeyEvent(kb.Tab), chromedp.KeyEvent(kb.Enter))
	eventually(t, tab, `!!document.querySelector(".done") && document.querySelector(".done").innerText.includes("shows R02 Rye flatbread and 2 more")`)
	got := s.decisions()
	if len(got) != 3 || got[0].Act == 0 || got[0].Act != got[2].Act || got[1].Recipe != "R02" {
		t.Fatalf("%+v, want three frames in one act", got)
	}
	eventually(t, tab, `document.querySelectorAll('input[name="f"]').length === 0`)
	do(t, tab, chromedp.Click(`.done button`))
	eventually(t, tab, `document.querySelectorAll('input[name="f"]').length === 3`)
	if got := s.decisions(); len(got) != 0 {
		t.Errorf("taken back, and %v holds", got)
	}
}

// TestDrawACut: a cut is drawn with the pointer in the shape that is held, moved
// with the arrows, and kept in pixels of the original.
func TestDrawACut(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	do(t, tab, chromedp.EmulateViewport(1440, 900), chromedp.Navigate(s.url+"/frame/abc000000000"), chromedp.Click("#draw"))
	eventually(t, tab, `!!document.querySelector(".handle")`)
	box := evaluate[[]float64](t, tab, `(() => { const r = document.querySelector(".handle").getBoundingClientRect(); return [r.left, r.top, r.width, r.height]; })()`)
	at := func(x, y float64) (float64, float64) { return box[0] + x*box[2], box[1] + y*box[3] }
	x0, y0 := at(0.25, 0.25)
	x1, y1 := at(0.75, 0.75)
	do(t, tab, chromedp.MouseEvent(chromedp.MousePressed, x0, y0, chromedp.ButtonLeft, chromedp.ClickCount(1)),
		chromedp.MouseEvent(chromedp.MouseMoved, (x0+x1)/2, (y0+y1)/2, chromedp.ButtonLeft),
		chromedp.MouseEvent(chromedp.MouseMoved, x1, y1, chromedp.ButtonLeft),
		chromedp.MouseEvent(chromedp.MouseReleased, x1, y1, chromedp.ButtonLeft, chromedp.ClickCount(1)))
	cut := func() []float64 {
		return evaluate[[]float64](t, tab, `["x","y","w","h"].map(n => +document.querySelector('#cutting [name="'+n+'"]').value)`)
	}
	shape := evaluate[float64](t, tab, `(o => o.dataset.w / o.dataset.h)(document.getElementById("shape").selectedOptions[0])`)
	drawn := cut()
	if x, y, q := drawn[0], drawn[1], drawn[2]/drawn[3]; x < 118 || x > 122 || y < 88 || y > 92 || q < shape-0.02 || q > shape+0.02 || drawn[3] < 176 || drawn[3] > 184 {
		t.Fatalf("drawn from a quarter to three quarters of 480 × 360 in the shape %.3f: %v", shape, drawn)
	}
	do(t, tab, chromedp.Focus(".handle"), chromedp.KeyEvent(kb.ArrowRight))
	if moved := cut(); moved[0] != drawn[0]+5 || moved[2] != drawn[2] {
		t.Errorf("one arrow to the right: %v, from %v", moved, drawn)
	}
	do(t, tab, chromedp.Click(`#cutting button:not([type])`))
	eventually(t, tab, `!!document.querySelector(".done")`)
	got := s.decisions()
	if len(got) != 1 || got[0].Kind != catalogue.Crop || got[0].Need != "half" || float64(got[0].Rect[0]) != drawn[0]+5 || float64(got[0].Rect[3]) != drawn[3] {
		t.Errorf("kept %+v, drawn %v", got, drawn)
	}
}

// TestBookInGrey: the switch turns pictures and swatches into lightness.
func TestBookInGrey(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	do(t, tab, chromedp.EmulateViewport(1440, 900), chromedp.Navigate(s.url+"/book"))
	eventually(t, tab, `document.querySelectorAll(".book .page img").length > 0`)
	grey := `getComputedStyle(document.querySelector(".book .page img")).filter.includes("lightness") && getComputedStyle(document.querySelector(".book .bar .hue")).display === "none"`
	if evaluate[bool](t, tab, grey) {
		t.Fatal("the book is grey before it was asked to be")
	}
	do(t, tab, chromedp.Click("label.switch"))
	eventually(t, tab, grey)
}

// TestFollowsAnIngest: frames that another process takes in change the docket
// of a page that is open, by itself; what was begun in a form is left alone.
func TestFollowsAnIngest(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	do(t, tab, chromedp.EmulateViewport(1440, 900), chromedp.Navigate(s.url+"/"))
	shows := func(word string) string {
		return `document.querySelector("#d-R02 .needs").innerText.includes("` + word + `")`
	}
	eventually(t, tab, shows("shoot"))
	do(t, tab, chromedp.SendKeys(`input[name="q"]`, "rye"))
	s.said.Store("Ingest: 3 of 9 files")
	eventually(t, tab, `document.getElementById("underway").innerText === "Ingest: 3 of 9 files"`)
	s.said.Store("")
	eventually(t, tab, `document.getElementById("underway").innerText === ""`)
	card := filepath.Join(t.TempDir(), "R02 Rye flatbread")
	if err := os.MkdirAll(card, 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(card, "R02_0001.JPG"), plate(t, color.RGBA{120, 70, 30, 255}, 960, 720), 0o666); err != nil {
		t.Fatal(err)
	}
	other, err := catalogue.Open(filepath.Join(s.dir, "catalogue.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	if _, err := ingest.Run(context.Background(), other, ingest.Options{Shoot: s.dir, Sources: []string{filepath.Dir(card)}}, func(ingest.Event) {}); err != nil {
		t.Fatal(err)
	}
	eventually(t, tab, `!(`+shows("shoot")+`) && document.querySelector("#d-R02 img") !== null`)
	if got := evaluate[string](t, tab, `document.querySelector('input[name="q"]').value`); got != "rye" {
		t.Errorf("what was being written became %q", got)
	}
}

// TestABrokenPlanIsSaid: while the author mends the plan the desk shows what it
// knew, and says that it is old; then it goes on.
func TestABrokenPlanIsSaid(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	do(t, tab, chromedp.Navigate(s.url+"/"))
	eventually(t, tab, `document.querySelectorAll("#wall .docket").length === 3`)
	s.fault.Store("plan.csv, row 4: no such page")
	eventually(t, tab, `document.getElementById("fault").innerText.includes("row 4") && document.querySelectorAll("#wall .docket").length === 3`)
	s.fault.Store("")
	eventually(t, tab, `document.getElementById("fault").innerText === ""`)
}

// TestMarkByTouch: with "mark all between two" on, two taps mark what lies
// between.
func TestMarkByTouch(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	do(t, tab, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch), chromedp.Navigate(s.url+"/frames"),
		chromedp.Click("#range"))
	tap := func(n int) {
		at := evaluate[[]float64](t, tab, fmt.Sprintf(`(() => { const x = document.querySelectorAll('.contact img')[%d]; x.scrollIntoView({block: "center"}); const r = x.getBoundingClientRect(); return [r.left + r.width / 2, r.top + r.height / 2]; })()`, n))
		do(t, tab, chromedp.MouseClickXY(at[0], at[1]))
	}
	tap(0)
	tap(2)
	eventually(t, tab, `document.getElementById("marked").innerText === "3 frames marked"`)
}

// TestHostileTextIsShown: titles, names of files and of cameras that hold
// markup stand in every page as they are written.
func TestHostileTextIsShown(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	for _, page := range everyPage {
		do(t, tab, chromedp.Navigate(s.url+page))
		if evaluate[bool](t, tab, `window.owned === 1 || document.querySelector("main script, main b > script, img[onerror]") !== null`) {
			t.Errorf("%s: what was written was obeyed", page)
		}
	}
	do(t, tab, chromedp.Navigate(s.url+"/dish/R03"))
	if got := evaluate[string](t, tab, `document.querySelector("h1").innerText`); !strings.Contains(got, hostile[:20]) {
		t.Errorf("the title reads %q", got)
	}
}

// everyPage is one of each.
var everyPage = []string{"/", "/?size=small", "/?order=day&size=large", "/dish/R01", "/dish/R03", "/frame/abc000000000", "/frame/abc000000000?for=hero",
	"/close?a=abc000000000", "/close?a=abc000000000&b=abc000000001", "/frames", "/frames?show=all", "/book", "/days", "/days?day=2026-03-05", "/props",
	"/cards", "/said", "/slate", "/links", "/nowhere"}

// TestFitsAPhone: no page scrolls sideways on a phone, and what is pressed is
// large enough for a thumb.
func TestFitsAPhone(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	do(t, tab, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch))
	for _, page := range everyPage {
		do(t, tab, chromedp.Navigate(s.url+page))
		if over := evaluate[float64](t, tab, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
			t.Errorf("%s scrolls sideways by %g px", page, over)
		}
		if low := evaluate[[]string](t, tab, `[...document.querySelectorAll("button, select, input:not([type=hidden])")].filter(x => { const r = x.getBoundingClientRect(); return r.width > 0 && (r.height < 21 || r.width < 21); }).map(x => x.outerHTML.slice(0, 80))`); len(low) > 0 {
			t.Errorf("%s: too small for a thumb: %v", page, low)
		}
	}
}

// TestTwoPeopleChoose: who comes second sees what the first did; nothing is
// stored over it, and nothing is lost.
func TestTwoPeopleChoose(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	do(t, tab, chromedp.EmulateViewport(1440, 900), chromedp.Navigate(s.url+"/dish/R01"))
	eventually(t, tab, `document.querySelectorAll("#s-hero .offer form").length >= 2`)
	// Somebody else chooses while this page is open and can't follow.
	token := evaluate[string](t, tab, `document.querySelector('input[name="token"]').value`)
	evaluate[bool](t, tab, `(() => { for (const p of document.querySelectorAll("[data-live]")) p.dataset.begun = "1"; return true; })()`)
	id := catalogue.FrameID(fmt.Sprintf("%012x%052x", 0xabc000000000+uint64(2), 2))
	if _, err := s.store.Decide(context.Background(), catalogue.Decision{Kind: catalogue.Choose, Frame: id, Recipe: "R01", Need: "hero", Who: "ines"}); err != nil {
		t.Fatal(err)
	}
	do(t, tab, chromedp.Click(`#s-hero .offer form button`))
	eventually(t, tab, `document.querySelector("h1").innerText === "Someone was first"`)
	page := evaluate[string](t, tab, `document.querySelector("main").innerText`)
	eventually(t, tab, `[...document.querySelectorAll(".held img")].filter(i => i.naturalWidth > 0).length === 2`) // both pictures
	if !strings.Contains(page, "ines") || !strings.Contains(page, "R01_0002.JPG") {
		t.Errorf("the page does not say what was done: %s", page)
	}
	if got := s.decisions(); len(got) != 1 || got[0].Who != "ines" {
		t.Fatalf("%+v, want the first choice alone", got)
	}
	do(t, tab, chromedp.Click(`main form button`))
	eventually(t, tab, `!!document.querySelector(".done")`)
	all, err := s.store.Decisions(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 2 || all[0].Who != "ines" || all[1].Who != "maja" {
		t.Errorf("%+v, want both, the second replacing", all)
	}
	// What is on another matter is not in the way.
	host := strings.TrimPrefix(s.url, "http://")
	form := url.Values{"token": {token}, "saw": {"0"}, "back": {"/"}, "kind": {"waive"}, "recipe": {"R01"}, "need": {"half"}, "why": {"no post"}}
	if r := asked(t, s, "POST", host, "/decide", here, form); r.StatusCode != 303 {
		t.Errorf("a decision on another matter: %d, want 303", r.StatusCode)
	}
}

// emptyState is a shoot without frames, plan or pages.
func emptyState() *state {
	st := &state{report: audit.Run(audit.Shoot{}), made: time.Now()}
	st.index()
	return st
}

// TestPagesBearAnEmptyShoot: a shoot without frames, plan or pages has pages
// all the same, and none of them says that anything is done.
func TestPagesBearAnEmptyShoot(t *testing.T) {
	s := newStudio(t)
	s.desk.replace(emptyState())
	for _, page := range []string{"/", "/frames", "/frames?show=all", "/book", "/days", "/props", "/said"} {
		if r := asked(t, s, "GET", strings.TrimPrefix(s.url, "http://"), page, here, nil); r.StatusCode != 200 {
			t.Errorf("%s: %d: %s", page, r.StatusCode, text(t, r))
		} else if body := text(t, r); strings.Contains(body, "Nothing is wanting") || strings.Contains(body, "has its dish") || strings.Contains(body, "0 of 0") && page == "/" && strings.Contains(body, "covered") {
			t.Errorf("%s tells of what was never seen: %s", page, body)
		}
	}
}

// TestAPageSaysThatTheShootIsBeingRead and opens by itself when it was, with the
// script or by what it tells the browser.
func TestAPageSaysThatTheShootIsBeingRead(t *testing.T) {
	held := make(chan struct{})
	s := newStudio(t, func(s *studio) { s.held = held })
	release := sync.OnceFunc(func() { close(held) })
	t.Cleanup(release)
	answer, err := http.Get(s.url + "/dish/R01")
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	if answer.StatusCode != http.StatusServiceUnavailable || answer.Header.Get("Refresh") != "3" {
		t.Errorf("while the shoot is read: %s, refresh %q", answer.Status, answer.Header.Get("Refresh"))
	}
	tab := newTab(t)
	do(t, tab, chromedp.Navigate(s.url+"/dish/R01"))
	eventually(t, tab, `document.querySelector("h1").textContent === "The shoot is being read."`)
	if path := os.Getenv("COVERPLATE_AXE"); path != "" {
		axe, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		unbroken(t, tab, string(axe), "while it is read")
	}
	release()
	eventually(t, tab, `document.querySelector("h1").textContent.includes("Barley broth")`)
}

// TestSlateRunsAndFollows: the code in the page is read back from a picture of
// the screen by the reader of slates: it tells the time, and the dish that a
// person said is on set.
func TestSlateRunsAndFollows(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	do(t, tab, chromedp.EmulateViewport(1280, 800), chromedp.Navigate(s.url+"/slate"))
	eventually(t, tab, `document.querySelector("#onset h1").innerText === "Nothing is on set"`)
	do(t, tab, chromedp.Click(`.coming button`))
	eventually(t, tab, `document.querySelector("#onset h1").innerText.startsWith("R01 Barley broth") && !!document.querySelector("#dishcode img") && document.querySelector("#dishcode img").complete`)
	got := s.decisions()
	if len(got) != 1 || got[0].Kind != catalogue.On || got[0].Recipe != "R01" || got[0].From.IsZero() {
		t.Fatalf("%+v, want R01 on set", got)
	}
	first := evaluate[string](t, tab, `document.getElementById("time").innerText`)
	eventually(t, tab, `!!document.querySelector("#clock svg") && document.getElementById("time").innerText !== "`+first+`"`)
	shot, err := chromedp.Run(tab, chromedp.CaptureScreenshot())
	if err != nil {
		t.Fatal(err)
	}
	var dish, clock bool
	for _, text := range codesOn(t, shot) {
		p, err := slate.Parse(text)
		if err != nil {
			continue
		}
		dish = dish || p.Kind == slate.Dish && p.Recipe == "R01" && p.Shoot == "SKERRY"
		clock = clock || p.Kind == slate.Clock && time.Since(p.Shown) < 10*time.Second && time.Since(p.Shown) > -time.Second
	}
	if !dish || !clock {
		t.Errorf("read from the screen: the dish %v, the time %v", dish, clock)
	}
}
