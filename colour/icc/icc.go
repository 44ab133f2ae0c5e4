// Package icc reads the ICC profiles that cameras, phones and software embed
// in pictures, as far as they are curves and a matrix: RGB and grey, versions 2
// and 4. What comes out is a colour.Space, so that nobody else needs to know
// what a profile is.
//
// Whatever the bytes are, Parse ends at once, takes memory in proportion to
// them, and says in words why a profile cannot be used.
//
// Section numbers are those of ICC.1:2010 (profile version 4.3).
package icc

import (
	"encoding/binary"
	"fmt"
	"strings"

	"coverplate/colour"
)

// Profile is what an ICC profile says about the codes of a picture.
type Profile struct {
	Description string // what the profile calls itself, "" where it doesn't
	Version     string // "2.1", "4.4"
	Channels    int    // of a pixel: 1 grey, 3 red, green and blue, 4 inks; 0 not known

	// Space turns codes into colour. That of a grey profile is meant for equal
	// codes in red, green and blue. Its name is Description.
	Space *colour.Space

	// Tables tells that the profile holds look-up tables beside the matrix.
	// The standard lets them go before the matrix (8.10); we use the matrix,
	// which in the profiles of pictures describes the same device coarser.
	Tables bool
}

// FormatError tells of a profile that is damaged or contradicts itself.
type FormatError struct {
	Reason string // what is wrong, in words, naming the tag
}

func (e *FormatError) Error() string { return "ICC profile: " + e.Reason }

// UnsupportedError tells of a profile that may well be sound but is not made
// of curves and a matrix.
type UnsupportedError struct {
	What string // what it is, in words: "a profile of tables", "a CMYK profile"
}

func (e *UnsupportedError) Error() string { return "ICC profile: " + e.What + " is not supported" }

func broken(format string, args ...any) error { return &FormatError{fmt.Sprintf(format, args...)} }

const (
	headerSize = 128 // bytes (7.2)
	maxTags    = 1024
)

// profile is the bytes of a profile and where its tags lie in them.
type profile struct {
	b    []byte
	tags map[string][]byte // by signature; nil where a tag points outside of the profile
}

// Parse reads the profile in b, of which nothing is kept. Bytes behind the
// length that the profile's header gives are passed over.
//
// The error is a *FormatError where the profile is damaged or shorter than its
// header says, and an *UnsupportedError where it is of another kind than curves
// and a matrix: tables alone, inks, named colours, device links. Also then the
// fields of Profile that could be read are filled; Space is nil.
func Parse(b []byte) (Profile, error) {
	var p Profile
	if len(b) < headerSize+4 {
		return p, broken("%d bytes are less than its header", len(b))
	}
	if string(b[36:40]) != "acsp" {
		return p, broken("it has not the mark of one")
	}
	p.Version = fmt.Sprintf("%d.%d", b[8], b[9]>>4)
	p.Channels = channels[string(b[16:20])]
	size, f := Length(b), profile{b: b}
	if headerSize+4 <= size && size < int64(len(b)) {
		f.b = b[:size]
	}
	err := f.readTags()
	p.Description = f.description() // also where the length is a lie
	switch {
	case size < headerSize+4:
		return p, broken("its header says %d bytes, which cannot hold it", size)
	case size > int64(len(b)):
		return p, broken("its header says %d bytes and %d are there", size, len(b))
	case err != nil:
		return p, err
	}
	for _, name := range []string{"A2B0", "A2B1", "A2B2"} {
		if _, ok := f.tags[name]; ok {
			p.Tables = true
		}
	}
	if err := f.usable(p.Tables); err != nil {
		return p, err
	}
	if p.Channels == 1 {
		p.Space, err = f.grey(p.Description)
	} else {
		p.Space, err = f.rgb(p.Description)
	}
	return p, err
}

// Length returns the bytes that the profile beginning with b has by its own
// header; 0 where b is less than a header.
func Length(b []byte) int64 {
	if len(b) < headerSize {
		return 0
	}
	return int64(binary.BigEndian.Uint32(b))
}

// channels of the colour spaces that pictures have (7.2.6).
var channels = map[string]int{"GRAY": 1, "RGB ": 3, "CMYK": 4, "Lab ": 3, "XYZ ": 3, "YCbr": 3, "HSV ": 3, "HLS ": 3, "CMY ": 3}

// readTags reads the tag table (7.3).
func (f *profile) readTags() error {
	n := binary.BigEndian.Uint32(f.b[headerSize:])
	table := f.b[headerSize+4:]
	if n > maxTags || uint64(n)*12 > uint64(len(table)) {
		return broken("its table of %d tags does not fit into its %d bytes", n, len(f.b))
	}
	f.tags = make(map[string][]byte, n)
	for i := range int(n) {
		e := table[12*i:]
		name := string(e[:4])
		off, size := uint64(binary.BigEndian.Uint32(e[4:])), uint64(binary.BigEndian.Uint32(e[8:]))
		if _, twice := f.tags[name]; twice {
			continue // the standard allows each once; the first counts
		}
		f.tags[name] = nil
		if off+size <= uint64(len(f.b)) && off >= headerSize {
			f.tags[name] = f.b[off : off+size]
		}
	}
	return nil
}

// usable refuses what is no RGB or grey profile of a matrix or curve. tables
// tells that it has A2B tables.
func (f *profile) usable(tables bool) error {
	if major := f.b[8]; major > 4 {
		return &UnsupportedError{fmt.Sprintf("a profile of version %d", major)}
	}
	switch class := string(f.b[12:16]); class {
	case "scnr", "mntr", "prtr", "spac":
	case "link":
		return &UnsupportedError{"a link between two devices"}
	case "abst":
		return &UnsupportedError{"an abstract profile"}
	case "nmcl":
		return &UnsupportedError{"a list of named colours"}
	default:
		return broken("its class %q is none", class)
	}
	space, connection := string(f.b[16:20]), string(f.b[20:24])
	if connection != "XYZ " && connection != "Lab " {
		return broken("it connects to %q, neither XYZ nor Lab", connection)
	}
	has := func(names ...string) bool {
		for _, n := range names {
			if _, ok := f.tags[n]; !ok {
				return false
			}
		}
		return true
	}
	switch space {
	case "GRAY":
		if has("kTRC") {
			return nil
		}
	case "RGB ":
		if has("rXYZ", "gXYZ", "bXYZ", "rTRC", "gTRC", "bTRC") {
			return nil
		}
	default:
		if _, known := channels[space]; !known && !strings.HasSuffix(space, "CLR") {
			return broken("its colour space %q is none", space)
		}
		return &UnsupportedError{"a profile of " + strings.TrimSpace(space) + " colours"}
	}
	if tables {
		return &UnsupportedError{"a profile of tables"}
	}
	return broken("it holds neither a matrix with curves nor tables")
}

// rgb makes the space of a profile of three curves and a matrix (8.3.3): the
// columns are the primaries, adapted to D50 whatever white the device has. So
// the chad tag, which says by which matrix they were adapted, has no part in
// it, nor has the media white point: both are for absolute colour only.
func (f *profile) rgb(name string) (*colour.Space, error) {
	var decode [3]func(float64) float64
	var primaries [3]colour.XYZ
	for i, c := range []string{"r", "g", "b"} {
		var err error
		if decode[i], err = f.curve(c + "TRC"); err != nil {
			return nil, err
		}
		if primaries[i], err = f.xyz(c + "XYZ"); err != nil {
			return nil, err
		}
	}
	s, err := colour.NewSpace(name, decode, primaries)
	if err != nil {
		return nil, broken("%v", err)
	}
	return s, nil
}

// grey makes a space whose equal codes are the greys of a profile with one
// curve (8.3.4): from black to D50, by light where it connects to XYZ and by
// lightness where it connects to Lab. The primaries are sRGB's, which serve as
// well as any.
func (f *profile) grey(name string) (*colour.Space, error) {
	decode, err := f.curve("kTRC")
	if err != nil {
		return nil, err
	}
	if string(f.b[20:24]) == "Lab " {
		lightness := decode
		decode = func(v float64) float64 { return colour.Lab{L: 100 * lightness(v)}.XYZ().Y }
	}
	var primaries [3]colour.XYZ
	for i, p := range []colour.Linear{{R: 1}, {G: 1}, {B: 1}} {
		primaries[i] = colour.SRGB.ToXYZ(p)
	}
	s, err := colour.NewSpace(name, [3]func(float64) float64{decode, decode, decode}, primaries)
	if err != nil {
		return nil, broken("%v", err)
	}
	return s, nil
}
