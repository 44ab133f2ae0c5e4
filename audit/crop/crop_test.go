package crop

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// table reads a file of check values: the rows as maps by header.
func table(t *testing.T, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, rec := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = rec[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func num(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// The rows are those of reference file 05_print_ppi.csv: the definition of
// pixels an inch worked out in exact fractions.
func TestPPIOfPublishedBoxes(t *testing.T) {
	rows := table(t, "testdata/print_ppi.csv")
	if len(rows) != 264 {
		t.Fatalf("%d rows, want 264", len(rows))
	}
	for i, row := range rows {
		pw, ph := int(num(t, row["px_w"])), int(num(t, row["px_h"]))
		bw, bh := num(t, row["box_w_mm"]), num(t, row["box_h_mm"])
		const tol = 0.5e-4 // four decimals
		if got, want := PPI(pw, ph, bw, bh), num(t, row["ppi"]); !(math.Abs(got-want) <= tol) {
			t.Errorf("row %d: PPI(%d, %d, %v, %v) = %.5f, want %.4f", i, pw, ph, bw, bh, got, want)
		}
		w, h := Cover(pw, ph, bw, bh)
		const tolUsed = 0.5e-3 // three decimals
		if !(math.Abs(w-num(t, row["used_px_w"])) <= tolUsed) || !(math.Abs(h-num(t, row["used_px_h"])) <= tolUsed) {
			t.Errorf("row %d: Cover = %.4f × %.4f, want %s × %s", i, w, h, row["used_px_w"], row["used_px_h"])
		}
		nw, nh := Need(bw, bh, 300)
		if nw != int(num(t, row["need300_w"])) || nh != int(num(t, row["need300_h"])) {
			t.Errorf("row %d: Need(%v, %v, 300) = %d × %d, want %s × %s", i, bw, bh, nw, nh, row["need300_w"], row["need300_h"])
		}
	}
}

// The rows are those of reference file 06_crop_cases.csv: whole-pixel crops,
// by formula and by exhaustive search.
func TestLargestCropOfPublishedHalves(t *testing.T) {
	rows := table(t, "testdata/crop_cases.csv")
	if len(rows) != 72 {
		t.Fatalf("%d rows, want 72", len(rows))
	}
	for i, row := range rows {
		n := func(name string) int { return int(num(t, row[name])) }
		s := Shape{Name: row["ratio"], Width: n("target_w"), Height: n("target_h")}
		rw, rh := s.Ratio()
		if got := strconv.Itoa(rw) + ":" + strconv.Itoa(rh); got != row["ratio"] {
			t.Errorf("row %d: ratio %s, want %s", i, got, row["ratio"])
		}
		if w, h := Largest(n("box_w"), n("box_h"), rw, rh); w != n("crop_w") || h != n("crop_h") {
			t.Errorf("row %d: Largest = %d × %d, want %d × %d", i, w, h, n("crop_w"), n("crop_h"))
		}
		sides := map[string][]Side{"half_l": {Left, Right, BetweenLR}, "half_t": {Top, Bottom, BetweenTB}}[row["box"]]
		found := 0
		for _, half := range Halves(n("frame_w"), n("frame_h"), []Shape{s}) {
			for _, side := range sides {
				if half.Side != side {
					continue
				}
				found++
				if half.Rect.Width != n("crop_w") || half.Rect.Height != n("crop_h") || half.Large != (row["no_upscale"] == "1") ||
					!(math.Abs(half.Scale-num(t, row["scale"])) <= 0.5e-6) {
					t.Errorf("row %d: %+v, want %s × %s at scale %s", i, half, row["crop_w"], row["crop_h"], row["scale"])
				}
			}
		}
		if found != len(sides) {
			t.Errorf("row %d: %d halves of %v", i, found, sides)
		}
	}
}

func TestHalvesStandWhereTheySay(t *testing.T) {
	// The example of DESIGN section 5: the right half of a 6000 × 4000 frame.
	want := map[Side]Half{
		Left:      {Left, "4:5", Rect{0, 125, 3000, 3750}, 0, 3000.0 / 1080, true},
		Right:     {Right, "4:5", Rect{3000, 125, 3000, 3750}, 0, 3000.0 / 1080, true},
		Top:       {Top, "4:5", Rect{2200, 0, 1600, 2000}, 0, 1600.0 / 1080, true},
		Bottom:    {Bottom, "4:5", Rect{2200, 2000, 1600, 2000}, 0, 1600.0 / 1080, true},
		BetweenLR: {BetweenLR, "4:5", Rect{1500, 125, 3000, 3750}, 1500, 3000.0 / 1080, true},
		BetweenTB: {BetweenTB, "4:5", Rect{2200, 1000, 1600, 2000}, 1000, 1600.0 / 1080, true},
	}
	got := Halves(6000, 4000, []Shape{{Name: "4:5", Width: 1080, Height: 1350}})
	if len(got) != len(want) {
		t.Fatalf("%d halves, want %d", len(got), len(want))
	}
	for _, h := range got {
		if h != want[h.Side] {
			t.Errorf("%s: %+v, want %+v", h.Side, h, want[h.Side])
		}
	}
}

func TestHalfAtThePixelFloor(t *testing.T) {
	square := []Shape{{Name: "1:1", Width: 1080, Height: 1080}}
	for _, c := range []struct {
		w, h int
		want bool
	}{{2160, 1080, true}, {2159, 1080, false}, {2160, 1079, false}, {2161, 1081, true}} {
		large := false
		for _, h := range Halves(c.w, c.h, square) {
			large = large || h.Large
		}
		if large != c.want {
			t.Errorf("%d × %d: large %v, want %v", c.w, c.h, large, c.want)
		}
	}
}

func TestNothingFitsInNothing(t *testing.T) {
	if got := Halves(0, 4000, []Shape{{Name: "1:1", Width: 1, Height: 1}}); got != nil {
		t.Errorf("halves of an unknown size: %v", got)
	}
	if got := Halves(6000, 4000, []Shape{{Name: "none"}}); len(got) != 0 {
		t.Errorf("halves of no shape: %v", got)
	}
	if got := Halves(7, 7, []Shape{{Name: "4:5", Width: 1080, Height: 1350}}); len(got) != 0 {
		t.Errorf("a crop of 4:5 in 3 × 7: %v", got)
	}
	if got := PPI(6000, 4000, math.NaN(), 250); got != 0 {
		t.Errorf("PPI on a box without width = %v, want 0", got)
	}
	if got := PPI(6000, 4000, 195, 0); got != 0 {
		t.Errorf("PPI on a box without height = %v, want 0", got)
	}
}

// Laws: a crop lies in its half, has its ratio exactly, and the next larger
// does not fit; the mirror of left is right.
func TestHalvesObeyTheirLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 12000).Draw(t, "w"), rapid.IntRange(1, 12000).Draw(t, "h")
		s := Shape{"x", rapid.IntRange(1, 2000).Draw(t, "sw"), rapid.IntRange(1, 2000).Draw(t, "sh"), ""}
		rw, rh := s.Ratio()
		bySide := map[Side]Half{}
		for _, half := range Halves(w, h, []Shape{s}) {
			r := half.Rect
			bySide[half.Side] = half
			if half.Side == BetweenTB && r.Y < half.Slide || half.Side == BetweenLR && r.X < half.Slide || r.X < 0 || r.Y < 0 || r.X+r.Width > w || r.Y+r.Height > h {
				t.Fatalf("%+v leaves the frame %d × %d", half, w, h)
			}
			if 2*min(r.Width*h, w*r.Height) > w*h {
				t.Fatalf("%+v is more than half of %d × %d", half, w, h)
			}
			if r.Width*rh != r.Height*rw {
				t.Fatalf("%+v is not %d:%d", half, rw, rh)
			}
			if half.Large != (half.Scale >= 1) {
				t.Fatalf("%+v: large and scale disagree", half)
			}
			bw, bh := w/2, h
			if half.Side == Top || half.Side == Bottom || half.Side == BetweenTB {
				bw, bh = w, h/2
			}
			if r.Width+rw <= bw && r.Height+rh <= bh {
				t.Fatalf("%+v: a larger one fits", half)
			}
		}
		l, r := bySide[Left], bySide[Right]
		if l.Rect.Width != r.Rect.Width || (l.Rect.Width > 0 && abs(l.Rect.X-(w-r.Rect.X-r.Rect.Width)) > 1) {
			t.Fatalf("left %+v does not mirror right %+v", l, r)
		}
	})
}
