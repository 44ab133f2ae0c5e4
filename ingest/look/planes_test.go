package look

import (
	"image"
	"image/color"
	"math"
	"testing"

	"coverplate/colour"
)

// planesFrom is planes of an 8-bit sRGB picture.
func planesFrom(img image.Image, orientation, side int) planes {
	return gather(img, img.Bounds(), curveOf(colour.SRGB), pictureSide, false).planes(colour.SRGB, orientation, side)
}

// Every pixel of a line is shared out whole, and to neighbours alone.
func TestReachesShareEveryPixelOut(t *testing.T) {
	for _, c := range [][2]int{{1, 1}, {2, 1}, {3, 2}, {1500, 768}, {1024, 768}, {769, 768}, {2047, 640}, {7, 7}} {
		n, m := c[0], c[1]
		given := make([]float64, n)
		for i, r := range reaches(n, m) {
			var sum float64
			for k, w := range r.weights {
				if !(w > 0) {
					t.Errorf("%d to %d: part %d gives pixel %d weight %v", n, m, i, r.first+k, w)
				}
				given[r.first+k] += float64(w)
				sum += float64(w)
			}
			if !(math.Abs(sum-1) <= 1e-6) {
				t.Errorf("%d to %d: weights of part %d sum to %v", n, m, i, sum)
			}
		}
		for x, g := range given {
			if !(math.Abs(g-float64(m)/float64(n)) <= 1e-6) {
				t.Errorf("%d to %d: pixel %d counts %v, want %v", n, m, x, g, float64(m)/float64(n))
			}
		}
	}
}

// The mean of a picture is its mean whatever the size it is brought down to.
func TestPlanesKeepTheLight(t *testing.T) {
	const w, h = 1500, 1001
	img := paint(scene(w, h), w, h, toSelf, encodeSRGB)
	l := gather(img, img.Bounds(), curveOf(colour.SRGB), pictureSide, false)
	var want [3]float64
	for _, p := range l.pix {
		for c := range p {
			want[c] += float64(p[c]) / float64(len(l.pix))
		}
	}
	for _, side := range []int{planesSide, 640, 321, 7, 1} {
		p := l.planes(colour.SRGB, 1, side)
		if max(p.width, p.height) != side {
			t.Errorf("%d: planes of %d × %d", side, p.width, p.height)
		}
		for c, plane := range [][]float32{p.r, p.g, p.b} {
			var got float64
			for _, v := range plane {
				got += float64(v) / float64(len(plane))
			}
			if !(math.Abs(got-want[c]) <= 1e-5) {
				t.Errorf("side %d channel %d: mean %v, want %v", side, c, got, want[c])
			}
		}
	}
}

// Planes are the same light whatever space the file has: the scene of
// made_test in Adobe RGB and in Display P3 is the scene in sRGB.
func TestPlanesAreOfOneSpace(t *testing.T) {
	const w, h = 320, 240
	pix := scene(w, h)
	for _, c := range []struct {
		space  *colour.Space
		m      [3][3]float64
		encode func(float64) float64
	}{{colour.AdobeRGB, toAdobe, encodeAdobe}, {colour.DisplayP3, toP3, encodeSRGB}} {
		img := paint(pix, w, h, c.m, c.encode)
		p := gather(img, img.Bounds(), curveOf(c.space), pictureSide, false).planes(c.space, 1, planesSide)
		for i, want := range pix {
			for ch, got := range []float32{p.r[i], p.g[i], p.b[i]} {
				// Half a code at the brightest is 0.0045 of light.
				if !(math.Abs(float64(got)-want[ch]) <= 0.006) {
					t.Fatalf("%s: pixel %d channel %d is %v, want %v", c.space.Name(), i, ch, got, want[ch])
				}
			}
		}
	}
}

// Upright planes have the stored corner where Exif's orientation puts it, the
// clipped pixels with it.
func TestPlanesAreUpright(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 1200, 900))
	for i := range img.Pix {
		img.Pix[i] = 90
		if i%4 == 3 {
			img.Pix[i] = 255
		}
	}
	for y := range 300 {
		for x := range 300 {
			img.SetRGBA(x, y, color.RGBA{255, 255, 255, 255})
		}
	}
	// Where row 0, column 0 of the stored picture is seen: JEITA CP-3451, tag 274.
	corner := [9][2]bool{1: {false, false}, 2: {true, false}, 3: {true, true}, 4: {false, true}, 5: {false, false}, 6: {true, false}, 7: {true, true}, 8: {false, true}}
	for o := 1; o <= 8; o++ {
		p := planesFrom(img, o, planesSide)
		for _, at := range [][2]bool{{false, false}, {true, false}, {false, true}, {true, true}} {
			x, y := 10, 10
			if at[0] {
				x = p.width - 11
			}
			if at[1] {
				y = p.height - 11
			}
			white := at == corner[o]
			i := y*p.width + x
			c := p.clips.cell[y*p.clips.rows/p.height*p.clips.cols+x*p.clips.cols/p.width]
			if (p.y[i] > 0.9) != white || (c.any == c.n) != white || c.allLow != 0 {
				t.Errorf("orientation %d at %d, %d: luminance %v, clipped %+v", o, x, y, p.y[i], c)
			}
		}
	}
}
