package main

import (
	"bytes"
	"errors"
	"image"
	"image/jpeg"
	"math"
	"strings"
	"testing"

	"coverplate/audit"
	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/catalogue"
)

// The cuts of a frame are drawn over it to scale, and what names and titles say
// is text, whatever it holds.
func TestCutsAreDrawnOverThePicture(t *testing.T) {
	v := paper.CutsOf("hero", "a.jpg", "data:image/jpeg;base64,AAAA", 6000, 4000, []audit.Cut{
		{For: "print", Rect: crop.Rect{X: 600, Y: 0, Width: 4800, Height: 4000}, Works: crop.Yes, Says: "312 ppi", Trim: [4]float64{0.01, 0.02, 0.03, 0.04}, Fold: 0.05},
		{For: "4:5", Rect: crop.Rect{X: 0, Y: 250, Width: 2800, Height: 3500}, Works: crop.No, Says: "cut"},
	})
	if v == nil || len(v.Cuts) != 2 || math.Abs(v.Tall-2.0/3) > 1e-12 {
		t.Fatalf("%+v", v)
	}
	near := func(what string, got, want float64) {
		if !(math.Abs(got-want) < 1e-9) {
			t.Errorf("%s is %v, want %v", what, got, want)
		}
	}
	c := v.Cuts[0]
	near("left", c.X, 0.1)
	near("width", c.W, 0.8)
	near("height", c.H, 2.0/3)
	near("trim's left", c.TX, 0.1+0.01*0.8)
	near("trim's top", c.TY, 0.02*2/3)
	near("trim's width", c.TW, 0.8*0.96)
	near("trim's height", c.TH, 2.0/3*0.94)
	near("fold's left", c.FX, 0.1+0.8*0.45)
	near("fold's width", c.FW, 0.8*0.1)
	if !c.Drawn || v.Cuts[1].Drawn {
		t.Error("what does not serve is drawn beside what does, or the other way round")
	}
	boxes := boxesOf([]audit.Cut{{For: "4:5", Rect: crop.Rect{X: 0, Y: 250, Width: 2800, Height: 3500}, Works: crop.No}}, 6000, 4000)
	if len(boxes) != 1 || !boxes[0].Dashed || boxes[0].Y != 0.0625 {
		t.Errorf("where none serves the nearest is drawn: %+v", boxes)
	}
	for _, none := range []*paper.Cuts{paper.CutsOf("hero", "a", "", 10, 10, []audit.Cut{{}}), paper.CutsOf("hero", "a", "x", 0, 10, []audit.Cut{{}}), paper.CutsOf("hero", "a", "x", 10, 10, nil), paper.CutsOf("hero", "a", "x", 10, 10, []audit.Cut{{}})} {
		if none != nil {
			t.Errorf("%+v, want nothing", none)
		}
	}
}

func samplePicture(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewRGBA(image.Rect(0, 0, 60, 40)), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestCutsOnThePageAreText(t *testing.T) {
	hostile := `"><script>alert(1)</script>`
	r := paperReport()
	frame := hostile + ".JPG"
	r.Recipes[0].Needs[0].Frame, r.Recipes[0].Needs[0].FrameID = &frame, "aa"
	pictures := func(catalogue.FrameID) ([]byte, error) { return samplePicture(t), nil }
	cuts := func(f audit.Finding) (int, int, []audit.Cut) {
		return 600, 400, []audit.Cut{{For: hostile, Rect: crop.Rect{X: 60, Y: 40, Width: 300, Height: 300}, Works: crop.Look, Says: hostile}}
	}
	seen := func(id catalogue.FrameID) ([]byte, error) {
		if id != "aa" {
			return nil, errors.New("its preview is gone")
		}
		return []byte("drawn"), nil
	}
	var b bytes.Buffer
	if err := writeReportHTML(&b, r, plan.Book{}, pictures, drawings{cuts: cuts, seen: seen}); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	if strings.Contains(page, "<script") {
		t.Error("a name became markup")
	}
	for _, want := range []string{`<summary>how it is cut</summary>`, `<rect class="look" x="0.1000" y="0.0667" width="0.5000" height="0.5000"/>`, `>A</text>`, "&lt;script&gt;", `<summary>what was measured</summary>`, `src="data:image/jpeg;base64,ZHJhd24="`} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %s", want)
		}
	}
}
