package ingest

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"coverplate/ingest/catalogue"
)

// countingDisk counts how often each byte of a card is read.
type countingDisk struct {
	osDisk
	mu    sync.Mutex
	reads map[string][]int // by path; one count a byte
}

type countingFile struct {
	*os.File
	disk *countingDisk
	at   int64
}

func (d *countingDisk) Open(name string) (cardFile, error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	return &countingFile{File: f, disk: d}, nil
}

func (f *countingFile) count(n int, at int64) {
	f.disk.mu.Lock()
	defer f.disk.mu.Unlock()
	all := f.disk.reads[f.Name()]
	for len(all) < int(at)+n {
		all = append(all, 0)
	}
	for i := range n {
		all[int(at)+i]++
	}
	f.disk.reads[f.Name()] = all
}

func (f *countingFile) Read(p []byte) (int, error) {
	n, err := f.File.Read(p)
	f.count(n, f.at)
	f.at += int64(n)
	return n, err
}

func (f *countingFile) ReadAt(p []byte, at int64) (int, error) {
	n, err := f.File.ReadAt(p, at)
	f.count(n, at)
	return n, err
}

// bytes is how many bytes were read in how many files.
func (d *countingDisk) bytes() (n, files int) {
	for _, all := range d.reads {
		files++
		for _, k := range all {
			n += k
		}
	}
	return n, files
}

// sizes are those at which something changes: of the ends that make a
// fingerprint, and of the pieces that a file is read in.
var sizes = []int{1, quickEnd - 1, quickEnd, quickEnd + 1, 2 * quickEnd, 2*quickEnd + 1, chunk, chunk + 1, chunk + quickEnd + 1, 2*chunk + 7}

// A first ingest reads each byte of a card once, whatever is made of it: both
// copies, checksum, fingerprint, header, preview.
func TestCardIsReadOnce(t *testing.T) {
	b, card := newBench(t), filepath.Join(t.TempDir(), "A001")
	one := body{"Model A", "111", "2026:03:04 12:00:00", 1}
	put(t, card, "DCIM/100ABCDE/DSC_0001.JPG", one.jpeg(t))
	put(t, card, "DCIM/100ABCDE/DSC_0001.NEF", one.raw(3<<20))
	put(t, card, "DCIM/100ABCDE/DSC_0001.XMP", xmp("3"))
	for i, n := range sizes {
		put(t, card, fmt.Sprintf("PRIVATE/C%04d.MP4", i), bytes.Repeat([]byte{byte(i), 7}, n)[:n])
	}
	d := &countingDisk{reads: map[string][]int{}}
	sum, _ := b.ingest(Options{Workers: 3, Second: t.TempDir(), disk: d}, card)
	if sum.Copied != 3+len(sizes) || sum.Second.Whole != sum.Copied {
		t.Fatalf("%+v; want %d files copied twice", sum, 3+len(sizes))
	}
	for _, name := range filesBelow(t, card) {
		info, err := os.Stat(name)
		if err != nil {
			t.Fatal(err)
		}
		if got := d.reads[name]; int64(len(got)) != info.Size() || slices.ContainsFunc(got, func(n int) bool { return n != 1 }) {
			t.Errorf("%s, %d bytes: %d of them were read, and not all once", name, info.Size(), len(got))
		}
	}

	// Nothing of it is read again but the ends of a few files, by which the
	// card is told from another with the same names, sizes and times.
	d.reads = map[string][]int{}
	sum, _ = b.ingest(Options{Workers: 3, disk: d}, card)
	if n, files := d.bytes(); sum.Copied != 0 || sum.AlreadyHere != 3+len(sizes) || files > probes || files < 2 || n > probes*2*quickEnd {
		t.Errorf("a second run read %d bytes of %d files and says %+v", n, files, sum)
	}
	d.reads = map[string][]int{}
	sum, _ = b.ingest(Options{Workers: 3, Rehash: true, disk: d}, card)
	if _, files := d.bytes(); sum.Copied != 0 || files != 3+len(sizes) {
		t.Errorf("with Rehash %d files were read: %+v", files, sum)
	}
}

// filesBelow are the files below a folder.
func filesBelow(t *testing.T, root string) []string {
	var out []string
	err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			out = append(out, name)
		}
		return err
	})
	if err != nil || len(out) == 0 {
		t.Fatalf("%s: %d files, %v", root, len(out), err)
	}
	return out
}

// Two bodies of one model on one trigger, raws without compression, cards
// formatted on the same morning: names, sizes and times are the same throughout,
// and so is the card's name, mounted at the same place.
func TestTwinCardIsAnother(t *testing.T) {
	b, root := newBench(t), filepath.Join(t.TempDir(), "NO NAME")
	fill := func(serial string) {
		for i := range 20 {
			one := body{"Model A", serial, fmt.Sprintf("2026:03:04 12:00:%02d", i), byte(i)}
			name := fmt.Sprintf("DCIM/100ABCDE/DSC_%04d.NEF", i)
			put(t, root, name, one.raw(200_000))
			at := time.Date(2026, 3, 4, 12, 0, i, 0, time.UTC)
			if err := os.Chtimes(filepath.Join(root, name), at, at); err != nil {
				t.Fatal(err)
			}
		}
	}
	fill("111")
	b.ingest(Options{}, root)
	if err := os.RemoveAll(root); err != nil {
		t.Fatal(err)
	}
	fill("222")
	if sum, _ := b.ingest(Options{}, root); sum.Copied != 20 || sum.NewFrames != 20 {
		t.Errorf("of the second card %d files were copied, %d new frames; want all 20", sum.Copied, sum.NewFrames)
	}
	b.sound()
}

// A frame that is known in short is told with its files and its state.
func TestKnownInShort(t *testing.T) {
	b, card := newBench(t), filepath.Join(t.TempDir(), "A001")
	one := body{"Model A", "111", "2026:03:04 12:00:00", 1}
	put(t, card, "DCIM/100ABCDE/DSC_0001.JPG", one.jpeg(t))
	put(t, card, "DCIM/100ABCDE/DSC_0001.NEF", one.raw(1000))
	b.ingest(Options{}, card)
	whole := b.frames()[0]
	_, events := b.ingest(Options{}, card)
	var told *catalogue.Frame
	for _, e := range events {
		if e.State == StateHere {
			told = e.Frame
		}
	}
	if told == nil || told.ID != whole.ID || told.Path() != whole.Path() || names(*told) != names(whole) || told.Measured != whole.Measured {
		t.Errorf("the second run tells of %+v, want %s", told, strings.Join([]string{whole.Path(), names(whole)}, ": "))
	}
}
