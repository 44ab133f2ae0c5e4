package angle

import "math"

// sameSpot tells whether two frames were taken from one spot: the bodies and
// focal lengths are the same as far as known, and a rim stands in both in the
// same place.
func sameSpot(a, b *sight) bool {
	if a.frame.Camera != b.frame.Camera || a.frame.Exposure.FocalLength != b.frame.Exposure.FocalLength ||
		math.Abs(a.height-b.height) > 0.01 || a.height == 0 {
		return false
	}
	for _, v := range a.views {
		for _, u := range b.views {
			if max(v.trust, u.trust) >= 0.5 && samePlace(v, u) {
				return true
			}
		}
	}
	return false
}

// samePlace tells whether two rims coincide but for what measuring errs.
func samePlace(v, u view) bool {
	slack := 0.04 * max(v.rim.A, u.rim.A)
	return math.Hypot(v.rim.X-u.rim.X, v.rim.Y-u.rim.Y) <= slack &&
		math.Abs(v.rim.A-u.rim.A) <= slack && math.Abs(v.rim.B-u.rim.B) <= slack
}
