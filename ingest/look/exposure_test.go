package look

import (
	"image"
	"image/color"
	"math"
	"testing"

	"coverplate/ingest/catalogue"
)

// lightFrom is the light of an 8-bit sRGB picture, with what matters told or
// not.
func lightFrom(t *testing.T, img image.Image, m *catalogue.Matters) catalogue.Light {
	t.Helper()
	p := planesFrom(img, 1, planesSide)
	l := p.light(m)
	if l == nil {
		t.Fatal("no light")
	}
	return *l
}

// patched is w × h of one colour with a rectangle of another.
func patched(w, h int, ground color.RGBA, part image.Rectangle, c color.RGBA) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			at := ground
			if image.Pt(x, y).In(part) {
				at = c
			}
			m.SetRGBA(x, y, at)
		}
	}
	return m
}

// Clipped shares are counted on the decoded pixels, exactly, by channel, and
// by code: 254 and 255, 0 and 1.
func TestClippedSharesAreThoseThatWerePainted(t *testing.T) {
	const w, h = 1500, 1000
	part := image.Rect(100, 100, 850, 500) // a fifth
	for _, c := range []struct {
		colour    color.RGBA
		high, low [3]float64
	}{
		{color.RGBA{255, 255, 255, 255}, [3]float64{0.2, 0.2, 0.2}, [3]float64{}},
		{color.RGBA{254, 200, 100, 255}, [3]float64{0.2, 0, 0}, [3]float64{}},
		{color.RGBA{253, 253, 253, 255}, [3]float64{}, [3]float64{}},
		{color.RGBA{0, 1, 2, 255}, [3]float64{}, [3]float64{0.2, 0.2, 0}},
		{color.RGBA{255, 0, 128, 255}, [3]float64{0.2, 0, 0}, [3]float64{0, 0.2, 0}},
	} {
		l := lightFrom(t, patched(w, h, color.RGBA{120, 110, 100, 255}, part, c.colour), nil)
		if l.High != c.high || l.Low != c.low {
			t.Errorf("%v: high %v low %v, want %v %v", c.colour, l.High, l.Low, c.high, c.low)
		}
	}
}

// A burnt pixel among others that are not is counted though its cell's mean is
// no longer white: every ninth pixel of a picture that is averaged by nine.
func TestClippingIsCountedBeforeTheMean(t *testing.T) {
	img := patched(3072, 2304, color.RGBA{100, 100, 100, 255}, image.Rectangle{}, color.RGBA{})
	for y := 0; y < 2304; y += 3 {
		for x := 0; x < 3072; x += 3 {
			img.SetRGBA(x, y, color.RGBA{255, 255, 255, 255})
		}
	}
	l := lightFrom(t, img, nil)
	for c, share := range l.High {
		if !(math.Abs(share-1.0/9) <= 1e-12) {
			t.Errorf("channel %d: %v, want %v", c, share, 1.0/9)
		}
	}
	// Of what matters the shares are kept in steps of 1/255.
	if !(math.Abs(l.MattersHigh-1.0/9) <= 0.5/255) {
		t.Errorf("of what matters: %v, want %v", l.MattersHigh, 1.0/9)
	}
}

// What matters is counted apart: high in any channel, low in all.
func TestClippingOfWhatMatters(t *testing.T) {
	m := &catalogue.Matters{Columns: 6, Rows: 4, Weight: make([]uint8, 24)}
	m.Weight[8], m.Weight[9], m.Weight[14], m.Weight[15] = 255, 255, 255, 255 // the third of the middle, half of the height
	middle := image.Rect(256, 128, 512, 384)
	half := image.Rect(256, 128, 384, 384)
	grey := color.RGBA{120, 120, 120, 255}
	for _, c := range []struct {
		name      string
		part      image.Rectangle
		colour    color.RGBA
		high, low float64
	}{
		{"one channel high", middle, color.RGBA{255, 90, 90, 255}, 1, 0},
		{"half of it white", half, color.RGBA{255, 255, 255, 255}, 0.5, 0},
		{"one channel low", middle, color.RGBA{0, 90, 90, 255}, 0, 0},
		{"black", half, color.RGBA{0, 1, 0, 255}, 0, 0.5},
		{"white beside it", image.Rect(0, 0, 256, 512), color.RGBA{255, 255, 255, 255}, 0, 0},
	} {
		l := lightFrom(t, patched(768, 512, grey, c.part, c.colour), m)
		for channel, code := range []uint8{c.colour.R, c.colour.G, c.colour.B} {
			want := 0.0
			if code == 255 {
				want = c.high
			}
			if !(math.Abs(l.MattersBy[channel]-want) <= 1e-9) {
				t.Errorf("%s: channel %d high in %v, want %v", c.name, channel, l.MattersBy[channel], want)
			}
		}
		if !(math.Abs(l.MattersHigh-c.high) <= 1e-9) || !(math.Abs(l.MattersLow-c.low) <= 1e-9) {
			t.Errorf("%s: high %v low %v, want %v %v", c.name, l.MattersHigh, l.MattersLow, c.high, c.low)
		}
	}
}

// An 18 % grey lies 2.47 stops below white, and a stop more or less of light
// is a stop of Level.
func TestLevelIsInStops(t *testing.T) {
	exposed := func(stops float64) float64 {
		pix := scene(600, 400)
		for i := range pix {
			for c := range pix[i] {
				pix[i][c] *= math.Exp2(stops) / 2 // the scene reaches 0.75: nothing clips
			}
		}
		return lightFrom(t, paint(pix, 600, 400, toSelf, encodeSRGB), nil).Level
	}
	at := exposed(0)
	for _, stops := range []float64{-1, -0.5, 0.3, 1} {
		// Half a code in the shade of the scene's darkest colour is 3 % of its
		// light: 0.04 of a stop; the mean is brighter.
		if got := exposed(stops) - at; !(math.Abs(got-stops) <= 0.02) {
			t.Errorf("%+v stops of light are %+.3f of Level", stops, got)
		}
	}
	grey := [][3]float64{{0.18, 0.18, 0.18}}
	one := paint(grey, 1, 1, toSelf, encodeSRGB)
	if got := lightFrom(t, one, nil).Level; !(math.Abs(got+2.474) <= 0.02) { // log2 0.18
		t.Errorf("an 18 %% grey: %.3f", got)
	}
	if got := lightFrom(t, patched(60, 40, color.RGBA{A: 255}, image.Rectangle{}, color.RGBA{}), nil).Level; got != leastLevel {
		t.Errorf("black: %v", got)
	}
}

// The light of a cell is told by channel, in stops from white, where its codes
// hold it: not near black, where grain in codes is not even in light, nor where
// grain would be cut off at white. Stops of codes are by IEC 61966-2-1's curve.
func TestLightIsToldWhereCodesHoldIt(t *testing.T) {
	stopsOf := func(code uint8) float64 {
		v := float64(code) / 255
		if v <= 0.04045 {
			return math.Log2(v / 12.92)
		}
		return math.Log2(math.Pow((v+0.055)/1.055, 2.4))
	}
	for _, c := range []struct {
		code uint8
		told bool
	}{{0, false}, {20, false}, {21, false}, {22, true}, {128, true}, {241, true}, {244, false}, {253, false}, {255, false}} {
		l := lightFrom(t, patched(96, 96, color.RGBA{100, 100, c.code, 255}, image.Rectangle{}, color.RGBA{}), nil)
		if l.Columns != 3 || l.Rows != 3 {
			t.Fatalf("%d × %d cells", l.Columns, l.Rows)
		}
		for i, got := range l.Stops[2] {
			want := float64(catalogue.Untold)
			if c.told {
				want = stopsOf(c.code)
			}
			// Two bytes hold one part in 512.
			if !(math.Abs(float64(got.Value())-want) <= math.Abs(want)/256) {
				t.Errorf("code %d, cell %d: %v, want %v", c.code, i, got, want)
			}
		}
		if red := l.Stops[0][4]; c.told && !(math.Abs(float64(red.Value())-stopsOf(100)) <= 0.02) {
			t.Errorf("code %d: red is %v, want %v", c.code, red, stopsOf(100))
		}
	}
}
