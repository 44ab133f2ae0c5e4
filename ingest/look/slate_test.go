package look

import (
	"bytes"
	"image"
	"image/color"
	"testing"
	"time"

	"github.com/makiuchi-d/gozxing/qrcode/decoder"
	"github.com/makiuchi-d/gozxing/qrcode/encoder"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/slate"
)

// withCodes is a picture of a grey table with codes side by side, unit pixels a
// module, stored so that it is upright under the orientation.
func withCodes(t *testing.T, unit, orientation int, codes ...[][]bool) image.Image {
	t.Helper()
	const w, h = 1200, 800
	pix := make([]uint8, w*h)
	for i := range pix {
		pix[i] = uint8(90 + i%w/20)
	}
	x0 := 80
	for _, code := range codes {
		for y := range len(code) * unit {
			for x := range len(code) * unit {
				v := uint8(230)
				if code[y/unit][x/unit] {
					v = 25
				}
				pix[(y+150)*w+x0+x] = v
			}
		}
		x0 += (len(code) + 12) * unit
	}
	stored, sw, sh := upright(pix, w, h, back(orientation))
	img := image.NewRGBA(image.Rect(0, 0, sw, sh))
	for i, v := range stored {
		img.SetRGBA(i%sw, i/sw, color.RGBA{v, v, v, 255})
	}
	return img
}

func lookAt(t *testing.T, img image.Image, orientation int) catalogue.Look {
	t.Helper()
	data := asJPEG(t, img, 88)
	seen, err := At(bytes.NewReader(data), int64(len(data)), catalogue.JPEG, camera.Shot{Orientation: orientation})
	if err != nil {
		t.Fatal(err)
	}
	return seen.Look
}

func TestSlatesAreRead(t *testing.T) {
	dish := slate.Payload{Kind: slate.Dish, Shoot: "K7Q2M", Recipe: "R07"}
	clock := slate.Payload{Kind: slate.Clock, Shoot: "K7Q2M", Shown: time.Date(2026, 3, 4, 9, 12, 30, 0, time.FixedZone("", 3600))}
	dishCode, err := slate.Make(dish)
	if err != nil {
		t.Fatal(err)
	}
	clockCode, err := slate.Make(clock)
	if err != nil {
		t.Fatal(err)
	}
	for orientation := 1; orientation <= 8; orientation++ {
		s := lookAt(t, withCodes(t, 6, orientation, dishCode), orientation).Slate
		if s == nil || s.Text != dish.String() || s.Recipe != "R07" || s.Shoot != "K7Q2M" || !s.Shown.IsZero() {
			t.Errorf("orientation %d: slate %+v", orientation, s)
		}
	}
	s := lookAt(t, withCodes(t, 6, 1, clockCode), 1).Slate
	if s == nil || s.Recipe != "" || !s.Shown.Equal(clock.Shown) || s.Text != clock.String() {
		t.Errorf("a clock: slate %+v", s)
	} else if _, east := s.Shown.Zone(); east != 3600 {
		t.Errorf("a clock's zone is %d s, want 3600", east)
	}
	for name, codes := range map[string][][][]bool{"clock first": {clockCode, dishCode}, "dish first": {dishCode, clockCode}} {
		s := lookAt(t, withCodes(t, 6, 1, codes...), 1).Slate
		if s == nil || s.Text != dish.String() || s.Recipe != "R07" || !s.Shown.Equal(clock.Shown) {
			t.Errorf("%s: slate %+v", name, s)
		}
	}
}

// A sheet of four that was not cut yet tells all of them, none twice.
func TestSlatesOfMoreThanOneDish(t *testing.T) {
	var codes [][][]bool
	for _, id := range []string{"R07", "R08", "R07"} {
		code, err := slate.Make(slate.Payload{Kind: slate.Dish, Shoot: "K7Q2M", Recipe: id, Title: "ZA9"})
		if err != nil {
			t.Fatal(err)
		}
		codes = append(codes, code)
	}
	s := lookAt(t, withCodes(t, 5, 1, codes...), 1).Slate
	if s == nil || len(s.Others) != 1 || s.Others[0].Shoot != "K7Q2M" || s.Others[0].Title != "ZA9" || s.Recipe+s.Others[0].Recipe != "R07R08" && s.Recipe+s.Others[0].Recipe != "R08R07" {
		t.Errorf("slate %+v", s)
	}
}

// A code that isn't ours is no slate, nor is a table without any.
func TestNoCodeNoSlate(t *testing.T) {
	menu, fault := encoder.Encoder_encode("HTTPS://EXAMPLE.ORG/MENU", decoder.ErrorCorrectionLevel_M, nil)
	if fault != nil {
		t.Fatal(fault)
	}
	m := menu.GetMatrix()
	code := make([][]bool, m.GetHeight()+8)
	for y := range code {
		code[y] = make([]bool, len(code))
		for x := range code {
			code[y][x] = x >= 4 && y >= 4 && x < len(code)-4 && y < len(code)-4 && m.Get(x-4, y-4) == 1
		}
	}
	if s := lookAt(t, withCodes(t, 6, 1, code), 1).Slate; s != nil {
		t.Errorf("another's code: slate %+v", s)
	}
	if s := lookAt(t, withCodes(t, 6, 1), 1).Slate; s != nil {
		t.Errorf("slate %+v where there is none", s)
	}
}
