package ingest

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"coverplate/ingest/catalogue"
)

func TestFilesOfOneFrameOnTwoCards(t *testing.T) {
	for _, c := range []struct {
		name          string
		first, second string // what comes on which card
		id            string // whose hash stays the frame's
	}{
		{"the raw comes later", "JPG", "NEF", "JPG"},
		{"the JPEG comes later", "NEF", "JPG", "NEF"},
	} {
		b := newBench(t)
		content := map[string][]byte{"JPG": bodyA.jpeg(t), "NEF": bodyA.raw(5000)}
		one, two := filepath.Join(t.TempDir(), "S1"), filepath.Join(t.TempDir(), "S2")
		put(t, one, "DCIM/100ABCDE/DSC_0001."+c.first, content[c.first])
		put(t, two, "DCIM/200OTHER/dsc_0001."+c.second, content[c.second])
		put(t, two, "DCIM/200OTHER/dsc_0001.xmp", xmp("4"))
		b.ingest(Options{}, one)
		sum, _ := b.ingest(Options{}, two)
		frames := b.frames()
		if len(frames) != 1 || sum.NewFrames != 0 || sum.Copied != 2 {
			t.Errorf("%s: %d frames, %+v", c.name, len(frames), sum)
			continue
		}
		f := frames[0]
		if got := names(f); got != "DSC_0001.JPG DSC_0001.NEF DSC_0001.xmp" {
			t.Errorf("%s: files %s", c.name, got)
		}
		if f.ID != catalogue.FrameID(sumOfBytes(content[c.id])) {
			t.Errorf("%s: the frame lost the ID that decisions rest on", c.name)
		}
		if f.Rating == nil || *f.Rating != 4 || f.Look.Preview == "" || f.Unread != "" {
			t.Errorf("%s: rating %v, preview %q, unread %q", c.name, f.Rating, f.Look.Preview, f.Unread)
		}
	}
}

func TestWhereUnsureItIsAFrameOfItsOwn(t *testing.T) {
	later := bodyA
	later.taken = "2026:03:04 12:00:01"
	mute := body{"Model A", "", "2026:03:04 12:00:00", 10}
	for _, c := range []struct {
		name          string
		first, second body
		folder        string
		frames        int
	}{
		{"another second", bodyA, later, "DCIM/100ABCDE", 2},
		{"another body", bodyA, bodyB, "DCIM/100ABCDE", 2},
		{"another body of the same model", bodyA, body{"Model A", "112", bodyA.taken, 10}, "DCIM/100ABCDE", 2},
		{"no time", body{model: "Model A", serial: "1"}, body{model: "Model A", serial: "1"}, "DCIM/100ABCDE", 2},
		{"no serial number, another folder", mute, mute, "DCIM/101ABCDE", 2},
		{"no serial number, the same folder", mute, mute, "DCIM/100ABCDE", 1},
	} {
		b := newBench(t)
		one, two := filepath.Join(t.TempDir(), "S1"), filepath.Join(t.TempDir(), "S2")
		put(t, one, "DCIM/100ABCDE/DSC_0001.JPG", c.first.jpeg(t))
		put(t, two, c.folder+"/DSC_0001.NEF", c.second.raw(500))
		b.ingest(Options{}, one)
		if b.ingest(Options{}, two); len(b.frames()) != c.frames {
			t.Errorf("%s: %d frames, want %d", c.name, len(b.frames()), c.frames)
		}
	}
}

func TestSidecarIsEdited(t *testing.T) {
	b, folder := newBench(t), t.TempDir()
	put(t, folder, "a.jpg", bodyA.jpeg(t))
	put(t, folder, "a.xmp", xmp("2"))
	b.ingest(Options{}, folder)
	frame := b.frames()[0]
	if _, err := b.store.Decide(t.Context(), catalogue.Decision{Kind: catalogue.Assign, Frame: frame.ID, Recipe: "R01"}); err != nil {
		t.Fatal(err)
	}
	put(t, folder, "a.xmp", xmp("5"))
	edited := when.Add(1e9)
	if err := os.Chtimes(filepath.Join(folder, "a.xmp"), edited, edited); err != nil {
		t.Fatal(err)
	}
	sum, _ := b.ingest(Options{}, folder)
	f := b.frames()[0]
	if sum.Copied != 1 || f.ID != frame.ID || f.Rating == nil || *f.Rating != 5 || len(f.Files) != 3 {
		t.Errorf("%+v; rating %v, files %s", sum, f.Rating, names(f))
	}
	if f.Look.Picture != frame.Look.Picture {
		t.Error("the look was lost")
	}
	if sum, _ = b.ingest(Options{}, folder); sum.Copied != 0 {
		t.Errorf("a third run copied %d", sum.Copied)
	}
	if all, err := b.store.Decisions(t.Context()); err != nil || len(all) != 1 {
		t.Errorf("decisions %v, %v", all, err)
	}
}

func TestSidecarAndMemoWithoutTheirPicture(t *testing.T) {
	b, card := newBench(t), filepath.Join(t.TempDir(), "A001")
	put(t, card, "DCIM/100ABCDE/DSC_0001.JPG", bodyA.jpeg(t))
	put(t, card, "DCIM/100ABCDE/DSC_0002.WAV", []byte("RIFF 2")) // its picture is still being written
	b.ingest(Options{}, card)
	if err := os.Remove(filepath.Join(card, "DCIM/100ABCDE/DSC_0001.JPG")); err != nil {
		t.Fatal(err)
	}
	put(t, card, "DCIM/100ABCDE/DSC_0001.xmp", xmp("3"))
	later := bodyA
	later.taken, later.shade = "2026:03:04 12:00:09", 77
	put(t, card, "DCIM/100ABCDE/DSC_0002.JPG", later.jpeg(t))
	b.ingest(Options{}, card)
	frames := b.frames()
	if len(frames) != 2 || names(frames[0]) != "DSC_0001.JPG DSC_0001.xmp" || frames[0].Rating == nil {
		t.Errorf("the sidecar did not find its frame: %s", names(frames[0]))
	}
	if len(frames[1].Files) != 2 || frames[1].Files[1].Kind != catalogue.Memo {
		t.Errorf("the memo did not find its frame: %s", names(frames[1]))
	}
	if others, _ := b.store.Others(t.Context()); len(others) != 0 {
		t.Errorf("others: %v", others)
	}
	stray := filepath.Join(t.TempDir(), "B001") // a sidecar of that name from elsewhere belongs to nobody
	put(t, stray, "DCIM/100ABCDE/DSC_0001.xmp", xmp("1"))
	b.ingest(Options{}, stray)
	if others, _ := b.store.Others(t.Context()); len(others) != 1 || *b.frames()[0].Rating != 3 {
		t.Errorf("others: %v, rating %v", others, *b.frames()[0].Rating)
	}
}

func TestTheSamePictureElsewhere(t *testing.T) {
	b, card := newBench(t), filepath.Join(t.TempDir(), "A001")
	put(t, card, "DCIM/100ABCDE/DSC_0001.JPG", bodyA.jpeg(t))
	put(t, card, "DCIM/100ABCDE/DSC_0001.NEF", bodyA.raw(900))
	put(t, card, "DCIM/100ABCDE/DSC_0001.xmp", xmp("3"))
	b.ingest(Options{}, card)
	backup := filepath.Join(t.TempDir(), "backup")
	put(t, backup, "day one/renamed.jpg", bodyA.jpeg(t))
	put(t, backup, "day one/renamed.nef", bodyA.raw(900))
	sum, _ := b.ingest(Options{}, backup)
	if sum.Copied != 0 || sum.AlreadyHere != 2 || len(b.frames()) != 1 {
		t.Errorf("%+v, %d frames; want nothing new", sum, len(b.frames()))
	}
	// Two frames whose sidecars look alike to the last detail each get theirs.
	other := filepath.Join(t.TempDir(), "B001")
	put(t, other, "DCIM/100ABCDE/DSC_0001.JPG", bodyB.jpeg(t))
	put(t, other, "DCIM/100ABCDE/DSC_0001.xmp", xmp("3"))
	b.ingest(Options{}, other)
	for range 2 {
		for _, f := range b.frames() {
			if f.Rating == nil || f.Files[len(f.Files)-1].Kind != catalogue.Sidecar {
				t.Errorf("%s lacks its sidecar: %s", f.Camera.Model, names(f))
			}
		}
		if sum, _ = b.ingest(Options{}, card, other); sum.Copied != 0 {
			t.Errorf("run again: %+v", sum)
		}
	}
}

func TestOriginalIsLost(t *testing.T) {
	b, card := newBench(t), t.TempDir()
	put(t, card, "a.jpg", bodyA.jpeg(t))
	put(t, card, "a.xmp", xmp("3"))
	b.ingest(Options{}, card)
	f := b.frames()[0]
	for _, file := range f.Files {
		if err := os.Remove(onDisk(b.shoot, file.Path)); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Remove(onDisk(b.shoot, f.Look.Picture)); err != nil {
		t.Fatal(err)
	}
	sum, _ := b.ingest(Options{}, card)
	if sum.Copied != 2 || len(b.frames()) != 1 || names(b.frames()[0]) != names(f) {
		t.Errorf("%+v, %s: want both copied again to where they were", sum, names(b.frames()[0]))
	}
	if _, err := os.Stat(onDisk(b.shoot, f.Look.Picture)); err != nil {
		t.Errorf("the preview was not made anew: %v", err)
	}
}

func TestPlaceOfALostFileIsNotGivenAway(t *testing.T) {
	b, card := newBench(t), t.TempDir()
	put(t, card, "a.jpg", bodyA.jpeg(t))
	b.ingest(Options{}, card)
	f := b.frames()[0]
	if err := os.Remove(onDisk(b.shoot, f.Path())); err != nil {
		t.Fatal(err)
	}
	k := keeper{taker: taker{store: b.store, shoot: b.shoot}}
	for sum, want := range map[string]bool{f.Files[0].SHA256: true, sumOfBytes(nil): false} {
		file := f.Files[0]
		file.SHA256 = sum
		if got, err := k.free(t.Context(), f.ID, file, nil); got != want || err != nil {
			t.Errorf("its place is free for %.8s: %v, %v; want %v", sum, got, err, want)
		}
	}
}

func TestCatalogueIsLost(t *testing.T) {
	b, card := newBench(t), t.TempDir()
	for i := range 3 {
		one := bodyA
		one.shade = byte(i)
		put(t, card, fmt.Sprintf("%d/DSC_0001.JPG", i), one.jpeg(t)) // one name, one time: suffixes
	}
	b.ingest(Options{}, card)
	before := strings.Join(b.originals(), "\n")
	b.store.Close()
	for _, end := range []string{"", "-wal", "-shm"} {
		os.Remove(filepath.Join(b.shoot, "catalogue.db"+end))
	}
	b.open()
	b.ingest(Options{Workers: 1}, card)
	if after := strings.Join(b.originals(), "\n"); after != before || len(b.frames()) != 3 {
		t.Errorf("%d frames; originals before and after:\n%s\n\n%s", len(b.frames()), before, after)
	}
}

func TestInPlaceAndThenCopied(t *testing.T) {
	b, folder := newBench(t), t.TempDir()
	put(t, folder, "a.jpg", bodyA.jpeg(t))
	put(t, folder, "a.nef", bodyA.raw(100))
	put(t, folder, "a.xmp", xmp("3"))
	put(t, folder, "clip.mp4", []byte("x"))
	sum, events := b.ingest(Options{InPlace: true}, folder)
	if sum.Copied != 4 || sum.Bytes != 0 || len(b.originals()) != 0 || !slices.ContainsFunc(events, func(e Event) bool { return e.State == StateInPlace }) || events[len(events)-1].State != StateMeasured {
		t.Errorf("%+v, originals %v", sum, b.originals())
	}
	f := b.frames()[0]
	for _, file := range f.Files {
		if !filepath.IsAbs(file.Path) || !file.Verified.IsZero() {
			t.Errorf("%+v: want an absolute path, never verified", file)
		}
	}
	if sum, _ = b.ingest(Options{InPlace: true}, folder); sum.Copied != 0 || sum.AlreadyHere != 4 {
		t.Errorf("in place again: %+v", sum)
	}
	if sum, _ = b.ingest(Options{}, folder); sum.Copied != 4 || len(b.frames()) != 1 || len(b.originals()) != 4 {
		t.Errorf("then copied: %+v, %d frames, originals %v", sum, len(b.frames()), b.originals())
	}
	if f = b.frames()[0]; len(f.Files) != 3 || filepath.IsAbs(f.Path()) {
		t.Errorf("files %+v", f.Files)
	}
	for _, o := range []Options{{InPlace: true}, {}} {
		if sum, _ = b.ingest(o, folder); sum.Copied != 0 {
			t.Errorf("once more with %+v: %+v", o, sum)
		}
	}
}

func TestMiddleOfAFileChanged(t *testing.T) {
	b, folder := newBench(t), t.TempDir()
	raw := bodyA.raw(400_000)
	put(t, folder, "a.nef", raw)
	b.ingest(Options{}, folder)
	raw[200_000] ^= 1 // name, size, time and both ends stay
	put(t, folder, "a.nef", raw)
	if sum, _ := b.ingest(Options{}, folder); sum.Copied != 0 {
		t.Errorf("by its looks: %+v", sum)
	}
	if sum, _ := b.ingest(Options{Rehash: true}, folder); sum.Copied != 1 || len(b.originals()) != 2 {
		t.Errorf("read whole: %+v; want both kept", sum)
	}
	if sum, _ := b.ingest(Options{Rehash: true}, folder); sum.Copied != 0 {
		t.Errorf("read whole again: %+v", sum)
	}
	raw[len(raw)-1] ^= 1 // an end: no rehash is needed
	put(t, folder, "a.nef", raw)
	if sum, _ := b.ingest(Options{}, folder); sum.Copied != 1 {
		t.Errorf("another end: %+v", sum)
	}
}

func TestPartOfACard(t *testing.T) {
	b, card := newBench(t), filepath.Join(t.TempDir(), "A001")
	put(t, card, "DCIM/100ABCDE/DSC_0001.JPG", bodyA.jpeg(t))
	put(t, card, "DCIM/100ABCDE/DSC_0002.JPG", bodyB.jpeg(t))
	sum, _ := b.ingest(Options{}, filepath.Join(card, "DCIM/100ABCDE/DSC_0001.JPG"))
	if sum.Files != 1 || sum.Cards[0].Name != "A001" || sum.Cards[0].Whole || b.frames()[0].Files[0].Source != "DCIM/100ABCDE/DSC_0001.JPG" {
		t.Errorf("a single file: %+v", sum)
	}
	if sum, _ = b.ingest(Options{}, filepath.Join(card, "DCIM")); sum.Copied != 1 || !sum.Cards[0].Whole {
		t.Errorf("the DCIM folder: %+v", sum)
	}
	b.ingest(Options{}, filepath.Join(card, "DCIM/100ABCDE"))
	{
		if cards, _ := b.store.Cards(t.Context()); len(cards) != 1 || !cards[0].Whole || cards[0].Files != 2 {
			t.Errorf("a part read later must not replace what is known of the whole: %+v", cards)
		}
	}
}
