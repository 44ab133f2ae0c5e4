package audit

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// pictured is what was measured of one of many pictures: its light, and edges
// of a sharpness in the left and in the right half of it. What matters is the
// columns from … to of 24.
func pictured(picture int, left, right float32, from, to int) *catalogue.Look {
	l := &catalogue.Look{Preview: "decoded", Focus: &catalogue.Focus{Score: 0.5}, Light: &catalogue.Light{}}
	cellsOf(l, picture, 0)
	f := l.Focus
	for i := range f.Fine {
		f.Far[i], f.Fine[i] = catalogue.FloatOf(0.002), catalogue.FloatOf(0.002*left)
		if i%24 >= 12 {
			f.Fine[i] = catalogue.FloatOf(0.002 * right)
		}
	}
	for i := range f.Grid { // sharpness as look would have it: the more the finer
		f.Grid[i] = uint8(60 * (left - 1))
		if i%48 >= 24 {
			f.Grid[i] = uint8(60 * (right - 1))
		}
	}
	l.Matters = &catalogue.Matters{Columns: 24, Rows: 16, Weight: make([]uint8, 24*16)}
	for i := range l.Matters.Weight {
		if i%24 >= from && i%24 < to {
			l.Matters.Weight[i] = 200
		}
	}
	return l
}

// Frames of one picture are judged on one place: a blurred copy whose place was
// found crisper is not above its original.
func TestFramesOfOnePictureAreJudgedOnOnePlace(t *testing.T) {
	original := pictured(1, 2.4, 1.6, 0, 24) // all of it matters
	blurred := pictured(1, 2.3, 1.5, 0, 12)  // only its crisp half does
	other := pictured(2, 2.3, 1.5, 0, 12)    // the same of another picture
	sharp, scene := OnOnePlace([]*catalogue.Look{original, blurred, other})
	if !slices.Equal(scene, []int{0, 0, 1}) {
		t.Fatalf("scenes %v", scene)
	}
	if !(sharp[0] > sharp[1]) {
		t.Errorf("of one picture the original has %.3f, the blurred copy %.3f", sharp[0], sharp[1])
	}
	together := make([]float64, 24*16) // half of one vote and all of the other are for the left
	for i := range together {
		together[i] = 1
		if i%24 < 12 {
			together[i] = 3
		}
	}
	if want, _ := original.Focus.Over(together); !(math.Abs(sharp[0]-want) <= 1e-12) {
		t.Errorf("the original has %.4f, on the place of both it is %.4f", sharp[0], want)
	}
	if !(sharp[2] > sharp[0]) {
		t.Errorf("of another picture, on its own place: %.3f against %.3f", sharp[2], sharp[0])
	}
	// One in which nothing is known to matter votes for the middle: a table that
	// is sharp behind a soft dish does not outweigh a sharp dish.
	front, behind := pictured(1, 2.4, 1.2, 0, 12), pictured(1, 1.2, 2.4, 0, 24)
	behind.Matters = nil
	if sharp, _ := OnOnePlace([]*catalogue.Look{front, behind}); !(sharp[0] > sharp[1]) {
		t.Errorf("a sharp dish has %.3f, the table behind it %.3f", sharp[0], sharp[1])
	}
	// What was measured of another kind of pixels is not held against it.
	embedded := pictured(1, 2.3, 1.5, 0, 12)
	embedded.Preview = "mpf"
	if _, scene := OnOnePlace([]*catalogue.Look{original, embedded, {}}); !slices.Equal(scene, []int{0, 1, 2}) {
		t.Errorf("an embedded preview, and nothing at all: scenes %v", scene)
	}
}

// A dish whose front alone is in focus, as meant, is not soft beside one that is
// sharp all over; one that is soft all over is.
func TestADishMayBeSharpInItsFrontAlone(t *testing.T) {
	shoot := func(left, right, besideLeft, besideRight float32) string {
		var frames []catalogue.Frame
		for i, l := range []*catalogue.Look{pictured(1, left, right, 0, 24), pictured(1, besideLeft, besideRight, 0, 24)} {
			f := shotAt(fmt.Sprintf("%c.JPG", 'a'+i), float64(i), "R01")
			well(&f)
			full := 0.6
			f.Look.Preview, f.Look.Matters, f.Look.Light = l.Preview, l.Matters, l.Light
			f.Look.Focus = l.Focus
			f.Look.Focus.Full = &full
			f.Exposure.Elevation = nil // not from where the camera looked: from what it shows
			frames = append(frames, f)
		}
		r := Run(shootOf([]plan.Recipe{recipe("R01", "Dark rye", 11, plan.Hero)}, frames, chose(1, "a.JPG", "hero", "R01")))
		return string(finding(r, "R01", "hero").Verdict)
	}
	for _, c := range []struct {
		left, right, besideLeft, besideRight float32
		want                                 Verdict
	}{
		{2.4, 1.2, 2.4, 2.4, Settled}, {1.2, 2.4, 2.4, 2.4, Settled}, {1.5, 1.2, 2.4, 2.4, ToLook}, {1.2, 1.2, 2.4, 2.4, ToLook},
		{1.5, 1.2, 1.3, 2.4, Settled}, // sharper where it is meant to be than one that is sharp behind
	} {
		if got := shoot(c.left, c.right, c.besideLeft, c.besideRight); got != string(c.want) {
			t.Errorf("%+v: %s, want %s", c, got, c.want)
		}
	}
}

// One picture is known by its light, whatever the exposure, and in spite of a
// hand in it; another is not, nor the same moved by a cell, nor a bare wall.
func TestOnePictureIsKnown(t *testing.T) {
	light := func(change func(i int, v float32) float32) *catalogue.Light {
		l := pictured(5, 2, 2, 0, 24).Light
		for c := range l.Stops {
			old := slices.Clone(l.Stops[c])
			for i := range old {
				l.Stops[c][i] = catalogue.FloatOf(change(i, old[i].Value()))
			}
		}
		return l
	}
	first := light(func(_ int, v float32) float32 { return v })
	for name, c := range map[string]struct {
		light *catalogue.Light
		gain  float64
		known bool
	}{
		"the same":           {first, 0, true},
		"a stop less":        {light(func(_ int, v float32) float32 { return v - 1 }), -1, true},
		"a hand in a corner": {light(func(i int, v float32) float32 { return v + 0.5 - float32(i/360) }), 0.5, true}, // of the last 24 cells
		"half of it untold": {light(func(i int, v float32) float32 {
			if i%2 == 0 {
				return catalogue.Untold
			}
			return v + 0.25
		}), 0.25, true},
		"most of it untold": {light(func(i int, v float32) float32 {
			if i%5 != 0 {
				return catalogue.Untold
			}
			return v
		}), 0, false},
		"the same askew": {light(func(i int, v float32) float32 { return v + 0.3*float32(i%2*2-1) }), 0, false},
		"another":        {pictured(6, 2, 2, 0, 24).Light, 0, false},
		"a bare wall":    {light(func(i int, v float32) float32 { return -1 }), 0, false},
		"nothing":        {&catalogue.Light{Columns: 24, Rows: 16}, 0, false},
		"a number that is none": {light(func(i int, v float32) float32 {
			if i == 7 {
				return float32(math.NaN())
			}
			return v
		}), 0, true},
		"infinite": {light(func(i int, v float32) float32 {
			if i == 7 {
				return float32(math.Inf(-1))
			}
			return v
		}), 0, false},
	} {
		stops, cast, ok := Drift(c.light, first)
		if ok != c.known || ok && (!(math.Abs(stops-c.gain) <= 0.005) || !(cast <= 0.01)) {
			t.Errorf("%s: %.3f stops, a cast of %.3f, %v; want %v, none, %v", name, stops, cast, ok, c.gain, c.known)
		}
	}
	if _, _, ok := Drift(light(func(int, float32) float32 { return -1 }), light(func(int, float32) float32 { return -1 })); ok {
		t.Error("two bare walls are one picture")
	}
}

// Of two frames that differ neither is off; of three the third is, whichever
// way; of four that agree by twos none.
func TestTheMiddleOfASet(t *testing.T) {
	for _, c := range []struct {
		own    float64
		others []float64
		off    float64
	}{
		{0, []float64{-1, 0}, 0}, {-1, []float64{0, 0}, -1}, {1, []float64{0, 0}, 1},
		{0, []float64{0, 1, 1}, -1}, {0.5, []float64{0, 1}, 0}, {2, []float64{0, 1}, 1}, {0, []float64{3}, -3},
	} {
		if got := offMiddle(c.others, c.own); got != c.off {
			t.Errorf("%v among %v: %v off, want %v", c.own, c.others, got, c.off)
		}
	}
}
