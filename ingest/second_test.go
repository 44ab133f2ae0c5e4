package ingest

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
)

// hurt is a disk on which what lies below root fails as fault says; fault gets
// the operation and the name.
type hurt struct {
	osDisk
	root  string
	fault func(op, name string) error
}

// errTurns is the fault of a disk on which a bit turns, and nobody is told.
var errTurns = errors.New("a bit turns")

type hurtFile struct {
	file
	d hurt
}

func (d hurt) err(op, name string) error {
	if within(name, d.root) {
		return d.fault(op, name)
	}
	return nil
}

func (d hurt) Temp(dir, pattern string) (file, error) {
	if err := d.err("create", dir); err != nil {
		return nil, err
	}
	f, err := d.osDisk.Temp(dir, pattern)
	return hurtFile{f, d}, err
}

func (d hurt) Part(name string) (file, error) {
	if err := d.err("create", name); err != nil {
		return nil, err
	}
	f, err := d.osDisk.Part(name)
	return hurtFile{f, d}, err
}

func (d hurt) MkdirAll(name string) error {
	return errors.Join(d.err("mkdir", name), d.osDisk.MkdirAll(name))
}
func (d hurt) Mkdir(name string) error {
	if err := d.err("mkdir", name); err != nil {
		return err
	}
	return d.osDisk.Mkdir(name)
}

// Devices are those of a second disk of its own.
func (d hurt) Devices(dir string) []string {
	if within(dir, d.root) {
		return []string{"second"}
	}
	return []string{"first"}
}

func (f hurtFile) Write(p []byte) (int, error) {
	err := f.d.err("write", f.Name())
	if errors.Is(err, errTurns) {
		p, err = slices.Clone(p), nil
		p[len(p)-1] ^= 1
	}
	if err != nil {
		return 0, err
	}
	return f.file.Write(p)
}

func (f hurtFile) Sync() error {
	if err := f.d.err("sync", f.Name()); err != nil {
		return err
	}
	return f.file.Sync()
}

func well(string, string) error { return nil }

// copiesOn are the files below the originals of root, with what is in them.
func copiesOn(t testing.TB, root string) map[string]string {
	t.Helper()
	out := map[string]string{}
	if _, err := os.Stat(filepath.Join(root, originals)); errors.Is(err, fs.ErrNotExist) {
		return out
	}
	err := filepath.WalkDir(filepath.Join(root, originals), func(name string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			rel, _ := filepath.Rel(root, name)
			out[filepath.ToSlash(rel)] = hashOf(t, name)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func equalCopies(t testing.TB, a, b string) {
	t.Helper()
	one, two := copiesOn(t, a), copiesOn(t, b)
	if len(one) == 0 {
		t.Error("there are no originals")
	}
	for name, sum := range one {
		if two[name] != sum {
			t.Errorf("%s: %.8s in the shoot, %.8s on the second disk", name, sum, two[name])
		}
	}
	if len(two) != len(one) {
		t.Errorf("%d files on the second disk, %d in the shoot", len(two), len(one))
	}
}

// someCard is a card of n frames of two files.
func someCard(t testing.TB, n int) string {
	t.Helper()
	card := filepath.Join(t.TempDir(), "A001")
	for i := range n {
		one := body{"Model A", "111", fmt.Sprintf("2026:03:04 12:00:%02d", i), byte(i)}
		put(t, card, fmt.Sprintf("DCIM/100ABCDE/DSC_%04d.JPG", i), one.jpeg(t))
		put(t, card, fmt.Sprintf("DCIM/100ABCDE/DSC_%04d.NEF", i), one.raw(300_000))
	}
	put(t, card, "PRIVATE/C0001.MP4", []byte("clip"))
	return card
}

func TestSecondCopies(t *testing.T) {
	b, card, root := newBench(t), someCard(t, 6), t.TempDir()
	o := Options{Second: root, disk: hurt{root: root, fault: well}}
	before := trees(t, []string{card})
	sum, _ := b.ingest(o, card)
	if s := sum.Second; s.Copied != 13 || s.Whole != 13 || s.Waiting != 0 || s.Fault != nil || !s.Apart {
		t.Errorf("%+v", s)
	}
	equalCopies(t, b.shoot, root)
	copies, err := b.store.Copies(t.Context())
	if err != nil || len(copies) != 13 {
		t.Fatalf("%d copies, %v", len(copies), err)
	}
	for _, c := range copies {
		if c.Root != root || !c.Apart || c.Verified.IsZero() {
			t.Errorf("%+v", c)
		}
	}
	if tool, err := exec.LookPath("sha256sum"); err == nil {
		cmd := exec.Command(tool, "-c", "--strict", "--quiet", ManifestName)
		cmd.Dir = root
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("sha256sum on the second disk: %v: %s", err, out)
		}
	}
	if sum, _ = b.ingest(o, card); sum.Second.Copied != 0 || sum.Second.Whole != 13 {
		t.Errorf("run again: %+v", sum.Second)
	}
	if !slices.Equal(before, trees(t, []string{card})) {
		t.Error("the card was changed")
	}
	// One that was lost there since is copied again, also without a card.
	lost := filepath.Join(root, filepath.FromSlash(copies[3].File))
	if err := os.Remove(lost); err != nil {
		t.Fatal(err)
	}
	sum, err = Second(t.Context(), b.store, Options{Shoot: b.shoot, Second: root, disk: o.disk}, nil)
	if err != nil || sum.Second.Copied != 1 || sum.Second.Whole != 13 {
		t.Errorf("without a card: %+v, %v", sum.Second, err)
	}
	equalCopies(t, b.shoot, root)
}

// A shoot that had no second gets one for all of its originals.
func TestSecondComesLater(t *testing.T) {
	b, root := newBench(t), t.TempDir()
	b.ingest(Options{}, someCard(t, 3))
	sum, _ := b.ingest(Options{Second: root}, someCard(t, 4))
	if sum.Second.Whole != len(copiesOn(t, b.shoot)) || sum.Second.Waiting != 0 {
		t.Errorf("%+v", sum.Second)
	}
	if sum.Second.Apart {
		t.Error("two folders of one disk are called apart")
	}
	equalCopies(t, b.shoot, root)
}

func TestAnIllSecondHarmsNothing(t *testing.T) {
	full := errors.New("no space left on device")
	for _, c := range []struct {
		name  string
		fault func() func(op, name string) error
	}{
		{"full from the first byte", func() func(string, string) error {
			return func(op, _ string) error {
				if op == "write" {
					return full
				}
				return nil
			}
		}},
		{"full after a while", func() func(string, string) error {
			var mu sync.Mutex
			n := 0
			return func(op, _ string) error {
				mu.Lock()
				defer mu.Unlock()
				if op == "write" {
					n++
				}
				if n > 5 {
					return full
				}
				return nil
			}
		}},
		{"read-only", func() func(string, string) error {
			return func(op, _ string) error { return fs.ErrPermission }
		}},
		{"it does not sync", func() func(string, string) error {
			return func(op, _ string) error {
				if op == "sync" {
					return errors.New("input/output error")
				}
				return nil
			}
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, card, root := newBench(t), someCard(t, 6), t.TempDir()
			sum, events := b.ingest(Options{Second: root, disk: hurt{root: root, fault: c.fault()}}, card)
			if sum.Copied != 13 || sum.NewFrames != 6 || sum.Unread != 0 {
				t.Errorf("the first: %+v", sum)
			}
			b.sound()
			if s := sum.Second; s.Fault == nil || s.Waiting == 0 || s.Whole+s.Waiting != 13 {
				t.Errorf("%+v", s)
			}
			if !slices.ContainsFunc(events, func(e Event) bool { return e.State == StateSecond && e.Err != nil }) {
				t.Error("nothing was said of the second disk")
			}
			copies, err := b.store.Copies(t.Context())
			if err != nil || len(copies) != sum.Second.Whole {
				t.Errorf("%d copies in the catalogue, want %d; %v", len(copies), sum.Second.Whole, err)
			}
			for _, c := range copies {
				if hashOf(t, filepath.Join(root, c.File)) != c.SHA256 {
					t.Errorf("%s is in the catalogue and not whole", c.File)
				}
			}
			// Well again, all is made good.
			if sum, _ = b.ingest(Options{Second: root}, card); sum.Second.Whole != 13 || sum.Second.Fault != nil {
				t.Errorf("afterwards: %+v", sum.Second)
			}
			equalCopies(t, b.shoot, root)
		})
	}
}

func TestASecondThatIsUnplugged(t *testing.T) {
	b, root := newBench(t), filepath.Join(t.TempDir(), "second")
	sum, _ := b.ingest(Options{Second: root}, someCard(t, 2)) // never there
	if sum.Copied != 5 || sum.Second.Fault == nil || sum.Second.Waiting != 5 {
		t.Errorf("%+v", sum)
	}
	if _, err := os.Stat(root); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("the folder of a disk that is not there was made: %v", err)
	}
	if err := os.Mkdir(root, 0o755); err != nil {
		t.Fatal(err)
	}
	b.ingest(Options{Second: root}, someCard(t, 2))
	equalCopies(t, b.shoot, root)
	// Unplugged: the empty folder stays behind.
	if err := errors.Join(os.Rename(root, root+"-away"), os.Mkdir(root, 0o755)); err != nil {
		t.Fatal(err)
	}
	sum, _ = b.ingest(Options{Second: root}, someCard(t, 3))
	if !errors.Is(sum.Second.Fault, ErrGone) {
		t.Errorf("%+v", sum.Second)
	}
	if left, _ := os.ReadDir(root); len(left) != 0 {
		t.Errorf("%d files were put where the disk was", len(left))
	}
	b.sound()
}

// Pulled out in mid-run: the first copies are whole, and what is said is that
// the disk is not there, not what the system made of it.
func TestASecondThatIsUnpluggedInMidRun(t *testing.T) {
	b, root, card := newBench(t), filepath.Join(t.TempDir(), "second"), someCard(t, 12)
	if err := os.Mkdir(root, 0o755); err != nil {
		t.Fatal(err)
	}
	pulled := false
	sum, err := Run(t.Context(), b.store, Options{Shoot: b.shoot, Sources: []string{card}, Second: root, Workers: 1}, func(e Event) {
		if e.State != StateCopied || pulled {
			return
		}
		pulled = true
		if err := errors.Join(os.Rename(root, root+"-away"), os.Mkdir(root, 0o755)); err != nil {
			t.Error(err)
		}
	})
	if err != nil || sum.Copied != 25 || !errors.Is(sum.Second.Fault, ErrGone) || sum.Second.Waiting == 0 {
		t.Errorf("%+v, %v", sum, err)
	}
	b.sound()
	// Plugged in again, it gets what it lacks.
	if err := errors.Join(os.RemoveAll(root), os.Rename(root+"-away", root)); err != nil {
		t.Fatal(err)
	}
	if sum, _ := b.ingest(Options{Second: root}, card); sum.Second.Fault != nil || sum.Second.Waiting != 0 {
		t.Errorf("plugged in again: %+v", sum.Second)
	}
	equalCopies(t, b.shoot, root)
}

func TestSecondLeavesOtherFilesAlone(t *testing.T) {
	b, card, root := newBench(t), someCard(t, 2), t.TempDir()
	foreign := "originals/2026-03-04/Model_A-111/DSC_0001.JPG"
	put(t, root, foreign, []byte("somebody else's"))
	sum, events := b.ingest(Options{Second: root}, card)
	if sum.Second.Whole != 4 || sum.Second.Waiting != 1 || sum.Second.Fault != nil {
		t.Errorf("%+v", sum.Second)
	}
	if got, _ := os.ReadFile(filepath.Join(root, foreign)); string(got) != "somebody else's" {
		t.Error("it was overwritten")
	}
	if !slices.ContainsFunc(events, func(e Event) bool { return e.Err != nil && strings.Contains(e.Err.Error(), "DSC_0001.JPG") }) {
		t.Error("it was not named")
	}
}

func TestSecondRefusals(t *testing.T) {
	b, card := newBench(t), someCard(t, 1)
	inside, onCard := filepath.Join(b.shoot, "copies"), filepath.Join(card, "copies")
	if err := errors.Join(os.Mkdir(inside, 0o755), os.Mkdir(onCard, 0o755)); err != nil {
		t.Fatal(err)
	}
	for name, root := range map[string]string{"the shoot": b.shoot, "in the shoot": inside, "around the shoot": filepath.Dir(b.shoot),
		"the card": card, "on the card": onCard, "around the card": filepath.Dir(card)} {
		_, err := Run(t.Context(), b.store, Options{Shoot: b.shoot, Sources: []string{card}, Second: root}, nil)
		if !errors.Is(err, ErrSecond) {
			t.Errorf("%s: %v, want ErrSecond", name, err)
		}
	}
	if left, _ := os.ReadDir(onCard); len(left) != 0 {
		t.Error("something was written to the card")
	}
	if _, err := Run(t.Context(), b.store, Options{Shoot: b.shoot, Sources: []string{card}, Second: t.TempDir(), InPlace: true}, nil); !errors.Is(err, ErrSecond) {
		t.Errorf("in place: %v", err)
	}
}

// An original that is not what it was is not handed on.
func TestASpoiltOriginalIsNotCopiedOn(t *testing.T) {
	b, root := newBench(t), t.TempDir()
	b.ingest(Options{}, someCard(t, 2))
	spoilt := filepath.Join(b.shoot, "originals/2026-03-04/Model_A-111/DSC_0001.NEF")
	content, err := os.ReadFile(spoilt)
	if err != nil {
		t.Fatal(err)
	}
	content[1000] ^= 1
	if err := errors.Join(os.Chmod(spoilt, 0o644), os.WriteFile(spoilt, content, 0o644)); err != nil {
		t.Fatal(err)
	}
	var said []string
	sum, err := Second(t.Context(), b.store, Options{Shoot: b.shoot, Second: root}, func(e Event) {
		if e.Err != nil {
			said = append(said, e.Err.Error())
		}
	})
	if err != nil || sum.Second.Whole != 4 || sum.Second.Waiting != 1 || len(said) != 1 || !strings.Contains(said[0], "DSC_0001.NEF") {
		t.Errorf("%+v, %v, %q", sum.Second, err, said)
	}
	if left, _ := filepath.Glob(filepath.Join(root, originals, incoming, "*")); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

// A second disk that hangs costs the first copies its patience once, not once
// for each file.
func TestASecondThatHangs(t *testing.T) {
	root, card := t.TempDir(), someCard(t, 1)
	raw := filepath.Join(card, "DCIM/100ABCDE/DSC_0000.NEF")
	synctest.Test(t, func(t *testing.T) {
		plugged := make(chan bool)
		d := hurt{root: root, fault: func(op, _ string) error {
			if op == "write" {
				<-plugged
			}
			return nil
		}}
		s := &second{disk: d, root: root, slots: make(chan struct{}, 4), folders: &tree{disk: d, root: root}}
		if err := os.MkdirAll(s.incoming(), 0o755); err != nil {
			t.Fatal(err)
		}
		e := entry{path: raw, given: raw, modified: when}
		one := s.begin(e)
		for range 9 { // what the channel holds, what its goroutine has in hand, and more
			one.Write([]byte("x"))
		}
		if !one.lost || s.left() != 0 {
			t.Errorf("lost %v, %v of the patience left", one.lost, s.left())
		}
		if s.begin(e) != nil {
			t.Error("another copy was begun")
		}
		one.end("no matter")
		one.goTo("originals/x")
		close(plugged)
		s.wait(t.Context())
		if len(s.flush()) != 0 || s.broken() != nil {
			t.Errorf("a copy that lost pieces counts: %v", s.broken())
		}
	})
	if left, _ := filepath.Glob(filepath.Join(root, originals, "*", "*")); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

// A bit that turns on the second disk is found when the copy is read back.
func TestSecondIsReadBack(t *testing.T) {
	b, card, root := newBench(t), someCard(t, 2), t.TempDir()
	d := hurt{root: root, fault: func(op, _ string) error {
		if op == "write" {
			return errTurns
		}
		return nil
	}}
	sum, _ := b.ingest(Options{Second: root, disk: d}, card)
	var differs *CopyError
	if !errors.As(sum.Second.Fault, &differs) || sum.Second.Whole != 0 || len(copiesOn(t, root)) != 0 {
		t.Errorf("%+v", sum.Second)
	}
	b.sound()
}
