package icc

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"coverplate/colour"
)

// odd are sound profiles of every kind of curve.
func odd() map[string]built {
	s := colour.SRGB
	square := func(v float64) float64 { return v * v }
	bowed := func(v float64) float64 { return math.Sqrt(v) }
	d65 := rgb(2, "columns under D65, not adapted", s, gamma(2.2)).with(
		// IEC 61966-2-1's own matrix, whose white is D65: wrong in a profile,
		// and taken as it stands.
		tag{"rXYZ", numbers("XYZ ", 0.4124, 0.2126, 0.0193)},
		tag{"gXYZ", numbers("XYZ ", 0.3576, 0.7152, 0.1192)},
		tag{"bXYZ", numbers("XYZ ", 0.1805, 0.0722, 0.9505)},
		tag{"wtpt", numbers("XYZ ", 0.9505, 1, 1.0891)})
	return map[string]built{
		"curv of no point":           rgb(2, "linear", s, points(0, nil)),
		"curv of one":                rgb(2, "gamma", s, gamma(1.8)),
		"curv of two":                rgb(2, "two", s, points(2, square)),
		"curv of three":              rgb(2, "three", s, points(3, square)),
		"curv of 256":                rgb(2, "256", s, points(256, square)),
		"curv of 1024":               rgb(2, "1024", s, points(1024, square)),
		"curv of 4096":               rgb(2, "4096", s, points(4096, square)),
		"curv of 1000, bowed":        rgb(2, "bowed", s, points(1000, bowed)),
		"three kinds of curve":       rgb(4, "three kinds", s, gamma(2.4), points(33, square), srgbCurve()),
		"para 0":                     rgb(4, "para 0", s, para(0, 2.2)),
		"para 1":                     rgb(4, "para 1", s, para(1, 2.2, 1/1.1, 0.1/1.1)),
		"para 1 with a dead foot":    rgb(4, "para 1 dead", s, para(1, 2.2, 1/0.9, -0.1/0.9)),
		"para 2":                     rgb(4, "para 2", s, para(2, 2.2, 0.9, -0.05, 0.02)),
		"para 2 that begins bent":    rgb(4, "para 2 b", s, para(2, 2.2, 0.7, 0.25, 0.02)),
		"para 3":                     rgb(4, "para 3", s, srgbCurve()),
		"para 4":                     rgb(4, "para 4", s, para(4, 2.2, 0.95, 0.02, 0.3, 0.05, 0.01, 0.005)),
		"para with reserved bytes":   rgb(4, "para r", s, append(para(0, 2.2), 1, 2, 3, 4)),
		"chad beside the columns":    rgb(4, "chad", s, gamma(2.2)).with(tag{"chad", toD50()}),
		"columns not adapted":        d65,
		"connects to Lab":            {2, "scnr", "RGB ", "Lab ", rgb(2, "lab", s, gamma(2.2)).tags},
		"grey by light":              grey("XYZ ", gamma(2.2)),
		"grey by light, points":      grey("XYZ ", points(256, square)),
		"grey by lightness":          grey("Lab ", points(0, nil)),
		"grey by lightness, formula": grey("Lab ", para(0, 1.3)),
	}
}

// TestOddProfilesAgainstLittleCMS compares what this package's tests build
// with LittleCMS 2's transicc, which has never seen it.
func TestOddProfilesAgainstLittleCMS(t *testing.T) {
	tool := needs(t, "transicc")
	all := odd()
	for name, p := range fixtures(t) {
		if name != "tables.icc" && name != "inks.icc" {
			all[name] = p
		}
	}
	names := make([]string, 0, len(all))
	for name := range all {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		b := all[name].bytes()
		p, err := Parse(b)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		path := filepath.Join(t.TempDir(), "p.icc")
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		worst, at := against(t, tool, path, p)
		t.Logf("%-28s ΔE2000 %.5f at most", name, worst)
		if !(worst <= ours) {
			t.Errorf("%s: ΔE2000 %.4f from LittleCMS at %.3f, want at most %v", name, worst, at, ours)
		}
	}
}

// ICC.1:2010 section 4.6: 00010000h is 1, 80000000h is −32768.
func TestFixedNumbers(t *testing.T) {
	for hex, want := range map[string]float64{"\x00\x01\x00\x00": 1, "\x80\x00\x00\x00": -32768, "\x00\x00\x80\x00": 0.5, "\xFF\xFF\x00\x00": -1} {
		if got := fixed([]byte(hex)); got != want {
			t.Errorf("%X is %v, want %v", hex, got, want)
		}
	}
}

// Without LittleCMS: the fixtures are the spaces whose names they bear.
func TestFixturesComputeWhatTheyAreCalled(t *testing.T) {
	for name, want := range map[string]*colour.Space{"srgb.icc": colour.SRGB, "adobe.icc": colour.AdobeRGB, "p3.icc": colour.DisplayP3} {
		p, err := Parse(fixtures(t)[name].bytes())
		if err != nil {
			t.Fatal(err)
		}
		if got, ok := colour.Known(p.Space); !ok || got != want || p.Space.Apart(want) > 0.02 {
			t.Errorf("%s: known as %v (%v), %.4f ΔE2000 apart", name, got, ok, p.Space.Apart(want))
		}
	}
	p, err := Parse(fixtures(t)["wide.icc"].bytes())
	if err != nil || p.Space.Name() != "Skerry Wide" {
		t.Fatalf("wide.icc: %q, %v", p.Description, err)
	}
	if k, ok := colour.Known(p.Space); ok {
		t.Errorf("wide.icc is taken for %s", k.Name())
	}
}

func TestVersionDescriptionAndTables(t *testing.T) {
	base := rgb(4, "Skerry", colour.SRGB, gamma(2.2))
	many := localised(record{"ukUA", "Inshyi"}, record{"enGB", "Skerry  \n Wide"}, record{"enUS", "later"})
	for _, c := range []struct {
		name string
		desc tag
		want string
	}{
		{"of version 4", tag{"desc", description(4, "Skerry")}, "Skerry"},
		{"of version 2", tag{"desc", description(2, "Skerry")}, "Skerry"},
		{"plain text", tag{"desc", []byte("text\x00\x00\x00\x00Skerry\x00")}, "Skerry"},
		{"English among others", tag{"desc", many}, "Skerry Wide"},
		{"no English", tag{"desc", localised(record{"ukUA", "Inshyi"}, record{"deDE", "Anders"})}, "Inshyi"},
		{"of no record", tag{"desc", localised()}, ""},
		{"cut short", tag{"desc", description(4, "Skerry")[:30]}, ""},
		{"longer than it says", tag{"desc", []byte("desc\x00\x00\x00\x00\xFF\xFF\xFF\xFFSkerry")}, "Skerry"},
		{"of control characters", tag{"desc", description(2, "Sk\x1b[31merry\x07")}, "Sk[31merry"},
		{"very long", tag{"desc", description(2, strings.Repeat("skerry ", 100))}, strings.TrimSpace(strings.Repeat("skerry ", 100)[:maxDescription])},
		{"of another type", tag{"desc", gamma(1)}, ""},
	} {
		p, err := Parse(base.with(c.desc).bytes())
		if err != nil || strings.TrimSpace(p.Description) != c.want || p.Version != "4.0" || p.Channels != 3 || p.Tables {
			t.Errorf("description %s: %q, want %q; %+v, %v", c.name, p.Description, c.want, p, err)
		}
	}
	p, err := Parse(base.with(tag{"A2B0", tables(3)}).bytes())
	if err != nil || !p.Tables || p.Space == nil || p.Space.Apart(mustParse(t, base).Space) != 0 {
		t.Errorf("beside tables the matrix is used and it is said: %+v, %v", p, err)
	}
}

func mustParse(t *testing.T, b built) Profile {
	t.Helper()
	p, err := Parse(b.bytes())
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The chad tag says how the columns came to be; it must not be applied again
// (ICC.1:2010 sections 8.3.3 and 9.2.8).
func TestAdaptationIsNotAppliedTwice(t *testing.T) {
	bare := mustParse(t, rgb(4, "", colour.SRGB, srgbCurve()))
	adapted := mustParse(t, rgb(4, "", colour.SRGB, srgbCurve()).with(tag{"chad", toD50()}, tag{"wtpt", numbers("XYZ ", 0.9505, 1, 1.0891)}))
	if d := bare.Space.Apart(adapted.Space); d != 0 {
		t.Errorf("chad and media white move colours by %.4f ΔE2000", d)
	}
	white := bare.Space.ToXYZ(colour.Linear{R: 1, G: 1, B: 1}).Lab()
	if d := colour.DeltaE2000(white, colour.Lab{L: 100}); !(d < 0.01) {
		t.Errorf("white is %v", white)
	}
}

func TestGreyIsNeutralFromBlackToWhite(t *testing.T) {
	for _, connection := range []string{"XYZ ", "Lab "} {
		p := mustParse(t, grey(connection, points(0, nil)))
		if p.Channels != 1 {
			t.Errorf("%s: %d channels", connection, p.Channels)
		}
		for i := range 256 {
			c := p.Space.Lab8(uint8(i), uint8(i), uint8(i))
			v := float64(i) / 255
			want := 100 * v // lightness
			if connection == "XYZ " {
				want = colour.XYZ{X: 0.9642 * v, Y: v, Z: 0.8249 * v}.Lab().L
			}
			if !(math.Abs(c.L-want) < 1e-9 && math.Abs(c.A) < 1e-9 && math.Abs(c.B) < 1e-9) {
				t.Errorf("%s code %d: %v, want L %.4f", connection, i, c, want)
			}
		}
	}
}

// Codes lead to light and back to the same codes.
func TestThereAndBack(t *testing.T) {
	for name, b := range odd() {
		s := mustParse(t, b).Space
		for _, e := range grid(3) {
			l := s.Linearise(e)
			if again := s.Linearise(s.Encode(s.FromXYZ(s.ToXYZ(l)))); !(near(again.R, l.R) && near(again.G, l.G) && near(again.B, l.B)) {
				t.Fatalf("%s: %v is %v in light, and there and back %v", name, e, l, again)
			}
		}
	}
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9 }

func TestDamagedAndForeignProfilesAreRefusedInWords(t *testing.T) {
	base := rgb(2, "Skerry", colour.SRGB, gamma(2.2))
	fix := fixtures(t)
	edit := func(p built, change func(b []byte) []byte) []byte { return change(p.bytes()) }
	set := func(at int, s string) func([]byte) []byte {
		return func(b []byte) []byte { copy(b[at:], s); return b }
	}
	size := func(n int) func([]byte) []byte {
		return func(b []byte) []byte { binary.BigEndian.PutUint32(b, uint32(n)); return b }
	}
	for _, c := range []struct {
		name        string
		b           []byte
		unsupported bool
		says        string
	}{
		{"nothing", nil, false, "0 bytes"},
		{"131 bytes", base.bytes()[:131], false, "131 bytes"},
		{"no mark", edit(base, set(36, "acsq")), false, "mark"},
		{"longer by its header than it is", edit(base, size(5000)), false, "says 5000 bytes"},
		{"by a byte", edit(base, size(len(base.bytes())+1)), false, "are there"},
		{"shorter than a header", edit(base, size(100)), false, "says 100 bytes"},
		{"of length nought", edit(base, size(0)), false, "says 0 bytes"},
		{"shorter than its tags", edit(base, size(300)), false, "points outside of its 300 bytes"},
		{"cut in the middle", base.bytes()[:300], false, "300 are there"},
		{"four billion tags", edit(base, set(128, "\xFF\xFF\xFF\xFF")), false, "table of 4294967295 tags"},
		{"a tag of four billion bytes", edit(base, set(132+2*12+8, "\xFF\xFF\xFF\xFF")), false, "rXYZ points outside"},
		{"a tag far away", edit(base, set(132+2*12+4, "\xFF\xFF\xFF\xF0")), false, "rXYZ points outside"},
		{"a tag within the header", edit(base, set(132+2*12+4, "\x00\x00\x00\x10")), false, "rXYZ points outside"},
		{"version 5", edit(base, set(8, "\x05")), true, "version 5"},
		{"no class", edit(base, set(12, "????")), false, "class"},
		{"a device link", edit(base, set(12, "link")), true, "link"},
		{"named colours", edit(base, set(12, "nmcl")), true, "named"},
		{"an abstract one", edit(base, set(12, "abst")), true, "abstract"},
		{"a colour space that is none", edit(base, set(16, "????")), false, "colour space"},
		{"no connection space", edit(base, set(20, "RGB ")), false, "connects"},
		{"Lab", edit(base, set(16, "Lab ")), true, "Lab colours"},
		{"six inks", edit(base, set(16, "6CLR")), true, "6CLR colours"},
		{"CMYK", fix["inks.icc"].bytes(), true, "CMYK"},
		{"tables alone", fix["tables.icc"].bytes(), true, "tables"},
		{"nothing in it", base.without("gTRC").bytes(), false, "neither"},
		{"grey without a curve", grey("XYZ ", nil).without("kTRC").bytes(), false, "neither"},
		{"a column of another type", base.with(tag{"gXYZ", gamma(1)}).bytes(), false, "gXYZ is of the type"},
		{"a column cut short", base.with(tag{"gXYZ", numbers("XYZ ", 1, 2)}).bytes(), false, "gXYZ is cut short"},
		{"a curve without a type", base.with(tag{"gTRC", []byte("cur")}).bytes(), false, "gTRC is cut short"},
		{"a curve of another type", base.with(tag{"gTRC", column(colour.XYZ{})}).bytes(), false, "gTRC is of the type"},
		{"a curve that ends", base.with(tag{"gTRC", points(9, math.Sqrt)[:29]}).bytes(), false, "says 9 points and has room for 8"},
		{"four billion points", base.with(tag{"gTRC", []byte("curv\x00\x00\x00\x00\xFF\xFF\xFF\xFF\x00\x00")}).bytes(), false, "room for 1"},
		{"exponent 0", base.with(tag{"gTRC", gamma(0)}).bytes(), false, "exponent 0"},
		{"a flat curve", base.with(tag{"gTRC", points(9, func(float64) float64 { return 0.5 })}).bytes(), false, "green does not rise"},
		{"a falling curve", base.with(tag{"bTRC", points(9, func(v float64) float64 { return 1 - v })}).bytes(), false, "blue does not rise"},
		{"para of type 5", base.with(tag{"rTRC", para(5, 1, 1, 1, 1, 1, 1, 1)}).bytes(), false, "type 5"},
		{"para cut short", base.with(tag{"rTRC", para(3, 2.4, 1, 0, 1)}).bytes(), false, "rTRC is cut short"},
		{"para of exponent 0", base.with(tag{"rTRC", para(0, 0)}).bytes(), false, "without a curve"},
		{"para of a negative exponent", base.with(tag{"rTRC", para(0, -2.2)}).bytes(), false, "without a curve"},
		{"para of factor 0", base.with(tag{"rTRC", para(1, 2.2, 0, 0)}).bytes(), false, "without a curve"},
		{"black primaries", base.with(tag{"rXYZ", column(colour.XYZ{})}).bytes(), false, "span no space"},
		{"two equal primaries", base.with(tag{"rXYZ", column(colour.SRGB.ToXYZ(colour.Linear{G: 1}))}).bytes(), false, "span no space"},
	} {
		p, err := Parse(c.b)
		var format *FormatError
		var unsupported *UnsupportedError
		if p.Space != nil || errors.As(err, &unsupported) != c.unsupported || errors.As(err, &format) == c.unsupported || !strings.Contains(fmt.Sprint(err), c.says) {
			t.Errorf("%s: %+v, %v, want words with %q", c.name, p, err, c.says)
		}
	}
	// What can be told of a refused one is told.
	if p, _ := Parse(fix["inks.icc"].bytes()); p.Description != "Skerry Inks" || p.Channels != 4 || !p.Tables {
		t.Errorf("inks: %+v", p)
	}
	if p, _ := Parse(edit(base, size(5000))); p.Description != "Skerry" {
		t.Errorf("one with a false length: %+v", p)
	}
	// Bytes behind the end are not the profile's.
	if p, err := Parse(append(base.bytes(), 1, 2, 3)); err != nil || p.Space == nil {
		t.Errorf("padded: %v", err)
	}
}

// FuzzParse: any bytes end in a space without NaN or in words.
func FuzzParse(f *testing.F) {
	for _, p := range fixtures(f) {
		f.Add(p.bytes())
		f.Add(p.bytes()[:200])
	}
	for _, p := range odd() {
		if b := p.bytes(); len(b) < 4000 {
			f.Add(b)
		}
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := Parse(b)
		if (err == nil) != (p.Space != nil) {
			t.Fatalf("space %v and error %v", p.Space, err)
		}
		if err != nil {
			var format *FormatError
			var unsupported *UnsupportedError
			if !errors.As(err, &format) && !errors.As(err, &unsupported) {
				t.Fatalf("an error of neither kind: %v", err)
			}
			return
		}
		for _, e := range []colour.Encoded{{}, {R: 1, G: 1, B: 1}, {R: 0.5, G: 0.25}, {B: 1.0 / 3}} {
			l := p.Space.Linearise(e)
			c := p.Space.ToXYZ(l).Lab()
			back := p.Space.Encode(l)
			for _, v := range []float64{l.R, l.G, l.B, c.L, c.A, c.B, back.R, back.G, back.B} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%v becomes %v, %v and back %v", e, l, c, back)
				}
			}
		}
		colour.Known(p.Space)
	})
}

func BenchmarkParse(b *testing.B) {
	for name, p := range fixtures(b) {
		if name != "p3.icc" {
			continue
		}
		bytes := p.bytes()
		b.Run("parse", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Parse(bytes)
			}
		})
		b.Run("name", func(b *testing.B) {
			p, _ := Parse(bytes)
			b.ReportAllocs()
			for b.Loop() {
				colour.Known(p.Space)
			}
		})
	}
}
