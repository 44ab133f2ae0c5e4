package slate

import (
	"math"
	"slices"
	"sync"
)

// A code is sought at these sizes of the picture: the marks of one that fills it
// are too large for the windows of a threshold at its full size.
const halvings = 3

// glanceSharp is how much the smaller sizes are sharpened for the pre-check, in
// which codes of a blur of half a module are seen: in the full size that would
// cost too much.
const glanceSharp = 4

// pass is one search for marks.
type pass struct {
	way
	sharpen int  // how strongly what a blur took off is added, 2 or 4; 0 not at all
	strict  bool // only what is a mark without doubt
}

// passes: the first is the pre-check, the others are made where it saw a mark.
var passes = [...]pass{
	{way: way{reach: 2}, strict: true},
	{way: way{reach: 2}},
	{way: way{reach: 5}},
	{way: way{reach: 2, middle: true}},
	{way: way{reach: 2}, sharpen: 2},
	{way: way{reach: 2, middle: true}, sharpen: 4},
	{way: way{reach: 0, middle: true}},
	{way: way{reach: 9}},
}

// leastSide is the least side of a picture that is looked at, pixels.
const leastSide = 40

// Read returns the texts of the QR codes in a picture, in no order that means
// anything; nil where none was seen. Codes are read turned any way, but not
// mirrored. It ends in bounded time whatever the picture is: where no corner
// mark is seen, as in nearly every frame, after one look at each size.
func Read(p Picture) []string {
	if p.Width < leastSide || p.Height < leastSide || len(p.Pix) < p.Width*p.Height {
		return nil
	}
	from := lent.Get().(*room)
	defer lent.Put(from)
	r := reading{levels: []Picture{p}, room: from}
	for i := 1; i < halvings; i++ {
		last := r.levels[i-1]
		if min(last.Width, last.Height) < 2*leastSide {
			break
		}
		from.levels[i] = last.halved(from.levels[i]).Pix
		r.levels = append(r.levels, Picture{Width: last.Width / 2, Height: last.Height / 2, Pix: from.levels[i]})
	}
	for i := range r.levels {
		r.glance(i, 0)
	}
	for i := 1; i < len(r.levels) && len(r.marks)+len(r.texts) == 0; i++ {
		r.glance(i, glanceSharp)
	}
	if len(r.marks) == 0 {
		return r.texts
	}
	for _, w := range passes[1:] {
		for i := range r.levels {
			if len(r.texts) > 0 {
				return r.texts
			}
			r.look(i, w)
		}
	}
	if text := r.readPairs(); text != "" && len(r.texts) == 0 {
		return []string{text}
	}
	return r.texts
}

// room is what a look takes of memory, lent from one picture to the next.
type room struct {
	levels, sharp, blocks, cuts [halvings][]uint8
}

var lent = sync.Pool{New: func() any { return new(room) }}

// reading is the search of one picture.
type reading struct {
	levels []Picture
	room   *room
	marks  []sighting // all seen so far that are of no code that was read
	texts  []string
	tried  []triple // those that were laid over the picture and looked like codes

	restores int // grids from which a blurred code was sought to be restored
}

// A code that can't be read would else be tried in every pass: how often its
// three marks are looked at closely, and how often any are in one picture.
const (
	triesEach = 3
	triesAll  = 16

	triesRestored = 8  // costs some ten times a try
	mostRestored  = 37 // modules on a side: no code of ours has more
)

// worth tells whether a triple may be tried, and notes that it is.
func (r *reading) worth(t triple) bool {
	near := func(a, b sighting) bool { return math.Hypot(a.x-b.x, a.y-b.y) < a.unit }
	again := 0
	for _, o := range r.tried {
		if near(t.corner, o.corner) && near(t.right, o.right) && near(t.below, o.below) {
			again++
		}
	}
	if again >= triesEach || len(r.tried) >= triesAll {
		return false
	}
	r.tried = append(r.tried, t)
	return true
}

// glance is the pre-check of one level: every other row. It is made again of the
// picture sharpened, under the same threshold.
func (r *reading) glance(level, sharpen int) {
	const step = 2
	p, t := r.levels[level], threshold{}
	if sharpen == 0 {
		b := blocksOf(p, step, r.room.blocks[level])
		t = b.threshold(passes[0].way, r.room.cuts[level])
		r.room.blocks[level], r.room.cuts[level] = b.room, t.cut
	} else {
		t = threshold{cols: (p.Width + blockSide - 1) / blockSide, cut: r.room.cuts[level]}
		p = p.sharpened(sharpen, r.room.sharp[level])
		r.room.sharp[level] = p.Pix
	}
	r.seek(level, &seeker{p: p, t: t, strict: passes[0].strict}, step)
}

// look seeks marks in one level in one way.
func (r *reading) look(level int, w pass) {
	p := r.levels[level]
	if w.sharpen > 0 {
		p = p.sharpened(w.sharpen, nil)
	}
	b := blocksOf(p, 1, nil)
	r.seek(level, &seeker{p: p, t: b.threshold(w.way, nil), strict: w.strict}, 1)
}

// seek has marks sought in one level, and reads the codes that they and those
// seen before may be of.
func (r *reading) seek(level int, s *seeker, step int) {
	s.seek(step)
	fresh := len(r.marks)
	for _, m := range s.marks {
		r.keep(s, m, float64(int(1)<<level))
	}
	if len(r.marks) < 3 || len(r.marks) == fresh {
		return
	}
	var used []mark
	for _, t := range triples(r.marks, fresh) {
		of := []mark{t.corner.mark, t.right.mark, t.below.mark}
		if slices.ContainsFunc(of, func(m mark) bool { return slices.Contains(used, m) }) {
			continue
		}
		if text := r.read(t); text != "" {
			used = append(used, of...)
			if !slices.Contains(r.texts, text) {
				r.texts = append(r.texts, text)
			}
		}
	}
	r.marks = slices.DeleteFunc(r.marks, func(m sighting) bool { return slices.Contains(used, m.mark) })
}

// keep adds a mark, also where it was seen before: every pass measures it anew.
func (r *reading) keep(s *seeker, m mark, scale float64) {
	if len(r.marks) >= maxMarks {
		return
	}
	all := mark{x: scale * m.x, y: scale * m.y, unit: scale * m.unit, hits: m.hits}
	r.marks = append(r.marks, sighting{mark: all, by: s, own: m, scale: scale})
}

// read reads the code that three marks may be of; "" where they are of none.
func (r *reading) read(t triple) string {
	for _, size := range []int{t.size, t.size + 4, t.size - 4} {
		if size < leastSize || size > mostSize {
			continue
		}
		g := newGrid(r.levels, size, t.perspective(size))
		g.sample()
		g.part()
		if g.agreement() < 0.45 {
			continue
		}
		if !r.worth(t) {
			return ""
		}
		begun := g.to
		g.settle()
		if g.agreement() >= 0.7 {
			if text := g.read(); text != "" {
				return text
			}
		}
		// Blur draws settle astray: where the marks put the grid is tried as well.
		for _, to := range []perspective{begun, g.to} {
			if size > mostRestored || r.restores >= triesRestored {
				break
			}
			r.restores++
			g.to = to
			if text := g.restored(); text != "" {
				return text
			}
		}
	}
	return ""
}

// read turns the modules to bits and those to text.
func (g *grid) read() string {
	g.sample()
	cuts := g.cuts(g.value)
	for _, cut := range cuts {
		if text := g.text(func(i int) bool { return g.value[i] < cut[i] }); text != "" {
			return text
		}
	}
	for _, cut := range cuts {
		if text := g.doubtedText(func(i int) float64 { return cut[i] - g.value[i] }); text != "" {
			return text
		}
	}
	for _, cut := range cuts {
		if out, ok := g.equalise(g.value, cut); ok {
			if text := g.text(func(i int) bool { return out[i] > 0 }); text != "" {
				return text
			}
			if text := g.doubtedText(func(i int) float64 { return out[i] }); text != "" {
				return text
			}
		}
	}
	return ""
}

// clipped is the least code of a module that may be dark all the same: light
// beyond what the picture can hold lies over it, less what grain takes off.
const clipped = 235

// doubtedText is text where how dark a module is, more than 0 dark, tells also
// how sure that is. Of a module in the midst of clipped ones nothing is known, unless the
// paper is clipped everywhere: both are tried.
func (g *grid) doubtedText(dark func(i int) float64) string {
	if g.size > mostRestored {
		return ""
	}
	bits, sure := make([]bool, g.size*g.size), make([]float64, g.size*g.size)
	for y := range g.size {
		for x := range g.size {
			i, k := (y+1)*g.edge+x+1, y*g.size+x
			d := dark(i)
			bits[k], sure[k] = d > 0, math.Abs(d)
		}
	}
	blind := slices.Clone(sure)
	for k := range blind {
		if g.lost((k/g.size+1)*g.edge + k%g.size + 1) {
			blind[k] = 0
		}
	}
	if text := doubtedTextOf(bits, blind, g.size); text != "" {
		return text
	}
	return doubtedTextOf(bits, sure, g.size)
}

// lost tells whether a module and its four neighbours are all clipped.
func (g *grid) lost(i int) bool {
	for _, by := range [5]int{0, -1, 1, -g.edge, g.edge} {
		if g.value[i+by] < clipped {
			return false
		}
	}
	return true
}

// text is what the modules say of which dark tells by their place in the grid.
func (g *grid) text(dark func(i int) bool) string {
	bits := make([]bool, g.size*g.size)
	for y := range g.size {
		for x := range g.size {
			bits[y*g.size+x] = dark((y+1)*g.edge + x + 1)
		}
	}
	return textOf(bits, g.size)
}

// cuts are the ways in which dark may part from light: half way between the
// darkest and lightest round about; half way between the means of those that
// were dark and light then; one for the whole code.
func (g *grid) cuts(v []float64) [][]float64 {
	n := g.edge
	local := mean(half(window(v, n, 3, minimum), window(v, n, 3, maximum)), n, 2)
	levels := local
	for range 2 {
		levels = half(meanWhere(v, levels, n, 4, true), meanWhere(v, levels, n, 4, false))
	}
	var dark, light, darks, lights float64
	for i, k := range g.known {
		switch k {
		case 1:
			dark, darks = dark+v[i], darks+1
		case -1:
			light, lights = light+v[i], lights+1
		}
	}
	whole := make([]float64, len(v))
	for i := range whole {
		whole[i] = (dark/darks + light/lights) / 2
	}
	return [][]float64{local, levels, whole}
}

func minimum(a, b float64) float64 { return min(a, b) }
func maximum(a, b float64) float64 { return max(a, b) }

func half(a, b []float64) []float64 {
	out := make([]float64, len(a))
	for i := range a {
		out[i] = (a[i] + b[i]) / 2
	}
	return out
}

// meanWhere is the mean of those of (2r + 1)² values that are dark by cut, or of
// those that are not; where there is none, the value itself.
func meanWhere(v, cut []float64, n, r int, dark bool) []float64 {
	sum, count := make([]float64, len(v)), make([]float64, len(v))
	for i := range v {
		if (v[i] < cut[i]) == dark {
			sum[i], count[i] = v[i], 1
		}
	}
	sum, count = mean(sum, n, r), mean(count, n, r)
	for i := range sum {
		if count[i] > 0 {
			sum[i] /= count[i]
		} else {
			sum[i] = v[i]
		}
	}
	return sum
}
