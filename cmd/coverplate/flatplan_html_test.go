package main

import (
	"bytes"
	"context"
	"fmt"
	"html/template"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// plateOf is a small JPEG of one colour.
func plateOf(t testing.TB, c color.Color, w, h int) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.Set(x, y, c)
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func flatplanPageOf(t testing.TB, r audit.Report, l audit.Likeness, g audit.Suggestion, pictures func(catalogue.FrameID) ([]byte, error)) string {
	t.Helper()
	var b bytes.Buffer
	if err := writeFlatplanHTML(&b, r, l, g, plan.Book{TrimWidth: 189, TrimHeight: 246}, pictures, baseName); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestFlatplanAsHTMLEscapesStrangersText(t *testing.T) {
	r, l := bookOf(5)
	hostile := `<img src=x onerror=alert(1)>"'</style><script>alert(2)</script>`
	for i := range r.Recipes {
		r.Recipes[i].Title = hostile
	}
	l.Twins = append(l.Twins, audit.Twin{Recipes: [2]string{"R01", "R02"}, Pages: [2]string{hostile, "7"}, Frames: [2]string{hostile, hostile}})
	g := paperSuggestion()
	g.Why, g.Changes[0].Why, g.Changes[0].To, g.Unknown[0].Why = hostile, hostile, hostile, hostile
	page := flatplanPageOf(t, r, l, g, nil)
	for _, bad := range []string{"<script", "<img src=x", "</style><", "http://", "https://", "url(http", "ZgotmplZ"} {
		if strings.Contains(page, bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	if !strings.Contains(page, "&lt;script&gt;") {
		t.Error("a hostile title is not shown as it is written")
	}
}

func TestFlatplanAsHTMLSaysItAll(t *testing.T) {
	r, l := bookOf(37)
	page := flatplanPageOf(t, r, l, paperSuggestion(), func(catalogue.FrameID) ([]byte, error) { return plateOf(t, color.White, 60, 90), nil })
	text := strings.Join(strings.Fields(page), " ")
	for _, s := range r.Spreads {
		for _, p := range s.Pictures {
			for _, w := range p.Palette {
				if !strings.Contains(page, w.Name+" "+w.Hex) {
					t.Errorf("%s: the swatch %s %s is not named", p.Recipe, w.Name, w.Hex)
				}
			}
		}
	}
	for _, want := range []string{"<b>too alike</b>", "<b>fine</b>", "<b>unknown</b>", "has no picture yet", "no picture yet", "Nearest neighbour <b>4.0</b> now, <b>12.3</b> then", "coverplate choose",
		"Argued with", "no frame shows it", "12 of 40 frames weighed"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing", want)
		}
	}
	// Figures of the matrix: each once a cell and no more, twins marked by a sign.
	cells, twins, unknown := 0, 0, 0
	for i, row := range l.Apart {
		for j, x := range row {
			cells++
			switch {
			case i == j:
			case x == nil:
				unknown++
			case *x < l.Threshold:
				twins++
			}
		}
	}
	whole := page[strings.Index(page, `<table class="matrix">`):]
	whole = whole[:strings.Index(whole, "</table>")]
	if got := strings.Count(whole, "<td"); got != cells {
		t.Errorf("%d cells, want %d", got, cells)
	}
	if got := strings.Count(whole, "≈"); got != twins || twins == 0 {
		t.Errorf("%d near twins are marked, want %d, one at least", got, twins)
	}
	if got := strings.Count(whole, ">?<"); got != unknown || unknown == 0 {
		t.Errorf("%d cells are unknown, want %d, one at least", got, unknown)
	}
	if strings.Count(page, `<table class="matrix">`) != 1 {
		t.Error("a book of 37 spreads needs one matrix, screen and paper alike")
	}
}

// A matrix too wide for a sheet is printed in parts that hold every figure.
func TestWideMatrixIsCutForPaper(t *testing.T) {
	r, l := bookOf(74)
	m := paper.MatrixOf(l, r.Spreads, nil)
	if len(m.Sheets) != 2 {
		t.Fatalf("%d parts, want 2", len(m.Sheets))
	}
	for i, row := range m.Whole.Rows {
		var joined []paper.MatrixCell
		for _, p := range m.Sheets {
			if len(p.Heads) != len(p.Rows[i].Cells) || len(p.Heads) > paper.MatrixSheet {
				t.Fatalf("%d heads over %d cells", len(p.Heads), len(p.Rows[i].Cells))
			}
			joined = append(joined, p.Rows[i].Cells...)
		}
		if fmt.Sprint(joined) != fmt.Sprint(row.Cells) {
			t.Fatalf("row %d is %v on paper and %v on the screen", i, joined, row.Cells)
		}
	}
}

// Verso, recto and the picture over the gutter stand where the book has them.
func TestLeavesOfASpread(t *testing.T) {
	at := func(pages ...string) string {
		s := audit.Spread{Spread: 6}
		for _, p := range pages {
			s.Pictures = append(s.Pictures, audit.Picture{Recipe: "on " + p, Pages: p})
		}
		var says []string
		for _, l := range paper.SpreadOf(s, nil, func(catalogue.FrameID) template.URL { return "" }).Leaves {
			for _, p := range l.Pictures {
				says = append(says, l.Side+" "+p.Recipe)
			}
			says = append(says, fmt.Sprint(l.Side, l.Folios))
		}
		return strings.Join(says, "; ")
	}
	for _, c := range []struct{ got, want string }{
		{at("12"), "verso on 12; verso[12]; recto[13]"},
		{at("13"), "verso[12]; recto on 13; recto[13]"},
		{at("12", "13"), "verso on 12; verso[12]; recto on 13; recto[13]"},
		{at("12-13"), "both on 12-13; both[12 13]"},
		{at("12", "12-13"), "both on 12; both on 12-13; both[12 13]"},
	} {
		if c.got != c.want {
			t.Errorf("leaves %q, want %q", c.got, c.want)
		}
	}
}

// The grey of a swatch is as light as the swatch, whatever its hue.
func TestGreyOfASwatch(t *testing.T) {
	for _, c := range []struct {
		lab  colour.Lab
		want string
	}{
		{colour.Lab{L: 50, A: 60, B: 40}, "#777777"},    // L* 50 is code 119 of sRGB (119/255 → Y 0.1845; CIE 15 gives Y 0.1842)
		{colour.Lab{L: 100, A: 0, B: 0}, "#ffffff"},     // white
		{colour.Lab{L: 0, A: 0, B: 0}, "#000000"},       // black
		{colour.Lab{L: 97.6, A: -16, B: 93}, "#f8f8f8"}, // yellow is nearly white
	} {
		if got := paper.GreyOf(colour.Swatch{Lab: c.lab}); got != c.want {
			t.Errorf("the grey of %v is %s, want %s", c.lab, got, c.want)
		}
	}
}

// TestFlatplanInABrowser opens the page from disk: the style is let in, the
// page fits a phone, and the value check turns swatches and pictures into the
// grey of their L*, seen in the pixels of the screen.
func TestFlatplanInABrowser(t *testing.T) {
	ctx := newBrowser(t)
	r, l := bookOf(12)
	plates := []color.RGBA{{200, 30, 40, 255}, {30, 90, 200, 255}, {40, 160, 60, 255}, {230, 200, 40, 255}}
	shown := map[catalogue.FrameID]color.RGBA{}
	for _, s := range r.Spreads {
		for _, p := range s.Pictures {
			shown[p.FrameID] = plates[len(shown)%len(plates)]
		}
	}
	page := flatplanPageOf(t, r, l, paperSuggestion(), func(id catalogue.FrameID) ([]byte, error) { return plateOf(t, shown[id], 300, 450), nil })
	path := filepath.Join(t.TempDir(), "flatplan.html")
	if err := os.WriteFile(path, []byte(page), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(390, 844), chromedp.Navigate("file://"+path)); err != nil {
		t.Fatal(err)
	}
	if evaluate[bool](t, ctx, `document.documentElement.scrollWidth > innerWidth`) {
		t.Error("on a phone the page scrolls sideways")
	}
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(1440, 1000)); err != nil {
		t.Fatal(err)
	}
	if !evaluate[bool](t, ctx, `getComputedStyle(document.body).backgroundColor === "rgb(251, 248, 241)"`) {
		t.Error("the page's own style was not applied")
	}
	if n := evaluate[int](t, ctx, `[...document.images].filter(i => !i.complete || !i.naturalWidth).length`); n != 0 {
		t.Errorf("%d pictures are broken", n)
	}
	// The matrix holds the figures, and its heads stay while it is scrolled.
	for _, at := range [][2]int{{0, 1}, {3, 7}, {11, 2}} {
		got := evaluate[string](t, ctx, fmt.Sprintf(`document.querySelector(".matrix").tBodies[0].rows[%d].querySelectorAll("td")[%d].innerText`, at[0], at[1]))
		want := "?"
		if x := l.Apart[at[0]][at[1]]; x != nil {
			want = fmt.Sprintf("%.1f", *x)
		}
		if strings.TrimPrefix(got, "≈") != want {
			t.Errorf("the matrix has %q at %v, want %q", got, at, want)
		}
	}
	if got := evaluate[string](t, ctx, `["thead th", "tbody th"].map(q => getComputedStyle(document.querySelector(".matrix " + q)).position).join(" ")`); got != "sticky sticky" {
		t.Errorf("the heads of the matrix are %q", got)
	}

	names := evaluate[string](t, ctx, `document.querySelector("ul.names").innerText`)
	if w := r.Spreads[0].Pictures[0].Palette[0]; !strings.Contains(names, w.Name+" "+w.Hex) || strings.Contains(names, "L ") {
		t.Errorf("the names beside the first palette are %q", names)
	}
	const isShown = `getComputedStyle(document.querySelector(".bar .%s")).display !== "none"`
	if !evaluate[bool](t, ctx, fmt.Sprintf(isShown, "hue")) || evaluate[bool](t, ctx, fmt.Sprintf(isShown, "value")) {
		t.Error("before the switch the swatches are not in colour")
	}
	if err := chromedp.Do(ctx, chromedp.Click("label.switch")); err != nil {
		t.Fatal(err)
	}
	if evaluate[bool](t, ctx, fmt.Sprintf(isShown, "hue")) || !evaluate[bool](t, ctx, fmt.Sprintf(isShown, "value")) {
		t.Error("after the switch the swatches are not in grey")
	}
	if names := evaluate[string](t, ctx, `document.querySelector("ul.names").innerText`); !strings.Contains(names, "L ") {
		t.Errorf("after the switch the lightness is not named: %q", names)
	}
	for i, want := range plates {
		c := colour.SRGB.ToXYZ(colour.SRGB.Linearise(colour.Encoded{R: float64(want.R) / 255, G: float64(want.G) / 255, B: float64(want.B) / 255})).Lab()
		checkGrey(t, ctx, ".page img", i, 0.5, 0.4, c.L)
	}
	checkGrey(t, ctx, ".bar", 0, 0.1, 0.5, r.Spreads[0].Pictures[0].Palette[0].Lab.L)
}

// checkGrey looks at the nth of the elements on the screen: the pixel at the
// given shares of its width and height must be a grey of the given L*. A code
// of 255 is 0.4 of L*, and JPEG errs by one or two.
func checkGrey(t *testing.T, ctx context.Context, query string, n int, x, y, want float64) {
	t.Helper()
	evaluate[bool](t, ctx, fmt.Sprintf(`(document.querySelector("#probe")?.removeAttribute("id"), document.querySelectorAll(%q)[%d].id = "probe", true)`, query, n))
	shot, err := chromedp.Run(ctx, chromedp.Screenshot("#probe"))
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(shot))
	if err != nil {
		t.Fatal(err)
	}
	r, g, b, _ := img.At(int(x*float64(img.Bounds().Dx())), int(y*float64(img.Bounds().Dy()))).RGBA()
	v := float64(g>>8) / 255
	got := colour.SRGB.ToXYZ(colour.SRGB.Linearise(colour.Encoded{R: v, G: v, B: v})).Lab().L
	if r != g || g != b || !(math.Abs(got-want) <= 1) {
		t.Errorf("%s %d is %d, %d, %d on the screen, L* %.1f; want a grey of L* %.1f", query, n, r>>8, g>>8, b>>8, got, want)
	}
}

// TestReportOfAWholeBook says how large the pages of a book of 74 dishes are,
// with pictures as busy as photographs: previews of 1024 pixels whose small
// versions weigh what those of real food photographs do (BenchmarkSmaller in
// ingest/look: 27 kB at 420 pixels).
func TestReportOfAWholeBook(t *testing.T) {
	r, l := bookOf(41)
	if len(r.Recipes) < 74 {
		t.Fatalf("%d recipes, want 74 or more", len(r.Recipes))
	}
	busy := busyPlate(t)
	pictures := func(catalogue.FrameID) ([]byte, error) { return busy, nil }
	for i := range r.Recipes {
		id := catalogue.FrameID("0") // one picture stands for all: it is made smaller once, and embedded each time
		r.Recipes[i].Needs = []audit.Finding{{Need: "hero", Verdict: audit.Settled, Frame: ptr("x.JPG"), FrameID: id, Why: "chosen by hand"}}
	}
	for _, s := range r.Spreads {
		for i := range s.Pictures {
			s.Pictures[i].FrameID = "0"
		}
	}
	var report bytes.Buffer
	if err := writeReportHTML(&report, r, plan.Book{}, pictures, drawings{}); err != nil {
		t.Fatal(err)
	}
	page := flatplanPageOf(t, r, l, paperSuggestion(), pictures)
	t.Logf("%d recipes: report %.1f MB, flat plan %.1f MB, a preview of %d kB", len(r.Recipes), float64(report.Len())/1e6, float64(len(page))/1e6, len(busy)/1000)
	if report.Len() > 8e6 || len(page) > 8e6 {
		t.Errorf("the report is %d bytes and the flat plan %d; want at most 8 MB each", report.Len(), len(page))
	}
}

// busyPlate is a preview with detail at every size, as a photograph has.
func busyPlate(t testing.TB) []byte {
	t.Helper()
	rnd := rand.New(rand.NewPCG(1, 2))
	img := image.NewRGBA(image.Rect(0, 0, 683, 1024))
	level := make([][3]float64, 683*1024)
	for cell := 256; cell >= 1; cell /= 2 {
		w := 683/cell + 2
		grid := make([][3]float64, w*(1024/cell+2))
		for i := range grid {
			for c := range 3 {
				grid[i][c] = (rnd.Float64() - 0.5) * 12 * math.Pow(float64(cell), 0.2)
			}
		}
		for y := range 1024 {
			for x := range 683 {
				g := grid[y/cell*w+x/cell]
				for c := range 3 {
					level[y*683+x][c] += g[c]
				}
			}
		}
	}
	for i, p := range level {
		img.Set(i%683, i/683, color.RGBA{uint8(min(255, max(0, 130+p[0]))), uint8(min(255, max(0, 110+p[1]))), uint8(min(255, max(0, 90+p[2]))), 255})
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 85}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
