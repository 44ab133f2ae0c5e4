package rehearsal

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"encoding/json"
	"image/jpeg"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// entry is one field as a reader written apart from the writer sees it.
type entry struct {
	kind  uint16
	count uint32
	at    []byte // from its value on, to the end of the structure
}

// entries walks a directory by TIFF 6.0, section 2.
func entries(t *testing.T, b []byte, at uint32) (map[uint16]entry, uint32) {
	t.Helper()
	var order binary.ByteOrder = binary.LittleEndian
	if b[0] == 'M' {
		order = binary.BigEndian
	}
	n := int(order.Uint16(b[at:]))
	out := map[uint16]entry{}
	last := -1
	for i := range n {
		e := b[int(at)+2+12*i:]
		tag := order.Uint16(e)
		if int(tag) <= last {
			t.Errorf("tag %#x stands after %#x; TIFF wants ascending order", tag, last)
		}
		last = int(tag)
		kind, count := order.Uint16(e[2:]), order.Uint32(e[4:])
		size := map[uint16]uint32{1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 7: 1, 10: 8}[kind] * count
		value := e[8:12]
		if size > 4 {
			p := order.Uint32(value)
			if p%2 == 1 || uint64(p)+uint64(size) > uint64(len(b)) {
				t.Fatalf("tag %#x: value of %d bytes at %d of %d", tag, size, p, len(b))
			}
			value = b[p:]
		}
		out[tag] = entry{kind, count, value}
	}
	return out, order.Uint32(b[int(at)+2+12*n:])
}

// samples are one exposure of each body.
func samples() []exposure {
	all := script(LongSide).exposures()
	return []exposure{all[3], all[5]}
}

func TestTagsAreThoseOfTheStandard(t *testing.T) {
	// testdata/exif_tags.csv is a copy of reference/07_exif_tags.csv: types and
	// counts from ExifTool 12.57's tag table.
	f, err := os.Open("testdata/exif_tags.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment, r.FieldsPerRecord, r.LazyQuotes = '#', -1, true
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[string]uint16{"ASCII": 2, "SHORT": 3, "LONG": 4, "RATIONAL": 5, "UNDEFINED": 7, "SRATIONAL": 10}
	for _, e := range samples() {
		b := exifOf(e, 2880, 1920, []byte("thumbnail"))
		order := binary.ByteOrder(binary.LittleEndian)
		if b[0] == 'M' {
			order = binary.BigEndian
		}
		first, next := entries(t, b, 8)
		exif, _ := entries(t, b, order.Uint32(first[0x8769].at))
		if next == 0 {
			t.Error("no IFD1")
		}
		seen := 0
		for _, row := range rows[1:] {
			tag, err := strconv.ParseUint(row[2], 16, 16)
			if err != nil {
				t.Fatal(err)
			}
			in := exif
			switch ifd, _, _ := strings.Cut(row[3], " "); ifd {
			case "IFD0":
				in = first
			case "Interop":
				in, _ = entries(t, b, order.Uint32(exif[0xA005].at))
			}
			got, ok := in[uint16(tag)]
			if !ok {
				continue
			}
			seen++
			fits := false
			for _, k := range strings.Split(row[4], " or ") {
				fits = fits || kinds[k] == got.kind
			}
			if !fits {
				t.Errorf("%s: type %d, want %s", row[0], got.kind, row[4])
			}
			if n, err := strconv.Atoi(row[5]); err == nil && uint32(n) != got.count {
				t.Errorf("%s: count %d, want %d", row[0], got.count, n)
			}
		}
		if want := map[bool]int{true: 16, false: 15}[e.tagged()]; seen < want {
			t.Errorf("%s: %d tags of the table are written, want %d at least", e.cam.model, seen, want)
		}
		if e.tagged() {
			v := exif[0x9405]
			num, den := int32(order.Uint32(v.at)), int32(order.Uint32(v.at[4:]))
			if got := float64(num) / float64(den); !(math.Abs(got+e.elevation) <= 0.05) {
				t.Errorf("elevation tag %g, want %g: negative looks down", got, -e.elevation)
			}
		} else if _, ok := exif[0x9405]; ok {
			t.Error("the second body has no level and writes an elevation")
		}
	}
}

func TestExifToolReadsWhatWasWritten(t *testing.T) {
	tool, err := exec.LookPath("exiftool")
	if err != nil {
		t.Skip("exiftool is not installed (Debian: libimage-exiftool-perl)")
	}
	dir := t.TempDir()
	s, err := Write(t.Context(), dir, script(240))
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "-j", "-n", "-r", "-struct", dir).Output()
	if len(out) == 0 {
		t.Fatal(err) // exiftool ends with 1 for the damaged file
	}
	var read []struct {
		SourceFile, DateTimeOriginal, OffsetTimeOriginal, Make, Model, LensModel string
		SerialNumber                                                             json.RawMessage // digits alone come as a number
		FNumber, FocalLength, SubjectDistance                                    float64
		CameraElevationAngle                                                     *float64
		Orientation, ImageWidth, ImageHeight, FocalLengthIn35mmFormat            int
		Warning, Error                                                           string
		Rating                                                                   float64
	}
	if err := json.Unmarshal(out, &read); err != nil {
		t.Fatal(err)
	}
	truths := map[string]Truth{}
	rated := 0
	for _, tr := range s.Truths {
		truths[tr.File] = tr
		if tr.Rating != 0 {
			rated++
		}
	}
	raws, memos, ratings := 0, 0, 0
	for _, g := range read {
		name, err := filepath.Rel(dir, g.SourceFile)
		if err != nil {
			t.Fatal(err)
		}
		name = filepath.ToSlash(name)
		switch {
		case strings.HasSuffix(name, ".DNG"):
			raws++
		case strings.HasSuffix(name, ".WAV"):
			memos++
		}
		if g.Rating != 0 {
			ratings++
		}
		tr, ok := truths[name]
		if !ok {
			continue
		}
		delete(truths, name)
		if g.Error != "" || g.Warning != "" {
			t.Errorf("%s: exiftool says %s%s", name, g.Error, g.Warning)
		}
		told, err := time.Parse("2006-01-02T15:04:05.999", tr.Taken)
		if err != nil {
			t.Fatal(err)
		}
		if tr.Body == "20861135" {
			told = told.Add(-47 * time.Minute)
		}
		taken := told.Format("2006:01:02 15:04:05")
		if g.DateTimeOriginal != taken || g.OffsetTimeOriginal != "+01:00" {
			t.Errorf("%s: taken %s %s, want %s +01:00", name, g.DateTimeOriginal, g.OffsetTimeOriginal, taken)
		}
		if g.FNumber != tr.FNumber || g.FocalLength != tr.Focal || g.SubjectDistance != tr.Distance || float64(g.FocalLengthIn35mmFormat) != tr.Focal {
			t.Errorf("%s: f/%g %g mm (%d) %g m, want f/%g %g mm %g m", name, g.FNumber, g.FocalLength, g.FocalLengthIn35mmFormat, g.SubjectDistance, tr.FNumber, tr.Focal, tr.Distance)
		}
		if serial := strings.Trim(string(g.SerialNumber), `"`); serial != tr.Body {
			t.Errorf("%s: serial %q, want %q", name, serial, tr.Body)
		}
		if (g.CameraElevationAngle != nil) != tr.Tagged || tr.Tagged && *g.CameraElevationAngle != -tr.Elevation {
			t.Errorf("%s: elevation %v, want %g, written: %v", name, g.CameraElevationAngle, -tr.Elevation, tr.Tagged)
		}
		w, h, o := tr.Width, tr.Height, 1
		if tr.Turned {
			w, h, o = h, w, 6
		}
		if g.ImageWidth != w || g.ImageHeight != h || g.Orientation != o {
			t.Errorf("%s: %d × %d orientation %d, want %d × %d, %d", name, g.ImageWidth, g.ImageHeight, g.Orientation, w, h, o)
		}
	}
	if len(truths) != 0 {
		t.Errorf("exiftool saw nothing of %d frames: %v", len(truths), truths)
	}
	if raws != 1 || memos != 1 || ratings != rated {
		t.Errorf("%d raws, %d memos, %d ratings; want 1, 1, %d", raws, memos, ratings, rated)
	}
}

func TestThumbnailIsAJPEGOfThePicturesShape(t *testing.T) {
	for _, e := range samples() {
		e.width, e.height = e.width/8, e.height/8
		var d darkroom
		img := d.develop(sceneOf(e), e)
		thumb, err := thumbnail(img, e.cam.barredThumb)
		if err != nil {
			t.Fatal(err)
		}
		c, err := jpeg.DecodeConfig(bytes.NewReader(thumb))
		if err != nil {
			t.Fatal(err)
		}
		want := 107
		if e.cam.barredThumb {
			want = 120
		}
		if c.Width != 160 || c.Height != want {
			t.Errorf("%s: thumbnail %d × %d, want 160 × %d", e.cam.model, c.Width, c.Height, want)
		}
	}
}
