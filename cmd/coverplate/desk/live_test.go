package desk

import (
	"context"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"

	"coverplate/ingest/catalogue"
)

// another is the shoot as another process has it open, on the catalogue's file.
func (s *studio) another() *studio {
	s.t.Helper()
	store, err := catalogue.Open(filepath.Join(s.dir, "catalogue.db"))
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(func() { store.Close() })
	return &studio{t: s.t, dir: s.dir, store: store}
}

// TestFollowsQuietly: while another process takes frames in, a page that is
// scrolled stays where it is, what did not change is not drawn anew, and focus
// and what was typed stay.
func TestFollowsQuietly(t *testing.T) {
	s := newStudio(t)
	watch := s.another()
	tab := newTab(t)
	do(t, tab, chromedp.EmulateViewport(390, 844), chromedp.Navigate(s.url+"/"))
	eventually(t, tab, `document.querySelectorAll("#wall .docket").length === 3`)
	evaluate[bool](t, tab, `(() => {
		const r1 = document.querySelector("#d-R01"), r3 = document.querySelector("#d-R03 h3 a");
		window.kept = r1.querySelector("img");
		document.querySelector('input[name="q"]').value = "rye";
		r3.focus(); r3.scrollIntoView({block: "center"});
		window.top_ = r3.getBoundingClientRect().top;
		return true;
	})()`)
	watch.frame(30, "R02", "R02_0001.JPG")
	eventually(t, tab, `document.querySelector("#d-R02 img") !== null`)
	if !evaluate[bool](t, tab, `window.kept === document.querySelector("#d-R01 img") && document.querySelector("#d-R02").classList.contains("fresh") && !document.querySelector("#d-R01").classList.contains("fresh")`) {
		t.Error("a docket that did not change was drawn anew")
	}
	if moved := evaluate[float64](t, tab, `document.querySelector("#d-R03 h3 a").getBoundingClientRect().top - window.top_`); moved < -2 || moved > 2 {
		t.Errorf("the docket that was looked at moved by %g px", moved)
	}
	if !evaluate[bool](t, tab, `document.activeElement === document.querySelector("#d-R03 h3 a") && document.querySelector('input[name="q"]').value === "rye"`) {
		t.Error("focus or what was typed is lost")
	}

	// A page that nobody sees asks for nothing, and is new when it is seen again.
	hide := func(hidden string) {
		evaluate[bool](t, tab, `Object.defineProperty(document, "hidden", {value: `+hidden+`, configurable: true}), document.dispatchEvent(new Event("visibilitychange"))`)
	}
	hide("true")
	n := evaluate[float64](t, tab, `performance.getEntriesByType("resource").filter(e => e.initiatorType === "fetch").length`)
	watch.frame(31, "R03", "R03_0002.JPG")
	s.seen(t, 10)
	if asked := evaluate[float64](t, tab, `performance.getEntriesByType("resource").filter(e => e.initiatorType === "fetch").length`); asked != n {
		t.Errorf("%g requests of a page that is hidden", asked-n)
	}
	hide("false")
	eventually(t, tab, `document.querySelector("#d-R03").innerText.includes("2 frames")`)

	// The book's spreads follow too, in grey where they were.
	do(t, tab, chromedp.EmulateViewport(1440, 900), chromedp.Navigate(s.url+"/book"))
	do(t, tab, chromedp.Click("label.switch"))
	was := evaluate[string](t, tab, `document.querySelector("#spreads").innerText`)
	id := watch.frame(32, "R02", "R02_0003.JPG")
	if _, err := watch.store.Decide(context.Background(), catalogue.Decision{Kind: catalogue.Choose, Frame: id, Recipe: "R02", Need: "hero", Who: "ines"}); err != nil {
		t.Fatal(err)
	}
	eventually(t, tab, `document.querySelector("#spreads").innerText.includes("R02_0003.JPG")`)
	if !evaluate[bool](t, tab, `document.getElementById("grey").checked`) || was == evaluate[string](t, tab, `document.querySelector("#spreads").innerText`) {
		t.Error("the book did not follow, or is no longer grey")
	}
}

// TestWhatWasBegunSaysThatItIsOlder: a reason that is being written stays when
// somebody decides on the same need, and the page says so and offers the new.
func TestWhatWasBegunSaysThatItIsOlder(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	do(t, tab, chromedp.EmulateViewport(1440, 900), chromedp.Navigate(s.url+"/dish/R01"),
		chromedp.Click("#waive-half summary"), chromedp.SendKeys(`#waive-half input[name="why"]`, "the page"))
	watch := s.another()
	id := catalogue.FrameID("abc000000002" + "0000000000000000000000000000000000000000000000000002")
	if _, err := watch.store.Decide(context.Background(), catalogue.Decision{Kind: catalogue.Choose, Frame: id, Recipe: "R01", Need: "half", Who: "ines"}); err != nil {
		t.Fatal(err)
	}
	eventually(t, tab, `document.querySelector("#s-half .older") !== null`)
	if got := evaluate[string](t, tab, `document.querySelector('#waive-half input[name="why"]').value`); got != "the page" {
		t.Errorf("what was being written became %q", got)
	}
	do(t, tab, chromedp.Click("#s-half .older button"))
	eventually(t, tab, `document.querySelector("#s-half .older") === null && document.querySelector("#s-half .said").innerText.includes("ines")`)
}

// TestADeskThatIsGoneIsSaid: a page that can't ask any more says so.
func TestADeskThatIsGoneIsSaid(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	do(t, tab, chromedp.Navigate(s.url+"/"))
	eventually(t, tab, `document.querySelectorAll("#wall .docket").length === 3`)
	s.server.CloseClientConnections()
	s.server.Close()
	eventually(t, tab, `document.querySelector("main").innerText.includes("The desk does not answer")`)
}
