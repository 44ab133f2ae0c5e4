package sheet

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// Card is what the slate of one dish says.
type Card struct {
	Title, ID, Pages string // Pages "" where the plan does not say
	Needs, Angle     string
	Shoot            string   // id of the shoot
	Code             [][]bool // modules of the code with its quiet zone, true dark
}

// What a slate tells people at its foot; CodeSide is how wide and high its code
// is printed, quiet zone included, in millimetres: a code of 45 modules, the
// most that a payload takes, has 1.5 mm a module.
const (
	CodeSide   = 68.0
	slateUse   = "Photograph it flat and whole, before the dish, with each body. A frame with a slate is never coverage."
	slateCares = "Keep a card until two copies on different devices were read back. Food that stood on a set: no picture tells whether it is safe."
	greysSay   = "Linear light, a stop a step, as printed: for the eye, not for measuring."
)

// greySteps are the patches in linear light, the share of the paper's.
var greySteps = []float64{0.05, 0.1, 0.2, 0.4, 0.8}

// Slates is a document of one card a dish: four to a page of A4 or Letter, with
// lines to cut along, or one to a page of A6. Errors are New's.
func Slates(size Size, title string, made time.Time, cards []Card, fonts ...[]byte) (*Sheet, error) {
	s, err := New(size, title, made, fonts...)
	if err != nil {
		return nil, err
	}
	if size.Width < 2*A6.Width {
		for _, c := range cards {
			s.Page()
			s.card(c, 0, 0, size.Width, size.Height)
		}
		return s, nil
	}
	w, h := size.Width/2, size.Height/2
	for i, c := range cards {
		place := i % 4
		if place == 0 {
			s.Page()
			s.Line(w, 0, w, size.Height, 0.1, 150)
			s.Line(0, h, size.Width, h, 0.1, 150)
		}
		s.card(c, w*float64(place%2), h*float64(place/2), w, h)
	}
	return s, nil
}

// card draws one card into w × h, which is A6 or a little less high.
func (s *Sheet) card(c Card, x, y, w, h float64) {
	const edge = 6.5
	in := w - 2*edge
	foot := y + h - edge
	codeTop := foot - 11 - CodeSide

	s.Block(x+edge, y+edge, in*0.6, 13.5, c.ID, Type{Size: 34, Min: 7, Bold: true})
	if c.Pages != "" {
		word := "page "
		if strings.Contains(c.Pages, "-") {
			word = "pages "
		}
		s.Block(x+edge+in*0.62, y+edge+1.5, in*0.38, 12, word+c.Pages, Type{Size: 16, Min: 9, Turn: End})
	}
	s.Line(x+edge, y+edge+14.5, x+w-edge, y+edge+14.5, 0.3, 0)
	top := y + edge + 16
	room := codeTop - top
	s.Block(x+edge, top, in, room-15, c.Title, Type{Size: 26, Min: 8, Bold: true})
	s.Block(x+edge, codeTop-14, in, 7.5, c.Needs, Type{Size: 14, Min: 8})
	if c.Angle != "" {
		s.Block(x+edge, codeTop-6.5, in, 6, "angle: "+c.Angle, Type{Size: 14, Min: 8})
	}

	s.Code(x+edge-2, codeTop, CodeSide, c.Code)
	side := x + edge + CodeSide
	wide := x + w - edge - side
	high := (CodeSide - 22) / float64(len(greySteps))
	for i, l := range greySteps {
		s.Grey(side, codeTop+2+float64(i)*high, wide, high, sRGB(l))
		label := Type{Size: 7, Turn: Middle}
		if l < 0.3 {
			label.Grey = 255
		}
		s.Block(side, codeTop+2+float64(i)*high+high/2-1.5, wide, 4, fmt.Sprint(l), label)
	}
	s.Block(side, codeTop+CodeSide-19, wide, 11, greysSay, Type{Size: 6, Min: 5})
	s.Block(side, codeTop+CodeSide-6, wide, 4, "shoot "+c.Shoot, Type{Size: 7, Min: 5})
	s.Block(x+edge, foot-10.5, in, 5.5, slateUse, Type{Size: 6.5, Min: 5})
	s.Block(x+edge, foot-5, in, 5.5, slateCares, Type{Size: 6.5, Min: 5})
}

// sRGB is the 8-bit code of linear light 0 … 1 (IEC 61966-2-1).
func sRGB(l float64) uint8 {
	v := 12.92 * l
	if l > 0.0031308 {
		v = 1.055*math.Pow(l, 1/2.4) - 0.055
	}
	return uint8(math.Round(255 * v))
}
