package fixity

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// The lines are those that GNU coreutils 9.1 printed, from
// testdata/checksum_lines.csv; sha256sum and sha1sum share them.
func TestManifestLines(t *testing.T) {
	text, err := os.ReadFile("testdata/checksum_lines.csv")
	if err != nil {
		t.Fatal(err)
	}
	lines := 0
	for _, line := range strings.Split(string(text), "\n") {
		if !strings.HasPrefix(line, `"`) {
			continue
		}
		name, want, ok := strings.Cut(line, `","`)
		if !ok {
			t.Fatalf("%s", line)
		}
		name, err1 := strconv.Unquote(name + `"`)
		want, err2 := strconv.Unquote(`"` + want)
		if err1 != nil || err2 != nil {
			t.Fatal(line, err1, err2)
		}
		lines++
		var b bytes.Buffer
		if err := Line(&b, Listed{"a9993e364706816aba3e25717850c26c9cd0d89d", name}); err != nil || b.String() != want+"\n" {
			t.Errorf("%q: %q, want %q", name, b.String(), want)
		}
	}
	if lines != 8 {
		t.Errorf("%d lines in the table, want 8", lines)
	}
}

// Names that no library of ours holds still have lines that sha256sum reads.
func TestSha256sumReadsAnyName(t *testing.T) {
	tool, err := exec.LookPath("sha256sum")
	if err != nil {
		t.Skip("no sha256sum here:", err)
	}
	dir := t.TempDir()
	var list bytes.Buffer
	for _, name := range []string{"plain", " lead", "*star", "#mark", "per%0Acent", `back\slash`, "new\nline", "bad\xff", "two  blanks", "-x", strings.Repeat("y", 255)} {
		sum := sha256.Sum256([]byte(name))
		err := errors.Join(os.WriteFile(filepath.Join(dir, name), []byte(name), 0o644), Line(&list, Listed{hex.EncodeToString(sum[:]), name}))
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "list"), list.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(tool, "-c", "--strict", "list")
	cmd.Dir = dir
	out, err := cmd.CombinedOutput()
	if ok := bytes.Count(out, []byte(": OK\n")); err != nil || ok != 11 {
		t.Errorf("%d of 11 names read well, %v:\n%s", ok, err, out)
	}
}
