package slate

import (
	"encoding/binary"
	"math/bits"
)

// Picture is a picture in grey as the eye has it: 8-bit codes, 0 black,
// Width × Height, row by row from the top.
type Picture struct {
	Width, Height int
	Pix           []uint8
}

// halved is p at half its size, each pixel the mean of four, in room where that
// is large enough.
func (p Picture) halved(room []uint8) Picture {
	w, h := p.Width/2, p.Height/2
	out := Picture{Width: w, Height: h, Pix: sized(room, w*h)}
	for y := range h {
		a, b := p.Pix[2*y*p.Width:][:2*w], p.Pix[(2*y+1)*p.Width:][:2*w]
		line := out.Pix[y*w:][:w]
		x := 0
		// Four at once: their sums lie in four lanes of 16 bits.
		for ; x+4 <= w; x += 4 {
			m, n := binary.LittleEndian.Uint64(a[2*x:]), binary.LittleEndian.Uint64(b[2*x:])
			sum := (m&lanes + m>>8&lanes + n&lanes + n>>8&lanes + 2*(lanes/255)) >> 2 & lanes
			sum |= sum >> 8
			binary.LittleEndian.PutUint32(line[x:], uint32(sum&0xffff|sum>>32<<16))
		}
		for ; x < w; x++ {
			line[x] = uint8((int(a[2*x]) + int(a[2*x+1]) + int(b[2*x]) + int(b[2*x+1]) + 2) / 4)
		}
	}
	return out
}

// sized is room of n bytes, that which is given where it is large enough.
func sized(room []uint8, n int) []uint8 {
	if cap(room) < n {
		return make([]uint8, n)
	}
	return room[:n]
}

// at is the picture at a place, pixel (0, 0) reaching from 0 to 1 both ways:
// interpolated between the four nearest centres, beyond the border that of the
// border.
func (p Picture) at(x, y float64) float64 {
	x, y = x-0.5, y-0.5
	if x < 0 {
		x = 0
	} else if m := float64(p.Width - 1); x > m {
		x = m
	}
	if y < 0 {
		y = 0
	} else if m := float64(p.Height - 1); y > m {
		y = m
	}
	ix, iy := int(x), int(y)
	fx, fy := x-float64(ix), y-float64(iy)
	i := iy*p.Width + ix
	dx, dy := 1, p.Width
	if ix+1 >= p.Width {
		dx = 0
	}
	if iy+1 >= p.Height {
		dy = 0
	}
	a, b := float64(p.Pix[i]), float64(p.Pix[i+dx])
	c, d := float64(p.Pix[i+dy]), float64(p.Pix[i+dx+dy])
	top, low := a+(b-a)*fx, c+(d-c)*fx
	return top + (low-top)*fy
}

// sharpened is p with what a blur of its neighbours took off added again, by a
// strength of 2 or 4, in room where that is large enough.
func (p Picture) sharpened(strength int, room []uint8) Picture {
	const reach = 2 // pixels to each side
	w := p.Width
	out := Picture{Width: w, Height: p.Height, Pix: sized(room, len(p.Pix))}
	if p.Height <= 2*reach || w <= 2*reach {
		copy(out.Pix, p.Pix)
		return out
	}
	copy(out.Pix, p.Pix[:reach*w])
	copy(out.Pix[(p.Height-reach)*w:], p.Pix[(p.Height-reach)*w:])
	// v + strength·(8v − its neighbours)/8 is (own·v − its neighbours)/2^shift.
	own, shift := uint64(8+8/strength), uint(3-bits.TrailingZeros(uint(strength)))
	for y := reach; y < p.Height-reach; y++ {
		i := y * w
		copy(out.Pix[i:], p.Pix[i:i+reach])
		copy(out.Pix[i+w-reach:], p.Pix[i+w-reach:i+w])
		x := reach
		for ; x+8 <= w-reach; x += 8 {
			k := i + x
			v := binary.LittleEndian.Uint64(p.Pix[k:])
			var even, odd uint64
			for _, by := range [8]int{-reach, reach, -1, 1, -reach * w, reach * w, -w, w} {
				n := binary.LittleEndian.Uint64(p.Pix[k+by:])
				even, odd = even+n&lanes, odd+n>>8&lanes
			}
			binary.LittleEndian.PutUint64(out.Pix[k:], bounded(own*(v&lanes), even, shift)|bounded(own*(v>>8&lanes), odd, shift)<<8)
		}
		for ; x < w-reach; x++ {
			k := i + x
			round := 0
			for _, by := range [8]int{-reach, reach, -1, 1, -reach * w, reach * w, -w, w} {
				round += int(p.Pix[k+by])
			}
			out.Pix[k] = uint8(min(255, max(0, int(own)*int(p.Pix[k])-round)>>shift))
		}
	}
	return out
}

// bounded is (a − b)/2^shift, 0 … 255, in four lanes of 16 bits; a and b are less
// than 2¹⁵ in each.
func bounded(a, b uint64, shift uint) uint64 {
	const tops, most = lanes / 255 << 15, lanes
	d := (a | tops) - b
	d &= (d & tops >> 15) * 0x7fff // 0 where b is more than a
	m := uint64(most) << shift
	fits := ((m | tops) - d) & tops >> 15 * 0xffff
	return (d&fits | m&^fits) >> shift & lanes
}

// blockSide is how many pixels the blocks of a threshold are wide and high.
const blockSide = 8

// threshold parts dark from light: a pixel is dark that is below its block's.
type threshold struct {
	cols int
	cut  []uint8 // block by block; 0 where nothing is dark
}

// at is the cut of a pixel; neither may be less than 0.
func (t *threshold) at(x, y int) uint8 {
	return t.cut[int(uint(y)/blockSide)*t.cols+int(uint(x)/blockSide)]
}

// way is how a threshold is made.
type way struct {
	reach  int  // blocks to each side that are looked at; 0 the whole picture
	middle bool // half way from the darkest to the lightest, rather than the mean
}

// flatRange is the least difference of the lightest and the darkest pixel that
// a threshold parts, in codes, and its least share of the lightest: below it lie
// a plain ground and its grain. No source; dark print in a deep shadow keeps a
// third.
const (
	flatRange = 14
	flatShare = 6 // of the lightest: 1/6
)

// blocks are the sums of a picture's blocks, of which any threshold is made.
type blocks struct {
	cols, rows int
	room       []uint8 // that of the next three
	mean       []uint8
	low, high  []uint8
}

// blocksOf are the blocks of p, in room where that is large enough. Of each only
// every step-th row is looked at.
func blocksOf(p Picture, step int, room []uint8) blocks {
	b := blocks{cols: (p.Width + blockSide - 1) / blockSide, rows: (p.Height + blockSide - 1) / blockSide}
	n := b.cols * b.rows
	room = sized(room, 3*n)
	b.room, b.mean, b.low, b.high = room, room[:n:n], room[n:2*n:2*n], room[2*n:]
	for by := range b.rows {
		y0, y1 := by*blockSide, min(p.Height, (by+1)*blockSide)
		for bx := range b.cols {
			i, x0 := by*b.cols+bx, bx*blockSide
			if x0+blockSide <= p.Width {
				b.mean[i], b.low[i], b.high[i] = block(p.Pix[y0*p.Width+x0:], step*p.Width, (y1-y0+step-1)/step)
				continue
			}
			var sum, n uint
			low, high := uint8(255), uint8(0)
			for y := y0; y < y1; y += step {
				for _, v := range p.Pix[y*p.Width+x0 : (y+1)*p.Width] {
					sum, n = sum+uint(v), n+1
					low, high = min(low, v), max(high, v)
				}
			}
			b.mean[i], b.low[i], b.high[i] = uint8(sum/n), low, high
		}
	}
	return b
}

// lanes are the low bytes of four lanes of 16 bits, in which four codes are
// worked on at once.
const lanes = 0x00ff00ff00ff00ff

// block is the mean, the least and the most of eight pixels in each of some rows
// that begin so many bytes apart.
func block(pix []uint8, apart, rows int) (mean, low, high uint8) {
	sum, least, most := uint64(0), uint64(lanes), uint64(0)
	for y := range rows {
		eight := binary.LittleEndian.Uint64(pix[y*apart:])
		u, v := eight&lanes, eight>>8&lanes
		sum += u + v
		less := notLess(u, v)
		below, above := v&less|u&^less, u&less|v&^less
		less = notLess(least, below)
		least = below&less | least&^less
		less = notLess(above, most)
		most = above&less | most&^less
	}
	low, high = 255, 0
	total := uint64(0)
	for range 4 {
		total += sum & 0xffff
		low, high = min(low, uint8(least)), max(high, uint8(most))
		sum, least, most = sum>>16, least>>16, most>>16
	}
	return uint8(total / uint64(8*rows)), low, high
}

// notLess has 255 in the lanes in which a is not less than b, 0 in the others.
func notLess(a, b uint64) uint64 {
	const above = lanes / 255 << 8 // the bit above each low byte
	t := (a | above) - b&lanes
	t &= above
	return t - t>>8
}

// threshold is made of windows of blocks, in room where that is large enough.
func (b blocks) threshold(w way, room []uint8) threshold {
	t := threshold{cols: b.cols, cut: sized(room, len(b.mean))}
	reachX, reachY := w.reach, w.reach
	if w.reach == 0 {
		reachX, reachY = b.cols, b.rows
	}
	// A column's share of a window, and how many rows that is of.
	sums, lows, highs := make([]uint32, b.cols), make([]uint8, b.cols), make([]uint8, b.cols)
	for y := range b.rows {
		from, to := max(0, y-reachY), min(b.rows, y+reachY+1)
		if y > 0 && reachY >= b.rows { // every row has the same window
			copy(t.cut[y*b.cols:], t.cut[:b.cols])
			continue
		}
		for x := range sums {
			sums[x], lows[x], highs[x] = 0, 255, 0
		}
		for k := from; k < to; k++ {
			row := k * b.cols
			mean, low, high := b.mean[row:][:len(sums)], b.low[row:][:len(sums)], b.high[row:][:len(sums)]
			for x := range sums {
				sums[x] += uint32(mean[x])
				lows[x], highs[x] = min(lows[x], low[x]), max(highs[x], high[x])
			}
		}
		line := t.cut[y*b.cols:][:b.cols]
		s, l, h := uint32(0), uint8(255), uint8(0)
		for x := range line {
			if x > 0 && reachX >= b.cols {
				line[x] = line[0]
				continue
			}
			// A window is the last one less a column and with another; where what
			// leaves it was an extreme of it, all are looked at.
			left, right := max(0, x-reachX), min(b.cols, x+reachX+1)
			gone, come := x-reachX-1, x+reachX
			if x == 0 || gone >= 0 && (lows[gone] == l || highs[gone] == h) {
				s, l, h = 0, 255, 0
				for i := left; i < right; i++ {
					s += sums[i]
					l, h = min(l, lows[i]), max(h, highs[i])
				}
			} else {
				if gone >= 0 {
					s -= sums[gone]
				}
				if come < b.cols {
					s += sums[come]
					l, h = min(l, lows[come]), max(h, highs[come])
				}
			}
			spread := int(h) - int(l)
			switch {
			case spread < flatRange || spread*flatShare < int(h):
				line[x] = 0
			case w.middle:
				line[x] = uint8((int(l) + int(h) + 1) / 2)
			default:
				line[x] = uint8(s / uint32((right-left)*(to-from)))
			}
		}
	}
	return t
}
