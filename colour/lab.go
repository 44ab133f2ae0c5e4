package colour

import (
	"fmt"
	"math"
)

// The break of CIELAB's curve and the slope below it, exact as in CIE 15:2004;
// the rounded 0.008856 and 903.3 of older texts leave a step.
const (
	labBreak = 6.0 / 29 * 6 / 29 * 6 / 29
	labSlope = 29.0 / 6 * 29 / 6 / 3
)

// Lab returns c in CIELAB relative to the ICC's D50. Values below black keep
// to the straight part of the curve and have a negative L.
func (c XYZ) Lab() Lab {
	x, y, z := labCurve(c.X/d50[0]), labCurve(c.Y/d50[1]), labCurve(c.Z/d50[2])
	return Lab{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// XYZ is the inverse of XYZ.Lab.
func (c Lab) XYZ() XYZ {
	y := (c.L + 16) / 116
	return XYZ{d50[0] * labUncurve(y+c.A/500), d50[1] * labUncurve(y), d50[2] * labUncurve(y-c.B/200)}
}

func labCurve(t float64) float64 {
	if t > labBreak {
		return math.Cbrt(t)
	}
	return labSlope*t + 4.0/29
}

func labUncurve(f float64) float64 {
	if f > 6.0/29 {
		return f * f * f
	}
	return (f - 4.0/29) / labSlope
}

// LCh returns c in polar form. The hue of a grey is 0.
func (c Lab) LCh() LCh {
	chroma := math.Sqrt(c.A*c.A + c.B*c.B)
	if chroma == 0 {
		return LCh{L: c.L}
	}
	return LCh{c.L, chroma, hueDegrees(c.A, c.B)}
}

// Lab is the inverse of Lab.LCh.
func (c LCh) Lab() Lab {
	sin, cos := math.Sincos(c.H * math.Pi / 180)
	return Lab{c.L, c.C * cos, c.C * sin}
}

// hueDegrees returns the angle of (a, b), 0 ≤ h < 360.
func hueDegrees(a, b float64) float64 {
	h := math.Atan2(b, a) * 180 / math.Pi
	if h < 0 {
		h += 360
	}
	if h >= 360 { // a tiny negative angle rounds up to a whole turn
		h = 0
	}
	return h
}

// Hex returns the sRGB code "#rrggbb" of c. A colour that sRGB can't show
// keeps its lightness and hue and gives up as much chroma as it must: clipping
// the channels instead would turn its hue. Lightness outside 0 … 100 becomes
// black or white, and a colour that is not finite is "".
func (c Lab) Hex() string {
	if !c.finite() {
		return ""
	}
	if c.L <= 0 {
		return "#000000"
	}
	if c.L >= 100 {
		return "#ffffff"
	}
	e, ok := c.srgb()
	if !ok {
		whole := c.LCh()
		// Chroma that fits, and chroma that does not; sRGB's greatest is 134.
		in, out := 0.0, min(whole.C, 512)
		for range 30 {
			middle := (in + out) / 2
			if _, ok := (LCh{whole.L, middle, whole.H}).Lab().srgb(); ok {
				in = middle
			} else {
				out = middle
			}
		}
		e, _ = LCh{whole.L, in, whole.H}.Lab().srgb()
	}
	return fmt.Sprintf("#%02x%02x%02x", code8(e.R), code8(e.G), code8(e.B))
}

// srgb returns the codes of c, and whether all of them round to 0 … 255.
func (c Lab) srgb() (Encoded, bool) {
	e := SRGB.Encode(SRGB.FromXYZ(c.XYZ()))
	fits := func(v float64) bool { return v*255 > -0.5 && v*255 < 255.5 }
	return e, fits(e.R) && fits(e.G) && fits(e.B)
}

// code8 rounds v in 0 … 1 to an 8-bit code.
func code8(v float64) uint8 {
	return uint8(math.Round(255 * min(max(v, 0), 1)))
}
