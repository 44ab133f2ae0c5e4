package crop

import (
	"fmt"
	"slices"
)

// Rank orders the answers: 0 no, 1 look, 2 yes.
func (w Works) Rank() int { return slices.Index([]Works{No, Look, Yes}, w) }

// better prefers what works, then the better score, then the larger and more
// central crop, which is tried first.
func better(a, b Standing) bool {
	if a.Works != b.Works {
		return a.Works.Rank() > b.Works.Rank()
	}
	return a.Score > b.Score+0.02
}

// measured is what a rectangle measures, before words.
type measured struct {
	inside  float64 // share of the dish that is inside; the dish is the region of which most weight is
	whole   float64 // share of the picture's regions' weight that is dishes whole in the crop
	cut     float64 // share of what matters in the crop that belongs to dishes that its edges cut
	stray   float64 // the largest share of another dish that reaches in without being whole
	fills   float64 // share of the crop that regions fill
	edge    float64 // weight along the crop's edge against the mean of what matters in it
	room    float64 // least room about the dish, share of the crop's shorter side
	tight   bool    // the dish loses something by a hair less of the crop on every side
	runs    bool    // the dish runs out of the picture itself, so that none of it is whole
	sharp   float64 // against the picture's sharpest dish; −1 unknown
	texture float64 // share of the picture that its largest region covers
	hasty   bool    // the dish is cut so far that no more was measured
}

// spanOf is a rectangle in shares of the picture.
func (g *Gauge) spanOf(r Rect) span {
	w, h := float64(g.Width), float64(g.Height)
	return span{float64(r.X) / w, float64(r.Y) / h, float64(r.X+r.Width) / w, float64(r.Y+r.Height) / h}
}

// measure takes the measures of a rectangle: all of them where it must be put
// in words, else as many as decide.
func (g *Gauge) measure(r Rect, all bool) measured {
	s := g.spanOf(r)
	f := g.of(s)
	m := measured{sharp: -1, texture: g.texture}
	if f[dishes] < 1e-6 { // no more than the rounding of sums
		return m
	}
	dish := 0
	var cut float64
	for i := range g.parts {
		in := f[firstPart+i]
		cut += min(in, g.all[firstPart+i]-in)
		if in > f[firstPart+dish] {
			dish = i
		}
	}
	most := f[firstPart+dish]
	m.inside, m.runs, m.cut = most/g.all[firstPart+dish], g.runs[dish], cut/f[dishes]
	if m.hasty = !all && m.inside < 1-cutNo && m.texture < textureFrom; m.hasty {
		m.fills = f[area]
		return m
	}
	for i := range g.parts {
		switch in := f[firstPart+i]; {
		case in >= wholeFrom*g.all[firstPart+i]:
			if !g.runs[i] {
				m.whole += g.all[firstPart+i] / g.all[dishes]
			}
		case i != dish:
			m.stray = max(m.stray, in/most)
		}
	}
	m.fills = f[area] / ((s.x1 - s.x0) * (s.y1 - s.y0) * float64(g.Columns*g.Rows))

	// A band along the edges that the crop makes anew; where it ends at the
	// picture's own edge nothing is cut that was not cut already.
	const band = 0.03
	shrunk := func(by float64) (inner span) {
		inner = s
		bx, by := by*(s.x1-s.x0), by*(s.y1-s.y0)
		if r.X > 0 {
			inner.x0 += bx
		}
		if r.X+r.Width < g.Width {
			inner.x1 -= bx
		}
		if r.Y > 0 {
			inner.y0 += by
		}
		if r.Y+r.Height < g.Height {
			inner.y1 -= by
		}
		return inner
	}
	inner := shrunk(band)
	if full, core := (s.x1-s.x0)*(s.y1-s.y0), (inner.x1-inner.x0)*(inner.y1-inner.y0); full > core {
		along := (f[allWeight] - g.one(allWeight, inner)) / ((full - core) * float64(g.Columns*g.Rows))
		m.edge = along / (f[dishes] / f[area])
	}
	m.tight = g.one(firstPart+dish, shrunk(roomYes)) < most-loses*g.all[firstPart+dish]

	b := g.spans[dish]
	w, h := float64(g.Width), float64(g.Height)
	m.room = min((b.x0-s.x0)*w, (s.x1-b.x1)*w, (b.y0-s.y0)*h, (s.y1-b.y1)*h) / float64(min(r.Width, r.Height))
	if g.peak > 0 {
		m.sharp = f[sharpness] / f[dishes] / g.peak
	}
	return m
}

// works gives the answer. A crop works only where every part says so; it is
// refused where one is plainly wrong.
func (m measured) works() Works {
	switch {
	case m.inside <= 0 || m.fills <= 0:
		return No
	case m.texture >= textureFrom:
		return Look
	case m.inside < 1-cutNo || m.cut > cutNo || m.sharp >= 0 && m.sharp < sharpNo:
		return No
	case !m.runs && m.inside >= wholeFrom && m.cut <= cutYes && m.stray <= strayTo && m.whole >= dishFrom &&
		m.fills >= fillsFrom && m.fills <= fillsTo && m.edge <= edgeYes && !m.tight && m.sharp >= sharpYes:
		return Yes
	}
	return Look
}

// score is the least of the parts.
func (m measured) score() float64 {
	return max(0, min(grade(m.inside, 1-cutNo, 1), grade(m.cut, cutNo, 0), grade(m.edge, 2*edgeYes, 0), 0.5+0.5*grade(m.room, 0, 0.08), 0.4+0.6*grade(m.fills, fillsFrom, 0.25), 0.3+0.7*max(0, m.sharp)))
}

// grade maps x to 0 … 1 between the worst and the best value.
func grade(x, worst, best float64) float64 {
	return min(1, max(0, (x-worst)/(best-worst)))
}

// say puts the measures in words.
func (m measured) say() []Part {
	if m.inside <= 0 || m.fills <= 0 {
		return []Part{{"whole", 0, "nothing that matters is in it"}}
	}
	if m.texture >= textureFrom {
		return []Part{{"whole", 0.5, fmt.Sprintf("the dish fills the picture (%s): look whether its texture makes a post", percent(m.texture))}}
	}
	parts := []Part{{"whole", grade(m.inside, 1-cutNo, 1), "the dish is whole"}}
	if m.inside < wholeFrom {
		parts[0].Says = "the dish is cut, " + percent(m.inside) + " of it inside"
	} else if m.runs {
		parts[0].Says = "the picture itself cuts the dish"
	} else if m.whole < dishFrom {
		parts[0].Says = fmt.Sprintf("what is whole in it is a small part of what matters (%s)", percent(m.whole))
	}
	if m.stray > strayTo || m.cut > cutYes && m.inside >= wholeFrom {
		parts = append(parts, Part{"cut", grade(m.cut, cutNo, 0), "something else that matters is cut (" + percent(m.cut) + ")"})
	}
	switch {
	case m.sharp < 0:
		parts = append(parts, Part{"sharp", 0, "its focus is not measured"})
	case m.sharp < sharpYes:
		parts = append(parts, Part{"sharp", m.sharp, "softer than the rest of the picture (" + percent(m.sharp) + ")"})
	default:
		parts = append(parts, Part{"sharp", min(1, m.sharp), "sharp"})
	}
	if m.edge > edgeYes {
		parts = append(parts, Part{"edges", grade(m.edge, 2*edgeYes, 0), "its edges are busy"})
	} else {
		parts = append(parts, Part{"edges", grade(m.edge, 2*edgeYes, 0), "calm edges"})
	}
	switch {
	case m.inside < wholeFrom || m.runs:
	case m.tight:
		parts = append(parts, Part{"room", grade(m.room, 0, 0.08), "the dish all but touches an edge"})
	case m.fills > fillsTo:
		parts = append(parts, Part{"room", 0.5, "no room about the dish"})
	case m.fills < fillsFrom:
		parts = append(parts, Part{"room", 0.4, "the dish is small in it"})
	default:
		parts = append(parts, Part{"room", grade(m.room, 0, 0.08), "room about it"})
	}
	return parts
}

func percent(x float64) string { return fmt.Sprintf("%.0f %%", 100*x) }
