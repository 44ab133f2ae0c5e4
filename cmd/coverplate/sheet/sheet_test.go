package sheet

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

var made = time.Date(2026, 3, 4, 8, 0, 0, 0, time.UTC)

// textOf is what pdftotext (poppler-utils) finds in a PDF.
func textOf(t *testing.T, pdf []byte) string {
	t.Helper()
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext is not installed")
	}
	file := filepath.Join(t.TempDir(), "a.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "-raw", file, "-").CombinedOutput()
	if err != nil {
		t.Fatalf("pdftotext: %v\n%s", err, out)
	}
	return string(out)
}

func TestPapers(t *testing.T) {
	for name, want := range map[string]Size{"a4": A4, "A6": A6, "Letter": Letter} {
		if got, err := SizeNamed(name); err != nil || got != want {
			t.Errorf("%q: %v, %v", name, got, err)
		}
	}
	if _, err := SizeNamed("a7"); err == nil || !strings.Contains(err.Error(), "a7") {
		t.Errorf("a7: %v", err)
	}
	if got := A6.Turned(); got.Width != 148 || got.Height != 105 {
		t.Errorf("A6 turned is %v", got)
	}
}

// The block of joined shapes, as Unicode's own compatibility mappings have it.
func TestShapesAreUnicodes(t *testing.T) {
	at := rune(0xFE80)
	for _, s := range shapes {
		for range s.n {
			if got := norm.NFKC.String(string(at)); got != string(s.letter) {
				t.Errorf("U+%04X stands for %q, want %q", at, got, s.letter)
			}
			at++
		}
	}
	if at != 0xFEF5 {
		t.Errorf("the shapes end before U+%04X, want U+FEF5", at)
	}
	for letter, p := range persian {
		for i := range rune(p.n) {
			if got := norm.NFKC.String(string(p.first + i)); got != string(letter) {
				t.Errorf("U+%04X stands for %q, want %q", p.first+i, got, letter)
			}
		}
	}
	for alef, whole := range lamAlef {
		for i := range rune(2) {
			if got := norm.NFKC.String(string(whole + i)); got != string([]rune{lam, alef}) {
				t.Errorf("U+%04X stands for %q", whole+i, got)
			}
		}
	}
}

// Joined by hand after the joining rules of the Unicode Standard, section 9.2.
func TestArabicIsJoined(t *testing.T) {
	for in, want := range map[string]string{
		"كنافة": "\uFEDB\uFEE8\uFE8E\uFED3\uFE94", // kaf first, noon between, alef last, feh first, teh marbuta last
		"سلام":  "\uFEB3\uFEFC\uFEE1",             // seen first, lam-alef joined, meem alone
		"ب":     "\uFE8F",
		"leek":  "leek",
	} {
		if got := joined(in); got != want {
			t.Errorf("joined(%q) = %+q, want %+q", in, got, want)
		}
	}
}

// Orders worked out by hand from UAX #9.
func TestLinesAreSeenInOrder(t *testing.T) {
	for _, c := range []struct {
		line      string
		rightward bool
		want      string
	}{
		{"abc", false, "abc"},
		{"אבג", true, "גבא"},
		{"leeks אבג 12", false, "leeks 12 גבא"},
		{"אב 12 גד", true, "דג 12 בא"},
		{"אב (גד)", true, "(דג) בא"},
		{"אב cd ef", true, "cd ef בא"},
		{"אב 3.5 kg", true, "kg 3.5 בא"}, // the number counts as from the right, N1,
	} {
		if got := visual(c.line, c.rightward); got != c.want {
			t.Errorf("visual(%q, %v) = %q, want %q", c.line, c.rightward, got, c.want)
		}
	}
}

// Nothing is a box: what no font has is named, in the document and to the caller.
func TestMissingCharactersAreNamed(t *testing.T) {
	s, err := New(A6, "test", made)
	if err != nil {
		t.Fatal(err)
	}
	s.Page()
	s.Block(10, 10, 80, 30, "餃 and 🥟, Ελιές, Борщ, मटर\u200b\x07", Type{Size: 14, Min: 8})
	if got, want := string(s.Missing()), "टमर餃🥟"; got != want {
		t.Errorf("missing %q, want %q", got, want)
	}
	pdf, err := s.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(textOf(t, pdf)), " ")
	for _, want := range []string{"[9903] and [1F95F],", "Ελιές, Борщ,"} {
		if !strings.Contains(text, want) {
			t.Errorf("the page says %q, want %q in it", text, want)
		}
	}
}

// A text takes no more room than it has, whatever it is, and is never lost
// without "…".
func TestTextFits(t *testing.T) {
	s, err := New(A6, "test", made)
	if err != nil {
		t.Fatal(err)
	}
	s.Page()
	for _, text := range []string{
		"Leek tart", strings.Repeat("Beetroot and caraway ", 30), strings.Repeat("x", 400), "\xff\xfe", "<b>&amp;</b> (\\) %PDF", strings.Repeat("é ", 300), "",
	} {
		for _, w := range []float64{3, 40, 93} {
			most := Type{Size: 30, Min: 9, Bold: true}
			if got := s.Block(6, 6, w, 25, text, most); got > 25+1e-6 {
				t.Errorf("%.20q in 25 mm takes %.2f", text, got)
			}
			lines, _ := s.wrap(s.printable(text), w, Type{Size: 9, Bold: true})
			for _, line := range lines {
				if utf8.RuneCountInString(line) > 1 && s.width(line, Type{Size: 9, Bold: true}) > w {
					t.Errorf("%.20q: the line %q is longer than %.0f mm", text, line, w)
				}
			}
		}
	}
	pdf, err := s.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	if text := strings.Join(strings.Fields(textOf(t, pdf)), " "); !strings.Contains(text, "…") || !strings.Contains(text, "<b>&amp;</b> (\\)") {
		t.Errorf("the page says %.200q", text)
	}
}

func TestSameSheetSameBytes(t *testing.T) {
	make := func() []byte {
		s, err := New(A4, "test", made)
		if err != nil {
			t.Fatal(err)
		}
		s.Page()
		s.Block(10, 10, 80, 30, "Leek tart Ελιές", Type{Size: 14})
		b, err := s.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	if !bytes.Equal(make(), make()) {
		t.Error("two sheets of one content differ")
	}
}

func TestOddFontsAreRefused(t *testing.T) {
	for _, data := range [][]byte{nil, []byte("OTTO1234"), []byte("\x00\x01\x00\x00 and nothing more")} {
		if _, err := New(A4, "test", made, data); err == nil || !strings.Contains(err.Error(), "font 1") {
			t.Errorf("%q: %v, want a refusal that names font 1", data, err)
		}
	}
}

// What is written with letters that join and is set without is named.
func TestUnshapedScriptsAreNamed(t *testing.T) {
	s, err := New(A6, "test", made)
	if err != nil {
		t.Fatal(err)
	}
	s.Page()
	s.Block(10, 10, 80, 30, "ສ ꜣ كنافة ߊ ڄ", Type{Size: 14}) // the last is no letter of Arabic or Persian
	if got := s.Unshaped(); !slices.Equal(got, []string{"Arabic"}) {
		t.Errorf("unshaped: %q", got)
	}
}

// Lines break where the Unicode Standard's Annex 14 lets them: after a hyphen,
// between ideographs but not before a full stop, and in a word only where it is
// longer than a line in type of half the size.
func TestLinesBreakWhereTheyMay(t *testing.T) {
	s, err := New(A6, "test", made)
	if err != nil {
		t.Fatal(err)
	}
	s.Page()
	for _, c := range []struct {
		text string
		w    float64
		want string
		cuts int
	}{
		{"sea-buckthorn-and-rye", 30, "sea-|buckthorn-|and-rye", 0},
		{"oven-baked rye", 25, "oven-|baked rye", 0},
		{"Donaudampfschifffahrt", 25, "Donauda|mpfschifff|ahrt", 2},
		{"[6C34][9903][5B50]", 25, "[6C34]|[9903]|[5B50]", 0},
		{"leeks  with  rye ", 200, "leeks with rye", 0},
		{"", 25, "", 0},
	} {
		lines, cuts := s.wrap(s.printable(c.text), c.w, Type{Size: 14})
		if got := strings.Join(lines, "|"); got != c.want || cuts != c.cuts {
			t.Errorf("%q in %.0f mm: %q, %d cuts, want %q, %d", c.text, c.w, got, cuts, c.want, c.cuts)
		}
	}
}
