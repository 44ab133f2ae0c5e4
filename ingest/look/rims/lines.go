package rims

import (
	"cmp"
	"math"
	"slices"
)

// Line is a long straight edge, its ends in shares of the picture's width from
// the left and from the top.
type Line struct{ X1, Y1, X2, Y2 float64 }

// How long and how straight an edge must be. A piece of a rim of half axis R
// and length L bulges by L²/8R: what is as straight as this over so long is
// the edge of a board or of a very large plate.
const (
	mostLines    = 48
	leastLine    = 0.07 // of the long side
	straightness = 0.4  // pixels, root mean square
)

// linesOf finds the straight pieces of the chains, the longest first. The two
// edges of a groove are two lines.
func linesOf(chains [][]point, w, h int) []Line {
	least := leastLine * float64(max(w, h))
	type run struct {
		l      Line
		length float64
	}
	var found []run
	var corners []int
	for _, ch := range chains {
		if float64(len(ch)) < least*0.7 {
			continue
		}
		corners = append(polyline(ch, 0, len(ch)-1, append(corners[:0], 0)), len(ch)-1)
		for k := 1; k < len(corners); k++ {
			p := ch[corners[k-1] : corners[k]+1]
			if distance(p[0], p[len(p)-1]) < least {
				continue
			}
			if l, rms, length := straight(p); rms <= straightness && length >= least {
				for _, v := range []*float64{&l.X1, &l.Y1, &l.X2, &l.Y2} {
					*v = (*v + 0.5) / float64(w)
				}
				found = append(found, run{l, length})
			}
		}
	}
	slices.SortStableFunc(found, func(a, b run) int { return cmp.Compare(b.length, a.length) })
	out := make([]Line, 0, mostLines)
	for _, r := range found[:min(len(found), mostLines)] {
		out = append(out, r.l)
	}
	return out
}

// straight fits a line to points by total least squares: from where to where
// it runs, in pixels, how far the points stray from it, root mean square, and
// how long it is.
func straight(p []point) (l Line, rms, length float64) {
	var x, y float64
	for _, q := range p {
		x += float64(q.x)
		y += float64(q.y)
	}
	n := float64(len(p))
	x, y = x/n, y/n
	var xx, xy, yy float64
	for _, q := range p {
		dx, dy := float64(q.x)-x, float64(q.y)-y
		xx += dx * dx
		xy += dx * dy
		yy += dy * dy
	}
	t := 0.5 * math.Atan2(2*xy, xx-yy)
	s, c := math.Sincos(t)
	var lo, hi, sum float64
	for _, q := range p {
		dx, dy := float64(q.x)-x, float64(q.y)-y
		u, v := dx*c+dy*s, dy*c-dx*s
		lo, hi = min(lo, u), max(hi, u)
		sum += v * v
	}
	return Line{x + lo*c, y + lo*s, x + hi*c, y + hi*s}, math.Sqrt(sum / n), hi - lo
}
