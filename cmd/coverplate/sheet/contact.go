package sheet

import (
	"fmt"
	"time"
)

// Contact is contact sheets: the frames of each recipe, small, with their names
// and facts.
type Contact struct {
	Book  string
	Parts []ContactPart
	Made  time.Time
}

// ContactPart is the frames of one recipe; it begins a page.
type ContactPart struct {
	Title  string
	Says   string // below the title
	Frames []ContactFrame
}

// ContactFrame is one frame.
type ContactFrame struct {
	JPEG          []byte // nil: there is no preview, and Why says why
	Width, Height int    // pixels of the upright picture, or others of its shape
	ID            string // tells pictures apart
	Name          string // of its file
	Facts         []string
	Mark          string // what it was chosen for; "" nothing
	Why           string
}

// Measures of a contact sheet, millimetres.
const (
	contactMargin = 12.0
	contactHead   = 20.0
	contactFoot   = 6.0
	contactGap    = 5.0
	contactLeast  = 42.0 // width of a frame's place
	contactWords  = 17.0 // height of the words below a picture
	contactShape  = 0.88 // height of a picture's place by its width: room for both ways of standing
)

// PDF draws the sheets on paper of a size, upright. The sheet tells what its
// fonts lacked.
func (c Contact) Sheet(size Size, fonts ...[]byte) (*Sheet, error) {
	s, err := New(size, c.Book, c.Made, fonts...)
	if err != nil {
		return nil, err
	}
	across := size.Width - 2*contactMargin
	down := size.Height - 2*contactMargin - contactHead - contactFoot
	columns := max(1, int((across+contactGap)/(contactLeast+contactGap)))
	width := (across - float64(columns-1)*contactGap) / float64(columns)
	high := contactShape * width
	rows := max(1, int((down+contactGap)/(high+contactWords+contactGap)))
	for _, p := range c.Parts {
		pages := max(1, (len(p.Frames)+columns*rows-1)/(columns*rows))
		for page := range pages {
			s.Page()
			s.Block(contactMargin, contactMargin-2, across-28, 9, p.Title, Type{Size: 17, Min: 10, Bold: true})
			if pages > 1 {
				s.Block(size.Width-contactMargin-28, contactMargin, 28, 6, fmt.Sprintf("%d of %d", page+1, pages), Type{Size: 9, Turn: End, Grey: 90})
			}
			s.Block(contactMargin, contactMargin+7, across, 11, p.Says, Type{Size: 9, Min: 6.5, Grey: 60})
			s.Block(contactMargin, size.Height-contactMargin-3, across, 4, c.Book, Type{Size: 7.5, Grey: 90})
			for i := range columns * rows {
				if n := page*columns*rows + i; n < len(p.Frames) {
					x := contactMargin + float64(i%columns)*(width+contactGap)
					y := contactMargin + contactHead + float64(i/columns)*(high+contactWords+contactGap)
					p.Frames[n].draw(s, x, y, width, high)
				}
			}
		}
	}
	return s, nil
}

// draw puts a frame into its place, its words right below the picture.
func (f ContactFrame) draw(s *Sheet, x, y, width, high float64) {
	if f.JPEG == nil {
		s.Grey(x, y, width, high, 240)
		s.Block(x+3, y+high/2-6, width-6, 12, f.Why, Type{Size: 8, Min: 6, Turn: Middle, Grey: 60})
	} else {
		// Its words stand right below it, however flat it is.
		is := min(high, width*float64(f.Height)/float64(max(f.Width, 1)))
		s.Picture(x, y+high-is, width, is, f.ID, f.JPEG, f.Width, f.Height)
	}
	y += high + 1
	const line = 3.2
	left := contactWords - 1
	put := func(text string, t Type) {
		if text != "" && left >= line-0.1 {
			s.Block(x, y, width, line, text, t)
			y, left = y+line, left-line
		}
	}
	put(f.Name, Type{Size: 8, Min: 5.5, Bold: true})
	put(f.Mark, Type{Size: 7, Min: 5.5, Bold: true})
	for _, l := range f.Facts {
		put(l, Type{Size: 7, Min: 5})
	}
}
