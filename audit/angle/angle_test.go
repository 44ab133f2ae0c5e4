package angle

import (
	"math"
	"slices"
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// seen is a frame of 3:2 with the given rims and no focal length.
func seen(rims ...catalogue.Rim) catalogue.Frame {
	var f catalogue.Frame
	f.Look.Width, f.Look.Height, f.Look.Rims = 3000, 2000, rims
	return f
}

// rim is one at (x, y) of half axis a, as tall as wide as an elevation makes it.
func rim(x, y, a, elevation, score float64) catalogue.Rim {
	return catalogue.Rim{X: x, Y: y, A: a, B: a * math.Sin(elevation*math.Pi/180), Cover: score, Support: score, Score: score}
}

func TestReadings(t *testing.T) {
	down := -88.0
	level := catalogue.Frame{Exposure: catalogue.Exposure{Elevation: &down}}
	level.Look = seen(rim(0.5, 0.33, 0.2, 40, 0.9)).Look
	beyond, none := -96.0, math.NaN()
	over := catalogue.Frame{Exposure: catalogue.Exposure{Elevation: &beyond}}
	nonsense := catalogue.Frame{Exposure: catalogue.Exposure{Elevation: &none}}
	nonsense.Look = level.Look
	cropped := rim(0.5, 0.33, 0.2, 74.4, 0.8)
	cropped.Turn = 88
	for _, c := range []struct {
		name      string
		frame     catalogue.Frame
		class     plan.Angle
		elevation float64 // NaN: not known
		says      string
	}{
		{"nothing seen", seen(), plan.UnknownAngle, math.NaN(), "no round rim"},
		{"the level comes before the rims", level, plan.Overhead, 88, "level says 88°"},
		{"held beyond the upright", over, plan.Overhead, 84, "level says 84°"},
		{"a level of nonsense", nonsense, plan.ThreeQuarter, 40, "as tall"},
		{"one good rim", seen(rim(0.5, 0.33, 0.2, 40, 0.9)), plan.ThreeQuarter, 40, "a rim 64 % as tall as it is wide"},
		{"from above", seen(rim(0.5, 0.33, 0.2, 86, 0.9)), plan.Overhead, 86, "as tall"},
		{"from the side", seen(rim(0.5, 0.33, 0.2, 12, 0.9)), plan.Low, 12, ""},
		{"a faint curve proves nothing", seen(rim(0.5, 0.33, 0.2, 86, 0.3)), plan.UnknownAngle, 86, "look"},
		{"two that agree", seen(rim(0.3, 0.33, 0.15, 62, 0.42), rim(0.75, 0.3, 0.12, 61, 0.42)), plan.High, 61.5, "two rims agree"},
		{"two that differ", seen(rim(0.3, 0.33, 0.15, 85, 0.5), rim(0.75, 0.3, 0.12, 40, 0.5)), plan.UnknownAngle, 40, "look"},
		{"on the line", seen(rim(0.5, 0.33, 0.2, 74.6, 0.9)), plan.UnknownAngle, 74.6, "on the line between high and overhead"},
		{"leaning sideways on the line: held over the dish", seen(cropped), plan.Overhead, 75, ""},
		{"nonsense rims are passed over", seen(catalogue.Rim{A: math.NaN(), B: 1, Score: 1}, catalogue.Rim{A: 0.1, B: 0.2, Score: 1}, catalogue.Rim{}), plan.UnknownAngle, math.NaN(), "no round rim"},
	} {
		got := Of(c.frame)
		if got.Class != c.class || got.Known == math.IsNaN(c.elevation) || got.Known && !(math.Abs(got.Elevation-c.elevation) <= 1.5) || !strings.Contains(got.Why, c.says) {
			t.Errorf("%s: %+v, want %s at %g saying %q", c.name, got, c.class, c.elevation, c.says)
		}
		if got.Class != plan.UnknownAngle && plan.AngleOf(got.Elevation) != got.Class {
			t.Errorf("%s: %s at %g", c.name, got.Class, got.Elevation)
		}
		for _, v := range []float64{got.Confidence, got.Overhead} {
			if !(v >= 0 && v <= 1) {
				t.Errorf("%s: a chance of %g", c.name, v)
			}
		}
	}
}

// A second vessel that agrees makes surer, one that differs less sure.
func TestVesselsStrengthenAndWeaken(t *testing.T) {
	one := rim(0.3, 0.33, 0.15, 84, 0.45)
	alone := Of(seen(one)).Overhead
	with := Of(seen(one, rim(0.75, 0.3, 0.12, 85, 0.45))).Overhead
	against := Of(seen(one, rim(0.75, 0.3, 0.12, 45, 0.45))).Overhead
	if !(with > alone+0.05 && against < alone-0.05) {
		t.Errorf("overhead %.2f alone, %.2f with one that agrees, %.2f with one that differs", alone, with, against)
	}
	// Without a focal length two plates that stand apart differ by some degrees
	// and still agree; a faint curve is no witness at all.
	if apart := Of(seen(rim(0.3, 0.33, 0.15, 60, 0.45), rim(0.75, 0.3, 0.12, 66, 0.45))); !(apart.Confidence > Of(seen(rim(0.3, 0.33, 0.15, 60, 0.45))).Confidence+0.05) {
		t.Errorf("60° and 66° side by side: %+v", apart)
	}
	// The surest one counts for most, since off the axis of an unknown lens the
	// other is some degrees wrong.
	steep, flat := rim(0.3, 0.33, 0.15, 77, 0.5), rim(0.75, 0.3, 0.12, 72, 0.5)
	if led, followed := Of(seen(steep, flat)).Overhead, Of(seen(flat, steep)).Overhead; !(led > followed+0.05) {
		t.Errorf("overhead %.2f where 77° comes first, %.2f where 72° does", led, followed)
	}
	if faint := Of(seen(one, rim(0.75, 0.3, 0.12, 45, 0.34))).Overhead; faint != alone {
		t.Errorf("a faint curve moves %.3f to %.3f", alone, faint)
	}
	// A rim and its own well are one witness.
	if well := Of(seen(one, rim(0.3, 0.33, 0.1, 84, 0.44))).Overhead; well != alone {
		t.Errorf("a well of the same plate moves %.3f to %.3f", alone, well)
	}
}

// Frames of one set in which the same rims stand in the same places vote
// together; others keep to themselves.
func TestSetVotes(t *testing.T) {
	faint, clear := rim(0.5, 0.33, 0.2, 84, 0.36), rim(0.5, 0.33, 0.2, 84, 0.7)
	other := rim(0.5, 0.33, 0.3, 40, 0.9)
	if got := Of(seen(faint)); got.Class != plan.UnknownAngle {
		t.Fatalf("the faint one alone is %s", got.Class)
	}
	got := OfSet([]catalogue.Frame{seen(faint), seen(clear), seen(other)})
	if got[0].Class != plan.Overhead || !slices.Contains(got[0].Sources, Set) || !strings.Contains(got[0].Why, "one other frame of the set") {
		t.Errorf("beside a clear one: %+v", got[0])
	}
	if lone := Of(seen(other)); got[2].Class != lone.Class || got[2].Confidence != lone.Confidence {
		t.Errorf("the other is %+v in the set, %+v alone", got[2], lone)
	}
	// One frame's level serves those from the same spot.
	level := seen(faint)
	down := -71.0
	level.Exposure.Elevation = &down
	if got := OfSet([]catalogue.Frame{seen(clear), level})[0]; got.Class != plan.High || got.Elevation != 71 {
		t.Errorf("beside a level of 71°: %+v", got)
	}
	// However many frames are alike, they count as one more, and that makes the
	// degrees surer too.
	two, three := OfSet([]catalogue.Frame{seen(faint), seen(clear)})[0], OfSet([]catalogue.Frame{seen(faint), seen(clear), seen(clear)})[0]
	if !(math.Abs(two.Confidence-three.Confidence) <= 1e-9) {
		t.Errorf("%.4f beside one, %.4f beside two of the same", two.Confidence, three.Confidence)
	}
	if alone := Of(seen(clear)); !(OfSet([]catalogue.Frame{seen(clear), seen(clear)})[0].PlusMinus < alone.PlusMinus-0.2) {
		t.Errorf("± %.2f alone, no less beside the same", alone.PlusMinus)
	}
	// Another body is another spot.
	moved := seen(clear)
	moved.Camera.Serial = "2"
	if got := OfSet([]catalogue.Frame{seen(faint), moved})[0]; got.Class != plan.UnknownAngle {
		t.Errorf("beside another body: %+v", got)
	}
}

// The focal length turns what asin gets wrong: a plate off the axis of a wide
// lens, row 45,700,120,0,-200 of the reference file.
func TestFocalLengthCorrects(t *testing.T) {
	c := circleRow{e: 45, d: 700, r: 120, away: -200}
	r := c.projected() // focal length: the picture's width, square
	r.Score, r.Cover = 0.9, 0.9
	f := seen(r)
	f.Look.Width, f.Look.Height = 2000, 2000
	if got := Of(f); !(math.Abs(got.Elevation-63.7) <= 1) {
		t.Errorf("without the focal length: %+v, want asin's 63.7°", got)
	}
	f.Exposure.Focal35 = diagonal35 / math.Sqrt2
	if got := Of(f); got.Class != plan.ThreeQuarter || !(math.Abs(got.Elevation-45) <= 0.3) {
		t.Errorf("with it: %+v, want 45°", got)
	}
}

// A picture that was cut says nothing by its focal length: its middle is not
// the lens's axis.
func TestCutPictureIsNotPosed(t *testing.T) {
	f := seen(rim(0.5, 0.6, 0.2, 50, 0.9))
	f.Exposure.Focal35 = 26
	posed := Of(f)
	f.Look.Width, f.Look.Height = 3000, 2600
	f.Look.Rims = []catalogue.Rim{rim(0.5, 0.6, 0.2, 60, 0.9)}
	cut := Of(f)
	if math.Abs(posed.Elevation-50) < 1 || math.Abs(cut.Elevation-60) > 0.5 || !strings.Contains(cut.Why, "cut from a larger") {
		t.Errorf("whole %+v, cut %+v", posed, cut)
	}
	// Cut to a shape that cameras write too, which the file's own Exif gives away.
	f.Look.Width, f.Look.Height = 3000, 2000
	f.Exposure.Cut = true
	if got := Of(f); math.Abs(got.Elevation-60) > 0.5 || !strings.Contains(got.Why, "cut from a larger") {
		t.Errorf("cut to 3:2: %+v", got)
	}
	for _, c := range []struct {
		w, h int
		want bool
	}{{4032, 3024, true}, {3024, 4032, true}, {6000, 4000, true}, {6016, 4016, true}, {4000, 2250, true}, {1200, 1049, false}, {1000, 1000, true}, {2000, 900, false}} {
		if got := whole(c.w, c.h); got != c.want {
			t.Errorf("whole(%d, %d) = %v", c.w, c.h, got)
		}
	}
}

// Lens and aperture nudge; they decide nothing.
func TestLensNudges(t *testing.T) {
	at := func(focal, focal35, f float64) Reading {
		s := seen(rim(0.5, 0.33, 0.2, 78, 0.6))
		s.Exposure.FocalLength, s.Exposure.FNumber = focal, f
		if focal35 > 0 {
			s.Exposure.Focal35 = focal35
		}
		return Of(s)
	}
	plain, down, open, phone := at(50, 0, 4), at(50, 0, 8), at(50, 0, 1.8), at(4, 0, 1.8)
	if !(down.Overhead > plain.Overhead && open.Overhead < plain.Overhead && down.Overhead-open.Overhead < 0.1 && phone.Overhead == plain.Overhead) {
		t.Errorf("overhead %.3f at f/4, %.3f at f/8, %.3f at f/1.8, %.3f of a phone", plain.Overhead, down.Overhead, open.Overhead, phone.Overhead)
	}
	if !slices.Contains(down.Sources, Lens) || slices.Contains(plain.Sources, Lens) || !strings.Contains(down.Why, "50 mm f/8, stopped down") {
		t.Errorf("f/8: %+v", down)
	}
	bare := seen()
	bare.Exposure.FocalLength, bare.Exposure.FNumber = 50, 11
	if got := Of(bare); got.Class != plan.UnknownAngle || got.Known {
		t.Errorf("no rim at f/11: %+v", got)
	}
}

// A set's order changes nothing, and no reading holds a NaN.
func TestOrderOfTheSet(t *testing.T) {
	frames := []catalogue.Frame{seen(rim(0.5, 0.33, 0.2, 84, 0.36)), seen(rim(0.5, 0.33, 0.2, 84, 0.7)), seen(), seen(rim(0.2, 0.2, 0.1, 30, 1)),
		seen(rim(0.5, 0.33, 0.2, 90, 1)), seen(rim(0.5, 0.33, 0.2, 0.01, 1))}
	a := OfSet(frames)
	slices.Reverse(frames)
	b := OfSet(frames)
	slices.Reverse(b)
	for i := range a {
		if a[i].Class != b[i].Class || !(math.Abs(a[i].Elevation-b[i].Elevation) <= 1e-9) || a[i].Why != b[i].Why {
			t.Errorf("frame %d: %+v, other way round %+v", i, a[i], b[i])
		}
		for _, v := range []float64{a[i].Elevation, a[i].PlusMinus, a[i].Confidence, a[i].Overhead} {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("frame %d: %+v", i, a[i])
			}
		}
	}
}

// Two slivers in the grain of a board don't outvote a plate.
func TestSliversAreNoWitnesses(t *testing.T) {
	plate := rim(0.5, 0.33, 0.15, 84, 0.9)
	got := Of(seen(plate, rim(0.15, 0.05, 0.12, 5, 0.49), rim(0.1, 0.6, 0.1, 7, 0.45), rim(0.9, 0.6, 0.1, 8, 0.4)))
	if got.Class != plan.Overhead {
		t.Errorf("%+v, want overhead", got)
	}
}

// 35 mm equivalents go by the diagonal (CIPA DCG-001): on 3:2 that is the
// width of 36 mm.
func TestFocalLengthInShares(t *testing.T) {
	if got := focalOf(50, 24.0/36); !(math.Abs(got-50.0/36) <= 1e-9) {
		t.Errorf("50 mm on 3:2 is %.5f of the width, want %.5f", got, 50.0/36)
	}
	if got := focalOf(50, 36.0/24); !(math.Abs(got-50.0/24) <= 1e-9) {
		t.Errorf("50 mm on 2:3 is %.5f of the width, want %.5f", got, 50.0/24)
	}
}
