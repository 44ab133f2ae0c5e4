package main

import (
	"bytes"
	"image"
	"image/color"
	paint "image/draw"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"coverplate/audit/crop"
)

// TestHalvesSheet writes two contact sheets for eyes, of twenty photographs in
// which a person saw some half that stands or may, and of twenty composed
// frames of cooks that nothing was tuned on, with the half that the tool would
// take drawn on each: a full line where it is called good, dashes where it
// asks, nothing where no half stands.
//
//	COVERPLATE_SHEETS=/tmp/sheets go test ./cmd/coverplate -run TestHalvesSheet -v
//
// The sheets show other people's photographs: they are never committed.
func TestHalvesSheet(t *testing.T) {
	dir := os.Getenv("COVERPLATE_SHEETS")
	if dir == "" {
		t.Skip("COVERPLATE_SHEETS names no folder to write to")
	}
	marks := markedPhotos(t)
	if err := os.MkdirAll(dir, 0o777); err != nil {
		t.Fatal(err)
	}
	const many = 20
	var photos, frames []image.Image
	for _, row := range readNotes(t, "halves_by_eye.csv") {
		if len(photos) < many && (slices.Contains(row[1:5], "yes") || slices.Contains(row[1:5], "unsure")) {
			b, err := os.ReadFile(filepath.Join(foodPhotos, row[0]))
			if err != nil {
				t.Fatal(err)
			}
			img, err := jpeg.Decode(bytes.NewReader(b))
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("photograph %d: %s", len(photos)+1, row[0])
			photos = append(photos, img)
		}
	}
	for i, m := range marks {
		how := []string{layLeft, layMiddle, layTwice, layTop}[i%4]
		if len(frames) < many && !tunedOn[m.name[:3]] {
			t.Logf("frame %d: %s %s", len(frames)+1, m.name, how)
			frames = append(frames, composed(m, how))
		}
	}
	if len(photos) < many || len(frames) < many {
		t.Fatalf("%d photographs and %d frames", len(photos), len(frames))
	}
	for name, all := range map[string][]image.Image{"photographs": photos, "frames": frames} {
		var out bytes.Buffer
		if err := png.Encode(&out, halvesSheet(t, name, all)); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name+".png"), out.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// halvesSheet lays pictures out in rows of five.
func halvesSheet(t *testing.T, name string, all []image.Image) image.Image {
	const columns, cell = 5, 320
	sheet := image.NewRGBA(image.Rect(0, 0, columns*cell, (len(all)+columns-1)/columns*cell))
	paint.Draw(sheet, sheet.Rect, image.NewUniform(color.White), image.Point{}, paint.Src)
	inPairs(len(all), func(i int) {
		img := all[i]
		best := crop.Standing{Works: crop.No}
		for _, x := range bestHalves(seenAs(t, img, 1)) {
			if x.Works.Rank() > best.Works.Rank() || x.Works == best.Works && (x.Score > best.Score || x.Score == best.Score && x.Side < best.Side) {
				best = x
			}
		}
		t.Logf("%s %d: %s, %s", name, i+1, best.Works, best.Why())
		w, h := img.Bounds().Dx(), img.Bounds().Dy()
		scale := float64(cell-8) / float64(max(w, h))
		x0, y0 := i%columns*cell, i/columns*cell
		for y := range int(float64(h) * scale) {
			for x := range int(float64(w) * scale) {
				px, py := int(float64(x)/scale), int(float64(y)/scale)
				c := img.At(img.Bounds().Min.X+px, img.Bounds().Min.Y+py)
				r := best.Rect
				line := int(3 / scale)
				inside := func(by int) bool {
					return px >= r.X+by && px < r.X+r.Width-by && py >= r.Y+by && py < r.Y+r.Height-by
				}
				if best.Works != crop.No && inside(0) && !inside(line) && (best.Works == crop.Yes || (x+y)/8%2 == 0) {
					c = color.RGBA{0xff, 0xb0, 0x3a, 0xff}
					if !inside(line / 3) {
						c = color.Black
					}
				} else if best.Works != crop.No && !inside(0) { // what is left out fades
					r, g, b, _ := c.RGBA()
					c = color.RGBA{uint8(r >> 10), uint8(g >> 10), uint8(b >> 10), 0xff}
				}
				sheet.Set(x0+x, y0+y, c)
			}
		}
	})
	return sheet
}
