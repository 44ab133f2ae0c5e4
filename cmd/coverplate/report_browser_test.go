package main

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// newBrowser starts a headless Chromium. In CI its absence is a failure.
func newBrowser(t *testing.T) context.Context {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("chromium is not installed: CI must install it")
		}
		t.Skip("chromium is not installed: this page was not looked at by a browser")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.UserDataDir(t.TempDir()))
	alloc, stop := chromedp.NewExecAllocator(t.Context(), opts...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(alloc)
	t.Cleanup(cancel)
	ctx, end := context.WithTimeout(ctx, time.Minute)
	t.Cleanup(end)
	return ctx
}

func TestReportOpensOfflineInABrowser(t *testing.T) {
	ctx := newBrowser(t)
	img := image.NewRGBA(image.Rect(0, 0, 60, 40))
	for i := range img.Pix {
		img.Pix[i] = 200
	}
	img.Set(3, 3, color.White)
	var pic, page bytes.Buffer
	if err := jpeg.Encode(&pic, img, nil); err != nil {
		t.Fatal(err)
	}
	if err := writeReportHTML(&page, paperReport(), plan.Book{TrimWidth: 189, TrimHeight: 246}, func(catalogue.FrameID) ([]byte, error) { return pic.Bytes(), nil }, drawings{}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "report.html")
	if err := os.WriteFile(path, page.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(390, 844), chromedp.Navigate("file://"+path)); err != nil {
		t.Fatal(err)
	}
	pictures := evaluate[int](t, ctx, `document.images.length`)
	broken := evaluate[int](t, ctx, `[...document.images].filter(i => !i.complete || i.naturalWidth !== 60).length`)
	// The style is let in by its hash alone: were the hash wrong, the page would fall back to the browser's own style.
	styled := evaluate[bool](t, ctx, `getComputedStyle(document.body).backgroundColor === "rgb(251, 248, 241)"`)
	overflow := evaluate[bool](t, ctx, `document.documentElement.scrollWidth > innerWidth`)
	if pictures != 4 || broken != 0 {
		t.Errorf("%d pictures, %d of them broken; want 4 and 0", pictures, broken)
	}
	if !styled {
		t.Error("the page's own style was not applied")
	}
	if overflow {
		t.Error("on a phone the page scrolls sideways")
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
