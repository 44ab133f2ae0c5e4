// Package angle judges from where the camera looked: how many degrees above
// the table, how sure that is, and why, in words. It reads what was measured
// of a frame and measures nothing itself.
//
// The costly mistake is to call a frame an overhead when it is none: the dish
// is struck and the overhead does not exist. So a frame is overhead only where
// the chance of it passes a stated mark, and what is not known is unknown.
package angle

import (
	"math"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// Source is what an elevation rests on.
type Source string

// Sources, the surest first.
const (
	Sensor Source = "sensor" // the camera's or phone's own level
	Rims   Source = "rims"   // round rims of plates, bowls, pans
	Edges  Source = "edges"  // straight edges of tables, boards and trays
	Focus  Source = "focus"  // how focus falls off across the frame
	Set    Source = "set"    // the same rims in other frames of the set
	Lens   Source = "lens"   // what lens and aperture are used for: weak
)

// Reading is what is known of a frame's angle.
type Reading struct {
	Class      plan.Angle // plan.UnknownAngle where the elevation is not sure enough to name it
	Known      bool       // whether Elevation holds anything; it may without a Class
	Elevation  float64    // degrees of the optical axis above the table, −90 … 90: 90 looks straight down
	PlusMinus  float64    // degrees: two times out of three the truth is nearer than that
	Confidence float64    // 0 … 1, the chance that Class is right; where it is unknown, of the likeliest
	Overhead   float64    // 0 … 1, the chance that the elevation is 75° or more
	Why        string     // the reason, in words, always given
	Sources    []Source   // what it rests on, the surest first
	Rims       []Seen     // the vessels that were weighed, the surest first
	Tall       float64    // height of the picture in shares of its width, as Rims count; 0 not known
}

// Seen is a vessel's rim and what it says by itself.
type Seen struct {
	Rim       catalogue.Rim
	Elevation float64 // degrees above the table
	Agrees    bool    // whether the reading's elevation is its own, within its error
}

// Of reads one frame alone, by DefaultWeights.
func Of(f catalogue.Frame) Reading { return DefaultWeights().Of(f) }

// OfSet reads the frames of one set together, by DefaultWeights: those in
// which the same rims stand in the same places were taken from one spot, and
// strengthen each other. The readings are in the order of the frames; a frame
// that resembles no other is read as by Of.
func OfSet(frames []catalogue.Frame) []Reading { return DefaultWeights().OfSet(frames) }

// Of is the package's Of by these weights.
func (w Weights) Of(f catalogue.Frame) Reading {
	return w.OfSet([]catalogue.Frame{f})[0]
}

// OfSet is the package's OfSet by these weights.
func (w Weights) OfSet(frames []catalogue.Frame) []Reading {
	seen := make([]sight, len(frames))
	for i, f := range frames {
		seen[i] = w.sightOf(f)
	}
	out := make([]Reading, len(frames))
	for i := range frames {
		var alike []int
		for j := range frames {
			if i != j && sameSpot(&seen[i], &seen[j]) {
				alike = append(alike, j)
			}
		}
		out[i] = w.read(seen, i, alike)
	}
	return out
}

// sensorError is how far a level sensor errs, degrees of one standard
// deviation. Phones and bodies show whole degrees; from memory.
const sensorError = 1.0

// read judges frame i with the help of the frames alike.
func (w Weights) read(seen []sight, i int, alike []int) Reading {
	s := &seen[i]
	if s.sensor != nil {
		says := "the camera's level says %s"
		if s.frame.Exposure.ElevationFrom == catalogue.ByGravity {
			says = "the phone felt gravity at %s"
		}
		return bySensor(*s.sensor, says, Sensor)
	}
	for _, j := range alike {
		if e := seen[j].sensor; e != nil {
			return bySensor(*e, "the level says %s in a frame of the set whose rims stand in the same places", Set)
		}
	}
	// Only the rims of the others count: they were traced anew in each frame,
	// whereas the edges of one table and the focus of one lens are one witness.
	b := s.believed()
	one := *s // with the rims that believed left in it
	for _, j := range alike {
		seen[j].believed()
		share := 1 / float64(len(alike))
		b.join(seen[j].rims, share)
		one.rims.join(seen[j].rims, share)
	}
	return w.name(one, b, len(alike))
}

// bySensor is the reading of an elevation that a level measured.
func bySensor(e float64, says string, from Source) Reading {
	r := Reading{Known: true, Elevation: e, PlusMinus: sensorError, Class: plan.AngleOf(e), Sources: []Source{from}}
	low, high := math.Inf(-1), math.Inf(1)
	for _, edge := range []float64{25, 50, 75} {
		if e >= edge {
			low = edge
		} else {
			high = min(high, edge)
		}
	}
	r.Confidence = below(high, e, sensorError) - below(low, e, sensorError)
	r.Overhead = 1 - below(75, e, sensorError)
	r.Why = sprintf(says, degrees(e))
	return r
}

// below is the chance that a normal variable of the given mean and deviation
// is below x.
func below(x, mean, deviation float64) float64 {
	return 0.5 * math.Erfc((mean-x)/(deviation*math.Sqrt2))
}
