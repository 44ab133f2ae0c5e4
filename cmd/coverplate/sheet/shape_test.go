package sheet

import (
	"bytes"
	"fmt"
	"image"
	_ "image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// lohit and loma are fonts of Debian's packages fonts-lohit-deva and
// fonts-tlwg-loma-ttf.
const (
	lohit = "/usr/share/fonts/truetype/lohit-devanagari/Lohit-Devanagari.ttf"
	loma  = "/usr/share/fonts/truetype/tlwg/Loma.ttf"
)

// given is a sheet of a page with the font of a file.
func given(t *testing.T, path string) *Sheet {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Skip(err)
	}
	s, err := New(A6, "test", made, data)
	if err != nil {
		t.Fatal(err)
	}
	s.Page()
	return s
}

// Glyphs and their places are HarfBuzz's own, of hb-shape in Debian's package
// libharfbuzz-bin: vowels that stand before their consonant, conjuncts, marks
// above and below.
func TestGlyphsAreHarfBuzzs(t *testing.T) {
	tool, err := exec.LookPath("hb-shape")
	if err != nil {
		t.Skip("hb-shape is not installed")
	}
	for _, c := range []struct{ font, text string }{
		{lohit, "गाजर"}, {lohit, "हिन्दी"}, {lohit, "श्रीखंड"}, {lohit, "क्षत्रिय"}, {lohit, "र्क\u200dष"}, {lohit, "कृष्णा।"},
		{loma, "ข้าวเหนียวมะม่วง"}, {loma, "น้ำปลา"}, {loma, "ปูผัดผงกะหรี่"},
	} {
		s := given(t, c.font)
		f := s.faces[2]
		out, err := exec.Command(tool, "--no-glyph-names", "--no-clusters", c.font, c.text).Output()
		if err != nil {
			t.Fatal(err)
		}
		run, at := f.shape(c.text), 0 // in units of the font, of which an em has so many:
		em := float64(f.font.Upem())
		near := func(ems float64, units int) bool { return abs(ems*em-float64(units)) < 0.5 }
		parts := strings.Split(strings.Trim(strings.TrimSpace(string(out)), "[]"), "|")
		if len(parts) != len(run.glyphs) {
			t.Errorf("%q: %d glyphs, HarfBuzz has %s", c.text, len(run.glyphs), out)
			continue
		}
		for i, part := range parts { // glyph@x,y+advance, the middle where it is not 0
			glyph, rest, _ := strings.Cut(part, "+")
			glyph, off, _ := strings.Cut(glyph, "@")
			var id, x, y, advance int
			fmt.Sscanf(off, "%d,%d", &x, &y)
			fmt.Sscan(glyph, &id)
			fmt.Sscan(rest, &advance)
			if g := run.glyphs[i]; int(g.id) != id || !near(g.x, at+x) || !near(g.y, y) {
				t.Errorf("%q, glyph %d: %d at %.1f, %.1f, HarfBuzz %d at %d, %d", c.text, i, g.id, g.x*em, g.y*em, id, at+x, y)
			}
			at += advance
		}
		if !near(run.advance, at) {
			t.Errorf("%q: %.1f long, HarfBuzz %d", c.text, run.advance*em, at)
		}
	}
}

func abs(v float64) float64 { return max(v, -v) }

// What is drawn lies where the same text lies when the PDF writer sets it: poppler
// shows both alike, but for what its hinting moves.
func TestDrawnIsAsSet(t *testing.T) {
	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		t.Skip("pdftoppm is not installed")
	}
	shown := func(drawn bool) image.Image {
		s, err := New(A6, "test", made)
		if err != nil {
			t.Fatal(err)
		}
		s.Page()
		f := s.faces[1]
		if drawn {
			s.draw(f, 10, 30, "Sgx&§Öß8", Type{Size: 40, Bold: true})
		} else {
			s.use(f, 40)
			s.pdf.Text(10, 30, "Sgx&§Öß8")
		}
		pdf, err := s.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		base := filepath.Join(t.TempDir(), "p")
		cmd := exec.Command(tool, "-r", "150", "-gray", "-png", "-singlefile", "-", base)
		cmd.Stdin = bytes.NewReader(pdf)
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("pdftoppm: %v\n%s", err, out)
		}
		r, err := os.Open(base + ".png")
		if err != nil {
			t.Fatal(err)
		}
		defer r.Close()
		img, _, err := image.Decode(r)
		if err != nil {
			t.Fatal(err)
		}
		return img
	}
	a, b := shown(true), shown(false)
	ink, apart := 0.0, 0.0
	for y := range a.Bounds().Dy() {
		for x := range a.Bounds().Dx() {
			p, _, _, _ := a.At(x, y).RGBA()
			q, _, _, _ := b.At(x, y).RGBA()
			ink += float64(0xffff-q) / 0xffff
			apart += abs(float64(p)-float64(q)) / 0xffff
		}
	}
	t.Logf("of %.0f pixels of ink %.1f differ", ink, apart)
	if ink < 5000 || apart > 0.08*ink { // a pixel to the side they differ by 0.15
		t.Errorf("of %.0f pixels of ink %.1f differ", ink, apart)
	}
}

// Words of such scripts fit their place, and none is lost.
func TestDrawnWordsFit(t *testing.T) {
	s := given(t, lohit)
	text := strings.Repeat("गाजर का हलवा ", 12)
	if got := s.Block(6, 6, 60, 40, text, Type{Size: 26, Min: 4, Bold: true}); got > 40+1e-6 || got < 20 {
		t.Errorf("takes %.1f of 40 mm", got)
	}
	lines, cuts := s.wrap(s.printable(text), 60, Type{Size: 12})
	if got := strings.Join(lines, " "); cuts > 0 || got != strings.TrimSpace(text) {
		t.Errorf("%d cuts, %q", cuts, got)
	}
	if len(s.Missing())+len(s.Unshaped()) > 0 {
		t.Errorf("missing %q, unshaped %q", string(s.Missing()), s.Unshaped())
	}
	if got := s.printable("क\u200dष and a\u200db"); got != "क\u200dष and ab" {
		t.Errorf("joiners: %q", got)
	}
}

// FuzzHeld reads fonts made of any bytes, and shapes words in those that can be
// used. Nothing panics; a font that go-text panics on is refused, or a
// fault.
func FuzzHeld(f *testing.F) {
	for _, path := range []string{lohit, loma} {
		if data, err := os.ReadFile(path); err == nil {
			f.Add(data)
		}
	}
	f.Add([]byte("OTTO\x00\x01"))
	f.Fuzz(func(t *testing.T, data []byte) {
		Held(bytes.NewReader(data), []rune("กग"))
		s, err := New(A6, "test", made, data)
		if err != nil {
			return
		}
		s.Page()
		s.Block(6, 6, 60, 40, "กिग餃", Type{Size: 26, Min: 20, Bold: true})
	})
}
