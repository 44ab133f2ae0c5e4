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
func inverse2(low *[64]int32, out []byte, stride int) {
	a, b := low[0]+4+128<<3, low[1]
	c, e := low[2], low[4]
	down := out[stride : stride+2]
	out[0], out[1] = clamp((a+b+c+e)>>3), clamp((a-b+c-e)>>3)
	down[0], down[1] = clamp((a+b-c-e)>>3), clamp((a-b-c+e)>>3)
}

// The four-point DCT has the cosines of π/8 and 3π/8; times √2, in 2^13.
const (
	cos1 = 10703 // √2 cos π/8 = 1.306563
	cos3 = 4433  // √2 cos 3π/8 = 0.541196
)

// inverse4 is the inverse transform of the lowest 4 × 4 frequencies, low in
// zigzag order (T.81, figure A.6), to 4 × 4 samples: rows, then columns, each a
// four-point DCT; the scale against that of 8 points leaves a quarter in each
// direction once the √2 are taken together.
func inverse4(low *[64]int32, out []byte, stride int) {
	var mid [16]int32
	row := func(to *[4]int32, a, b, c, e int32) {
		if b|c|e == 0 {
			*to = [4]int32{a << 2, a << 2, a << 2, a << 2}
			return
		}
		even, odd, far, near := butterfly(a, b, c, e)
		*to = [4]int32{(even + far + 1<<10) >> 11, (odd + near + 1<<10) >> 11, (odd - near + 1<<10) >> 11, (even - far + 1<<10) >> 11}
	}
	row((*[4]int32)(mid[0:4]), low[0], low[1], low[5], low[6])
	row((*[4]int32)(mid[4:8]), low[2], low[4], low[7], low[13])
	row((*[4]int32)(mid[8:12]), low[3], low[8], low[12], low[17])
	row((*[4]int32)(mid[12:16]), low[9], low[11], low[18], low[24])
	r0, r1 := (*[4]byte)(out), (*[4]byte)(out[stride:])
	r2, r3 := (*[4]byte)(out[2*stride:]), (*[4]byte)(out[3*stride:])
	for x := range 4 {
		even, odd, far, near := butterfly(mid[x], mid[4+x], mid[8+x], mid[12+x])
		const half = 1<<17 + 128<<18
		r0[x], r3[x] = clamp((even+far+half)>>18), clamp((even-far+half)>>18)
		r1[x], r2[x] = clamp((odd+near+half)>>18), clamp((odd-near+half)>>18)
	}
}

// butterfly is the four-point DCT of the frequencies a, b, c, e but for the last
// sums: the samples are even + far, odd + near, odd − near, even − far, times
// 2^13.
func butterfly(a, b, c, e int32) (even, odd, far, near int32) {
	return (a + c) << 13, (a - c) << 13, b*cos1 + e*cos3, b*cos3 - e*cos1
}
