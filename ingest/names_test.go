package ingest

import (
	"bytes"
	"path"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"coverplate/ingest/catalogue"
)

func TestStems(t *testing.T) {
	for name, want := range map[string]string{
		"DSC_0412.JPG": "DSC_0412", "DSC_0412.NEF.xmp": "DSC_0412", "DSC_0412.xmp": "DSC_0412", "a.b.jpg": "a.b", "a.b.xmp": "a.b",
		"a.b.jpg.XMP": "a.b", "a.txt.xmp": "a.txt", "noext": "noext", "DSC_0412.wav.xmp": "DSC_0412.wav", "x.": "x",
	} {
		if got := stemOf(name); got != want {
			t.Errorf("stemOf(%q) = %q, want %q", name, got, want)
		}
	}
}

func TestSafeNames(t *testing.T) {
	for name, want := range map[string]string{
		"DSC_0412.JPG": "DSC_0412.JPG", "": "_", ".": "_", "..": "__", "a/b": "a_b", `a\b:c*?"<>|`: "a_b_c______", "x\xffy": "x_y", "a\nb\r\x7f": "a_b__",
		"con": "_con", "LPT9.jpg": "_LPT9.jpg", "COM10.jpg": "COM10.jpg", "console.jpg": "console.jpg", "nul .jpg": "_nul .jpg",
		"com1 .jpg": "_com1 .jpg", "lpt².jpg": "_lpt².jpg", "conout$": "_conout$", "com.jpg": "com.jpg", "comé.jpg": "comé.jpg", "com1x": "com1x", "x. .": "x___", ".x": "_x",
		"Crème brûlée.jpg": "Crème brûlée.jpg",
	} {
		if got := safeName(name); got != want {
			t.Errorf("safeName(%q) = %q, want %q", name, got, want)
		}
	}
}

func FuzzSafeName(f *testing.F) {
	for _, s := range []string{"DSC_0412.JPG", "a\xff\n/..", strings.Repeat("é", 200) + ".jpg", "AUX." + strings.Repeat("x", 252), "..."} {
		f.Add(s, ".JPG", "ab12cd")
	}
	f.Fuzz(func(t *testing.T, stem, rest, suffix string) {
		for _, s := range []string{safeName(stem), suffixed(stem, rest, suffix)} {
			if s == "" || len(s) > maxName || !utf8.ValidString(s) || strings.ContainsAny(s, "/\\\x00\n\r") || litter(s) && s[0] == '.' {
				t.Errorf("%q, %q, %q give %q", stem, rest, suffix, s)
			}
			if again := safeName(s); again != s {
				t.Errorf("%q becomes %q when made safe again", s, again)
			}
		}
	})
}

func TestFolderOfAFrame(t *testing.T) {
	day := func(s string) time.Time {
		d, err := time.Parse("2006-01-02 15:04:05", s)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	for _, c := range []struct {
		f    catalogue.Frame
		want string
	}{
		{catalogue.Frame{}, "originals/undated/camera"},
		{catalogue.Frame{Taken: day("2026-03-05 03:59:59"), Camera: catalogue.Camera{Model: "M 1", Serial: "7/8"}}, "originals/2026-03-04/M_1-7_8"},
		{catalogue.Frame{Taken: day("2026-03-05 04:00:00"), Camera: catalogue.Camera{Make: "Maker"}}, "originals/2026-03-05/Maker"},
		{catalogue.Frame{Camera: catalogue.Camera{Serial: "7"}}, "originals/undated/camera-7"},
		{catalogue.Frame{Camera: catalogue.Camera{Model: "../../../x"}}, "originals/undated/_._.._.._x"},
	} {
		if got := folderOf(c.f, 4*time.Hour); got != c.want {
			t.Errorf("folderOf(%v, %+v) = %s, want %s", c.f.Taken, c.f.Camera, got, c.want)
		}
	}
}

// Whatever the names on a card, each file is in exactly one group, and no group
// has two files of one name.
func TestGroupsLoseNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := &card{name: "A"}
		seen := map[string]bool{}
		var all []entry
		for range rapid.IntRange(0, 20).Draw(t, "n") {
			name := rapid.SampledFrom([]string{"", "d/"}).Draw(t, "folder") + rapid.SampledFrom([]string{"A", "a", "b", "B.c", "a\xff"}).Draw(t, "stem") +
				rapid.SampledFrom([]string{".JPG", ".jpg", ".NEF", ".xmp", ".nef.xmp", ".WAV", ".mp4", ""}).Draw(t, "ext")
			if !seen[name] {
				seen[name] = true
				all = append(all, entry{card: c, source: name, kind: kindOf(name), size: rapid.Int64Range(0, 1).Draw(t, "size")})
			}
		}
		for _, g := range groups(all) {
			fold := map[string]bool{}
			for i, e := range g.files {
				if !seen[e.source] {
					t.Fatalf("%q is in two groups", e.source)
				}
				delete(seen, e.source)
				if f := catalogue.Fold(e.source); fold[f] {
					t.Fatalf("%q and a twin are in one group", e.source)
				} else {
					fold[f] = true
				}
				if path.Dir(e.source) != path.Dir(g.files[0].source) || catalogue.Fold(stemOf(e.name())) != catalogue.Fold(stemOf(g.files[0].name())) {
					t.Fatalf("%q is in the group of %q", e.source, g.files[0].source)
				}
				if i > 0 && rank(e.kind) < rank(g.files[i-1].kind) {
					t.Fatalf("%q leads %q", g.files[i-1].source, e.source)
				}
			}
			if g.picture != (pictorial(g.files[0].kind) && g.files[0].size > 0) {
				t.Fatalf("group of %q: picture = %v", g.files[0].source, g.picture)
			}
		}
		if len(seen) != 0 {
			t.Fatalf("lost: %v", seen)
		}
	})
}

func TestQuick(t *testing.T) {
	sum := func(b []byte) string {
		s, err := quick(bytes.NewReader(b), int64(len(b)))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	const quickEnd = 65536 // 64 KiB, as the catalogue's schema has it
	for _, n := range []int{0, 1, quickEnd - 1, quickEnd, quickEnd + 1, 2*quickEnd - 1, 2 * quickEnd, 2*quickEnd + 1, 5 * quickEnd} {
		b := bytes.Repeat([]byte{1, 2, 3}, n)[:n]
		want := b
		if n > 2*quickEnd {
			want = append(append([]byte{}, b[:quickEnd]...), b[n-quickEnd:]...)
		}
		if got := sum(b); got != sumOfBytes(want) {
			t.Errorf("quick of %d bytes is not the SHA-256 of their ends", n)
		}
		for _, piece := range []int{1, 1000, quickEnd - 1, quickEnd, quickEnd + 1, 3 * quickEnd} {
			if piece == 1 && n > quickEnd+1 {
				continue // slow, and the others tell
			}
			var e ends
			for some := range slices.Chunk(b, piece) {
				e.Write(some)
			}
			if e.sum() != sumOfBytes(want) {
				t.Errorf("ends of %d bytes in pieces of %d are not those", n, piece)
			}
		}
	}
	if _, err := quick(bytes.NewReader([]byte("short")), 10); err == nil {
		t.Error("a file shorter than it was has no error")
	}
}
