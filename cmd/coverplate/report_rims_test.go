package main

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"strings"
	"testing"

	"coverplate/audit"
	"coverplate/audit/angle"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// The rims that an angle rests on are drawn over the picture that the page
// holds, where they were found: here a light oval dish on a dark ground whose
// rim is known.
func TestReportDrawsTheRims(t *testing.T) {
	const w, h = 400, 300
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	sin, cos := math.Sincos(10 * math.Pi / 180)
	for i := range w * h {
		x, y := float64(i%w)-160, float64(i/w)-140
		u, v := (x*cos+y*sin)/120, (y*cos-x*sin)/80
		c := color.RGBA{60, 60, 70, 255}
		if u*u+v*v <= 1 {
			c = color.RGBA{230, 228, 220, 255}
		}
		img.Set(i%w, i/w, c)
	}
	var pic bytes.Buffer
	if err := jpeg.Encode(&pic, img, nil); err != nil {
		t.Fatal(err)
	}
	r := paperReport()
	id := catalogue.FrameID("")
	for _, rec := range r.Recipes {
		for _, n := range rec.Needs {
			if id == "" && n.Frame != nil {
				id = n.FrameID
			}
		}
	}
	f := catalogue.Frame{ID: id}
	f.Look.Width, f.Look.Height = w, h
	f.Look.Rims = []catalogue.Rim{{X: 0.4, Y: 0.35, A: 0.3, B: 0.2, Turn: 10, Cover: 0.9, Support: 0.9, Score: 0.9},
		{X: 0.9, Y: 0.6, A: 0.09, B: 0.08, Cover: 0.4, Support: 0.5, Score: 0.36}}
	r.Matches, r.Views = []audit.Match{{Frame: id}}, []angle.Reading{angle.Of(f)}
	var b bytes.Buffer
	if err := writeReportHTML(&b, r, plan.Book{}, func(catalogue.FrameID) ([]byte, error) { return pic.Bytes(), nil }, drawings{}); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	for _, want := range []string{
		`<svg class="rims" viewBox="0 0 1 0.75"`,
		`<ellipse rx="0.3000" ry="0.2000" transform="translate(0.4000 0.3500) rotate(10.00)"/>`,
		`<ellipse class="alone" rx="0.0900" ry="0.0800" transform="translate(0.9000 0.6000) rotate(0.00)"/>`,
		"<summary>angle: three-quarter</summary>",
		"a rim of 42°; dashed, one that does not count, of 63°",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %s", want)
		}
	}
	if n := strings.Count(page, `<svg class="rims"`); n != 1 {
		t.Errorf("%d drawings of rims, want one, on the frame's own docket", n)
	}
	if out := os.Getenv("COVERPLATE_PAGE"); out != "" { // to look at it
		open := strings.Replace(page, `<details class="angle">`, `<details class="angle" open>`, 1)
		if err := os.WriteFile(out, []byte(open), 0o600); err != nil {
			t.Fatal(err)
		}
	}

	// Nothing known, nothing drawn, and no frame, no angle.
	r.Views[0] = angle.Reading{Class: plan.UnknownAngle, Why: "no round rim found"}
	b.Reset()
	if err := writeReportHTML(&b, r, plan.Book{}, func(catalogue.FrameID) ([]byte, error) { return pic.Bytes(), nil }, drawings{}); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), `class="rims"`) || strings.Contains(b.String(), "<summary>angle") {
		t.Error("an angle that is not known is drawn")
	}
}
