package colour

import "math"

// DeltaE2000 is the CIEDE2000 difference of a and b with all weights 1. It is
// 0 for equal colours only, and the same both ways round to the last bit. It
// is no metric: the way over a third colour can be shorter. A difference of
// about 1 is the least that a trained eye sees side by side (common practice,
// no single source).
//
// Equation numbers are those of Sharma, Wu and Dalal, Color Research and
// Application 30 (2005) 21–30.
func DeltaE2000(a, b Lab) float64 {
	// Square roots rather than math.Hypot: the square root is rounded exactly
	// on every processor, Hypot is not.
	mean := (math.Sqrt(a.A*a.A+a.B*a.B) + math.Sqrt(b.A*b.A+b.B*b.B)) / 2 // (2), (3)
	g := 0.5 * (1 - math.Sqrt(ratio7(mean)))                              // (4)
	a1, a2 := (1+g)*a.A, (1+g)*b.A                                        // (5)
	c1 := math.Sqrt(a1*a1 + a.B*a.B)                                      // (6)
	c2 := math.Sqrt(a2*a2 + b.B*b.B)
	h1, h2 := hueDegrees(a1, a.B), hueDegrees(a2, b.B) // (7)

	dl, dc := b.L-a.L, c2-c1 // (8), (9)
	dh := 0.0                // (10), degrees
	hMean := h1 + h2         // (14), degrees
	if c1*c2 != 0 {
		dh = h2 - h1
		hMean /= 2
		// Hues exactly 180° apart belong to this branch, as the paper's pairs
		// 10 and 14 show; rounding of the two angles must not push them out.
		if math.Abs(dh) > 180+1e-9 {
			if dh > 0 {
				dh -= 360
			} else {
				dh += 360
			}
			if hMean < 180 {
				hMean += 180
			} else {
				hMean -= 180
			}
		}
	}
	dH := 2 * math.Sqrt(c1*c2) * sinDegrees(dh/2) // (11)

	l, c := (a.L+b.L)/2, (c1+c2)/2 // (12), (13)
	t := hueWeight(hMean)          // (15)
	rt := 0.0                      // (21)
	// Far from 275° the turn of the ellipses is less than the last bit of what
	// it would be added to.
	if turn := (hMean - 275) / 25; turn*turn < 40 {
		theta := 30 * math.Exp(-turn*turn) // (16), degrees
		rc := 2 * math.Sqrt(ratio7(c))     // (17)
		rt = -sinDegrees(2*theta) * rc
	}
	l50 := (l - 50) * (l - 50)
	sl := 1 + 0.015*l50/math.Sqrt(20+l50) // (18)
	sc := 1 + 0.045*c                     // (19)
	sh := 1 + 0.015*c*t                   // (20)

	dl, dc, dH = dl/sl, dc/sc, dH/sh
	return math.Sqrt(max(0, dl*dl+dc*dc+dH*dH+rt*dc*dH)) // (22)
}

// hueWeight is T (15) at a mean hue in degrees. The cosines of its multiples
// come of one sine and one cosine.
func hueWeight(h float64) float64 {
	s, c := math.Sincos(h * math.Pi / 180)
	c2, s2 := c*c-s*s, 2*s*c
	c3, s3 := c2*c-s2*s, s2*c+c2*s
	c4, s4 := c2*c2-s2*s2, 2*s2*c2
	return 1 - 0.17*(c*cos30+s*sin30) + 0.24*c2 + 0.32*(c3*cos6-s3*sin6) - 0.20*(c4*cos63+s4*sin63)
}

// The cosines and sines of the degrees that (15) turns hues by.
var (
	sin30, cos30 = math.Sincos(30 * math.Pi / 180)
	sin6, cos6   = math.Sincos(6 * math.Pi / 180)
	sin63, cos63 = math.Sincos(63 * math.Pi / 180)
)

// ratio7 is c⁷ / (c⁷ + 25⁷), written so that no chroma is too large for it.
func ratio7(c float64) float64 {
	r := 25 / c // +Inf for a grey, whose ratio is 0
	r7 := r * r * r
	r7 *= r7 * r
	return 1 / (1 + r7)
}

func sinDegrees(d float64) float64 { return math.Sin(d * math.Pi / 180) }

// byLightness is what DeltaE2000 can't be less than, at the cost of a
// subtraction: S_L (18) is at most 1.75 for L within 0 … 100, and since |R_T|
// is less than 2 the terms of chroma and hue never take anything away.
func byLightness(a, b Lab) float64 {
	return math.Abs(a.L-b.L) / 1.75
}
