package audit

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"math"

	"coverplate/audit/angle"
	"coverplate/ingest/catalogue"
)

// Memory is what a Run worked out of the maps of frames. The next Run, to which
// it is handed as Shoot.Before, asks for no maps of a set whose frames are the
// same and have not changed since, by id and catalogue.Frame.Revision, nor of a
// frame that was cut for the same place; the report is the same without it. It is
// never changed, and holds what its own Run needed alone.
type Memory struct {
	sets   map[setKey]*setMeasures
	pieces map[version]*pieces
	shapes []Shape           // by which halves were judged
	says   map[string]string // what is said of many frames, once
}

// version is a frame as it was stored at one time.
type version struct {
	id       catalogue.FrameID
	revision int64
}

// setKey stands for the frames of a set in their order, or for one that is in
// none.
type setKey struct {
	sum   [sha256.Size]byte
	alone bool
}

// setMeasures is what the maps of the frames of a set tell, a frame a place.
// Places in it count the set's frames from 0.
type setMeasures struct {
	views     []view
	scenes    int // how many there are
	sceneAt   []int
	gains     [][3]float64
	casts     []float64
	sharpness []float64
	besides   []beside
	rough     []float64 // of the border, see roughness
	steady    int
}

func (d *sheet) version(at int) version {
	return version{d.frames[at].ID, d.frames[at].Revision}
}

func (d *sheet) keyOf(frames []int, alone bool) setKey {
	h := sha256.New()
	var number [8]byte
	for _, i := range frames {
		v := d.version(i)
		h.Write([]byte(v.id))
		binary.LittleEndian.PutUint64(number[:], uint64(v.revision))
		h.Write(number[:])
	}
	k := setKey{alone: alone}
	h.Sum(k.sum[:0])
	return k
}

// whole are frames with their maps, as they lie in d. Where maps can't be had
// the report has a fault and frames are as if nothing was measured.
func (d *sheet) whole(at ...int) []catalogue.Frame {
	out := make([]catalogue.Frame, len(at))
	ids := make([]catalogue.FrameID, len(at))
	for k, i := range at {
		out[k], ids[k] = d.frames[i], d.frames[i].ID
	}
	if d.Maps == nil || d.fault != nil {
		return out
	}
	got, err := d.Maps(ids)
	if err == nil && len(got) != len(ids) {
		err = fmt.Errorf("maps of %d frames, asked for %d", len(got), len(ids))
	}
	if err != nil {
		d.fault = err
		return out
	}
	for k := range out {
		out[k].Look = out[k].Look.With(got[k])
	}
	return out
}

// mapsAtOnce is about how many frames' maps are in memory together.
const mapsAtOnce = 64

// group is a set, or a frame that is in none.
type group struct {
	key    setKey
	frames []int
	of     *set // nil: none
}

// measure finds from where the frames were seen, which of a set show one
// picture, and how they stand beside each other.
func (d *sheet) measure() {
	n := len(d.frames)
	d.views, d.besides, d.rough = make([]view, n), make([]beside, n), make([]float64, n)
	d.sceneAt, d.gains = make([]int, n), make([][3]float64, n)
	d.casts, d.sharpness = make([]float64, n), make([]float64, n)
	groups := make([]group, 0, len(d.sets))
	for i := range d.sets {
		groups = append(groups, group{d.keyOf(d.sets[i].frames, false), d.sets[i].frames, &d.sets[i]})
	}
	for i := range d.frames {
		d.besides[i] = beside{sharpest: i, alike: i, ofBest: 1, ofAlike: 1}
		d.sceneAt[i], d.sharpness[i], d.rough[i] = -1, -1, math.NaN()
		if d.setAt[i] < 0 {
			groups = append(groups, group{d.keyOf([]int{i}, true), []int{i}, nil})
		}
	}
	scenes := 0
	var ask []group
	var frames []int // of ask
	for k, g := range groups {
		if m := d.Before.set(g.key); m != nil {
			scenes = d.take(g, m, scenes)
		} else {
			ask, frames = append(ask, g), append(frames, g.frames...)
		}
		if len(frames) == 0 || len(frames) < mapsAtOnce && k < len(groups)-1 {
			continue
		}
		whole := d.whole(frames...)
		for _, g := range ask {
			scenes = d.take(g, measured(whole[:len(g.frames)], g.of != nil), scenes)
			whole = whole[len(g.frames):]
		}
		ask, frames = nil, nil
	}
}

// take lays what was measured of a group into d, and keeps it. scenes is how
// many scenes there are, before and after.
func (d *sheet) take(g group, m *setMeasures, scenes int) int {
	d.memory.sets[g.key] = m
	for k, i := range g.frames {
		d.views[i], d.rough[i] = m.views[k], m.rough[k]
		if g.of == nil {
			continue
		}
		d.gains[i], d.casts[i], d.sharpness[i], d.sceneAt[i] = m.gains[k], m.casts[k], m.sharpness[k], scenes+m.sceneAt[k]
		b := m.besides[k]
		b.sharpest, b.alike = g.frames[b.sharpest], g.frames[b.alike]
		d.besides[i] = b
	}
	if g.of != nil {
		g.of.steady = m.steady
	}
	return scenes + m.scenes
}

// once has equal texts of this report, and of the one before, be one in memory.
func (d *sheet) once(all ...[]string) {
	for _, texts := range all {
		for i, s := range texts {
			texts[i] = d.one(s)
		}
	}
}

func (d *sheet) one(s string) string {
	if t, ok := d.memory.says[s]; ok {
		return t
	}
	if d.Before != nil {
		if t, ok := d.Before.says[s]; ok {
			s = t
		}
	}
	d.memory.says[s] = s
	return s
}

// set is what is remembered of a set; nil nothing.
func (m *Memory) set(key setKey) *setMeasures {
	if m == nil {
		return nil
	}
	return m.sets[key]
}

// measured measures frames with their maps, in capture order: of a set beside
// each other, else only from where they were seen and how rough they are.
func measured(frames []catalogue.Frame, inSet bool) *setMeasures {
	n := len(frames)
	d := sheet{frames: frames, views: make([]view, n), sceneAt: make([]int, n), gains: make([][3]float64, n),
		casts: make([]float64, n), sharpness: make([]float64, n), besides: make([]beside, n)}
	m := &setMeasures{views: d.views, rough: make([]float64, n)}
	s := set{frames: make([]int, n)}
	for i, r := range angle.OfSet(frames) {
		s.frames[i], d.views[i], d.sharpness[i], m.rough[i] = i, view{r}, -1, roughness(frames[i].Look.Focus)
	}
	if !inSet {
		return m
	}
	d.measureSet(&s)
	m.scenes, m.sceneAt, m.gains, m.casts = len(d.scenes), d.sceneAt, d.gains, d.casts
	m.sharpness, m.besides, m.steady = d.sharpness, d.besides, s.steady
	return m
}
