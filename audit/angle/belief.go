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
	// A rim of score s is the main vessel's with a chance of
	// 1 / (1 + exp(−Intercept − Slope·s)).
	Intercept, Slope float64

	Overhead float64 // the least chance of 75° or more at which a frame is called overhead
	Named    float64 // the least chance at which another class is named
}

// DefaultWeights returns the product's numbers.
func DefaultWeights() Weights {
	return Weights{Intercept: -2.765, Slope: 8.909, Overhead: 0.75, Named: 0.5}
}

// trust is the chance that a rim of the given score is what it seems.
func (w Weights) trust(score float64) float64 {
	return 1 / (1 + math.Exp(-w.Intercept-w.Slope*score))
}

// view is one rim turned to an elevation.
type view struct {
	rim       catalogue.Rim
	elevation float64 // degrees above the rim's plane
	trust     float64 // 0 … 1, the chance that it shows the camera's elevation
	spread    float64 // standard deviation of the sine of the elevation
}

// sight is what one frame holds that tells its angle.
type sight struct {
	frame  catalogue.Frame
	sensor *float64 // degrees above the table
	views  []view   // the surest first
	posed  bool     // elevations are of exact perspective, the focal length being known
	height float64  // of the upright picture, shares of its width
	kept   *belief  // what believed worked out
}

// Spreads of the sine of the elevation, one standard deviation. An edge is
// found to about a pixel in a rim of some 200; plates are not quite round and
// rims not quite flat: 1.5 %. Where the focal length is not known, perspective
// adds some degrees that asin leaves out. No source; ANGLE.md saw a median
// error of 1.1° with the focal length and 3.6° without.
const (
	spreadPosed = 0.015
	spreadAsin  = 0.025
)

// mostViews bounds the rims that are weighed.
const mostViews = 8

func (w Weights) sightOf(f catalogue.Frame) sight {
	s := sight{frame: f}
	if e := f.Exposure.Elevation; e != nil && *e >= -90 && *e <= 90 {
		above := -*e // Exif counts upwards, the table is below
		s.sensor = &above
	}
	if f.Look.Width <= 0 || f.Look.Height <= 0 {
		return s
	}
	s.height = float64(f.Look.Height) / float64(f.Look.Width)
	s.posed = f.Exposure.Focal35 >= 8 && f.Exposure.Focal35 <= 1200
	for _, r := range f.Look.Rims {
		if !(r.A > 0 && r.B > 0 && r.B <= r.A && r.Score > 0) {
			continue
		}
		v := view{rim: r, elevation: math.Asin(r.B/r.A) * 180 / math.Pi, trust: w.trust(r.Score), spread: spreadAsin}
		if s.posed {
			if e, _, ok := elevationOf(r, focalOf(f.Exposure.Focal35, s.height), s.height); ok && e > 0 {
				v.elevation, v.spread = e, spreadPosed
			}
		}
		s.views = append(s.views, v)
		if len(s.views) == mostViews {
			break
		}
	}
	slices.SortStableFunc(s.views, func(a, b view) int {
		switch {
		case a.trust > b.trust:
			return -1
		case a.trust < b.trust:
			return 1
		}
		return 0
	})
	return s
}

// steps divides 0 … 90° of elevation into half degrees.
const steps = 180

// belief is the logarithm of how likely each elevation is, by half degrees:
// member i stands for (i + ½)/2 degrees. It is not normalised.
type belief [steps]float64

func elevationAt(i int) float64 { return (float64(i) + 0.5) / 2 }

// believed is belief, worked out once: every frame of a set asks for those of
// all that are alike.
func (s *sight) believed() belief {
	if s.kept == nil {
		b := s.belief()
		s.kept = &b
	}
	return *s.kept
}

// belief weighs the rims of one frame. Each is either what it seems, with the
// chance of its trust, or some other curve, of which any ratio is as likely as
// any other: so rims that agree strengthen each other, one that stands alone
// against others is outvoted, and a tie stays open.
func (s sight) belief() belief {
	b := belief(logPrior)
	for n, v := range s.views {
		weight := 1.0
		if n > 0 {
			weight = 0.5 // a rim and its well are one vessel, half one witness
		}
		sin, top := math.Sin(v.elevation*math.Pi/180), v.trust/(v.spread*math.Sqrt(2*math.Pi))
		far := math.Log(1 - v.trust)
		for i := range b {
			z := (sin - sines[i]) / v.spread
			if z*z > 100 { // e^−50 adds nothing to what is left of 1 − trust
				b[i] += weight * far
				continue
			}
			b[i] += weight * math.Log(top*math.Exp(-z*z/2)+1-v.trust)
		}
	}
	return b
}

// sines and logPrior are worked out once for all frames.
var sines, logPrior = func() (s, p [steps]float64) {
	for i := range s {
		s[i] = math.Sin(elevationAt(i) * math.Pi / 180)
		p[i] = math.Log(prior(elevationAt(i)))
	}
	return s, p
}()

// prior is how dishes are photographed, whatever the picture shows: straight
// from above, or as one sits before them. Common practice, no source.
func prior(e float64) float64 {
	z := (e - 45) / 20
	p := 0.7 * math.Exp(-z*z/2) / (20 * math.Sqrt(2*math.Pi))
	if e >= 75 {
		p += 0.3 / 15
	}
	return p
}

// join adds what another frame taken from the same spot believes, its prior
// left out.
func (b *belief) join(o belief, weight float64) {
	for i := range b {
		b[i] += weight * (o[i] - logPrior[i])
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

// name makes the reading of a frame from what is believed of it.
func (w Weights) name(s sight, b belief, alike int) Reading {
	r := Reading{Class: plan.UnknownAngle}
	p := b.shares()
	chance := map[plan.Angle]float64{}
	top := 0
	for i, q := range p {
		chance[plan.AngleOf(elevationAt(i))] += q
		if q > p[top] {
			top = i
		}
	}
	r.Overhead = chance[plan.Overhead]
	if len(s.views) == 0 {
		r.Why = "no round rim found"
		return r
	}
	likeliest := plan.Low
	for _, c := range []plan.Angle{plan.ThreeQuarter, plan.High, plan.Overhead} {
		if chance[c] > chance[likeliest] {
			likeliest = c
		}
	}
	r.Confidence = chance[likeliest]
	least := w.Named
	if likeliest == plan.Overhead {
		least = w.Overhead
	}
	if r.Confidence >= least {
		r.Class = likeliest
	}
	// The elevation is that of the hill around the likeliest, not of all.
	lo, hi := max(0, top-24), min(steps, top+25)
	var mean, mass, square float64
	for i := lo; i < hi; i++ {
		mean += p[i] * elevationAt(i)
		mass += p[i]
	}
	mean /= mass
	for i := lo; i < hi; i++ {
		square += p[i] * (elevationAt(i) - mean) * (elevationAt(i) - mean)
	}
	r.Known, r.Elevation, r.PlusMinus = true, mean, max(1, math.Sqrt(square/mass))
	r.Sources = []Source{Rims}
	if alike > 0 {
		r.Sources = append(r.Sources, Set)
	}
	r.Why = s.why(r, alike)
	return r
}
