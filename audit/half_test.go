package audit

import (
	"math"
	"strings"
	"testing"

	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// dish lays one round dish on a bare table: centre and radius in shares of the
// width. All of it is sharp.
func dish(x, y, r float64) change {
	return func(f *catalogue.Frame) {
		w, h := f.Look.Width, f.Look.Height
		m := &catalogue.Matters{Columns: 96, Rows: max(1, 96*h/w)}
		m.Weight = make([]uint8, m.Columns*m.Rows)
		for i := range m.Weight {
			cx, cy := (float64(i%m.Columns)+0.5)/96, (float64(i/m.Columns)+0.5)/float64(m.Rows)*float64(h)/float64(w)
			if math.Hypot(cx-x, cy-y) <= r {
				m.Weight[i] = 220
			}
		}
		f.Look.Matters = m
		f.Look.Focus = &catalogue.Focus{Score: 0.8, Full: f64(0.6), Columns: 2, Rows: 2, Grid: []uint8{200, 200, 200, 200}}
	}
}

func cropped(id int64, frame, need string, rect [4]int) catalogue.Decision {
	return catalogue.Decision{ID: id, Kind: catalogue.Crop, Frame: catalogue.FrameID("id-" + frame), Need: need, Rect: rect}
}

func TestVerdictOfEveryHalf(t *testing.T) {
	lying := sized(6000, 4000)
	right, middle, whole := with(lying, dish(0.75, 0.33, 0.15)), with(lying, dish(0.5, 0.33, 0.15)), with(lying, dish(0.5, 0.33, 0.4))
	light := litAs(0, 0)
	for _, c := range []struct {
		name   string
		frame  change
		said   []catalogue.Decision
		shapes []Shape
		want   Verdict
		why    string // parts of it, by |
	}{
		{"a dish in the right half", with(right, light), nil, nil, ToChoose, "right half, 1:1: the dish is whole; sharp; calm edges; room about it|halves of it work for 4:5, 1:1, 9:16, 3:4"},
		{"and a person chose it", with(right, light), []catalogue.Decision{chose(1, "a.JPG", "half", "R01")}, nil, Settled, "right half, 1:1"},
		{"a dish in the middle fits a window that slides", with(middle, light), nil, nil, ToChoose, "half between left and right, 1:1: the dish is whole"},
		{"a dish over all of the frame", with(whole, light), nil, nil, ToReshoot, "no half of it stands alone|the dish is cut|leave room on one side"},
		{"a standing frame says what to do", with(sized(4000, 6000), dish(0.5, 0.75, 0.48), light), nil, nil, ToReshoot, "half of a standing frame rarely gives a tall post: step back, or turn the camera"},
		{"a standing frame with a wide dish gives no tall post", with(sized(4000, 6000), dish(0.5, 1.12, 0.345), light), nil, nil, ToChoose, "bottom half, 1:1: the dish is whole|none of it is tall; half of a standing frame rarely gives a tall post: step back, or turn the camera"},
		{"a standing frame with a small dish gives one", with(sized(4000, 6000), dish(0.5, 1.12, 0.2), light), nil, nil, ToChoose, "halves of it work for 4:5, 1:1, 9:16, 3:4"},
		{"a panorama too low for any post", with(sized(9000, 1000), dish(0.25, 0.06, 0.03), light), nil, nil, ToReshoot, "no half of it is large enough|1000×1000 px for 1:1, 1080×1080 are needed"},
		{"a square frame with its dish in the middle", with(sized(3024, 3024), dish(0.5, 0.5, 0.36), light), nil, nil, ToReshoot, "no half of it stands alone|the dish is cut"},
		{"a grid of zeros", with(lying, dish(0.5, 5, 0.1), light), nil, nil, ToLook, "whether a half holds the dish"},
		{"a frame of a few pixels", with(sized(40, 30), light), nil, nil, ToReshoot, "no half of it is large enough"},
		{"what matters is not known", with(lying, sharpAs(0.8, 0.6), light), nil, nil, ToLook, "eyes must tell: whether a half holds the dish"},
		{"a person's crop is only checked", with(whole, light), []catalogue.Decision{cropped(1, "a.JPG", "half", [4]int{100, 100, 2000, 2500})}, nil, ToChoose, "a person's crop gives 2000×2500 px for 4:5"},
		{"a person's crop that is too small", with(right, light), []catalogue.Decision{cropped(1, "a.JPG", "half", [4]int{100, 100, 800, 1000})}, nil, ToReshoot, "a person's crop gives 800×1000 px for 4:5, 1080×1350 are needed"},
		{"a person's crop that leaves the picture", with(right, light), []catalogue.Decision{cropped(1, "a.JPG", "half", [4]int{5000, 100, 2000, 2500})}, nil, ToReshoot, "leaves the picture of 6000×4000 px: crop it again"},
		{"no shape is set", with(right, light), nil, []Shape{}, ToLook, "no shape of a post is set"},
	} {
		f := shotAt("a.JPG", 1, "R01")
		c.frame(&f)
		s := shootOf([]plan.Recipe{recipe("R01", "Dark rye", 11, plan.Half)}, []catalogue.Frame{f}, c.said...)
		if c.shapes != nil {
			s.Rules.Shapes = c.shapes
		}
		got := finding(Run(s), "R01", "half")
		if got.Verdict != c.want {
			t.Errorf("%s: %s (%s), want %s", c.name, got.Verdict, got.Why, c.want)
		}
		for _, part := range strings.Split(c.why, "|") {
			if !strings.Contains(got.Why, part) {
				t.Errorf("%s: %q lacks %q", c.name, got.Why, part)
			}
		}
	}
}

func TestAFewGoodHalvesAreEnough(t *testing.T) {
	var frames []catalogue.Frame
	for _, name := range []string{"a.JPG", "b.JPG", "c.JPG", "d.JPG", "e.JPG", "f.JPG"} {
		f := shotAt(name, float64(len(frames)), "R01")
		with(sized(6000, 4000), dish(0.75, 0.33, 0.15), litAs(0, 0))(&f)
		frames = append(frames, f)
	}
	s := shootOf([]plan.Recipe{recipe("R01", "Dark rye", 11, plan.Half)}, frames)
	got := finding(Run(s), "R01", "half")
	if got.Verdict != ToChoose || !strings.Contains(got.Why, "4 frames pass every test") {
		t.Errorf("%s: %s", got.Verdict, got.Why)
	}
	// A frame that a person chose is judged however many others there are.
	s.Decisions = append(s.Decisions, chose(1, "a.JPG", "half", "R01"))
	if got := finding(Run(s), "R01", "half"); got.Verdict != Settled || !strings.Contains(got.Why, "right half") {
		t.Errorf("%s: %s", got.Verdict, got.Why)
	}
}

func TestHeroInItsPlace(t *testing.T) {
	for _, c := range []struct {
		name  string
		frame change
		pages plan.Pages
		said  []catalogue.Decision
		want  Verdict
		why   string
	}{
		{"a double page with its dish beside the fold", with(sized(6000, 4000), dish(0.25, 0.33, 0.15)), plan.Pages{First: 12, Last: 13}, nil, ToChoose, "its printed place keeps 100 % of what matters"},
		{"a double page with its dish on the fold", with(sized(6000, 4000), dish(0.5, 0.33, 0.15)), plan.Pages{First: 12, Last: 13}, nil, ToReshoot, "of what matters lies in the fold, and it is sharp there: move the dish off the middle"},
		{"a double page of which nothing is known", with(sized(6000, 4000), sharpAs(0.8, 0.6)), plan.Pages{First: 12, Last: 13}, nil, ToLook, "whether what matters lies in the fold"},
		{"a page that cuts its dish", with(sized(4000, 4100), dish(0.5, 0.5, 0.48)), plan.Pages{First: 12, Last: 12}, nil, ToLook, "whether it may be cut: its printed place cuts"},
		{"a page by a person's crop", with(sized(4000, 4100), dish(0.5, 0.5, 0.48)), plan.Pages{First: 12, Last: 12},
			[]catalogue.Decision{cropped(1, "a.JPG", "hero", [4]int{0, 0, 3000, 4000})}, ToChoose, "a person's crop gives 493 ppi"},
		{"a person's crop of too few pixels", with(sized(4000, 4100), dish(0.5, 0.5, 0.48)), plan.Pages{First: 12, Last: 12},
			[]catalogue.Decision{cropped(1, "a.JPG", "hero", [4]int{0, 0, 900, 1200})}, ToReshoot, "a person's crop gives 148 ppi; 240 is the floor"},
	} {
		f := shotAt("a.JPG", 1, "R01")
		with(litAs(0, 0), c.frame)(&f)
		r := recipe("R01", "Dark rye", 12, plan.Hero)
		r.Pages, r.Orientation = c.pages, plan.AnyOrientation
		if c.pages.IsSpread() {
			r.Size = plan.Size{Kind: plan.DoublePage}
		}
		got := finding(Run(shootOf([]plan.Recipe{r}, []catalogue.Frame{f}, c.said...)), "R01", "hero")
		if got.Verdict != c.want || !strings.Contains(got.Why, c.why) {
			t.Errorf("%s: %s (%s), want %s (%s)", c.name, got.Verdict, got.Why, c.want, c.why)
		}
	}
}

func TestOwnCropTakesTheShapeItFitsBest(t *testing.T) {
	shapes := DefaultRules().Shapes
	for _, c := range []struct {
		rect  crop.Rect
		shape string
		ok    bool
	}{
		{crop.Rect{Width: 2000, Height: 2000}, "1:1", true},
		{crop.Rect{Width: 1080, Height: 1920}, "9:16", true},
		{crop.Rect{Width: 1079, Height: 1920}, "9:16", false},
		{crop.Rect{Width: 2000, Height: 2500}, "4:5", true},
	} {
		if shape, ok, says := OwnCrop(c.rect, 6000, 4000, shapes); shape != c.shape || ok != c.ok {
			t.Errorf("%v: %s %v (%s), want %s %v", c.rect, shape, ok, says, c.shape, c.ok)
		}
	}
}
