package rehearsal

import (
	"image"
	"math"
)

// darkroom makes pictures one after another and keeps its trays.
type darkroom struct {
	cover       cover
	sharp, soft picture
	reach, luma []float32
}

// develop photographs sc and returns the picture as it is stored. It is drawn
// at half the size and enlarged, with the grain of the sensor laid over at
// full size: what a lens of ordinary sharpness gives.
func (d *darkroom) develop(sc *scene, e exposure) *image.YCbCr {
	l := lensOf(e, e.width, e.height) // the fine grid has the pixels of the file
	d.cover.paint(sc, &l, &d.sharp)
	half := l
	half.blur /= 2
	d.defocus(&half)
	img := d.print(e)
	if e.hold == turned {
		img = quarterTurn(img)
	}
	return img
}

// defocus spreads each pixel of sharp by the circle of its depth into soft.
// A pixel gathers from its neighbours those whose circle reaches it.
func (d *darkroom) defocus(l *lens) {
	in, out := &d.sharp, &d.soft
	w, h := in.w, in.h
	out.size(w, h)
	if cap(d.reach) < w*h {
		d.reach = make([]float32, w*h)
	}
	reach := d.reach[:w*h]
	limit := float32(w) / 36
	for i, z := range in.depth {
		reach[i] = min(float32(l.circle(float64(z)))/2, limit) // radius
	}
	// The widest circle in the neighbourhood of each tile bounds its search.
	const tile = 8
	tw, th := (w+tile-1)/tile, (h+tile-1)/tile
	widest := make([]float32, tw*th)
	for y := range h {
		for x := range w {
			k := y/tile*tw + x/tile
			widest[k] = max(widest[k], reach[y*w+x])
		}
	}
	near := make([]float32, tw*th)
	for y := range th {
		for x := range tw {
			top := widest[y*tw+x]
			for v := max(y-3, 0); v <= min(y+3, th-1); v++ {
				for u := max(x-3, 0); u <= min(x+3, tw-1); u++ {
					away := float32(tile * (max(abs(u-x), abs(v-y)) - 1))
					if r := widest[v*tw+u]; r > away {
						top = max(top, r)
					}
				}
			}
			near[y*tw+x] = top
		}
	}
	for y := range h {
		for x := range w {
			i := y*w + x
			radius := near[y/tile*tw+x/tile]
			if radius < 0.8 {
				out.rgb[i] = in.rgb[i]
				continue
			}
			spiral := spirals[min(int(radius*0.7), len(spirals)-1)]
			here, z := reach[i], in.depth[i]
			sum := in.rgb[i]
			total := float32(1)
			if here > 0.5 {
				total = 1 / (1 + 0.4*here)
				for j := range sum {
					sum[j] *= total
				}
			}
			for _, p := range spiral {
				dist := p.r * radius
				sx, sy := x+int(p.x*radius+256.5)-256, y+int(p.y*radius+256.5)-256
				if uint(sx) >= uint(w) || uint(sy) >= uint(h) {
					continue
				}
				k := sy*w + sx
				r := reach[k]
				if in.depth[k] > z+4 {
					r = min(r, here) // what is behind doesn't spread over what is in front
				}
				wt := clamp32(r-dist+0.5, 0, 1)
				if wt == 0 {
					continue
				}
				wt *= radius * radius / (r*r + 0.5) * 0.5
				if wt > 4 {
					wt = 4
				}
				c := &in.rgb[k]
				sum[0] += wt * c[0]
				sum[1] += wt * c[1]
				sum[2] += wt * c[2]
				total += wt
			}
			q := 1 / total
			out.rgb[i] = [3]float32{sum[0] * q, sum[1] * q, sum[2] * q}
		}
	}
}

func abs(v int) int { return max(v, -v) }

// clamp32 is written out, since min and max also look for NaN and signed
// zeros, which took a fifteenth of all the time.
func clamp32(v, lo, hi float32) float32 {
	if v < lo {
		return lo
	}
	if v > hi {
		return hi
	}
	return v
}

type spoke struct{ x, y, r float32 }

// spirals are points evenly spread over the unit disc, more for wider ones.
var spirals = func() [][]spoke {
	var all [][]spoke
	for n := 8; n <= 32; n += 4 {
		var s []spoke
		for i := range n {
			r := math.Sqrt((float64(i) + 0.5) / float64(n))
			sin, cos := math.Sincos(float64(i) * math.Pi * (3 - math.Sqrt(5))) // the golden angle
			s = append(s, spoke{float32(r * cos), float32(r * sin), float32(r)})
		}
		all = append(all, s)
	}
	return all
}()

// tone is the sRGB curve with a soft shoulder and a little contrast, by light
// times toneSteps, 8-bit values kept as fractions.
const toneSteps = 2048

var tone = func() [2*toneSteps + 1]float32 {
	var t [2*toneSteps + 1]float32
	for i := range t {
		v := float64(i) / toneSteps
		if v > 0.6 {
			v = 0.6 + 0.4*(1-math.Exp(-(v-0.6)/0.4))
		}
		g := 12.92 * v
		if v > 0.0031308 {
			g = 1.055*math.Pow(v, 1/2.4) - 0.055
		}
		g += 0.16 * g * (1 - g) * (2*g - 1) // contrast about the middle
		t[i] = float32(255 * g)
	}
	return t
}()

// print turns soft into the picture of the file, upright: exposure, falloff
// to the corners, the tone curve, twice the size, grain.
func (d *darkroom) print(e exposure) *image.YCbCr {
	in := &d.soft
	w, h := in.w, in.h
	if cap(d.luma) < w*h {
		d.luma = make([]float32, w*h)
	}
	luma := d.luma[:w*h]
	img := image.NewYCbCr(image.Rect(0, 0, 2*w, 2*h), image.YCbCrSubsampleRatio420)
	gain := float32(0.47 * math.Pow(2, e.stops) * toneSteps)
	corner := 1 / float32(w*w+h*h) * 4
	look := func(v float32) float32 {
		return tone[int(clamp32(v, 0, 2*toneSteps))]
	}
	for y := range h {
		dy := float32(y) - float32(h)/2
		for x := range w {
			dx := float32(x) - float32(w)/2
			fall := (dx*dx + dy*dy) * corner
			g := gain * (1 - 0.30*fall*(0.4+0.6*fall))
			i := y*w + x
			c := in.rgb[i]
			r, gr, b := look(c[0]*g), look(c[1]*g), look(c[2]*g)
			// JFIF: the luma and colour differences of BT.601 in full range.
			luma[i] = 0.299*r + 0.587*gr + 0.114*b
			k := y*img.CStride + x
			img.Cb[k] = uint8(clamp32(128.5-0.168736*r-0.331264*gr+0.5*b, 0, 255))
			img.Cr[k] = uint8(clamp32(128.5+0.5*r-0.418688*gr-0.081312*b, 0, 255))
		}
	}
	seed := dice(e.seed * 7919)
	for y := range h {
		for k := range 2 {
			// Rows at a quarter above and below the middle of the coarse row.
			o := 2*k - 1
			y0, y1, y2 := y*w, clampInt(y+o, 0, h-1)*w, clampInt(y-o, 0, h-1)*w
			row := img.Y[(2*y+k)*img.YStride:]
			var bits uint64
			at := func(x int) float32 { // sharpened a little against the enlargement
				return 0.86*luma[y0+x] + 0.29*luma[y1+x] - 0.15*luma[y2+x]
			}
			prev, here := at(0), at(0)
			for x := range w {
				next := here
				if x+1 < w {
					next = at(x + 1)
				}
				if x&3 == 0 {
					bits = seed.next()
				}
				a := 0.86*here + 0.29*prev - 0.15*next
				b := 0.86*here + 0.29*next - 0.15*prev
				// Two dice a pixel: a triangular spread, wider in the shade.
				strength := (1.5 + (255-here)*0.006) / 128
				na := float32(int(bits&255)+int(bits>>8&255)-255) * strength
				nb := float32(int(bits>>16&255)+int(bits>>24&255)-255) * strength
				bits = bits>>16 | bits<<48
				row[2*x] = uint8(clamp32(a+na+0.5, 0, 255))
				row[2*x+1] = uint8(clamp32(b+nb+0.5, 0, 255))
				prev, here = here, next
			}
		}
	}
	return img
}

func clampInt(v, lo, hi int) int { return min(max(v, lo), hi) }

// quarterTurn stores an upright picture lying down, so that orientation 6
// brings it back: its first row is the right-hand side of what is seen.
func quarterTurn(img *image.YCbCr) *image.YCbCr {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	out := image.NewYCbCr(image.Rect(0, 0, h, w), image.YCbCrSubsampleRatio420)
	plane := func(dst, src []uint8, ds, ss, w, h int) {
		for y := range w {
			row := dst[y*ds : y*ds+h]
			for x := range row {
				row[x] = src[x*ss+w-1-y]
			}
		}
	}
	plane(out.Y, img.Y, out.YStride, img.YStride, w, h)
	plane(out.Cb, img.Cb, out.CStride, img.CStride, w/2, h/2)
	plane(out.Cr, img.Cr, out.CStride, img.CStride, w/2, h/2)
	return out
}
