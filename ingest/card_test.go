package ingest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"image"
	"image/color"
	"image/jpeg"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"coverplate/ingest/catalogue"
)

// body is what a picture of these tests says of itself.
type body struct {
	model, serial string // "" not written
	taken         string // "2006:01:02 15:04:05"; "" not written
	shade         byte   // tells one picture from another
}

// tiff is an Exif block: IFD0 with the model, and an Exif directory with time
// and serial number. Tag numbers are those of Exif 2.32 (CIPA DC-008).
func (b body) tiff() []byte {
	le := binary.LittleEndian
	type tag struct {
		id  uint16
		val string
	}
	build := func(at int, tags []tag, pointer bool) []byte {
		n := len(tags)
		if pointer {
			n++
		}
		dataAt := at + 2 + 12*n + 4
		dir, data := le.AppendUint16(nil, uint16(n)), []byte{}
		for _, t := range tags {
			v := append([]byte(t.val), 0)
			for len(v) < 5 {
				v = append(v, 0)
			}
			dir = le.AppendUint16(dir, t.id)
			dir = le.AppendUint16(dir, 2) // ASCII
			dir = le.AppendUint32(dir, uint32(len(v)))
			dir = le.AppendUint32(dir, uint32(dataAt+len(data)))
			data = append(data, v...)
		}
		if pointer {
			dir = le.AppendUint16(dir, 0x8769)
			dir = le.AppendUint16(dir, 4) // LONG
			dir = le.AppendUint32(dir, 1)
			dir = le.AppendUint32(dir, uint32(dataAt+len(data)))
		}
		dir = le.AppendUint32(dir, 0)
		return append(dir, data...)
	}
	var first, second []tag
	if b.model != "" {
		first = append(first, tag{0x010f, "Maker"}, tag{0x0110, b.model})
	}
	if b.taken != "" {
		second = append(second, tag{0x9003, b.taken}, tag{0x9291, "25"})
	}
	if b.serial != "" {
		second = append(second, tag{0xa431, b.serial})
	}
	out := append([]byte("II*\x00"), 8, 0, 0, 0)
	out = append(out, build(8, first, true)...)
	return append(out, build(len(out), second, false)...)
}

// jpeg is a small JPEG with that Exif.
func (b body) jpeg(t testing.TB) []byte {
	t.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, 48, 32))
	for i := range img.Pix {
		img.Pix[i] = byte(i*7) ^ b.shade
	}
	img.Set(0, 0, color.NRGBA{b.shade, b.shade, b.shade, 255})
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	exif := append([]byte("Exif\x00\x00"), b.tiff()...)
	out := append([]byte{0xff, 0xd8, 0xff, 0xe1}, byte((len(exif)+2)>>8), byte(len(exif)+2))
	out = append(out, exif...)
	return append(out, buf.Bytes()[2:]...)
}

// raw is what a raw of that body begins with, and n bytes of no meaning.
func (b body) raw(n int) []byte {
	return append(b.tiff(), bytes.Repeat([]byte{b.shade, 1, 2, 3}, n/4)...)
}

func xmp(rating string) []byte {
	return []byte(`<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmp:Rating="` + rating + `"/></rdf:RDF></x:xmpmeta>`)
}

var (
	bodyA = body{"Model A", "111", "2026:03:04 12:00:00", 10}
	bodyB = body{"Model B", "222", "2026:03:04 12:00:00", 20}
)

// when is what the files of the tests say of their last change.
var when = time.Date(2026, 3, 4, 13, 0, 0, 0, time.UTC)

// put writes a file of a card.
func put(t testing.TB, root, name string, content []byte) {
	t.Helper()
	full := filepath.Join(root, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(full, content, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Chtimes(full, when, when); err != nil {
		t.Fatal(err)
	}
}

// bench is a shoot in a temporary folder.
type bench struct {
	testing.TB
	shoot string
	store *catalogue.Store
}

func newBench(t testing.TB) *bench {
	t.Helper()
	b := &bench{TB: t, shoot: t.TempDir()}
	b.open()
	t.Cleanup(func() { b.store.Close() })
	return b
}

func (b *bench) open() {
	b.Helper()
	s, err := catalogue.Open(filepath.Join(b.shoot, "catalogue.db"))
	if err != nil {
		b.Fatal(err)
	}
	b.store = s
}

// ingest runs, fails the test on an error of the run, and checks what must
// hold after every run.
func (b *bench) ingest(o Options, sources ...string) (Summary, []Event) {
	b.Helper()
	o.Shoot, o.Sources, o.DayEnds = b.shoot, sources, 4*time.Hour
	before := trees(b, sources)
	var events []Event
	sum, err := Run(context.Background(), b.store, o, func(e Event) { events = append(events, e) })
	if err != nil {
		b.Fatal(err)
	}
	if after := trees(b, sources); !slices.Equal(before, after) {
		b.Errorf("the card was changed:\n%v\n%v", before, after)
	}
	b.sound()
	return sum, events
}

// sound checks what must hold whenever no run is at work.
func (b *bench) sound() {
	b.Helper()
	held, err := b.store.Files(context.Background())
	if err != nil {
		b.Fatal(err)
	}
	known := map[string]bool{}
	for _, h := range held {
		known[h.Path] = true
		if got := hashOf(b, onDisk(b.shoot, h.Path)); got != h.SHA256 {
			b.Errorf("%s holds %.8s, the catalogue says %.8s", h.Path, got, h.SHA256)
		}
	}
	for _, name := range b.originals() {
		if !known[name] {
			b.Errorf("%s is not in the catalogue", name)
		}
	}
	for _, part := range b.parts() {
		b.Errorf("%s was left behind", part)
	}
	frames, err := b.store.Frames(context.Background())
	if err != nil {
		b.Fatal(err)
	}
	for _, f := range frames {
		if !slices.ContainsFunc(f.Files, func(x catalogue.File) bool { return x.SHA256 == string(f.ID) }) {
			b.Errorf("frame %.8s has no file of its ID", f.ID)
		}
	}
	b.manifest()
}

// manifest has coreutils check the manifest: another's program, not ours.
func (b *bench) manifest() {
	b.Helper()
	all := b.originals()
	list, err := os.ReadFile(filepath.Join(b.shoot, ManifestName))
	if err != nil && len(all) > 0 {
		b.Error(err)
	}
	if got := bytes.Count(list, []byte("\n")); got != len(all) {
		b.Errorf("the manifest lists %d of %d originals", got, len(all))
	}
	if len(all) == 0 {
		return
	}
	tool, err := exec.LookPath("sha256sum")
	if err != nil {
		b.Log("no sha256sum here: the manifest was not checked with it")
		return
	}
	cmd := exec.Command(tool, "-c", "--strict", "--quiet", ManifestName)
	cmd.Dir = b.shoot
	if out, err := cmd.CombinedOutput(); err != nil {
		b.Errorf("sha256sum -c: %v\n%s", err, out)
	}
}

// originals are the files below originals, as paths of the catalogue.
func (b *bench) originals() []string {
	var all []string
	filepath.WalkDir(filepath.Join(b.shoot, originals), func(name string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() && !strings.Contains(name, incoming) {
			rel, _ := filepath.Rel(b.shoot, name)
			all = append(all, filepath.ToSlash(rel))
		}
		return nil
	})
	return all
}

// parts are the files of the shoot that are not whole.
func (b *bench) parts() []string {
	var all []string
	filepath.WalkDir(b.shoot, func(name string, d fs.DirEntry, err error) error {
		if err == nil && (strings.HasSuffix(name, ".part") || filepath.Base(name) == incoming) {
			all = append(all, name)
		}
		return nil
	})
	return all
}

func (b *bench) frames() []catalogue.Frame {
	b.Helper()
	all, err := b.store.Frames(context.Background())
	if err != nil {
		b.Fatal(err)
	}
	return all
}

// names are what the files of f are called in the library, without folder.
func names(f catalogue.Frame) string {
	var all []string
	for _, file := range f.Files {
		all = append(all, filepath.Base(file.Path))
	}
	return strings.Join(all, " ")
}

func hashOf(t testing.TB, name string) string {
	t.Helper()
	content, err := os.ReadFile(name)
	if err != nil {
		t.Error(err)
		return ""
	}
	return sumOfBytes(content)
}

func sumOfBytes(content []byte) string {
	sum := sha256.Sum256(content)
	return hex.EncodeToString(sum[:])
}

// trees lists all files below roots with their content, mode and time.
func trees(t testing.TB, roots []string) []string {
	t.Helper()
	var all []string
	for _, root := range roots {
		err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			info, err := d.Info()
			if err != nil {
				return err
			}
			line := name + info.Mode().String() + info.ModTime().String()
			if info.Mode().IsRegular() {
				line += hashOf(t, name)
			}
			all = append(all, line)
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return all
}
