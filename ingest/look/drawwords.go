package look

import (
	"image"
	"image/draw"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/inconsolata"
	"golang.org/x/image/math/fixed"
)

const (
	letterWidth  = 8  // of the one face there is, pixels
	letterHeight = 16 // with the space between lines
	margin       = 8
)

// label writes s on a spot of ink around (x, y), kept within the picture.
func (c canvas) label(x, y float64, s string) {
	w := len([]rune(s))*letterWidth + 4
	left := min(max(int(x)-w/2, 0), max(0, c.w-w))
	top := min(max(int(y)-letterHeight/2, 0), max(0, c.h-letterHeight))
	draw.Draw(c.pix, image.Rect(left, top, left+w, top+letterHeight), image.NewUniform(ink), image.Point{}, draw.Src)
	c.write(left+2, top+letterHeight-4, s, image.NewUniform(rimOf))
}

// write writes one line whose letters stand on y.
func (c canvas) write(x, y int, s string, in image.Image) {
	d := font.Drawer{Dst: c.pix, Src: in, Face: inconsolata.Regular8x16, Dot: fixed.P(x, y)}
	d.DrawString(s)
}

// drawingKey says what the marks are.
const drawingKey = "rims numbered, straight edges thin | dots: sharpness | ///: burnt, \\\\\\: blocked up | corners, colour: what matters"

// strip adds what is said, and what the marks are, below the picture.
func (c *canvas) strip(says []string) {
	room := max(8, (c.w-2*margin)/letterWidth)
	var lines []string
	for _, s := range append(says, drawingKey) {
		lines = append(lines, folded(spelt(s), room)...)
	}
	strip := 2*margin + letterHeight*len(lines)
	all := image.NewRGBA(image.Rect(0, 0, c.w, c.h+strip))
	draw.Draw(all, c.pix.Bounds(), c.pix, c.pix.Bounds().Min, draw.Src)
	draw.Draw(all, image.Rect(0, c.h, c.w, c.h+strip), image.NewUniform(paper), image.Point{}, draw.Src)
	c.pix = all
	for i, s := range lines {
		c.write(margin, c.h+margin+letterHeight*i+letterHeight-4, s, image.NewUniform(ink))
	}
}

// spelt is s in the letters that the face has.
func spelt(s string) string {
	s = strings.NewReplacer("−", "-", "–", "-", "…", "...", "’", "'", "‘", "'", "“", `"`, "”", `"`, "·", ".").Replace(s)
	return strings.Map(func(r rune) rune {
		switch {
		case r < ' ', r == 0x7f:
			return ' '
		case r < 0x7f, r >= 0xa0 && r < 0x100:
			return r
		}
		return '?'
	}, s)
}

// folded breaks s at blanks into lines of at most room letters; a longer word
// is cut.
func folded(s string, room int) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(s) {
		for len([]rune(word)) > room {
			if line != "" {
				lines, line = append(lines, line), ""
			}
			lines, word = append(lines, string([]rune(word)[:room])), string([]rune(word)[room:])
		}
		switch {
		case line == "":
			line = word
		case len([]rune(line))+1+len([]rune(word)) <= room:
			line += " " + word
		default:
			lines, line = append(lines, line), word
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}
