package crop

import "fmt"

// Room is what lies where text is to be set on a printed picture.
type Room struct {
	Edge    Side    // Left, Right, Top or Bottom
	Matters float64 // share of what matters in the picture that lies there, 0 … 1; −1 not known
	Busy    float64 // weight there against the mean of what is printed; 0 where nothing weighs
}

// The marks of room for text. All are choices of this project, no source: a
// heading and a few lines take a quarter of the picture's depth.
const (
	textDepth = 0.25
	textYes   = 0.02 // share of what matters that may reach in
	textNo    = 0.08 // from here on there is no room
	textBusy  = 0.5  // weight against the mean; what stands out of a cloth's weave makes text hard to read
)

// Room measures the strip along one edge of the part r of the picture.
func (g *Gauge) Room(r Rect, edge Side) Room {
	out := Room{Edge: edge, Matters: -1}
	if !g.known || g.parts == 0 || r.Width <= 0 || r.Height <= 0 {
		return out
	}
	at := g.spanOf(r)
	strip := at
	switch w, h := textDepth*(at.x1-at.x0), textDepth*(at.y1-at.y0); edge {
	case Left:
		strip.x1 = at.x0 + w
	case Right:
		strip.x0 = at.x1 - w
	case Top:
		strip.y1 = at.y0 + h
	default:
		strip.y0 = at.y1 - h
	}
	there, all := g.of(strip), g.of(at)
	out.Matters = there[dishes] / g.all[dishes]
	if all[allWeight] > 0 {
		out.Busy = there[allWeight] / textDepth / all[allWeight]
	}
	return out
}

// Works says whether text may stand there.
func (r Room) Works() Works {
	switch {
	case r.Matters < 0:
		return Look
	case r.Matters >= textNo:
		return No
	case r.Matters <= textYes && r.Busy <= textBusy:
		return Yes
	}
	return Look
}

// Says puts it in words.
func (r Room) Says() string {
	at := fmt.Sprintf("the %s", r.Edge)
	switch {
	case r.Matters < 0:
		return "whether there is room for text at " + at
	case r.Matters > textYes:
		return fmt.Sprintf("%s of what matters lies at %s, where text is to stand", percent(r.Matters), at)
	case r.Busy > textBusy:
		return fmt.Sprintf("%s is empty but not calm: text may be hard to read there", at)
	}
	return fmt.Sprintf("room for text at %s", at)
}
