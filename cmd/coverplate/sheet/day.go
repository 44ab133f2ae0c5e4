package sheet

import (
	"fmt"
	"time"
)

// DayList is a day's sheet for the kitchen wall.
type DayList struct {
	Title  string // "Skerry Table: Wednesday 4 March 2026, day 3 of 10"
	Says   string // the pace, in a sentence; "" none
	Groups []DayGroup
	Foot   []string // cautions, each a sentence
}

// DayGroup is some dishes under a heading.
type DayGroup struct {
	Head   string
	Dishes []DayDish
}

// DayDish is a dish with the needs to tick. Empty texts are left out.
type DayDish struct {
	Name  string   // "R07  Plums, p. 24"
	Says  []string // what it must look like, what stands on set, allergens: a line or more each
	Needs []DayNeed
}

// DayNeed is one thing to tick.
type DayNeed struct{ Name, Why string }

// How a day's sheet is set, in millimetres and points: what is to be read from a
// step away is 11 points or more (common practice, no source).
const (
	dayMargin = 14.0
	dayBox    = 5.0 // side of what is ticked
	dayGap    = 3.0
)

var (
	dayTitle = Type{Size: 17, Min: 12, Bold: true}
	daySays  = Type{Size: 9, Grey: 60}
	dayHead  = Type{Size: 12, Bold: true}
	dayName  = Type{Size: 14, Min: 11, Bold: true}
	dayLine  = Type{Size: 11}
	dayNeed  = Type{Size: 13, Bold: true}
	dayWhy   = Type{Size: 8, Grey: 60}
	dayFoot  = Type{Size: 9}
)

// Day sets a day's sheet: a dish is never parted by the end of a page. Of
// a long text five lines are kept.
func Day(size Size, made time.Time, list DayList, fonts ...[]byte) (*Sheet, error) {
	s, err := New(size, list.Title, made, fonts...)
	if err != nil {
		return nil, err
	}
	d := daySetter{Sheet: s, list: list}
	d.page()
	if list.Says != "" {
		d.y += d.text(dayMargin, d.wide(), list.Says, daySays) + dayGap
	}
	for _, g := range list.Groups {
		if len(g.Dishes) == 0 {
			continue
		}
		first := d.dishTall(g.Dishes[0])
		d.room(d.tall(g.Head, d.wide(), dayHead) + dayGap + first)
		d.y += dayGap
		d.y += d.text(dayMargin, d.wide(), g.Head, dayHead) + 1
		for _, dish := range g.Dishes {
			d.room(d.dishTall(dish))
			d.dish(dish)
		}
	}
	for _, says := range list.Foot {
		d.room(d.tall(says, d.wide(), dayFoot) + 1)
		d.y += d.text(dayMargin, d.wide(), says, dayFoot) + 1
	}
	return s, nil
}

// daySetter goes down the pages.
type daySetter struct {
	*Sheet
	list DayList
	y    float64
	n    int // of the page
}

func (d *daySetter) wide() float64   { return d.Size.Width - 2*dayMargin }
func (d *daySetter) bottom() float64 { return d.Size.Height - dayMargin - 5 }

// half is the width of what stands left of the needs.
func (d *daySetter) half() float64 { return 0.56 * d.wide() }

// page begins a page with its title and number.
func (d *daySetter) page() {
	d.Page()
	d.n++
	d.y = dayMargin
	title := dayTitle
	if d.n > 1 {
		title.Size = 12
	}
	d.y += d.Block(dayMargin, d.y, d.wide(), 2*title.Size*points*leading, d.list.Title, title) + 1
	d.Line(dayMargin, d.y, d.Size.Width-dayMargin, d.y, 0.6, 0)
	d.y += dayGap
	d.Block(dayMargin, d.bottom()+2, d.wide(), 5, fmt.Sprintf("page %d", d.n), Type{Size: 8, Grey: 60, Turn: End})
}

// room begins a new page where so much doesn't fit on this one.
func (d *daySetter) room(h float64) {
	if d.y+h > d.bottom() && d.y > dayMargin+20 {
		d.page()
	}
}

// tall is how high a text stands in its largest type.
func (d *daySetter) tall(text string, w float64, t Type) float64 {
	text = d.printable(text)
	if text == "" {
		return 0
	}
	lines, _ := d.wrap(text, w, t)
	return float64(len(lines)) * t.Size * points * leading
}

// text sets a text whole, and returns how high it stands.
func (d *daySetter) text(x, w float64, text string, t Type) float64 {
	return d.Block(x, d.y, w, d.tall(text, w, t)+0.01, text, t)
}

// few is how high a text of a dish stands: of a long one, five lines and "…".
func (d *daySetter) few(text string, t Type) float64 {
	return min(d.tall(text, d.half(), t), 5*t.Size*points*leading)
}

func (d *daySetter) dishTall(dish DayDish) float64 {
	left := d.few(dish.Name, dayName) + 1
	for _, says := range dish.Says {
		left += d.few(says, dayLine)
	}
	right := 0.0
	for _, n := range dish.Needs {
		right += d.needTall(n)
	}
	return max(left, right) + 2*dayGap
}

func (d *daySetter) needWide() float64 { return d.wide() - d.half() - dayGap - dayBox - 2 }

func (d *daySetter) needTall(n DayNeed) float64 {
	return max(dayBox, d.tall(n.Name, d.needWide(), dayNeed)+min(d.tall(n.Why, d.needWide(), dayWhy), 3*dayWhy.Size*points*leading)) + 1.5
}

// dish sets what a dish is on the left, and what is to be ticked on the right.
func (d *daySetter) dish(dish DayDish) {
	h := d.dishTall(dish)
	d.Line(dayMargin, d.y, d.Size.Width-dayMargin, d.y, 0.2, 150)
	top := d.y + dayGap/2
	y := top + d.Block(dayMargin, top, d.half(), d.few(dish.Name, dayName)+0.01, dish.Name, dayName) + 1
	for _, says := range dish.Says {
		y += d.Block(dayMargin, y, d.half(), d.few(says, dayLine)+0.01, says, dayLine)
	}
	y = top
	x := dayMargin + d.half() + dayGap
	for _, n := range dish.Needs {
		d.Frame(x, y+0.5, dayBox, dayBox, 0.5)
		at := y
		at += d.Block(x+dayBox+2, at, d.needWide(), d.tall(n.Name, d.needWide(), dayNeed)+0.01, n.Name, dayNeed)
		if n.Why != "" {
			d.Block(x+dayBox+2, at, d.needWide(), 3*dayWhy.Size*points*leading+0.01, n.Why, dayWhy)
		}
		y += d.needTall(n)
	}
	d.y = top - dayGap/2 + h
}
