package ingest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"coverplate/ingest/catalogue"
)

func TestOneCard(t *testing.T) {
	b, card := newBench(t), filepath.Join(t.TempDir(), "A001")
	lead, night := bodyA.jpeg(t), body{"Model A", "111", "2026:03:05 03:59:59", 11}
	put(t, card, "DCIM/100ABCDE/DSC_0001.JPG", lead)
	put(t, card, "DCIM/100ABCDE/DSC_0001.NEF", bodyA.raw(200_000))
	put(t, card, "DCIM/100ABCDE/DSC_0001.xmp", xmp("3"))
	put(t, card, "DCIM/100ABCDE/dsc_0001.wav", []byte("RIFF"))
	put(t, card, "DCIM/100ABCDE/DSC_0002.JPG", night.jpeg(t))
	put(t, card, "DCIM/100ABCDE/DSC_0002.JPG.xmp", xmp("3")) // the same bytes as the other's
	put(t, card, "DCIM/101ABCDE/DSC_0003.JPG", body{"Model A", "111", "2026:03:05 04:00:00", 12}.jpeg(t))
	put(t, card, "DCIM/101ABCDE/DSC_0004.JPG", body{shade: 13}.jpeg(t))
	put(t, card, "PRIVATE/CLIP/C0001.MP4", []byte("moving pictures"))
	put(t, card, "DCIM/100ABCDE/MVI_0009.THM", []byte("no picture of ours"))
	put(t, card, ".DS_Store", []byte("litter"))
	put(t, card, "DCIM/.Trashes/DSC_0001.JPG", lead)
	put(t, card, "System Volume Information/x", []byte("litter"))

	sum, events := b.ingest(Options{}, card)
	if sum.Files != 10 || sum.Copied != 10 || sum.AlreadyHere != 0 || sum.Frames != 4 || sum.NewFrames != 4 ||
		sum.Others != 2 || sum.Skipped != 3 {
		t.Errorf("first run: %+v", sum)
	}
	if last := events[len(events)-1]; last.FilesDone != 10 || last.BytesDone != last.BytesAll {
		t.Errorf("the last event stands at %d of %d files, %d of %d bytes", last.FilesDone, last.FilesAll, last.BytesDone, last.BytesAll)
	}
	got := map[string]string{}
	for _, f := range b.frames() {
		got[filepath.ToSlash(filepath.Dir(f.Path()))] += names(f) + ";"
	}
	want := map[string]string{
		// 03:59:59 is still the day before, 04:00 is not.
		"originals/2026-03-04/Model_A-111": "DSC_0001.JPG DSC_0001.NEF DSC_0001.xmp DSC_0001.wav;DSC_0002.JPG DSC_0002.JPG.xmp;",
		"originals/2026-03-05/Model_A-111": "DSC_0003.JPG;",
		"originals/undated/camera":         "DSC_0004.JPG;",
	}
	for folder, files := range want {
		if got[folder] != files {
			t.Errorf("%s holds %q, want %q", folder, got[folder], files)
		}
	}
	f := b.frames()[0]
	if f.ID != catalogue.FrameID(sumOfBytes(lead)) || f.Rating == nil || *f.Rating != 3 || f.Camera.Serial != "111" ||
		f.Taken.Format("15:04:05.00") != "12:00:00.25" || len(f.Look.Palette) == 0 {
		t.Errorf("facts of the first frame: %+v", f)
	}
	if file := f.Files[0]; file.Verified.IsZero() || file.Card != "A001" || file.Source != "DCIM/100ABCDE/DSC_0001.JPG" || !file.Modified.Equal(when) {
		t.Errorf("file: %+v", file)
	}
	if info, err := os.Stat(onDisk(b.shoot, f.Path())); err != nil || info.Mode().Perm() != 0o444 || !info.ModTime().Equal(when) {
		t.Errorf("the copy is %v, %v; want read-only, with the card's time", info, err)
	}
	if info, err := os.Stat(onDisk(b.shoot, f.Look.Picture)); err != nil || info.Size() == 0 {
		t.Errorf("preview: %v", err)
	}
	others, err := b.store.Others(t.Context())
	if err != nil || len(others) != 2 || others[1].Path != "originals/other/A001/PRIVATE/CLIP/C0001.MP4" {
		t.Errorf("others: %+v, %v", others, err)
	}
	cards, err := b.store.Cards(t.Context())
	if err != nil || len(cards) != 1 || !cards[0].Whole || cards[0].Files != 10 {
		t.Errorf("cards: %+v, %v", cards, err)
	}

	files := func() []string { return trees(t, []string{filepath.Join(b.shoot, originals)})[1:] } // its own time may change
	before := files()
	for _, again := range []Options{{}, {Rehash: true}} {
		sum, events = b.ingest(again, filepath.Join(card, "DCIM"), card)
		if sum.Copied != 0 || sum.Bytes != 0 || sum.AlreadyHere != 10 || sum.NewFrames != 0 || sum.Frames != 4 {
			t.Errorf("run again with %+v: %+v", again, sum)
		}
		for _, e := range events {
			if e.State == StateCopied {
				t.Errorf("%s was copied again", e.Source)
			}
		}
	}
	if after := files(); !slices.Equal(before, after) {
		t.Error("the originals were touched by a second run")
	}
}

// The paths are those of testdata/dcf_cases.csv (rules of DCF names, CIPA
// DC-009, with what they were read in): outside DCF or not, every file is taken.
func TestNamesOfDCFAndOutside(t *testing.T) {
	text, err := os.ReadFile("testdata/dcf_cases.csv")
	if err != nil {
		t.Fatal(err)
	}
	b, card := newBench(t), t.TempDir()
	files := 0
	for i, line := range strings.Split(string(text), "\n") {
		name, _, ok := strings.Cut(line, ",")
		if !ok || !strings.Contains(name, "/") || strings.HasPrefix(line, "#") {
			continue
		}
		files++
		put(t, card, name, body{shade: byte(i)}.jpeg(t))
	}
	if files != 17 {
		t.Fatalf("%d paths in the table, want 17", files)
	}
	sum, _ := b.ingest(Options{}, card)
	// Of DSC_0001 there is NEF and THM: 17 files without that and without the
	// print order, AUTPRINT.MRK, are 15 frames.
	if sum.Copied != 17 || sum.NewFrames != 15 || sum.Others != 1 {
		t.Errorf("%+v, want 17 files, 15 frames and 1 other", sum)
	}
}

func TestSameNameOtherContent(t *testing.T) {
	b := newBench(t)
	first, second := filepath.Join(t.TempDir(), "A001"), filepath.Join(t.TempDir(), "A002")
	later := bodyA
	later.taken, later.shade = "2026:03:04 13:00:00", 99 // the counter has come round
	put(t, first, "DCIM/100ABCDE/DSC_0001.JPG", bodyA.jpeg(t))
	put(t, first, "DCIM/100ABCDE/DSC_0001.NEF", bodyA.raw(1000))
	put(t, second, "DCIM/100ABCDE/DSC_0001.JPG", later.jpeg(t))
	put(t, second, "DCIM/100ABCDE/DSC_0001.NEF", later.raw(1000))
	put(t, second, "DCIM/100ABCDE/DSC_0001.NEF.xmp", xmp("1"))
	third := filepath.Join(t.TempDir(), "B001") // another body, the same name
	put(t, third, "DCIM/100ABCDE/DSC_0001.JPG", bodyB.jpeg(t))
	b.ingest(Options{}, first)
	sum, _ := b.ingest(Options{}, second, third)
	if sum.Copied != 4 || sum.NewFrames != 2 {
		t.Errorf("%+v", sum)
	}
	frames := b.frames()
	if len(frames) != 3 {
		t.Fatalf("%d frames, want 3", len(frames))
	}
	suffix := string(frames[2].ID[:6])
	want := fmt.Sprintf("DSC_0001-%[1]s.JPG DSC_0001-%[1]s.NEF DSC_0001-%[1]s.NEF.xmp", suffix)
	if got := names(frames[2]); got != want {
		t.Errorf("the later frame's files are %s, want %s", got, want)
	}
}

func TestCaseTwins(t *testing.T) {
	b, card := newBench(t), t.TempDir()
	for i, name := range []string{"a/DSC_1.JPG", "a/dsc_1.jpg", "a/dsc_1.NEF", "b/X.JPG", "b/X.jpg"} {
		content := body{shade: byte(i + 1)}.jpeg(t)
		if strings.HasSuffix(name, "NEF") {
			content = bodyA.raw(100)
		}
		put(t, card, name, content)
	}
	sum, _ := b.ingest(Options{Workers: 1}, card)
	if sum.Copied != 5 || sum.NewFrames != 4 {
		t.Errorf("%+v, want 5 files and 4 frames", sum)
	}
	have := map[string]bool{}
	for _, name := range b.originals() {
		if fold := strings.ToLower(name); have[fold] {
			t.Errorf("%s differs from another by its case alone", name)
		} else {
			have[fold] = true
		}
	}
}

func TestHostileNames(t *testing.T) {
	b, card := newBench(t), t.TempDir()
	all := []string{"new\nline.jpg", "car\rret.jpg", "bad\xff.jpg", "bad\xfe.jpg", `back\slash.jpg`, " lead.jpg", "*star.jpg", "per%0Acent.jpg",
		"CON.jpg", "com1.JPG", "trail.jpg. ", "-rf.jpg", "Crème brûlée.jpg", strings.Repeat("x", 251) + ".jpg",
		strings.Repeat("é", 125) + "e.jpg", strings.Repeat("x", 251) + ".nef", "no extension", ".hidden.jpg"}
	for i, name := range all {
		put(t, card, "o\xffdd\n/"+name, body{shade: byte(i + 1)}.jpeg(t))
	}
	sum, _ := b.ingest(Options{}, card)
	if want := len(all) - 1; sum.Copied != want || sum.Skipped != 1 {
		t.Errorf("%+v, want %d copied and the hidden one skipped", sum, want)
	}
	kept := map[string]bool{}
	held, err := b.store.Files(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range held {
		kept[h.Name] = true
		for _, part := range strings.Split(h.Path, "/") {
			if safeName(part) != part {
				t.Errorf("%q is not a name for every disk", h.Path)
			}
		}
	}
	for _, name := range all[:len(all)-1] {
		if !kept[name] {
			t.Errorf("the true name %q is lost", name)
		}
	}
	if sum, _ = b.ingest(Options{}, card); sum.Copied != 0 {
		t.Errorf("the second run copied %d", sum.Copied)
	}
}

func TestLinksAreNotFollowed(t *testing.T) {
	b, card, outside := newBench(t), t.TempDir(), t.TempDir()
	put(t, outside, "secret/a.jpg", bodyA.jpeg(t))
	put(t, card, "in.jpg", bodyB.jpeg(t))
	for to, name := range map[string]string{filepath.Join(outside, "secret"): "folder", filepath.Join(outside, "secret/a.jpg"): "file.jpg", "..": "up", ".": "loop"} {
		if err := os.Symlink(to, filepath.Join(card, name)); err != nil {
			t.Fatal(err)
		}
	}
	link := filepath.Join(t.TempDir(), "link") // a source that is a link was asked for by name
	if err := os.Symlink(card, link); err != nil {
		t.Fatal(err)
	}
	sum, events := b.ingest(Options{}, link)
	if sum.Copied != 1 || sum.Skipped != 4 {
		t.Errorf("%+v, want 1 copied and 4 skipped", sum)
	}
	skipped := 0
	for _, e := range events {
		if e.State == StateSkipped {
			skipped++
		}
	}
	if skipped != 4 {
		t.Errorf("%d links were named, want 4", skipped)
	}
}

func TestWhatCannotBeReadIsKept(t *testing.T) {
	b, card := newBench(t), t.TempDir()
	whole := bodyA.jpeg(t)
	put(t, card, "cut.jpg", whole[:len(whole)/2])
	put(t, card, "rubbish.jpg", []byte("no picture"))
	put(t, card, "empty.jpg", nil)
	put(t, card, "good.jpg", bodyB.jpeg(t))
	put(t, card, "good.xmp", []byte("<broken"))
	for run, copied := range []int{5, 0} {
		sum, events := b.ingest(Options{}, card)
		if sum.Copied != copied || sum.Frames != 3 || sum.Unread != 4 {
			t.Errorf("run %d: %+v", run, sum)
		}
		told := map[string]bool{}
		for _, e := range events {
			if e.Err != nil {
				told[filepath.Base(e.Source)] = true
			}
		}
		for _, name := range []string{"cut.jpg", "rubbish.jpg", "empty.jpg", "good.jpg"} {
			if !told[name] {
				t.Errorf("run %d: nothing was said of %s", run, name)
			}
		}
	}
	for _, f := range b.frames() {
		if f.Unread == "" {
			t.Errorf("%s: Unread is empty", f.Path())
		}
	}
}

func TestPanicOfAReaderIsAnError(t *testing.T) {
	name := filepath.Join(t.TempDir(), "x")
	if err := os.WriteFile(name, []byte("x"), 0o644); err != nil {
		t.Fatal(err)
	}
	err := guarded(name, func(io.ReaderAt, int64) error { panic("index out of range") })
	if err == nil || !strings.Contains(err.Error(), "index out of range") {
		t.Errorf("guarded = %v", err)
	}
}

func TestRefusals(t *testing.T) {
	b, card := newBench(t), t.TempDir()
	put(t, card, "a.jpg", bodyA.jpeg(t))
	b.ingest(Options{}, card)
	for _, c := range []struct {
		name    string
		sources []string
		want    error
	}{
		{"no source", nil, ErrNoSource},
		{"the shoot itself", []string{b.shoot}, ErrOwnFolder},
		{"its originals", []string{filepath.Join(b.shoot, originals)}, ErrOwnFolder},
		{"a folder of its originals", []string{filepath.Join(b.shoot, originals, "2026-03-04")}, ErrOwnFolder},
		{"nothing is there", []string{card, filepath.Join(card, "none")}, os.ErrNotExist},
	} {
		if _, err := Run(t.Context(), b.store, Options{Shoot: b.shoot, Sources: c.sources}, nil); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
	release, err := lock(b.shoot)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Run(t.Context(), b.store, Options{Shoot: b.shoot, Sources: []string{card}}, nil); !errors.Is(err, ErrBusy) {
		t.Errorf("two at once: %v, want ErrBusy", err)
	}
	release()
	// A source around the shoot does not swallow it.
	sum, err := Run(t.Context(), b.store, Options{Shoot: b.shoot, Sources: []string{filepath.Dir(b.shoot)}}, nil)
	if err != nil || sum.Files != 1 || len(b.frames()) != 1 {
		t.Errorf("the folder around the shoot: %+v, %v; want the one file beside the shoot", sum, err)
	}
}

func TestTheLibraryCannotBeWritten(t *testing.T) {
	b, card := newBench(t), t.TempDir()
	put(t, card, "a.jpg", bodyA.jpeg(t))
	if err := os.WriteFile(filepath.Join(b.shoot, originals), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	var library *LibraryError
	if _, err := Run(t.Context(), b.store, Options{Shoot: b.shoot, Sources: []string{card}}, nil); !errors.As(err, &library) {
		t.Errorf("%v, want a LibraryError", err)
	}
	if n := len(b.frames()); n != 0 {
		t.Errorf("%d frames in the catalogue", n)
	}
}

func TestStopAndGoOn(t *testing.T) {
	card := t.TempDir()
	for i := range 20 {
		one := bodyA
		one.shade, one.taken = byte(i), fmt.Sprintf("2026:03:04 12:00:%02d", i)
		put(t, card, fmt.Sprintf("DSC_%04d.JPG", i), one.jpeg(t))
		put(t, card, fmt.Sprintf("DSC_%04d.NEF", i), one.raw(3<<19))
	}
	cause := errors.New("enough")
	for _, after := range []int{0, 1, 11} {
		b := newBench(t)
		ctx, stop := context.WithCancelCause(t.Context())
		seen := 0
		if after == 0 {
			stop(cause)
		}
		sum, err := Run(ctx, b.store, Options{Shoot: b.shoot, Sources: []string{card}, Workers: 3}, func(e Event) {
			if e.Frame != nil {
				if seen++; seen == after {
					stop(cause)
				}
			}
		})
		if !errors.Is(err, cause) || sum.NewFrames != after {
			t.Errorf("stopped after %d: %+v, %v", after, sum, err)
		}
		b.sound()
		if cards, _ := b.store.Cards(t.Context()); len(cards) == 1 && cards[0].Whole {
			t.Error("a card that was stopped is called whole")
		}
		if sum, _ = b.ingest(Options{}, card); sum.NewFrames != 20-after || sum.Copied != 40-2*after {
			t.Errorf("the next run: %+v", sum)
		}
		stop(nil)
	}
}

func TestMeasure(t *testing.T) {
	dir := t.TempDir()
	content := bodyA.jpeg(t)
	put(t, dir, "a.jpg", content)
	put(t, dir, "cut.jpg", content[:len(content)/2])
	put(t, dir, "empty.jpg", nil)
	put(t, dir, "a.txt", []byte("x"))
	f, err := Measure(filepath.Join(dir, "a.jpg"))
	if err != nil || f.ID != catalogue.FrameID(sumOfBytes(content)) || f.Look.Width != 48 || f.Camera.Model != "Model A" || f.Unread != "" {
		t.Errorf("%+v, %v", f, err)
	}
	if f, err = Measure(filepath.Join(dir, "cut.jpg")); err != nil || f.Unread == "" {
		t.Errorf("cut: %q, %v; want Unread to say so", f.Unread, err)
	}
	for _, name := range []string{"empty.jpg", "a.txt", "none.jpg", ""} {
		if _, err := Measure(filepath.Join(dir, name)); err == nil {
			t.Errorf("%q: no error", name)
		}
	}
}

func TestReadBackFindsADifference(t *testing.T) {
	dir, card := t.TempDir(), t.TempDir()
	put(t, card, "a.raw", bytes.Repeat([]byte("x"), 3*chunk))
	e := entry{path: filepath.Join(card, "a.raw"), given: "a.raw", source: "a.raw", size: 3 * chunk, modified: when}
	spoil := func(n int) {
		if n > 0 {
			return
		}
		parts, _ := filepath.Glob(filepath.Join(dir, "*.part")) // all is written: the disk now errs in one bit
		f, err := os.OpenFile(parts[0], os.O_RDWR, 0)
		if err != nil {
			t.Error(err)
			return
		}
		defer f.Close()
		f.WriteAt([]byte("y"), 2*chunk)
	}
	var fault *CopyError
	if _, err := stage(t.Context(), osDisk{}, nil, e, dir, make([]byte, chunk), spoil); !errors.As(err, &fault) || fault.Want == fault.Got {
		t.Errorf("stage = %v, want a CopyError", err)
	}
	grow := func(n int) {
		if n == 0 {
			put(t, card, "a.raw", []byte("shorter now"))
		}
	}
	if _, err := stage(t.Context(), osDisk{}, nil, e, dir, make([]byte, chunk), grow); !errors.Is(err, errChanged) {
		t.Errorf("stage of a file that changes = %v, want errChanged", err)
	}
	if left, _ := os.ReadDir(dir); len(left) != 0 {
		t.Errorf("%d files were left", len(left))
	}
}

func TestPlaceNeverOverwrites(t *testing.T) {
	for name, place := range map[string]func(from, to string) error{"place": place, "placeByLink": placeByLink} {
		dir := t.TempDir()
		put(t, dir, "from", []byte("new"))
		put(t, dir, "to", []byte("old"))
		err := place(filepath.Join(dir, "from"), filepath.Join(dir, "to"))
		if !errors.Is(err, os.ErrExist) {
			t.Errorf("%s onto a file = %v, want ErrExist", name, err)
		}
		if got, _ := os.ReadFile(filepath.Join(dir, "to")); string(got) != "old" {
			t.Errorf("%s overwrote", name)
		}
		if err := place(filepath.Join(dir, "from"), filepath.Join(dir, "free")); err != nil {
			t.Errorf("%s to a free name = %v", name, err)
		}
		if got, _ := os.ReadFile(filepath.Join(dir, "free")); string(got) != "new" {
			t.Errorf("%s lost the content", name)
		}
		if _, err := os.Lstat(filepath.Join(dir, "from")); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("%s left the old name: %v", name, err)
		}
	}
}
