package ingest

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"coverplate/ingest/fixity"
)

func (b *bench) verify(o VerifyOptions) Verified {
	b.Helper()
	o.Shoot = b.shoot
	v, err := Verify(b.Context(), b.store, o, nil)
	if err != nil {
		b.Fatal(err)
	}
	return v
}

// says are the faults, a line each.
func says(v Verified) string {
	var out []string
	for _, f := range v.Faults {
		out = append(out, f.String())
	}
	return strings.Join(out, "\n")
}

func spoil(t *testing.T, name string, change func([]byte) []byte) {
	t.Helper()
	content, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(os.Chmod(name, 0o644), os.WriteFile(name, change(content), 0o644)); err != nil {
		t.Fatal(err)
	}
}

func TestVerify(t *testing.T) {
	b, card, root := newBench(t), someCard(t, 4), t.TempDir()
	b.ingest(Options{Second: root, disk: hurt{root: root, fault: well}}, card)
	for _, o := range []VerifyOptions{{}, {Root: root}} {
		if v := b.verify(o); v.Files != 9 || len(v.Faults) != 0 || v.Before != 0 || v.Bytes == 0 {
			t.Errorf("%+v: %+v", o, v)
		}
	}
	folder := filepath.Join(b.shoot, "originals/2026-03-04/Model_A-111")
	// One bit turns, size and time stay: only reading it tells.
	info, err := os.Stat(filepath.Join(folder, "DSC_0001.NEF"))
	if err != nil {
		t.Fatal(err)
	}
	spoil(t, filepath.Join(folder, "DSC_0001.NEF"), func(c []byte) []byte { c[5000] ^= 1; return c })
	if err := os.Chtimes(filepath.Join(folder, "DSC_0001.NEF"), info.ModTime(), info.ModTime()); err != nil {
		t.Fatal(err)
	}
	spoil(t, filepath.Join(folder, "DSC_0002.JPG"), func(c []byte) []byte { return c[:len(c)-1] })
	if err := os.Remove(filepath.Join(folder, "DSC_0003.NEF")); err != nil {
		t.Fatal(err)
	}
	put(t, folder, "holiday.jpg", []byte("not ours"))
	v := b.verify(VerifyOptions{})
	want := `originals/2026-03-04/Model_A-111/DSC_0001.NEF: was changed: its checksum is another
originals/2026-03-04/Model_A-111/DSC_0002.JPG: was changed: it has `
	if got := says(v); v.Files != 6 || !strings.HasPrefix(got, want) || len(v.Faults) != 4 ||
		!strings.Contains(got, "DSC_0003.NEF: is missing\n") || !strings.Contains(got, "holiday.jpg: is not in the catalogue") {
		t.Errorf("%d files\n%s", v.Files, got)
	}
	if v := b.verify(VerifyOptions{Root: root}); v.Files != 9 || len(v.Faults) != 0 {
		t.Errorf("the second copies are well: %+v", v)
	}
	spoil(t, filepath.Join(root, "originals/2026-03-04/Model_A-111/DSC_0001.NEF"), func(c []byte) []byte { c[5000] ^= 1; return c })
	if v := b.verify(VerifyOptions{Root: root}); v.Files != 8 || !strings.Contains(says(v), "DSC_0001.NEF: was changed") {
		t.Errorf("a second copy is changed: %s", says(v))
	}
	if _, err := Verify(t.Context(), b.store, VerifyOptions{Shoot: b.shoot, Root: t.TempDir()}, nil); !errors.Is(err, ErrGone) {
		t.Errorf("a second disk that is away: %v", err)
	}
}

func TestVerifyReadsTheManifest(t *testing.T) {
	b := newBench(t)
	b.ingest(Options{}, someCard(t, 2))
	name := filepath.Join(b.shoot, ManifestName)
	for _, change := range []func([]byte) []byte{
		func(c []byte) []byte { c[3] ^= 1; return c },                             // another sum
		func(c []byte) []byte { return c[strings.IndexByte(string(c), '\n')+1:] }, // a line less
		func(c []byte) []byte { return append(c, "nonsense\n"...) },
	} {
		content, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		spoil(t, name, change)
		if v := b.verify(VerifyOptions{}); v.Files != 5 || len(v.Faults) != 1 || v.Faults[0].Path != ManifestName {
			t.Errorf("%+v", v)
		}
		if err := os.WriteFile(name, content, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Remove(name); err != nil {
		t.Fatal(err)
	}
	if v := b.verify(VerifyOptions{}); len(v.Faults) != 1 || v.Faults[0].Path != ManifestName {
		t.Errorf("no manifest: %+v", v)
	}
}

func TestVerifyGoesOn(t *testing.T) {
	b := newBench(t)
	b.ingest(Options{}, someCard(t, 10)) // 21 files
	ctx, stop := context.WithCancel(t.Context())
	v, err := Verify(ctx, b.store, VerifyOptions{Shoot: b.shoot}, func(done, all int, _ int64) {
		if all != 21 {
			t.Errorf("%d files in all", all)
		}
		if done == 18 {
			stop()
		}
	})
	if !errors.Is(err, context.Canceled) || v.Files != 18 {
		t.Errorf("stopped after %d, %v", v.Files, err)
	}
	if v = b.verify(VerifyOptions{}); v.Before != 18 || v.Files != 3 {
		t.Errorf("the next run: %+v", v)
	}
	if v = b.verify(VerifyOptions{}); v.Before != 0 || v.Files != 21 {
		t.Errorf("and the one after it begins anew: %+v", v)
	}
	// Content that changed in the catalogue was never checked.
	ctx, stop = context.WithCancel(t.Context())
	if _, err := Verify(ctx, b.store, VerifyOptions{Shoot: b.shoot}, func(done, _ int, _ int64) {
		if done == 5 {
			stop()
		}
	}); !errors.Is(err, context.Canceled) {
		t.Fatal(err)
	}
	if v = b.verify(VerifyOptions{Anew: true}); v.Before != 0 || v.Files != 21 {
		t.Errorf("anew: %+v", v)
	}
}

func TestVerifyWhatWasTakenInPlace(t *testing.T) {
	b, card := newBench(t), someCard(t, 1)
	b.ingest(Options{InPlace: true}, card)
	if v := b.verify(VerifyOptions{}); v.Files != 3 || len(v.Faults) != 0 {
		t.Errorf("%+v", v)
	}
	if err := os.Remove(filepath.Join(card, "DCIM/100ABCDE/DSC_0000.NEF")); err != nil {
		t.Fatal(err)
	}
	if v := b.verify(VerifyOptions{}); v.Files != 2 || !strings.Contains(says(v), "DSC_0000.NEF: is missing") {
		t.Errorf("%+v", v)
	}
}

func TestBag(t *testing.T) {
	b := newBench(t)
	b.ingest(Options{}, someCard(t, 3))
	dir := filepath.Join(t.TempDir(), "bag")
	n, inPlace, err := Bag(t.Context(), b.store, b.shoot, dir, nil, when, nil)
	if err != nil || n != 7 || inPlace != 0 {
		t.Fatalf("%d files, %d in place, %v", n, inPlace, err)
	}
	got, err := fixity.CheckBag(t.Context(), dir, nil)
	if err != nil || len(got.Faults) != 0 {
		t.Errorf("%v, %v", got.Faults, err)
	}
	var there []string
	for p := range copiesOn(t, filepath.Join(dir, "data")) {
		there = append(there, p)
	}
	slices.Sort(there)
	if all := b.originals(); !slices.Equal(there, all) {
		t.Errorf("the bag holds %v, the shoot %v", there, all)
	}
	// One original that is not what it was: no bag, and it is named.
	spoil(t, filepath.Join(b.shoot, "originals/2026-03-04/Model_A-111/DSC_0001.JPG"), func(c []byte) []byte { c[300] ^= 1; return c })
	var changed *fixity.ChangedError
	if _, _, err := Bag(t.Context(), b.store, b.shoot, dir+"2", nil, when, nil); !errors.As(err, &changed) || !strings.Contains(changed.Path, "DSC_0001.JPG") {
		t.Errorf("%v", err)
	}
	if _, err := os.Stat(dir + "2"); !errors.Is(err, fs.ErrNotExist) {
		t.Error("a bag was left all the same")
	}
}
