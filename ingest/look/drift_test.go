package look

import (
	"bytes"
	"image"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"testing"

	"coverplate/audit"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// relit is a picture in linear light of sRGB under so many stops more of each
// channel, as 8-bit codes.
func relit(pix [][3]float32, w, h int, stops [3]float64) *image.RGBA {
	table := encoded()
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for i, p := range pix {
		var c [3]uint8
		for k, v := range p {
			more := float64(v) * math.Exp2(stops[k])
			c[k] = uint8(table[int(min(1, max(0, more))*(codes-1)+0.5)] + 0.5)
		}
		img.SetRGBA(i%w, i/w, color.RGBA{c[0], c[1], c[2], 255})
	}
	return img
}

// paleCast is where a change of light takes a grey of 60 %, from scratch: the
// matrix of sRGB under D50 (Bradford) as B. Lindbloom publishes it, and CIE
// 15's formulas of Lab.
func paleCast(stops [3]float64) (brighter, cast float64) {
	m := [3][3]float64{{0.4360747, 0.3850649, 0.1430804}, {0.2225045, 0.7168786, 0.0606169}, {0.0139322, 0.0971045, 0.7141733}}
	white := [3]float64{0.96422, 1, 0.82521}
	var xyz [3]float64
	for i := range m {
		for c, s := range stops {
			xyz[i] += m[i][c] * math.Exp2(s)
		}
	}
	f := func(i int) float64 { return math.Cbrt(0.6 * xyz[i] / xyz[1] / white[i]) }
	return math.Log2(xyz[1]), math.Hypot(500*(f(0)-f(1)), 200*(f(1)-f(2)))
}

// changes of light that a set may see: stops by channel R, G, B.
var changesOfLight = [][3]float64{
	{0, 0, 0}, {0.33, 0.33, 0.33}, {-1, -1, -1}, {0.7, 0.7, 0.7}, {-2, -2, -2},
	{0.2, 0, -0.3}, {-0.15, 0.05, 0.25}, {0.5, 0, -0.7}, {-0.6, -0.9, -1.3},
}

// held makes known changes of exposure and of white balance in linear light and
// holds what is measured of them against what they were. The frame is held
// against one with other grain, as the next frame of a set has it. It returns
// of how many something was told.
func held(t *testing.T, name string, pix [][3]float32, w, h int) (told int) {
	t.Helper()
	light := func(img image.Image) *catalogue.Light { return planesFrom(img, 1, planesSide).light(nil) }
	first := light(grained(relit(pix, w, h, [3]float64{}), 1))
	for n, change := range changesOfLight {
		stops, cast, ok := audit.Drift(light(grained(relit(pix, w, h, change), n+2)), first)
		wantStops, wantCast := paleCast(change)
		if !ok {
			// Of a dish on white that is brightened until all around is white,
			// nothing can be told; of a picture with light to compare it must.
			if share := min(midtones(pix, [3]float64{}), midtones(pix, change)); share > 0.6 {
				t.Errorf("%s, %v: nothing told, though %.0f %% of it is neither near white nor near black", name, change, 100*share)
			}
			continue
		}
		told++
		// A twentieth of a stop is a sixth of what a camera's dial can do; half
		// of ΔE 1 is a tenth of what is noted. Cells in the shadows are of
		// codes so coarse, and in the lights so near to clipping, that no less
		// can be asked.
		if !(math.Abs(stops-wantStops) <= 0.05) || !(math.Abs(cast-wantCast) <= 0.5) {
			t.Errorf("%s, %v: %.3f stops and a cast of %.2f, want %.3f and %.2f", name, change, stops, cast, wantStops, wantCast)
		}
	}
	return told
}

// midtones is the share of pixels of which every channel, under so many stops
// more, lies between a sixty-fourth of white's light and two thirds of it.
func midtones(pix [][3]float32, stops [3]float64) float64 {
	n := 0
	for _, p := range pix {
		within := true
		for c, v := range p {
			more := float64(v) * math.Exp2(stops[c])
			within = within && more > 1.0/64 && more < 2.0/3
		}
		if within {
			n++
		}
	}
	return float64(n) / float64(len(pix))
}

// grained adds a camera's grain to the codes, one per cent of them.
func grained(img *image.RGBA, seed int) *image.RGBA {
	field := bell()
	for i, v := range img.Pix {
		if i%4 < 3 {
			img.Pix[i] = uint8(min(255, max(0, float32(v)+2.5*field[(i+seed*104729)%len(field)]+0.5)))
		}
	}
	return img
}

func TestKnownChangesOfLightAreMeasured(t *testing.T) {
	const w, h = 720, 480
	made := make([][3]float32, w*h)
	a, b := texture(w, h, 3), texture(w, h, 4)
	for i, p := range scene(w, h) {
		for c := range p {
			made[i][c] = float32(p[c]) * (0.4 + a.pix[i])
		}
		made[i][2] *= 0.8 + b.pix[i]/2
	}
	if told := held(t, "made", made, w, h); told != len(changesOfLight) {
		t.Errorf("%d of %d changes told", told, len(changesOfLight))
	}
}

func TestKnownChangesOfLightAreMeasuredOnPhotographs(t *testing.T) {
	photos := foodPhotos(t)
	every := 124
	if os.Getenv("COVERPLATE_ALL_PHOTOS") != "" {
		every = 16
	} else if testing.Short() {
		t.Skip("a second a photograph")
	}
	var told, all int
	for i := 5; i < len(photos); i += every {
		data, err := os.ReadFile(photos[i].path)
		if err != nil {
			t.Fatal(err)
		}
		img, _, err := image.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		l := gather(img, img.Bounds(), curveOf(colour.SRGB), 700, false)
		told += held(t, filepath.Base(photos[i].path), l.pix, l.width, l.height)
		all += len(changesOfLight)
	}
	t.Logf("%d of %d changes told", told, all)
}
