package desk

import (
	"context"
	"fmt"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"coverplate/ingest/catalogue"
)

// reach presses Tab until what is asked for has the focus, as a person without
// a mouse does; wherever the focus stands on the way it must be seen.
func reach(t *testing.T, tab context.Context, what string) {
	t.Helper()
	for range 120 {
		at := evaluate[[]bool](t, tab, fmt.Sprintf(`(e => [e.matches(%q), e === document.body || parseFloat(getComputedStyle(e).outlineWidth) >= 2 && getComputedStyle(e).outlineStyle !== "none"])(document.activeElement)`, what))
		if !at[1] {
			t.Errorf("the focus can't be seen on %s", evaluate[string](t, tab, `document.activeElement.outerHTML.slice(0, 120)`))
		}
		if at[0] {
			return
		}
		do(t, tab, chromedp.KeyEvent(kb.Tab))
	}
	t.Fatalf("%s can't be reached with Tab", what)
}

// TestEveryDecisionByKeyboard makes one decision of each kind with the keys
// alone, each from the top of its page.
func TestEveryDecisionByKeyboard(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	if _, err := chromedp.Call(tab, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-reduced-motion", Value: "reduce"}}}); err != nil {
		t.Fatal(err)
	}
	do(t, tab, chromedp.EmulateViewport(1440, 900))
	enter, write := chromedp.KeyEvent(kb.Enter), func(text string) { t.Helper(); do(t, tab, chromedp.KeyEvent(text)) }
	for _, c := range []struct {
		page string
		keys func()
		kind catalogue.DecisionKind
	}{
		{"/dish/R01", func() { reach(t, tab, "#s-hero .offer form button"); do(t, tab, enter) }, catalogue.Choose},
		{"/dish/R01", func() {
			reach(t, tab, "#waive-half summary")
			do(t, tab, enter)
			reach(t, tab, `#waive-half input[name="why"]`)
			write("none is wanted")
			do(t, tab, enter)
		}, catalogue.Waive},
		{"/dish/R01", func() {
			reach(t, tab, `#s-onset input[name="name"][required]`)
			write("tin spoon")
			do(t, tab, enter)
		}, catalogue.Prop},
		{"/dish/R01", func() {
			reach(t, tab, `#s-onset input[placeholder="without garnish"]`)
			write("bare")
			do(t, tab, enter)
		}, catalogue.Variant},
		{"/slate", func() { reach(t, tab, ".coming button"); do(t, tab, enter) }, catalogue.On},
		{"/frame/abc000000001", func() {
			reach(t, tab, "#draw")
			do(t, tab, enter) // the drawn cut has the focus now
			do(t, tab, chromedp.KeyEvent(kb.ArrowRight), chromedp.KeyEvent(kb.ArrowDown))
			reach(t, tab, `button[form="cutting"]`)
			do(t, tab, enter)
		}, catalogue.Crop},
		{"/frame/abc00000000a", func() {
			reach(t, tab, `#other ~ form select[name="recipe"]`)
			write("R02")
			reach(t, tab, "#other ~ form button")
			do(t, tab, enter)
			eventually(t, tab, `location.pathname === "/decide" || document.querySelector(".done") !== null`)
			if evaluate[bool](t, tab, `document.querySelector("h1").innerText === "Its set follows"`) {
				reach(t, tab, `button[value="alone"]`)
				do(t, tab, enter)
			}
		}, catalogue.Assign},
	} {
		before := len(s.decisions())
		do(t, tab, chromedp.Navigate(s.url+c.page))
		c.keys()
		eventually(t, tab, `document.querySelector(".done") !== null`)
		all := s.decisions()
		if len(all) != before+1 || all[len(all)-1].Kind != c.kind {
			t.Fatalf("%s: %+v, want one more, of kind %v", c.page, all, c.kind)
		}
		reach(t, tab, ".done button") // and it is taken back
		do(t, tab, enter)
		eventually(t, tab, `document.querySelector(".done") !== null && document.querySelector(".done").innerText.includes("taken back")`)
		if all := s.decisions(); len(all) != before {
			t.Fatalf("%s: taken back, and %+v hold", c.page, all)
		}
	}
	// Who wants no motion sees none.
	if moves := evaluate[string](t, tab, `(e => { e.classList.add("fresh"); return getComputedStyle(e).animationName; })(document.querySelector("main"))`); moves != "none" {
		t.Errorf("what is new moves by %s", moves)
	}
}
