// Package colour holds what is true of the colour of any picture: spaces,
// CIELAB under the ICC's D50, the CIEDE2000 difference, palettes and the
// distance between two of them. It knows no file, no frame and no recipe,
// imports the standard library alone, and gives the same answer byte for byte
// on every machine.
package colour

import (
	"encoding/json"
	"fmt"
	"math"
)

// Encoded is a colour as a picture's file stores it, in some Space: the three
// codes divided by their largest, 0 … 1, not proportional to light.
type Encoded struct{ R, G, B float64 }

// Linear is a colour in some Space in proportion to light, 0 … 1 inside the
// space's gamut. Only in this form may pixels be averaged.
type Linear struct{ R, G, B float64 }

// XYZ is a colour as CIE 1931 tristimulus values adapted to the ICC's D50, in
// proportion to light: the white of every Space is (0.9642, 1, 0.8249).
type XYZ struct{ X, Y, Z float64 }

// Lab is a colour in CIELAB relative to the ICC's D50 white. In JSON it is the
// array [L, a, b].
type Lab struct {
	L float64 // 0 (black) … 100 (white)
	A float64 // green (−) to red (+)
	B float64 // blue (−) to yellow (+)
}

// LCh is a Lab in polar form.
type LCh struct {
	L float64 // lightness, 0 … 100
	C float64 // chroma, 0 for greys
	H float64 // hue, degrees, 0 ≤ H < 360; 0 for greys
}

// Swatch is one colour of a palette.
type Swatch struct {
	Hex    string  `json:"hex"`   // "#rrggbb" in sRGB, brought into gamut by chroma
	Lab    Lab     `json:"lab"`   // as [L, a, b]
	Share  float64 `json:"share"` // of the picture's area, 0 … 1; of a surface: of the border's area
	Name   string  `json:"name"`  // plain English, so that nobody has to rely on seeing it
	Accent bool    `json:"accent"`
}

// MarshalJSON writes c as [L, a, b]. A Lab that is not finite is an error, so
// that none is ever stored.
func (c Lab) MarshalJSON() ([]byte, error) {
	if !c.finite() {
		return nil, fmt.Errorf("lab [%v, %v, %v]: not a finite colour", c.L, c.A, c.B)
	}
	return json.Marshal([3]float64{c.L, c.A, c.B})
}

// UnmarshalJSON reads [L, a, b]; fewer or more members are an error.
func (c *Lab) UnmarshalJSON(text []byte) error {
	var v []float64
	if err := json.Unmarshal(text, &v); err != nil {
		return fmt.Errorf("lab %s: want [L, a, b]: %w", text, err)
	}
	if v == nil { // null leaves c as it is, as encoding/json has it everywhere
		return nil
	}
	if len(v) != 3 {
		return fmt.Errorf("lab %s: want [L, a, b], got %d numbers", text, len(v))
	}
	*c = Lab{v[0], v[1], v[2]}
	return nil
}

func (c Lab) finite() bool { return finite(c.L) && finite(c.A) && finite(c.B) }

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
