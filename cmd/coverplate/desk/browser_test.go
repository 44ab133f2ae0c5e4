package desk

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// One Chromium for all tests of the package: its start is what costs.
var chromium struct {
	once sync.Once
	ctx  context.Context
	stop func()
	why  string
}

func TestMain(m *testing.M) {
	code := m.Run()
	if chromium.stop != nil {
		chromium.stop()
	}
	os.Exit(code)
}

// newTab opens a tab of the one browser. In CI its absence is a failure.
func newTab(t *testing.T) context.Context {
	t.Helper()
	if testing.Short() {
		t.Skip("the run without -short looks at the pages with a browser")
	}
	chromium.once.Do(func() {
		path, err := exec.LookPath("chromium")
		if err != nil {
			chromium.why = "chromium is not installed: the pages were not looked at by a browser"
			return
		}
		dir, err := os.MkdirTemp("", "coverplate-desk-browser-")
		if err != nil {
			chromium.why = err.Error()
			return
		}
		opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox,
			chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.UserDataDir(dir))
		alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), opts...)
		ctx, stop := chromedp.NewContext(alloc)
		chromium.stop = func() { stop(); stopAlloc(); os.RemoveAll(dir) }
		if err := chromedp.Do(ctx); err != nil { // the browser lives as long as its first context
			chromium.why = err.Error()
			return
		}
		chromium.ctx = ctx
	})
	if chromium.ctx == nil {
		if os.Getenv("CI") != "" {
			t.Fatal(chromium.why)
		}
		t.Skip(chromium.why)
	}
	tab, close := chromedp.NewContext(chromium.ctx)
	t.Cleanup(close)
	tab, end := context.WithTimeout(tab, time.Minute)
	t.Cleanup(end)
	return tab
}

func do(t *testing.T, ctx context.Context, steps ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.Fatal(err)
	}
}

func evaluate[T any](t *testing.T, ctx context.Context, expression string) T {
	t.Helper()
	got, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		t.Fatalf("%s: %v", expression, err)
	}
	return got
}

// eventually waits until an expression is true in the page.
func eventually(t *testing.T, ctx context.Context, expression string) {
	t.Helper()
	for end := time.Now().Add(15 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		got, err := chromedp.Run(ctx, chromedp.Evaluate[bool](expression))
		if err == nil && got {
			return
		}
		if time.Now().After(end) {
			body, _ := chromedp.Run(ctx, chromedp.Evaluate[string](`document.body.innerText.slice(0, 1500)`))
			t.Fatalf("never true: %s (%v)\n%s", expression, err, body)
		}
	}
}

// TestScreens takes pictures of the pages of a desk that is open, for eyes:
//
//	COVERPLATE_SHOTS=/tmp/shots COVERPLATE_DESK=http://127.0.0.1:8473 go test -run TestScreens ./cmd/coverplate/desk
//
// COVERPLATE_PAGES names other pages than the usual and COVERPLATE_VIEWS other
// sizes, 1366x768 for one, by spaces; with COVERPLATE_WHOLE a page is taken whole.
func TestScreens(t *testing.T) {
	dir, at := os.Getenv("COVERPLATE_SHOTS"), os.Getenv("COVERPLATE_DESK")
	if dir == "" || at == "" {
		t.Skip("pictures for eyes: set COVERPLATE_SHOTS and COVERPLATE_DESK")
	}
	pages := strings.Fields(os.Getenv("COVERPLATE_PAGES"))
	if len(pages) == 0 {
		pages = []string{"/", "/?size=small", "/frames", "/frames?show=all", "/book", "/days", "/props", "/cards", "/said"}
	}
	views := strings.Fields(os.Getenv("COVERPLATE_VIEWS"))
	if len(views) == 0 {
		views = []string{"1440x900", "820x1180", "390x844"}
	}
	for _, page := range pages {
		ctx, shut := context.WithCancel(newTab(t)) // each has its minute, and no page keeps a connection from the others
		for _, view := range views {
			var wide, high int64
			if _, err := fmt.Sscanf(view, "%dx%d", &wide, &high); err != nil {
				t.Fatalf("COVERPLATE_VIEWS %q: %v", view, err)
			}
			do(t, ctx, chromedp.EmulateViewport(wide, high), chromedp.Navigate(at+page), chromedp.Sleep(time.Second))
			shot, err := chromedp.Run(ctx, chromedp.CaptureScreenshot())
			if os.Getenv("COVERPLATE_WHOLE") != "" { // also what waits until it is scrolled to
				evaluate[bool](t, ctx, `document.querySelectorAll("body *").forEach(e => { e.style.contentVisibility = "visible"; if (e.loading) e.loading = "eager"; }), true`)
				do(t, ctx, chromedp.Sleep(time.Second))
				shot, err = chromedp.Run(ctx, chromedp.FullScreenshot(100))
			}
			if err != nil {
				t.Fatal(err)
			}
			name := strings.Trim(strings.NewReplacer("/", "_", "?", "_", "=", "_", "&", "_", "#", "_").Replace(page), "_")
			if name == "" {
				name = "wall"
			}
			if err := os.WriteFile(filepath.Join(dir, fmt.Sprintf("%s-%d.png", name, wide)), shot, 0o644); err != nil {
				t.Fatal(err)
			}
			if over := evaluate[float64](t, ctx, `document.documentElement.scrollWidth - innerWidth`); over > 0 {
				t.Errorf("%s at %d: scrolls sideways by %g px", page, wide, over)
			}
		}
		do(t, ctx, chromedp.Navigate("about:blank"))
		shut()
	}
}
