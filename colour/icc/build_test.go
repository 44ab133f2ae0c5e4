package icc

import (
	"bytes"
	"encoding/binary"
	"flag"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"coverplate/colour"
)

var update = flag.Bool("update", false, "write testdata/*.icc anew")

// tag is one tag of a profile that a test builds: its signature and content.
type tag struct {
	name    string
	content []byte
}

// built is a profile that a test builds.
type built struct {
	version                  byte
	class, space, connection string
	tags                     []tag
}

// bytes lays the profile out as ICC.1:2010 section 7 has it.
func (p built) bytes() []byte {
	b := make([]byte, headerSize, 4096)
	b[8] = p.version
	copy(b[12:], p.class)
	copy(b[16:], p.space)
	copy(b[20:], p.connection)
	copy(b[36:], "acsp")
	for i, v := range []float64{0.9642, 1, 0.8249} { // the connection space's white
		binary.BigEndian.PutUint32(b[68+4*i:], s15(v))
	}
	b = binary.BigEndian.AppendUint32(b, uint32(len(p.tags)))
	at := len(b) + 12*len(p.tags)
	var body []byte
	for _, t := range p.tags {
		b = append(b, t.name...)
		b = binary.BigEndian.AppendUint32(b, uint32(at+len(body)))
		b = binary.BigEndian.AppendUint32(b, uint32(len(t.content)))
		body = append(body, t.content...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	b = append(b, body...)
	binary.BigEndian.PutUint32(b, uint32(len(b)))
	return b
}

// with returns the profile with tags of those names in place of its own, or
// added where it has none.
func (p built) with(tags ...tag) built {
	p.tags = slices.Clone(p.tags)
	for _, t := range tags {
		if i := slices.IndexFunc(p.tags, func(old tag) bool { return old.name == t.name }); i >= 0 {
			p.tags[i] = t
		} else {
			p.tags = append(p.tags, t)
		}
	}
	return p
}

// without returns the profile without the tag of that name.
func (p built) without(name string) built {
	p.tags = slices.DeleteFunc(slices.Clone(p.tags), func(t tag) bool { return t.name == name })
	return p
}

func s15(v float64) uint32 { return uint32(int32(math.Round(v * 65536))) }

func numbers(kind string, v ...float64) []byte {
	b := append([]byte(kind), 0, 0, 0, 0)
	for _, x := range v {
		b = binary.BigEndian.AppendUint32(b, s15(x))
	}
	return b
}

func column(c colour.XYZ) []byte { return numbers("XYZ ", c.X, c.Y, c.Z) }

// points is a curv of so many points of f.
func points(n int, f func(float64) float64) []byte {
	b := binary.BigEndian.AppendUint32([]byte("curv\x00\x00\x00\x00"), uint32(n))
	for i := range n {
		b = binary.BigEndian.AppendUint16(b, uint16(math.Round(65535*f(float64(i)/float64(n-1)))))
	}
	return b
}

func gamma(g float64) []byte {
	return binary.BigEndian.AppendUint16([]byte("curv\x00\x00\x00\x00\x00\x00\x00\x01"), uint16(math.Round(g*256)))
}

func para(kind byte, v ...float64) []byte {
	return slices.Concat([]byte("para\x00\x00\x00\x00\x00"), []byte{kind, 0, 0}, numbers("", v...)[4:])
}

func description(version byte, s string) []byte {
	if version < 4 {
		b := binary.BigEndian.AppendUint32([]byte("desc\x00\x00\x00\x00"), uint32(len(s)+1))
		b = append(append(b, s...), 0)
		return append(b, make([]byte, 12+67)...) // no Unicode, no script code
	}
	return localised(record{"enUS", s})
}

type record struct{ language, text string }

// localised is a multiLocalizedUnicodeType of Latin text.
func localised(records ...record) []byte {
	b := binary.BigEndian.AppendUint32([]byte("mluc\x00\x00\x00\x00"), uint32(len(records)))
	b = binary.BigEndian.AppendUint32(b, 12)
	var body []byte
	for _, r := range records {
		b = append(b, r.language...)
		b = binary.BigEndian.AppendUint32(b, uint32(2*len(r.text)))
		b = binary.BigEndian.AppendUint32(b, uint32(16+12*len(records)+len(body)))
		for _, c := range []byte(r.text) {
			body = append(body, 0, c)
		}
	}
	return append(b, body...)
}

// rgb is a display's profile of curves and the primaries of a space.
func rgb(version byte, name string, s *colour.Space, curves ...[]byte) built {
	p := built{version, "mntr", "RGB ", "XYZ ", []tag{
		{"desc", description(version, name)},
		{"wtpt", numbers("XYZ ", 0.9642, 1, 0.8249)},
	}}
	for i, l := range []colour.Linear{{R: 1}, {G: 1}, {B: 1}} {
		c := string("rgb"[i])
		p.tags = append(p.tags, tag{c + "XYZ", column(s.ToXYZ(l))}, tag{c + "TRC", curves[i%len(curves)]})
	}
	return p
}

func grey(connection string, curve []byte) built {
	return built{2, "mntr", "GRAY", connection, []tag{
		{"desc", description(2, "Skerry Grey")}, {"wtpt", numbers("XYZ ", 0.9642, 1, 0.8249)}, {"kTRC", curve},
	}}
}

// srgbCurve is IEC 61966-2-1's as a formula of type 3.
func srgbCurve() []byte { return para(3, 2.4, 1/1.055, 0.055/1.055, 1/12.92, 0.04045) }

// toD50 is the Bradford matrix from D65 that profiles carry as chad (the
// figures of the ICC's own sRGB profiles, from memory).
func toD50() []byte {
	return numbers("sf32", 1.04788, 0.02292, -0.05022, 0.02959, 0.99048, -0.01707, -0.00925, 0.01508, 0.75168)
}

// tables is a mft1 of 2 × 2 × … points in which the first channel alone makes
// lightness: a profile that any reader of tables can use.
func tables(channels int) []byte {
	b := []byte{'m', 'f', 't', '1', 0, 0, 0, 0, byte(channels), 3, 2, 0}
	for i := range 9 {
		b = binary.BigEndian.AppendUint32(b, s15(float64((i+3)%4&3/3))) // read for XYZ alone
	}
	ramp := make([]byte, 256)
	for i := range ramp {
		ramp[i] = byte(i)
	}
	b = append(b, bytes.Repeat(ramp, channels)...)
	for i := range 1 << channels {
		b = append(b, byte(255*(i>>(channels-1))), 128, 128)
	}
	return append(b, bytes.Repeat(ramp, 3)...)
}

// fixtures are the profiles in testdata that the tests of other rooms embed.
func fixtures(t testing.TB) map[string]built {
	t.Helper()
	wide, err := colour.NewSpace("wide", [3]func(float64) float64{math.Abs, math.Abs, math.Abs},
		// ROMM RGB's primaries under D50 (ISO 22028-2, from memory).
		[3]colour.XYZ{{X: 0.7977, Y: 0.2880}, {X: 0.1352, Y: 0.7119}, {X: 0.0313, Y: 0.0001, Z: 0.8249}})
	if err != nil {
		t.Fatal(err)
	}
	lut := rgb(2, "Skerry Tables", colour.SRGB, gamma(2.2))
	lut.connection = "Lab "
	lut.tags = []tag{lut.tags[0], lut.tags[1], {"A2B0", tables(3)}}
	inks := lut
	inks.space, inks.class = "CMYK", "prtr"
	inks.tags = []tag{{"desc", description(2, "Skerry Inks")}, lut.tags[1], {"A2B0", tables(4)}}
	return map[string]built{
		"srgb.icc":   rgb(4, "sRGB", colour.SRGB, srgbCurve()),
		"adobe.icc":  rgb(2, "Adobe RGB (1998)", colour.AdobeRGB, gamma(563.0/256)),
		"p3.icc":     rgb(4, "Display P3", colour.DisplayP3, srgbCurve()).with(tag{"chad", toD50()}),
		"wide.icc":   rgb(2, "Skerry Wide", wide, gamma(1.8)),
		"grey.icc":   grey("XYZ ", gamma(2.2)),
		"tables.icc": lut,
		"inks.icc":   inks,
	}
}

// TestFixtures keeps testdata as this file builds it.
func TestFixtures(t *testing.T) {
	for name, p := range fixtures(t) {
		path := filepath.Join("testdata", name)
		if *update {
			if err := os.WriteFile(path, p.bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if b, err := os.ReadFile(path); err != nil || !bytes.Equal(b, p.bytes()) {
			t.Errorf("%s is not what this test builds (%v): look at why, then run with -update", path, err)
		}
	}
}
