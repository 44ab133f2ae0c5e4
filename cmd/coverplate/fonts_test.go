package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"coverplate/cmd/coverplate/sheet"
)

// had is surroundings of these variables alone.
func had(vars map[string]string) surroundings {
	return surroundings{Getenv: func(name string) string { return vars[name] }}
}

func TestFoldersOfFonts(t *testing.T) {
	for _, c := range []struct {
		system string
		vars   map[string]string
		want   string
	}{
		{"linux", nil, "/usr/local/share/fonts /usr/share/fonts"},
		{"linux", map[string]string{"HOME": "/home/i"}, "/home/i/.local/share/fonts /home/i/.fonts /usr/local/share/fonts /usr/share/fonts"},
		{"freebsd", map[string]string{"HOME": "/home/i", "XDG_DATA_HOME": "/d", "XDG_DATA_DIRS": "/a:/b"}, "/d/fonts /home/i/.fonts /a/fonts /b/fonts"},
		{"darwin", map[string]string{"HOME": "/Users/i"}, "/Users/i/Library/Fonts /Library/Fonts /System/Library/Fonts"},
	} {
		if got := strings.Join(fontFolders(had(c.vars), c.system), " "); got != c.want {
			t.Errorf("%s, %v: %s, want %s", c.system, c.vars, got, c.want)
		}
	}
}

// What the built-in font lacks is drawn in a font of the machine, so that poppler
// reads its number no more; files that are no fonts are passed over. The font is Debian's package
// fonts-droid-fallback.
func TestFontsOfTheMachineStandIn(t *testing.T) {
	const droid = "/usr/share/fonts/truetype/droid/DroidSansFallbackFull.ttf"
	data, err := os.ReadFile(droid)
	if err != nil {
		t.Skip(err)
	}
	dir := t.TempDir()
	for name, b := range map[string][]byte{"droid.ttf": data, "droid-bold.ttf": data, "broken.ttf": data[:3000], "none.ttf": nil, "words.txt": []byte("餃"), "odd.otf": []byte("OTTO")} {
		if err := os.MkdirAll(filepath.Join(dir, "fonts", "deep"), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "fonts", "deep", name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	at := had(map[string]string{"XDG_DATA_DIRS": dir})
	if got := fontsFor(at, []rune("餃子क")); !slices.Equal(got, []string{filepath.Join(dir, "fonts", "deep", "droid.ttf")}) {
		t.Errorf("fonts for 餃子क: %q", got)
	}
	if got := fontsFor(at, []rune("क")); got != nil {
		t.Errorf("fonts for क: %q", got)
	}
	set := func(fonts ...[]byte) (*sheet.Sheet, error) {
		return sheet.Slates(sheet.A6, "slates", time.Unix(0, 0), []sheet.Card{{Title: "水餃子 क", ID: "R01", Code: [][]bool{{true}}}}, fonts...)
	}
	for _, c := range []struct {
		at      surroundings
		missing string
		says    string
	}{
		{at, "क", "R01 [0915] 0.05"},
		{had(map[string]string{"XDG_DATA_DIRS": filepath.Join(dir, "nowhere")}), "क子水餃", "R01 [6C34][9903] [5B50] [0915] 0.05"},
	} {
		doc, err := withFonts(c.at, nil, set)
		if err != nil || string(doc.Missing()) != c.missing {
			t.Fatalf("missing %q, %v, want %q", string(doc.Missing()), err, c.missing)
		}
		pdf, err := doc.Bytes()
		if err != nil {
			t.Fatal(err)
		}
		tool, err := exec.LookPath("pdftotext")
		if err != nil {
			t.Skip("pdftotext is not installed")
		}
		cmd := exec.Command(tool, "-", "-")
		cmd.Stdin = bytes.NewReader(pdf)
		text, err := cmd.Output()
		if err != nil || !strings.Contains(strings.Join(strings.Fields(string(text)), " "), c.says) {
			t.Errorf("the card says %q, %v, want %q", text, err, c.says)
		}
	}
}
