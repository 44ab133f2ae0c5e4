package look

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"testing"

	"coverplate/ingest/catalogue"
)

// plainPreview is a JPEG of one grey, with a white square in its middle.
func plainPreview(t *testing.T, w, h int) []byte {
	t.Helper()
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{120, 120, 120, 255}
			if x > w*2/5 && x < w*3/5 && y > h*2/5 && y < h*3/5 {
				c = color.RGBA{255, 255, 255, 255}
			}
			m.SetRGBA(x, y, c)
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// drawnAt is the pixel of a drawing at shares of its picture of w × h.
func drawnAt(t *testing.T, b []byte, w, h int, x, y float64) color.YCbCr {
	t.Helper()
	m, err := jpeg.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	return color.YCbCrModel.Convert(m.At(int(x*float64(w)), int(y*float64(h)))).(color.YCbCr)
}

func TestDrawingShowsWhatWasMeasured(t *testing.T) {
	preview := plainPreview(t, 600, 400)
	bare := Drawing{Side: 600, Bare: true}
	draw := func(l catalogue.Look, d Drawing) []byte {
		t.Helper()
		b, err := Draw(preview, l, d)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	nothing := draw(catalogue.Look{}, bare)
	if !bytes.Equal(nothing, draw(catalogue.Look{}, bare)) {
		t.Error("two drawings of one picture differ")
	}
	if y := drawnAt(t, nothing, 600, 400, 0.1, 0.1).Y; y < 115 || y > 125 {
		t.Errorf("where nothing was measured the picture has luma %d, want its own 120", y)
	}
	// A rim is drawn in its own colour at the end of its larger axis.
	rim := catalogue.Look{Rims: []catalogue.Rim{{X: 0.3, Y: 0.33, A: 0.2, B: 0.15, Score: 0.9}}}
	if c := drawnAt(t, draw(rim, bare), 600, 400, 0.1, 0.33*600/400); c.Cb > 110 {
		t.Errorf("on the rim: %+v, want its yellow", c)
	}
	rim.Rims[0].Score = 0.2
	if c := drawnAt(t, draw(rim, bare), 600, 400, 0.1, 0.33*600/400); c.Cb < 120 {
		t.Errorf("a doubtful rim is drawn: %+v", c)
	}
	edge := catalogue.Look{Lines: []catalogue.Line{{X1: 0.1, Y1: 0.3, X2: 0.2, Y2: 0.1}}}
	if on, off := drawnAt(t, draw(edge, bare), 600, 400, 0.15, 0.2*600/400), drawnAt(t, draw(edge, bare), 600, 400, 0.15, 0.26*600/400); on.Cb > 122 || off.Cb < 126 {
		t.Errorf("on a straight edge: %+v, beside it %+v", on, off)
	}
	// What matters least is darker.
	m := &catalogue.Matters{Columns: 2, Rows: 1, Weight: []uint8{255, 0}}
	b := draw(catalogue.Look{Matters: m}, bare)
	if l, r := drawnAt(t, b, 600, 400, 0.05, 0.1).Y, drawnAt(t, b, 600, 400, 0.95, 0.1).Y; l < r+30 {
		t.Errorf("luma %d where it matters, %d where it does not", l, r)
	}
	// A burnt square is hatched: it has ink in it.
	dark := false
	for x := 0.42; x < 0.58; x += 1.0 / 600 {
		dark = dark || drawnAt(t, nothing, 600, 400, x, 0.5).Y < 160
	}
	if !dark {
		t.Error("the burnt square has no hatching")
	}
	worded := draw(catalogue.Look{}, Drawing{Side: 600, Says: []string{"angle: 84° ± 3, “smørbrød”"}})
	if c, err := jpeg.DecodeConfig(bytes.NewReader(worded)); err != nil || c.Width != 600 || c.Height <= 400 {
		t.Errorf("with words: %+v, %v", c, err)
	}
}

func TestDrawingOfNonsense(t *testing.T) {
	preview := plainPreview(t, 300, 200)
	nan := math.NaN()
	odd := catalogue.Look{
		Rims:    []catalogue.Rim{{X: nan, Y: 1, A: 1, B: 1, Score: 0.9}, {X: 0.5, Y: 0.5, A: 1e9, B: 1, Score: 0.9}, {X: -9, Y: 9, A: 0.3, B: 0.3, Score: 1}},
		Lines:   []catalogue.Line{{X1: nan}, {X2: 1e300}, {X1: -3, X2: 0.5}, {X2: math.Inf(1)}},
		Focus:   &catalogue.Focus{Columns: 3, Rows: 3, Grid: []uint8{1}},
		Matters: &catalogue.Matters{Columns: -1, Rows: 5, Weight: []uint8{1, 2}, Regions: []catalogue.Region{{X: nan}, {X: 5, Y: 5, Width: 9, Height: -9}}},
	}
	if _, err := Draw(preview, odd, Drawing{Side: 300}); err != nil {
		t.Errorf("measures that make no sense: %v", err)
	}
	for _, side := range []int{0, -1, leastSide - 1, pictureSide + 1} {
		if _, err := Draw(preview, catalogue.Look{}, Drawing{Side: side}); err == nil {
			t.Errorf("a side of %d was taken", side)
		}
	}
	for name, b := range map[string][]byte{"nothing": nil, "no JPEG": []byte("no picture at all"), "half a JPEG": preview[:len(preview)/3]} {
		if _, err := Draw(b, catalogue.Look{}, Drawing{Side: 300}); err == nil {
			t.Errorf("%s was drawn on", name)
		}
	}
}

// A part that is cut out is drawn where it is: along its sides, and nowhere
// within; dashed it leaves gaps.
func TestBoxesAreDrawnWhereTheyAre(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 1000, 1000))
	for i := range img.Pix {
		img.Pix[i] = 128
	}
	preview := asJPEG(t, img, 95)
	drawn := func(b ...Box) image.Image {
		out, err := Draw(preview, catalogue.Look{}, Drawing{Side: 1000, Bare: true, Boxes: b})
		if err != nil {
			t.Fatal(err)
		}
		got, err := jpeg.Decode(bytes.NewReader(out))
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	bright := func(img image.Image, x, y int) bool { r, _, _, _ := img.At(x, y).RGBA(); return r>>8 > 170 }
	got := drawn(Box{X: 0.25, Y: 0.25, Width: 0.5, Height: 0.5, Name: "A"})
	on, gaps := 0, 0
	for i := 280; i < 720; i++ {
		if bright(got, i, 750) {
			on++
		}
		if bright(got, i, 500) {
			t.Fatalf("something is drawn within, at %d", i)
		}
	}
	if on < 430 {
		t.Errorf("%d of 440 pixels along its foot", on)
	}
	got = drawn(Box{X: 0.25, Y: 0.25, Width: 0.5, Height: 0.5, Name: "A", Dashed: true, Fold: 0.1})
	for i := 280; i < 720; i++ {
		if !bright(got, i, 750) {
			gaps++
		}
	}
	if gaps < 80 || gaps > 300 {
		t.Errorf("dashed: %d of 440 pixels are gaps", gaps)
	}
	fold := 0
	for y := 280; y < 720; y++ {
		if bright(got, 450, y) || bright(got, 449, y) {
			fold++
		}
	}
	if fold < 100 {
		t.Errorf("the fold's zone: %d of 440 pixels at a tenth from the middle", fold)
	}
	// Beyond the picture, or of no number: no panic, nothing drawn.
	drawn(Box{X: -1, Y: -1, Width: 0.5, Height: 0.5}, Box{X: math.NaN()}, Box{X: 0, Y: 0, Width: 9, Height: 9, Corner: 7})
}
