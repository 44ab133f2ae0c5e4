// Package rims finds the round rims of plates, bowls, pans and glasses in a
// picture, as the ellipses that they are seen as, and the long straight edges
// of tables, boards and trays besides. It knows pixels alone: no file, no
// camera, no dish.
//
// The way is that of arcs: edges thinner than a pixel are linked into arcs,
// two arcs that may lie on one ellipse propose it, and the whole rim is then
// sought in the edges along it. Arcs and proposals are capped, so that any
// picture, noise and stripes among them, takes bounded time and memory; and
// the same picture gives the same rims.
//
// The steps and their first numbers are those of shared/ANGLE.md; after
// Fornaciari, Prati and Cucchiara, "A fast and effective ellipse detector for
// embedded vision applications" (2014), and Lu and others, "Arc-support line
// segments revisited" (2020), whose moment sums make arcs add.
package rims

import (
	"cmp"
	"math"
	"slices"
)

// Picture is what rims are sought in: upright, in the codes that people see
// (sRGB or near it), not in linear light, since a rim is what the eye sees.
type Picture struct {
	Width, Height int     // pixels
	Pix           []uint8 // red, green, blue and a byte that is not looked at; row by row, 4·Width·Height bytes
}

// Rim is an ellipse found. Lengths are shares of the picture's width.
type Rim struct {
	X, Y    float64 // centre, from the left and from the top
	A, B    float64 // half axes, A ≥ B
	Turn    float64 // degrees of the larger axis, −90 … 90, clockwise as seen from the picture's width
	Cover   float64 // 0 … 1, share of the ellipse traced by an edge
	Inside  float64 // 0 … 1, share of the ellipse inside the picture
	Support float64 // 0 … 1, Cover of what is inside
	Score   float64 // 0 … 1, how sure it is the rim of a vessel
}

// Sides are the long sides that a picture is brought down to: a rim that is
// soft or broken at the one may be whole at the other.
const (
	fullSide = 640
	halfSide = fullSide / 2
)

// mostRims is how many are returned.
const mostRims = 14

// leastSide is the short side below which nothing is sought.
const leastSide = 48

// Find returns the rims seen in p, the surest first, fourteen at most, and its
// straight edges, the longest first, 48 at most. It returns none where p is
// smaller than 48 pixels or its Pix too short.
func Find(p Picture) ([]Rim, []Line) {
	if p.Width <= 0 || p.Height <= 0 || len(p.Pix)/4/p.Width < p.Height {
		return nil, nil
	}
	full := shrink(p, fullSide)
	if min(full.w, full.h) < leastSide {
		return nil, nil
	}
	found, lines := seek(full, coarse{arcs: 220, least: 0.07})
	half := full.halved()
	if min(half.w, half.h) >= leastSide {
		scale := float64(full.w) / float64(half.w)
		rough, _ := seek(half, coarse{arcs: 160, least: 0.10})
		for _, e := range rough {
			e.enlarge(scale)
			found = join(found, e)
		}
	}
	short := float64(min(full.w, full.h))
	for i := range found {
		found[i].score = score(found[i], short)
	}
	slices.SortStableFunc(found, func(a, b ellipse) int { return cmp.Compare(b.score, a.score) })
	if len(found) > mostRims {
		found = found[:mostRims]
	}
	out := make([]Rim, len(found))
	w, h := float64(full.w), float64(full.h)
	tall := float64(p.Height) / float64(p.Width)
	for i, e := range found {
		// The centre of the first pixel is half a pixel from the edge.
		out[i] = Rim{X: (e.x + 0.5) / w, Y: (e.y + 0.5) / h * tall, A: e.a / w, B: e.b / w, Turn: e.turn * 180 / math.Pi,
			Cover: e.cover, Inside: e.inside, Support: e.support, Score: e.score}
	}
	return out, lines
}

// coarse is what differs between the two sides.
type coarse struct {
	arcs  int     // that are paired
	least float64 // half axis, shares of the short side
}

// join takes in a rim found at the half side, as a better tracing of one known
// or as one of its own.
func join(found []ellipse, e ellipse) []ellipse {
	known := false
	for i := range found {
		if k := &found[i]; same(*k, e, 0.04) {
			known = true
			if e.merit > k.merit {
				k.merit, k.cover, k.support, k.inside = e.merit, e.cover, e.support, e.inside
			}
		}
	}
	if known {
		return found
	}
	return append(found, e)
}

// score says how sure e is the rim of a vessel: traced all round, large, and
// lying level, since tables do. An oval that leans is a leaf, a spoon or a
// plate's shadow; one that is nearly round has no lean to speak of.
func score(e ellipse, short float64) float64 {
	size := math.Sqrt(min(1, e.a/short/0.45))
	lean := min(1, math.Abs(e.turn)*180/math.Pi/34*2*(1-e.b/e.a))
	return e.cover * e.support * size * (1 - 0.5*lean)
}
