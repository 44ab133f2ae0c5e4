package main

import (
	"bytes"
	"encoding/csv"
	"image"
	paint "image/draw"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"coverplate/audit/crop"
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
	out, from := image.NewRGBA(image.Rect(0, 0, w, h)), image.NewRGBA(image.Rect(0, 0, pw, ph))
	paint.Draw(from, from.Rect, m.img, m.img.Bounds().Min, paint.Src)
	for y := range h {
		sy := within(y-y0, ph, m.top, 1-m.foot)
		for x := range w {
			sx := x - x0
			if how == layTwice && sx >= pw {
				sx = 2*pw - 1 - sx
			}
			sx = within(sx, pw, m.left, 1-m.right)
			copy(out.Pix[4*(y*w+x):][:4], from.Pix[4*(sy*pw+sx):])
		}
	}
	return out
}

// truth says of the halves of a composed frame whether each holds the dish
// whole, in one of the shapes at least; of the others it says nothing. A half
// is good where the rim lies in it with room and fits a shape; it is bad where
// it holds table alone, or where its edge cuts off a quarter of the rim's box
// or more.
func (m marked) truth(how string, shapes []crop.Shape) map[crop.Side]bool {
	pw, ph := float64(m.img.Bounds().Dx()), float64(m.img.Bounds().Dy())
	fw, fh, fx, fy := m.layout(how)
	w, h := float64(fw), float64(fh)
	left, right := (float64(fx)+m.left*pw)/w, (float64(fx)+m.right*pw)/w
	top, foot := (float64(fy)+m.top*ph)/h, (float64(fy)+m.foot*ph)/h
	cut := func(from, to float64) bool { return (0.5-from)/(to-from) > 0.25 && (to-0.5)/(to-from) > 0.25 }
	fits := func(boxW, boxH float64) bool {
		for _, s := range shapes {
			a := float64(s.Width) / float64(s.Height)
			if (right-left)*w <= 0.96*min(boxW, boxH*a) && (foot-top)*h <= 0.96*min(boxH, boxW/a) {
				return true
			}
		}
		return false
	}
	out := map[crop.Side]bool{}
	switch good := fits(w/2, h); how {
	case layTop:
		out[crop.Bottom] = false
		if top > 0.015 && foot < 0.49 && fits(w, h/2) {
			out[crop.Top] = true
		}
		if cut(left, right) {
			out[crop.Left], out[crop.Right] = false, false
		}
		return out
	case layLeft:
		out[crop.Right] = false
		if good {
			out[crop.Left] = true
		}
	case layMiddle:
		out[crop.Left], out[crop.Right] = false, false
		if good {
			out[crop.BetweenLR] = true
		}
	case layTwice:
		if good {
			out[crop.Left], out[crop.Right] = true, true
		}
	}
	if cut(top, foot) {
		out[crop.Top], out[crop.Bottom] = false, false
	}
	return out
}

// bounced goes 0, 1 … n−1, n−1 … 1, 0, 0, 1 …
func bounced(i, n int) int {
	i %= 2 * n
	return min(i, 2*n-1-i)
}
