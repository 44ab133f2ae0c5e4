package angle

import (
	"math"
	"slices"

	"coverplate/audit/plan"
	"coverplate/ingest/catalogue"
)

// Weights are the numbers that were learnt from photographs. DefaultWeights
// are the product's; an evaluation learns its own from the photographs that it
// doesn't measure.
type Weights struct {
	// A rim of score s is what it seems with a chance of
	// 1 / (1 + exp(−Intercept − Slope·s)).
	Intercept, Slope float64

	// How much straight edges and the fall of focus count, 0 … 1: the edges of one
	// table are not independent, nor is all that is soft far away.
	Lines, Focus float64

	Overhead float64 // the least chance of 75° or more at which a frame is called overhead
	Named    float64 // the least chance at which another class is named
}

// DefaultWeights returns the product's numbers.
func DefaultWeights() Weights {
	return Weights{Intercept: -2.73, Slope: 7.62, Lines: 0.4, Focus: 0.5, Overhead: 0.6, Named: 0.55}
}

// trust is the chance that a rim of the given score is what it seems.
func (w Weights) trust(score float64) float64 {
	return 1 / (1 + math.Exp(-w.Intercept-w.Slope*score))
}

// view is one rim turned to an elevation.
type view struct {
	rim       catalogue.Rim
	elevation float64 // degrees above the rim's plane
	side      float64 // 0 … 1: the share of its tilt that is sideways, a roll of the camera
	trust     float64 // 0 … 1, the chance that it shows the camera's elevation
	spread    float64 // standard deviation of the sine of the elevation
	empty     bool    // nothing is seen inside of the rim
}

// sight is what one frame holds that tells its angle.
type sight struct {
	frame  catalogue.Frame
	sensor *float64 // degrees above the table
	views  []view   // one a vessel, the surest first
	posed  bool     // elevations are of exact perspective, the focal length being known
	height float64  // of the upright picture, shares of its width
	kept   *belief  // what believed worked out

	rims, straight, even belief // what straight edges and the fall of focus tell
	lined, focused       bool   // whether they tell anything
}

// Spreads of the sine of the elevation, one standard deviation. An edge is
// found to a pixel or so in a rim of some 200, plates are not quite round nor
// rims quite flat: a hundredth. Where the focal length is not known,
// perspective adds what asin leaves out, more so between vessels that stand
// apart. No source; shared/ANGLE.md saw median errors of 1.1° with the focal
// length and 3.6° without.
const (
	spreadPosed   = 0.012
	spreadAsin    = 0.015
	spreadWitness = 0.030 // of a second vessel
)

// mostViews bounds the vessels that are weighed, leastWitness the score of a
// second one: below it curves are as often food, folds and shadows.
// sliver is the ratio below which two lines that run side by side may pass for
// a second vessel. No sources.
const (
	mostViews    = 5
	leastWitness = 0.35
	sliver       = 0.35
)

func (w Weights) sightOf(f catalogue.Frame) (s sight) {
	s.frame = f
	defer func() {
		if s.sensor != nil {
			return // a level needs no help
		}
		s.straight, s.lined = w.lines(s)
		s.even, s.focused = w.focusFall(&s)
	}()
	if e := f.Exposure.Elevation; e != nil && *e >= -180 && *e <= 180 {
		// Exif counts upwards, the table is below; beyond the upright the camera
		// hangs over and looks back.
		above := -*e
		if math.Abs(above) > 90 {
			above = math.Copysign(180, above) - above
		}
		s.sensor = &above
	}
	if f.Look.Width <= 0 || f.Look.Height <= 0 {
		return s
	}
	s.height = float64(f.Look.Height) / float64(f.Look.Width)
	s.posed = f.Exposure.Focal35 >= 8 && f.Exposure.Focal35 <= 1200 && !cut(f)
	var rims []catalogue.Rim
	for _, r := range f.Look.Rims {
		if r.A > 0 && r.B > 0 && r.B <= r.A && r.Score > 0 && r.Score <= 1 {
			rims = append(rims, r)
		}
	}
	slices.SortStableFunc(rims, func(a, b catalogue.Rim) int {
		switch {
		case a.Score > b.Score:
			return -1
		case a.Score < b.Score:
			return 1
		}
		return 0
	})
	for _, r := range rims {
		if len(s.views) > 0 && r.Score < leastWitness || len(s.views) == mostViews {
			break
		}
		if slices.ContainsFunc(s.views, func(v view) bool { return holds(v.rim, r) || holds(r, v.rim) }) {
			continue // the well, the fill or a shadow of a vessel that is seen already
		}
		v := w.viewOf(r, s)
		if len(s.views) > 0 {
			v.spread = max(v.spread, spreadWitness)
		}
		v.trust *= min(1, r.B/r.A/sliver) // the grain of a board is full of slivers
		if empty(r, f.Look.Focus, s.height) {
			v.trust, v.empty = v.trust*emptyTrust, true
		}
		s.views = append(s.views, v)
	}
	return s
}

// cut tells whether a part of the picture was cut off after it was taken, as far
// as can be told.
func cut(f catalogue.Frame) bool {
	return f.Exposure.Cut || !whole(f.Look.Width, f.Look.Height)
}

// whole tells whether a picture has a shape that cameras write, 4:3, 3:2, 16:9,
// 1:1 or 5:4. Any other was cut, so that neither its middle is the optical axis
// nor its width what the focal length tells.
func whole(width, height int) bool {
	shape := float64(max(width, height)) / float64(min(width, height))
	for _, s := range [...]float64{4.0 / 3, 3.0 / 2, 16.0 / 9, 1, 5.0 / 4} {
		if math.Abs(shape/s-1) <= 0.01 {
			return true
		}
	}
	return false
}

func (w Weights) viewOf(r catalogue.Rim, s sight) view {
	v := view{rim: r, elevation: math.Asin(r.B/r.A) * 180 / math.Pi, trust: w.trust(r.Score), spread: spreadAsin,
		side: math.Abs(math.Sin(r.Turn * math.Pi / 180))}
	if s.posed {
		if e, roll, ok := elevationOf(r, focalOf(s.frame.Exposure.Focal35, s.height), s.height); ok && e > 0 {
			v.elevation, v.spread, v.side = e, spreadPosed, math.Abs(math.Sin(roll*math.Pi/180))
		}
	}
	return v
}

// holds tells whether the centre of b lies inside a.
func holds(a, b catalogue.Rim) bool {
	sin, cos := math.Sincos(a.Turn * math.Pi / 180)
	dx, dy := b.X-a.X, b.Y-a.Y
	u, v := (dx*cos+dy*sin)/a.A, (dy*cos-dx*sin)/a.B
	return u*u+v*v <= 1
}

// steps divides 0 … 90° of elevation into half degrees.
const steps = 180

// belief is the logarithm of how likely each elevation is, by half degrees:
// member i stands for (i + ½)/2 degrees. It is not normalised.
type belief [steps]float64

func elevationAt(i int) float64 { return (float64(i) + 0.5) / 2 }

// levelRoll is how far a camera is held from level, degrees of one standard
// deviation: people look at the horizon, or hold the camera over the dish and
// miss the upright by some degrees any way. No source.
const levelRoll = 10.0

// belief weighs the vessels of one frame. Each is either what it seems, with
// the chance of its trust, or some other curve, which says nothing and is as
// often round or flat as a rim: so vessels that agree strengthen each other, one that
// stands alone against others is outvoted, and a tie stays open.
func (s *sight) belief() belief {
	var b belief
	for _, v := range s.views {
		sin := math.Sin(v.elevation * math.Pi / 180)
		var like [steps]float64
		sum := 0.0
		for i := range like {
			z := (sin - sines[i]) / v.spread
			if z*z < 100 { // e^−50 adds nothing to what is left of 1 − trust
				like[i] = math.Exp(-z * z / 2)
			}
			sum += like[i]
		}
		for i := range b {
			b[i] += math.Log(v.trust*like[i]*steps/sum + 1 - v.trust)
		}
	}
	s.rims = b
	for i := range b {
		b[i] += s.straight[i] + s.even[i]
	}
	return b
}

// believed is belief, worked out once: every frame of a set asks for those of
// all that are alike.
func (s *sight) believed() belief {
	if s.kept == nil {
		b := s.belief()
		s.kept = &b
	}
	return *s.kept
}

// sines are those of the elevations, worked out once for all frames.
var sines = func() (s [steps]float64) {
	for i := range s {
		s[i] = math.Sin(elevationAt(i) * math.Pi / 180)
	}
	return s
}()

// usage is how much sooner a lens and its aperture are used from straight above
// than not, in nats: overheads are stopped down, angles are taken wide open and
// with longer lenses. Common practice, no source, and kept so weak that it
// decides nothing alone: it moves an even chance by a twentieth. A phone has no
// aperture to choose.
func usage(e catalogue.Exposure) float64 {
	const nudge = 0.2
	switch {
	case e.FocalLength < 14: // a phone's or a pocket camera's
		return 0
	case e.FNumber >= 7.1:
		return nudge
	case e.FNumber > 0 && e.FNumber <= 2.8, e.Focal35 >= 85:
		return -nudge
	}
	return 0
}

// withLevel adds what is known before the rims are seen. All elevations are as
// likely, but for what lens and aperture are used for, and for a rim that leans sideways: nobody rolls a camera by 20° to
// photograph a dish, so such a tilt is sooner small, and the camera above it.
func (b belief) withLevel(s sight) belief {
	var v view
	if len(s.views) > 0 {
		v = s.views[0]
	}
	for i := range b {
		roll := (90 - elevationAt(i)) * v.side * v.trust / levelRoll
		b[i] -= roll * roll / 2
		if elevationAt(i) >= 75 {
			b[i] += usage(s.frame.Exposure)
		}
	}
	return b
}

// bands are the classes and the elevations that plan.AngleOf gives them.
var bands = []struct {
	class     plan.Angle
	low, high float64
}{{plan.Low, 0, 25}, {plan.ThreeQuarter, 25, 50}, {plan.High, 50, 75}, {plan.Overhead, 75, 90}}

// join adds what another frame believes that was taken from the same spot.
func (b *belief) join(o belief, weight float64) {
	for i := range b {
		b[i] += weight * o[i]
	}
}

// shares turns a belief into chances that sum to 1.
func (b belief) shares() [steps]float64 {
	var p [steps]float64
	most := slices.Max(b[:])
	sum := 0.0
	for i, l := range b {
		p[i] = math.Exp(l - most)
		sum += p[i]
	}
	for i := range p {
		p[i] /= sum
	}
	return p
}

// share is the chance of a class by this belief alone, all elevations being as
// likely before.
func (b *belief) share(class plan.Angle) float64 {
	sum := 0.0
	for i, p := range b.shares() {
		if plan.AngleOf(elevationAt(i)) == class {
			sum += p
		}
	}
	return sum
}

// top is the elevation from low to high degrees that the rims fit best,
// between the half degrees by a parabola.
func (b *belief) top(low, high float64) float64 {
	at := -1
	for i := range b {
		if e := elevationAt(i); e > low && e < high && (at < 0 || b[i] > b[at]) {
			at = i
		}
	}
	e := elevationAt(at)
	if at > 0 && at < steps-1 {
		if bend := b[at-1] - 2*b[at] + b[at+1]; bend < 0 {
			e += 0.5 * 0.5 * (b[at-1] - b[at+1]) / bend
		}
	}
	return min(high, max(low, e))
}

// deviation is that of the hill around an elevation.
func (b *belief) deviation(around float64) float64 {
	p := b.shares()
	var mass, square float64
	for i := range p {
		if d := elevationAt(i) - around; math.Abs(d) <= 12 {
			mass += p[i]
			square += p[i] * d * d
		}
	}
	return max(1, math.Sqrt(square/mass))
}

// name makes the reading of a frame from what is believed of it.
func (w Weights) name(s sight, b belief, alike int) Reading {
	r := Reading{Class: plan.UnknownAngle, Tall: s.height}
	if len(s.views) == 0 && !s.lined {
		r.Overhead = 15.0 / 90
		r.Why = "no round rim found, nor straight edges"
		return r
	}
	chance := map[plan.Angle]float64{}
	for i, q := range b.withLevel(s).shares() {
		chance[plan.AngleOf(elevationAt(i))] += q
	}
	likeliest := bands[0]
	for _, c := range bands[1:] {
		if chance[c.class] > chance[likeliest.class] {
			likeliest = c
		}
	}
	r.Known, r.Overhead = true, chance[plan.Overhead]
	if len(s.views) > 0 {
		r.Sources = append(r.Sources, Rims)
	}
	if s.lined {
		r.Sources = append(r.Sources, Edges)
	}
	if s.focused {
		r.Sources = append(r.Sources, Focus)
	}
	r.Confidence = chance[likeliest.class]
	least := w.Named
	if likeliest.class == plan.Overhead {
		least = w.Overhead
	}
	low, high := 0.0, 90.0
	if r.Confidence >= least {
		r.Class, low, high = likeliest.class, likeliest.low, likeliest.high
	}
	// What edges and focus tell of the class would only pull at a rim's degrees.
	r.Elevation = b.top(low, high)
	r.PlusMinus = b.deviation(r.Elevation)
	if own := s.rims.top(0, 90); len(s.views) > 0 && s.views[0].trust >= 0.5 && own >= low && own < high {
		r.Elevation, r.PlusMinus = own, s.rims.deviation(own)
	}
	if alike > 0 {
		r.Sources = append(r.Sources, Set)
	}
	if usage(s.frame.Exposure) != 0 {
		r.Sources = append(r.Sources, Lens)
	}
	for _, v := range s.views {
		agrees := v.trust >= 0.3 && math.Abs(v.elevation-r.Elevation) <= max(3, r.PlusMinus)
		r.Rims = append(r.Rims, Seen{v.rim, v.elevation, agrees})
	}
	r.Why = s.why(r, alike)
	return r
}
