package look

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"math"
	"os"
	"path/filepath"
	"testing"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// storedAs lays a picture that is seen upright out as a camera of an
// orientation stores it. JEITA CP-3451 says of tag 274 at which visual side the
// stored row 0 and column 0 lie.
func storedAs(seen *image.Gray, orientation int) *image.Gray {
	sides := [9][2]string{1: {"top", "left"}, 2: {"top", "right"}, 3: {"bottom", "right"}, 4: {"bottom", "left"},
		5: {"left", "top"}, 6: {"right", "top"}, 7: {"right", "bottom"}, 8: {"left", "bottom"}}
	w, h := seen.Rect.Dx(), seen.Rect.Dy()
	size := image.Rect(0, 0, w, h)
	if orientation >= 5 {
		size = image.Rect(0, 0, h, w)
	}
	out := image.NewGray(size)
	for row := range size.Dy() {
		for column := range size.Dx() {
			x, y := 0, 0
			for i, side := range sides[orientation] {
				n := [2]int{row, column}[i]
				switch side {
				case "left":
					x = n
				case "right":
					x = w - 1 - n
				case "top":
					y = n
				case "bottom":
					y = h - 1 - n
				}
			}
			out.SetGray(column, row, color.Gray{Y: seen.Pix[seen.PixOffset(x, y)]})
		}
	}
	return out
}

// withPreview is a raw built like a TIFF whose one directory points to a JPEG,
// as the sensor's own picture is of w × h: TIFF 6.0's layout, and tags 0x0201
// and 0x0202 as Exif has them.
func withPreview(jpeg []byte, w, h, orientation int) []byte {
	le := binary.LittleEndian
	b := append([]byte("IIRO"), 8, 0, 0, 0)
	entries := [][3]uint32{{0x00FE, 4, 0}, {0x0100, 4, uint32(w)}, {0x0101, 4, uint32(h)}, {0x0112, 3, uint32(orientation)}, {0x0201, 4, 0}, {0x0202, 4, uint32(len(jpeg))}}
	entries[4][2] = uint32(8 + 2 + 12*len(entries) + 4)
	b = le.AppendUint16(b, uint16(len(entries)))
	for _, e := range entries {
		b = le.AppendUint16(b, uint16(e[0]))
		b = le.AppendUint16(b, uint16(e[1]))
		b = le.AppendUint32(b, 1)
		b = le.AppendUint32(b, e[2])
	}
	return append(le.AppendUint32(b, 0), jpeg...)
}

// Wherever a camera stores its rows, Closer reads the places that are meant and
// says where the sharpest lies as it is seen: in a JPEG, and in a raw whose
// JPEG is of its full size.
func TestCloserOfEveryOrientation(t *testing.T) {
	const w, h = 480, 384 // five tiles by four
	crisp, soft := stripes(w, h, 0.8, 0.1, 0.5, 20), stripes(w, h, 2.5, 0.1, 0.5, 20)
	// Crisp in the upper left: two tiles by two, one tile from the left.
	at := catalogue.Region{X: 96.0 / w, Y: 0, Width: 192.0 / w, Height: 192.0 / h}
	for y := range 192 {
		copy(soft.pix[y*w+96:][:192], crisp.pix[y*w+96:][:192])
	}
	seen := soft.coded(0, 0)
	elsewhere := catalogue.Region{X: 0.55, Y: 0.55, Width: 0.45, Height: 0.45}
	for o := 1; o <= 8; o++ {
		stored := storedAs(seen, o)
		jpeg := asJPEG(t, stored, 95)
		shot := camera.Shot{Orientation: o}
		raw := withPreview(jpeg, stored.Rect.Dx(), stored.Rect.Dy(), o)
		ofRaw, err := camera.Read(bytes.NewReader(raw), int64(len(raw)), catalogue.Raw)
		if err != nil || ofRaw.Orientation != o {
			t.Fatalf("the raw of orientation %d is read as %d: %v", o, ofRaw.Orientation, err)
		}
		for _, f := range []struct {
			kind catalogue.FileKind
			data []byte
			shot camera.Shot
		}{{catalogue.JPEG, jpeg, shot}, {catalogue.Raw, raw, ofRaw}} {
			read := func(regions ...catalogue.Region) Close {
				c, err := Closer(bytes.NewReader(f.data), int64(len(f.data)), f.kind, f.shot, regions...)
				if err != nil || c.Full == nil {
					t.Fatalf("%s, orientation %d: nothing told: %v", f.kind, o, err)
				}
				return c
			}
			c := read()
			if r := c.Where; !(r.X >= at.X-0.01 && r.Y >= at.Y-0.01 && r.X+r.Width <= at.X+at.Width+0.01 && r.Y+r.Height <= at.Y+at.Height+0.01) {
				t.Errorf("%s, orientation %d: the sharpest is at %+v, want within %+v", f.kind, o, r, at)
			}
			// As near as TestCloserKnowsTheBlurOfAnEdge asks.
			if !(math.Abs(c.Blur-0.8) <= 0.15) {
				t.Errorf("%s, orientation %d: the sharpest has a blur of %.2f, want 0.8", f.kind, o, c.Blur)
			}
			if f.kind == catalogue.Raw && o%3 != 0 {
				continue // places are found in one way for both
			}
			if c := read(at); !(math.Abs(c.Blur-0.8) <= 0.15) {
				t.Errorf("%s, orientation %d: the crisp part has a blur of %.2f, want 0.8", f.kind, o, c.Blur)
			}
			if c := read(elsewhere); !(math.Abs(c.Blur-2.5) <= 0.25) {
				t.Errorf("%s, orientation %d: the soft part has a blur of %.2f, want 2.5", f.kind, o, c.Blur)
			}
		}
	}
}

// A preview that is upright beside a raw that lies is read as it is.
func TestCloserOfAPreviewThatWasTurned(t *testing.T) {
	const w, h = 384, 480
	crisp, soft := stripes(w, h, 0.8, 0.1, 0.5, 20), stripes(w, h, 2.5, 0.1, 0.5, 20)
	for y := range h / 2 {
		copy(soft.pix[y*w:][:w], crisp.pix[y*w:][:w])
	}
	raw := withPreview(asJPEG(t, soft.coded(0, 0), 95), h, w, 6) // the sensor's rows lie
	shot, err := camera.Read(bytes.NewReader(raw), int64(len(raw)), catalogue.Raw)
	if err != nil {
		t.Fatal(err)
	}
	for part, want := range map[float64]float64{0.05: 0.8, 0.55: 2.5} {
		c, err := Closer(bytes.NewReader(raw), int64(len(raw)), catalogue.Raw, shot, catalogue.Region{X: 0.1, Y: part, Width: 0.8, Height: 0.4})
		if err != nil || c.Full == nil || !(math.Abs(c.Blur-want) <= max(0.15, 0.1*want)) {
			t.Errorf("from %v of the height on: %+v, %v; want a blur of %v", part, c, err, want)
		}
	}
}

// Pixels that are not those of the whole original tell nothing at 1:1, and it
// is said why.
func TestCloserWantsTheOriginalsOwnPixels(t *testing.T) {
	half := withPreview(asJPEG(t, stripes(700, 500, 0.8, 0.1, 0.5, 20).coded(0, 0), 95), 1400, 1000, 1)
	shot, err := camera.Read(bytes.NewReader(half), int64(len(half)), catalogue.Raw)
	if err != nil {
		t.Fatal(err)
	}
	var unsupported *camera.UnsupportedError
	if c, err := Closer(bytes.NewReader(half), int64(len(half)), catalogue.Raw, shot); !errors.As(err, &unsupported) || c.Full != nil {
		t.Errorf("a preview of half the size: %+v, %v", c, err)
	}
	folder := filepath.Join("..", "..", "..", "shared", "photos", "raw")
	for _, name := range []string{"minden-nom-ex-canon-r6.cr3", "exiv2-exiv2-Canon-R6-pruned.CR3"} { // previews of 1620 pixels
		data, err := os.ReadFile(filepath.Join(folder, name))
		if err != nil {
			t.Skipf("no raws at %s: the folder is not part of the project", folder)
		}
		shot, err := camera.Read(bytes.NewReader(data), int64(len(data)), catalogue.Raw)
		if err != nil {
			t.Fatal(err)
		}
		if c, err := Closer(bytes.NewReader(data), int64(len(data)), catalogue.Raw, shot); !errors.As(err, &unsupported) || c.Full != nil {
			t.Errorf("%s: %+v, %v", name, c, err)
		}
	}
}

// A thumbnail is for the palette alone: of its 160 pixels nobody may say that a
// frame is sharp, or how it is lit.
func TestAThumbnailGivesNoFocus(t *testing.T) {
	for _, c := range []struct {
		long int
		from string
	}{{160, fromThumbnail}, {319, fromThumbnail}, {320, fromRaw}} {
		small := stripes(c.long, c.long*2/3, 0.8, 0.1, 0.5, 20).coded(0, 0)
		raw := withPreview(asJPEG(t, small, 95), 6000, 4000, 1)
		shot, err := camera.Read(bytes.NewReader(raw), int64(len(raw)), catalogue.Raw)
		if err != nil {
			t.Fatal(err)
		}
		seen, _ := at(raw, catalogue.Raw, shot)
		if seen.Look.Preview != c.from || len(seen.Look.Palette) == 0 {
			t.Errorf("%d pixels: measured %q, %d colours; want %q", c.long, seen.Look.Preview, len(seen.Look.Palette), c.from)
		}
		if told := c.from != fromThumbnail; (seen.Look.Focus != nil) != told || (seen.Look.Light != nil) != told {
			t.Errorf("%d pixels: focus %v, light %v", c.long, seen.Look.Focus, seen.Look.Light)
		}
	}
}
