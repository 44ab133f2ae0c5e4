package scaled

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"testing/iotest"
)

// lowest is what a block of 8 × 8 samples becomes at side × side: its DCT by
// the definition (T.81, A.3.3), the lowest frequencies, and the inverse DCT of
// that many points, scaled so that a mean stays a mean.
func lowest(block [64]float64, side int) []float64 {
	c := func(k int) float64 {
		if k == 0 {
			return math.Sqrt2 / 2
		}
		return 1
	}
	var freq [4][4]float64
	for v := range side {
		for u := range side {
			for y := range 8 {
				for x := range 8 {
					freq[v][u] += block[8*y+x] * math.Cos(float64(2*x+1)*float64(u)*math.Pi/16) * math.Cos(float64(2*y+1)*float64(v)*math.Pi/16)
				}
			}
			freq[v][u] *= c(u) * c(v) / 4
		}
	}
	n := float64(side)
	out := make([]float64, side*side)
	for y := range side {
		for x := range side {
			for v := range side {
				for u := range side {
					out[side*y+x] += c(u) * c(v) * freq[v][u] * math.Cos(float64(2*x+1)*float64(u)*math.Pi/(2*n)) * math.Cos(float64(2*y+1)*float64(v)*math.Pi/(2*n))
				}
			}
			out[side*y+x] *= 2 / n * n / 8
		}
	}
	return out
}

// Every scale of every sampling is the inverse transform of the lowest
// frequencies of what image/jpeg decodes. image/jpeg rounds each sample to a
// code, an error of 0.5 at most, of 64 of which these are weighted sums, and we
// round once more; beyond ±1 is wrong. Blocks in which image/jpeg clips are left
// out: there the samples are not what the frequencies say.
func TestLowestFrequencies(t *testing.T) {
	img := textured(203, 149, 3) // whole units in neither direction
	files := map[string][]byte{"image/jpeg, 4:2:0": encoded(t, img, 90), "image/jpeg, coarse": encoded(t, img, 30)}
	grey := image.NewGray(img.Bounds())
	for y := range 149 {
		for x := range 203 {
			grey.Set(x, y, img.At(x, y))
		}
	}
	files["grey"] = encoded(t, grey, 92)
	if _, err := exec.LookPath("cjpeg"); err == nil {
		for _, s := range []string{"1x1", "2x1", "1x2", "2x2", "4x1", "4x2"} {
			files["cjpeg "+s] = cjpeg(t, img, "-quality", "88", "-sample", s)
		}
		files["cjpeg with restarts"] = cjpeg(t, img, "-quality", "85", "-sample", "2x1", "-restart", "1")
		files["cjpeg, a restart every three units"] = cjpeg(t, img, "-quality", "85", "-restart", "3B")
		files["cjpeg, own tables"] = cjpeg(t, img, "-quality", "97", "-optimize")
	} else {
		t.Log("cjpeg is not here: image/jpeg's own sampling alone is held")
	}
	var sum, most, samples float64
	for name, file := range files {
		whole, err := jpeg.Decode(bytes.NewReader(file))
		if err != nil {
			t.Fatal(err)
		}
		want := planesOf(t, whole)
		for _, den := range []int{8, 4, 2} {
			got, err := Decode(iotest.HalfReader(bytes.NewReader(file)), den)
			if err != nil {
				t.Errorf("%s at 1/%d: %v", name, den, err)
				continue
			}
			if b := got.Bounds(); b != image.Rect(0, 0, (203+den-1)/den, (149+den-1)/den) {
				t.Errorf("%s at 1/%d: %v", name, den, b)
			}
			side, held := 8/den, 0
			for i, p := range planesOf(t, got) {
				w := want[i]
				var off, worst float64
				for by := 0; by+8 <= w.h; by += 8 {
					for bx := 0; bx+8 <= w.w; bx += 8 {
						var block [64]float64
						clipped := false
						for k := range block {
							v := w.pix[(by+k/8)*w.stride+bx+k%8]
							clipped = clipped || v == 0 || v == 255
							block[k] = float64(v)
						}
						if clipped {
							continue
						}
						for k, v := range lowest(block, side) {
							d := math.Abs(float64(p.pix[(by/8*side+k/side)*p.stride+bx/8*side+k%side]) - min(255, max(0, v)))
							off += d
							worst = max(worst, d)
							held++
							sum, most, samples = sum+d, max(most, d), samples+1
						}
					}
				}
				if !(worst <= 1) {
					t.Errorf("%s at 1/%d, plane %d: off by up to %.2f codes, %.3f in the mean", name, den, i, worst, off/float64(held))
				}
			}
			if held < 100 {
				t.Errorf("%s at 1/%d: only %d samples held", name, den, held)
			}
		}
	}
	t.Logf("of image/jpeg's lowest frequencies: %.3f codes off in the mean, %.2f at most", sum/samples, most)
}

// libjpeg-turbo's djpeg makes its small pictures by another rule, close to the
// mean of the samples: at an eighth it is ours, at a quarter and half it differs
// where detail is fine. Seen: 0.608 and 0.234 codes in the mean, 3 and 5 at most; the bounds
// are twice that.
func TestAgainstDjpeg(t *testing.T) {
	tool, err := exec.LookPath("djpeg")
	if err != nil {
		t.Skip("djpeg is not installed (Debian: libjpeg-turbo-progs)")
	}
	file := cjpeg(t, textured(640, 424, 5), "-quality", "90", "-sample", "2x1")
	for den, most := range map[int][2]float64{8: {0, 0}, 4: {1.22, 6}, 2: {0.47, 10}} {
		cmd := exec.Command(tool, "-scale", "1/"+strconv.Itoa(den), "-grayscale", "-pnm")
		cmd.Stdin = bytes.NewReader(file)
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		var w, h, top int
		if _, err := fmt.Sscanf(string(out), "P5\n%d %d\n%d\n", &w, &h, &top); err != nil {
			t.Fatal(err)
		}
		pix := out[len(out)-w*h:]
		got, err := Decode(bytes.NewReader(file), den)
		if err != nil {
			t.Fatal(err)
		}
		p := planesOf(t, got)[0]
		if p.w != w || p.h != h {
			t.Fatalf("1/%d: %d×%d, djpeg %d×%d", den, p.w, p.h, w, h)
		}
		var mean, worst float64
		for y := range h {
			for x := range w {
				d := math.Abs(float64(pix[y*w+x]) - float64(p.pix[y*p.stride+x]))
				mean += d / float64(w*h)
				worst = max(worst, d)
			}
		}
		t.Logf("1/%d against djpeg: %.3f codes in the mean, %.0f at most", den, mean, worst)
		if !(mean <= most[0]) || !(worst <= most[1]) {
			t.Errorf("1/%d: %.3f codes in the mean and %.0f at most, want %v", den, mean, worst, most)
		}
	}
}

// Real photographs, where they are: as near to image/jpeg's mean of the samples
// as an ideal low pass is.
func TestRealPhotographs(t *testing.T) {
	files, _ := filepath.Glob("../../../../shared/photos/exif/*.jpg")
	if len(files) == 0 {
		t.Skip("no photographs in ../shared/photos/exif")
	}
	if testing.Short() {
		t.Skip("short")
	}
	read := 0
	for i, name := range files {
		if i%6 != 0 {
			continue
		}
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		whole, err := jpeg.Decode(bytes.NewReader(b))
		if err != nil {
			continue
		}
		got, err := Decode(bytes.NewReader(b), 8)
		if errors.Is(err, ErrUnsupported) {
			continue
		}
		if err != nil {
			t.Errorf("%s: %v, which image/jpeg reads", filepath.Base(name), err)
			continue
		}
		read++
		for k, p := range planesOf(t, got) {
			w := planesOf(t, whole)[k]
			for by := 0; by+8 <= w.h; by += 8 {
				for bx := 0; bx+8 <= w.w; bx += 8 {
					sum, clipped := 0, false
					for y := by; y < by+8; y++ {
						for _, v := range w.pix[y*w.stride+bx:][:8] {
							sum += int(v)
							clipped = clipped || v == 0 || v == 255
						}
					}
					if d := math.Abs(float64(p.pix[by/8*p.stride+bx/8]) - float64(sum)/64); !clipped && !(d <= 1.01) {
						t.Fatalf("%s, plane %d at %d,%d: off by %.2f", filepath.Base(name), k, bx, by, d)
					}
				}
			}
		}
	}
	if t.Logf("%d photographs", read); read == 0 {
		t.Error("none of them was read")
	}
}
