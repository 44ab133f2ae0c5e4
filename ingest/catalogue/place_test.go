package catalogue

import (
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"math"
	"slices"
	"testing"
)

// The two bytes are those of bfloat16: IEEE 754's single without its lower half,
// rounded to the nearest, ties to even. The values are worked out by hand from
// the bits of the standard.
func TestFloatsAreHalfSingles(t *testing.T) {
	for _, c := range []struct {
		value, kept float32
		bits        uint16
	}{
		{0, 0, 0x0000}, {1, 1, 0x3F80}, {-2.5, -2.5, 0xC020}, {16, 16, 0x4180},
		{1 + 1.0/256, 1, 0x3F80},                        // half way: to the even
		{1 + 3.0/256, 1 + 2.0/128, 0x3F82},              // half way: to the even
		{1 + 1.1/256, 1 + 1.0/128, 0x3F81},              // over half way
		{0.1, 0.10009765625, 0x3DCD},                    // 0x3DCCCCCD
		{math.MaxFloat32, float32(math.Inf(1)), 0x7F80}, // nearer to it than to the largest
	} {
		b, err := json.Marshal(FloatsOf(c.value))
		if err != nil {
			t.Fatal(err)
		}
		want, _ := json.Marshal(base64.StdEncoding.EncodeToString(binary.LittleEndian.AppendUint16(nil, c.bits)))
		if string(b) != string(want) {
			t.Errorf("%v is stored as %s, want %s", c.value, b, want)
		}
		var got Floats
		if err := json.Unmarshal(b, &got); err != nil || len(got) != 1 || got[0].Value() != c.kept || got[0] != FloatOf(c.value) {
			t.Errorf("%v comes back as %v, %v, and is kept as %v; want %v", c.value, got, err, FloatOf(c.value).Value(), c.kept)
		}
	}
	if nan := FloatOf(float32(math.NaN())).Value(); nan == nan {
		t.Errorf("no number is kept as %v", nan)
	}
	var none, odd Floats
	if err := json.Unmarshal([]byte("null"), &none); err != nil || none != nil {
		t.Errorf("null: %v, %v", none, err)
	}
	if err := json.Unmarshal([]byte(`"AAAA"`), &odd); err == nil {
		t.Errorf("three bytes are read as %v", odd)
	}
}

// A place keeps the weight of what matters, on any grid.
func TestAPlaceIsWhereWhatMattersIs(t *testing.T) {
	m := &Matters{Columns: 96, Rows: 64, Weight: make([]uint8, 96*64)}
	for y := 16; y < 48; y++ {
		for x := 24; x < 72; x++ {
			m.Weight[y*96+x] = 255
		}
	}
	m.Weight[0] = MattersFrom - 1 // ground, where there is a dish
	for _, c := range [][2]int{{24, 16}, {48, 32}, {25, 17}, {8, 8}, {96, 64}, {100, 70}, {1, 1}} {
		w := m.Place(c[0], c[1])
		if len(w) != c[0]*c[1] {
			t.Fatalf("%v: %d cells", c, len(w))
		}
		var sum, x, y float64
		for i, v := range w {
			sum += v
			x += v * (float64(i%c[0]) + 0.5) / float64(c[0])
			y += v * (float64(i/c[0]) + 0.5) / float64(c[1])
		}
		// A quarter of the picture, about its middle; a cell more or less at each
		// side where the grids don't fit.
		edge := 1 / float64(min(c[0], c[1]))
		if share := sum / float64(len(w)); !(math.Abs(share-0.25) <= edge) || !(math.Abs(x/sum-0.5) <= edge/2) || !(math.Abs(y/sum-0.5) <= edge/2) {
			t.Errorf("%v: %.3f of the picture about %.3f, %.3f", c, share, x/sum, y/sum)
		}
		if c[0] > 1 && w[0] != 0 {
			t.Errorf("%v: the ground weighs %v", c, w[0])
		}
	}
	faint := &Matters{Columns: 2, Rows: 1, Weight: []uint8{0, 51}}
	if w := faint.Place(2, 1); !slices.Equal(w, []float64{0, 0.2}) {
		t.Errorf("without a dish: %v", w)
	}
	for name, m := range map[string]*Matters{"nil": nil, "nothing": {Columns: 2, Rows: 1, Weight: []uint8{0, 0}}, "no grid": {Columns: 2, Rows: 2, Weight: []uint8{255}}} {
		if w := m.Place(2, 1); w != nil {
			t.Errorf("%s: %v", name, w)
		}
	}
}

// A score over a place is of that place's sums, and nothing is made of nothing.
func TestOverAPlace(t *testing.T) {
	f := &Focus{Columns: 4, Rows: 1, Fine: FloatsOf(0.02, 0.01), Far: FloatsOf(0.01, 0.01)}
	both, _ := f.Over([]float64{1, 1})
	again, _ := f.Over([]float64{7, 7})
	left, ok := f.Over([]float64{1, 0})
	right, _ := f.Over([]float64{0, 1})
	if !ok || !(left > both) || !(both > right) || right != 0 || math.Abs(both-again) > 1e-12 {
		t.Errorf("left %v, both %v and %v, right %v", left, both, again, right)
	}
	for name, place := range map[string][]float64{"none": nil, "too few": {1}, "too many": {1, 1, 1}, "nowhere": {0, 0}} {
		if s, ok := f.Over(place); ok {
			t.Errorf("%s: %v", name, s)
		}
	}
	if s, ok := (&Focus{Columns: 2, Rows: 1, Fine: FloatsOf(1e-8), Far: FloatsOf(1e-8)}).Over([]float64{1}); ok {
		t.Errorf("of a bare wall: %v", s)
	}
	if s, ok := (&Focus{Columns: 2, Rows: 1, Fine: FloatsOf(-1e-6), Far: FloatsOf(0.01)}).Over([]float64{1}); !ok || s != 0 {
		t.Errorf("of grain alone over a shadow's edge: %v, %v", s, ok)
	}
}
