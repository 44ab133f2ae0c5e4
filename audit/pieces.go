package audit

import (
	"maps"
	"slices"

	"coverplate/audit/crop"
)

// pieces is how a frame may be cut, as far as it was asked.
type pieces struct {
	halves *halves
	laid   map[lying]crop.Placed
	rooms  map[roomFor]crop.Room
}

// lying is how a frame is laid into a printed place.
type lying struct {
	box  crop.Box
	own  crop.Rect // a person's, where mine
	mine bool
}

// roomFor is an edge of a printed part of a frame.
type roomFor struct {
	rect crop.Rect
	edge crop.Side
}

// piece is what is known so far of how a frame may be cut. It may be added to.
func (d *sheet) piece(at int) *pieces {
	v := d.version(at)
	if p := d.memory.pieces[v]; p != nil {
		return p
	}
	p := &pieces{laid: map[lying]crop.Placed{}, rooms: map[roomFor]crop.Room{}}
	if d.Before != nil {
		if was := d.Before.pieces[v]; was != nil {
			p.laid, p.rooms = maps.Clone(was.laid), maps.Clone(was.rooms)
			if slices.Equal(d.Before.shapes, d.Rules.Shapes) {
				p.halves = was.halves
			}
		}
	}
	d.memory.pieces[v] = p
	return p
}

// lies is how a frame lies in a printed place.
func (d *sheet) lies(frame int, in lying) crop.Placed {
	p := d.piece(frame)
	at, ok := p.laid[in]
	if !ok {
		if in.mine {
			at = crop.PlaceAt(SceneOf(d.whole(frame)[0].Look), in.own, in.box)
		} else {
			at = d.gauge(frame).Place(in.box)
		}
		p.laid[in] = at
	}
	return at
}

// room is the room for text at an edge of a printed part of a frame.
func (d *sheet) room(frame int, rect crop.Rect, edge crop.Side) crop.Room {
	p := d.piece(frame)
	r, ok := p.rooms[roomFor{rect, edge}]
	if !ok {
		r = d.gauge(frame).Room(rect, edge)
		p.rooms[roomFor{rect, edge}] = r
	}
	return r
}

// halves are the halves of a frame in short.
type halves struct {
	best    crop.Standing // of those that stand alone; without Shape none does
	nearest crop.Standing // of all; without Shape there is none
	works   []string      // shapes for which one stands alone
}

// halvesOf judges the halves of a frame for the shapes of posts.
func (d *sheet) halvesOf(frame int) *halves {
	p := d.piece(frame)
	if p.halves != nil {
		return p.halves
	}
	h := &halves{}
	for _, s := range d.gauge(frame).Stand(d.Rules.Shapes) {
		if h.nearest.Shape == "" || better(s, h.nearest) {
			h.nearest = s
		}
		if s.Works != crop.Yes {
			continue
		}
		if h.best.Shape == "" || better(s, h.best) {
			h.best = s
		}
		if len(h.works) == 0 || h.works[len(h.works)-1] != s.Shape {
			h.works = append(h.works, s.Shape)
		}
	}
	p.halves = h
	return h
}

// mostGauges is how many gauges are kept: each is a megabyte.
const mostGauges = 8

// gauge is the gauge of a frame. Those of one recipe are kept until the next
// one's are wanted, unless they are many: a half and a hero are cut out of the
// same frames. It holds until the next is asked for.
func (d *sheet) gauge(frame int) *crop.Gauge {
	g, ok := d.gauges[frame]
	if !ok {
		if len(d.gauges) >= mostGauges {
			d.letGo()
		}
		g = crop.Of(SceneOf(d.whole(frame)[0].Look))
		d.gauges[frame] = g
	}
	return g
}

// letGo gives up the gauges of a recipe.
func (d *sheet) letGo() {
	for _, g := range d.gauges {
		g.Free()
	}
	clear(d.gauges)
}
