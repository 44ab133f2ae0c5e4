package sheet

import (
	"fmt"
	"image"
	_ "image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// A module has 5 pixels at least where the card fills a third of the 1600 of a
// preview's long side, on every paper, also for the largest code that a payload
// makes (version 5: 37 modules and the quiet zone of 4 to each side).
func TestModulesAreLargeEnough(t *testing.T) {
	const third, modules = 1600.0 / 3, 37 + 2*4
	for _, long := range []float64{A6.Height, A4.Height / 2, Letter.Height / 2} {
		if got := third / long * CodeSide / modules; got < 5 {
			t.Errorf("a card %.1f mm long: %.2f px a module", long, got)
		}
	}
	for _, wide := range []float64{A6.Width, A4.Width / 2, Letter.Width / 2} {
		if CodeSide > wide-13 {
			t.Errorf("a card %.1f mm wide can't hold a code of %.0f", wide, CodeSide)
		}
	}
}

// The patches double in linear light, and each code is sRGB's, worked out by
// hand from IEC 61966-2-1: 1.055 · 0.2^(1/2.4) − 0.055 is 0.4845 and so 124.
func TestPatchesAreStops(t *testing.T) {
	for i := 1; i < len(greySteps); i++ {
		if greySteps[i] != 2*greySteps[i-1] {
			t.Errorf("step %d is %v times the one before", i, greySteps[i]/greySteps[i-1])
		}
	}
	for l, want := range map[float64]uint8{0: 0, 0.2: 124, 0.8: 231, 1: 255} {
		if got := sRGB(l); got != want {
			t.Errorf("linear %v has code %d, want %d", l, got, want)
		}
	}
}

func TestSlatesSayAllOfADish(t *testing.T) {
	code := make([][]bool, 29)
	for y := range code {
		code[y] = make([]bool, 29)
		for x := range code[y] {
			code[y][x] = x >= 4 && y >= 4 && x < 25 && y < 25 && (x+y)%2 == 0
		}
	}
	var cards []Card
	for i := range 9 {
		cards = append(cards, Card{Title: fmt.Sprint("Dish number ", i), ID: fmt.Sprint("R0", i), Pages: fmt.Sprint(10 + i), Needs: "hero; overhead", Angle: "low", Shoot: "K7Q2M", Code: code})
	}
	cards[3].Title, cards[3].ID = strings.Repeat("a long title goes on and on ", 20), strings.Repeat("id-", 20)
	for _, c := range []struct {
		size  Size
		pages int
	}{{A4, 3}, {Letter, 3}, {A6, 9}} {
		s, err := Slates(c.size, "slates", made, cards)
		if err != nil {
			t.Fatal(err)
		}
		pdf, err := s.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		text := textOf(t, pdf)
		if got := strings.Count(text, "\f"); got != c.pages {
			t.Errorf("%s: %d pages, want %d", c.size.Name, got, c.pages)
		}
		flat := strings.Join(strings.Fields(text), " ")
		for i, card := range cards {
			for _, want := range []string{card.Title, card.ID, "page " + card.Pages} {
				if i != 3 && !strings.Contains(flat, want) {
					t.Errorf("%s: %q is not on it", c.size.Name, want)
				}
			}
		}
		for _, want := range []string{"angle: low", "shoot K7Q2M", "never coverage", "whether it is safe", "Linear light"} {
			if got := strings.Count(flat, want); got != len(cards) {
				t.Errorf("%s: %q stands on it %d times, want %d", c.size.Name, want, got, len(cards))
			}
		}
	}
}

// The code on the paper is CodeSide wide and stands where no text does: the
// page is drawn by poppler and its modules looked at.
func TestCodeIsDrawnModuleByModule(t *testing.T) {
	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		t.Skip("pdftoppm is not installed")
	}
	code := make([][]bool, 29)
	for y := range code {
		code[y] = make([]bool, 29)
		for x := range code[y] {
			code[y][x] = x >= 4 && y >= 4 && x < 25 && y < 25 && (x*x+3*y*x+y)%5 < 2
		}
	}
	s, err := Slates(A6, "slates", made, []Card{{Title: "Leeks", ID: "R01", Needs: "hero", Shoot: "A", Code: code}})
	if err != nil {
		t.Fatal(err)
	}
	pdf, err := s.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "a.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(tool, "-r", "254", "-gray", "-png", file, filepath.Join(dir, "p")).CombinedOutput(); err != nil {
		t.Fatalf("pdftoppm: %v\n%s", err, out)
	}
	found, _ := filepath.Glob(filepath.Join(dir, "p*.png"))
	f, err := os.Open(found[0])
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	page, _, err := image.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	const perMM, x0, y0 = 10, 4.5, 148 - 6.5 - 11 - CodeSide
	unit := CodeSide / 29
	for y := range code {
		for x := range code[y] {
			v, _, _, _ := page.At(int((x0+(float64(x)+0.5)*unit)*perMM), int((y0+(float64(y)+0.5)*unit)*perMM)).RGBA()
			if (v < 0x8000) != code[y][x] {
				t.Fatalf("module %d, %d is drawn with light %d", x, y, v>>8)
			}
		}
	}
}
