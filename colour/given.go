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
	s := &Space{name: name}
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
		s.decode[i], s.encode[i] = whole(curve), inverseOf(curve)
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

// whole continues a curve of 0 … 1 beyond its ends by the slope between them.
func whole(curve func(float64) float64) func(float64) float64 {
	first, last := curve(0), curve(1)
	return func(v float64) float64 {
		switch {
		case v < 0:
			return first + float64(v*(last-first))
		case v > 1:
			return last + float64((v-1)*(last-first))
		}
		return curve(v)
	}
}

// inverseOf inverts whole of a curve, between its ends by halving.
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
func (s *Space) Apart(o *Space) float64 { return s.apart(o, 9, math.Inf(1)) }

// apart is Apart over side × side × side codes that ends once it is beyond
// enough.
func (s *Space) apart(o *Space, side int, enough float64) float64 {
	code := func(i int) float64 { return float64(i) / float64(side-1) }
	most := 0.0
	for r := range side {
		for g := range side {
			for b := range side {
				e := Encoded{code(r), code(g), code(b)}
				most = max(most, DeltaE2000(s.ToXYZ(s.Linearise(e)).Lab(), o.ToXYZ(o.Linearise(e)).Lab()))
			}
			if most > enough {
				return most
			}
		}
	}
	return most
}

// alike is how far apart, in ΔE2000, two spaces may be and still be called the
// same. Of the profiles in shared/photos and Debian's packages (November 2026)
// those of the three spaces are 0.06 apart from them at most, by rounding and
// coarse curves, and the nearest of any other is 3.4.
const alike = 0.5

// Known returns which of SRGB, AdobeRGB and DisplayP3 s is in all but name:
// never apart by more than half a ΔE2000. ok is false where it is none.
func Known(s *Space) (known *Space, ok bool) {
	for _, k := range []*Space{SRGB, AdobeRGB, DisplayP3} {
		if s == k || s.apart(k, 5, alike) <= alike {
			return k, true
		}
	}
	return nil, false
}
