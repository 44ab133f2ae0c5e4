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
	f.Look.Lines = boards(60, 20, 50, 2.0/3)[:leastEdges-1]
	if s := w.sightOf(f); s.lined {
		t.Errorf("%d edges are said to tell something", leastEdges-1)
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
