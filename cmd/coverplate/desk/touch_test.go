package desk

import (
	"context"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"

	"coverplate/ingest/catalogue"
)

// finger goes from place to place of the page and is lifted at the last.
func finger(t *testing.T, tab context.Context, way ...[]float64) {
	t.Helper()
	send := func(kind input.DispatchTouchEventType, points ...*input.TouchPoint) {
		t.Helper()
		if points == nil {
			points = []*input.TouchPoint{} // lifted
		}
		if _, err := chromedp.Call(tab, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: points}); err != nil {
			t.Fatal(err)
		}
	}
	kind := input.DispatchTouchEventTypeTouchStart
	for _, at := range way {
		send(kind, &input.TouchPoint{X: at[0], Y: at[1]})
		kind = input.DispatchTouchEventTypeTouchMove
	}
	send(input.DispatchTouchEventTypeTouchEnd)
}

// TestDrawACutByFinger: on a phone, without the page moving under it. (A tap is
// no test here: on a busy machine the browser takes it for a long press.)
func TestDrawACutByFinger(t *testing.T) {
	s := newStudio(t)
	tab := newTab(t)
	do(t, tab, chromedp.EmulateViewport(390, 844, chromedp.EmulateMobile, chromedp.EmulateTouch), chromedp.Navigate(s.url+"/frame/abc000000000"), chromedp.Click("#draw"))
	eventually(t, tab, `!!document.querySelector(".handle")`)
	evaluate[bool](t, tab, `document.querySelector(".handle").scrollIntoView({block: "center"}), true`)
	box := evaluate[[]float64](t, tab, `(r => [r.left, r.top, r.width, r.height, scrollY])(document.querySelector(".handle").getBoundingClientRect())`)
	at := func(x, y float64) []float64 { return []float64{box[0] + x*box[2], box[1] + y*box[3]} }
	finger(t, tab, at(0.25, 0.2), at(0.4, 0.4), at(0.6, 0.6), at(0.75, 0.8))
	if moved := evaluate[float64](t, tab, `scrollY`) - box[4]; moved != 0 {
		t.Errorf("the page moved by %g px under the finger", moved)
	}
	got := evaluate[[]float64](t, tab, `["x","y","w","h"].map(n => +document.querySelector('#cutting [name="'+n+'"]').value)`)
	if x, y, h := got[0], got[1], got[3]; x < 116 || x > 124 || y < 68 || y > 76 || h < 208 || h > 220 {
		t.Fatalf("drawn from (¼, ⅕) to (¾, ⅘) of 480 × 360: %v", got)
	}
	do(t, tab, chromedp.Click(`#cutting button:not([type])`))
	eventually(t, tab, `!!document.querySelector(".done")`)
	if all := s.decisions(); len(all) != 1 || all[0].Kind != catalogue.Crop || float64(all[0].Rect[0]) != got[0] {
		t.Errorf("kept %+v, drawn %v", all, got)
	}
}
