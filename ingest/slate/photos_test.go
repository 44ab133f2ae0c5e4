package slate

import (
	"encoding/csv"
	"image"
	_ "image/jpeg"
	_ "image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// grey is a picture's file as luminance codes, at most side pixels long.
func grey(t testing.TB, path string, side int) Picture {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, _, err := image.Decode(f)
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	b := img.Bounds()
	k := max(1, (max(b.Dx(), b.Dy())+side-1)/side)
	p := Picture{Width: b.Dx() / k, Height: b.Dy() / k}
	p.Pix = make([]uint8, p.Width*p.Height)
	for y := range p.Height {
		for x := range p.Width {
			sum := uint32(0)
			for dy := range k {
				for dx := range k {
					r, g, bl, _ := img.At(b.Min.X+k*x+dx, b.Min.Y+k*y+dy).RGBA()
					sum += (299*r + 587*g + 114*bl) / 1000
				}
			}
			p.Pix[y*p.Width+x] = uint8(sum / uint32(k*k) >> 8)
		}
	}
	return p
}

const photos = "../../../shared/photos"

// TestPhotographsOfCodes reads the photographs of codes beside the repository:
// other people's codes, so their text is compared, not parsed.
func TestPhotographsOfCodes(t *testing.T) {
	f, err := os.Open(filepath.Join(photos, "qr", "MANIFEST.csv"))
	if err != nil {
		t.Skip("no photographs beside the repository: ", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	file, text := slices.Index(rows[0], "file"), slices.Index(rows[0], "expected_text")
	read := 0
	for _, row := range rows[1:] {
		got := Read(grey(t, filepath.Join(photos, "qr", row[file]), 1600))
		for i := range got { // the manifest's lines end without a carriage return
			got[i] = strings.ReplaceAll(got[i], "\r\n", "\n")
		}
		switch {
		case len(got) == 1 && got[0] == row[text]:
			read++
		case len(got) > 0:
			t.Errorf("%s: read %q, want %q", row[file], got, row[text])
		default:
			t.Logf("%s: not read", row[file])
		}
	}
	t.Logf("%d of %d read", read, len(rows)-1)
	if read < len(rows)-1 { // 37 of 37 since 2026-11-28
		t.Errorf("%d of %d read", read, len(rows)-1)
	}
}

// TestFoodHoldsNoCodes: what is read in photographs of food is read wrongly.
func TestFoodHoldsNoCodes(t *testing.T) {
	files, _ := filepath.Glob(filepath.Join(photos, "food", "*.jpg"))
	if len(files) == 0 {
		t.Skip("no photographs beside the repository")
	}
	if os.Getenv("COVERPLATE_ALL_PHOTOS") == "" {
		files = files[:min(len(files), 8)]
	}
	for _, f := range files {
		if got := Read(grey(t, f, 1600)); got != nil {
			t.Errorf("%s: read %q", f, got)
		}
	}
}
