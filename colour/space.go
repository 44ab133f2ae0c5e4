package colour

import "math"

// Space is an RGB space: what the three numbers of a pixel mean. The three
// that cameras and phones write are SRGB, AdobeRGB and DisplayP3; NewSpace
// makes any other of curves and a matrix.
type Space struct {
	name     string
	decode   [3]func(float64) float64 // encoded to linear, of R, G and B, for any code
	encode   [3]func(float64) float64 // linear to encoded, their inverses
	toWhite  matrix                   // linear RGB to XYZ under the space's own white; zero where only D50 is known
	toD50    matrix                   // linear RGB to XYZ adapted to the ICC's D50
	fromD50  matrix
	columns8 [3][256]XYZ // what each 8-bit code of each channel adds to XYZ D50
}

// chromaticity is x, y of CIE 1931.
type chromaticity struct{ x, y float64 }

// primaries of an RGB space, and its white.
type primaries struct{ red, green, blue, white chromaticity }

// d65 is the white of the three spaces as their standards print it.
var d65 = chromaticity{0.3127, 0.3290}

// d50 is the white of the ICC's profile connection space as ICC.1 prints it.
// It is not quite CIE's D50, whose Z (from x, y = 0.3457, 0.3585) is 0.8251.
var d50 = vector{0.9642, 1, 0.8249}

// The spaces. Their adaptation from D65 to the ICC's D50 is linear Bradford.
var (
	// SRGB is IEC 61966-2-1:1999.
	SRGB = newSpace("sRGB", primaries{
		red: chromaticity{0.64, 0.33}, green: chromaticity{0.30, 0.60}, blue: chromaticity{0.15, 0.06}, white: d65,
	}, srgbDecode, srgbEncode)

	// AdobeRGB is the Adobe RGB (1998) Color Image Encoding of May 2005; its
	// exponent is 563/256.
	AdobeRGB = newSpace("Adobe RGB (1998)", primaries{
		red: chromaticity{0.64, 0.33}, green: chromaticity{0.21, 0.71}, blue: chromaticity{0.15, 0.06}, white: d65,
	}, adobeDecode, adobeEncode)

	// DisplayP3 has the primaries of SMPTE RP 431-2, D65 and sRGB's curve.
	DisplayP3 = newSpace("Display P3", primaries{
		red: chromaticity{0.680, 0.320}, green: chromaticity{0.265, 0.690}, blue: chromaticity{0.150, 0.060}, white: d65,
	}, srgbDecode, srgbEncode)
)

// SpaceNamed returns the space that a frame's ColourSpace names: "sRGB",
// "Adobe RGB (1998)" or "Display P3". For any other name, "uncalibrated" and
// "" among them, ok is false and the caller chooses.
func SpaceNamed(name string) (s *Space, ok bool) {
	for _, s := range []*Space{SRGB, AdobeRGB, DisplayP3} {
		if s.name == name {
			return s, true
		}
	}
	return nil, false
}

// Name returns the name by which SpaceNamed finds s.
func (s *Space) Name() string { return s.name }

// Linearise undoes the encoding of e. Codes outside 0 … 1 go on, those of our
// own spaces mirrored at 0, so that the way back leads to the same codes.
func (s *Space) Linearise(e Encoded) Linear {
	return Linear{s.decode[0](e.R), s.decode[1](e.G), s.decode[2](e.B)}
}

// Encode is the inverse of Linearise. It does not clip: a colour outside the
// gamut has codes below 0 or above 1.
func (s *Space) Encode(l Linear) Encoded {
	return Encoded{s.encode[0](l.R), s.encode[1](l.G), s.encode[2](l.B)}
}

// ToXYZ returns l adapted to the ICC's D50.
func (s *Space) ToXYZ(l Linear) XYZ {
	v := s.toD50.times(vector{l.R, l.G, l.B})
	return XYZ{v[0], v[1], v[2]}
}

// FromXYZ is the inverse of ToXYZ. Components are outside 0 … 1 where c is
// outside the gamut of s.
func (s *Space) FromXYZ(c XYZ) Linear {
	v := s.fromD50.times(vector{c.X, c.Y, c.Z})
	return Linear{v[0], v[1], v[2]}
}

// XYZ8 returns the colour of an 8-bit pixel in linear light. It is ToXYZ of
// Linearise by table, for whole pictures.
func (s *Space) XYZ8(r, g, b uint8) XYZ {
	x, y, z := &s.columns8[0][r], &s.columns8[1][g], &s.columns8[2][b]
	return XYZ{x.X + y.X + z.X, x.Y + y.Y + z.Y, x.Z + y.Z + z.Z}
}

// Lab8 returns the Lab of an 8-bit pixel.
func (s *Space) Lab8(r, g, b uint8) Lab { return s.XYZ8(r, g, b).Lab() }

// newSpace derives the matrices of a space from its primaries and white, in
// full precision: the rounded ones that standards print differ by up to
// 0.0004 and do not invert each other.
func newSpace(name string, p primaries, decode, encode func(float64) float64) *Space {
	s := &Space{name: name}
	for i := range 3 {
		s.decode[i], s.encode[i] = odd(decode), odd(encode)
	}
	white := p.white.tristimulus()
	s.toWhite = p.toXYZ()
	s.toD50 = adaptation(white, d50).by(s.toWhite)
	s.fromD50 = s.toD50.inverse()
	s.tabulate()
	return s
}

// tabulate fills the tables of XYZ8.
func (s *Space) tabulate() {
	for channel := range 3 {
		for code := range 256 {
			l := s.decode[channel](float64(code) / 255)
			m := &s.toD50
			s.columns8[channel][code] = XYZ{m[0][channel] * l, m[1][channel] * l, m[2][channel] * l}
		}
	}
}

// tristimulus returns XYZ with Y = 1.
func (c chromaticity) tristimulus() vector {
	return vector{c.x / c.y, 1, (1 - c.x - c.y) / c.y}
}

// toXYZ returns the matrix whose columns are the primaries, scaled so that
// (1, 1, 1) is the white. SMPTE RP 177-1993 describes the derivation.
func (p primaries) toXYZ() matrix {
	r, g, b := p.red.tristimulus(), p.green.tristimulus(), p.blue.tristimulus()
	columns := matrix{{r[0], g[0], b[0]}, {r[1], g[1], b[1]}, {r[2], g[2], b[2]}}
	scale := columns.inverse().times(p.white.tristimulus())
	for i := range columns {
		for j := range columns[i] {
			columns[i][j] *= scale[j]
		}
	}
	return columns
}

// bradford turns XYZ into the sharpened cone responses of linear Bradford, as
// ICC.1 Annex E has it.
var bradford = matrix{
	{0.8951, 0.2664, -0.1614},
	{-0.7502, 1.7135, 0.0367},
	{0.0389, -0.0685, 1.0296},
}

// adaptation returns the Bradford matrix that takes XYZ seen under one white
// to XYZ that looks the same under another.
func adaptation(from, to vector) matrix {
	f, t := bradford.times(from), bradford.times(to)
	gain := matrix{{t[0] / f[0], 0, 0}, {0, t[1] / f[1], 0}, {0, 0, t[2] / f[2]}}
	return bradford.inverse().by(gain).by(bradford)
}

// srgbDecode is the transfer function of IEC 61966-2-1 for v ≥ 0.
func srgbDecode(v float64) float64 {
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

func srgbEncode(l float64) float64 {
	if l <= 0.0031308 {
		return l * 12.92
	}
	return 1.055*math.Pow(l, 1/2.4) - 0.055
}

// adobeGamma is 2 + 51/256 as Adobe RGB (1998) states it.
const adobeGamma = 563.0 / 256

func adobeDecode(v float64) float64 { return math.Pow(v, adobeGamma) }
func adobeEncode(l float64) float64 { return math.Pow(l, 1/adobeGamma) }

// odd continues f, given for v ≥ 0, to negative v as an odd function.
func odd(f func(float64) float64) func(float64) float64 {
	return func(v float64) float64 {
		if v < 0 {
			return -f(-v)
		}
		return f(v)
	}
}
