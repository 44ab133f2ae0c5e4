// Package sheet is what is printed: PDF pages of slates, and of whatever else is
// to hang on a wall. A Sheet has pages of one size; on them it sets text that is
// made to fit its place, pictures, greys and lines, all in millimetres from the
// top left corner. Text in any script is set from right to left and with Arabic
// letters joined where that is due; a character that no font has is printed as
// its number in brackets, never as a box, and Missing names it.
//
// The order of use is New, then Page and what stands on it, then Bytes.
package sheet

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// Size is a size of paper, upright, in millimetres.
type Size struct {
	Name          string
	Width, Height float64
}

// The papers: ISO 216, and ANSI/ASME Y14.1 A and B.
var (
	A3      = Size{"a3", 297, 420}
	A4      = Size{"a4", 210, 297}
	A6      = Size{"a6", 105, 148}
	Letter  = Size{"letter", 215.9, 279.4}
	Tabloid = Size{"tabloid", 279.4, 431.8}
)

// SizeNamed is the paper called so: a3, a4, a6, letter or tabloid.
func SizeNamed(name string) (Size, error) {
	for _, s := range []Size{A3, A4, A6, Letter, Tabloid} {
		if strings.EqualFold(name, s.Name) {
			return s, nil
		}
	}
	return Size{}, fmt.Errorf("paper %q is not known: a4, a3, letter, tabloid or a6", name)
}

// Turned is the size lying on its side.
func (s Size) Turned() Size { return Size{s.Name, s.Height, s.Width} }

// Sheet is a document being made. Faults of fonts and pictures are kept and
// told by Bytes.
type Sheet struct {
	Size     Size
	pdf      *fpdf.Fpdf
	faces    []*face
	missing  map[rune]bool
	unshaped map[string]bool
}

// New begins a document of pages of one size. made is the time it carries as
// that of its making. fonts are TrueType or OpenType files that are asked for what
// the built-in DejaVu Sans lacks, in their order; the error names the one that can't
// be used.
func New(size Size, title string, made time.Time, fonts ...[]byte) (*Sheet, error) {
	s := &Sheet{Size: size, missing: map[rune]bool{}, unshaped: map[string]bool{}}
	s.pdf = fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: size.Width, Ht: size.Height}})
	s.pdf.SetMargins(0, 0, 0)
	s.pdf.SetAutoPageBreak(false, 0)
	s.pdf.SetTitle(title, true)
	s.pdf.SetCreator("coverplate", true)
	s.pdf.SetCreationDate(made)
	s.pdf.SetModificationDate(made)
	s.pdf.SetCatalogSort(true) // the same sheet gives the same bytes
	if err := s.addFaces(fonts); err != nil {
		return nil, err
	}
	return s, nil
}

// Page begins the next page.
func (s *Sheet) Page() { s.pdf.AddPage() }

// Grey fills a rectangle with a grey of 8-bit code: 0 black, 255 the paper.
func (s *Sheet) Grey(x, y, w, h float64, code uint8) {
	s.pdf.SetFillColor(int(code), int(code), int(code))
	s.pdf.Rect(x, y, w, h, "F")
}

// Colour fills a rectangle with a colour of sRGB.
func (s *Sheet) Colour(x, y, w, h float64, r, g, b uint8) {
	s.pdf.SetFillColor(int(r), int(g), int(b))
	s.pdf.Rect(x, y, w, h, "F")
}

// Frame draws the outline of a rectangle, its line width millimetres wide.
func (s *Sheet) Frame(x, y, w, h, width float64) {
	s.pdf.SetDrawColor(0, 0, 0)
	s.pdf.SetLineWidth(width)
	s.pdf.Rect(x, y, w, h, "D")
}

// Line draws a line width millimetres wide in the grey of a code.
func (s *Sheet) Line(x1, y1, x2, y2, width float64, code uint8) {
	s.pdf.SetDrawColor(int(code), int(code), int(code))
	s.pdf.SetLineWidth(width)
	s.pdf.Line(x1, y1, x2, y2)
}

// Picture prints a JPEG, which goes into the document as it is, as large as
// fits into w × h, in the middle of it. name tells one picture from another:
// one that stands twice is kept once. width and height are its pixels.
func (s *Sheet) Picture(x, y, w, h float64, name string, jpeg []byte, width, height int) {
	if width <= 0 || height <= 0 {
		return
	}
	options := fpdf.ImageOptions{ImageType: "JPEG"}
	s.pdf.RegisterImageOptionsReader(name, options, bytes.NewReader(jpeg))
	k := min(w/float64(width), h/float64(height))
	pw, ph := k*float64(width), k*float64(height)
	s.pdf.ImageOptions(name, x+(w-pw)/2, y+(h-ph)/2, pw, ph, false, options, 0, "")
}

// Crop prints the part of a JPEG that fills w × h, as Picture does the whole.
// part is its left edge, top, width and height as shares of the picture; what
// stands over is cut.
func (s *Sheet) Crop(x, y, w, h float64, name string, jpeg []byte, part [4]float64) {
	if part[2] <= 0 || part[3] <= 0 {
		return
	}
	options := fpdf.ImageOptions{ImageType: "JPEG", AllowNegativePosition: true} // what is cut may lie off the paper
	s.pdf.RegisterImageOptionsReader(name, options, bytes.NewReader(jpeg))
	s.pdf.ClipRect(x, y, w, h, false)
	pw, ph := w/part[2], h/part[3]
	s.pdf.ImageOptions(name, x-part[0]*pw, y-part[1]*ph, pw, ph, false, options, 0, "")
	s.pdf.ClipEnd()
}

// Plate draws an empty plate as seen from above, as large as fits into w × h
// with air around it: its rim and its well.
func (s *Sheet) Plate(x, y, w, h float64) {
	const code, well = 120, 0.66 // grey; share of the rim
	r := min(w, h) * 0.36
	s.pdf.SetDrawColor(code, code, code)
	s.pdf.SetLineWidth(max(0.1, r/40))
	for _, k := range []float64{1, 0.95, well} {
		s.pdf.Circle(x+w/2, y+h/2, k*r, "D")
	}
}

// Dashes draws the outline of a rectangle in dashes.
func (s *Sheet) Dashes(x, y, w, h, width float64) {
	s.pdf.SetDashPattern([]float64{4 * width, 3 * width}, 0)
	s.Frame(x, y, w, h, width)
	s.pdf.SetDashPattern(nil, 0)
}

// Code draws the modules of a code, true dark, rows from the top, with the
// quiet zone that they bring along, side millimetres wide and high. Neighbours
// of a row are drawn in one piece, and overlap the row below by a hair, so that
// no light line is seen between them.
func (s *Sheet) Code(x, y, side float64, modules [][]bool) {
	if len(modules) == 0 {
		return
	}
	unit := side / float64(len(modules))
	s.Grey(x, y, side, side, 255)
	s.pdf.SetFillColor(0, 0, 0)
	const hair = 0.01
	for row, line := range modules {
		for from := 0; from < len(line); from++ {
			if !line[from] {
				continue
			}
			to := from
			for to < len(line) && line[to] {
				to++
			}
			s.pdf.Rect(x+float64(from)*unit, y+float64(row)*unit, float64(to-from)*unit, unit+hair, "F")
			from = to
		}
	}
}

// Bytes ends the document. The error tells the first fault met on its way.
func (s *Sheet) Bytes() ([]byte, error) {
	if err := s.Fault(); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := s.pdf.Output(&b); err != nil {
		return nil, fmt.Errorf("make the PDF: %w", err)
	}
	return b.Bytes(), nil
}
