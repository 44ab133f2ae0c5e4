package look

import (
	"image"
	"image/color"
	"image/draw"
	"math"
)

// light is a picture in linear light: RGB of the picture's own space, each
// 0 … 1, row by row, as stored (not yet upright). Each of its cells is the mean
// of the light that fell on a rectangle of the original's pixels.
type light struct {
	width, height int
	pix           [][3]float32
	cols, rows    []int // how many pixels of the original each column and row covers

	clips clips
}

// clips counts clipped pixels in the cells of the focus grid, on the codes of
// the pixels that were decoded, before any are averaged: the mean of a burnt
// pixel and its neighbour is no longer white.
type clips struct {
	cols, rows int
	cell       []clipped  // row by row from the top
	high, low  [3]float64 // of the whole picture: share of pixels clipped high and low, by channel
}

// clipped is the pixels of a cell.
type clipped struct {
	n           uint64    // all of them
	high        [3]uint64 // clipped high, by channel
	any, allLow uint64    // clipped high in any channel, low in all
}

// upright turns the grid as the picture is seen.
func (c clips) upright(orientation int) clips {
	c.cell, c.cols, c.rows = upright(c.cell, c.cols, c.rows, orientation)
	return c
}

// one is full light in the integers that gather sums takes. 24 bits keep the
// darkest step of 8-bit sRGB, 1/3295 of full light, to four digits.
const one = 1 << 24

// Codes that count as clipped. A JPEG's rounding and its chroma spread a burnt
// area over 254 and 255, and black over 0 and 1 (common practice, no source).
const (
	clippedHigh = 254 // and above
	clippedLow  = 1   // and below
)

// A table entry of rowsOfYCbCr and rowsOfRGBA holds the light of a code and,
// above it, whether that code is clipped: one addition then sums the light and
// counts the clipped pixels. Runs are cut so that no field spills into the
// next: maxRun · one is 1<<35.
const (
	highAt = 36
	lowAt  = 48
	maxRun = 1 << 11

	lightMask = 1<<highAt - 1
	countMask = 1<<12 - 1
)

// marked is the table entry of one 8-bit code and its light.
func marked(code int, light uint32) uint64 {
	v := uint64(light)
	if code >= clippedHigh {
		v |= 1 << highAt
	}
	if code <= clippedLow {
		v |= 1 << lowAt
	}
	return v
}

// tally sums the pixels of one cell.
type tally struct {
	light           [3]uint64 // units of one
	high, low       [3]uint64 // pixels clipped, by channel
	anyHigh, allLow uint64    // pixels clipped high in any channel, low in all
}

// add takes a run of at most maxRun pixels: its sums of table entries by
// channel, and the sum of the marks that any channel had high and all had low.
func (t *tally) add(r, g, b, marks uint64) {
	for c, v := range [3]uint64{r, g, b} {
		t.light[c] += v & lightMask
		t.high[c] += v >> highAt & countMask
		t.low[c] += v >> lowAt & countMask
	}
	t.anyHigh += marks >> highAt & countMask
	t.allLow += marks >> lowAt & countMask
}

// marksOf is what add's marks sums: the mark high if any of a pixel's entries
// has it, the mark low if all have.
func marksOf(r, g, b uint64) uint64 {
	return (r|g|b)&(1<<highAt) | r&g&b&(1<<lowAt)
}

// gather brings the part of img within rect to linear light and averages it
// down so that its long side has about long cells: at least long and less than
// twice that, or all its pixels where it has fewer. Pictures of 16 bits a channel
// are read in all of them.
//
// The mean must be of light, not of codes: the mean of a black and a white
// pixel is a grey of code 188 in sRGB, not 128.
func gather(img image.Image, rect image.Rectangle, curve *curves, long int, studio bool) light {
	w, h := rect.Dx(), rect.Dy()
	k := max(1, max(w, h)/long)
	l := light{width: max(1, w/k), height: max(1, h/k)}
	xs, ys := cells(w, l.width), cells(h, l.height)
	l.cols, l.rows = widths(xs), widths(ys)
	l.pix = make([][3]float32, l.width*l.height)
	l.clips.cols, l.clips.rows = gridOf(fit(l.width, l.height, planesSide))
	l.clips.cell = make([]clipped, l.clips.cols*l.clips.rows)
	columnOf, rowOf := placesIn(l.width, l.clips.cols), placesIn(l.height, l.clips.rows)

	if m, ok := img.(*image.YCbCr); ok && k == 1 {
		l.fillEach(m, rect, curve, studio, columnOf, rowOf)
		return l
	}
	var addRow func(y int, sums []tally)
	switch m := img.(type) {
	case *image.YCbCr:
		addRow = rowsOfYCbCr(m, rect, xs, curve, studio)
	case *image.Gray:
		addRow = rowsOfYCbCr(greyAsYCbCr(m), rect, xs, curve, false)
	case *image.RGBA:
		if !m.Opaque() {
			m = onWhite(m, rect)
		}
		addRow = rowsOfRGBA(m, rect, xs, curve)
	case *image.NYCbCrA:
		addRow = rowsOfRGBA(nycbcraOnWhite(m, rect, studio), rect, xs, curve)
	case *image.Gray16:
		addRow = rowsOfDeep(deep{m.Pix, m.Stride, m.Rect, 2, [3]int{}}, rect, xs, curve)
	case *image.RGBA64:
		if !m.Opaque() {
			m = deepOnWhite(m, rect)
		}
		addRow = rowsOfDeep(deepRGB(m), rect, xs, curve)
	case *image.NRGBA64:
		if m.Opaque() { // and so laid out like RGBA64
			addRow = rowsOfDeep(deepRGB(&image.RGBA64{Pix: m.Pix, Stride: m.Stride, Rect: m.Rect}), rect, xs, curve)
		} else {
			addRow = rowsOfDeep(deepRGB(deepOnWhite(m, rect)), rect, xs, curve)
		}
	default:
		addRow = rowsOfRGBA(onWhite(m, rect), rect, xs, curve)
	}

	sums := make([]tally, l.width)
	var high, low [3]uint64
	for cy := range l.height {
		clear(sums)
		for y := ys[cy]; y < ys[cy+1]; y++ {
			addRow(rect.Min.Y+y, sums)
		}
		out := l.pix[cy*l.width:][:l.width]
		clips := l.clips.cell[rowOf[cy]*l.clips.cols:][:l.clips.cols]
		for cx := range sums {
			s := &sums[cx]
			n := uint64(l.cols[cx] * l.rows[cy])
			for c := range s.light {
				out[cx][c] = float32(float64(s.light[c]) / (float64(n) * one))
				high[c] += s.high[c]
				low[c] += s.low[c]
			}
			c := &clips[columnOf[cx]]
			c.n += n
			if s.anyHigh|s.allLow != 0 {
				c.any += s.anyHigh
				c.allLow += s.allLow
				for i, k := range s.high {
					c.high[i] += k
				}
			}
		}
	}
	for c := range high {
		l.clips.high[c], l.clips.low[c] = float64(high[c])/float64(w*h), float64(low[c])/float64(w*h)
	}
	return l
}

// single is the light of one code, 0 … 1, and its marks.
type single struct {
	light float32
	marks uint32 // those of marked, from highAt on
}

// singles are the entries of a table of curves.clamped for pixels that are not
// summed.
func singles(t *[1024]uint64) *[1024]single {
	s := new([1024]single)
	for i, v := range t {
		s[i] = single{float32(v&lightMask) / one, uint32(v >> highAt)}
	}
	return s
}

// fillEach is the rest of gather where each pixel is a cell of its own: the same
// numbers, without a sum of one.
func (l *light) fillEach(m *image.YCbCr, rect image.Rectangle, curve *curves, studio bool, columnOf, rowOf []int) {
	mat := newMatrix(studio)
	tableR, tableG, tableB := curve.clamped()
	lightR := singles(tableR)
	lightG, lightB := lightR, lightR
	if tableG != tableR {
		lightG, lightB = singles(tableG), singles(tableB)
	}
	sx, _ := shifts(m)
	x0, w := rect.Min.X, l.width
	cx0 := x0 >> sx
	n := (x0+w-1)>>sx - cx0 + 1
	for y := range l.height {
		yo, co := m.YOffset(x0, rect.Min.Y+y), m.COffset(x0, rect.Min.Y+y)
		ys, cb, cr := m.Y[yo:yo+w], m.Cb[co:co+n], m.Cr[co:co+n]
		out := l.pix[y*w:][:w]
		clips := l.clips.cell[rowOf[y]*l.clips.cols:][:l.clips.cols]
		for x := range out {
			i := (x0+x)>>sx - cx0
			yy, u, v := mat.y[ys[x]], cb[i], cr[i]
			pr := lightR[((yy+mat.crR[v])>>16+clampMargin)&1023]
			pg := lightG[((yy+mat.cbG[u]+mat.crG[v])>>16+clampMargin)&1023]
			pb := lightB[((yy+mat.cbB[u])>>16+clampMargin)&1023]
			out[x] = [3]float32{pr.light, pg.light, pb.light}
			if pr.marks|pg.marks|pb.marks == 0 {
				continue
			}
			marked := [3]uint64{uint64(pr.marks) << highAt, uint64(pg.marks) << highAt, uint64(pb.marks) << highAt}
			var t tally
			t.add(marked[0], marked[1], marked[2], marksOf(marked[0], marked[1], marked[2]))
			c := &clips[columnOf[x]]
			c.any += t.anyHigh
			c.allLow += t.allLow
			for k := range t.high {
				if t.anyHigh|t.allLow != 0 {
					c.high[k] += t.high[k]
				}
				l.clips.high[k] += float64(t.high[k])
				l.clips.low[k] += float64(t.low[k])
			}
		}
	}
	for k := range l.clips.high {
		l.clips.high[k] /= float64(w * l.height)
		l.clips.low[k] /= float64(w * l.height)
	}
	across, down := widths(cells(w, l.clips.cols)), widths(cells(l.height, l.clips.rows))
	for k := range l.clips.cell {
		l.clips.cell[k].n = uint64(across[k%l.clips.cols] * down[k/l.clips.cols])
	}
}

// cells divides n pixels into parts that differ by a pixel at most, and
// returns where each begins and the last ends.
func cells(n, parts int) []int {
	b := make([]int, parts+1)
	for i := range b {
		b[i] = i * n / parts
	}
	return b
}

// placesIn tells of each of n pixels in which of so many parts it lies.
func placesIn(n, parts int) []int {
	in := make([]int, n)
	for i, bounds := 0, cells(n, parts); i < parts; i++ {
		for x := bounds[i]; x < bounds[i+1]; x++ {
			in[x] = i
		}
	}
	return in
}

func widths(bounds []int) []int {
	w := make([]int, len(bounds)-1)
	for i := range w {
		w[i] = bounds[i+1] - bounds[i]
	}
	return w
}

// matrix turns Y, Cb and Cr into R, G and B, all in 16.16 fixed point. The
// tables hold one product each, so that a pixel costs additions alone.
type matrix struct {
	y, crR, crG, cbG, cbB [256]int32
}

// newMatrix is ITU-R BT.601's, over the full range of codes as JFIF (ITU-T
// T.871 section 7) has it, or over the studio range 16 … 235 that VP8 (RFC 6386
// section 9.2) and so lossy WebP keeps to, where golang.org/x/image hands the
// codes on as if they were JFIF's.
func newMatrix(studio bool) *matrix {
	ys, cs, y0 := 1.0, 1.0, 0.0
	if studio {
		ys, cs, y0 = 255.0/219, 255.0/224, 16.0
	}
	const (
		kr, kb = 0.299, 0.114
		kg     = 1 - kr - kb
	)
	m := new(matrix)
	for i := range 256 {
		fix := func(v float64) int32 { return int32(math.Round(v * (1 << 16))) }
		c := cs * (float64(i) - 128)
		m.y[i] = fix(ys*(float64(i)-y0) + 0.5) // the half rounds what >> 16 cuts
		m.crR[i] = fix(2 * (1 - kr) * c)
		m.crG[i] = fix(-2 * (1 - kr) * kr / kg * c)
		m.cbG[i] = fix(-2 * (1 - kb) * kb / kg * c)
		m.cbB[i] = fix(2 * (1 - kb) * c)
	}
	return m
}

// clampMargin is how far below 0 and above 255 a converted code may lie. The
// farthest is studio blue: 1.164·(0−16) − 2.017·128 = −277.
const clampMargin = 384

// clamped gives for each channel what marked makes of the codes −clampMargin …
// 1023−clampMargin: one table where the channels are alike, which stays nearer to
// the processor than three.
func (c *curves) clamped() (r, g, b *[1024]uint64) {
	table := func(light *[256]uint32) *[1024]uint64 {
		t := new([1024]uint64)
		for i := range t {
			code := min(255, max(0, i-clampMargin))
			t[i] = marked(code, light[code])
		}
		return t
	}
	r = table(&c.light[0])
	if c.light[1] == c.light[0] && c.light[2] == c.light[0] {
		return r, r, r
	}
	return r, table(&c.light[1]), table(&c.light[2])
}

// shifts says by how much the chroma planes of m are thinner, as powers of two.
func shifts(m *image.YCbCr) (sx, sy int) {
	switch m.SubsampleRatio {
	case image.YCbCrSubsampleRatio422:
		return 1, 0
	case image.YCbCrSubsampleRatio420:
		return 1, 1
	case image.YCbCrSubsampleRatio440:
		return 0, 1
	case image.YCbCrSubsampleRatio411:
		return 2, 0
	case image.YCbCrSubsampleRatio410:
		return 2, 1
	}
	return 0, 0
}

// rowsOfYCbCr returns a function that adds the light of the pixels of row y to
// the cells that they fall into.
func rowsOfYCbCr(m *image.YCbCr, rect image.Rectangle, xs []int, curve *curves, studio bool) func(int, []tally) {
	mat := newMatrix(studio)
	lightR, lightG, lightB := curve.clamped()
	sx, _ := shifts(m)
	x0 := rect.Min.X
	cx0 := x0 >> sx // of the first chroma sample of the row
	w := rect.Dx()
	return func(y int, sums []tally) {
		yo, co := m.YOffset(x0, y), m.COffset(x0, y)
		ys := m.Y[yo : yo+w]
		n := (x0+w-1)>>sx - cx0 + 1
		cb, cr := m.Cb[co:co+n], m.Cr[co:co+n]
		for i := range sums {
			for from := xs[i]; from < xs[i+1]; from += maxRun {
				var r, g, b, marks uint64
				for x := from; x < min(from+maxRun, xs[i+1]); x++ {
					c := (x0+x)>>sx - cx0
					yy, u, v := mat.y[ys[x]], cb[c], cr[c]
					pr := lightR[((yy+mat.crR[v])>>16+clampMargin)&1023]
					pg := lightG[((yy+mat.cbG[u]+mat.crG[v])>>16+clampMargin)&1023]
					pb := lightB[((yy+mat.cbB[u])>>16+clampMargin)&1023]
					r, g, b = r+pr, g+pg, b+pb
					marks += marksOf(pr, pg, pb)
				}
				sums[i].add(r, g, b, marks)
			}
		}
	}
}

// rowsOfRGBA is rowsOfYCbCr for an opaque picture in RGB.
func rowsOfRGBA(m *image.RGBA, rect image.Rectangle, xs []int, curve *curves) func(int, []tally) {
	var light [3][256]uint64
	for channel := range light {
		for code := range light[channel] {
			light[channel][code] = marked(code, curve.light[channel][code])
		}
	}
	return func(y int, sums []tally) {
		p := m.Pix[m.PixOffset(rect.Min.X, y):]
		for i := range sums {
			for from := xs[i]; from < xs[i+1]; from += maxRun {
				var r, g, b, marks uint64
				for x := from; x < min(from+maxRun, xs[i+1]); x++ {
					q := p[4*x : 4*x+3 : 4*x+3]
					pr, pg, pb := light[0][q[0]], light[1][q[1]], light[2][q[2]]
					r, g, b = r+pr, g+pg, b+pb
					marks += marksOf(pr, pg, pb)
				}
				sums[i].add(r, g, b, marks)
			}
		}
	}
}

// greyAsYCbCr is the grey picture with chroma planes of one neutral row that
// serves all, so that grey costs no memory and no code of its own.
func greyAsYCbCr(m *image.Gray) *image.YCbCr {
	neutral := make([]uint8, m.Rect.Dx())
	for i := range neutral {
		neutral[i] = 128
	}
	return &image.YCbCr{Y: m.Pix, Cb: neutral, Cr: neutral, YStride: m.Stride, CStride: 0, SubsampleRatio: image.YCbCrSubsampleRatio444, Rect: m.Rect}
}

// onWhite lays any picture on white paper, 8 bits a channel. CMYK becomes RGB
// by the plain rule of image/color: which inks it meant is not known here.
func onWhite(img image.Image, rect image.Rectangle) *image.RGBA {
	dst := image.NewRGBA(rect)
	draw.Draw(dst, rect, image.White, image.Point{}, draw.Src)
	draw.Draw(dst, rect, img, rect.Min, draw.Over)
	return dst
}

// nycbcraOnWhite is onWhite for lossy WebP with transparency, whose codes are
// of the studio range.
func nycbcraOnWhite(m *image.NYCbCrA, rect image.Rectangle, studio bool) *image.RGBA {
	mat := newMatrix(studio)
	dst := image.NewRGBA(rect)
	code := func(v int32, a uint32) uint8 {
		c := uint32(min(255, max(0, v>>16)))
		return uint8((c*a + 255*(255-a) + 127) / 255)
	}
	for y := rect.Min.Y; y < rect.Max.Y; y++ {
		for x := rect.Min.X; x < rect.Max.X; x++ {
			c := m.COffset(x, y)
			yy, u, v, a := mat.y[m.Y[m.YOffset(x, y)]], m.Cb[c], m.Cr[c], uint32(m.A[m.AOffset(x, y)])
			dst.SetRGBA(x, y, color.RGBA{
				R: code(yy+mat.crR[v], a),
				G: code(yy+mat.cbG[u]+mat.crG[v], a),
				B: code(yy+mat.cbB[u], a),
				A: 255,
			})
		}
	}
	return dst
}
