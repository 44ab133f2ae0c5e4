package look

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// Drawing asks for a picture of what was measured.
type Drawing struct {
	Side int      // long side of the picture, pixels at most, 128 … 1024; the strip of words comes below it
	Says []string // what is said below, a line each where it fits
	Bare bool     // no strip of words at all

	// Boxes are parts of the picture that are cut out of it, drawn as rectangles
	// with a letter in a corner.
	Boxes []Box
}

// Box is a part of a picture, in shares of its width and height.
type Box struct {
	X, Y, Width, Height float64
	Dashed              bool
	Name                string
	Corner              int     // where its name stands: 0 top left, 1 top right, 2 bottom left, 3 bottom right
	Fold                float64 // how far the zone of a fold down its middle reaches to either side, share of Width; 0 none
}

// How it looks. What is drawn is paper with an edge of ink, so that it is seen
// on white crockery and on a black cloth, and has a form of its own beside its
// colour.
var (
	paper = color.RGBA{0xff, 0xf8, 0xe6, 0xff}
	ink   = color.RGBA{0x17, 0x19, 0x1c, 0xff}
	rimOf = color.RGBA{0xff, 0xb0, 0x3a, 0xff} // the rims' own
)

const (
	drawingQuality = 82  // of its JPEG, as image/jpeg counts
	leastSide      = 128 // pixels: less shows nothing
	faded          = 0.7 // how much what matters least loses of its colour
	dimmed         = 0.45

	// What a preview shows as clipped: one code of an 8-bit channel and the
	// noise of its JPEG away from the end of the scale.
	burntFrom   = 253
	blockedUpTo = 2
)

// Draw draws what was measured of a picture over it: what matters keeps its
// colour and has corners at its regions, the rest fades; dots are larger where
// it is sharper; clipped parts are hatched, burnt ones rising to the right,
// blocked-up ones falling; rims are lines, one a vessel, and numbered; those
// that are doubtful are left out; straight edges are thin lines. Clipped parts are those of the preview, which may show a little
// less of them than the original has.
//
// preview is one that At made, or any upright JPEG in sRGB. Errors are those of
// Smaller, and one for a side that is out of range.
func Draw(preview []byte, l catalogue.Look, d Drawing) (out []byte, err error) {
	if d.Side < leastSide || d.Side > pictureSide {
		return nil, fmt.Errorf("draw a picture: a long side of %d pixels is not within %d … %d", d.Side, leastSide, pictureSide)
	}
	defer func() {
		if p := recover(); p != nil {
			out, err = nil, &camera.FormatError{Format: "picture", Reason: fmt.Sprintf("its decoder gave up: %v", p)}
		}
	}()
	small, err := Smaller(preview, d.Side)
	if err != nil {
		return nil, err
	}
	img, err := jpeg.Decode(bytes.NewReader(small))
	if err != nil {
		return nil, inWords(isJPEG, err, int64(len(small)))
	}
	b := img.Bounds()
	c := canvas{w: b.Dx(), h: b.Dy()}
	c.unit = float64(max(c.w, c.h)) / 1024
	c.pix = onWhite(img, b)
	high, low := c.clipped()
	c.fade(l.Matters)
	c.hatch(high, low)
	c.dots(l.Focus)
	c.corners(l.Matters)
	c.edges(l.Lines)
	c.rims(vesselsOf(l.Rims))
	c.boxes(d.Boxes)
	if !d.Bare {
		c.strip(d.Says)
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, c.pix, &jpeg.Options{Quality: drawingQuality}); err != nil {
		return nil, fmt.Errorf("write the drawing: %w", err)
	}
	return buf.Bytes(), nil
}

// canvas is the drawing at work. unit is what one pixel is of a picture 1024
// pixels long.
type canvas struct {
	pix  *image.RGBA
	w, h int
	unit float64
}

// clipped are the pixels at the ends of the scale.
func (c canvas) clipped() (high, low []bool) {
	high, low = make([]bool, c.w*c.h), make([]bool, c.w*c.h)
	for i := range high {
		p := c.pix.Pix[4*i : 4*i+3]
		high[i] = max(p[0], p[1], p[2]) >= burntFrom
		low[i] = max(p[0], p[1], p[2]) <= blockedUpTo
	}
	return high, low
}

// valueAt returns the value of a grid at the middle of a pixel, smoothly between
// the middles of its cells.
func valueAt(grid []uint8, columns, rows int, x, y float64) float64 {
	fx := math.Min(math.Max(x*float64(columns)-0.5, 0), float64(columns-1))
	fy := math.Min(math.Max(y*float64(rows)-0.5, 0), float64(rows-1))
	x0, y0 := int(fx), int(fy)
	x1, y1 := min(x0+1, columns-1), min(y0+1, rows-1)
	tx, ty := fx-float64(x0), fy-float64(y0)
	v := func(x, y int) float64 { return float64(grid[y*columns+x]) }
	return (v(x0, y0)*(1-tx)+v(x1, y0)*tx)*(1-ty) + (v(x0, y1)*(1-tx)+v(x1, y1)*tx)*ty
}

// wholeGrid reports whether values fill a grid.
func wholeGrid(n, columns, rows int) bool { return columns > 0 && rows > 0 && n == columns*rows }

// fade takes colour and light from what does not matter.
func (c canvas) fade(m *catalogue.Matters) {
	if m == nil || !wholeGrid(len(m.Weight), m.Columns, m.Rows) {
		return
	}
	for i := range c.w * c.h {
		w := valueAt(m.Weight, m.Columns, m.Rows, (float64(i%c.w)+0.5)/float64(c.w), (float64(i/c.w)+0.5)/float64(c.h)) / 255
		p := c.pix.Pix[4*i : 4*i+3]
		grey := 0.299*float64(p[0]) + 0.587*float64(p[1]) + 0.114*float64(p[2])
		for k := range p {
			v := float64(p[k]) + (grey-float64(p[k]))*faded*(1-w)
			p[k] = uint8(v * (1 - dimmed*(1-w)))
		}
	}
}

// hatch draws lines over clipped parts.
func (c canvas) hatch(high, low []bool) {
	step := max(6, int(8*c.unit+0.5))
	for i := range high {
		x, y := i%c.w, i/c.w
		along := -1
		switch {
		case high[i]:
			along = (x + y) % step
		case low[i]:
			along = (x + c.h - y) % step
		}
		switch along {
		case 0:
			c.pix.SetRGBA(x, y, ink)
		case 1:
			c.pix.SetRGBA(x, y, paper)
		}
	}
}

// dots draws one in each cell, the larger the sharper.
func (c canvas) dots(f *catalogue.Focus) {
	if f == nil || !wholeGrid(len(f.Grid), f.Columns, f.Rows) {
		return
	}
	cell := math.Min(float64(c.w)/float64(f.Columns), float64(c.h)/float64(f.Rows))
	m := c.mask()
	for i, v := range f.Grid {
		// The area of a dot goes with its cell's sharpness.
		r := 0.2 * cell * math.Sqrt(float64(v)/255)
		if r < 0.5 {
			continue
		}
		m.disc((float64(i%f.Columns)+0.5)*float64(c.w)/float64(f.Columns), (float64(i/f.Columns)+0.5)*float64(c.h)/float64(f.Rows), r)
	}
	c.lay(m, paper, 0.7)
}

// corners draws the four corners of each region that matters.
func (c canvas) corners(m *catalogue.Matters) {
	if m == nil {
		return
	}
	k := c.mask()
	for _, r := range m.Regions {
		if !finiteAll(r.X, r.Y, r.Width, r.Height) {
			continue
		}
		x0, y0 := r.X*float64(c.w), r.Y*float64(c.h)
		x1, y1 := x0+r.Width*float64(c.w), y0+r.Height*float64(c.h)
		arm := math.Min(22*c.unit, math.Min(x1-x0, y1-y0)/3)
		for _, p := range [][4]float64{{x0, y0, 1, 1}, {x1, y0, -1, 1}, {x0, y1, 1, -1}, {x1, y1, -1, -1}} {
			k.line(p[0], p[1], p[0]+arm*p[2], p[1], 1.4*c.unit)
			k.line(p[0], p[1], p[0], p[1]+arm*p[3], 1.4*c.unit)
		}
	}
	c.lay(k, paper, 1)
}

// boxes draws the parts that are cut out.
func (c canvas) boxes(all []Box) {
	for _, b := range all {
		if !finiteAll(b.X, b.Y, b.Width, b.Height, b.Fold) {
			continue
		}
		r := max(0.8, 1.5*c.unit)
		// Within the picture, also where a cut ends at its edge.
		x0, y0 := max(r, b.X*float64(c.w)), max(r, b.Y*float64(c.h))
		x1, y1 := min(float64(c.w)-r-1, (b.X+b.Width)*float64(c.w)), min(float64(c.h)-r-1, (b.Y+b.Height)*float64(c.h))
		if x1 <= x0 || y1 <= y0 {
			continue
		}
		m := c.mask()
		dash := 0.0
		if b.Dashed {
			dash = 12 * c.unit
		}
		for _, l := range [][4]float64{{x0, y0, x1, y0}, {x1, y0, x1, y1}, {x1, y1, x0, y1}, {x0, y1, x0, y0}} {
			m.dashes(l[0], l[1], l[2], l[3], r, dash)
		}
		if b.Fold > 0 {
			for _, x := range []float64{(x0+x1)/2 - b.Fold*(x1-x0), (x0+x1)/2 + b.Fold*(x1-x0)} {
				m.dashes(x, y0, x, y1, r/2, 5*c.unit)
			}
		}
		c.lay(m, paper, 1)
		at := [4][2]float64{{x0 + 14*c.unit, y0 + 14*c.unit}, {x1 - 14*c.unit, y0 + 14*c.unit}, {x0 + 14*c.unit, y1 - 14*c.unit}, {x1 - 14*c.unit, y1 - 14*c.unit}}[b.Corner&3]
		c.label(at[0], at[1], b.Name)
	}
}

// dashes adds a line of half width r, in dashes that long; whole where dash is 0.
func (m mask) dashes(x0, y0, x1, y1, r, dash float64) {
	long := math.Hypot(x1-x0, y1-y0)
	if dash <= 0 || long <= 0 {
		m.line(x0, y0, x1, y1, r)
		return
	}
	for at := 0.0; at < long; at += 1.7 * dash {
		to := min(long, at+dash)
		m.line(x0+(x1-x0)*at/long, y0+(y1-y0)*at/long, x0+(x1-x0)*to/long, y0+(y1-y0)*to/long, r)
	}
}

// edges draws straight edges, thinner than rims and in their colour: both tell
// the angle.
func (c canvas) edges(lines []catalogue.Line) {
	m := c.mask()
	w := float64(c.w)
	for _, l := range lines {
		if finiteAll(l.X1, l.Y1, l.X2, l.Y2) && math.Hypot(l.X2-l.X1, l.Y2-l.Y1) <= 4 {
			m.line(w*l.X1, w*l.Y1, w*l.X2, w*l.Y2, math.Max(0.6, 0.9*c.unit))
		}
	}
	c.lay(m, rimOf, 0.8)
}

// rims draws the rims, the surest last and so on top, and their numbers.
func (c canvas) rims(all []catalogue.Rim) {
	for n := len(all) - 1; n >= 0; n-- {
		r := all[n]
		if !finiteAll(r.X, r.Y, r.A, r.B, r.Turn) || r.A <= 0 || r.A > 4 {
			continue
		}
		w := float64(c.w)
		sin, cos := math.Sincos(r.Turn * math.Pi / 180)
		point := func(t float64) (x, y float64) {
			st, ct := math.Sincos(t)
			return w * (r.X + r.A*ct*cos - r.B*st*sin), w * (r.Y + r.A*ct*sin + r.B*st*cos)
		}
		m := c.mask()
		steps := max(48, int(2*math.Pi*r.A*w))
		for i := range steps {
			x, y := point(2 * math.Pi * float64(i) / float64(steps))
			m.disc(x, y, math.Max(0.8, 1.7*c.unit))
		}
		c.lay(m, rimOf, 1)
		x, y := point(-math.Pi / 4)
		c.label(x, y, fmt.Sprint(n+1))
	}
}

func finiteAll(v ...float64) bool {
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// mask is where a colour goes, 0 … 255 a pixel.
type mask struct {
	a    []uint8
	w, h int
}

func (c canvas) mask() mask { return mask{make([]uint8, c.w*c.h), c.w, c.h} }

// disc adds a disc of radius r around (x, y), its edge softened over a pixel.
func (m mask) disc(x, y, r float64) {
	for py := max(0, int(y-r-1)); py <= min(m.h-1, int(y+r+1)); py++ {
		for px := max(0, int(x-r-1)); px <= min(m.w-1, int(x+r+1)); px++ {
			d := math.Hypot(float64(px)+0.5-x, float64(py)+0.5-y)
			v := uint8(255 * math.Min(1, math.Max(0, r+0.5-d)))
			m.a[py*m.w+px] = max(m.a[py*m.w+px], v)
		}
	}
}

// line adds a line of half width r.
func (m mask) line(x0, y0, x1, y1, r float64) {
	n := max(1, int(math.Hypot(x1-x0, y1-y0)))
	for i := range n + 1 {
		t := float64(i) / float64(n)
		m.disc(x0+(x1-x0)*t, y0+(y1-y0)*t, r)
	}
}

// lay lays a colour through the mask, with an edge of ink around it.
func (c canvas) lay(m mask, colour color.RGBA, strength float64) {
	for y := range c.h {
		for x := range c.w {
			around := uint8(0)
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					if nx, ny := x+dx, y+dy; nx >= 0 && ny >= 0 && nx < c.w && ny < c.h {
						around = max(around, m.a[ny*c.w+nx])
					}
				}
			}
			if around == 0 {
				continue
			}
			c.blend(x, y, ink, 0.7*strength*float64(around)/255)
			c.blend(x, y, colour, strength*float64(m.a[y*c.w+x])/255)
		}
	}
}

func (c canvas) blend(x, y int, colour color.RGBA, a float64) {
	p := c.pix.Pix[c.pix.PixOffset(x, y):]
	for k, v := range [3]uint8{colour.R, colour.G, colour.B} {
		p[k] = uint8(float64(p[k]) + (float64(v)-float64(p[k]))*a + 0.5)
	}
}
