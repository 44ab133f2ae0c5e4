package crop

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// disc is a dish: a circle in shares of the picture's width.
type disc struct{ x, y, r float64 }

// scene lays dishes on a bare table, all as sharp.
func scene(w, h int, dishes ...disc) Scene {
	s := Scene{Width: w, Height: h, Columns: 96, Rows: max(1, 96*h/w)}
	s.Weight, s.Part = make([]uint8, s.Columns*s.Rows), make([]uint8, s.Columns*s.Rows)
	for i := range s.Weight {
		x, y := (float64(i%s.Columns)+0.5)/float64(s.Columns), (float64(i/s.Columns)+0.5)/float64(s.Rows)*float64(h)/float64(w)
		for n, d := range dishes {
			if math.Hypot(x-d.x, y-d.y) <= d.r {
				s.Weight[i], s.Part[i] = 220, uint8(n+1)
			}
		}
	}
	s.SharpColumns, s.SharpRows = 48, 32
	s.Sharp = make([]uint8, 48*32)
	for i := range s.Sharp {
		s.Sharp[i] = 200
	}
	return s
}

// tray lays a rectangle of food, in cells of 96 × 64, into a frame of 6000 × 4000.
func tray(x0, y0, x1, y1 int) Scene {
	s := scene(6000, 4000)
	for i := range s.Weight {
		if x, y := i%s.Columns, i/s.Columns; x >= x0 && x < x1 && y >= y0 && y < y1 {
			s.Weight[i], s.Part[i] = 220, 1
		}
	}
	return s
}

func standing(t *testing.T, s Scene, side Side, shape Shape) Standing {
	t.Helper()
	for _, x := range Stand(s, []Shape{shape}) {
		if x.Side == side {
			return x
		}
	}
	t.Fatalf("no half %q", side)
	return Standing{}
}

var tall = Shape{Name: "4:5", Width: 1080, Height: 1350}

// The dishes are drawn by the test, so which half holds one whole is plain
// geometry: no source but the drawing.
func TestHalfStandsAlone(t *testing.T) {
	soft := scene(6000, 4000, disc{0.25, 0.33, 0.15}, disc{0.75, 0.33, 0.15})
	for i := range soft.Sharp {
		if i%48 >= 24 {
			soft.Sharp[i] = 30
		}
	}
	blind := scene(6000, 4000, disc{0.25, 0.33, 0.15})
	blind.Sharp = nil
	bare := scene(6000, 4000)
	unknown := Scene{Width: 6000, Height: 4000}
	small := scene(1800, 1200, disc{0.25, 0.33, 0.15})
	for _, c := range []struct {
		name string
		s    Scene
		side Side
		want Works
		says string
	}{
		{"a dish in the left half", scene(6000, 4000, disc{0.25, 0.33, 0.15}), Left, Yes, "the dish is whole; sharp; calm edges; room about it"},
		{"nothing in the right half", scene(6000, 4000, disc{0.25, 0.33, 0.15}), Right, No, "nothing that matters is in it"},
		{"a dish in the middle is cut", scene(6000, 4000, disc{0.5, 0.33, 0.15}), Left, No, "the dish is cut, 50 % of it inside"},
		{"a dish in the middle fits a window between", scene(6000, 4000, disc{0.5, 0.33, 0.15}), BetweenLR, Yes, "the dish is whole"},
		{"a dish off the middle fits a window that slides", scene(6000, 4000, disc{0.38, 0.33, 0.15}), BetweenLR, Yes, "the dish is whole"},
		{"a dish larger than any half", scene(6000, 4000, disc{0.5, 0.33, 0.31}), BetweenLR, Look, "the dish is cut, 9"},
		{"the other dish reaches in", scene(6000, 4000, disc{0.22, 0.33, 0.17}, disc{0.6, 0.33, 0.17}), Left, Yes, "the dish is whole"},
		{"both dishes are cut", scene(6000, 4000, disc{0.46, 0.33, 0.14}, disc{0.76, 0.33, 0.14}), Left, No, "is cut"},
		{"the right dish is out of focus", soft, Right, No, "softer than the rest of the picture (15 %)"},
		{"and the left one is sharp", soft, Left, Yes, "sharp"},
		{"focus is not known", blind, Left, Look, "its focus is not measured"},
		{"nothing stands out", bare, Left, Look, "where its dish stands is not known"},
		{"the picture cuts the dish", scene(6000, 4000, disc{0.1, 0.33, 0.15}), Left, Look, "the picture itself cuts the dish"},
		{"what matters is not known", unknown, Left, Look, "where its dish stands is not known"},
		{"too few pixels", small, Left, No, "900×1125 px for 4:5, 1080×1350 are needed"},
		{"food all over", scene(6000, 4000, disc{0.5, 0.33, 0.7}), Left, Look, "the dish fills the picture"},
	} {
		got := standing(t, c.s, c.side, tall)
		if got.Works != c.want || !strings.Contains(got.Why(), c.says) {
			t.Errorf("%s: %s (%s), want %s (%s)", c.name, got.Works, got.Why(), c.want, c.says)
		}
	}
}

// Frames that are no camera's 3:2, and grids that say nothing: every half gets
// an answer with a reason, and none is called good for want of knowledge.
func TestEveryFrameGetsAnAnswer(t *testing.T) {
	zeros := scene(6000, 4000)
	short := scene(6000, 4000, disc{0.25, 0.33, 0.15})
	short.Weight = short.Weight[:7]
	parts := scene(6000, 4000, disc{0.25, 0.33, 0.15})
	parts.Part = nil
	wild := scene(6000, 4000, disc{0.25, 0.33, 0.15})
	for i := range wild.Part {
		wild.Weight[i], wild.Part[i] = 200, uint8(i%255+1) // more regions than are told apart
	}
	for _, c := range []struct {
		name string
		s    Scene
		side Side
		want Works
		says string
	}{
		{"a grid of zeros", zeros, Left, Look, "where its dish stands is not known"},
		{"a grid that is too short", short, Left, Look, "where its dish stands is not known"},
		{"weights without regions", parts, Left, Look, "where its dish stands is not known"},
		{"more regions than are told apart", wild, Left, No, "the dish is cut"},
		{"one pixel under the floor", scene(2159, 1350, disc{0.25, 0.3, 0.15}), Left, No, "1076×1345 px for 4:5, 1080×1350 are needed"},
		{"as many pixels as are needed", scene(2160, 1350, disc{0.25, 0.31, 0.15}), Left, Yes, "the dish is whole"},
		{"a panorama whose height is under the floor", scene(20000, 1300, disc{0.25, 0.03, 0.02}), Left, No, "1040×1300 px for 4:5"},
		{"a panorama with a dish on its left", scene(12000, 2000, disc{0.2, 0.08, 0.05}), Left, Yes, "the dish is whole"},
		{"and nothing on its right", scene(12000, 2000, disc{0.2, 0.08, 0.05}), Right, No, "nothing that matters is in it"},
		{"a square phone with a dish in the middle", scene(3024, 3024, disc{0.5, 0.5, 0.3}), Left, No, "the dish is cut"},
		{"a square phone with a dish on its left", scene(3024, 3024, disc{0.24, 0.5, 0.18}), Left, Yes, "the dish is whole"},
		{"a tall frame with a dish below", scene(4000, 6000, disc{0.5, 1.12, 0.28}), Bottom, Yes, "the dish is whole"},
	} {
		got := standing(t, c.s, c.side, tall)
		if got.Works != c.want || !strings.Contains(got.Why(), c.says) || got.Why() == "" {
			t.Errorf("%s: %s (%s), want %s (%s)", c.name, got.Works, got.Why(), c.want, c.says)
		}
	}
	for _, size := range [][2]int{{0, 0}, {-3, 5}, {1, 1}, {1, 6000}, {3, 2}} {
		for _, x := range Stand(Scene{Width: size[0], Height: size[1]}, []Shape{tall}) {
			if x.Works != No || x.Why() == "" {
				t.Errorf("%v: %s (%s)", size, x.Works, x.Why())
			}
		}
	}
}

// A circle that the picture's edge cuts by a sliver is whole for all purposes;
// a sliver is a chord under half of its own width.
func TestWhatThePictureCuts(t *testing.T) {
	for _, c := range []struct {
		name string
		d    disc
		want Works
	}{
		{"touches the edge", disc{0.15, 0.33, 0.15}, Yes},
		{"loses a sliver, a hundredth of it", disc{0.145, 0.33, 0.15}, Yes},
		{"loses a tenth", disc{0.11, 0.33, 0.15}, Look},
		{"loses half", disc{0, 0.33, 0.2}, Look},
	} {
		if got := standing(t, scene(6000, 4000, c.d), Left, tall); got.Works != c.want {
			t.Errorf("%s: %s (%s), want %s", c.name, got.Works, got.Why(), c.want)
		}
	}
}

func TestEdgesOfThePictureAddUp(t *testing.T) {
	for _, c := range []struct {
		name  string
		along [4]int
		want  bool
	}{
		{"none", [4]int{}, false}, {"a quarter of one side", [4]int{10, 0, 0, 0}, false}, {"most of one side", [4]int{0, 0, 0, 30}, true},
		{"a third above and below", [4]int{0, 0, 14, 14}, true}, {"a third on the left and above", [4]int{14, 0, 14, 0}, true},
	} {
		if got := (cellBox{x1: 40, y1: 40, along: c.along}).runs(); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}

// Two dishes are a post together, though neither is most of what matters.
func TestWholeDishesCountTogether(t *testing.T) {
	all := scene(6000, 4000, disc{0.13, 0.22, 0.09}, disc{0.33, 0.46, 0.09}, disc{0.75, 0.33, 0.19})
	if got := standing(t, all, Left, tall); got.Works != Yes || got.measured.whole > 0.4 {
		t.Errorf("%s (%s), %.2f of what matters is whole in it", got.Works, got.Why(), got.measured.whole)
	}
	one := scene(6000, 4000, disc{0.25, 0.33, 0.09}, disc{0.75, 0.33, 0.23})
	if got := standing(t, one, Left, tall); got.Works != Look || !strings.Contains(got.Why(), "a small part of what matters (13 %)") {
		t.Errorf("%s (%s)", got.Works, got.Why())
	}
}

// Each of these lacks one thing that a half must have, and only that.
func TestWhatAHalfLacks(t *testing.T) {
	good := disc{0.25, 0.33, 0.15}
	busy := scene(6000, 4000, good)
	for i := range busy.Weight {
		if busy.Part[i] == 0 {
			busy.Weight[i] = 110 // all of the table nearly matters
		}
	}
	// In cells: the largest crop of the left half is 48 × 60 from (0, 2).
	filled, touching := tray(1, 3, 47, 61), tray(2, 10, 48, 50)
	vast := Scene{Width: 6000, Height: 4000, Columns: 400, Rows: 200, Weight: make([]uint8, 80000), Part: make([]uint8, 80000)}
	vast.Weight[0], vast.Part[0] = 200, 1
	for _, c := range []struct {
		name string
		s    Scene
		says string
	}{
		{"calm edges", busy, "its edges are busy"},
		{"room", touching, "the dish all but touches an edge"},
		{"a side dish that is whole", scene(2160, 1440, disc{0.25, 0.3, 0.15}, disc{0.485, 0.52, 0.05}), "something else that matters is cut"},
		{"enough of what matters, since the picture cuts its other dish", scene(6000, 4000, disc{0.27, 0.38, 0.1}, disc{0.05, 0.12, 0.08}, disc{0.75, 0.33, 0.17}), "a small part of what matters"},
		{"size", scene(6000, 4000, disc{0.25, 0.33, 0.045}), "the dish is small in it"},
		{"an edge of the dish in view", filled, "no room about the dish"},
		{"a grid whose sums can be held", vast, "where its dish stands is not known"},
	} {
		side := Left
		if c.s.Height > c.s.Width {
			side = Top
		}
		if got := standing(t, c.s, side, tall); got.Works == Yes || !strings.Contains(got.Why(), c.says) {
			t.Errorf("%s: %s (%s), want %s", c.name, got.Works, got.Why(), c.says)
		}
	}
}

func TestATighterCropLeavesOutWhatReachesIn(t *testing.T) {
	got := standing(t, scene(6000, 4000, disc{0.22, 0.33, 0.17}, disc{0.6, 0.33, 0.17}), Left, tall)
	if got.Works != Yes || got.Rect.Width >= 3000 {
		t.Errorf("%s %+v, want a crop that works and is tighter than the largest", got.Works, got.Rect)
	}
	if got.Scale < 1 {
		t.Errorf("%+v would have to be scaled up", got)
	}
}

// Laws: every crop lies in its half (or, sliding, in the frame), has its shape
// exactly and is never scaled up; the picture mirrored gives the answer
// mirrored; without weights nothing is called good.
func TestStandingObeysItsLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.SampledFrom([]int{6000, 4000, 3001, 9000}).Draw(t, "w"), rapid.SampledFrom([]int{4000, 6000, 3000, 2500}).Draw(t, "h")
		var dishes, mirrored []disc
		for range rapid.IntRange(0, 3).Draw(t, "dishes") {
			d := disc{rapid.Float64Range(0, 1).Draw(t, "x"), rapid.Float64Range(0, 1).Draw(t, "y"), rapid.Float64Range(0.02, 0.3).Draw(t, "r")}
			dishes, mirrored = append(dishes, d), append(mirrored, disc{1 - d.x, d.y, d.r})
		}
		s := scene(w, h, dishes...)
		all := Stand(s, []Shape{tall})
		back := Stand(scene(w, h, mirrored...), []Shape{tall})
		for i, x := range all {
			r := x.Rect
			if r.X < 0 || r.Y < 0 || r.X+r.Width > w || r.Y+r.Height > h || r.Width*5 != r.Height*4 {
				t.Fatalf("%+v in %d × %d", x, w, h)
			}
			if x.Side == Left && r.X+r.Width > w/2 || x.Side == Bottom && r.Y < h-h/2 {
				t.Fatalf("%+v leaves its half of %d × %d", x, w, h)
			}
			if x.Works != No && x.Scale < 1 {
				t.Fatalf("%+v would be scaled up", x)
			}
			if !(x.Score >= 0 && x.Score <= 1) || x.Works == Yes && len(dishes) == 0 || x.Why() == "" {
				t.Fatalf("%+v of %v", x, dishes)
			}
			other := back[i]
			if x.Side == Left {
				other = back[i+1]
			} else if x.Side == Right {
				other = back[i-1]
			}
			// A grid of 96 columns mirrors onto itself; a score may differ by
			// where whole pixels fall.
			if d := x.Works.Rank() - other.Works.Rank(); (d > 1 || d < -1) && math.Abs(x.Score-other.Score) > 0.1 {
				t.Fatalf("%+v, mirrored %+v", x, other)
			}
		}
	})
}

// strip is the share of a disc that a strip through its centre holds, t its
// width in diameters: two circular segments are outside of it.
func strip(t float64) float64 { return 2 / math.Pi * (math.Asin(t) + t*math.Sqrt(1-t*t)) }

func TestPlaceKeepsWhatMatters(t *testing.T) {
	for _, c := range []struct {
		name  string
		s     Scene
		b     Box
		kept  float64
		fold  bool
		fits  Works
		at    int // x of the crop, or −1
		words string
	}{
		{"a portrait page of a lying frame follows the dish", scene(6000, 4000, disc{0.2, 0.33, 0.12}), Box{192, 252, 0}, 1, false, Yes, -1, "keeps 100 %"},
		{"a dish wider than the page is cut", scene(6000, 4000, disc{0.5, 0.33, 0.33}), Box{150, 252, 0}, strip(2380.0 / 3960), false, No, -1, "cuts"},
		{"a dish on the fold", scene(6000, 4000, disc{0.5, 0.33, 0.2}), Box{384, 252, 12}, 1, true, No, -1, "lies in the fold, and it is sharp there"},
		{"a dish beside the fold", scene(6000, 4000, disc{0.25, 0.33, 0.15}), Box{384, 252, 12}, 1, false, Yes, -1, "keeps 100 %"},
		{"nothing known", Scene{Width: 6000, Height: 4000}, Box{192, 252, 0}, -1, false, Look, -1, ""},
	} {
		got := Place(c.s, c.b)
		if math.Abs(got.Kept-c.kept) > 0.02 || got.Fits() != c.fits || got.Fold > FoldTo != c.fold || !strings.Contains(got.Says(), c.words) {
			t.Errorf("%s: %+v %s (%s), want kept %.2f, %s (%s)", c.name, got, got.Fits(), got.Says(), c.kept, c.fits, c.words)
		}
		if r := got.Rect; r.X < 0 || r.Y < 0 || r.X+r.Width > c.s.Width || r.Y+r.Height > c.s.Height {
			t.Errorf("%s: %+v leaves the picture", c.name, r)
		}
	}
	if got := Place(scene(6000, 4000), Box{0, 252, 0}); got.PPI != 0 || got.Rect != (Rect{}) {
		t.Errorf("a place without width: %+v", got)
	}
}

// A disc that reaches into the gutter by a sagitta h loses a circular segment:
// (θ − sin θ cos θ)/π of it, with cos θ = 1 − h/r.
func TestFoldIsTheShareInTheGutter(t *testing.T) {
	const r, gutter = 0.15, 12.0 / 384
	theta := math.Acos(1 - gutter/r)
	want := (theta - math.Sin(theta)*math.Cos(theta)) / math.Pi
	got := PlaceAt(scene(6000, 4000, disc{0.5 - r, 0.33, r}), Rect{0, 31, 6000, 3937}, Box{384, 252, 12})
	const cell = 0.008 // a column of cells of the disc's edge, as a share of it
	if !(math.Abs(got.Fold-want) <= cell) {
		t.Errorf("%.4f of the disc lies in the gutter, want %.4f", got.Fold, want)
	}
}

func BenchmarkStand(b *testing.B) {
	s := scene(6000, 4000, disc{0.25, 0.33, 0.15}, disc{0.7, 0.3, 0.12}, disc{0.6, 0.6, 0.05})
	shapes := []Shape{{"4:5", 1080, 1350, ""}, {"1:1", 1080, 1080, ""}, {"9:16", 1080, 1920, ""}, {"3:4", 1080, 1440, ""}}
	b.ReportAllocs()
	for b.Loop() {
		Stand(s, shapes)
	}
}
