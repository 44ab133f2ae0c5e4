package ingest

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"coverplate/ingest/catalogue"
)

// powered is a disk that loses its power: after so many steps every further one
// fails, and what no Sync and no SyncFolder waited for may be gone, cut short,
// or there after all. What a real disk promises is no more than that (fsync(2):
// a name is only sure once its folder was synced).
type powered struct {
	osDisk
	roots []string

	mu    sync.Mutex
	steps int // left; negative: it never fails
	taken int
	now   map[string]map[string]*node // folder, name in it: as the running system sees it
	sure  map[string]map[string]*node // as the disk surely has it
}

// node is a file or folder whatever its name is.
type node struct {
	folder bool
	synced []byte // the content that the disk surely has; nil none
}

var errPower = errors.New("the power is gone")

func newPowered(steps int, roots ...string) *powered {
	d := &powered{roots: roots, steps: steps, now: map[string]map[string]*node{}, sure: map[string]map[string]*node{}}
	for _, r := range roots {
		d.now[r], d.sure[r] = map[string]*node{}, map[string]*node{}
	}
	return d
}

// step is taken before each operation; the caller holds mu.
func (d *powered) step() error {
	if d.steps == 0 {
		return errPower
	}
	d.steps--
	d.taken++
	return nil
}

func (d *powered) add(name string, n *node) {
	dir := filepath.Dir(name)
	if d.now[dir] == nil {
		d.now[dir] = map[string]*node{}
	}
	d.now[dir][filepath.Base(name)] = n
}

type poweredFile struct {
	file
	d *powered
	n *node
}

func (d *powered) opened(f file, err error) (file, error) {
	if err != nil {
		return nil, err
	}
	n := &node{}
	d.add(f.Name(), n)
	return poweredFile{f, d, n}, nil
}

func (d *powered) Temp(dir, pattern string) (file, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.step(); err != nil {
		return nil, err
	}
	return d.opened(d.osDisk.Temp(dir, pattern))
}

func (d *powered) Part(name string) (file, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.step(); err != nil {
		return nil, err
	}
	return d.opened(d.osDisk.Part(name))
}

func (f poweredFile) Write(p []byte) (int, error) {
	f.d.mu.Lock()
	defer f.d.mu.Unlock()
	if err := f.d.step(); err != nil {
		return 0, err
	}
	return f.file.Write(p)
}

func (f poweredFile) Sync() error {
	f.d.mu.Lock()
	defer f.d.mu.Unlock()
	if err := f.d.step(); err != nil {
		return err
	}
	content, err := os.ReadFile(f.Name())
	f.n.synced = append([]byte{}, content...)
	return err
}

func (d *powered) Mkdir(name string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.step(); err != nil {
		return err
	}
	if err := d.osDisk.Mkdir(name); err != nil {
		return err
	}
	d.add(name, &node{folder: true})
	return nil
}

func (d *powered) MkdirAll(name string) error {
	if slices.Contains(d.roots, name) {
		return nil
	}
	if err := d.MkdirAll(filepath.Dir(name)); err != nil {
		return err
	}
	if err := d.Mkdir(name); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return nil
}

func (d *powered) move(from, to string, do func(from, to string) error) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.step(); err != nil {
		return err
	}
	if err := do(from, to); err != nil {
		return err
	}
	n := d.now[filepath.Dir(from)][filepath.Base(from)]
	delete(d.now[filepath.Dir(from)], filepath.Base(from))
	d.add(to, n)
	return nil
}

func (d *powered) Place(from, to string) error  { return d.move(from, to, d.osDisk.Place) }
func (d *powered) Rename(from, to string) error { return d.move(from, to, d.osDisk.Rename) }

func (d *powered) Remove(name string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.step(); err != nil {
		return err
	}
	delete(d.now[filepath.Dir(name)], filepath.Base(name))
	return d.osDisk.Remove(name)
}

func (d *powered) RemoveAll(name string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.step(); err != nil {
		return err
	}
	for dir := range maps.Clone(d.now) {
		if within(dir, name) {
			delete(d.now, dir)
		}
	}
	delete(d.now[filepath.Dir(name)], filepath.Base(name))
	return d.osDisk.RemoveAll(name)
}

func (d *powered) SyncFolder(dir string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := d.step(); err != nil {
		return err
	}
	d.sure[dir] = maps.Clone(d.now[dir])
	return nil
}

// Devices tell two roots apart.
func (d *powered) Devices(dir string) []string { return []string{dir} }

// lose leaves below the roots what the power failure does: all that is sure,
// and of the rest what chance says. The catalogue's own files stay: SQLite
// syncs them at each commit (synchronous=FULL).
func (d *powered) lose(t *testing.T, random *rand.Rand) {
	t.Helper()
	for _, root := range d.roots {
		type left struct {
			name    string
			content []byte
			folder  bool
		}
		var all []left
		var down func(dir string)
		down = func(dir string) {
			names := map[string]bool{}
			for name := range d.sure[dir] {
				names[name] = true
			}
			for name := range d.now[dir] {
				names[name] = true
			}
			for _, name := range slices.Sorted(maps.Keys(names)) {
				n := d.sure[dir][name]
				if d.now[dir][name] != n && random.IntN(2) == 0 {
					n = d.now[dir][name] // the later change came through
				}
				if n == nil {
					continue
				}
				full := filepath.Join(dir, name)
				if n.folder {
					all = append(all, left{full, nil, true})
					down(full)
					continue
				}
				content := n.synced
				if content == nil {
					content, _ = os.ReadFile(full)
					content = append([]byte{}, content[:random.IntN(len(content)+1)]...)
				}
				all = append(all, left{full, content, false})
			}
		}
		down(root)
		below, err := os.ReadDir(root)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range below {
			if !strings.HasPrefix(e.Name(), "catalogue.db") {
				if err := os.RemoveAll(filepath.Join(root, e.Name())); err != nil {
					t.Fatal(err)
				}
			}
		}
		for _, l := range all {
			err := error(nil)
			if l.folder {
				err = os.Mkdir(l.name, 0o755)
			} else {
				err = os.WriteFile(l.name, l.content, 0o644)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
	}
}

// A power failure after any step loses nothing that the catalogue vouches for,
// in the shoot or on the second disk, and the next run completes the work.
func TestPowerFails(t *testing.T) {
	card := someCard(t, 4)
	before := trees(t, []string{card})
	failures := 20
	if testing.Short() {
		failures = 6
	}
	count := func(steps int, shoot, second string) (*powered, Summary, error) {
		d := newPowered(steps, shoot, second)
		store, err := catalogue.Open(filepath.Join(shoot, "catalogue.db"))
		if err != nil {
			t.Fatal(err)
		}
		defer store.Close()
		sum, err := Run(t.Context(), store, Options{Shoot: shoot, Sources: []string{card}, Second: second, Workers: 3, disk: d}, nil)
		return d, sum, err
	}
	d, sum, err := count(-1, t.TempDir(), t.TempDir())
	if err != nil || sum.Second.Whole != 9 || sum.Second.Fault != nil {
		t.Fatalf("with power: %+v, %v", sum, err)
	}
	all := d.taken
	random := rand.New(rand.NewPCG(7, 11))
	cut, kept := 0, 0
	for i := range failures {
		at := 1 + (i*all+random.IntN(all))/failures // over the whole of a run
		t.Run(fmt.Sprintf("after step %d of %d", at, all), func(t *testing.T) {
			shoot, second := t.TempDir(), t.TempDir()
			d, sum, err := count(at, shoot, second)
			if err != nil || sum.Second.Fault != nil {
				cut++
			}
			d.lose(t, random)
			b := &bench{TB: t, shoot: shoot}
			b.open()
			held, err := b.store.Files(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			kept += len(held)
			for _, h := range held {
				if got := hashOf(t, onDisk(shoot, h.Path)); got != h.SHA256 || h.Verified.IsZero() {
					t.Errorf("%s is in the catalogue and not whole", h.Path)
				}
			}
			copies, err := b.store.Copies(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range copies {
				if hashOf(t, filepath.Join(second, c.File)) != c.SHA256 {
					t.Errorf("the second copy of %s is in the catalogue and not whole", c.File)
				}
			}
			sum, err = Run(t.Context(), b.store, Options{Shoot: shoot, Sources: []string{card}, Second: second}, nil)
			if err != nil || sum.Frames != 4 {
				t.Fatalf("the next run: %+v, %v", sum, err)
			}
			if sum.Second.Fault != nil {
				t.Fatalf("the next run: %v", sum.Second.Fault)
			}
			b.sound()
			if n := len(b.frames()); n != 4 {
				t.Errorf("%d frames", n)
			}
			b.store.Close()
		})
	}
	if !slices.Equal(before, trees(t, []string{card})) {
		t.Error("the card was changed")
	}
	t.Logf("%d of %d runs were cut off; %d files were in the catalogue at that", cut, failures, kept)
	if cut < failures*3/4 || kept < failures*2 {
		t.Errorf("%d of %d runs were cut off, with %d files in the catalogue: that proves little", cut, failures, kept)
	}
}
