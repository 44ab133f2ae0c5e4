package fixity

import (
	"context"
	"crypto/md5"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf16"
)

// tree is a folder: paths and what is in them.
type tree map[string]string

func (t tree) write(tb testing.TB) string {
	tb.Helper()
	dir := tb.TempDir()
	for name, content := range t {
		full := filepath.Join(dir, filepath.FromSlash(name))
		if err := errors.Join(os.MkdirAll(filepath.Dir(full), 0o755), os.WriteFile(full, []byte(content), 0o644)); err != nil {
			tb.Fatal(err)
		}
	}
	return dir
}

func (t tree) with(more tree) tree {
	out := tree{}
	for _, m := range []tree{t, more} {
		for k, v := range m {
			if v == "-" {
				delete(out, k)
			} else {
				out[k] = v
			}
		}
	}
	return out
}

func sum(s string) string {
	b := md5.Sum([]byte(s))
	return hex.EncodeToString(b[:])
}

const (
	old  = "BagIt-Version: 0.97\nTag-File-Character-Encoding: UTF-8\n"
	now  = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
	hi   = "hello"
	line = "5d41402abc4b2a76b9719d911017c592  " // MD5 of "hello", as md5sum prints it
)

func utf16Of(s string) string {
	b := []byte{0xfe, 0xff}
	for _, u := range utf16.Encode([]rune(s)) {
		b = append(b, byte(u>>8), byte(u))
	}
	return string(b)
}

// Every case of the Library of Congress's conformance suite, as its name and
// label say: testdata/bagit_cases.csv lists them (public domain). The bags here
// are our own, made after the name of each; the files of the suite are not. Two
// whose bags lack a file in the suite itself are whole here.
func TestConformanceSuite(t *testing.T) {
	base := tree{"bagit.txt": old, "data/a": hi, "manifest-md5.txt": line + "data/a\n"}
	v1 := base.with(tree{"bagit.txt": now})
	reaches := func(p string) tree { return base.with(tree{"manifest-md5.txt": line + "data/a\n" + line + p + "\n"}) }
	fetches := func(p string) tree {
		return base.with(tree{"fetch.txt": "http://host.example/x 5 " + p + "\n"})
	}
	bags := map[string]tree{
		"v0.97/invalid/baginfo-missing-encoding":                                     base.with(tree{"bagit.txt": "BagIt-Version: 0.97\n"}),
		"v0.97/invalid/bom-in-bagit.txt":                                             base.with(tree{"bagit.txt": "\xef\xbb\xbf" + old}),
		"v0.97/invalid/corrupt-data-file":                                            base.with(tree{"data/a": "hellO"}),
		"v0.97/invalid/corrupt-tag-file":                                             base.with(tree{"bag-info.txt": "Title: x\n", "tagmanifest-md5.txt": sum("Title: y\n") + "  bag-info.txt\n"}),
		"v0.97/invalid/extra-file-in-bag":                                            base.with(tree{"data/b": hi}),
		"v0.97/invalid/invalid-version-number":                                       base.with(tree{"bagit.txt": strings.Replace(old, "0.97", ".97", 1)}),
		"v0.97/invalid/missing-baginfo":                                              base.with(tree{"tagmanifest-md5.txt": sum("x") + "  bag-info.txt\n"}),
		"v0.97/invalid/missing-bagit.txt":                                            base.with(tree{"bagit.txt": "-"}),
		"v0.97/invalid/out-of-scope-file-paths-using-dot-notation":                   reaches("../../../README.md"),
		"v0.97/invalid/out-of-scope-file-paths-using-dot-notation-for-fetch":         fetches("../../../README.md"),
		"v0.97/invalid/same-filename-listed-twice-with-different-hashes":             base.with(tree{"manifest-md5.txt": line + "data/a\n" + sum("x") + "  data/a\n"}),
		"v0.97/linux-only/out-of-scope-file-paths-using-absolute-path":               reaches("/tmp/foo"),
		"v0.97/linux-only/out-of-scope-file-paths-using-absolute-path-for-fetch":     fetches("/tmp/test.txt"),
		"v0.97/linux-only/out-of-scope-file-paths-using-shortcut":                    reaches("~/foo"),
		"v0.97/linux-only/out-of-scope-file-paths-using-shortcut-for-fetch":          fetches("~/test.txt"),
		"v0.97/linux-only/out-of-scope-file-paths-using-shortcut-username":           reaches("~root/foo"),
		"v0.97/linux-only/out-of-scope-file-paths-using-shortcut-username-for-fetch": fetches("~root/foo"),
		"v0.97/valid/ISO-8859-1-encoded-tag-files": base.with(tree{"bagit.txt": strings.Replace(old, "UTF-8", "ISO-8859-1", 1), "data/é": hi,
			"manifest-md5.txt": line + "data/a\n" + line + "data/\xe9\n", "bag-info.txt": "Title: \xe9\n"}),
		"v0.97/valid/UTF-16-encoded-tag-files": base.with(tree{"bagit.txt": strings.Replace(old, "UTF-8", "UTF-16", 1),
			"manifest-md5.txt": utf16Of(line + "data/a\n"), "bag-info.txt": utf16Of("Title: é\n")}),
		"v0.97/valid/bag-in-a-bag": base.with(tree{"data/b/bagit.txt": old, "data/b/data/a": hi, "data/b/manifest-md5.txt": line + "data/a\n",
			"manifest-md5.txt": line + "data/a\n" + sum(old) + "  data/b/bagit.txt\n" + line + "data/b/data/a\n" + sum(line+"data/a\n") + "  data/b/manifest-md5.txt\n"}),
		"v0.97/valid/bag-with-encoded-names":                 base.with(tree{"data/a%b": hi, "manifest-md5.txt": line + "data/a\n" + line + "data/a%25b\n"}),
		"v0.97/valid/bag-with-escapable-characters":          base.with(tree{"data/a\nb": hi, "manifest-md5.txt": line + "data/a\n" + line + "data/a%0Ab\n"}),
		"v0.97/valid/bag-with-leading-dot-slash-in-manifest": base.with(tree{"manifest-md5.txt": line + "./data/a\n"}),
		"v0.97/valid/bag-with-space":                         base.with(tree{"data/a b": hi, "manifest-md5.txt": line + "data/a\n" + line + "data/a b\n"}),
		"v0.97/valid/basic-bag":                              base,
		"v0.97/valid/duplicate-metadata-entries":             base.with(tree{"bag-info.txt": "Title: x\nTitle: y\n"}),
		"v0.97/valid/holey-bag":                              base.with(tree{"fetch.txt": "http://host.example/a 5 data/a\n"}), // fetched already
		"v0.97/valid/minimal-bag":                            base.with(tree{"data/a": "-", "data/b": hi, "manifest-md5.txt": line + "data/b\n"}),
		"v0.97/valid/uncommon-metadata-separators":           base.with(tree{"bag-info.txt": "Title:x\nTitle :y\nTitle\t:\tz\n"}),
		"v0.97/warning/duplicate-file-with-different-case":   base.with(tree{"data/A": hi, "manifest-md5.txt": line + "data/a\n" + line + "data/A\n"}),
		"v0.97/warning/made-with-md5sum-tools":               base.with(tree{"manifest-md5.txt": strings.TrimSuffix(line, " ") + "*data/a\n"}),
		"v0.97/warning/relative-path":                        base.with(tree{"manifest-md5.txt": line + "./data/a\n"}),
		"v0.97/warning/same-filename-listed-twice-with-different-normalization": base.with(tree{"data/é": hi,
			"manifest-md5.txt": line + "data/a\n" + line + "data/é\n" + line + "data/e\u0301\n"}),
		"v0.97/warning/same-filename-listed-twice-with-the-same-hash":              base.with(tree{"manifest-md5.txt": line + "data/a\n" + line + "data/a\n"}),
		"v0.97/warning/special-system-files":                                       base.with(tree{"data/.DS_Store": hi, "manifest-md5.txt": line + "data/a\n" + line + "data/.DS_Store\n"}),
		"v0.97/windows-only/out-of-scope-file-paths-using-absolute-path":           reaches(`C:\Windows\System32\setx.exe`),
		"v0.97/windows-only/out-of-scope-file-paths-using-absolute-path-for-fetch": fetches(`C:\Windows\System32\setx.exe`),
		"v0.97/windows-only/out-of-scope-file-paths-using-shortcut":                reaches(`%HomeDrive%\Windows\System32\setx.exe`),
		"v0.97/windows-only/out-of-scope-file-paths-using-shortcut-for-fetch":      fetches(`%HomeDrive%\Windows\System32\setx.exe`),
		"v0.97/windows-only/out-of-scope-file-paths-using-unc":                     reaches(`\\?\UNC\server\Windows\System32\setx.exe`),
		"v0.97/windows-only/out-of-scope-file-paths-using-unc-for-fetch":           fetches(`\\?\UNC\server\Windows\System32\setx.exe`),
		"v1.0/invalid/bagit-with-invalid-whitespace":                               v1.with(tree{"bagit.txt": strings.Replace(now, ": ", " : ", 1)}),
		"v1.0/invalid/notAllManifestsListAllFiles": v1.with(tree{"data/b": hi, "manifest-md5.txt": line + "data/a\n" + line + "data/b\n",
			"manifest-sha1.txt": "aaf4c61ddcc5e8a2dabede0f3b482cd9aea9434d  data/a\n"}), // SHA-1 of "hello", as sha1sum prints it
		"v1.0/invalid/same-filename-listed-twice-with-different-hashes": v1.with(tree{"manifest-md5.txt": line + "data/a\n" + sum("x") + "  data/a\n"}),
		"v1.0/invalid/same-filename-listed-twice-with-the-same-hash":    v1.with(tree{"manifest-md5.txt": line + "data/a\n" + line + "data/a\n"}),
		"v1.0/valid/basicBag": v1,
	}
	text, err := os.ReadFile("testdata/bagit_cases.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(text)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) != 1+len(bags) {
		t.Fatalf("%d rows and %d bags, %v", len(rows)-1, len(bags), err)
	}
	for _, row := range rows[1:] {
		name, label := row[0], row[1]
		bag, ok := bags[name]
		if !ok {
			t.Errorf("no bag for %s", name)
			continue
		}
		got, err := CheckBag(t.Context(), bag.write(t), nil)
		if errors.Is(err, ErrNoBag) {
			got.Faults = []Fault{{"", err.Error()}}
		} else if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		sound := label == "valid" || label == "warning"
		if sound != (len(got.Faults) == 0) {
			t.Errorf("%s is labelled %s; faults %v", name, label, got.Faults)
		}
		// What a system leaves beside files is no fault and no danger here: it is listed.
		if label == "warning" && len(got.Warnings) == 0 && !strings.HasSuffix(name, "special-system-files") {
			t.Errorf("%s: no warning", name)
		}
	}
}

// Rules of RFC 8493 that the suite has no bag for.
func TestRules(t *testing.T) {
	base := tree{"bagit.txt": now, "data/a": hi, "manifest-md5.txt": line + "data/a\n"}
	for name, c := range map[string]struct {
		bag  tree
		says string // of a fault; "" none
	}{
		"upper-case digits":              {base.with(tree{"manifest-md5.txt": strings.ToUpper(line) + "data/a\n"}), ""},
		"lines end with CR":              {base.with(tree{"manifest-md5.txt": line + "data/a\r"}), ""},
		"tabs":                           {base.with(tree{"manifest-md5.txt": strings.TrimSpace(line) + "\t\tdata/a\n"}), ""},
		"a name composed otherwise":      {base.with(tree{"data/é": hi, "manifest-md5.txt": line + "data/a\n" + line + "data/e\u0301\n"}), ""},
		"oxum right":                     {base.with(tree{"bag-info.txt": "Payload-Oxum: 5.1\n"}), ""},
		"oxum wrong":                     {base.with(tree{"bag-info.txt": "Payload-Oxum: 6.1\n"}), "Payload-Oxum says 6.1"},
		"oxum twice":                     {base.with(tree{"bag-info.txt": "Payload-Oxum: 5.1\nPayload-Oxum: 5.1\n"}), "2 times"},
		"a listed file is missing":       {base.with(tree{"data/a": "-", "data/b": hi}), "is listed and missing"},
		"no payload folder":              {tree{"bagit.txt": now, "manifest-md5.txt": ""}, "data: is missing"},
		"no manifest":                    {base.with(tree{"manifest-md5.txt": "-"}), "no payload manifest"},
		"a checksum nobody knows":        {base.with(tree{"manifest-crc.txt": "0 data/a\n"}), `"crc"`},
		"a checksum cut short":           {base.with(tree{"manifest-md5.txt": line[1:] + "data/a\n"}), "no checksum of 32"},
		"a tag file in the payload list": {base.with(tree{"manifest-md5.txt": line + "data/a\n" + sum(now) + "  bagit.txt\n"}), "no place in this list"},
		"tag manifest of itself":         {base.with(tree{"tagmanifest-md5.txt": sum(line+"data/a\n") + "  manifest-md5.txt\n" + sum("x") + "  tagmanifest-sha1.txt\n"}), "not to be listed"},
		"tag manifest lacks a manifest":  {base.with(tree{"tagmanifest-md5.txt": sum(now) + "  bagit.txt\n"}), "does not list manifest-md5.txt"},
		"still to be fetched":            {base.with(tree{"data/a": "-", "data/b": hi, "manifest-md5.txt": line + "data/a\n" + line + "data/b\n", "fetch.txt": "http://host.example/a 5 data/a\n"}), "must be fetched"},
		"a later version":                {base.with(tree{"bagit.txt": strings.Replace(now, "1.0", "2.1", 1)}), "latest that is known"},
	} {
		got, err := CheckBag(t.Context(), c.bag.write(t), nil)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		says := fmt.Sprint(got.Faults)
		if (c.says == "") != (len(got.Faults) == 0) || !strings.Contains(says, c.says) {
			t.Errorf("%s: %v, want %q", name, says, c.says)
		}
	}
	// Links are not followed out of the bag.
	dir := base.write(t)
	if err := os.Symlink("/etc/hostname", filepath.Join(dir, "data/link")); err != nil {
		t.Fatal(err)
	}
	if got, _ := CheckBag(t.Context(), dir, nil); len(got.Faults) != 1 || got.Faults[0].Path != "data/link" {
		t.Errorf("a link: %v", got.Faults)
	}
}

var day = time.Date(2026, 3, 12, 9, 0, 0, 0, time.UTC)

func TestWriteBag(t *testing.T) {
	src := tree{"1": "one", "2": "two", "3": "", "4": "four"}.write(t)
	names := map[string]string{"1": "originals/a.jpg", "2": "originals/per%cent\nline.jpg", "3": "originals/Crème brûlée.jpg", "4": " lead.jpg"}
	var items []Item
	for from, to := range names {
		items = append(items, Item{From: filepath.Join(src, from), Path: to})
	}
	items[0].Sum = "" // not known
	dir := filepath.Join(t.TempDir(), "bag")
	if err := WriteBag(t.Context(), dir, items, []Tag{{"External-Description", "two\nlines"}}, day, nil); err != nil {
		t.Fatal(err)
	}
	got, err := CheckBag(t.Context(), dir, nil)
	if err != nil || len(got.Faults) != 0 || len(got.Warnings) != 0 || got.Files != 4+4 {
		t.Errorf("%+v, %v", got, err)
	}
	info, _ := os.ReadFile(filepath.Join(dir, "bag-info.txt"))
	if want := "External-Description: two\n lines\nBagging-Date: 2026-03-12\nPayload-Oxum: 10.4\n"; string(info) != want {
		t.Errorf("bag-info.txt is %q, want %q", info, want)
	}
	if left, err := os.ReadDir(filepath.Dir(dir)); err != nil || len(left) != 1 {
		t.Errorf("beside the bag is %v, %v", left, err)
	}
	if err := WriteBag(t.Context(), dir, items, nil, day, nil); !errors.Is(err, fs.ErrExist) {
		t.Errorf("onto itself: %v", err)
	}
}

// A bag of plain names is checked by coreutils, which know nothing of bags.
func TestCoreutilsReadOurBags(t *testing.T) {
	src := tree{"1": "one", "2": "two"}.write(t)
	dir := filepath.Join(t.TempDir(), "bag")
	err := WriteBag(t.Context(), dir, []Item{{From: filepath.Join(src, "1"), Path: "a b.jpg"}, {From: filepath.Join(src, "2"), Path: "x/Crème.jpg"}}, nil, day, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, alg := range []string{"sha256", "sha512"} {
		tool, err := exec.LookPath(alg + "sum")
		if err != nil {
			t.Skipf("%ssum of coreutils is not here", alg)
		}
		for _, list := range []string{"manifest-", "tagmanifest-"} {
			cmd := exec.Command(tool, "-c", "--strict", "--quiet", list+alg+".txt")
			cmd.Dir = dir
			if out, err := cmd.CombinedOutput(); err != nil {
				t.Errorf("%s%s: %v: %s", list, alg, err, out)
			}
		}
	}
}

func TestBagRefusals(t *testing.T) {
	src := tree{"1": "one"}.write(t)
	one := filepath.Join(src, "1")
	stopped, stop := context.WithCancel(t.Context())
	stop()
	for name, c := range map[string]struct {
		ctx   context.Context
		items []Item
		want  any
	}{
		"content that changed":  {t.Context(), []Item{{From: one, Path: "a", Sum: sum("x") + sum("y")}, {From: filepath.Join(src, "none"), Path: "b"}}, new(*ChangedError)},
		"a path that leads out": {t.Context(), []Item{{From: one, Path: "../a"}}, nil},
		"two of one name":       {t.Context(), []Item{{From: one, Path: "a"}, {From: one, Path: "a"}}, nil},
		"stopped":               {stopped, []Item{{From: one, Path: "a"}}, nil},
	} {
		dir := filepath.Join(t.TempDir(), "bag")
		err := WriteBag(c.ctx, dir, c.items, nil, day, nil)
		if err == nil || c.want != nil && !errors.As(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
		if left, _ := os.ReadDir(filepath.Dir(dir)); len(left) != 0 {
			t.Errorf("%s: %s was left", name, left[0].Name())
		}
	}
	err := WriteBag(t.Context(), filepath.Join(t.TempDir(), "bag"), []Item{{From: one, Path: "a", Sum: "x"}, {From: filepath.Join(src, "none"), Path: "b"}}, nil, day, nil)
	if !strings.Contains(err.Error(), "a is not what") || !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("both faults are to be named: %v", err)
	}
}

// What sha256sum prints is read, and written again byte for byte.
func TestListsAreThoseOfCoreutils(t *testing.T) {
	tool, err := exec.LookPath("sha256sum")
	if err != nil {
		t.Skip("sha256sum of coreutils is not here")
	}
	dir := tree{"plain.jpg": "abc", "two words.jpg": "abc", `back\slash.jpg`: "abc", "new\nline.jpg": "abc", "car\rret.jpg": "abc", " lead": "abc", "*star": "abc",
		"Crème brûlée.jpg": "abc"}.write(t)
	all, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	args := []string{"--"}
	for _, e := range all {
		args = append(args, e.Name())
	}
	cmd := exec.Command(tool, args...)
	cmd.Dir = dir
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	listed, faults := ParseList(strings.NewReader(string(out)), "out", 32)
	if len(faults) != 0 || len(listed) != len(all) {
		t.Fatalf("%d of %d lines, faults %v", len(listed), len(all), faults)
	}
	var again strings.Builder
	for i, l := range listed {
		if l.Path != all[i].Name() {
			t.Errorf("line %d names %q, want %q", i+1, l.Path, all[i].Name())
		}
		if err := Line(&again, l); err != nil {
			t.Fatal(err)
		}
	}
	if again.String() != string(out) {
		t.Errorf("written again:\n%s\nsha256sum wrote:\n%s", again.String(), out)
	}
	if err := os.WriteFile(filepath.Join(dir, "list"), out, 0o644); err != nil {
		t.Fatal(err)
	}
	got, err := CheckFolder(t.Context(), dir, "list", nil)
	if err != nil || got.Files != len(all) || len(got.Faults) != 0 {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestCheckFolder(t *testing.T) {
	sha := func(s string) string { // SHA-256 of "hello" and of nothing, as sha256sum prints them
		if s == hi {
			return "2cf24dba5fb0a30e26e83b2ac5b9e29e1b161e5c1fa7425e73043362938b9824"
		}
		return "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
	}
	dir := tree{"o/a": hi, "o/b": hi, "o/extra": hi, "o/.hidden": hi, "elsewhere": hi,
		"list": sha(hi) + "  o/a\n" + sha("") + "  o/b\n" + sha(hi) + "  o/gone\n" + sha(hi) + "  ../out\nnonsense\n# a comment\n"}.write(t)
	got, err := CheckFolder(t.Context(), dir, "list", nil)
	if err != nil {
		t.Fatal(err)
	}
	var says []string
	for _, f := range got.Faults {
		says = append(says, f.String())
	}
	slices.Sort(says)
	want := []string{"list:5: no checksum of 64 hexadecimal digits, two spaces and a name", "list: names ../out, which leads out of the folder: not looked at",
		"o/b: was changed: its checksum is another", "o/extra: is not listed", "o/gone: is listed and missing"}
	slices.Sort(want)
	if got.Files != 2 || !slices.Equal(says, want) {
		t.Errorf("%d files\n%s\nwant\n%s", got.Files, strings.Join(says, "\n"), strings.Join(want, "\n"))
	}
}

func FuzzParseList(f *testing.F) {
	f.Add([]byte("5d41402abc4b2a76b9719d911017c592  a\n\\5d41402abc4b2a76b9719d911017c592  a\\nb\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		all, _ := ParseList(strings.NewReader(string(b)), "list", 16)
		for _, l := range all {
			var out strings.Builder
			if err := Line(&out, l); err != nil {
				t.Fatal(err)
			}
			again, faults := ParseList(strings.NewReader(out.String()), "list", 16)
			if len(faults) != 0 || len(again) != 1 || again[0] != l {
				t.Errorf("%q became %q and then %v, %v", l, out.String(), again, faults)
			}
		}
	})
}

func FuzzCheckBag(f *testing.F) {
	f.Add(old, line+"data/a\n", "Payload-Oxum: 5.1\n")
	f.Add(now, line+"./data/a%0a\n", "")
	f.Fuzz(func(t *testing.T, declaration, list, info string) {
		dir := tree{"bagit.txt": declaration, "manifest-md5.txt": list, "bag-info.txt": info, "fetch.txt": info, "tagmanifest-md5.txt": list, "data/a": hi}.write(t)
		if got, err := CheckBag(t.Context(), dir, nil); err != nil || got.Files > 8 {
			t.Errorf("%+v, %v", got, err)
		}
	})
}
