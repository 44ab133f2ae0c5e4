package colour

import (
	"errors"
	"fmt"
	"math"
)

// NewSpace makes the space whose channels go to linear light by decode, R, G
// and B each by its own curve, and whose full red, green and blue are primaries
// in XYZ adapted to the ICC's D50: what an ICC profile of the matrix kind
// holds. The primaries add up to the space's white, which is D50 in a sound
// profile and is taken as it is in any other.
//
// A curve takes 0 … 1 to finite numbers and ends higher than it begins; it need
// not rise all the way, only then Encode finds one of the codes that fit. name
// is for people; SpaceNamed does not find it.
//
// Curves that are not so, and primaries that are not finite or lie in one
// plane, are an error.
func NewSpace(name string, decode [3]func(float64) float64, primaries [3]XYZ) (*Space, error) {
	s := &Space{name: name, decode: decode}
	for i, p := range primaries {
		s.toD50[0][i], s.toD50[1][i], s.toD50[2][i] = p.X, p.Y, p.Z
	}
	if !s.toD50.regular() {
		return nil, errors.New("the three primaries span no space")
	}
	s.fromD50 = s.toD50.inverse()
	for i, curve := range decode {
		channel := [3]string{"red", "green", "blue"}[i]
		for code := range 256 {
			if v := float64(code) / 255; !finite(curve(v)) {
				return nil, fmt.Errorf("the curve of %s has no value at code %d", channel, code)
			}
		}
		if !(curve(0) < curve(1)) {
			return nil, fmt.Errorf("the curve of %s does not rise", channel)
		}
		s.encode[i] = inverseOf(curve)
	}
	s.tabulate()
	return s, nil
}

// leastDeterminant is below that of any set of primaries that a picture could
// be written in: sRGB's is 0.21, and primaries a hundred times less apart in
// every direction would still be above it.
const leastDeterminant = 1e-7

// regular tells whether m can be inverted without losing every digit.
func (m matrix) regular() bool {
	determinant := m[0][0]*(m[1][1]*m[2][2]-m[1][2]*m[2][1]) -
		m[0][1]*(m[1][0]*m[2][2]-m[1][2]*m[2][0]) +
		m[0][2]*(m[1][0]*m[2][1]-m[1][1]*m[2][0])
	return finite(determinant) && math.Abs(determinant) >= leastDeterminant
}

// inverseOf inverts a curve of 0 … 1 by halving. Beyond the curve's ends the
// slope between its ends goes on, so that light outside the gamut has a code
// outside 0 … 1, as Encode promises.
func inverseOf(curve func(float64) float64) func(float64) float64 {
	first, last := curve(0), curve(1)
	return func(l float64) float64 {
		if l <= first {
			return (l - first) / (last - first)
		}
		if l >= last {
			return 1 + (l-last)/(last-first)
		}
		low, high := 0.0, 1.0 // curve(low) ≤ l < curve(high)
		for range 60 {
			middle := (low + high) / 2
			if curve(middle) <= l {
				low = middle
			} else {
				high = middle
			}
		}
		return low
	}
}

// Apart returns how far two spaces differ at most: the largest ΔE2000 between
// what the same codes mean in either, over a grid of 9 × 9 × 9 codes.
func (s *Space) Apart(o *Space) float64 {
	const side = 9
	codes := func(i int) float64 { return float64(i) / (side - 1) }
	most := 0.0
	for r := range side {
		for g := range side {
			for b := range side {
				e := Encoded{codes(r), codes(g), codes(b)}
				most = max(most, DeltaE2000(s.ToXYZ(s.Linearise(e)).Lab(), o.ToXYZ(o.Linearise(e)).Lab()))
			}
		}
	}
	return most
}

// alike is how far apart, in ΔE2000, two spaces may be and still be called the
// same. The profiles of sRGB, Adobe RGB and Display P3 that are about differ
// from the standards by rounding, old white points and coarse curves, by
// less; the nearest of other spaces lies far beyond.
const alike = 0.5

// Known returns which of SRGB, AdobeRGB and DisplayP3 s is in all but name:
// never apart by more than half a ΔE2000. ok is false where it is none.
func Known(s *Space) (known *Space, ok bool) {
	for _, k := range []*Space{SRGB, AdobeRGB, DisplayP3} {
		if s == k || s.Apart(k) <= alike {
			return k, true
		}
	}
	return nil, false
}
