package crop

// Side names which half of a frame is kept.
type Side string

// The halves. The two between are windows of half the frame's area that slide
// from one side to the other, since a dish in the middle fits neither.
const (
	Left       Side = "left"
	Right      Side = "right"
	Top        Side = "top"
	Bottom     Side = "bottom"
	BetweenLR  Side = "between left and right"
	BetweenTB  Side = "between top and bottom"
	sidesCount      = 6
)

// Half is the largest crop of one shape in one half of a frame.
type Half struct {
	Side  Side
	Shape string
	Rect  Rect    // in the middle of the half; of a sliding window, in the middle of the frame
	Slide int     // pixels by which the window of a sliding half can move either way from Rect; else 0
	Scale float64 // crop width over the shape's width; below 1 it would have to be scaled up
	Large bool    // reaches the shape's width and height without upscaling
}

// Halves returns the largest crop of each shape in each half of a frame of
// w × h upright pixels: shape after shape in the order given, the sides in
// that of the constants. An odd side loses its middle pixel row or column.
// A half in which no crop of the shape fits is left out, and so is a shape
// without sides.
func Halves(w, h int, shapes []Shape) []Half {
	if w <= 0 || h <= 0 {
		return nil
	}
	halves := make([]Half, 0, len(shapes)*sidesCount)
	for _, s := range shapes {
		rw, rh := s.Ratio()
		for _, b := range boxes(w, h) {
			cw, ch := Largest(b.box.Width, b.box.Height, rw, rh)
			if cw == 0 {
				continue
			}
			halves = append(halves, Half{
				Side:  b.side,
				Shape: s.Name,
				Rect:  Rect{b.box.X + (b.box.Width-cw)/2, b.box.Y + (b.box.Height-ch)/2, cw, ch},
				Slide: b.slide,
				Scale: float64(cw) / float64(s.Width),
				Large: cw >= s.Width && ch >= s.Height,
			})
		}
	}
	return halves
}

type halfBox struct {
	side  Side
	box   Rect
	slide int
}

// boxes returns the halves of a frame before they are cut to a shape.
func boxes(w, h int) [sidesCount]halfBox {
	hw, hh := w/2, h/2
	return [sidesCount]halfBox{
		{Left, Rect{0, 0, hw, h}, 0},
		{Right, Rect{w - hw, 0, hw, h}, 0},
		{Top, Rect{0, 0, w, hh}, 0},
		{Bottom, Rect{0, h - hh, w, hh}, 0},
		{BetweenLR, Rect{(w - hw) / 2, 0, hw, h}, (w - hw) / 2},
		{BetweenTB, Rect{0, (h - hh) / 2, w, hh}, (h - hh) / 2},
	}
}
