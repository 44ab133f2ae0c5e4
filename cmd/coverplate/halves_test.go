package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"coverplate/audit"
	"coverplate/audit/crop"
	"coverplate/ingest"
	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// TestHalvesAgreeWithTheEye holds the judgement of halves against what one
// person saw in real food photographs before it was made
// (testdata/halves_by_eye.csv). The costly mistake is a half that is called
// good and is not. Size in pixels is set aside: the photographs are small.
func TestHalvesAgreeWithTheEye(t *testing.T) {
	if testing.Short() {
		t.Skip("measures some ninety photographs")
	}
	dir := filepath.Join("..", "..", "..", "shared", "photos", "food")
	if _, err := os.Stat(dir); err != nil {
		t.Skipf("the photographs to measure on are not here: %v", err)
	}
	f, err := os.Open(filepath.Join("..", "..", "testdata", "halves_by_eye.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	shapes := []crop.Shape{{Name: "4:5", Width: 4, Height: 5}, {Name: "1:1", Width: 5, Height: 5}, {Name: "3:4", Width: 3, Height: 4}}
	sides := []crop.Side{crop.Left, crop.Right, crop.Top, crop.Bottom}
	table := map[string]int{}
	for _, row := range rows[1:] {
		frame, err := ingest.Measure(filepath.Join(dir, row[0]))
		if err != nil {
			t.Errorf("%s: %v", row[0], err)
			continue
		}
		best := map[crop.Side]crop.Standing{}
		for _, s := range crop.Stand(audit.SceneOf(frame.Look), shapes) {
			if b, ok := best[s.Side]; !ok || s.Works.Rank() > b.Works.Rank() {
				best[s.Side] = s
			}
		}
		for i, side := range sides {
			eye, got := row[i+1], string(best[side].Works)
			table[eye+" "+got]++
			if eye != got && (eye == "yes" || got == "yes") {
				t.Logf("%s %s: the eye says %s, the tool %s (%s)", row[0], side, eye, got, best[side].Why())
			}
		}
	}
	t.Log("eye \\ tool      yes  look    no")
	for _, eye := range []string{"yes", "unsure", "no"} {
		t.Logf("%-12s %6d %5d %5d", eye, table[eye+" yes"], table[eye+" look"], table[eye+" no"])
	}
	wrong, called := table["no yes"], table["no yes"]+table["unsure yes"]+table["yes yes"]
	t.Logf("called good and not good: %d of %d; all halves that are not good: %d", wrong, called, table["no yes"]+table["no look"]+table["no no"])
}

// TestHalvesOfComposedFrames composes frames of which it is known which half
// holds a dish: a real photograph with a whole round rim, laid into the left
// half of a frame of twice its width, or across its middle, the rest of the
// frame filled with the photograph's own outermost column. The rims were
// marked by hand (labels.csv).
func TestHalvesOfComposedFrames(t *testing.T) {
	if testing.Short() {
		t.Skip("measures some hundred pictures")
	}
	dir := filepath.Join("..", "..", "..", "shared", "photos", "food")
	f, err := os.Open(filepath.Join(dir, "labels.csv"))
	if err != nil {
		t.Skipf("the photographs to measure on are not here: %v", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	shapes := []crop.Shape{{Name: "4:5", Width: 4, Height: 5}, {Name: "1:1", Width: 5, Height: 5}, {Name: "3:4", Width: 3, Height: 4}}
	good, bad := map[crop.Works]int{}, map[crop.Works]int{}
	count := func(t *testing.T, name string, frame catalogue.Frame, side crop.Side, is bool) {
		best, why := crop.No, ""
		for _, s := range crop.Stand(audit.SceneOf(frame.Look), shapes) {
			if s.Side == side && (why == "" || s.Works.Rank() > best.Rank()) {
				best, why = s.Works, s.Why()
			}
		}
		if is {
			good[best]++
		} else {
			bad[best]++
		}
		if is && best == crop.No || !is && best == crop.Yes {
			t.Logf("%s %s: truly %v, the tool says %s (%s)", name, side, is, best, why)
		}
	}
	tmp := t.TempDir()
	used, seen, hold := 0, 0, 0 // photographs; with a rim that is whole; of which a crop of their half can hold it
	for _, row := range rows[1:] {
		num := func(name string) float64 {
			v, err := strconv.ParseFloat(row[column[name]], 64)
			if err != nil {
				return math.NaN()
			}
			return v
		}
		name := row[column["file"]]
		b, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		img, err := jpeg.Decode(bytes.NewReader(b))
		shot, exifErr := camera.Read(bytes.NewReader(b), int64(len(b)), catalogue.JPEG)
		if err != nil || exifErr != nil || shot.Orientation > 1 || row[column["vessel"]] != "round" {
			continue
		}
		w, h := img.Bounds().Dx(), img.Bounds().Dy()
		sin, cos := math.Sincos(num("rim_theta_deg") * math.Pi / 180)
		a, bb := num("rim_major"), num("rim_minor") // shares of the width
		halfW, halfH := math.Hypot(a*cos, bb*sin), math.Hypot(a*sin, bb*cos)*float64(w)/float64(h)
		cx, cy := num("rim_cx"), num("rim_cy")
		const room = 0.04
		if !(cx-halfW > room && cx+halfW < 1-room && cy-halfH > room && cy+halfH < 1-room && math.Abs(cx-0.5) < 0.1) {
			continue
		}
		if seen++; seen%2 == 0 { // half of them say as much in half the time
			continue
		}
		used++
		// A rim wider than any crop of the half is truly in none: its half may
		// be asked about, not called good.
		fits := false
		for _, s := range shapes {
			rw, rh := s.Ratio()
			cw, ch := crop.Largest(w, h, rw, rh)
			fits = fits || 2*halfW*float64(w) <= float64(cw) && 2*halfH*float64(h) <= float64(ch)
		}
		if fits {
			hold++
		}
		for _, at := range []int{0, w / 2} {
			wide := image.NewRGBA(image.Rect(0, 0, 2*w, h))
			for y := range h {
				for x := range 2 * w {
					wide.Set(x, y, img.At(min(max(x-at, 0), w-1), y))
				}
			}
			path := filepath.Join(tmp, fmt.Sprintf("%d-%s", at, name))
			var buf bytes.Buffer
			if err := jpeg.Encode(&buf, wide, &jpeg.Options{Quality: 90}); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, buf.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
			frame, err := ingest.Measure(path)
			if err != nil {
				t.Fatal(err)
			}
			if fits || at > 0 {
				count(t, name, frame, crop.Left, at == 0)
			}
			count(t, name, frame, crop.Right, false)
			if fits && at > 0 {
				count(t, name, frame, crop.BetweenLR, true)
			}
		}
	}
	t.Logf("%d photographs, %d with a rim that a crop can hold; halves that hold a whole dish: %d yes, %d look, %d no; halves that don't: %d yes, %d look, %d no",
		used, hold, good[crop.Yes], good[crop.Look], good[crop.No], bad[crop.Yes], bad[crop.Look], bad[crop.No])
	if called := good[crop.Yes] + bad[crop.Yes]; used < 20 || bad[crop.Yes]*20 > called || good[crop.Yes]*2 < good[crop.Look]+good[crop.No] {
		t.Errorf("of %d photographs %d halves are called good and %d of them are not; at most one in twenty may be, and a third of the good ones must be called so", used, called, bad[crop.Yes])
	}
}
