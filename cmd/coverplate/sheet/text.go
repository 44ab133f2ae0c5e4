package sheet

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

	"github.com/go-fonts/dejavu/dejavusans"
	"github.com/go-fonts/dejavu/dejavusansbold"
	"github.com/go-text/typesetting/font"
	"github.com/go-text/typesetting/shaping"
	"github.com/rivo/uniseg"
)

// Type is how text is set.
type Type struct {
	Size float64 // points; the most, where it is made to fit
	Min  float64 // points; the least that Block goes down to, 0 for no less than Size
	Bold bool
	Grey uint8 // code, 0 black
	Turn Align
}

// Align is where lines stand in their place.
type Align int

// The alignments. Start is the left, but the right for a text whose first letter
// is written from right to left.
const (
	Start Align = iota
	Middle
	End
)

// points is the millimetres of a point, 1/72 inch.
const points = 25.4 / 72

// leading is the distance of lines in their type's size; common practice.
const leading = 1.2

// face is a font that text is set in.
type face struct {
	family string
	bold   bool // the bold of DejaVu; others have none
	given  bool // not built in: what is set in it is drawn
	broken bool
	font   *font.Face
	shaper shaping.HarfbuzzShaper
	shaped map[string]strokes
	has    map[rune]bool
}

// addFaces takes in the built-in fonts and the given ones.
func (s *Sheet) addFaces(fonts [][]byte) error {
	add := func(family, style string, data []byte, given bool) error {
		font, err := parsed(data)
		if err != nil {
			return err
		}
		if !given {
			s.pdf.AddUTF8FontFromBytes(family, style, data)
			if err := s.pdf.Error(); err != nil {
				return err
			}
		}
		s.faces = append(s.faces, &face{family: family, bold: style == "B", given: given, font: font, shaped: map[string]strokes{}, has: map[rune]bool{}})
		return nil
	}
	if err := add("dejavu", "", dejavusans.TTF, false); err != nil {
		return fmt.Errorf("built-in font: %w", err)
	}
	if err := add("dejavu", "B", dejavusansbold.TTF, false); err != nil {
		return fmt.Errorf("built-in bold font: %w", err)
	}
	for i, data := range fonts {
		if err := add("", "", data, true); err != nil {
			return fmt.Errorf("font %d of those given is none of TrueType or OpenType that can be used: %w", i+1, err)
		}
	}
	return nil
}

// faceOf is the face that r is set in; nil where none has it.
func (s *Sheet) faceOf(r rune, bold bool) *face {
	var found *face
	for _, f := range s.faces {
		if f.holds(r) {
			if f.bold == bold {
				return f
			}
			if found == nil || found.bold { // the plain one stands in for a bold that lacks it
				found = f
			}
		}
	}
	return found
}

// piece is a run of characters of one face, all drawn or all set as text.
type piece struct {
	face  *face
	drawn bool
	text  string
}

// pieces parts a line, as it is seen from left to right, into runs of one face.
func (s *Sheet) pieces(seen string, bold bool) []piece {
	var out []piece
	for _, r := range seen {
		n := len(out)
		if n > 0 && out[n-1].drawn && (joiner(r) || unicode.Is(unicode.M, r) && out[n-1].face.holds(r)) {
			out[n-1].text += string(r) // with its letter
			continue
		}
		f := s.faceOf(r, bold)
		if f == nil {
			continue // printable has left none
		}
		if drawn := f.drawn(r); n > 0 && out[n-1].face == f && out[n-1].drawn == drawn {
			out[n-1].text += string(r)
		} else {
			out = append(out, piece{f, drawn, string(r)})
		}
	}
	return out
}

// printable is text of which every character has a glyph: white space becomes
// a space, what has no shape falls away, and what no font has is named by its
// number. Arabic letters are joined. It is in the order in which it is read.
func (s *Sheet) printable(text string) string {
	var b strings.Builder
	last := ' '
	for _, r := range joined(text) {
		before := last
		last = r
		switch {
		case joiner(r) && unicode.In(before, stacked...):
			b.WriteRune(r)
		case unicode.IsSpace(r):
			b.WriteByte(' ')
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || unicode.Is(unicode.Variation_Selector, r):
		case s.faceOf(r, false) == nil:
			s.missing[r] = true
			fmt.Fprintf(&b, "[%04X]", r)
		default:
			if unjoined(r) {
				s.unshaped["Arabic"] = true
			}
			b.WriteRune(r)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

// Missing are the characters that no font had, as far as text was set: each
// was printed as its number in brackets.
func (s *Sheet) Missing() []rune {
	var out []rune
	for r := range s.missing {
		out = append(out, r)
	}
	slices.Sort(out)
	return out
}

// Unshaped are the scripts, by their English names, of which letters were
// printed one by one where they should be joined, stacked or moved.
func (s *Sheet) Unshaped() []string {
	var out []string
	for name := range s.unshaped {
		out = append(out, name)
	}
	slices.Sort(out)
	return out
}

// width is how long a line of printable text is, millimetres.
func (s *Sheet) width(line string, t Type) float64 {
	sum := 0.0
	for _, p := range s.pieces(line, t.Bold) {
		sum += s.long(p, t)
	}
	return sum
}

// long is how long a piece is, millimetres.
func (s *Sheet) long(p piece, t Type) float64 {
	if p.drawn {
		return p.face.shape(p.text).advance * t.Size * points
	}
	s.use(p.face, t.Size)
	return s.pdf.GetStringWidth(p.text)
}

func (s *Sheet) use(f *face, size float64) {
	style := ""
	if f.bold {
		style = "B"
	}
	s.pdf.SetFont(f.family, style, size)
}

// wholeWords is down to which part of its size type is made smaller rather than
// that a word is parted. No source.
const wholeWords = 0.5

// Block sets text in a place of w × h: in the largest type from t.Size down to
// t.Min in which it fits, wrapped where lines may break (Unicode Standard Annex
// 14), and within a word that is longer than a line where type of half the size
// would not hold that either. What doesn't fit at the least is cut, with "…" for
// the rest. It returns the height that the text takes.
func (s *Sheet) Block(x, y, w, h float64, text string, t Type) (height float64) {
	text = s.printable(text)
	if text == "" {
		return 0
	}
	least := t.Min
	if least <= 0 {
		least = t.Size
	}
	fit := func(least float64, parted bool) (lines []string, size float64, ok bool) {
		t := t
		for {
			lines, cuts := s.wrap(text, w, t)
			room := max(1, int(h/(t.Size*points*leading)+1e-6))
			if len(lines) <= room && (parted || cuts == 0) {
				return lines, t.Size, true
			}
			if t.Size <= least {
				return lines[:min(len(lines), room)], t.Size, false
			}
			t.Size = max(least, t.Size*0.94)
		}
	}
	lines, size, ok := fit(max(least, wholeWords*t.Size), false)
	if !ok {
		lines, size, ok = fit(least, true)
	}
	if t.Size = size; !ok {
		lines[len(lines)-1] = s.cut(lines[len(lines)-1], w, t)
	}
	rightward := rightToLeft(text)
	for i, line := range lines {
		s.line(x, y+(float64(i)*leading+1)*t.Size*points, w, line, t, rightward)
	}
	return float64(len(lines)) * leading * t.Size * points
}

// line sets one line with its base at y.
func (s *Sheet) line(x, y, w float64, line string, t Type, rightward bool) {
	free := w - s.width(line, t)
	switch {
	case t.Turn == Middle:
		x += free / 2
	case t.Turn == End && !rightward || t.Turn == Start && rightward:
		x += free
	}
	// The base is a fifth of the size above the foot of the line.
	base := y - 0.08*t.Size*points
	s.pdf.SetTextColor(int(t.Grey), int(t.Grey), int(t.Grey))
	for _, p := range s.pieces(visual(line, rightward), t.Bold) {
		if p.drawn {
			s.draw(p.face, x, base, p.text, t)
		} else {
			s.use(p.face, t.Size)
			s.pdf.Text(x, base, p.text)
		}
		x += s.long(p, t)
	}
}

// wrap parts printable text into lines no longer than w, and tells how often it
// had to part what no line should.
func (s *Sheet) wrap(text string, w float64, t Type) (lines []string, cuts int) {
	line, state := "", -1
	for text != "" {
		var part string
		part, text, _, state = uniseg.FirstLineSegmentInString(text, state)
		if s.width(line+strings.TrimRight(part, " "), t) <= w {
			line += part
			continue
		}
		if line != "" {
			lines = append(lines, strings.TrimRight(line, " "))
		}
		// A part longer than a line ends where the line is full.
		for s.width(strings.TrimRight(part, " "), t) > w {
			n := 0
			runes := []rune(part)
			for n < len(runes)-1 && s.width(string(runes[:n+1]), t) <= w {
				n++
			}
			for n > 1 && unicode.Is(unicode.M, runes[n]) { // not before a mark of its letter
				n--
			}
			if n = max(1, n); n == len(runes) {
				break
			}
			lines = append(lines, string(runes[:n]))
			part = string(runes[n:])
			cuts++
		}
		line = part
	}
	return append(lines, strings.TrimRight(line, " ")), cuts
}

// cut shortens a line so that "…" still fits behind it.
func (s *Sheet) cut(line string, w float64, t Type) string {
	runes := []rune(line)
	for len(runes) > 0 && s.width(string(runes)+"…", t) > w {
		runes = runes[:len(runes)-1]
	}
	return strings.TrimRight(string(runes), " ") + "…"
}
