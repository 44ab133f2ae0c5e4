package angle

import (
	"math"
	"slices"
	"strings"
	"testing"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// boards are the grooves of a table of boards, seen from elevation e by a
// camera of the given 35 mm equivalent: points of the table are carried through
// a pinhole one by one, so that no formula of the code is used. The boards run
// turn degrees from the camera's way, joints across them; every line errs by a
// fixed pattern of up to half a degree.
func boards(e, turn, focal35, height float64) []catalogue.Line {
	sin, cos := math.Sincos(e * math.Pi / 180)
	st, ct := math.Sincos(turn * math.Pi / 180)
	f := focal35 / diagonal35 * math.Hypot(1, height)
	point := func(along, across float64) (x, y float64, ok bool) {
		right, away := along*st+across*ct, along*ct-across*st // on the table, distance of the camera 1
		z := 1 + away*cos
		x, y = 0.5+f*right/z, height/2-f*away*sin/z
		return x, y, z > 0.1 && x > 0 && x < 1 && y > 0 && y < height
	}
	var lines []catalogue.Line
	add := func(a, c, b, d float64) {
		x1, y1, ok1 := point(a, c)
		x2, y2, ok2 := point(b, d)
		if n := math.Hypot(x2-x1, y2-y1); ok1 && ok2 && n > 0.07 {
			bend := n * math.Sin(float64(len(lines)*7)) * 0.5 * math.Pi / 180
			lines = append(lines, catalogue.Line{X1: x1, Y1: y1 + bend, X2: x2, Y2: y2 - bend})
		}
	}
	for i := -6; i <= 6; i++ {
		k := float64(i) * 0.11
		for j := -3; j < 3; j++ {
			add(float64(j)*0.2, k, float64(j)*0.2+0.17, k)
		}
		if i%3 == 0 {
			add(k, -0.1, k, 0.12)
		}
	}
	return lines
}

func TestBoardsTellTheElevation(t *testing.T) {
	for _, turn := range []float64{-35, -20, 15, 30} {
		for _, focal := range []float64{26, 50} {
			for _, e := range []float64{30, 45, 60, 80, 86} {
				f := seen()
				f.Exposure.Focal35 = focal
				f.Look.Lines = boards(e, turn, focal, 2.0/3)
				if len(f.Look.Lines) < 8 {
					t.Fatalf("%d lines at %g°, %g mm", len(f.Look.Lines), e, focal)
				}
				w := DefaultWeights()
				s := w.sightOf(f)
				got := s.straight.top(0, 90)
				// The steps are of 3°.
				if !s.lined || !(math.Abs(got-e) <= 4) {
					t.Errorf("turned %g°, %g mm: %.1f°, want %g°", turn, focal, got, e)
				}
			}
		}
	}
}

// A table of boards that is turned stands for an overhead, without a rim and
// without a focal length, where focus is even too; the same boards aslant never
// do, and boards along the picture's sides look alike from above and from a
// camera that lies on the table.
func TestBoardsWithoutARim(t *testing.T) {
	read := func(e, turn float64, even bool) Reading {
		f := seen()
		f.Look.Lines = boards(e, turn, 50, 2.0/3)
		g := catalogue.Focus{Columns: 48, Rows: 32, Grid: make([]uint8, 48*32)}
		for i := range g.Grid {
			g.Grid[i] = 180
			if !even {
				g.Grid[i] = uint8(60 + 5*(i/48))
			}
		}
		f.Look.Focus = &g
		return Of(f)
	}
	if r := read(87, 25, true); r.Class != plan.Overhead || !strings.Contains(r.Why, "no round rim") || !strings.Contains(r.Why, "stay parallel") ||
		!strings.Contains(r.Why, "focus even") || !slices.Equal(r.Sources, []Source{Edges, Focus}) {
		t.Errorf("from above: %+v", r)
	}
	for _, e := range []float64{35, 45, 55, 62} {
		if r := read(e, 25, false); r.Class == plan.Overhead || r.Overhead > 0.1 {
			t.Errorf("from %g°: %+v", e, r)
		}
	}
}

// Boards along the picture's sides are seen from above sooner than a wall of
// upright things from low, which have few edges that long.
func TestBoardsAlongTheSides(t *testing.T) {
	w := DefaultWeights()
	f := seen()
	f.Look.Lines = boards(89, 0, 50, 2.0/3)
	if s := w.sightOf(f); !(s.straight.share(plan.Overhead) > 0.75) {
		t.Errorf("overhead %.2f, low %.2f", s.straight.share(plan.Overhead), s.straight.share(plan.Low))
	}
}

// Another frame of the same table from the same spot is no second witness of its
// edges.
func TestEdgesOfOneTableCountOnce(t *testing.T) {
	faint := rim(0.5, 0.33, 0.2, 60, 0.5)
	plain := seen(faint)
	lined := seen(faint)
	lined.Look.Lines = boards(80, 20, 50, 2.0/3)
	with, without := OfSet([]catalogue.Frame{lined, lined})[0], OfSet([]catalogue.Frame{lined, plain})[0]
	if !(math.Abs(with.Overhead-without.Overhead) <= 1e-9) || !slices.Contains(with.Sources, Set) {
		t.Errorf("overhead %.4f beside a frame with the same edges, %.4f beside one without", with.Overhead, without.Overhead)
	}
}

// Edges of cutlery and crumbs run any way and tell nothing; few tell nothing
// either, nor do lines of no length.
func TestEdgesThatTellNothing(t *testing.T) {
	w := DefaultWeights()
	f := seen()
	for i := range 20 {
		sin, cos := math.Sincos(float64(i) * 2.399963) // golden angle
		x, y := 0.5+0.02*float64(i)*cos, 0.33+0.015*float64(i)*sin
		sin, cos = math.Sincos(float64(i) * 1.1)
		f.Look.Lines = append(f.Look.Lines, catalogue.Line{X1: x, Y1: y, X2: x + 0.09*cos, Y2: y + 0.09*sin})
	}
	s := w.sightOf(f)
	for _, b := range bands {
		if p, even := s.straight.share(b.class), (b.high-b.low)/90; !(p < 2*even && p > even/3) {
			t.Errorf("any way: %s %.2f, %.2f before", b.class, p, even)
		}
	}
	f.Look.Lines = boards(60, 20, 50, 2.0/3)[:3]
	if s := w.sightOf(f); s.lined {
		t.Error("three edges are said to tell something")
	}
	f.Look.Lines = []catalogue.Line{{}, {X1: 0.5, Y1: 0.5, X2: 0.5, Y2: 0.5}, {X2: math.NaN()}, {X2: 1e300}, {X2: math.Inf(1)}, {}}
	if s := w.sightOf(f); s.lined {
		t.Error("lines of no length are said to tell something")
	}
}

// Boards outvote the oval that a weak curve suggests, and a clear rim the
// boards.
func TestBoardsAgainstRims(t *testing.T) {
	f := seen(rim(0.5, 0.33, 0.2, 35, 0.40))
	alone := Of(f).Overhead
	f.Look.Lines = boards(87, 25, 50, 2.0/3)
	if got := Of(f); !(got.Overhead > 0.4 && alone < 0.2) {
		t.Errorf("a weak curve: overhead %.2f alone, %.2f on boards seen from above", alone, got.Overhead)
	}
	f.Look.Rims = seen(rim(0.5, 0.33, 0.2, 60, 0.95)).Look.Rims
	if got := Of(f); got.Class != plan.High || !(math.Abs(got.Elevation-60) <= 0.6) {
		t.Errorf("a clear rim: %+v", got)
	}
}

// Glasses and bottles: upright edges, carried through a pinhole point by point.
// Seen from low they stand side by side, from above they fan out of the point
// below the camera; either way they tell the elevation, if less than a table
// does, and no number of them is called overhead from low.
func TestStandingEdges(t *testing.T) {
	glasses := func(e float64) []catalogue.Line {
		const focal35, height = 50.0, 2.0 / 3
		sin, cos := math.Sincos(e * math.Pi / 180)
		f := focal35 / diagonal35 * math.Hypot(1, height)
		point := func(right, away, up float64) (x, y float64) {
			z := 1 + away*cos - up*sin
			return 0.5 + f*right/z, height/2 - f*(away*sin+up*cos)/z
		}
		var lines []catalogue.Line
		for i := range 5 {
			right, away := float64(i-2)*0.12, float64(i%3-1)*0.1
			x1, y1 := point(right, away, 0)
			x2, y2 := point(right, away, 0.22)
			lines = append(lines, catalogue.Line{X1: x1, Y1: y1, X2: x2, Y2: y2})
		}
		return lines
	}
	w := DefaultWeights()
	for _, e := range []float64{10, 20, 60} {
		f := seen()
		f.Exposure.Focal35 = 50
		f.Look.Lines = append(glasses(e), boards(e, 20, 50, 2.0/3)[:6]...)
		s := w.sightOf(f)
		class := plan.AngleOf(e)
		with := s.straight.share(class)
		f.Look.Lines = f.Look.Lines[5:]
		s = w.sightOf(f)
		if without := s.straight.share(class); !(with > without) {
			t.Errorf("from %g°: %s %.3f with glasses, %.3f without", e, class, with, without)
		}
	}
	f := seen()
	f.Look.Lines = glasses(10)
	if r := Of(f); r.Class == plan.Overhead || r.Overhead > 0.5 {
		t.Errorf("five glasses from 10°: %+v", r)
	}
}

// A long edge counts for more than a short one, and one thing's edges for no
// more than one and a half.
func TestWeightsOfEdges(t *testing.T) {
	across := func(y, long float64) catalogue.Line {
		return catalogue.Line{X1: 0.5 - long/2, Y1: y, X2: 0.5 + long/2, Y2: y}
	}
	for _, c := range []struct {
		name  string
		lines []catalogue.Line
		want  []float64
	}{
		{"apart", []catalogue.Line{across(0.1, 0.12), across(0.3, 0.06), across(0.5, 0.6)}, []float64{1, 0.5, 1.5}},
		{"both sides of a groove", []catalogue.Line{across(0.1, 0.12), across(0.11, 0.12)}, []float64{0.75, 0.75}},
		{"too far apart for that", []catalogue.Line{across(0.1, 0.12), across(0.14, 0.12)}, []float64{1, 1}},
	} {
		for i, e := range edgesOf(c.lines, 2.0/3) {
			if !(math.Abs(e.weight-c.want[i]) <= 1e-9) {
				t.Errorf("%s: edge %d weighs %g, want %g", c.name, i, e.weight, c.want[i])
			}
		}
	}
}
