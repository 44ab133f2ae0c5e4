package icc

import (
	"encoding/binary"
	"math"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"

	"coverplate/colour"
)

// content returns what follows type and reserved bytes of a tag, which must be
// of one of the types.
func (f *profile) content(name string, types ...string) (kind string, b []byte, err error) {
	t := f.tags[name]
	if t == nil {
		return "", nil, broken("its tag %s points outside of its %d bytes", name, len(f.b))
	}
	if len(t) < 8 {
		return "", nil, broken("its tag %s is cut short", name)
	}
	kind = string(t[:4])
	for _, want := range types {
		if kind == want {
			return kind, t[8:], nil
		}
	}
	return "", nil, broken("its tag %s is of the type %q, not %s", name, kind, strings.Join(types, " or "))
}

// fixed reads an s15Fixed16Number (4.6).
func fixed(b []byte) float64 { return float64(int32(binary.BigEndian.Uint32(b))) / 65536 }

// xyz reads a tag of XYZType (10.31), in units of the white's Y.
func (f *profile) xyz(name string) (colour.XYZ, error) {
	_, b, err := f.content(name, "XYZ ")
	if err != nil {
		return colour.XYZ{}, err
	}
	if len(b) < 12 {
		return colour.XYZ{}, broken("its tag %s is cut short", name)
	}
	return colour.XYZ{X: fixed(b), Y: fixed(b[4:]), Z: fixed(b[8:])}, nil
}

// curve reads a tag of curveType or parametricCurveType. The function that it
// returns takes 0 … 1 to 0 … 1; what a formula gives beyond is clipped, as the
// standard has it.
func (f *profile) curve(name string) (func(float64) float64, error) {
	kind, b, err := f.content(name, "curv", "para")
	if err != nil {
		return nil, err
	}
	if len(b) < 4 {
		return nil, broken("its tag %s is cut short", name)
	}
	if kind == "para" {
		return parametric(name, int(binary.BigEndian.Uint16(b)), b[4:])
	}
	n := uint64(binary.BigEndian.Uint32(b))
	if b = b[4:]; n*2 > uint64(len(b)) {
		return nil, broken("its tag %s says %d points and has room for %d", name, n, len(b)/2)
	}
	switch n {
	case 0:
		return func(v float64) float64 { return v }, nil
	case 1:
		gamma := float64(binary.BigEndian.Uint16(b)) / 256
		if gamma == 0 {
			return nil, broken("its tag %s has the exponent 0", name)
		}
		return func(v float64) float64 { return math.Pow(v, gamma) }, nil
	}
	points := make([]float64, n)
	for i := range points {
		points[i] = float64(binary.BigEndian.Uint16(b[2*i:])) / 65535
	}
	return func(v float64) float64 { return between(points, v) }, nil
}

// between interpolates straight between points that stand at equal distances
// over 0 … 1 (10.5).
func between(points []float64, v float64) float64 {
	at := min(max(v, 0), 1) * float64(len(points)-1)
	i := min(int(at), len(points)-2)
	part := at - float64(i)
	// The products are rounded each for itself: fused into the sum they would
	// differ from one kind of processor to another.
	return float64(points[i]*(1-part)) + float64(points[i+1]*part)
}

// parametric reads the parameters of a parametricCurveType (10.15, table 65).
func parametric(name string, kind int, b []byte) (func(float64) float64, error) {
	counts := []int{1, 3, 4, 5, 7}
	if kind >= len(counts) {
		return nil, broken("its tag %s has a formula of type %d, which there is not", name, kind)
	}
	if len(b) < 4*counts[kind] {
		return nil, broken("its tag %s is cut short", name)
	}
	var p [7]float64
	for i := range counts[kind] {
		p[i] = fixed(b[4*i:])
	}
	g, a := p[0], 1.0
	if kind > 0 {
		a = p[1]
	}
	if !(g > 0) || a == 0 {
		return nil, broken("its tag %s has a formula without a curve: exponent %g, factor %g", name, g, a)
	}
	// Every type is a power above a break and a straight line below it:
	// (aX + b)^g + e from X = d, cX + f below.
	bb, c, d, e, ff := p[2], 0.0, 0.0, 0.0, 0.0
	switch kind {
	case 1:
		d = -bb / a
	case 2:
		d, e, ff = -bb/a, p[3], p[3]
	case 3:
		c, d = p[3], p[4]
	case 4:
		c, d, e, ff = p[3], p[4], p[5], p[6]
	}
	return func(v float64) float64 {
		if v < d {
			return min(max(float64(c*v)+ff, 0), 1)
		}
		base := max(float64(a*v)+bb, 0) // a power of less is no number
		return min(max(math.Pow(base, g)+e, 0), 1)
	}, nil
}

// maxDescription is how much of a description is kept, in bytes.
const maxDescription = 120

// description returns what the profile calls itself, or "": it is for people,
// so that damage in it makes no profile unusable. Version 4 has
// multiLocalizedUnicodeType (10.13), of which English goes first and else the
// first record; version 2 has textDescriptionType (ICC.1:2001-04, 6.5.17).
func (f *profile) description() string {
	kind, b, err := f.content("desc", "desc", "mluc", "text")
	if err != nil {
		return ""
	}
	switch {
	case kind == "text":
		return plain(string(b))
	case len(b) < 4:
		return ""
	case kind == "desc":
		n := uint64(binary.BigEndian.Uint32(b))
		return plain(string(b[4 : 4+min(n, uint64(len(b)-4))]))
	}
	text := ""
	for i := range min(binary.BigEndian.Uint32(b), 256) {
		at := 8 + 12*int(i)
		if at+12 > len(b) {
			break
		}
		record := b[at:]
		length, from := uint64(binary.BigEndian.Uint32(record[4:])), uint64(binary.BigEndian.Uint32(record[8:]))
		if from < 8 || from-8+length > uint64(len(b)) { // offsets count from the type
			continue
		}
		raw := b[from-8:][:min(length, 4*maxDescription)]
		u := make([]uint16, len(raw)/2)
		for i := range u {
			u[i] = binary.BigEndian.Uint16(raw[2*i:])
		}
		s := plain(string(utf16.Decode(u)))
		if s != "" && (text == "" || string(record[:2]) == "en") {
			if text = s; string(record[:2]) == "en" {
				break
			}
		}
	}
	return text
}

// plain makes one line of printable text of s, up to its first NUL.
func plain(s string) string {
	s, _, _ = strings.Cut(s, "\x00")
	s = strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case r == utf8.RuneError || !unicode.IsPrint(r):
			return -1
		}
		return r
	}, s)
	s = strings.Join(strings.Fields(s), " ")
	for len(s) > maxDescription {
		_, n := utf8.DecodeLastRuneInString(s)
		s = s[:len(s)-n]
	}
	return s
}
