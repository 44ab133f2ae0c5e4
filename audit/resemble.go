package audit

import (
	"math"

	"coverplate/ingest/catalogue"
)

// How much two pictures differ, and what that says of their dishes. A picture
// is told by eight figures: the mean of its palette in Lab, how its lightness
// and its hue and chroma stray, and its surface in Lab.
//
// The scales make the mean square difference of two dishes of one cook 1: 8152
// pairs among the photographs of shared/photos/food. Of two shots of one dish
// it was 0.51 (36 pairs), and of frames of one arrangement 0.065, as scattered
// normals nested in one another have it that were fitted before; so it is
// oneSetup, setups or 1 that a squared difference is held against.
// The figures go together: the squared differences of two dishes stray
// as those of four independent figures would, not of eight
// (TestResemblanceAgainstPhotographs).
const (
	looks     = 8
	oneSetup  = 0.065 // mean square difference: frames of one arrangement
	setups    = 0.5   // arrangements of one dish
	freedom   = 4     // independent figures that the eight are worth
	newSetup  = 0.1   // chance that the next frame of a dish shows it in another arrangement, taken at once; a choice
	mostAlike = 4.0   // nats that likeness of two frames says at most against a change
	mostApart = 3.0   // and unlikeness for it: a cook turns a plate, changes a cloth
)

var lookScale = [looks]float64{9.8, 4.8, 9.1, 4.5, 5.8, 26, 6.9, 12.9}

// figures are what a picture is told by; known is false where it has no palette or surface.
type figures struct {
	at    [looks]float64
	known bool
}

// figuresOf takes a picture's figures.
func figuresOf(l *catalogue.Look) (p figures) {
	var sum float64
	for _, w := range l.Palette {
		sum += w.Share
	}
	if l.Surface == nil || !(sum > 0) || math.IsInf(sum, 0) {
		return p
	}
	var mean, stray [3]float64
	for _, w := range l.Palette {
		for c, x := range [3]float64{w.Lab.L, w.Lab.A, w.Lab.B} {
			mean[c] += x * w.Share / sum
			stray[c] += x * x * w.Share / sum
		}
	}
	for c, m := range mean {
		stray[c] = max(0, stray[c]-m*m)
	}
	p.at = [looks]float64{mean[0], mean[1], mean[2], math.Sqrt(stray[0]), math.Sqrt(stray[1] + stray[2]),
		l.Surface.Lab.L, l.Surface.Lab.A, l.Surface.Lab.B}
	p.known = true
	for i, x := range p.at {
		p.at[i] = x / lookScale[i]
		p.known = p.known && finite(x)
	}
	return p
}

// blend makes p the mean of n pictures, of which q is the last.
func (p *figures) blend(q *figures, n float64) {
	for c := range p.at {
		p.at[c] += (q.at[c] - p.at[c]) / n
	}
}

// apart is the mean square difference of two pictures, 1 as of two dishes.
func (p *figures) apart(q *figures) float64 {
	var sum float64
	for i, x := range p.at {
		sum += (x - q.at[i]) * (x - q.at[i])
	}
	return sum / (2 * looks)
}

// setupsBy is by figure what setups is of all, as those 36 pairs have it, a third of
// the way to setups since they are few: a dish is shot on one surface, whose colour
// stays when all else is moved.
var setupsBy = [looks]float64{0.42, 0.58, 0.39, 0.62, 0.61, 0.53, 0.29, 0.17}

// setupsLog is the sum of their logarithms.
var setupsLog = func() (sum float64) {
	for _, v := range setupsBy {
		sum += math.Log(v)
	}
	return sum
}()

// otherSetup is scatter for pictures of two arrangements of one dish.
func otherSetup(p, q *figures) float64 {
	sum := setupsLog
	for c, v := range setupsBy {
		off := p.at[c] - q.at[c]
		sum += off * off / (2 * v)
	}
	return -freedom / 2 * sum / looks
}

// scatter is the log-density, up to a constant, of a mean square difference
// where v is to be expected.
func scatter(apart, v float64) float64 { return -freedom / 2 * (math.Log(v) + apart/v) }

// logSum is log(p·e^a + (1−p)·e^b).
func logSum(p, a, b float64) float64 {
	top := max(a, b)
	return top + math.Log(p*math.Exp(a-top)+(1-p)*math.Exp(b-top))
}

// pictureChange is what the difference of two pictures in a row says for a
// change of dish, nats; 0 where either is not known. pause is the time between
// them, in thresholds of their body: the longer, the likelier the same dish is
// shown in another arrangement.
func pictureChange(p, q *figures, pause float64) float64 {
	if !p.known || !q.known {
		return 0
	}
	x := p.apart(q)
	another := min(newSetup+pause, 1-newSetup)
	return min(max(scatter(x, 1)-logSum(another, otherSetup(p, q), scatter(x, oneSetup)), -mostAlike), mostApart)
}

// resembles is what its difference from a picture of a dish says for that dish,
// against any other, as a factor: of another time, so that the arrangement is as
// likely as not another.
func resembles(p, q *figures) float64 {
	x := p.apart(q)
	two := scatter(x, 1)
	return (math.Exp(otherSetup(p, q)-two) + math.Exp(scatter(x, oneSetup)-two)) / 2
}

// What likeness says at most, nats. Two dishes on one table and one plate are
// alike as well: it says little, and against a dish less.
const (
	mostLike   = 4.0
	mostUnlike = 1.5
)
