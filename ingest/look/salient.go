package look

import (
	"math"

	"coverplate/colour"
)

// softened is the 5 × 5 binomial blur of Achanta et al. (2009), by which grain
// and the finest texture do not stand out. Borders are held.
func softened(lab []colour.Lab, w, h int) []colour.Lab {
	kernel := [...]float64{1.0 / 16, 4.0 / 16, 6.0 / 16, 4.0 / 16, 1.0 / 16}
	pass := func(in []colour.Lab, step, length int, along func(i int) int) []colour.Lab {
		out := make([]colour.Lab, len(in))
		for i := range in {
			at := along(i)
			var c colour.Lab
			for k, f := range kernel {
				j := i + (min(max(at+k-2, 0), length-1)-at)*step
				c.L += f * in[j].L
				c.A += f * in[j].A
				c.B += f * in[j].B
			}
			out[i] = c
		}
		return out
	}
	lab = pass(lab, 1, w, func(i int) int { return i % w })
	return pass(lab, w, h, func(i int) int { return i / w })
}

// tuned is the frequency-tuned saliency of Achanta, Hemami, Estrada and
// Süsstrunk, CVPR 2009: how far each softened pixel lies from the mean of the
// picture before it was softened, which the softening all but keeps. ΔE*ab.
func tuned(lab []colour.Lab, mean colour.Lab) []float64 {
	out := make([]float64, len(lab))
	for i, c := range lab {
		out[i] = math.Sqrt(apartSquare(c, mean))
	}
	return out
}

// apartSquare is the square of ΔE*ab.
func apartSquare(a, b colour.Lab) float64 {
	return square(a.L-b.L) + square(a.A-b.A) + square(a.B-b.B)
}

func square(x float64) float64 { return x * x }

func meanOf(lab []colour.Lab) colour.Lab {
	var m colour.Lab
	for _, c := range lab {
		m.L, m.A, m.B = m.L+c.L, m.A+c.A, m.B+c.B
	}
	n := float64(len(lab))
	return colour.Lab{L: m.L / n, A: m.A / n, B: m.B / n}
}

// outstanding says of each pixel how far it stands out. A dish that fills half
// the picture draws the mean towards itself, so that the table would stand
// out from it: the colours of the border count for as much of the answer as
// they account for of the border.
func outstanding(lab []colour.Lab, w, h int) []float64 {
	out := tuned(lab, meanOf(lab))
	grounds, share := surfaces(lab, w, h)
	for i, c := range lab {
		if len(grounds) == 0 {
			break
		}
		d := math.Inf(1)
		for _, g := range grounds {
			d = min(d, g.offSquare(c))
		}
		out[i] = share*math.Sqrt(d) + (1-share)*out[i]
	}
	return out
}

// ground is one of the colours that a picture's border is made of, and how
// much darker and brighter the border shows it: light falls off along a table.
// Under a factor of its light L + 16, a and b of Lab go by the cube root.
type ground struct {
	colour.Lab
	dark, bright float64 // least and greatest cube root of the factor
}

// deepest is the shadow that a dish casts on its ground at most, as a cube root
// of light: about a third. A black bowl on a pale table is darker.
const deepest = 0.70

// offSquare is the square of how far a colour stands off a ground. What is of
// the ground's hue and as bright as the border shows it anywhere does not; a
// shadow hardly does.
func (g ground) offSquare(c colour.Lab) float64 {
	const counts = 0.35 // of a shadow's difference in lightness
	k := min(g.bright, max(min(g.dark, deepest), (c.L+16)/(g.L+16)))
	off := apartSquare(c, colour.Lab{L: k*(g.L+16) - 16, A: k * g.A, B: k * g.B})
	if k < g.dark {
		off += square(counts * (g.dark - k) * (g.L + 16))
	}
	return off
}

// lit finds how dark and how bright the border shows a ground, step by step
// from its own light: light falls off gradually, and what is a step brighter
// (a white napkin on grey slate) is another thing.
func lit(c colour.Lab, border []colour.Lab) ground {
	const (
		hue   = 6    // ΔE*ab at the same light
		step  = 0.03 // of the cube root of light
		least = 0.01 // share of the border that shows a step
		reach = 40   // steps either way
	)
	var shows [2*reach + 1]float64
	for _, p := range border {
		k := (p.L + 16) / (c.L + 16)
		if math.Hypot(p.A-k*c.A, p.B-k*c.B) < hue {
			shows[min(max(int(math.Round((k-1)/step))+reach, 0), 2*reach)] += 1 / float64(len(border))
		}
	}
	dark, bright := reach, reach
	for dark > 0 && shows[dark-1] >= least {
		dark--
	}
	for bright < 2*reach && shows[bright+1] >= least {
		bright++
	}
	return ground{c, 1 + float64(dark-reach)*step, 1 + float64(bright-reach)*step}
}

// surfaces returns the colours that the border is made of, at most four, each
// a seventh of it or more, and which share of the border they account for.
func surfaces(lab []colour.Lab, w, h int) ([]ground, float64) {
	const near, least, most = 11.0, 1.0 / 7, 4 // ΔE*ab; share; count
	const sample = 512                         // pixels of the border that stand for all
	ring := max(1, min(w, h)/14)
	var border []colour.Lab
	for i, c := range lab {
		if x, y := i%w, i/w; x < ring || y < ring || x >= w-ring || y >= h-ring {
			border = append(border, c)
		}
	}
	if step := len(border) / sample; step > 1 {
		for i := range len(border) / step {
			border[i] = border[i*step]
		}
		border = border[:len(border)/step]
	}
	taken := make([]bool, len(border))
	var found []ground
	var count int
	for len(found) < most {
		// The seed with the most of the border about it, of an even sample.
		best, bestN := -1, 0
		for s := 0; s < len(border); s += max(1, len(border)/96) {
			if taken[s] {
				continue
			}
			n := 0
			for i, c := range border {
				if !taken[i] && apartSquare(c, border[s]) < near*near {
					n++
				}
			}
			if n > bestN {
				best, bestN = s, n
			}
		}
		if best < 0 || float64(bestN) < least*float64(len(border)) {
			break
		}
		var members []colour.Lab
		seed := border[best]
		for i, c := range border {
			if !taken[i] && apartSquare(c, seed) < near*near {
				taken[i] = true
				members = append(members, c)
			}
		}
		count += len(members)
		found = append(found, lit(meanOf(members), border))
	}
	return found, float64(count) / float64(len(border))
}
