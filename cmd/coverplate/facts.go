package main

import (
	"fmt"
	"strings"

	"coverplate/audit"
	"coverplate/audit/crop"
	"coverplate/audit/plan"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// facts is what frames --json and measure --json say of one picture. What the
// file doesn't give, and what is not measured yet, is null, never 0.
type facts struct {
	File            string          `json:"file"`
	Error           *string         `json:"error"`
	Taken           *string         `json:"taken"` // wall clock, "2026-03-04T17:41:09.12"
	Offset          *string         `json:"offset"`
	Make            *string         `json:"make"`
	Model           *string         `json:"model"`
	Serial          *string         `json:"serial"`
	Lens            *string         `json:"lens"`
	Focal           *float64        `json:"focal_mm"`
	Focal35         *float64        `json:"focal_35mm"`
	FNumber         *float64        `json:"f_number"`
	Seconds         *float64        `json:"seconds"`
	ISO             *float64        `json:"iso"`
	SubjectDistance *float64        `json:"subject_distance_m"`
	Orientation     *int            `json:"orientation"`
	Width           *int            `json:"width"` // upright pixels
	Height          *int            `json:"height"`
	ColourSpace     *string         `json:"colour_space"`
	Rating          *float64        `json:"rating"`
	Preview         *string         `json:"preview"`
	Focus           *struct{}       `json:"focus"` // not measured yet
	Light           *struct{}       `json:"light"` // not measured yet
	Angle           *angleFacts     `json:"angle"`
	Palette         []colour.Swatch `json:"palette"`
	Surface         *surfaceFacts   `json:"surface"`
	Halves          []halfFacts     `json:"halves"`
	Slate           *string         `json:"slate"` // not read yet
}

// angleFacts is from where the camera looked. Elevation is in degrees above
// the table: 90 looks straight down.
type angleFacts struct {
	Class      plan.Angle `json:"class"`
	Elevation  *float64   `json:"elevation"`
	PlusMinus  *float64   `json:"plus_minus"` // not known of a camera's own sensor
	Confidence *float64   `json:"confidence"` // 0 … 1; not known of a camera's own sensor
	Why        string     `json:"why"`
}

type surfaceFacts struct {
	Hex   string     `json:"hex"`
	Lab   colour.Lab `json:"lab"`
	Share float64    `json:"share"`
	Name  string     `json:"name"`
}

// halfFacts is the largest crop of a post's shape in one half of a picture.
type halfFacts struct {
	Half  crop.Side `json:"half"`
	Shape string    `json:"shape"`
	Rect  [4]int    `json:"rect"`  // x, y, width, height in upright pixels
	Works string    `json:"works"` // "look" or "no"; what stands in the half is not judged yet, so never "yes"
	Score *float64  `json:"score"` // not measured yet
	Why   string    `json:"why"`
}

// factsOf gathers the facts of a frame, known under the name file.
func factsOf(file string, f catalogue.Frame, shapes []audit.Shape) facts {
	e, l := f.Exposure, f.Look
	out := facts{
		File: file, Error: written(unreadSays(f)), Offset: written(f.Offset),
		Make: written(f.Camera.Make), Model: written(f.Camera.Model), Serial: written(f.Camera.Serial), Lens: written(f.Camera.Lens),
		Focal: written(e.FocalLength), Focal35: written(e.Focal35), FNumber: written(e.FNumber), Seconds: written(e.Seconds), ISO: written(e.ISO),
		SubjectDistance: written(e.SubjectDistance), Orientation: written(f.Orientation), Width: written(l.Width), Height: written(l.Height),
		ColourSpace: written(f.ColourSpace), Rating: f.Rating, Preview: written(l.Preview), Angle: angleOf(e), Palette: l.Palette, Halves: halvesOf(l, shapes),
	}
	if !f.Taken.IsZero() {
		out.Taken = written(f.Taken.Format("2006-01-02T15:04:05.999999999"))
	}
	if s := l.Surface; s != nil {
		out.Surface = &surfaceFacts{s.Hex, s.Lab, s.Share, s.Name}
	}
	return out
}

// unreadSays is why a frame could not be read whole, without the names that
// stand beside it.
func unreadSays(f catalogue.Frame) string {
	says := f.Unread
	for _, file := range f.Files {
		says = withoutName(withoutName(says, file.Path), file.Name)
	}
	return says
}

// written is v, or nil where it is the zero that stands for "not written".
func written[T comparable](v T) *T {
	var zero T
	if v == zero {
		return nil
	}
	return &v
}

// angleOf names the angle from the camera's own sensor, the one source in use.
func angleOf(e catalogue.Exposure) *angleFacts {
	if e.Elevation == nil {
		return &angleFacts{Class: plan.UnknownAngle, Why: "the camera wrote no elevation, and nothing else is measured yet"}
	}
	above := -*e.Elevation // Exif counts down as negative
	return &angleFacts{Class: plan.AngleOf(above), Elevation: &above, Why: fmt.Sprintf("the camera's own sensor: %s° above the table", shortNumber(above))}
}

// halvesOf tells which halves are large enough for each shape of a post.
func halvesOf(l catalogue.Look, shapes []audit.Shape) []halfFacts {
	var out []halfFacts
	asked := map[string]audit.Shape{}
	for _, s := range shapes {
		asked[s.Name] = s
	}
	for _, h := range crop.Halves(l.Width, l.Height, shapes) {
		f := halfFacts{Half: h.Side, Shape: h.Shape, Rect: [4]int{h.Rect.X, h.Rect.Y, h.Rect.Width, h.Rect.Height}}
		s := asked[h.Shape]
		if h.Large {
			f.Works, f.Why = "look", "large enough; whether the dish stands whole in it, a person must see"
		} else {
			f.Works, f.Why = "no", fmt.Sprintf("%d × %d px, and the post needs %d × %d", h.Rect.Width, h.Rect.Height, s.Width, s.Height)
		}
		if h.Slide > 0 && h.Large {
			f.Why += fmt.Sprintf("; it can slide %d px either way", h.Slide)
		}
		out = append(out, f)
	}
	return out
}

// shortNumber writes f with at most four figures.
func shortNumber(f float64) string { return number(rounded(f)) }

// lines tells the facts in words, one matter a line.
func (f facts) lines() []string {
	var out []string
	add := func(name string, words ...string) {
		var said []string
		for _, w := range words {
			if w != "" {
				said = append(said, w)
			}
		}
		if len(said) > 0 {
			out = append(out, name+strings.Repeat(" ", max(10-len(name), 1))+strings.Join(said, ", "))
		}
	}
	if f.Error != nil {
		add("unread", *f.Error)
	}
	taken := say("", f.Taken, "")
	if f.Offset != nil {
		taken += " " + *f.Offset
	}
	add("taken", strings.TrimSpace(strings.Replace(taken, "T", " ", 1)))
	body := strings.TrimSpace(say("", f.Make, " ") + say("", f.Model, ""))
	if f.Make != nil && f.Model != nil && strings.HasPrefix(strings.ToLower(*f.Model), strings.ToLower(*f.Make)) {
		body = *f.Model // many makes stand in the model already
	}
	add("camera", body, say("serial ", f.Serial, ""))
	add("lens", say("", f.Lens, ""))
	add("exposure", sayNumber("", f.Focal, " mm"), sayNumber("like ", f.Focal35, " mm on 24 × 36"), sayNumber("f/", f.FNumber, ""), shutter(f.Seconds), sayNumber("ISO ", f.ISO, ""), sayNumber("subject at ", f.SubjectDistance, " m"))
	if f.Width != nil && f.Height != nil {
		way := "upright"
		if *f.Width > *f.Height {
			way = "lying"
		} else if *f.Width == *f.Height {
			way = "square"
		}
		add("size", fmt.Sprintf("%d × %d px, %s", *f.Width, *f.Height, way), say("", f.ColourSpace, ""))
	}
	add("rating", sayNumber("", f.Rating, ""))
	if f.Angle != nil {
		add("angle", string(f.Angle.Class)+": "+f.Angle.Why)
	}
	if len(f.Palette) > 0 {
		add("palette", paletteSays(f.Palette))
	}
	if f.Surface != nil {
		add("surface", f.Surface.Name+" "+f.Surface.Hex)
	}
	add("halves", f.halvesSay())
	return out
}

// halvesSay sums up which shapes the halves are large enough for.
func (f facts) halvesSay() string {
	large := map[string]int{}
	var shapes []string
	for _, h := range f.Halves {
		if _, seen := large[h.Shape]; !seen {
			shapes = append(shapes, h.Shape)
			large[h.Shape] = 0
		}
		if h.Works == "look" {
			large[h.Shape]++
		}
	}
	var fit, small []string
	for _, s := range shapes {
		if large[s] > 0 {
			fit = append(fit, s)
		} else {
			small = append(small, s)
		}
	}
	var said []string
	if len(fit) > 0 {
		said = append(said, "large enough for "+strings.Join(fit, ", ")+": look whether the dish stands whole in one")
	}
	if len(small) > 0 {
		said = append(said, "too small for "+strings.Join(small, ", "))
	}
	return strings.Join(said, "; ")
}

func say(before string, s *string, after string) string {
	if s == nil {
		return ""
	}
	return before + *s + after
}

func sayNumber(before string, n *float64, after string) string {
	if n == nil {
		return ""
	}
	return before + shortNumber(*n) + after
}

// shutter writes an exposure time as cameras show it.
func shutter(seconds *float64) string {
	switch {
	case seconds == nil:
		return ""
	case *seconds < 0.3:
		return fmt.Sprintf("1/%.0f s", 1 / *seconds)
	}
	return shortNumber(*seconds) + " s"
}
