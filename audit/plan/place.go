package plan

import "math/bits"

// place is a rectangle of a page in millimetres.
type place struct{ w, h float64 }

// mostPlaced is how many pictures on one page are laid out in earnest; of more
// only the area is added up.
const mostPlaced = 4

// fit tells whether pictures stand beside and above each other on a page of
// w × h without overlapping, each in one of its shapes. Up to four the answer
// is exact: rectangles that fit can be parted by straight cuts, or are four in
// a pinwheel, one in each corner. Of more than four it may say yes to what
// can't be laid out, never no to what can.
func fit(pictures [][]place, w, h float64) bool {
	if least(pictures) > (w+edge)*(h+edge) {
		return false
	}
	if len(pictures) > mostPlaced {
		return true
	}
	return parted(pictures, w, h) || len(pictures) == mostPlaced && cornered(pictures, w, h)
}

// least is the area that the pictures need at least, mm².
func least(pictures [][]place) float64 {
	sum := 0.0
	for _, shapes := range pictures {
		area := shapes[0].w * shapes[0].h
		for _, p := range shapes[1:] {
			area = min(area, p.w*p.h)
		}
		sum += area
	}
	return sum
}

func parted(pictures [][]place, w, h float64) bool {
	if len(pictures) == 1 {
		for _, p := range pictures[0] {
			if p.w <= w+edge && p.h <= h+edge {
				return true
			}
		}
		return false
	}
	// Every way to part the pictures in two, by an upright or a level cut.
	for set := 1; set < 1<<len(pictures)-1; set++ {
		var one, other [][]place
		for i, p := range pictures {
			if set&(1<<i) != 0 {
				one = append(one, p)
			} else {
				other = append(other, p)
			}
		}
		if bits.OnesCount(uint(set)) > len(pictures)/2 {
			continue // met from the other side
		}
		for _, cut := range sums(one, func(p place) float64 { return p.w }) {
			if cut < w && parted(one, cut, h) && parted(other, w-cut, h) {
				return true
			}
		}
		for _, cut := range sums(one, func(p place) float64 { return p.h }) {
			if cut < h && parted(one, w, cut) && parted(other, w, h-cut) {
				return true
			}
		}
	}
	return false
}

// sums are the extents that some of the pictures side by side can take: a cut
// need stand nowhere else.
func sums(pictures [][]place, extent func(place) float64) []float64 {
	all := []float64{0}
	for _, shapes := range pictures {
		for _, before := range all {
			for _, p := range shapes {
				all = append(all, before+extent(p))
			}
		}
	}
	return all[1:]
}

// cornered tells whether four pictures fit with one in each corner.
func cornered(pictures [][]place, w, h float64) bool {
	var corner [4]place // in the order of the hands of a clock
	used := 0
	apart := func(a, b place) bool { return a.w+b.w <= w+edge || a.h+b.h <= h+edge }
	var put func(int) bool
	put = func(n int) bool {
		if n == len(corner) {
			return corner[0].w+corner[1].w <= w+edge && corner[1].h+corner[2].h <= h+edge &&
				corner[2].w+corner[3].w <= w+edge && corner[3].h+corner[0].h <= h+edge &&
				apart(corner[0], corner[2]) && apart(corner[1], corner[3])
		}
		for i, shapes := range pictures {
			if used&(1<<i) != 0 {
				continue
			}
			used |= 1 << i
			for _, p := range shapes {
				if corner[n] = p; put(n + 1) {
					return true
				}
			}
			used &^= 1 << i
		}
		return false
	}
	return put(0)
}
