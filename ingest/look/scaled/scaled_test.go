package scaled

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"testing/iotest"
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

func TestWhatIsNotRead(t *testing.T) {
	img := textured(64, 48, 7)
	plain := encoded(t, img, 90)
	change := func(at int, to ...byte) []byte {
		b := bytes.Clone(plain)
		copy(b[at:], to)
		return b
	}
	sof := bytes.Index(plain, []byte{0xff, sof0})
	start := bytes.Index(plain, []byte{0xff, sos})
	for name, c := range map[string]struct {
		b    []byte
		want error
	}{
		"nothing":                 {nil, ErrFormat},
		"no JPEG":                 {[]byte("GIF89a and more"), ErrFormat},
		"the header alone":        {plain[:start], ErrFormat},
		"cut in the header":       {plain[:sof+6], ErrFormat},
		"progressive":             {change(sof+1, sof2), ErrUnsupported},
		"arithmetic":              {change(sof+1, 0xc9), ErrUnsupported},
		"12 bits":                 {change(sof+4, 12), ErrUnsupported},
		"the height comes later":  {change(sof+5, 0, 0), ErrUnsupported},
		"no width":                {change(sof+7, 0, 0), ErrFormat},
		"more pixels than any":    {change(sof+5, 0xff, 0xff, 0xff, 0xff), ErrUnsupported},
		"a sampling factor of 0":  {change(sof+11, 0), ErrFormat},
		"odd sampling":            {change(sof+11, 0x31), ErrUnsupported},
		"a table that is missing": {change(start+6, 0x33), ErrFormat},
		"part of the frequencies": {change(start+12, 5), ErrUnsupported},
		"no segment after it":     {change(2, 0xff, eoi), ErrFormat},
	} {
		img, err := Decode(bytes.NewReader(c.b), 4)
		if img != nil || !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	if _, err := Decode(bytes.NewReader(plain), 3); !errors.Is(err, ErrUnsupported) {
		t.Errorf("1/3: %v", err)
	}
	broken := errors.New("the card was pulled")
	if _, err := Decode(io.MultiReader(bytes.NewReader(plain[:start+100]), iotest.ErrReader(broken)), 8); !errors.Is(err, broken) {
		t.Errorf("an error of the reader: %v", err)
	}
	// Three channels of Adobe's that are no YCbCr.
	adobe := append([]byte{0xff, soi, 0xff, app14, 0, 14}, "Adobe\x00\x64\x00\x00\x00\x00\x00"...)
	if _, err := Decode(bytes.NewReader(append(adobe, plain[2:]...)), 4); !errors.Is(err, ErrUnsupported) {
		t.Errorf("RGB by Adobe's marker: %v", err)
	}
	adobe[len(adobe)-1] = 1
	if _, err := Decode(bytes.NewReader(append(adobe, plain[2:]...)), 4); err != nil {
		t.Errorf("YCbCr by Adobe's marker: %v", err)
	}
}

func TestFillBytesAndOddSegments(t *testing.T) {
	plain := encoded(t, textured(64, 48, 7), 90)
	want, err := Decode(bytes.NewReader(plain), 4)
	if err != nil {
		t.Fatal(err)
	}
	odd := append([]byte{0xff, soi, 0xff, 0xff, 0xff, 0xfe, 0, 5, 'a', 'b', 'c', 0xff, tem}, plain[2:]...)
	got, err := Decode(iotest.OneByteReader(bytes.NewReader(odd)), 4)
	if err != nil || !bytes.Equal(planesOf(t, got)[0].pix, planesOf(t, want)[0].pix) {
		t.Errorf("%v, or another picture", err)
	}
}

func TestCutOffAndDamaged(t *testing.T) {
	img := textured(256, 256, 9)
	plain := encoded(t, img, 90)
	whole, err := Decode(bytes.NewReader(plain), 4)
	if err != nil {
		t.Fatal(err)
	}
	w := planesOf(t, whole)[0]
	for _, share := range []float64{0.3, 0.6, 0.95} {
		got, err := Decode(bytes.NewReader(plain[:int(share*float64(len(plain)))]), 4)
		var damaged *DamagedError
		if !errors.As(err, &damaged) || !damaged.Cut || damaged.Of != 256 {
			t.Fatalf("cut at %.2f: %v", share, err)
		}
		if missing := float64(damaged.Blocks) / 256; math.Abs(missing-(1-share)) > 0.15 {
			t.Errorf("cut at %.2f: %.2f of it is missing", share, missing)
		}
		p := planesOf(t, got)[0]
		top := p.stride * (256 - damaged.Blocks) / 16 * 4 // whole rows of units of 16 × 16
		top -= top % (4 * p.stride)
		if !bytes.Equal(p.pix[:top], w.pix[:top]) {
			t.Errorf("cut at %.2f: what is there is not what the whole file shows", share)
		}
		if last := p.pix[(p.h-1)*p.stride+p.w-1]; last != 128 {
			t.Errorf("cut at %.2f: what is missing is %d, not grey", share, last)
		}
	}
	// No end marker, and nothing missing but that.
	if _, err := Decode(bytes.NewReader(plain[:len(plain)-2]), 4); err != nil {
		t.Errorf("without its end marker: %v", err)
	}
	// With restart markers one bad stretch costs itself alone.
	withRestarts := cjpeg(t, img, "-quality", "90", "-restart", "1")
	clean, err := Decode(bytes.NewReader(withRestarts), 4)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(withRestarts, []byte{0xff, rst0 + 4}) + 40
	hurt := bytes.Clone(withRestarts)
	for i := range 30 {
		hurt[at+i] = 0xff // fill bytes to the next marker's eye
	}
	got, err := Decode(bytes.NewReader(hurt), 4)
	if err != nil && !errors.As(err, new(*DamagedError)) {
		t.Fatal(err)
	}
	c, g := planesOf(t, clean)[0], planesOf(t, got)[0]
	same := 0
	for y := 0; y < c.h; y++ {
		if bytes.Equal(c.pix[y*c.stride:][:c.w], g.pix[y*g.stride:][:g.w]) {
			same++
		}
	}
	if same < c.h*7/8 {
		t.Errorf("only %d of %d rows are as they were", same, c.h)
	}
	// A stretch that is gone with its marker: the ones after it lie in their place.
	from, to := bytes.Index(withRestarts, []byte{0xff, rst0 + 2}), bytes.Index(withRestarts, []byte{0xff, rst0 + 3})
	short := append(bytes.Clone(withRestarts[:from]), withRestarts[to:]...)
	got, err = Decode(bytes.NewReader(short), 4)
	var damaged *DamagedError
	if !errors.As(err, &damaged) || damaged.Cut || damaged.Blocks == 0 || damaged.Blocks > 32 {
		t.Errorf("a stretch is gone: %v", err)
	}
	g = planesOf(t, got)[0]
	if y := c.h - 1; !bytes.Equal(c.pix[y*c.stride:][:c.w], g.pix[y*g.stride:][:g.w]) {
		t.Error("what comes after the stretch that is gone is not in its place")
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

func FuzzDecode(f *testing.F) {
	for _, q := range []int{20, 95} {
		f.Add(encoded(f, textured(40, 24, 1), q), byte(4))
	}
	grey := image.NewGray(image.Rect(0, 0, 17, 9))
	f.Add(encoded(f, grey, 90), byte(8))
	f.Add(manyBlocks()[:16<<10], byte(2))
	f.Fuzz(func(t *testing.T, b []byte, den byte) {
		if i := bytes.Index(b, []byte{0xff, sof0}); i >= 0 && len(b) > i+9 { // large pictures cost time, and show nothing more
			b[i+5], b[i+7] = 0, 0
		}
		// Any other number is refused at once: every input must be decoded.
		img, err := Decode(bytes.NewReader(b), []int{8, 4, 2}[den%3])
		if err != nil && img != nil && !errors.As(err, new(*DamagedError)) {
			t.Errorf("a picture with %v", err)
		}
		if img == nil && err == nil {
			t.Error("neither a picture nor an error")
		}
		if img != nil {
			r := img.Bounds()
			img.At(r.Max.X-1, r.Max.Y-1)
		}
	})
}

// BenchmarkDecode holds each scale against image/jpeg, on a picture of 6 MP with
// the texture of a photograph: go test -bench Decode -run - -cpu 1.
func BenchmarkDecode(b *testing.B) {
	file := encoded(b, textured(3000, 2000, 2), 92)
	b.Run("image/jpeg", func(b *testing.B) {
		b.SetBytes(int64(len(file)))
		b.ReportAllocs()
		for b.Loop() {
			if _, err := jpeg.Decode(bytes.NewReader(file)); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, den := range []int{8, 4, 2} {
		b.Run(fmt.Sprintf("to 1/%d", den), func(b *testing.B) {
			b.SetBytes(int64(len(file)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Decode(bytes.NewReader(file), den); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
