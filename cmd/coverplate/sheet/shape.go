package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"unicode"

	"github.com/go-text/typesetting/di"
	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/font/opentype"
	"github.com/go-text/typesetting/font/opentype/tables"
	"github.com/go-text/typesetting/language"
	"github.com/go-text/typesetting/shaping"
	"golang.org/x/text/unicode/bidi"
)

// The PDF writer sets characters one by one, from TrueType files alone. Writing
// whose letters join, stack or move is shaped by go-text, which follows HarfBuzz,
// and drawn as outlines; so is all that stands in a font that was given, whatever
// its kind. Such words can be read, but not marked and copied.

// Font is a file of fonts as Held reads it.
type Font interface {
	io.Reader
	io.Seeker
	io.ReaderAt
}

// Held are those of the characters wanted that a font has outlines for: TrueType,
// OpenType or the first of a collection. None where it is no such font.
func Held(file Font, wanted []rune) (has []rune) {
	defer func() {
		if recover() != nil { // go-text, on some broken file
			has = nil
		}
	}()
	loaders, err := opentype.NewLoaders(file)
	if err != nil || len(loaders) == 0 {
		return nil
	}
	l := loaders[0]
	if !l.HasTable(opentype.MustNewTag("glyf")) && !l.HasTable(opentype.MustNewTag("CFF ")) && !l.HasTable(opentype.MustNewTag("CFF2")) {
		return nil // pictures of characters alone
	}
	raw, err := l.RawTable(opentype.MustNewTag("cmap"))
	if err != nil {
		return nil
	}
	table, _, err := tables.ParseCmap(raw)
	if err != nil {
		return nil
	}
	cmap, _, err := font.ProcessCmap(table, tables.FPNone)
	if err != nil {
		return nil
	}
	for _, r := range wanted {
		if id, ok := cmap.Lookup(r); ok && id != 0 {
			has = append(has, r)
		}
	}
	return has
}

// go-text panics on some broken fonts, which must not end the program: errBroken
// is what is said of them.
var errBroken = errors.New("it is broken")

// parsed is the first font of a file.
func parsed(data []byte) (face *font.Face, err error) {
	defer func() {
		if recover() != nil {
			err = errBroken
		}
	}()
	loaders, err := opentype.NewLoaders(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	f, err := font.NewFont(loaders[0])
	if err != nil {
		return nil, err
	}
	return font.NewFace(f), nil
}

// holds tells whether the face has a glyph for r that can be set.
func (f *face) holds(r rune) bool {
	has, known := f.has[r]
	if known {
		return has
	}
	id, has := f.font.NominalGlyph(r)
	switch {
	case !has || id == 0:
		has = false
	case f.given:
		has = len(f.outline(id)) > 0 || unicode.In(r, unicode.Z, unicode.Cf, unicode.M)
	default: // the PDF writer knows the Basic Multilingual Plane alone
		has = r <= 0xffff
	}
	f.has[r] = has
	return has
}

// outline is that of a glyph, in units of the font; nil of one without.
func (f *face) outline(id font.GID) []opentype.Segment {
	defer f.breaks()
	o, _ := f.font.GlyphDataOutline(id)
	return o.Segments
}

// breaks notes that the font is broken where go-text panics on it.
func (f *face) breaks() { f.broken = recover() != nil || f.broken }

// Fault says which of the fonts given turned out to be broken while text was set;
// nil none. Bytes says so as well.
func (s *Sheet) Fault() error {
	for i, f := range s.faces {
		if f.broken {
			return fmt.Errorf("font %d of those given can't be used: %w", i-1, errBroken) // two are built in
		}
	}
	return nil
}

// stacked are scripts whose letters join, stack or move.
var stacked = []*unicode.RangeTable{
	unicode.Balinese, unicode.Bengali, unicode.Devanagari, unicode.Gujarati, unicode.Gurmukhi, unicode.Kannada, unicode.Khmer, unicode.Lao,
	unicode.Malayalam, unicode.Mongolian, unicode.Myanmar, unicode.Nko, unicode.Oriya, unicode.Sinhala, unicode.Syriac, unicode.Tamil,
	unicode.Telugu, unicode.Thaana, unicode.Thai, unicode.Tibetan,
}

// drawn tells whether a character of a face is shaped and drawn rather than set as
// text.
func (f *face) drawn(r rune) bool { return f.given || unicode.In(r, stacked...) || joiner(r) }

// joiner tells whether r is one of the two that join letters or keep them apart.
func joiner(r rune) bool { return r == '\u200c' || r == '\u200d' }

// strokes are the glyphs of a run, their places and what it advances in ems.
type strokes struct {
	advance float64
	glyphs  []stroke
}

type stroke struct {
	x, y float64 // y up
	id   font.GID
}

// shape shapes a run of one script's characters as they are seen from left to
// right.
func (f *face) shape(seen string) (s strokes) {
	if s, ok := f.shaped[seen]; ok {
		return s
	}
	defer f.breaks()
	runes := []rune(seen)
	script, direction := language.Common, di.DirectionLTR
	for _, r := range runes {
		if s := language.LookupScript(r); s != language.Common && s != language.Inherited {
			script = s
			break
		}
	}
	for _, r := range runes {
		if c := classOf(r); c == bidi.L || c == bidi.R || c == bidi.AL {
			if c != bidi.L { // back in the order in which it is read
				direction = di.DirectionRTL
				for i, j := 0, len(runes)-1; i < j; i, j = i+1, j-1 {
					runes[i], runes[j] = runes[j], runes[i]
				}
			}
			break
		}
	}
	const ems = 1.0 / (64 * 1000) // of a size of 1000 in 26.6 bits
	out := f.shaper.Shape(shaping.Input{Text: runes, RunEnd: len(runes), Direction: direction, Face: f.font, Size: 1000 << 6, Script: script, Language: "und"})
	for _, g := range out.Glyphs {
		s.glyphs = append(s.glyphs, stroke{s.advance + ems*float64(g.XOffset), ems * float64(g.YOffset), g.GlyphID})
		s.advance += ems * float64(g.Advance)
	}
	f.shaped[seen] = s
	return s
}

// draw draws a shaped run with its base at (x, y), in the fill colour. Bold is
// made of an outline as well, where the font has none.
func (s *Sheet) draw(f *face, x, y float64, seen string, t Type) {
	const bolder = 0.028 // ems; common practice
	em := t.Size * points
	unit := em / float64(f.font.Upem())
	style := "F"
	if t.Bold && !f.bold {
		style = "FD"
		s.pdf.SetDrawColor(int(t.Grey), int(t.Grey), int(t.Grey))
		s.pdf.SetLineWidth(bolder * em)
		s.pdf.SetLineJoinStyle("round")
		defer s.pdf.SetLineJoinStyle("miter")
	}
	s.pdf.SetFillColor(int(t.Grey), int(t.Grey), int(t.Grey))
	for _, g := range f.shape(seen).glyphs {
		outline := f.outline(g.id)
		if len(outline) == 0 {
			continue
		}
		at := func(p opentype.SegmentPoint) (float64, float64) {
			return x + g.x*em + float64(p.X)*unit, y - g.y*em - float64(p.Y)*unit
		}
		var fromX, fromY float64
		for i, seg := range outline {
			ax, ay := at(seg.Args[0])
			bx, by := at(seg.Args[1])
			cx, cy := at(seg.Args[2])
			switch seg.Op {
			case opentype.SegmentOpMoveTo:
				if i > 0 {
					s.pdf.ClosePath()
				}
				s.pdf.MoveTo(ax, ay)
				fromX, fromY = ax, ay
			case opentype.SegmentOpLineTo:
				s.pdf.LineTo(ax, ay)
				fromX, fromY = ax, ay
			case opentype.SegmentOpQuadTo: // as a cubic: two thirds of the way to its one control
				s.pdf.CurveBezierCubicTo(fromX+2*(ax-fromX)/3, fromY+2*(ay-fromY)/3, bx+2*(ax-bx)/3, by+2*(ay-by)/3, bx, by)
				fromX, fromY = bx, by
			case opentype.SegmentOpCubeTo:
				s.pdf.CurveBezierCubicTo(ax, ay, bx, by, cx, cy)
				fromX, fromY = cx, cy
			}
		}
		s.pdf.ClosePath()
		s.pdf.DrawPath(style)
	}
}
