package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"charm.land/lipgloss/v2"

	"coverplate/ingest"
)

func TestPlain(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"Røye på flatbrød, 鯖の燻製 👩‍🍳", "Røye på flatbrød, 鯖の燻製 👩‍🍳"},
		{"red \x1b[31m", `red \x1b[31m`},
		{"title \x1b]0;x\x07", `title \x1b]0;x\x07`},
		{"one\ntwo\r\tthree\x00", `one\x0atwo\x0d\x09three\x00`},
		{"c1 \u009b31m", `c1 \u009b31m`},
		{"turned \u202egpj.exe", `turned \u202egpj.exe`},
		{"tag \U000e0041", `tag \U000e0041`},
		{"broken \xff\xc3", `broken \xff\xc3`},
		{"line\u2028sep", `line\u2028sep`},
	} {
		if got := plain(c.in); got != c.want {
			t.Errorf("plain(%q) = %q, want %q", c.in, got, c.want)
		}
	}
}

// A line ends before a flag, not within its hyphens, at whatever width.
func TestFlagsAreNotFolded(t *testing.T) {
	for width := 40; width < 120; width++ {
		var b bytes.Buffer
		newSetter(&b, termOptions{Width: width}).put(2, 2, "The first copies are whole. When the disk is well again, coverplate ingest --second makes good what it lacks.")
		if got := b.String(); strings.Count(got, "--second ")+strings.Count(got, "--second\n") != 1 {
			t.Errorf("width %d:\n%s", width, got)
		}
	}
}

// What stands beside a file's name does not say it again, be the one absolute
// and the other as it was given.
func TestPathless(t *testing.T) {
	read := &fs.PathError{Op: "read", Path: "/media/A001/DCIM/DSC_0001.JPG", Err: errors.New("input/output error")}
	for _, path := range []string{"A001/DCIM/DSC_0001.JPG", "/media/A001/DCIM/DSC_0001.JPG"} {
		if got := pathless(read, path); got != "input/output error" {
			t.Errorf("beside %s: %q", path, got)
		}
	}
	if got := pathless(read, "A001"); got != read.Error() {
		t.Errorf("beside another name: %q", got)
	}
}

func TestJSONIsPlainAndComesBack(t *testing.T) {
	in := "\x1b[31m \u009b \u202e \U000e0041 <b> & é"
	var b bytes.Buffer
	if err := writeJSON(&b, map[string]string{"title": in}); err != nil {
		t.Fatal(err)
	}
	if got := strings.ReplaceAll(b.String(), "\n", ""); plain(got) != got {
		t.Errorf("a terminal would obey %q", got)
	}
	var out map[string]string
	if err := json.Unmarshal(b.Bytes(), &out); err != nil || out["title"] != in {
		t.Errorf("came back as %q, %v; want %q", out["title"], err, in)
	}
}

func TestHostileFileName(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a\x1b[31m\n.jpg")
	if err := os.WriteFile(path, []byte("no picture"), 0o600); err != nil {
		t.Skipf("this disk takes no such names: %v", err)
	}
	for _, args := range [][]string{{"measure", path}, {"alike", path, path}, {"plan", "check", path}, {"nosuch" + path}} {
		_, out, errs := called(t, args...)
		if strings.ContainsRune(out+errs, 0x1b) {
			t.Errorf("%q lets an escape sequence through: %q", args[0], out+errs)
		}
		if !strings.Contains(out+errs, `\x1b[31m`) {
			t.Errorf("%q does not show the name: %q", args[0], out+errs)
		}
	}
}

func TestTableFits(t *testing.T) {
	rows := [][]string{{"R01", "13", strings.Repeat("hero; ", 10), "鯖の燻製と焼きたてのライ麦パンと春の若い玉葱のピクルス"}, {"a-rather-long-recipe-id", "24-25", "hero", "short"}}
	var b bytes.Buffer
	if err := writeTable(&b, 60, []string{"recipe", "pages", "needs", "title"}, rows); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
	if len(lines) != 3 {
		t.Fatalf("%d lines, want 3", len(lines))
	}
	for _, line := range lines {
		if w := lipgloss.Width(line); w > 60 {
			t.Errorf("%d columns, want at most 60: %q", w, line)
		}
	}
}

func TestTableWithoutWidthIsWhole(t *testing.T) {
	needs := strings.Repeat("hero; ", 10) + "half"
	title := strings.Repeat("鯖の燻製 ", 20) + "end"
	var b bytes.Buffer
	if err := writeTable(&b, 0, []string{"needs", "title"}, [][]string{{needs, title}}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), needs+"  "+title+"\n") {
		t.Errorf("cells are cut: %q", b.String())
	}
}

func TestCut(t *testing.T) {
	for _, c := range []struct{ in, left, right string }{
		{"abcdef", "…cdef", "abcd…"}, {"abcde", "abcde", "abcde"}, {"鯖鯖鯖鯖", "…鯖鯖", "鯖鯖…"},
	} {
		if got := cutLeft(c.in, 5); got != c.left {
			t.Errorf("cutLeft(%q, 5) = %q, want %q", c.in, got, c.left)
		}
		if got := cut(c.in, 5); got != c.right {
			t.Errorf("cut(%q, 5) = %q, want %q", c.in, got, c.right)
		}
	}
}

func TestNearest(t *testing.T) {
	known := []string{"R01", "Rye-01", "overhead"}
	for _, c := range []struct{ in, want string }{{"rye-1", "Rye-01"}, {"r1", ""}, {"R02", "R01"}, {"overhaed", "overhead"}, {"plums", ""}, {"", ""}} {
		if got := nearest(c.in, known); got != c.want {
			t.Errorf("nearest(%q) = %q, want %q", c.in, got, c.want)
		}
	}
	// The example of the Levenshtein distance that textbooks give.
	if got := misspelt("kitten", "sitting"); got != 3 {
		t.Errorf("kitten and sitting differ by %d letters, want 3", got)
	}
}

func TestFault(t *testing.T) {
	for name, c := range map[string]struct {
		err        error
		code       int
		says, hint string
	}{
		"well":             {nil, 0, "", ""},
		"plain":            {errors.New("disk is full"), 1, "coverplate: disk is full\n", ""},
		"wanting":          {fmt.Errorf("audit: %w", errWanting), 3, "", ""},
		"misused":          {misused("do so", "not %q", "x"), 2, "coverplate: not \"x\"\n", "hint: do so\n"},
		"no source":        {fmt.Errorf("ingest: %w", ingest.ErrNoSource), 2, "coverplate: ingest: no card or folder given\n", "hint: give the folder of a card, or any folder of pictures\n"},
		"the first way":    {withHint(misused("do so", "no"), "do other"), 2, "coverplate: no\n", "hint: do so\n"},
		"stopped":          {fmt.Errorf("ingest: %w", context.Canceled), 1, "coverplate: stopped before the end\n", "hint: nothing is broken; run the same command again to go on\n"},
		"an obeyed letter": {errors.New("a\x1bb\nc"), 1, "coverplate: a\\x1bb\nc\n", ""},
	} {
		t.Run(name, func(t *testing.T) {
			var b bytes.Buffer
			if code := tell(&b, c.err); code != c.code || b.String() != c.says+c.hint {
				t.Errorf("exit code %d and %q, want %d and %q", code, b.String(), c.code, c.says+c.hint)
			}
		})
	}
}

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errors.New("no space left on device") }

func TestFullDiskIsNoSuccess(t *testing.T) {
	var errs bytes.Buffer
	at := surroundings{Stdin: &errs, Stdout: fullDisk{}, Stderr: &errs, Now: time.Now, Getenv: func(string) string { return "" }, Zone: func() string { return "" }, Who: func() string { return "" }}
	if code := runIn(t.Context(), at, []string{"--help"}); code != 1 || !strings.Contains(errs.String(), "write output: no space left on device") {
		t.Errorf("exit code %d and %q, want 1 and the disk's fault", code, errs.String())
	}
}

func TestProgressSays(t *testing.T) {
	e := ingest.Event{FilesDone: 12, FilesAll: 230, BytesDone: 250e6, BytesAll: 1000e6}
	for _, c := range []struct {
		after time.Duration
		want  string
	}{
		{500 * time.Millisecond, "12 of 230 files"},
		{2 * time.Second, "12 of 230 files   125 MB/s   6s left"},
	} {
		if got := progressSays(e, c.after); got != c.want {
			t.Errorf("after %v it says %q, want %q", c.after, got, c.want)
		}
	}
	e.BytesDone = e.BytesAll
	if got, want := progressSays(e, 10*time.Second), "12 of 230 files   100 MB/s"; got != want {
		t.Errorf("at the end it says %q, want %q", got, want)
	}
}

func TestEveryCommandHelps(t *testing.T) {
	root := newRoot(surroundings{Stdin: &bytes.Buffer{}, Stdout: &bytes.Buffer{}, Stderr: &bytes.Buffer{}})
	all := append(root.Commands(), root)
	for i := 0; i < len(all); i++ {
		c := all[i]
		if c != root {
			all = append(all, c.Commands()...)
		}
		if c.Example == "" && c.Runnable() || c.Short == "" || c.Long == "" {
			t.Errorf("%s lacks help or an example", c.CommandPath())
		}
		_, out, _ := called(t, append(strings.Fields(c.CommandPath())[1:], "--help")...)
		for _, line := range strings.Split(out, "\n") {
			if lipgloss.Width(line) > 80 {
				t.Errorf("%s --help: wider than 80 columns: %q", c.CommandPath(), line)
			}
		}
	}
}
