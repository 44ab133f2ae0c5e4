package look

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"golang.org/x/image/webp"

	"coverplate/colour"
	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// scene is w × h of five flat colours in linear light of sRGB, all of which
// the three spaces hold: a table, a plate, a dish, its garnish, a napkin.
func scene(w, h int) [][3]float64 {
	pix := make([][3]float64, w*h)
	for y := range h {
		for x := range w {
			fx, fy := float64(x)/float64(w), float64(y)/float64(h)
			p := [3]float64{0.20, 0.12, 0.07}
			switch {
			case fx < 0.15:
				p = [3]float64{0.05, 0.11, 0.18}
			case math.Hypot(fx-0.55, fy-0.5) < 0.12:
				p = [3]float64{0.10, 0.25, 0.05}
			case math.Hypot(fx-0.55, fy-0.5) < 0.22:
				p = [3]float64{0.50, 0.09, 0.05}
			case math.Hypot(fx-0.55, fy-0.5) < 0.35:
				p = [3]float64{0.75, 0.72, 0.66}
			}
			pix[y*w+x] = p
		}
	}
	return pix
}

// Matrices from linear sRGB, both from outside this project: CSS Color 4's
// sample code (W3C, section 18: lin_sRGB_to_XYZ, XYZ_to_lin_a98rgb,
// XYZ_to_lin_P3), multiplied out; from memory to four digits, and held below to
// keep white white. Their curves are IEC 61966-2-1's and 563/256.
var (
	toAdobe = [3][3]float64{{0.7151, 0.2849, 0}, {0, 1, 0}, {0, 0.0412, 0.9588}}
	toP3    = [3][3]float64{{0.8225, 0.1775, 0}, {0.0332, 0.9668, 0}, {0.0171, 0.0724, 0.9105}}
	toSelf  = [3][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
)

func encodeSRGB(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

func encodeAdobe(v float64) float64 { return math.Pow(v, 256.0/563) }

// paint encodes the scene in a space.
func paint(pix [][3]float64, w, h int, m [3][3]float64, encode func(float64) float64) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for i, p := range pix {
		for c := range 3 {
			v := m[c][0]*p[0] + m[c][1]*p[1] + m[c][2]*p[2]
			img.Pix[4*i+c] = uint8(math.Round(255 * encode(min(1, max(0, v)))))
		}
		img.Pix[4*i+3] = 255
	}
	return img
}

func asJPEG(t testing.TB, img image.Image, quality int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func asPNG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func at(b []byte, kind catalogue.FileKind, shot camera.Shot) (Seen, error) {
	return At(bytes.NewReader(b), int64(len(b)), kind, shot)
}

// The same scene photographed in three spaces is the same scene.
func TestPaletteKnowsNoColourSpace(t *testing.T) {
	const w, h = 480, 320
	pix := scene(w, h)
	for name, m := range map[string][3][3]float64{"Adobe": toAdobe, "P3": toP3} {
		for _, row := range m {
			if s := row[0] + row[1] + row[2]; !(math.Abs(s-1) < 1e-3) {
				t.Fatalf("%s: white is no longer white: %v", name, s)
			}
		}
	}
	palettes := map[string][]colour.Swatch{}
	pictures := map[string]image.Image{}
	for name, img := range map[string]image.Image{
		"sRGB":             paint(pix, w, h, toSelf, encodeSRGB),
		"Adobe RGB (1998)": paint(pix, w, h, toAdobe, encodeAdobe),
		"Display P3":       paint(pix, w, h, toP3, encodeSRGB),
	} {
		seen, err := at(asJPEG(t, img, 97), catalogue.JPEG, camera.Shot{ColourSpace: name})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		palettes[name] = seen.Look.Palette
		if pictures[name], err = jpeg.Decode(bytes.NewReader(seen.JPEG)); err != nil {
			t.Fatal(err)
		}
	}
	want := palettes["sRGB"]
	if len(want) < 4 {
		t.Fatalf("palette of %d swatches", len(want))
	}
	for _, name := range []string{"Adobe RGB (1998)", "Display P3"} {
		got := palettes[name]
		if len(got) != len(want) {
			t.Fatalf("%s: %d swatches, want %d", name, len(got), len(want))
		}
		for i := range want {
			if d := colour.DeltaE2000(got[i].Lab, want[i].Lab); !(d <= 1) {
				t.Errorf("%s, swatch %d: %v, in sRGB %v: ΔE00 %.2f", name, i, got[i].Lab, want[i].Lab, d)
			}
		}
		// The preview is sRGB whatever the photo was: on the dish, the two agree.
		for _, p := range []image.Point{{30, 160}, {264, 160}, {264, 100}, {440, 40}} {
			a, b := pictures[name].At(p.X, p.Y), pictures["sRGB"].At(p.X, p.Y)
			if !near(a, b, 5) {
				t.Errorf("%s: preview shows %v at %v, of sRGB %v", name, a, p, b)
			}
		}
	}
	// And the test can fail: read in the wrong space, it is another scene.
	img := asJPEG(t, paint(pix, w, h, toAdobe, encodeAdobe), 97)
	wrong, err := at(img, catalogue.JPEG, camera.Shot{})
	if err != nil {
		t.Fatal(err)
	}
	if d := colour.PaletteDistance(wrong.Look.Palette, want); d < 1 {
		t.Errorf("Adobe RGB read as sRGB lies only %.2f away", d)
	}
}

func near(a, b color.Color, within int) bool {
	ar, ag, ab, _ := a.RGBA()
	br, bg, bb, _ := b.RGBA()
	for _, d := range []int{int(ar>>8) - int(br>>8), int(ag>>8) - int(bg>>8), int(ab>>8) - int(bb>>8)} {
		if d > within || d < -within {
			return false
		}
	}
	return true
}

// Averages are of light. A fine chequer of black and white seen from afar is
// code 188: the sRGB curve of IEC 61966-2-1 at half the light.
func TestAveragesOfLight(t *testing.T) {
	want := int(math.Round(255 * encodeSRGB(0.5)))
	if want != 188 {
		t.Fatalf("half the light is code %d", want)
	}
	img := image.NewGray(image.Rect(0, 0, 4096, 2048))
	for y := range 2048 {
		for x := range 4096 {
			img.Pix[y*4096+x] = uint8(255 * ((x + y) & 1))
		}
	}
	seen, err := at(asPNG(t, img), catalogue.Picture, camera.Shot{})
	if err != nil {
		t.Fatal(err)
	}
	pic, err := jpeg.Decode(bytes.NewReader(seen.JPEG))
	if err != nil {
		t.Fatal(err)
	}
	if b := pic.Bounds(); b.Dx() != 1024 || b.Dy() != 512 {
		t.Errorf("preview of %v", b)
	}
	if c := color.GrayModel.Convert(pic.At(500, 250)).(color.Gray).Y; int(c) < want-1 || int(c) > want+1 {
		t.Errorf("preview shows code %d, want %d", c, want)
	}
	// L* of half the light: CIE 15, 116·0.5^(1/3) − 16.
	l := 116*math.Cbrt(0.5) - 16
	if got := seen.Look.Palette[0].Lab; !(math.Abs(got.L-l) < 0.05) || !(math.Hypot(got.A, got.B) < 0.05) {
		t.Errorf("palette says %v, want L* %.2f", got, l)
	}
}

// gather and raster against the plain definition, on a size that nothing
// divides: every pixel counts once and the same.
func TestGatherLosesNoLight(t *testing.T) {
	const w, h = 211, 97
	img := image.NewYCbCr(image.Rect(0, 0, w, h), image.YCbCrSubsampleRatio420)
	for i := range img.Y {
		img.Y[i] = uint8(i * 7)
	}
	for i := range img.Cb {
		img.Cb[i], img.Cr[i] = uint8(96+i%64), uint8(160-i%64)
	}
	s, _ := colour.SpaceNamed("sRGB")
	for _, rect := range []image.Rectangle{img.Rect, image.Rect(3, 5, 200, 90), image.Rect(1, 1, 2, 2)} {
		var want [3]float64
		for y := rect.Min.Y; y < rect.Max.Y; y++ {
			for x := rect.Min.X; x < rect.Max.X; x++ {
				c := img.YCbCrAt(x, y)
				r, g, b := color.YCbCrToRGB(c.Y, c.Cb, c.Cr)
				lin := s.Linearise(colour.Encoded{R: float64(r) / 255, G: float64(g) / 255, B: float64(b) / 255})
				want[0], want[1], want[2] = want[0]+lin.R, want[1]+lin.G, want[2]+lin.B
			}
		}
		for _, long := range []int{1024, 60, 31, 1} {
			l := gather(img, rect, curveOf(s), long, false)
			var got [3]float64
			for i, p := range l.pix {
				for c := range 3 {
					got[c] += float64(p[c]) * float64(l.cols[i%l.width]*l.rows[i/l.width])
				}
			}
			for c := range 3 {
				// image/color rounds its products elsewhere, a code here and there;
				// a code of the single pixel is 0.0043.
				if !(math.Abs(got[c]-want[c]) <= 0.003*want[c]+0.0044) {
					t.Errorf("%v to %d: channel %d gathers %.4f of light, want %.4f", rect, long, c, got[c], want[c])
				}
			}
		}
	}
}

func TestShapesAndKindsOfPixels(t *testing.T) {
	grey := image.NewGray(image.Rect(0, 0, 40, 30))
	for i := range grey.Pix {
		grey.Pix[i] = 119 // about L* 50
	}
	deep := image.NewNRGBA64(image.Rect(0, 0, 40, 30))
	clear := image.NewNRGBA(image.Rect(0, 0, 40, 30))
	for y := range 30 {
		for x := range 40 {
			deep.Set(x, y, color.NRGBA64{R: 119 * 257, G: 119 * 257, B: 119 * 257, A: 65535})
		}
	}
	palette := image.NewPaletted(image.Rect(0, 0, 40, 30), color.Palette{color.Gray{Y: 119}, color.Black})
	one := image.NewGray(image.Rect(0, 0, 1, 1))
	one.Pix[0] = 119
	for _, c := range []struct {
		name string
		kind catalogue.FileKind
		b    []byte
		l    float64 // L* of all of it
	}{
		{"grey JPEG", catalogue.JPEG, asJPEG(t, grey, 95), 50.03},
		{"grey PNG", catalogue.Picture, asPNG(t, grey), 50.03},
		{"16-bit PNG", catalogue.Picture, asPNG(t, deep), 50.03},
		{"PNG of a palette", catalogue.Picture, asPNG(t, palette), 50.03},
		{"transparent PNG is paper", catalogue.Picture, asPNG(t, clear), 100},
		{"PNG that is called a JPEG", catalogue.JPEG, asPNG(t, grey), 50.03},
		{"JPEG that is called a raw", catalogue.Raw, asJPEG(t, grey, 95), 50.03},
		{"one pixel", catalogue.JPEG, asJPEG(t, one, 95), 50.03},
	} {
		seen, err := at(c.b, c.kind, camera.Shot{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if p := seen.Look.Palette; len(p) != 1 || !(math.Abs(p[0].Lab.L-c.l) < 0.5) {
			t.Errorf("%s: palette %v, want L* %.1f", c.name, p, c.l)
		}
		if seen.Look.Preview != fromFile || seen.JPEG == nil {
			t.Errorf("%s: preview %q", c.name, seen.Look.Preview)
		}
	}
}

// CMYK as Adobe writes it, inverted: three pixels' worth of no ink is white.
func TestCMYK(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 8, 8))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	b := cmykFromGrey(asJPEG(t, img, 100))
	if c, err := jpeg.DecodeConfig(bytes.NewReader(b)); err != nil || c.ColorModel != color.CMYKModel {
		t.Fatalf("the test's own JPEG: %v, %v", c, err)
	}
	seen, err := at(b, catalogue.JPEG, camera.Shot{})
	if err != nil {
		t.Fatal(err)
	}
	if p := seen.Look.Palette; len(p) != 1 || p[0].Lab.L < 98 {
		t.Errorf("no ink at all is %v", p)
	}
}

// cmykFromGrey makes a flat grey JPEG of one block into one of four channels
// by giving each channel the same block.
func cmykFromGrey(b []byte) []byte {
	out := []byte{0xFF, 0xD8, 0xFF, 0xEE, 0, 14}
	out = append(out, "Adobe\x00\x64\x00\x00\x00\x00\x00"...) // transform 0: CMYK
	for p := 2; ; {
		m, n := b[p+1], int(binary.BigEndian.Uint16(b[p+2:]))
		seg := bytes.Clone(b[p : p+2+n])
		switch m {
		case 0xC0:
			seg = append(seg[:9:9], 4, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0, 4, 0x11, 0)
			binary.BigEndian.PutUint16(seg[2:], uint16(len(seg)-2))
		case 0xDA:
			// One scan a channel, each with the grey picture's own data.
			data := b[p+2+n : len(b)-2]
			for c := byte(1); c <= 4; c++ {
				out = append(out, 0xFF, 0xDA, 0, 8, 1, c, 0, 0, 63, 0)
				out = append(out, data...)
			}
			return append(out, 0xFF, 0xD9)
		}
		out = append(out, seg...)
		p += 2 + n
	}
}

func TestUprightByOrientation(t *testing.T) {
	// A red corner at the stored top-left of 240 × 160.
	img := image.NewRGBA(image.Rect(0, 0, 240, 160))
	for y := range 160 {
		for x := range 240 {
			c := color.RGBA{R: 230, G: 230, B: 230, A: 255}
			if x < 80 && y < 80 {
				c = color.RGBA{R: 200, A: 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	b := asJPEG(t, img, 95)
	for o, corner := range []string{1: "top-left", 2: "top-right", 3: "bottom-right", 4: "bottom-left", 5: "top-left", 6: "top-right", 7: "bottom-right", 8: "bottom-left"} {
		if o == 0 {
			continue
		}
		seen, err := at(b, catalogue.JPEG, camera.Shot{Orientation: o})
		if err != nil {
			t.Fatal(err)
		}
		pic, err := jpeg.Decode(bytes.NewReader(seen.JPEG))
		if err != nil {
			t.Fatal(err)
		}
		w, h := 240, 160
		if o >= 5 {
			w, h = h, w
		}
		if p := pic.Bounds(); p.Dx() != w || p.Dy() != h || seen.Look.Width != w || seen.Look.Height != h {
			t.Errorf("orientation %d: preview %v, look %d × %d, want %d × %d", o, p, seen.Look.Width, seen.Look.Height, w, h)
			continue
		}
		x, y := 20, 20
		if strings.HasSuffix(corner, "right") {
			x = w - 20
		}
		if strings.HasPrefix(corner, "bottom") {
			y = h - 20
		}
		if !near(pic.At(x, y), color.RGBA{R: 200, A: 255}, 12) {
			t.Errorf("orientation %d: %v at the %s", o, pic.At(x, y), corner)
		}
	}
}

// The red of VP8 is of the studio range: the module's own lossy samples against
// their originals, which it carries as PNG. Skipped where it is not unpacked.
func TestLossyWebPIsStudioRange(t *testing.T) {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "golang.org/x/image").Output()
	if err != nil {
		t.Skipf("the module cache cannot be asked: %v", err)
	}
	dir := filepath.Join(strings.TrimSpace(string(out)), "testdata")
	for _, name := range []string{"blue-purple-pink", "video-001"} {
		a, err1 := os.ReadFile(filepath.Join(dir, name+".lossy.webp"))
		b, err2 := os.ReadFile(filepath.Join(dir, name+".png"))
		if err1 != nil || err2 != nil {
			t.Skipf("no samples in %s", dir)
		}
		lossy, err := at(a, catalogue.Picture, camera.Shot{})
		if err != nil {
			t.Fatal(err)
		}
		read, err1 := jpeg.Decode(bytes.NewReader(lossy.JPEG))
		original, err2 := png.Decode(bytes.NewReader(b))
		asJFIF, err3 := webp.Decode(bytes.NewReader(a))
		if err := errors.Join(err1, err2, err3); err != nil {
			t.Fatal(err)
		}
		d, wrong := meanDifference(t, read, original), meanDifference(t, asJFIF, original)
		t.Logf("%s: %.2f from its original, read as JFIF %.2f", name, d, wrong)
		if !(d < wrong) {
			t.Errorf("%s: %.2f from its original, read as JFIF %.2f", name, d, wrong)
		}
	}
}

// meanDifference is the mean ΔE2000 of the pixels of two sRGB pictures of one
// size.
func meanDifference(t *testing.T, a, b image.Image) float64 {
	t.Helper()
	if a.Bounds() != b.Bounds() {
		t.Fatalf("%v and %v", a.Bounds(), b.Bounds())
	}
	lab := func(m image.Image, x, y int) colour.Lab {
		c := color.RGBAModel.Convert(m.At(x, y)).(color.RGBA)
		return colour.SRGB.Lab8(c.R, c.G, c.B)
	}
	var sum, n float64
	for y := a.Bounds().Min.Y; y < a.Bounds().Max.Y; y++ {
		for x := a.Bounds().Min.X; x < a.Bounds().Max.X; x++ {
			sum += colour.DeltaE2000(lab(a, x, y), lab(b, x, y))
			n++
		}
	}
	return sum / n
}

func TestBlackBarsAreCut(t *testing.T) {
	s := paint(scene(160, 107), 160, 107, toSelf, encodeSRGB)
	thumb := image.NewRGBA(image.Rect(0, 0, 160, 120))
	for i := 3; i < len(thumb.Pix); i += 4 {
		thumb.Pix[i] = 255
	}
	copy(thumb.Pix[6*thumb.Stride:], s.Pix)
	img, err := jpeg.Decode(bytes.NewReader(asJPEG(t, thumb, 75)))
	if err != nil {
		t.Fatal(err)
	}
	if got := withoutBars(img, 6000, 4000); got.Min.Y < 7 || got.Max.Y > 113 || got.Dy() < 100 || got.Dx() < 156 {
		t.Errorf("kept %v of a 3:2 photo between bars", got)
	}
	if got := withoutBars(img, 4000, 3000); got != img.Bounds() {
		t.Errorf("a dark 4:3 photo was cut to %v", got)
	}
	if got := withoutBars(paint(scene(160, 120), 160, 120, toSelf, encodeSRGB), 6000, 4000); got.Dy() != 120 {
		t.Errorf("a thumbnail without bars was cut to %v", got)
	}
	if got := withoutBars(img, 0, 0); got != img.Bounds() {
		t.Errorf("a photo of unknown shape was cut to %v", got)
	}
}

// Never more in hand than the budget, and everyone gets in.
func TestGate(t *testing.T) {
	g := newGate(10)
	var mu sync.Mutex
	var held, most int64
	var wg sync.WaitGroup
	for i := range 50 {
		n := int64(i%10 + 1)
		wg.Go(func() {
			leave := g.enter(n)
			mu.Lock()
			held += n
			most = max(most, held)
			mu.Unlock()
			mu.Lock()
			held -= n
			mu.Unlock()
			leave()
		})
	}
	wg.Wait()
	if most > 10 || g.free != 10 {
		t.Errorf("held %d of 10 at once, %d free at the end", most, g.free)
	}
}
