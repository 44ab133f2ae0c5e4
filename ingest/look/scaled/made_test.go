package scaled

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math/rand/v2"
	"os/exec"
	"testing"
)

// textured is a picture of 1/f texture, as photographs have it, with a hard edge
// and colour.
func textured(w, h int, seed uint64) *image.RGBA {
	random := rand.New(rand.NewPCG(seed, 1))
	sum := make([]float64, w*h)
	for cell := 64; cell >= 2; cell /= 2 {
		gw, gh := w/cell+2, h/cell+2
		grid := make([]float64, gw*gh)
		for i := range grid {
			grid[i] = random.NormFloat64() * float64(cell)
		}
		for y := range h {
			for x := range w {
				fx, fy := float64(x)/float64(cell), float64(y)/float64(cell)
				i, j := int(fx), int(fy)
				fx, fy = fx-float64(i), fy-float64(j)
				a, b := grid[j*gw+i], grid[j*gw+i+1]
				c, d := grid[(j+1)*gw+i], grid[(j+1)*gw+i+1]
				sum[y*w+x] += (a*(1-fx)+b*fx)*(1-fy) + (c*(1-fx)+d*fx)*fy
			}
		}
	}
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			v := 128 + 0.8*sum[y*w+x]
			if x > w/2 {
				v += 30
			}
			tone := func(k float64) uint8 { return uint8(min(255, max(0, v*k))) }
			img.SetRGBA(x, y, color.RGBA{tone(1.1), tone(0.9), tone(0.7), 255})
		}
	}
	return img
}

func encoded(t testing.TB, img image.Image, quality int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// cjpeg encodes with libjpeg-turbo.
func cjpeg(t testing.TB, img *image.RGBA, args ...string) []byte {
	t.Helper()
	tool, err := exec.LookPath("cjpeg")
	if err != nil {
		t.Skip("cjpeg is not installed (Debian: libjpeg-turbo-progs)")
	}
	var ppm bytes.Buffer
	b := img.Bounds()
	fmt.Fprintf(&ppm, "P6\n%d %d\n255\n", b.Dx(), b.Dy())
	for y := range b.Dy() {
		for x := range b.Dx() {
			c := img.RGBAAt(x, y)
			ppm.Write([]byte{c.R, c.G, c.B})
		}
	}
	cmd := exec.Command(tool, args...)
	cmd.Stdin = &ppm
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// planes are the planes of a picture, with their sizes as sampled.
type plane struct {
	pix          []byte
	stride, w, h int
}

func planesOf(t testing.TB, img image.Image) []plane {
	t.Helper()
	b := img.Bounds()
	switch m := img.(type) {
	case *image.Gray:
		return []plane{{m.Pix, m.Stride, b.Dx(), b.Dy()}}
	case *image.YCbCr:
		cw, ch := b.Dx(), b.Dy()
		up := func(n, by int) int { return (n + by - 1) / by }
		switch m.SubsampleRatio {
		case image.YCbCrSubsampleRatio422:
			cw = up(cw, 2)
		case image.YCbCrSubsampleRatio420:
			cw, ch = up(cw, 2), up(ch, 2)
		case image.YCbCrSubsampleRatio440:
			ch = up(ch, 2)
		case image.YCbCrSubsampleRatio411:
			cw = up(cw, 4)
		case image.YCbCrSubsampleRatio410:
			cw, ch = up(cw, 4), up(ch, 2)
		}
		return []plane{{m.Y, m.YStride, b.Dx(), b.Dy()}, {m.Cb, m.CStride, cw, ch}, {m.Cr, m.CStride, cw, ch}}
	}
	t.Fatalf("a %T", img)
	return nil
}
