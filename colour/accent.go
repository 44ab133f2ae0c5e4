package colour

import "math"

// An accent is small, vivid, unlike everything larger, and no shadow or
// gloss on it (see shadeOf).
const (
	accentMost     = 0.05 // share
	accentChroma   = 25   // least chroma, of Lab
	accentDistance = 14   // least ΔE2000 to each swatch that is larger
	accentHue      = 25   // degrees that a shadow's hue is turned at most
	accentPurity   = 1.5  // times that a shadow is purer in colour at most
	mostAccents    = 2
)

// accent tells whether shade i is small, vivid, and unlike everything larger.
func (g *grouping) accent(i int) bool {
	s := &g.shades[i]
	if float64(s.area) > accentMost*float64(g.total) || s.lab.LCh().C < accentChroma {
		return false
	}
	for j := range g.shades {
		t := &g.shades[j]
		if j == i || t.area < s.area {
			continue
		}
		if g.apart(i, j) < accentDistance || s.lab.shadeOf(t.lab) {
			return false
		}
	}
	return true
}

// shadeOf tells whether c may be d in shadow or with a gloss on it. Less light
// of the same kind makes a, b and L + 16 smaller alike, since all three are
// cube roots of light, and gloss adds white: neither turns the hue or makes
// the ratio of chroma to L + 16 much larger.
func (c Lab) shadeOf(d Lab) bool {
	p, q := c.LCh(), d.LCh()
	turn := math.Abs(p.H - q.H)
	return min(turn, 360-turn) < accentHue && p.C/(p.L+16) < accentPurity*q.C/(q.L+16)
}
