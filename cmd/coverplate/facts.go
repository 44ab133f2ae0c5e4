package main

import (
	"fmt"
	"strings"

	"coverplate/audit"
	"coverplate/audit/angle"
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
	Profile         *string         `json:"profile"` // how codes became colours, in words
	Focus           *focusFacts     `json:"focus"`
	Light           *lightFacts     `json:"light"`
	Angle           *angleFacts     `json:"angle"`
	Palette         []colour.Swatch `json:"palette"`
	Surface         *surfaceFacts   `json:"surface"`
	Halves          []halfFacts     `json:"halves"`
	Slate           *string         `json:"slate"` // what the code of a slate in it holds
}

// angleFacts is from where the camera looked. Elevation is in degrees above
// the table: 90 looks straight down.
type angleFacts struct {
	Class      plan.Angle `json:"class"`
	Elevation  *float64   `json:"elevation"`
	PlusMinus  *float64   `json:"plus_minus"` // degrees: two times out of three the truth is nearer
	Confidence *float64   `json:"confidence"` // 0 … 1, the chance that class is right; null where it is unknown
	Why        string     `json:"why"`
}

// focusFacts is how sharp a picture is.
type focusFacts struct {
	Score     float64  `json:"score"`     // 0 … 1, of the whole at the preview's size, the middle counting most
	Matters   *float64 `json:"matters"`   // 0 … 1, of what matters in this picture alone; null: nothing to tell by
	Full      *float64 `json:"full"`      // 0 … 1, at 1:1; null: not read
	Motion    float64  `json:"motion"`    // 0 … 1, how much more is lost along direction than across it
	Direction float64  `json:"direction"` // degrees, 0 … 180, counter-clockwise from the width
}

// lightFacts is how a picture is exposed. Shares are 0 … 1.
type lightFacts struct {
	ClippedHigh float64    `json:"clipped_high"` // of what matters, in any channel
	ClippedLow  float64    `json:"clipped_low"`  // of what matters, in all channels
	High        [3]float64 `json:"high"`         // of all, by channel
	Low         [3]float64 `json:"low"`
	Level       float64    `json:"level"` // of what matters, stops from white
}

type surfaceFacts struct {
	Hex   string     `json:"hex"`
	Lab   colour.Lab `json:"lab"`
	Share float64    `json:"share"`
	Name  string     `json:"name"`
}

// halfFacts is the best crop of a post's shape in one half of a picture.
type halfFacts struct {
	Half  crop.Side `json:"half"`
	Shape string    `json:"shape"`
	Rect  [4]int    `json:"rect"`  // x, y, width, height in upright pixels
	Works string    `json:"works"` // "look" or "no"; what stands in the half is not judged yet, so never "yes"
	Score *float64  `json:"score"` // not measured yet
	Why   string    `json:"why"`
}

// factsOf gathers the facts of a frame, known under the name file and seen from
// where view says.
func factsOf(file string, f catalogue.Frame, view angle.Reading, shapes []audit.Shape) facts {
	e, l := f.Exposure, f.Look
	out := facts{
		File: file, Error: written(unreadSays(f)), Offset: written(f.Offset),
		Make: written(f.Camera.Make), Model: written(f.Camera.Model), Serial: written(f.Camera.Serial), Lens: written(f.Camera.Lens),
		Focal: written(e.FocalLength), Focal35: written(e.Focal35), FNumber: written(e.FNumber), Seconds: written(e.Seconds), ISO: written(e.ISO),
		SubjectDistance: written(e.SubjectDistance), Orientation: written(f.Orientation), Width: written(l.Width), Height: written(l.Height),
		ColourSpace: written(f.ColourSpace), Rating: f.Rating, Preview: written(l.Preview), Profile: written(l.Profile), Slate: slateText(l), Angle: angleOf(view), Palette: l.Palette, Halves: halvesOf(l, shapes),
	}
	if !f.Taken.IsZero() {
		out.Taken = written(f.Taken.Format("2006-01-02T15:04:05.999999999"))
	}
	if m := l.Focus; m != nil {
		out.Focus = &focusFacts{m.Score, nil, m.Full, m.Motion, m.Direction}
		if in, ok := m.Over(l.Matters.Place(m.Cells())); ok {
			out.Focus.Matters = &in
		}
	}
	if m := l.Light; m != nil {
		out.Light = &lightFacts{m.MattersHigh, m.MattersLow, m.High, m.Low, m.Level}
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

// slateText is what the code of a slate in the picture holds; nil none.
func slateText(l catalogue.Look) *string {
	if l.Slate == nil {
		return nil
	}
	return &l.Slate.Text
}

// written is v, or nil where it is the zero that stands for "not written".
func written[T comparable](v T) *T {
	var zero T
	if v == zero {
		return nil
	}
	return &v
}

// angleOf is a reading as it is told; what it doesn't know is null.
func angleOf(v angle.Reading) *angleFacts {
	f := &angleFacts{Class: plan.UnknownAngle, Why: v.Why}
	if v.Known {
		f.Elevation, f.PlusMinus = &v.Elevation, &v.PlusMinus
	}
	if v.Known && v.Class != "" && v.Class != plan.UnknownAngle {
		f.Class, f.Confidence = v.Class, &v.Confidence
	}
	return f
}

// halvesOf tells which halves stand alone in each shape of a post.
func halvesOf(l catalogue.Look, shapes []audit.Shape) []halfFacts {
	var out []halfFacts
	for _, h := range crop.Stand(audit.SceneOf(l), shapes) {
		f := halfFacts{Half: h.Side, Shape: h.Shape, Rect: [4]int{h.Rect.X, h.Rect.Y, h.Rect.Width, h.Rect.Height}, Works: string(h.Works), Why: h.Why()}
		if l.Matters != nil {
			f.Score = &h.Score
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
	if m := f.Focus; m != nil {
		matters, full := "", ""
		if m.Matters != nil {
			matters = fmt.Sprintf("%.2f in what matters", *m.Matters)
		}
		if m.Full != nil {
			full = fmt.Sprintf("%.2f at 1:1", *m.Full)
		}
		add("focus", fmt.Sprintf("%.2f at the preview's size", m.Score), matters, full, fmt.Sprintf("motion %.2f along %.0f°", m.Motion, m.Direction))
	}
	if m := f.Light; m != nil {
		add("light", fmt.Sprintf("%.1f %% of what matters burnt", 100*m.ClippedHigh), fmt.Sprintf("%.1f %% black", 100*m.ClippedLow), fmt.Sprintf("%.1f stops below white", -m.Level))
	}
	add("profile", say("", f.Profile, ""))
	add("slate", say("", f.Slate, ""))
	if len(f.Palette) > 0 {
		add("palette", paletteSays(f.Palette))
	}
	if f.Surface != nil {
		add("surface", f.Surface.Name+" "+f.Surface.Hex)
	}
	add("halves", f.halvesSay())
	return out
}

// halvesSay names, for each shape, the half that serves best.
func (f facts) halvesSay() string {
	best := map[string]halfFacts{}
	var shapes []string
	for _, h := range f.Halves {
		b, seen := best[h.Shape]
		if !seen {
			shapes = append(shapes, h.Shape)
		}
		if !seen || crop.Works(h.Works).Rank() > crop.Works(b.Works).Rank() || h.Works == b.Works && h.Score != nil && b.Score != nil && *h.Score > *b.Score {
			best[h.Shape] = h
		}
	}
	var said []string
	for _, s := range shapes {
		said = append(said, fmt.Sprintf("%s %s, %s (%s)", s, best[s].Works, best[s].Half, best[s].Why))
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
