package main

import (
	"bytes"
	"encoding/base64"
	"encoding/csv"
	"errors"
	"image"
	"image/jpeg"
	"strings"
	"testing"

	"charm.land/lipgloss/v2"

	"coverplate/audit"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

func ptr[T any](v T) *T { return &v }

// paperReport is an invented report with each verdict once, a hostile title
// and a title of wide characters.
func paperReport() audit.Report {
	long := "originals/2026-03-04/FJELL-2-000123/SKA_0419.JPG"
	return audit.Report{
		Book: "Skerry Table",
		Seen: audit.Seen{Frames: 12, Cards: []string{"A001", "B001"}, LastFrame: ptr("2026-03-04T17:41:09.12"), Unplaced: 1},
		Recipes: []audit.Recipe{
			{ID: "R02", Title: "Rye with caraway <script>alert(1)</script>\x1b[31m", Pages: "12", Spread: 6, Day: "2026-03-05", Frames: 4, Strike: audit.Hold, StrikeWhy: "hero: look", Needs: []audit.Finding{
				{Need: "hero", Verdict: audit.ToLook, Frame: &long, FrameID: "aa", Why: "focus and light are not measured yet: look at it big", Others: []string{"originals/x.JPG"}},
				{Need: "overhead", Verdict: audit.ToShoot, Why: "no frame of it is taken from above", Others: []string{}},
			}},
			{ID: "R01", Title: "燻製鱒のタルト と 大麦 と ディル 燻製鱒のタルト と 大麦", Pages: "24-25", Spread: 12, Day: "2026-03-04", Frames: 8, Strike: audit.MayStrike, StrikeWhy: "every need is settled", Needs: []audit.Finding{
				{Need: "hero", Verdict: audit.Settled, Frame: &long, FrameID: "bb", Why: "chosen by hand", Others: []string{}},
				{Need: "half", Verdict: audit.ToReshoot, Why: "=the widest half is 960 px, 1080 is the floor", Others: []string{}},
				{Need: "overhead", Verdict: audit.ToShoot, Why: "no frame", Others: []string{}},
				{Need: "palette", Verdict: audit.ToChoose, Why: "two would do", Others: []string{}},
				{Need: "detail", Verdict: audit.Waived, Why: "not wanted", Others: []string{}},
			}},
			{ID: "R03", Title: "Plums", Day: "", Strike: audit.Hold, Needs: []audit.Finding{{Need: "hero", Verdict: audit.ToShoot, Why: "no frame", Others: []string{}}}},
		},
		Spreads: []audit.Spread{
			{Spread: 6, Pages: "12", Recipes: []string{"R02"}, Verdict: audit.ToLook, Why: "the next is unknown", Frame: &long, FrameID: "aa", ToNext: ptr(9.44), Palette: paperPalette(),
				Pictures: []audit.Picture{{Recipe: "R02", Pages: "12", Frame: &long, FrameID: "aa", Palette: paperPalette(), Surface: &colour.Swatch{Hex: "#e0d8c8", Name: "pale yellowish pink"}}},
				Neighbours: []audit.Neighbour{
					{Kind: audit.NextSpread, Spreads: [2]int{6, 12}, Pages: [2]string{"12", "24-25"}, Recipes: [2][]string{{"R02"}, {"R01"}}, Apart: ptr(9.44), Contrast: audit.Alike, Threshold: 10},
				},
				Surfaces: []audit.SurfacePair{{Kind: audit.NextSpread, Ground: audit.SameGround, Why: "R02 (page 12) and R01 (pages 24-25): one surface"}, {Ground: audit.OtherGround, Why: "they differ"}}},
			{Spread: 12, Pages: "24-25", Recipes: []string{"R01"}, Verdict: audit.ToShoot, Why: "no picture yet", Pictures: []audit.Picture{{Recipe: "R01", Pages: "24-25"}},
				Neighbours: []audit.Neighbour{
					{Kind: audit.NextSpread, Spreads: [2]int{12, 13}, Pages: [2]string{"24-25", "26-27"}, Recipes: [2][]string{{"R01"}, {"R04", "R05"}}, Contrast: audit.Unknown, Threshold: 10, Why: "R01 (pages 24-25) and R04, R05 (pages 26-27), the next: not known, R01 has no picture yet"},
				}},
		},
		Days:     audit.Pace{Done: 1, Of: 3, DaysLeft: 2, NeededPerDay: ptr(1.0), OnPace: true, Why: "on pace"},
		Props:    []audit.Prop{{Prop: "grey stoneware bowl", Recipes: []string{"R01", "R02"}, Spreads: []int{6, 12}, Why: "planned for both"}},
		Notes:    []audit.Note{{Kind: "decision", Recipe: "R01", Frame: "ccdd", Says: "the chosen frame is gone"}},
		Unplaced: []audit.UnplacedNote{{Frame: "originals/2026-03-04/b/SKA_0007.JPG", FrameID: "cc", Why: "nothing names a dish", Guesses: []string{"R02"}}},
	}
}

func paperPalette() []colour.Swatch {
	return []colour.Swatch{{Hex: "#b5651d", Lab: colour.Lab{L: 50.04, A: 27.3, B: 50.8}, Share: 0.6, Name: "strong brown"},
		{Hex: "#224422", Lab: colour.Lab{L: 25.5, A: -19.4, B: 16.1}, Share: 0.4, Name: "dark green", Accent: true}}
}

func TestReportAtTheTerminal(t *testing.T) {
	for _, width := range []int{40, 80, 132} {
		var b bytes.Buffer
		if err := renderReport(&b, paperReport(), termOptions{Width: width}); err != nil {
			t.Fatal(err)
		}
		for _, line := range strings.Split(b.String(), "\n") {
			if w := lipgloss.Width(line); w > width && strings.Contains(strings.TrimSpace(line), " ") {
				t.Errorf("width %d: line of %d columns: %q", width, w, line)
			}
			if strings.ContainsAny(line, "\x1b\t\r") {
				t.Errorf("width %d: a piped report holds a control character: %q", width, line)
			}
		}
		// What must be done, in the order of doing; within it by day, then page.
		at := -1
		for _, want := range []string{"SHOOT", "Wednesday 4 March 2026", "R01", "Thursday 5 March 2026", "R02", "no day planned", "R03", "RESHOOT", "LOOK", "CHOOSE", "SETS", "PROPS", "TO KNOW", "R01: the chosen frame is gone", "UNPLACED"} {
			i := strings.Index(b.String()[at+1:], want)
			if i < 0 {
				t.Fatalf("width %d: %q is missing or out of order in\n%s", width, want, b.String())
			}
			at += 1 + i
		}
		if strings.Contains(b.String(), "settled:") {
			t.Errorf("a settled need is listed as something to do:\n%s", b.String())
		}
	}
}

func TestReportSaysWhatItHasNotSeen(t *testing.T) {
	for name, s := range map[string]audit.Seen{"nothing seen": {}, "one frame": {Frames: 1}, "many": {Frames: 9, Cards: []string{"A"}, LastFrame: ptr("2026-03-04T17:41:09")}} {
		if got := paper.SeenSays(s); !strings.Contains(got, "Nothing is known of frames still in a camera.") {
			t.Errorf("%s: seenSays = %q", name, got)
		}
	}
	if got, want := paper.SeenSays(audit.Seen{Frames: 412, Cards: []string{"A001", "B001"}, LastFrame: ptr("2026-03-04T17:41:09")}),
		"Seen: 412 frames from cards A001 and B001, the last taken at 17:41 on 4 March 2026. Nothing is known of frames still in a camera."; got != want {
		t.Errorf("seenSays = %q, want %q", got, want)
	}
}

type brokenPipe struct{}

func (brokenPipe) Write([]byte) (int, error) { return 0, errors.New("broken pipe") }

func TestRenderingTellsOfABrokenPipe(t *testing.T) {
	if err := renderReport(brokenPipe{}, paperReport(), termOptions{Width: 80}); err == nil {
		t.Error("renderReport to a broken pipe: no error")
	}
	if err := renderFlatplan(brokenPipe{}, paperReport(), termOptions{Width: 80}); err == nil {
		t.Error("renderFlatplan to a broken pipe: no error")
	}
}

func TestReportAsCSV(t *testing.T) {
	var b bytes.Buffer
	if err := writeReportCSV(&b, paperReport()); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 1+8 {
		t.Errorf("%d rows, want a header and 8 needs", len(rows))
	}
	for _, row := range rows {
		for _, cell := range row {
			if strings.HasPrefix(cell, "=") {
				t.Errorf("a spreadsheet would run the cell %q", cell)
			}
		}
	}
}

func TestReportAsHTMLEscapesStrangersText(t *testing.T) {
	var pic bytes.Buffer
	if err := jpeg.Encode(&pic, image.NewGray(image.Rect(0, 0, 8, 8)), nil); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	err := writeReportHTML(&b, paperReport(), plan.Book{}, func(id catalogue.FrameID) ([]byte, error) {
		if id == "bb" {
			return nil, errors.New("preview is gone")
		}
		return pic.Bytes(), nil
	}, drawings{})
	if err != nil {
		t.Fatal(err)
	}
	page := b.String()
	if strings.Contains(page, "<script") {
		t.Error("a title of the plan reached the page unescaped")
	}
	if strings.Contains(page, "http://") || strings.Contains(page, "https://") {
		t.Error("the page names something outside itself")
	}
	small, err := look.Smaller(pic.Bytes(), embedSide)
	if err != nil {
		t.Fatal(err)
	}
	if code := base64.StdEncoding.EncodeToString(small); !strings.Contains(page, code) && !strings.Contains(page, strings.ReplaceAll(code, "+", "&#43;")) {
		t.Error("the picture of frame aa is not in the page")
	}
	if !strings.Contains(page, "R01: the chosen frame is gone") {
		t.Error("a note of the report is not in the page")
	}
	if !strings.Contains(page, "no picture yet") {
		t.Error("a missing picture is not said")
	}
}
