package scaled

// sample is the mean of a block as a sample, from its first coefficient: that is
// 8 times the mean (T.81, A.3.3), and samples are shifted by 128 (A.3.1).
func sample(dc int32) byte { return clamp((dc+4)>>3 + 128) }

func clamp(v int32) byte {
	if uint32(v) < 256 {
		return byte(v)
	}
	if v < 0 {
		return 0
	}
	return 255
}

// inverse2 is the inverse transform of the lowest 2 × 2 frequencies to 2 × 2
// samples: the two-point DCT of A.3.3's kind, whose cosines are all ±1/√2, and
// whose scale against that of 8 points leaves an eighth. low is in zigzag order:
// 1 is the first across, 2 the first down, 4 both.
func inverse2(dc int32, low *[5]int32, out []byte, stride int) {
	a, b := dc+4+128<<3, low[1]
	c, e := low[2], low[4]
	_ = out[stride+1]
	out[0], out[1] = clamp((a+b+c+e)>>3), clamp((a-b+c-e)>>3)
	out[stride], out[stride+1] = clamp((a+b-c-e)>>3), clamp((a-b-c+e)>>3)
}

// The four-point DCT has the cosines of π/8 and 3π/8; times √2, in 2^13.
const (
	cos1 = 10703 // √2 cos π/8 = 1.306563
	cos3 = 4433  // √2 cos 3π/8 = 0.541196
)

// natural gives the place in zigzag order of each of the lowest 4 × 4, row by
// row (T.81, figure A.6).
var natural = [16]uint8{0, 1, 5, 6, 2, 4, 7, 13, 3, 8, 12, 17, 9, 11, 18, 24}

// inverse4 is the inverse transform of the lowest 4 × 4 frequencies to 4 × 4
// samples: rows, then columns, each a four-point DCT; the scale against that of
// 8 points leaves a quarter in each direction once the √2 are taken together.
func inverse4(low *[25]int32, out []byte, stride int) {
	var mid [16]int32
	for r := 0; r < 16; r += 4 {
		a, b, c, e := low[natural[r]], low[natural[r+1]], low[natural[r+2]], low[natural[r+3]]
		if b|c|e == 0 {
			v := a << 2
			mid[r], mid[r+1], mid[r+2], mid[r+3] = v, v, v, v
			continue
		}
		even, odd := (a+c)<<13, (a-c)<<13
		far, near := b*cos1+e*cos3, b*cos3-e*cos1
		mid[r], mid[r+3] = (even+far+1<<10)>>11, (even-far+1<<10)>>11
		mid[r+1], mid[r+2] = (odd+near+1<<10)>>11, (odd-near+1<<10)>>11
	}
	for x := range 4 {
		a, b, c, e := mid[x], mid[4+x], mid[8+x], mid[12+x]
		even, odd := (a+c)<<13, (a-c)<<13
		far, near := b*cos1+e*cos3, b*cos3-e*cos1
		const half = 1<<17 + 128<<18
		out[x], out[3*stride+x] = clamp((even+far+half)>>18), clamp((even-far+half)>>18)
		out[stride+x], out[2*stride+x] = clamp((odd+near+half)>>18), clamp((odd-near+half)>>18)
	}
}
