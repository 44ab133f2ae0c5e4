// Package colour holds what is true of the colour of any picture: spaces,
// CIELAB under the ICC's D50, the CIEDE2000 difference, palettes and the
// distance between two of them. It knows no file, no frame and no recipe,
// imports the standard library alone, and gives the same answer byte for byte
// on every machine.
package colour

// Lab is a colour in CIELAB relative to the ICC's D50 white.
type Lab struct {
	L float64 // 0 (black) … 100 (white)
	A float64 // green (−) to red (+)
	B float64 // blue (−) to yellow (+)
}

// Swatch is one colour of a palette.
type Swatch struct {
	Hex    string  `json:"hex"`   // "#rrggbb" in sRGB, brought into gamut by chroma
	Lab    Lab     `json:"lab"`   // as [L, a, b]
	Share  float64 `json:"share"` // of the picture's area, 0 … 1
	Name   string  `json:"name"`  // plain English, so that nobody has to rely on seeing it
	Accent bool    `json:"accent"`
}
