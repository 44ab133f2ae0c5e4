package colour

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// patch is a rectangle of a drawn picture, in 1/20 of its sides.
type patch struct {
	x0, y0, x1, y1 int
	colour         color.RGBA
}

// plate is a table with cloth, board, plate and food of known shares, and a
// vivid garnish of 2 %.
var plate = []patch{
	{0, 0, 20, 20, color.RGBA{0xd8, 0xd2, 0xc4, 0xff}},   // cloth, what the others leave: 200/400
	{2, 2, 12, 10, color.RGBA{0x6e, 0x4a, 0x2c, 0xff}},   // board, 80/400
	{13, 2, 18, 14, color.RGBA{0x44, 0x5c, 0x6e, 0xff}},  // bowl, 60/400
	{2, 12, 10, 18, color.RGBA{0xb8, 0x86, 0x3a, 0xff}},  // bread, 48/400
	{13, 16, 17, 18, color.RGBA{0xc8, 0x18, 0x38, 0xff}}, // berries, 8/400
	{10, 12, 12, 14, color.RGBA{0x1c, 0x1c, 0x1e, 0xff}}, // ink, 4/400
}

var plateShares = []float64{200. / 400, 80. / 400, 60. / 400, 48. / 400, 8. / 400, 4. / 400}

func draw(patches []patch, w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for _, p := range patches {
		for y := p.y0 * h / 20; y < p.y1*h/20; y++ {
			for x := p.x0 * w / 20; x < p.x1*w/20; x++ {
				img.SetRGBA(x, y, p.colour)
			}
		}
	}
	return img
}

// raster averages img in linear light to w × h by boxes with exact edges.
func raster(img image.Image, w, h int) Raster {
	b := img.Bounds()
	sx, sy := float64(b.Dx())/float64(w), float64(b.Dy())/float64(h)
	r := Raster{Width: w, Height: h, Pix: make([]XYZ, w*h)}
	for y := range h {
		for x := range w {
			var sum XYZ
			var area float64
			for v := int(float64(y) * sy); v < b.Dy() && float64(v) < float64(y+1)*sy; v++ {
				for u := int(float64(x) * sx); u < b.Dx() && float64(u) < float64(x+1)*sx; u++ {
					wx := min(float64(u+1), float64(x+1)*sx) - max(float64(u), float64(x)*sx)
					wy := min(float64(v+1), float64(y+1)*sy) - max(float64(v), float64(y)*sy)
					p := color.RGBAModel.Convert(img.At(b.Min.X+u, b.Min.Y+v)).(color.RGBA)
					c := SRGB.XYZ8(p.R, p.G, p.B)
					sum.X, sum.Y, sum.Z, area = sum.X+wx*wy*c.X, sum.Y+wx*wy*c.Y, sum.Z+wx*wy*c.Z, area+wx*wy
				}
			}
			r.Pix[y*w+x] = XYZ{sum.X / area, sum.Y / area, sum.Z / area}
		}
	}
	return r
}

func extract(t testing.TB, r Raster) ([]Swatch, Swatch) {
	t.Helper()
	palette, surface, err := Extract(r)
	if err != nil {
		t.Fatal(err)
	}
	var sum float64
	for _, s := range palette {
		sum += s.Share
		if !s.Lab.finite() || s.Hex == "" || s.Name == "" || !(s.Share >= 0) {
			t.Errorf("swatch %+v", s)
		}
	}
	if !(math.Abs(sum-1) <= 1e-12) || len(palette) > 6 {
		t.Errorf("%d swatches whose shares sum to %v", len(palette), sum)
	}
	return palette, *surface
}

// drawn is the colours of plate.
func drawn() (colours []Lab) {
	for _, p := range plate {
		colours = append(colours, SRGB.Lab8(p.colour.R, p.colour.G, p.colour.B))
	}
	return colours
}

// holdsPlate checks the palette of plate: each of its colours within 1 ΔE2000,
// each share within 1 % of the picture, the berries alone an accent.
func holdsPlate(t *testing.T, what string, colours []Lab, palette []Swatch, surface Swatch) {
	t.Helper()
	if len(palette) != len(plate) {
		t.Errorf("%s: %d swatches, want %d: %+v", what, len(palette), len(plate), palette)
	}
	for i, want := range colours {
		j := slices.IndexFunc(palette, func(s Swatch) bool { return DeltaE2000(s.Lab, want) <= 1 })
		if j < 0 {
			t.Errorf("%s: patch %d, %v, is not in %+v", what, i, want, palette)
			continue
		}
		if got := palette[j].Share; !(math.Abs(got-plateShares[i]) <= 0.01) {
			t.Errorf("%s: patch %d has share %v, want %v", what, i, got, plateShares[i])
		}
		if palette[j].Accent != (i == 4) {
			t.Errorf("%s: patch %d accent %v", what, i, palette[j].Accent)
		}
	}
	if d := DeltaE2000(surface.Lab, colours[0]); !(d <= 1) || surface.Share < 0.97 || surface.Accent {
		t.Errorf("%s: surface %+v is %v from the cloth", what, surface, d)
	}
}

func TestPaletteOfKnownPatches(t *testing.T) {
	palette, surface := extract(t, raster(draw(plate, 160, 120), 160, 120))
	holdsPlate(t, "as drawn", drawn(), palette, surface)
	if palette[0].Hex != "#d8d2c4" || palette[0].Share != 0.5 {
		t.Errorf("cloth is %+v", palette[0])
	}
}

func TestPaletteOfAnySize(t *testing.T) {
	img := draw(plate, 640, 480)
	for _, size := range [][2]int{{640, 480}, {320, 240}, {160, 120}, {157, 118}, {101, 77}, {80, 60}} {
		palette, surface := extract(t, raster(img, size[0], size[1]))
		holdsPlate(t, fmt.Sprint("at size ", size), drawn(), palette, surface)
	}
}

// layouts are pictures of known patches: each colour's share of 400 parts is
// the area that later patches leave of it.
var layouts = map[string][]patch{
	"plate": plate,
	"stripes": {
		{0, 0, 20, 20, color.RGBA{0x2b, 0x2f, 0x33, 0xff}},
		{0, 5, 20, 9, color.RGBA{0xc9, 0x6f, 0x2d, 0xff}},
		{0, 9, 20, 13, color.RGBA{0xef, 0xe9, 0xdc, 0xff}},
		{0, 16, 20, 18, color.RGBA{0x7d, 0x8c, 0x3a, 0xff}},
	},
	"tiles": {
		{0, 0, 20, 20, color.RGBA{0xb0, 0x98, 0x80, 0xff}},
		{0, 0, 10, 10, color.RGBA{0x5a, 0x2e, 0x22, 0xff}},
		{10, 10, 20, 20, color.RGBA{0x8a, 0x9a, 0xa6, 0xff}},
		{12, 4, 18, 6, color.RGBA{0xd9, 0xb2, 0x3c, 0xff}},
		{2, 13, 7, 15, color.RGBA{0x3f, 0x6e, 0x2e, 0xff}},
	},
	"portions": { // many small patches of two colours on two grounds
		{0, 0, 20, 20, color.RGBA{0xe4, 0xe0, 0xd8, 0xff}},
		{3, 3, 17, 17, color.RGBA{0x74, 0x78, 0x7c, 0xff}},
		{4, 4, 7, 7, color.RGBA{0xa8, 0x4c, 0x28, 0xff}}, {8, 4, 11, 7, color.RGBA{0xa8, 0x4c, 0x28, 0xff}},
		{4, 8, 7, 11, color.RGBA{0xa8, 0x4c, 0x28, 0xff}}, {12, 12, 15, 15, color.RGBA{0x4e, 0x7a, 0x38, 0xff}},
		{8, 12, 11, 15, color.RGBA{0x4e, 0x7a, 0x38, 0xff}},
	},
}

// truth counts what a layout shows: share by colour, and a place of each
// colour, in 1/20, at whose middle nothing else is near.
func truth(patches []patch) (share map[color.RGBA]float64, place map[color.RGBA][2]int) {
	share, place = map[color.RGBA]float64{}, map[color.RGBA][2]int{}
	at := func(x, y int) (c color.RGBA) {
		for _, p := range patches {
			if x >= p.x0 && x < p.x1 && y >= p.y0 && y < p.y1 {
				c = p.colour
			}
		}
		return c
	}
	for y := range 20 {
		for x := range 20 {
			share[at(x, y)] += 1. / 400
			place[at(x, y)] = [2]int{x, y}
		}
	}
	return share, place
}

// Through files: every quality from 75 to 95, several layouts. Each colour is
// within 1 ΔE2000 of what was drawn and each share within 1 %. Where the file
// itself, in the middle of a patch, is more than 1 off (coarse steps of chroma
// at quality 75, and one code of green in a near black at any), the swatch is
// held to what the file shows; that is one in ten at most.
func TestPaletteAfterJPEG(t *testing.T) {
	held, off := 0, 0
	for name, patches := range layouts {
		shares, places := truth(patches)
		for _, quality := range []int{75, 80, 85, 90, 95} {
			var file bytes.Buffer
			if err := jpeg.Encode(&file, draw(patches, 640, 480), &jpeg.Options{Quality: quality}); err != nil {
				t.Fatal(err)
			}
			img, err := jpeg.Decode(&file)
			if err != nil {
				t.Fatal(err)
			}
			palette, _ := extract(t, raster(img, 160, 120))
			if len(palette) != len(shares) {
				t.Errorf("%s at quality %d: %d swatches, want %d: %+v", name, quality, len(palette), len(shares), palette)
			}
			for c, share := range shares {
				want := SRGB.Lab8(c.R, c.G, c.B)
				p := places[c]
				seen := color.RGBAModel.Convert(img.At(p[0]*32+16, p[1]*24+12)).(color.RGBA)
				shown := SRGB.Lab8(seen.R, seen.G, seen.B)
				if d := DeltaE2000(want, shown); d > 2 {
					t.Errorf("%s at quality %d: %v is %v off in the file", name, quality, c, d)
				} else if d > 1 {
					want = shown
					off++
				}
				held++
				i := slices.IndexFunc(palette, func(s Swatch) bool { return DeltaE2000(s.Lab, want) <= 1 })
				if i < 0 {
					t.Errorf("%s at quality %d: %v is not in %+v", name, quality, c, palette)
				} else if got := palette[i].Share; !(math.Abs(got-share) <= 0.01) {
					t.Errorf("%s at quality %d: %v has share %v, want %v", name, quality, c, got, share)
				}
			}
		}
	}
	if off*10 > held {
		t.Errorf("of %d patches %d are more than 1 off in the file", held, off)
	}
	t.Logf("%d patches held, of which %d to what the file shows", held, off)
}

// Of real photographs no palette is the truth; but it may not hang on how
// strongly the file was compressed, or on the thumbnail's size.
func TestRealPhotographsRecompressedKeepTheirPalette(t *testing.T) {
	files, _ := filepath.Glob("../../shared/photos/food/*.jpg")
	if len(files) == 0 {
		t.Skip("no photographs in ../../shared/photos/food")
	}
	if testing.Short() {
		t.Skip("short")
	}
	var palettes, surfaces []float64
	for i := 4; i < len(files); i += 12 {
		f, err := os.Open(files[i])
		if err != nil {
			t.Fatal(err)
		}
		img, err := jpeg.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		h := 160 * img.Bounds().Dy() / img.Bounds().Dx()
		want, ground := extract(t, raster(img, 160, h))
		var file bytes.Buffer
		if err := jpeg.Encode(&file, img, &jpeg.Options{Quality: 75}); err != nil {
			t.Fatal(err)
		}
		again, err := jpeg.Decode(&file)
		if err != nil {
			t.Fatal(err)
		}
		got, under := extract(t, raster(again, 160, h))
		palettes = append(palettes, PaletteDistance(got, want))
		surfaces = append(surfaces, DeltaE2000(under.Lab, ground.Lab))
	}
	slices.Sort(palettes)
	slices.Sort(surfaces)
	n := len(palettes)
	t.Logf("%d photographs at quality 75: palettes median %.1f, nine of ten within %.1f, most %.1f; surfaces median %.1f, most %.1f",
		n, palettes[n/2], palettes[n*9/10], palettes[n-1], surfaces[n/2], surfaces[n-1])
	if palettes[n/2] > 2 || palettes[n*9/10] > 5 || surfaces[n/2] > 1 {
		t.Error("palettes hang on the compression")
	}
}

func TestPaletteTurnedByHalfATurnIsTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(1, 12).Draw(t, "w"), rapid.IntRange(1, 12).Draw(t, "h")
		r := Raster{Width: w, Height: h}
		for range w * h {
			r.Pix = append(r.Pix, SRGB.XYZ8(rapid.Byte().Draw(t, "r"), rapid.Byte().Draw(t, "g"), rapid.Byte().Draw(t, "b")))
		}
		p, s, err := Extract(r)
		if err != nil {
			t.Fatal(err)
		}
		slices.Reverse(r.Pix)
		q, u, err := Extract(r)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(p, q) || *s != *u {
			t.Errorf("turned: %+v, %+v; before: %+v, %+v", q, u, p, s)
		}
	})
}

func TestOneSceneInThreeSpaces(t *testing.T) {
	want, _ := extract(t, raster(draw(plate, 160, 120), 160, 120))
	for _, s := range []*Space{AdobeRGB, DisplayP3} {
		r := raster(draw(plate, 160, 120), 160, 120)
		for i, c := range r.Pix { // to the 8-bit codes of the space and back
			e := s.Encode(s.FromXYZ(c))
			r.Pix[i] = s.XYZ8(code8(e.R), code8(e.G), code8(e.B))
		}
		got, _ := extract(t, r)
		if d := PaletteDistance(got, want); !(d <= 1) {
			t.Errorf("%s: distance %v", s.Name(), d)
		}
		for i := range got {
			if d := DeltaE2000(got[i].Lab, want[i].Lab); !(d <= 1) {
				t.Errorf("%s: swatch %d is %v away", s.Name(), i, d)
			}
		}
	}
}

func TestPicturesOfFewColours(t *testing.T) {
	one := SRGB.XYZ8(0xb5, 0x65, 0x1d)
	for _, size := range [][2]int{{1, 1}, {2, 1}, {1, 40}, {160, 120}} {
		palette, surface := extract(t, Raster{size[0], size[1], slices.Repeat([]XYZ{one}, size[0]*size[1])})
		if len(palette) != 1 || palette[0].Hex != "#b5651d" || palette[0].Share != 1 || palette[0].Accent || surface != palette[0] {
			t.Errorf("%v: %+v, surface %+v", size, palette, surface)
		}
	}
	var grey Raster
	grey.Width, grey.Height = 256, 64
	for range 64 {
		for v := range 256 {
			grey.Pix = append(grey.Pix, SRGB.XYZ8(uint8(v), uint8(v), uint8(v)))
		}
	}
	palette, _ := extract(t, grey)
	for _, s := range palette {
		if s.Lab.LCh().C > 0.01 || s.Accent {
			t.Errorf("a grey picture has %+v", s)
		}
	}
	if len(palette) < 5 {
		t.Errorf("a grey ramp has %d swatches, want 5 or 6", len(palette))
	}
	// ΔE2000 to grey 120 is 2.7 of the one and 4.2 of the other.
	for code, want := range map[uint8]int{127: 1, 131: 2} {
		r := Raster{Width: 20, Height: 20}
		for i := range 400 {
			v := uint8(120)
			if i >= 200 {
				v = code
			}
			r.Pix = append(r.Pix, SRGB.XYZ8(v, v, v))
		}
		if palette, _ := extract(t, r); len(palette) != want {
			t.Errorf("greys 120 and %d: %d swatches, want %d", code, len(palette), want)
		}
	}
}

func TestSpeckleIsNoColourAndASmallGarnishIsOne(t *testing.T) {
	for pixels, want := range map[int]int{30: 1, 60: 2} {
		r := Raster{100, 100, slices.Repeat([]XYZ{SRGB.XYZ8(128, 128, 128)}, 100*100)}
		for i := range pixels {
			r.Pix[(40+i/6)*100+40+i%6] = SRGB.XYZ8(0xc8, 0x18, 0x38)
		}
		palette, _ := extract(t, r)
		if len(palette) != want || palette[0].Hex != "#808080" {
			t.Errorf("%d red pixels of 10000: %+v", pixels, palette)
		}
		if want == 2 && (palette[1].Hex != "#c81838" || !palette[1].Accent || palette[1].Share != 0.006) {
			t.Errorf("garnish: %+v", palette[1])
		}
	}
}

func TestPalettesOfRealPhotographs(t *testing.T) {
	files, _ := filepath.Glob("../../shared/photos/food/*.jpg")
	if len(files) == 0 {
		t.Skip("no photographs in ../../shared/photos/food")
	}
	if testing.Short() {
		t.Skip("short")
	}
	for i, name := range files {
		if i%25 != 0 {
			continue
		}
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		img, err := jpeg.Decode(f)
		f.Close()
		if err != nil {
			continue // not what this test is about
		}
		palette, _ := extract(t, raster(img, 160, 160*img.Bounds().Dy()/img.Bounds().Dx()))
		if len(palette) < 4 {
			t.Errorf("%s: %d swatches", name, len(palette))
		}
	}
}

// texture is a drawn picture as busy as a photograph: every pixel differs.
func texture(w, h int) Raster {
	r := raster(draw(plate, w, h), w, h)
	for i := range r.Pix {
		k := 0.7 + 0.6*float64((i*7919)%101)/100
		r.Pix[i].X *= k
		r.Pix[i].Y *= 0.9*k + 0.1*float64((i*104729)%89)/89*k
		r.Pix[i].Z *= k
	}
	return r
}

func BenchmarkExtractOf160Pixels(b *testing.B) {
	r := texture(160, 120)
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := Extract(r); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPaletteDistanceOf6(b *testing.B) {
	p, _, _ := Extract(texture(160, 120))
	q, _, _ := Extract(raster(draw(plate, 160, 120), 160, 120))
	b.ReportAllocs()
	for b.Loop() {
		PaletteDistance(p, q)
	}
}

func BenchmarkPaletteDistanceOf12(b *testing.B) {
	var p, q []Swatch
	for i := range 12 {
		x := float64(i)
		p = append(p, Swatch{Lab: Lab{8 * x, 50 - 9*x, 7*x - 30}, Share: 1 + x})
		q = append(q, Swatch{Lab: Lab{95 - 8*x, 7*x - 40, 40 - 5*x}, Share: 13 - x/2})
	}
	b.ReportAllocs()
	for b.Loop() {
		PaletteDistance(p, q)
	}
}
