package main

import (
	"bytes"
	"encoding/csv"
	"image"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// marked is a photograph with a whole round rim that was marked by hand.
type marked struct {
	name, source           string
	img                    image.Image
	left, right, top, foot float64 // the rim's box, shares of width and of height
}

// markedPhotos are the upright photographs of labels.csv with one whole round
// rim and some table on every side of it.
func markedPhotos(t *testing.T) []marked {
	t.Helper()
	f, err := os.Open(filepath.Join(foodPhotos, "labels.csv"))
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
	var out []marked
	for _, row := range rows[1:] {
		text := func(name string) string { return row[column[name]] }
		num := func(name string) float64 {
			v, err := strconv.ParseFloat(text(name), 64)
			if err != nil {
				return math.NaN()
			}
			return v
		}
		if text("vessel") != "round" || text("rim_visible") != "yes" {
			continue
		}
		b, err := os.ReadFile(filepath.Join(foodPhotos, text("file")))
		if err != nil {
			t.Fatal(err)
		}
		shot, exifErr := camera.Read(bytes.NewReader(b), int64(len(b)), catalogue.JPEG)
		size, err := jpeg.DecodeConfig(bytes.NewReader(b))
		if err != nil || exifErr != nil || shot.Orientation > 1 {
			continue
		}
		high := float64(size.Height) / float64(size.Width)
		sin, cos := math.Sincos(num("rim_theta_deg") * math.Pi / 180)
		a, bb := num("rim_major"), num("rim_minor") // shares of the width
		halfW, halfH := math.Hypot(a*cos, bb*sin), math.Hypot(a*sin, bb*cos)/high
		m := marked{name: text("file"), source: text("source"),
			left: num("rim_cx") - halfW, right: num("rim_cx") + halfW, top: num("rim_cy") - halfH, foot: num("rim_cy") + halfH}
		const room = 0.04
		if !(m.left > room && m.right < 1-room && m.top > room && m.foot < 1-room) {
			continue
		}
		if m.img, err = jpeg.Decode(bytes.NewReader(b)); err != nil {
			t.Fatal(err)
		}
		out = append(out, m)
	}
	return out
}

// The ways in which a photograph is laid into a frame. The table that it shows
// beside its dish is mirrored outwards, again and again, until the frame is
// full. Lying frames are of 3:2 and twice as wide as the photograph, so that
// their halves stand 3:4; a standing one is of 2:3 and as wide.
const (
	layLeft   = "left"   // in the left half
	layMiddle = "middle" // across the middle, table on both sides
	layTwice  = "twice"  // in the left half, and its mirror image in the right
	layTop    = "top"    // in the upper half of a standing frame
)

// layout is where a photograph lies in a frame: the frame's size and the
// photograph's corner, which may be outside of it.
func (m marked) layout(how string) (w, h, x, y int) {
	pw, ph := m.img.Bounds().Dx(), m.img.Bounds().Dy()
	if how == layTop { // the dish in the middle of the upper half
		w, h = pw, pw*3/2
		return w, h, 0, h/4 - int((m.top+m.foot)/2*float64(ph))
	}
	w, h = 2*pw, 2*pw*2/3
	if how == layMiddle {
		x = pw / 2
	}
	return w, h, x, h/2 - int((m.top+m.foot)/2*float64(ph))
}

// composed lays m into a frame.
func composed(m marked, how string) image.Image {
	pw, ph := m.img.Bounds().Dx(), m.img.Bounds().Dy()
	w, h, x0, y0 := m.layout(how)
	// The strips of table that are mirrored: from the picture's edge to a
	// little short of the rim.
	const clear = 0.01
	strip := func(share float64, n int) int { return max(2, int((share-clear)*float64(n))) }
	within := func(at, n int, before, after float64) int {
		switch {
		case at < 0:
			return bounced(-1-at, strip(before, n))
		case at >= n:
			return n - 1 - bounced(at-n, strip(after, n))
		}
		return at
	}
	out, from := image.NewRGBA(image.Rect(0, 0, w, h)), m.img.Bounds().Min
	for y := range h {
		sy := within(y-y0, ph, m.top, 1-m.foot)
		for x := range w {
			sx := x - x0
			if how == layTwice && sx >= pw {
				sx = 2*pw - 1 - sx
			}
			out.Set(x, y, m.img.At(from.X+within(sx, pw, m.left, 1-m.right), from.Y+sy))
		}
	}
	return out
}

// bounced goes 0, 1 … n−1, n−1 … 1, 0, 0, 1 …
func bounced(i, n int) int {
	i %= 2 * n
	return min(i, 2*n-1-i)
}

func composedName(m marked, how string) string {
	return strings.TrimSuffix(m.name, ".jpg") + "-" + how + ".jpg"
}

func TestZZWriteComposed(t *testing.T) {
	dir := os.Getenv("ZZ_DIR")
	if dir == "" {
		t.Skip("x")
	}
	for i, m := range markedPhotos(t) {
		ways := []string{layLeft, layTop}
		switch i % 3 {
		case 1:
			ways = []string{layMiddle, layTop}
		case 2:
			ways = []string{layTwice}
		}
		for _, how := range ways {
			var buf bytes.Buffer
			if err := jpeg.Encode(&buf, composed(m, how), &jpeg.Options{Quality: 90}); err != nil {
				t.Fatal(err)
			}
			os.WriteFile(filepath.Join(dir, composedName(m, how)), buf.Bytes(), 0o644)
		}
	}
}
