package sheet

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// twoTone is a JPEG whose left half is red and whose right half is blue.
func twoTone(t *testing.T) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 200, 100))
	for i := range 200 * 100 {
		c := color.RGBA{200, 20, 20, 255}
		if i%200 >= 100 {
			c = color.RGBA{20, 20, 200, 255}
		}
		img.SetRGBA(i%200, i/200, c)
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// seen is the first page as pdftoppm (poppler-utils) draws it, and its pixels a
// millimetre.
func seen(t *testing.T, pdf []byte) (at func(x, y float64) (r, g, b uint8)) {
	t.Helper()
	tool, err := exec.LookPath("pdftoppm")
	if err != nil && os.Getenv("CI") != "" {
		t.Fatal("pdftoppm is wanted")
	} else if err != nil {
		t.Skip("pdftoppm is not installed")
	}
	file := filepath.Join(t.TempDir(), "a.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	const dots = 50.8 // 2 pixels a millimetre
	out, err := exec.Command(tool, "-r", fmt.Sprint(dots), "-singlefile", file).Output()
	if err != nil {
		t.Fatal(err)
	}
	var w, h, most int
	if _, err := fmt.Sscanf(string(out[:20]), "P6\n%d %d\n%d", &w, &h, &most); err != nil || most != 255 {
		t.Fatalf("%q: %v", out[:20], err)
	}
	pixels := out[len(out)-3*w*h:]
	return func(x, y float64) (r, g, b uint8) {
		p := pixels[3*(int(2*y)*w+int(2*x)):]
		return p[0], p[1], p[2]
	}
}

// The part of a picture that is printed fills its place and nothing beside it.
func TestCropFillsItsPlace(t *testing.T) {
	s, err := New(A6, "test", made)
	if err != nil {
		t.Fatal(err)
	}
	s.Page()
	s.Crop(20, 30, 40, 40, "two", twoTone(t), [4]float64{0.5, 0, 0.5, 1})
	s.Plate(20, 90, 40, 40)
	pdf, err := s.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	at := seen(t, pdf)
	for _, p := range [][2]float64{{22, 32}, {58, 32}, {40, 50}, {22, 68}, {58, 68}} {
		if r, _, b := at(p[0], p[1]); r > 60 || b < 150 {
			t.Errorf("inside, at %v: red %d, blue %d, want the right half's blue", p, r, b)
		}
	}
	for _, p := range [][2]float64{{18, 50}, {62, 50}, {40, 28}, {40, 72}, {40, 110}, {21, 91}} {
		if r, g, b := at(p[0], p[1]); r < 250 || g < 250 || b < 250 {
			t.Errorf("outside, at %v: %d %d %d, want paper", p, r, g, b)
		}
	}
	dark := 0
	for x := 20.0; x < 60; x += 0.5 { // across the plate: rim twice, well, and again
		if r, _, _ := at(x, 110); r < 200 {
			dark++
		}
	}
	if dark < 4 {
		t.Errorf("a plate crosses %d dark pixels", dark)
	}
}

// book is n spreads with a dish each, the last without a picture.
func book(t *testing.T, n int) Wall {
	w := Wall{Book: "Skerry <Table> (\\)", Says: "said", Legend: "legend", Trim: 189.0 / 246, Made: made}
	for i := range n {
		p := WallPicture{X: 0.5, Width: 0.5, Height: 1, Name: "two", JPEG: twoTone(t), Part: [4]float64{0, 0, 0.5, 1}, Label: fmt.Sprintf("R%02d", i)}
		if i == n-1 {
			p.JPEG = nil
		}
		w.Spreads = append(w.Spreads, WallSpread{Left: fmt.Sprint(2 * i), Right: fmt.Sprint(2*i + 1), Pictures: []WallPicture{p},
			Palette: []WallColour{{0.7, 200, 20, 20}, {0.3, 0, 0, 0}}, Dishes: []WallDish{{fmt.Sprintf("R%02d %s", i, strings.Repeat("long title ", 20)), "wants overhead"}}})
	}
	return w
}

func TestWallHoldsTheBook(t *testing.T) {
	for _, c := range []struct {
		size  Size
		n     int
		pages int
	}{{A3, 1, 1}, {A4, 12, 1}, {Tabloid, 40, 1}, {A3, 75, 2}, {Letter, 75, 5}} {
		w := book(t, c.n)
		s, err := w.Sheet(c.size)
		if err != nil {
			t.Fatal(err)
		}
		pdf, err := s.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		if got := w.Pages(c.size.Turned()); got > c.pages {
			t.Errorf("%d spreads take %d of %s, want %d at most", c.n, got, c.size.Name, c.pages)
		}
		columns, rows, width := w.grid(c.size.Turned())
		if wide := float64(columns)*(width+wallGap) - wallGap + 2*wallMargin; wide > s.Size.Width+1e-6 {
			t.Errorf("%s: %d columns are %.1f mm wide", c.size.Name, columns, wide)
		}
		each := width/(2*w.Trim) + wallNumber + wallBar + w.words() + wallGap
		if high := float64(rows)*each - wallGap + 2*wallMargin + wallHead + wallFoot; rows > 1 && high > s.Size.Height+1e-6 {
			t.Errorf("%s: %d rows are %.1f mm high", c.size.Name, rows, high)
		}
		text := textOf(t, pdf)
		for i := range c.n {
			for _, want := range []string{fmt.Sprintf("R%02d long title", i), fmt.Sprint(2*i + 1)} {
				if !strings.Contains(text, want) {
					t.Errorf("%d on %s: %q is not on it", c.n, c.size.Name, want)
				}
			}
		}
		if strings.Count(text, "wants overhead") != c.n || !strings.Contains(text, "Skerry <Table> (\\)") {
			t.Errorf("%d on %s: wants %d times", c.n, c.size.Name, strings.Count(text, "wants overhead"))
		}
	}
}

func TestContactNamesEveryFrame(t *testing.T) {
	c := Contact{Book: "Skerry Table", Made: made, Parts: []ContactPart{{Title: "R01 Rye", Says: "hero: settled"}, {Title: "R02"}}}
	for i := range 45 {
		f := ContactFrame{JPEG: twoTone(t), Width: 200, Height: 100, ID: "two", Name: fmt.Sprintf("SKER%04d.JPG", i), Facts: []string{"90 mm, f/4", "1920 × 2880 px", "third", "fourth", "fifth"}}
		if i == 3 {
			f.JPEG, f.Why, f.Mark = nil, "no preview could be made", "chosen: hero"
		}
		c.Parts[0].Frames = append(c.Parts[0].Frames, f)
	}
	s, err := c.Sheet(A4)
	if err != nil {
		t.Fatal(err)
	}
	pdf, err := s.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(textOf(t, pdf)), " ")
	for i := range 45 {
		if name := fmt.Sprintf("SKER%04d.JPG", i); strings.Count(text, name) != 1 {
			t.Errorf("%s is on it %d times", name, strings.Count(text, name))
		}
	}
	for _, want := range []string{"no preview could be made", "chosen: hero", "R02", "1 of 3", "3 of 3"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not on it", want)
		}
	}
}
