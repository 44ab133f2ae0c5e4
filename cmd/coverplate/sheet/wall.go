package sheet

import (
	"fmt"
	"math"
	"time"
)

// Wall is a book's flat plan for a wall.
type Wall struct {
	Book, Says string  // says: what stands below the title
	Legend     string  // at the foot of every page
	Trim       float64 // width of a page by its height
	Spreads    []WallSpread
	Made       time.Time
}

// WallSpread is two facing pages.
type WallSpread struct {
	Left, Right string // page numbers; "" there is no such page
	Pictures    []WallPicture
	Palette     []WallColour
	Dishes      []WallDish
}

// WallPicture is a picture, or the place that waits for one.
type WallPicture struct {
	X, Y, Width, Height float64    // its place, as shares of the two pages' width and height
	JPEG                []byte     // nil: an empty plate stands there
	Name                string     // tells pictures apart
	Part                [4]float64 // left, top, width and height of what is printed of it, shares
	Chosen              bool       // by a person; others are drawn in dashes
	Label               string     // in the place where there is no picture
}

// WallDish is what is said below a spread of one recipe.
type WallDish struct{ Title, Wants string }

// WallColour is a swatch.
type WallColour struct {
	Share   float64 // of the palette, 0 … 1
	R, G, B uint8
}

// Measures of a wall sheet, millimetres.
const (
	wallMargin = 10.0
	wallHead   = 16.0
	wallFoot   = 7.0
	wallGap    = 5.0  // between spreads
	wallLeast  = 45.0 // width of a spread; a book that needs them smaller takes more pages
	wallMost   = 130.0
	wallBar    = 3.0 // height of the palette
	wallLine   = 5.7 // room for a dish: its title, and what it wants
	wallNumber = 3.6 // for page numbers
)

// grid is how many spreads stand on a sheet and how wide each is: as few sheets
// as can be with spreads that are wide enough to be seen, then as wide as can be.
func (w Wall) grid(size Size) (columns, rows int, width float64) {
	across, down := size.Width-2*wallMargin, size.Height-2*wallMargin-wallHead-wallFoot
	fewest := math.MaxInt
	for n := 1; ; n++ {
		wide := min(wallMost, (across-float64(n-1)*wallGap)/float64(n))
		if n > 1 && wide < wallLeast {
			return columns, rows, width
		}
		each := wide/(2*w.Trim) + wallNumber + wallBar + w.words() + wallGap
		high := max(1, int((down+wallGap)/each))
		if sheets := (len(w.Spreads) + n*high - 1) / (n * high); sheets < fewest {
			fewest, columns, rows, width = sheets, n, high, wide
		}
	}
}

// Pages is how many sheets of a size the book takes.
func (w Wall) Pages(size Size) int {
	columns, rows, _ := w.grid(size)
	return max(1, int(math.Ceil(float64(len(w.Spreads))/float64(columns*rows))))
}

// words is the room for words below each spread.
func (w Wall) words() float64 {
	most := 1
	for _, s := range w.Spreads {
		most = max(most, len(s.Dishes))
	}
	return float64(min(most, 4)) * wallLine
}

// PDF draws the book on sheets of a size lying on its side. The sheet tells
// what its fonts lacked.
func (w Wall) Sheet(size Size, fonts ...[]byte) (*Sheet, error) {
	size = size.Turned()
	s, err := New(size, w.Book, w.Made, fonts...)
	if err != nil {
		return nil, err
	}
	words := w.words()
	columns, rows, width := w.grid(size)
	pages := w.Pages(size)
	high := width / (2 * w.Trim)
	for page := range pages {
		s.Page()
		s.Block(wallMargin, wallMargin-1, size.Width-2*wallMargin-30, 9, w.Book, Type{Size: 20, Min: 12, Bold: true})
		if pages > 1 {
			s.Block(size.Width-wallMargin-30, wallMargin, 30, 6, fmt.Sprintf("sheet %d of %d", page+1, pages), Type{Size: 9, Turn: End, Grey: 90})
		}
		s.Block(wallMargin, wallMargin+8.5, size.Width-2*wallMargin, 6, w.Says, Type{Size: 10, Min: 7, Grey: 60})
		s.Block(wallMargin, size.Height-wallMargin-3.5, size.Width-2*wallMargin, 4, w.Legend, Type{Size: 7.5, Min: 6, Grey: 90})
		for i := range columns * rows {
			n := page*columns*rows + i
			if n >= len(w.Spreads) {
				break
			}
			x := wallMargin + float64(i%columns)*(width+wallGap)
			y := wallMargin + wallHead + float64(i/columns)*(high+wallNumber+wallBar+words+wallGap)
			w.spread(s, w.Spreads[n], x, y, width, high, words)
		}
	}
	return s, nil
}

// spread draws one spread with its page numbers, palette and words.
func (w Wall) spread(s *Sheet, p WallSpread, x, y, width, high, words float64) {
	s.Grey(x, y, width, high, 255)
	for _, pic := range p.Pictures {
		px, py, pw, ph := x+pic.X*width, y+pic.Y*high, pic.Width*width, pic.Height*high
		switch {
		case pic.JPEG == nil:
			s.Grey(px, py, pw, ph, 246)
			s.Plate(px, py, pw, ph)
			s.Block(px+pw*0.3, py+ph/2-2.2, pw*0.4, 4.4, pic.Label, Type{Size: 9, Min: 5, Turn: Middle, Grey: 60})
		default:
			s.Crop(px, py, pw, ph, pic.Name, pic.JPEG, pic.Part)
			if !pic.Chosen {
				s.Dashes(px+0.35, py+0.35, pw-0.7, ph-0.7, 0.35)
			}
		}
	}
	edge := 0.15
	half := width / 2
	for i, number := range []string{p.Left, p.Right} {
		if number == "" {
			continue
		}
		s.Frame(x+float64(i)*half, y, half, high, edge)
		align := Start
		if i == 1 {
			align = End
		}
		s.Block(x+float64(i)*half, y+high+0.2, half, wallNumber, number, Type{Size: 7.5, Turn: align})
	}
	y += high + wallNumber
	at, sum := x, 0.0
	for _, c := range p.Palette {
		sum += c.Share
	}
	for _, c := range p.Palette {
		wide := width * c.Share / sum
		s.Colour(at, y, wide, wallBar, c.R, c.G, c.B)
		at += wide
	}
	y += wallBar + 0.8
	each := min(wallLine, words/float64(max(len(p.Dishes), 1)))
	for _, d := range p.Dishes {
		s.Block(x, y, width, each/2, d.Title, Type{Size: 6.7, Min: 5, Bold: true})
		s.Block(x, y+each/2, width, each/2, d.Wants, Type{Size: 6.7, Min: 4.5})
		y += each
	}
}
