package main

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"sync"
	"testing"

	"coverplate/audit/angle"
	"coverplate/audit/plan"
	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

// rendered is one rendered dish whose truth is known.
type rendered struct {
	elevation float64 // degrees of the optical axis above the table
	focal35   float64 // millimetres
	distance  float64 // metres from the lens to what it aims at
	right     float64 // metres of the plate's centre from there
	away      float64
	roll      float64 // degrees
	blur      float64 // pixels, deviation
	noise     float64 // codes, deviation
	second    bool    // a smaller plate beside it
}

// dish is a plate on the table: a flat lip at a height, a well inside of it.
type dish struct{ x, y, radius, lip, well float64 } // metres

// draw renders the scene by casting 2 × 2 rays a pixel through a pinhole.
func (s rendered) draw(w, h int) *image.RGBA {
	plates := []dish{{s.right, s.away, 0.14, 0.022, 0.006}}
	if s.second {
		plates = append(plates, dish{s.right + 0.24, s.away + 0.05, 0.085, 0.03, 0.004})
	}
	sin, cos := math.Sincos(s.elevation * math.Pi / 180)
	rs, rc := math.Sincos(s.roll * math.Pi / 180)
	focal := s.focal35 / math.Hypot(36, 24) * math.Hypot(float64(w), float64(h))
	eye := [3]float64{0, -s.distance * cos, s.distance * sin}
	seed := uint32(s.elevation*131) + uint32(s.focal35*17) + 1
	random := func() float64 { // −1 … 1
		seed = seed*1664525 + 1013904223
		return float64(seed>>8)/(1<<23) - 1
	}
	at := func(px, py float64) float64 { // light, 0 … 1
		dx, dy := (px-float64(w)/2)/focal, (py-float64(h)/2)/focal
		dx, dy = dx*rc-dy*rs, dx*rs+dy*rc
		// x right, y away along the table, z up: forward, right and down of the camera.
		d := [3]float64{dx, cos - dy*sin, -sin - dy*cos}
		if d[2] >= -1e-6 {
			return 0.35 // the wall behind the table
		}
		hit := func(z float64) (float64, float64) {
			t := (z - eye[2]) / d[2]
			return eye[0] + t*d[0], eye[1] + t*d[1]
		}
		for _, p := range plates {
			x, y := hit(p.lip)
			x, y = x-p.x, y-p.y
			switch r := math.Hypot(x, y) / p.radius; {
			case r <= 1 && r > 0.72:
				return 0.80 + 0.06*x/p.radius + 0.04*y/p.radius
			case r <= 0.72:
				x, y = hit(p.well)
				x, y = x-p.x, y-p.y
				if r := math.Hypot(x, y) / p.radius; r < 0.42+0.05*math.Sin(7*math.Atan2(y, x)) {
					return 0.30 + 0.12*math.Sin(x*340+math.Sin(y*290)) + 0.08*math.Sin(y*510)
				}
				return 0.70 + 0.05*x/p.radius
			}
		}
		x, y := hit(0)
		light := 0.42 + 0.05*math.Sin(x*160)*math.Sin(y*160) + 0.03*math.Sin(x*900) + 0.03*math.Sin(y*900)
		for _, p := range plates {
			if r := math.Hypot(x-p.x-0.01, y-p.y+0.006) / p.radius; r < 1.1 {
				light *= 0.75 // a soft light's shadow
			}
		}
		return light
	}
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	lights := make([]float64, w*h)
	for y := range h {
		for x := range w {
			fx, fy := float64(x), float64(y)
			lights[y*w+x] = (at(fx+0.25, fy+0.25) + at(fx+0.75, fy+0.25) + at(fx+0.25, fy+0.75) + at(fx+0.75, fy+0.75)) / 4
		}
	}
	lights = softened(lights, w, h, s.blur)
	for i, l := range lights {
		v := 255*l + s.noise*(random()+random()+random()) // deviation 1 in sum
		c := uint8(min(255, max(0, v)))
		img.SetRGBA(i%w, i/w, color.RGBA{c, uint8(float64(c) * 0.97), uint8(float64(c) * 0.92), 255})
	}
	return img
}

// softened is a Gaussian blur of deviation sigma pixels.
func softened(in []float64, w, h int, sigma float64) []float64 {
	if sigma == 0 {
		return in
	}
	r := int(3*sigma + 1)
	kernel, sum := make([]float64, 2*r+1), 0.0
	for i := range kernel {
		kernel[i] = math.Exp(-float64((i-r)*(i-r)) / (2 * sigma * sigma))
		sum += kernel[i]
	}
	pass := func(in []float64, n, m, dn, dm int) []float64 {
		out := make([]float64, len(in))
		for a := range n {
			for b := range m {
				v := 0.0
				for i, k := range kernel {
					v += k / sum * in[a*dn+min(m-1, max(0, b+i-r))*dm]
				}
				out[a*dn+b*dm] = v
			}
		}
		return out
	}
	return pass(pass(in, h, w, w, 1), w, h, 1, w)
}

// read sends the scene through a JPEG, the measures and the judgement.
func (s rendered) read(known bool) (angle.Reading, error) {
	const w, h = 720, 480
	var file bytes.Buffer
	if err := jpeg.Encode(&file, s.draw(w, h), &jpeg.Options{Quality: 88}); err != nil {
		return angle.Reading{}, err
	}
	seen, err := look.At(bytes.NewReader(file.Bytes()), int64(file.Len()), catalogue.JPEG, camera.Shot{Orientation: 1, Width: w, Height: h})
	if err != nil {
		return angle.Reading{}, err
	}
	f := catalogue.Frame{Look: seen.Look}
	if known {
		f.Exposure.Focal35 = s.focal35
	}
	return angle.Of(f), nil
}

// TestAngleOfRenderedDishes holds the judged elevation against the camera that
// drew the picture: 10° to 90°, near and far, wide and long, soft and noisy,
// the dish in the middle and off it.
func TestAngleOfRenderedDishes(t *testing.T) {
	if testing.Short() {
		t.Skip("renders")
	}
	var scenes []rendered
	n, step := 0, every(5)
	for e := 10.0; e <= 90; e += 4 {
		for _, focal := range []float64{26, 50, 85} {
			if n++; n%step != 0 {
				continue
			}
			s := rendered{elevation: e, focal35: focal, distance: focal / 26 * []float64{0.5, 0.65, 0.8}[n%3],
				right: []float64{0, 0.06, -0.09}[n%3], away: []float64{0, -0.05, 0.07}[n/3%3], roll: []float64{0, 1, -2}[n/2%3],
				blur: []float64{0, 0.7, 1.5}[n/5%3], noise: []float64{1, 3, 7}[n/4%3], second: n%2 == 0}
			scenes = append(scenes, s)
		}
	}
	readings := make([]angle.Reading, len(scenes))
	work := make(chan int)
	var wg sync.WaitGroup
	for range 2 {
		wg.Go(func() {
			for i := range work {
				var err error
				if readings[i], err = scenes[i].read(true); err != nil {
					t.Error(err)
				}
			}
		})
	}
	for i := range scenes {
		work <- i
	}
	close(work)
	wg.Wait()
	found, near, false75 := 0, 0, 0
	for i, r := range readings {
		s := scenes[i]
		if r.Class == plan.UnknownAngle {
			t.Logf("%+v: unknown, %s", s, r.Why)
			continue
		}
		found++
		if d := math.Abs(r.Elevation - s.elevation); d <= 3 {
			near++
		} else {
			t.Logf("%+v: %.1f ± %.1f, off by %.1f: %s", s, r.Elevation, r.PlusMinus, d, r.Why)
		}
		if r.Class == plan.Overhead && s.elevation < 72 {
			false75++
			t.Errorf("%+v is called overhead: %s", s, r.Why)
		}
	}
	t.Logf("%d scenes, %d answered, %d of them within 3°, %d wrongly overhead", len(scenes), found, near, false75)
	if !(found*10 >= len(scenes)*7) {
		t.Errorf("%d of %d scenes answered, want seven of ten", found, len(scenes))
	}
	if !(near*100 >= found*95) {
		t.Errorf("%d of %d within 3°, want 95 %%", near, found)
	}
}

// A dish off the axis, and one that the picture cuts by up to a half: what is
// answered is right, and a cut dish is no reason to call an overhead.
func TestAngleOfCutDishes(t *testing.T) {
	if testing.Short() {
		t.Skip("renders")
	}
	var scenes []rendered
	n := 0
	for _, e := range []float64{20, 32, 44, 57, 66, 80, 86, 90} {
		for _, right := range []float64{0.22, 0.31} { // half of the picture is 0.35 m wide, the plate 0.28
			n++
			focal := []float64{26, 50, 85}[n%3]
			scenes = append(scenes, rendered{elevation: e, focal35: focal, distance: focal / 26 * 0.5, right: right, away: []float64{0, 0.05, -0.06}[n%3],
				blur: 0.7, noise: 3})
		}
	}
	answered, near := 0, 0
	for _, s := range scenes {
		r, err := s.read(true)
		if err != nil {
			t.Fatal(err)
		}
		d := math.Abs(r.Elevation - s.elevation)
		t.Logf("%g°, %g mm, %.2f m to the side: %s %.1f ± %.1f", s.elevation, s.focal35, s.right, r.Class, r.Elevation, r.PlusMinus)
		if r.Class == plan.UnknownAngle {
			continue
		}
		answered++
		if d <= 3 {
			near++
		}
		if r.Class == plan.Overhead && s.elevation < 72 || r.Class != plan.Overhead && s.elevation >= 78 {
			t.Errorf("%+v is called %s: %s", s, r.Class, r.Why)
		}
	}
	t.Logf("%d cut or off the axis, %d answered, %d of them within 3°", len(scenes), answered, near)
	if !(answered*10 >= len(scenes)*7) || !(near*10 >= answered*9) {
		t.Errorf("%d of %d answered, %d within 3°; want seven of ten, and nine of ten of those", answered, len(scenes), near)
	}
}
