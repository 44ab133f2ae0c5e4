package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"charm.land/lipgloss/v2"

	"coverplate/audit"
	"coverplate/cmd/coverplate/paper"
	"coverplate/colour"
	"coverplate/ingest/catalogue"
)

// golden holds got against a file of testdata; -update writes it anew.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s is now\n%s\nand was\n%s", path, got, want)
	}
}

// bookOf is an invented book of the given number of spreads: two pictures on
// most of them, one over the gutter on every fifth, none yet on every
// eleventh; palettes walk round the hues, and every ninth returns to the first.
func bookOf(spreads int) (audit.Report, audit.Likeness) {
	r := audit.Report{Book: "Skerry Table"}
	recipe := func(pages string, n, spread int) audit.Picture {
		id := fmt.Sprintf("R%02d", len(r.Recipes)+1)
		r.Recipes = append(r.Recipes, audit.Recipe{ID: id, Title: []string{"Smoked trout with soured cream and dill", "Pearl barley", "Cloudberries", "Rye porridge with brown butter"}[n%4], Pages: pages, Spread: spread})
		p := audit.Picture{Recipe: id, Pages: pages}
		if spread%11 != 0 {
			path := fmt.Sprintf("originals/2026-03-04/LOMVI-004417/LOMV%04d.JPG", n)
			p.Frame, p.FrameID, p.Chosen, p.Palette = &path, catalogue.FrameID(fmt.Sprintf("%064x", n)), n%3 > 0, inventedPalette(n)
			p.Surface = &colour.Swatch{Hex: "#e0d8c8", Name: "yellowish white", Lab: colour.Lab{L: 86}}
		}
		return p
	}
	n := 0
	for i := range spreads {
		s := audit.Spread{Spread: i + 3, Verdict: audit.ToLook, Why: "rests on a picture that nobody has chosen", Pages: fmt.Sprintf("%d-%d", 2*i+6, 2*i+7)}
		if i%5 == 4 {
			s.Pictures = []audit.Picture{recipe(s.Pages, n, s.Spread)}
		} else {
			s.Pictures = []audit.Picture{recipe(fmt.Sprint(2*i+6), n, s.Spread), recipe(fmt.Sprint(2*i+7), n+1, s.Spread)}
		}
		n += len(s.Pictures)
		for _, p := range s.Pictures {
			s.Recipes = append(s.Recipes, p.Recipe)
			for _, w := range p.Palette {
				w.Share /= float64(len(s.Pictures))
				s.Palette = append(s.Palette, w)
			}
		}
		r.Spreads = append(r.Spreads, s)
	}
	l := audit.Likeness{Threshold: 10}
	apart := func(a, b []colour.Swatch) *float64 {
		if len(a) == 0 || len(b) == 0 {
			return nil
		}
		return ptr(colour.PaletteDistance(a, b))
	}
	meet := func(kind audit.Relation, a, b audit.Spread, x *float64) audit.Neighbour {
		m := audit.Neighbour{Kind: kind, Spreads: [2]int{a.Spread, b.Spread}, Pages: [2]string{a.Pages, b.Pages}, Recipes: [2][]string{a.Recipes, b.Recipes}, Apart: x, Threshold: 10, Contrast: audit.Fine}
		switch {
		case x == nil:
			m.Contrast, m.Why = audit.Unknown, "a and b: not known, "+b.Recipes[0]+" has no picture yet"
		case *x < 10:
			m.Contrast = audit.Alike
		case *x > 30:
			m.Contrast, m.Threshold = audit.Jars, 30
		}
		return m
	}
	for i := range r.Spreads {
		s := &r.Spreads[i]
		if len(s.Pictures) == 2 {
			m := meet(audit.Facing, *s, *s, apart(s.Pictures[0].Palette, s.Pictures[1].Palette))
			m.Recipes = [2][]string{s.Recipes[:1], s.Recipes[1:]}
			s.Neighbours = append(s.Neighbours, m)
		}
		if i+1 < len(r.Spreads) {
			s.Neighbours = append(s.Neighbours, meet(audit.NextSpread, *s, r.Spreads[i+1], apart(s.Palette, r.Spreads[i+1].Palette)))
		}
		l.Spreads, l.Pages = append(l.Spreads, s.Spread), append(l.Pages, s.Pages)
		var row []*float64
		for j := range r.Spreads {
			x := apart(s.Palette, r.Spreads[j].Palette)
			row = append(row, x)
			if j > i && x != nil && *x < 10 {
				l.Twins = append(l.Twins, audit.Twin{Recipes: [2]string{s.Recipes[0], r.Spreads[j].Recipes[0]}, Pages: [2]string{s.Pages, r.Spreads[j].Pages}, Spreads: [2]int{s.Spread, r.Spreads[j].Spread},
					Frames: [2]string{*s.Pictures[0].Frame, *r.Spreads[j].Pictures[0].Frame}, PagesApart: 2 * (j - i), Apart: *x})
			}
		}
		l.Apart = append(l.Apart, row)
	}
	return r, l
}

func inventedPalette(n int) []colour.Swatch {
	n %= 18
	var p []colour.Swatch
	for k, share := range []float64{0.41, 0.27, 0.16, 0.11, 0.035, 0.015} {
		c := colour.LCh{L: 25 + float64((n*37+k*23)%60), C: 12 + float64((n*11+k*17)%45), H: float64((n*47 + k*31) % 360)}.Lab()
		p = append(p, colour.Swatch{Hex: c.Hex(), Lab: c, Share: share, Name: colour.Name(c), Accent: k == 5})
	}
	return p
}

func flatplanText(t *testing.T, r audit.Report, o termOptions) string {
	t.Helper()
	var b bytes.Buffer
	if err := renderFlatplan(&b, r, o); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestFlatplanNamesEachColour(t *testing.T) {
	sober := flatplanText(t, paperReport(), termOptions{Width: 80})
	golden(t, "flatplan.txt", sober)
	if strings.Contains(sober, "\x1b") {
		t.Errorf("a sober flat plan holds an escape sequence: %q", sober)
	}
	whole := flatplanText(t, paperReport(), termOptions{Width: 80, Colour: true, Hues: allHues})
	if !strings.Contains(whole, "\x1b[48;2;181;101;29m") {
		t.Errorf("no swatch of #b5651d = 181, 101, 29 in %q", whole)
	}
	near := flatplanText(t, paperReport(), termOptions{Width: 80, Colour: true, Hues: nearHues})
	if !strings.Contains(near, "\x1b[48;5;") || strings.Contains(near, "\x1b[48;2;") || !strings.Contains(near, "nearest of this terminal's 256 colours") {
		t.Errorf("on a terminal of 256 colours: %q", near)
	}
	bold := flatplanText(t, paperReport(), termOptions{Width: 80, Colour: true})
	if strings.Contains(bold, "\x1b[48") {
		t.Errorf("a terminal of 16 colours is shown swatches: %q", bold)
	}
	for _, out := range []string{sober, whole, near, bold} {
		for _, want := range []string{"strong brown #b5651d 60 %", "dark green #224422 40 % (accent)", "9.4 too alike, under 10", "unknown, R01 has no picture yet",
			"no picture yet", "best so far, not chosen", "surface: pale yellowish pink #e0d8c8", "same surface: R02", "1 too alike, 0 jarring, 0 fine, 1 unknown"} {
			if !strings.Contains(strings.Join(strings.Fields(out), " "), want) {
				t.Errorf("%q is missing in\n%s", want, out)
			}
		}
	}
	if strings.Contains(sober, "they differ") {
		t.Error("a surface that differs is called the same")
	}
}

func TestFlatplanOfABookFits(t *testing.T) {
	r, _ := bookOf(37)
	for _, o := range []termOptions{{Width: 80}, {Width: 80, Colour: true, Hues: allHues}, {Width: 40, Colour: true, Hues: nearHues}} {
		out := flatplanText(t, r, o)
		for _, line := range strings.Split(out, "\n") {
			if w := lipgloss.Width(line); w > o.Width {
				t.Errorf("%+v: line of %d columns: %q", o, w, line)
			}
		}
		if n := strings.Count(out, "SPREAD "); n != 37 {
			t.Errorf("%d spreads, want 37", n)
		}
	}
}

func TestPaletteBarFillsItsWidth(t *testing.T) {
	for _, c := range []struct {
		shares []float64
		want   []int
	}{
		{[]float64{1}, []int{60}},
		{[]float64{0.5, 0.5}, []int{30, 30}},
		{[]float64{0.98, 0.01, 0.01}, []int{58, 1, 1}},
		{[]float64{0.333, 0.333, 0.334}, []int{20, 20, 20}},
		{[]float64{0.99, 0.004, 0.003, 0.002, 0.001}, []int{56, 1, 1, 1, 1}},
		{[]float64{0.2, 0.1}, []int{40, 20}}, // shares of a part count as they are to each other
	} {
		var p []colour.Swatch
		for _, s := range c.shares {
			p = append(p, colour.Swatch{Hex: "#102030", Share: s})
		}
		if got := columnsOf(p, 60); fmt.Sprint(got) != fmt.Sprint(c.want) {
			t.Errorf("shares %v: %v columns, want %v", c.shares, got, c.want)
		}
		for _, h := range []hues{nearHues, allHues} {
			if got := lipgloss.Width(paletteBar(p, 60, h)); got != 60 {
				t.Errorf("shares %v: the bar is %d columns, want 60", c.shares, got)
			}
		}
		if paletteBar(p, 60, noHues) != "" {
			t.Error("a bar without colours")
		}
	}
}

func TestHuesOfATerminal(t *testing.T) {
	null, err := os.Open(os.DevNull)
	if err != nil {
		t.Fatal(err)
	}
	defer null.Close()
	for _, env := range []map[string]string{{"NO_COLOR": "yes", "COLORTERM": "truecolor", "TERM": "xterm-256color"}, {"TERM": "dumb"}, {"TERM": "xterm-256color", "COLORTERM": "truecolor"}} {
		// Even with true colour promised: what is no terminal is shown none.
		if got := huesOf(null, func(k string) string { return env[k] }); got != noHues {
			t.Errorf("%v: hues %v, want none", env, got)
		}
	}
}

func paperSuggestion() audit.Suggestion {
	pair := &audit.Neighbour{Recipes: [2][]string{{"R02"}, {"R01"}}, Pages: [2]string{"12", "24-25"}}
	return audit.Suggestion{
		Changes:   []audit.Change{{Recipe: "R02", Pages: "12", From: "originals/a/LOMV0001.JPG", FromID: "aa", To: "originals/a b/LOMV 0002.JPG", ToID: "bb", Before: 4.04, After: 12.31, Why: "the green cloth takes it away from R01"}},
		Arguments: []audit.Change{{Recipe: "R01", Pages: "24-25", From: "originals/a/LOMV0003.JPG", FromID: "cc", To: "originals/a/LOMV0004.JPG", ToID: "dd", Before: 4.04, After: 11}},
		Before:    audit.Variety{Least: ptr(4.04), LeastOf: pair, Sum: 210.04, Pairs: 11, Alike: 1},
		After:     audit.Variety{Least: ptr(12.31), LeastOf: pair, Sum: 224.1, Pairs: 11},
		Unknown:   []audit.UnknownPicture{{Recipe: "R03", Why: "no frame shows it"}},
		LeftOut:   []audit.LeftOut{{Recipe: "R02", Weighed: 12, Of: 40}},
		Why:       "One other picture parts the nearest pair.",
	}
}

func baseName(_ catalogue.FrameID, library string) string { return filepath.Base(library) }

func TestSuggestionAtTheTerminal(t *testing.T) {
	var b bytes.Buffer
	r := paperReport()
	if err := renderSuggestion(&b, r.Book, paperSuggestion(), paper.TitlesOf(r), baseName, termOptions{Width: 80}); err != nil {
		t.Fatal(err)
	}
	golden(t, "suggest.txt", b.String())
	if strings.Contains(b.String(), "\x1b") {
		t.Errorf("an escape sequence in %q", b.String())
	}
	b.Reset()
	if err := renderSuggestion(&b, r.Book, audit.Suggestion{Before: audit.Variety{Least: ptr(14.0), Pairs: 1}, After: audit.Variety{Least: ptr(14.0), Pairs: 1}}, nil, baseName, termOptions{Width: 80}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "Nothing is suggested.") {
		t.Errorf("nothing to suggest is not said:\n%s", b.String())
	}
	if err := renderSuggestion(brokenPipe{}, "", audit.Suggestion{}, nil, baseName, termOptions{Width: 80}); err == nil {
		t.Error("to a broken pipe: no error")
	}
}

func TestTakeWordNamesOneFrame(t *testing.T) {
	frame := func(id, p string) catalogue.Frame {
		return catalogue.Frame{ID: catalogue.FrameID(id), Files: []catalogue.File{{Path: p, Name: filepath.Base(p)}}}
	}
	frames := []catalogue.Frame{frame(strings.Repeat("a1", 32), "originals/a/X.JPG"), frame(strings.Repeat("b2", 32), "originals/b/X.JPG"), frame(strings.Repeat("c3", 32), "originals/b/Y.JPG")}
	take := takeWord(frames, "/shoot")
	for i, want := range []string{"a1a1a1a1", "b2b2b2b2", "Y.JPG"} {
		got := take(frames[i].ID, frames[i].Path())
		if got != want {
			t.Errorf("%s is taken by %q, want %q", frames[i].Path(), got, want)
		}
		if f, err := findFrame(frames, "/shoot", got); err != nil || f.ID != frames[i].ID {
			t.Errorf("%q names %s (%v), want %s", got, f.Path(), err, frames[i].Path())
		}
	}
}
