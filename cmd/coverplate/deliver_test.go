package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"hash"
	"image/color"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"
)

// delivering is a shoot with one chosen hero, ready to be delivered; do runs a
// command in it and returns its exit code and what it said.
func delivering(t *testing.T) (dir string, do func(args ...string) (int, string)) {
	t.Helper()
	dir = t.TempDir()
	shoot := filepath.Join(dir, "s")
	do = func(args ...string) (int, string) {
		t.Helper()
		var out bytes.Buffer
		at := surroundings{Stdin: strings.NewReader(""), Stdout: &out, Stderr: &out, Getenv: func(string) string { return "" },
			Now: func() time.Time { return time.Date(2026, 3, 12, 9, 0, 0, 0, time.UTC) }, Zone: func() string { return "UTC" }, Who: func() string { return "ingrid" }}
		return runIn(context.Background(), at, append(args, "--shoot", shoot)), out.String()
	}
	must := func(args ...string) {
		t.Helper()
		if code, says := do(args...); code != 0 {
			t.Fatalf("%v: %d: %s", args, code, says)
		}
	}
	var out bytes.Buffer
	if code := run(context.Background(), []string{"new", shoot, "--title", "Skerry Table", "--trim", "100x120", "--days", "2026-03-02..2026-03-04", "--zone", "UTC"}, strings.NewReader(""), &out, &out); code != 0 {
		t.Fatal(out.String())
	}
	card := filepath.Join(dir, "card/DCIM/100LOMVI")
	files := map[string][]byte{
		filepath.Join(shoot, "plan.csv"):      []byte("recipe,title,pages,size,needs\nR01,Rye & <caraway>,7,full,hero\n"),
		filepath.Join(shoot, "delivery.toml"): []byte("[words]\ncredit = \"Photograph: Ingrid\"\ncopyright = \"© 2026 Ingrid\"\nusage = \"first edition\"\ncaption = \"{title}, page {pages}\"\npeople = \"not applicable\"\n"),
		filepath.Join(card, "LOMV0001.JPG"):   pictureOf(1300, 1600, color.RGBA{180, 60, 40, 255}, "2026:03:02 09:00:00", nil),
	}
	for name, b := range files {
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	must("ingest", filepath.Join(dir, "card"))
	must("assign", "LOMV0001.JPG", "R01")
	must("choose", "LOMV0001.JPG", "hero")
	return dir, do
}

// The words are read back from sidecar and JPEG by exiftool and exiv2, and the
// bag is held against RFC 8493 by rules of this test's own.
func TestDeliveredIsReadByOthers(t *testing.T) {
	var tools [2]string
	for i, name := range []string{"exiftool", "exiv2"} {
		path, err := exec.LookPath(name)
		if err != nil && os.Getenv("CI") != "" {
			t.Fatalf("%s is wanted", name)
		} else if err != nil {
			t.Skipf("%s is not here", name)
		}
		tools[i] = path
	}
	dir, do := delivering(t)
	to := filepath.Join(dir, "out")
	if code, says := do("deliver", "--to", to); code != 0 {
		t.Fatalf("%d: %s", code, says)
	}
	for _, name := range []string{"007_R01_hero.jpg", "007_R01_hero.xmp"} {
		file := filepath.Join(to, "data/pictures", name)
		out, err := exec.Command(tools[0], "-json", "-G1", "-a", file).Output()
		if err != nil {
			t.Fatal(err)
		}
		var all []map[string]any
		if err := json.Unmarshal(out, &all); err != nil {
			t.Fatal(err)
		}
		for key, want := range map[string]any{"XMP-dc:Title": "Rye & <caraway>", "XMP-dc:Description": "Rye & <caraway>, page 7", "XMP-photoshop:Credit": "Photograph: Ingrid",
			"XMP-dc:Rights": "© 2026 Ingrid", "XMP-xmpRights:UsageTerms": "first edition", "XMP-plus:ModelReleaseStatus": "Not Applicable", "XMP-iptcExt:ImageRegionID": "print"} {
			if all[0][key] != want {
				t.Errorf("%s: exiftool reads %s as %v, want %v", name, key, all[0][key], want)
			}
		}
		for key := range all[0] {
			if strings.Contains(key, "GPS") || strings.Contains(key, "Serial") || strings.Contains(key, "Owner") {
				t.Errorf("%s holds %s", name, key)
			}
		}
		if out, err = exec.Command(tools[1], "-PXv", "-g", "Xmp.photoshop.Credit", file).CombinedOutput(); err != nil || strings.TrimSpace(string(out)) != "Photograph: Ingrid" {
			t.Errorf("%s: exiv2 reads the credit as %q, %v", name, out, err)
		}
	}
	bagRules(t, to)
	// As shot it is the original, byte for byte.
	raw := filepath.Join(dir, "asshot")
	if code, says := do("deliver", "--to", raw, "--as-shot"); code != 0 || !strings.Contains(says, "byte for byte as shot") {
		t.Fatalf("%d: %s", code, says)
	}
	was, _ := os.ReadFile(filepath.Join(dir, "card/DCIM/100LOMVI/LOMV0001.JPG"))
	if is, err := os.ReadFile(filepath.Join(raw, "data/pictures/007_R01_hero.jpg")); err != nil || !bytes.Equal(was, is) {
		t.Errorf("as shot it is another: %v", err)
	}
}

// bagRules are what RFC 8493 asks of a whole bag: 2.1.1 the declaration, 2.1.2
// the payload, 2.1.3 every payload file in each manifest and nothing else, 2.2.1
// tag manifests, 2.2.2 the metadata and Payload-Oxum.
func bagRules(t *testing.T, bag string) {
	t.Helper()
	read := func(name string) string {
		b, err := os.ReadFile(filepath.Join(bag, filepath.FromSlash(name)))
		if err != nil {
			t.Error(err)
		}
		return string(b)
	}
	if got := read("bagit.txt"); got != "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n" {
		t.Errorf("bagit.txt is %q", got)
	}
	payload, tags, octets := map[string]bool{}, map[string]bool{}, 0
	err := filepath.WalkDir(bag, func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, _ := filepath.Rel(bag, name)
		if rel = filepath.ToSlash(rel); strings.HasPrefix(rel, "data/") {
			payload[rel] = true
			octets += len(read(rel))
		} else if !strings.HasPrefix(rel, "tagmanifest-") {
			tags[rel] = true
		}
		return nil
	})
	if err != nil || len(payload) < 5 {
		t.Errorf("%d payload files, %v", len(payload), err)
	}
	if want := fmt.Sprintf("Payload-Oxum: %d.%d\n", octets, len(payload)); !strings.Contains(read("bag-info.txt"), want) {
		t.Errorf("bag-info.txt lacks %q", want)
	}
	for name, make := range map[string]func() hash.Hash{"sha256": sha256.New, "sha512": sha512.New} {
		for list, of := range map[string]map[string]bool{"manifest-": payload, "tagmanifest-": tags} {
			seen := map[string]bool{}
			for _, line := range strings.Split(strings.TrimSuffix(read(list+name+".txt"), "\n"), "\n") {
				m := regexp.MustCompile(`^([0-9a-f]+)  (\S.*)$`).FindStringSubmatch(line)
				if m == nil || !of[m[2]] || seen[m[2]] {
					t.Errorf("%s%s: %q", list, name, line)
					continue
				}
				seen[m[2]] = true
				h := make()
				h.Write([]byte(read(m[2])))
				if hex.EncodeToString(h.Sum(nil)) != m[1] {
					t.Errorf("%s%s: %s has another checksum", list, name, m[2])
				}
			}
			if len(seen) != len(of) {
				t.Errorf("%s%s lists %d of %d", list, name, len(seen), len(of))
			}
		}
	}
}

// A disk that is full, or that may only be read, gives an error that says so,
// and nothing is left on it.
func TestAFullDisk(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("a small disk is made as Linux does")
	}
	dir, do := delivering(t)
	disk := filepath.Join(dir, "disk")
	if err := os.Mkdir(disk, 0o755); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=16k", "none", disk).CombinedOutput(); err != nil {
		t.Skipf("no disk can be mounted here: %s", out)
	}
	defer exec.Command("umount", disk).Run()
	for _, args := range [][]string{{"wall", "--pdf"}, {"contact", "--pdf"}, {"day", "--pdf"}, {"slates", "--paper", "a4"}} {
		code, says := do(append(args, "--to", filepath.Join(disk, "sheet.pdf"))...)
		if left, err := os.ReadDir(disk); code != 1 || !strings.Contains(says, syscall.ENOSPC.Error()) || len(left) != 0 || err != nil {
			t.Errorf("full, %v: %d: %s; left %v, %v", args, code, says, left, err)
		}
	}
	code, says := do("deliver", "--to", filepath.Join(disk, "out"))
	if left, err := os.ReadDir(disk); code != 1 || !strings.Contains(says, "the disk is full and nothing was left on it") || len(left) != 0 || err != nil {
		t.Errorf("full: %d: %s; left %v, %v", code, says, left, err)
	}
	if out, err := exec.Command("mount", "-o", "remount,ro", disk).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	for _, args := range [][]string{{"wall", "--pdf", "--to", filepath.Join(disk, "sheet.pdf")}, {"man", "--to", filepath.Join(disk, "man")}} {
		if code, says := do(args...); code != 1 || !strings.Contains(says, syscall.EROFS.Error()) {
			t.Errorf("read-only, %v: %d: %s", args, code, says)
		}
	}
	code, says = do("deliver", "--to", filepath.Join(disk, "out"))
	if code != 1 || !strings.Contains(says, syscall.EROFS.Error()) || !strings.Contains(says, "nothing may be written there") {
		t.Errorf("read-only: %d: %s", code, says)
	}
}
