package slate

import "math"

// Picture is a picture in grey as the eye has it: 8-bit codes, 0 black,
// Width × Height, row by row from the top.
type Picture struct {
	Width, Height int
	Pix           []uint8
}

// halved is p at half its size, each pixel the mean of four.
func (p Picture) halved() Picture {
	w, h := p.Width/2, p.Height/2
	out := Picture{Width: w, Height: h, Pix: make([]uint8, w*h)}
	for y := range h {
		a, b := p.Pix[2*y*p.Width:][:2*w], p.Pix[(2*y+1)*p.Width:][:2*w]
		line := out.Pix[y*w:][:w]
		for x := range line {
			line[x] = uint8((int(a[2*x]) + int(a[2*x+1]) + int(b[2*x]) + int(b[2*x+1]) + 2) / 4)
		}
	}
	return out
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

// sharpened is p with what a blur of its neighbours took off added again, by
// the given strength.
func (p Picture) sharpened(strength float64) Picture {
	out := Picture{Width: p.Width, Height: p.Height, Pix: make([]uint8, len(p.Pix))}
	copy(out.Pix, p.Pix)
	k := int(math.Round(strength * 16))
	const reach = 2 // pixels to each side
	for y := reach; y < p.Height-reach; y++ {
		for x := reach; x < p.Width-reach; x++ {
			i := y*p.Width + x
			round := int(p.Pix[i-reach]) + int(p.Pix[i+reach]) + int(p.Pix[i-reach*p.Width]) + int(p.Pix[i+reach*p.Width]) +
				int(p.Pix[i-1]) + int(p.Pix[i+1]) + int(p.Pix[i-p.Width]) + int(p.Pix[i+p.Width])
			v := int(p.Pix[i])
			out.Pix[i] = uint8(min(255, max(0, v+k*(8*v-round)/(8*16))))
		}
	}
	return out
}

// blockSide is how many pixels the blocks of a threshold are wide and high.
const blockSide = 8

// threshold parts dark from light: a pixel is dark that is below its block's.
type threshold struct {
	cols int
	cut  []uint8 // block by block; 0 where nothing is dark
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
	mean       []uint8
	low, high  []uint8
}

func blocksOf(p Picture) blocks {
	b := blocks{cols: (p.Width + blockSide - 1) / blockSide, rows: (p.Height + blockSide - 1) / blockSide}
	n := b.cols * b.rows
	room := make([]uint8, 3*n)
	b.mean, b.low, b.high = room[:n:n], room[n:2*n:2*n], room[2*n:]
	for by := range b.rows {
		for bx := range b.cols {
			x0, y0 := bx*blockSide, by*blockSide
			x1, y1 := min(p.Width, x0+blockSide), min(p.Height, y0+blockSide)
			var sum int
			low, high := uint8(255), uint8(0)
			for y := y0; y < y1; y++ {
				for _, v := range p.Pix[y*p.Width+x0 : y*p.Width+x1] {
					sum += int(v)
					low, high = min(low, v), max(high, v)
				}
			}
			i := by*b.cols + bx
			b.mean[i], b.low[i], b.high[i] = uint8(sum/((x1-x0)*(y1-y0))), low, high
		}
	}
	return b
}

func (b blocks) threshold(w way) threshold {
	t := threshold{cols: b.cols, cut: make([]uint8, len(b.mean))}
	reach := w.reach
	if reach == 0 {
		reach = max(b.cols, b.rows)
	}
	// Along the rows first, then along the columns: windows are rectangles.
	sums, lows, highs := make([]int, len(b.mean)), make([]uint8, len(b.mean)), make([]uint8, len(b.mean))
	for y := range b.rows {
		row := y * b.cols
		for x := range b.cols {
			from, to := max(0, x-reach), min(b.cols, x+reach+1)
			if reach >= b.cols && x > 0 {
				sums[row+x], lows[row+x], highs[row+x] = sums[row], lows[row], highs[row]
				continue
			}
			s, l, h := 0, uint8(255), uint8(0)
			for i := row + from; i < row+to; i++ {
				s += int(b.mean[i])
				l, h = min(l, b.low[i]), max(h, b.high[i])
			}
			sums[row+x], lows[row+x], highs[row+x] = s/(to-from), l, h
		}
	}
	for x := range b.cols {
		for y := range b.rows {
			i := y*b.cols + x
			if reach >= b.rows && y > 0 {
				t.cut[i] = t.cut[x]
				continue
			}
			from, to := max(0, y-reach), min(b.rows, y+reach+1)
			s, l, h := 0, uint8(255), uint8(0)
			for k := from; k < to; k++ {
				j := k*b.cols + x
				s += sums[j]
				l, h = min(l, lows[j]), max(h, highs[j])
			}
			spread := int(h) - int(l)
			switch {
			case spread < flatRange || spread*flatShare < int(h):
			case w.middle:
				t.cut[i] = uint8((int(l) + int(h) + 1) / 2)
			default:
				t.cut[i] = uint8(s / (to - from))
			}
		}
	}
	return t
}
