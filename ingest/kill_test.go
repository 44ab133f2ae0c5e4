package ingest

import (
	"cmp"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"coverplate/ingest/catalogue"
)

// childShoot, childCard and childSecond, where set, make this test binary an ingest process
// that a test can kill.
const (
	childShoot   = "COVERPLATE_TEST_SHOOT"
	childCard    = "COVERPLATE_TEST_CARD"
	childSecond  = "COVERPLATE_TEST_SECOND"
	childWorkers = "COVERPLATE_TEST_WORKERS"
	childLater   = "COVERPLATE_TEST_LATER"
	killCount    = "COVERPLATE_TEST_KILLS" // how often to kill; 8 in the ordinary run
)

func TestMain(m *testing.M) {
	shoot := os.Getenv(childShoot)
	if shoot == "" {
		os.Exit(m.Run())
	}
	workers, _ := strconv.Atoi(os.Getenv(childWorkers))
	store, err := catalogue.Open(filepath.Join(shoot, "catalogue.db"))
	if err == nil {
		_, err = Run(context.Background(), store, Options{Shoot: shoot, Sources: []string{os.Getenv(childCard)}, Second: os.Getenv(childSecond), Workers: cmp.Or(workers, 3), Later: os.Getenv(childLater) != ""}, nil)
		fmt.Println(peak())
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	os.Exit(0)
}

// peak is the most memory that this process had, in MB, as Linux counts it
// (VmHWM: that of the process that began it is left out); 0 not known.
func peak() (mb int) {
	b, _ := os.ReadFile("/proc/self/status")
	if _, after, ok := strings.Cut(string(b), "VmHWM:"); ok {
		fmt.Sscan(after, &mb)
	}
	return mb >> 10
}

func TestKilledAtAnyInstant(t *testing.T) {
	kills, count := 8, 8 // of the card's frames
	if testing.Short() {
		kills = 3
	}
	if s := os.Getenv(killCount); s != "" {
		var err error
		if kills, err = strconv.Atoi(s); err != nil {
			t.Fatal(err)
		}
		count = 16
	}
	card := filepath.Join(t.TempDir(), "A001")
	contents := map[string]bool{}
	for i := range count {
		one := body{"Model A", "111", fmt.Sprintf("2026:03:04 12:00:%02d", i), byte(i)}
		if i%4 == 3 {
			one.taken = "2026:03:04 12:00:00" // one name, one folder: suffixes
		}
		for ext, content := range map[string][]byte{"JPG": one.jpeg(t), "NEF": one.raw(1 << 20), "xmp": xmp(strconv.Itoa(i % 6))} {
			name := fmt.Sprintf("DCIM/100ABCDE/DSC_%04d.%s", i, ext)
			if i%4 == 3 {
				name = fmt.Sprintf("DCIM/%dABCDE/DSC_0000.%s", 101+i, ext)
			}
			put(t, card, name, content)
			contents[sumOfBytes(content)] = true
		}
	}
	put(t, card, "PRIVATE/C0001.MP4", []byte("clip"))
	contents[sumOfBytes([]byte("clip"))] = true
	ingest := func(shoot, second string) *exec.Cmd {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), childShoot+"="+shoot, childCard+"="+card, childSecond+"="+second)
		return cmd
	}
	begun := time.Now()
	if out, err := ingest(t.TempDir(), t.TempDir()).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	whole := time.Since(begun)
	seed := uint64(begun.UnixNano())
	random := rand.New(rand.NewPCG(seed, 0))
	before := trees(t, []string{card})
	mid := 0
	for n := range kills {
		shoot, second := t.TempDir(), t.TempDir()
		after := time.Duration(random.Int64N(int64(whole)))
		cmd := ingest(shoot, second)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		timer := time.AfterFunc(after, func() { cmd.Process.Kill() })
		if cmd.Wait() != nil {
			mid++
		}
		timer.Stop()
		t.Run(fmt.Sprintf("kill %d after %v, seed %d", n, after, seed), func(t *testing.T) {
			b := &bench{TB: t, shoot: shoot}
			b.open()
			held, err := b.store.Files(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			for _, h := range held { // what the catalogue knows is whole
				if got := hashOf(t, onDisk(shoot, h.Path)); got != h.SHA256 || h.Verified.IsZero() {
					t.Errorf("%s is in the catalogue and not whole", h.Path)
				}
			}
			for _, name := range b.originals() { // what has its name is whole
				if !contents[hashOf(t, onDisk(shoot, name))] {
					t.Errorf("%s is half a file", name)
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
			for name, sum := range copiesOn(t, second) {
				if !strings.Contains(name, incoming) && !contents[sum] {
					t.Errorf("%s on the second disk is half a file", name)
				}
			}
			first := b.originals()
			b.store.Close()
			if out, err := ingest(shoot, second).CombinedOutput(); err != nil {
				t.Fatalf("the next run: %v: %s", err, out)
			}
			b.open()
			defer b.store.Close()
			b.sound()
			equalCopies(t, shoot, second)
			all := b.originals()
			for _, name := range first {
				if !slices.Contains(all, name) {
					t.Errorf("%s was there and is gone", name)
				}
			}
			got := map[string]bool{}
			for _, name := range all {
				got[hashOf(t, onDisk(shoot, name))] = true
			}
			if len(all) != 3*count+1 || len(got) != len(contents) || len(b.frames()) != count {
				t.Errorf("%d originals of %d contents, %d frames; want %d, %d, %d:\n%s", len(all), len(got), len(b.frames()), 3*count+1, len(contents), count, strings.Join(all, "\n"))
			}
			for _, f := range b.frames() {
				if len(f.Files) != 3 {
					t.Errorf("frame of %s", names(f))
				}
			}
		})
	}
	if after := trees(t, []string{card}); !slices.Equal(before, after) {
		t.Error("the card was changed")
	}
	t.Logf("%d of %d runs were killed before their end; a whole run takes %v", mid, kills, whole)
	if kills >= 8 && mid < kills/3 {
		t.Errorf("only %d of %d runs were killed before their end: the instants are too late to prove anything", mid, kills)
	}
}
