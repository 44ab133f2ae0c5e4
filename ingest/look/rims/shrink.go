package rims

// A packed pixel holds red, green and blue in three fields of 21 bits, so that
// one addition or multiplication by a small number serves all three.
const (
	field  = 21
	fields = 1<<field - 1
	ones   = 1 | 1<<field | 1<<(2*field) // 1 in each field
)

// fraction is how many bits below the unit of 8-bit codes a plane keeps: with
// 5, blurring's weights of 256 just fit into a field.
const fraction = 5

// plane is a picture of packed pixels with fraction bits below the unit.
type plane struct {
	w, h int
	pix  []uint64
}

// span is the pixels that one cell of a smaller picture covers, and by how
// much of 64.
type span struct {
	first   int
	weights []uint64
}

// spans divides n pixels into m ≤ n cells of one size.
func spans(n, m int) []span {
	out := make([]span, m)
	for i := range out {
		// In units of 1/m of a pixel, cell i covers i·n to (i+1)·n.
		lo, hi := i*n, (i+1)*n
		s := span{first: lo / m}
		sum := uint64(0)
		for p := s.first; p*m < hi; p++ {
			part := min(hi, (p+1)*m) - max(lo, p*m)
			// Rounded so that the sum is 64 whatever the parts.
			upTo := uint64((64*(max(lo, p*m)+part-lo) + n/2) / n)
			s.weights = append(s.weights, upTo-sum)
			sum = upTo
		}
		out[i] = s
	}
	return out
}

// shrink averages p down to the given long side, never up.
func shrink(p Picture, side int) plane {
	w, h := p.Width, p.Height
	if long := max(w, h); long > side {
		scaled := func(n int) int { return max(1, (n*side+long/2)/long) }
		w, h = scaled(w), scaled(h)
	}
	out := plane{w, h, make([]uint64, w*h)}
	if w == p.Width && h == p.Height {
		for i := range out.pix {
			q := p.Pix[4*i : 4*i+3 : 4*i+3]
			out.pix[i] = (uint64(q[0]) | uint64(q[1])<<field | uint64(q[2])<<(2*field)) << fraction
		}
		return out
	}
	xs, ys := spans(p.Width, w), spans(p.Height, h)
	packed := make([]uint64, p.Width)
	sums := make([]uint64, w) // 8 bits and 6 of the weights, as many rows as weigh 64
	row := make([]uint64, w)
	held := -1 // the row of p in row
	const half, mask = ones << 6, (fields >> 7) * ones
	for y, s := range ys {
		clear(sums)
		for k, wy := range s.weights {
			if wy == 0 {
				continue
			}
			if from := s.first + k; from != held {
				held = from
				src := p.Pix[4*p.Width*from:][:4*p.Width]
				for x := range packed {
					q := src[4*x : 4*x+3 : 4*x+3]
					packed[x] = uint64(q[0]) | uint64(q[1])<<field | uint64(q[2])<<(2*field)
				}
				for x := range row {
					t := &xs[x]
					var sum uint64
					for i, q := range packed[t.first : t.first+len(t.weights)] {
						sum += q * t.weights[i]
					}
					row[x] = sum
				}
			}
			for x, q := range row {
				sums[x] += q * wy
			}
		}
		line := out.pix[y*w:][:w]
		for x, q := range sums { // 8 + 12 bits down to 8 + 5
			line[x] = (q + half) >> 7 & mask
		}
	}
	return out
}

// halved is the mean of each two by two pixels.
func (p plane) halved() plane {
	out := plane{p.w / 2, p.h / 2, make([]uint64, (p.w/2)*(p.h/2))}
	const round, mask = ones << 1, (fields >> 2) * ones
	for y := range out.h {
		a, b := p.pix[2*y*p.w:][:p.w], p.pix[(2*y+1)*p.w:][:p.w]
		line := out.pix[y*out.w:][:out.w]
		for x := range line {
			line[x] = (a[2*x] + a[2*x+1] + b[2*x] + b[2*x+1] + round) >> 2 & mask
		}
	}
	return out
}

// blurred smooths by the binomial weights 1 8 28 56 70 56 28 8 1, whose
// deviation is √2 pixels, both ways; what lies beyond an edge repeats it. The
// result has 8 bits more below the unit.
func (p plane) blurred() plane {
	w, h := p.w, p.h
	const round, mask = ones << 7, (fields >> 8) * ones
	tmp := make([]uint64, w*h)
	pad := make([]uint64, w+8)
	for y := range h {
		row := p.pix[y*w:][:w]
		copy(pad[4:], row)
		for i := range 4 {
			pad[i], pad[w+4+i] = row[0], row[w-1]
		}
		out := tmp[y*w:][:w]
		for x := range out {
			q := pad[x : x+9 : x+9]
			out[x] = (70*q[4] + 56*(q[3]+q[5]) + 28*(q[2]+q[6]) + 8*(q[1]+q[7]) + q[0] + q[8] + round) >> 8 & mask
		}
	}
	blur := plane{w, h, make([]uint64, w*h)}
	at := func(y int) []uint64 { return tmp[min(h-1, max(0, y))*w:][:w] }
	for y := range h {
		a, b, c, d, e := at(y-4), at(y-3), at(y-2), at(y-1), at(y)
		f, g, i, j := at(y+1), at(y+2), at(y+3), at(y+4)
		out := blur.pix[y*w:][:w]
		for x := range out {
			out[x] = 70*e[x] + 56*(d[x]+f[x]) + 28*(c[x]+g[x]) + 8*(b[x]+i[x]) + a[x] + j[x]
		}
	}
	return blur
}
