package angle

import (
	"math"

	"coverplate/ingest/catalogue"
)

// Lines of a table tell the camera's elevation as rims do: the grooves between
// its boards, the sides of a tray, the weave of a cloth run in two directions
// at a right angle. Seen from straight above they stay parallel; from anywhere
// else each direction runs towards its own vanishing point on the horizon, and
// the horizon lies f·tan(elevation) above the middle of the picture. Edges of
// standing things run towards the point below. This is the Bayesian way of
// Coughlan and Yuille, "Manhattan World: compass direction from a single image
// by Bayesian inference" (1999, from memory), for the table instead of the
// street: each edge is of one of the three directions with some chance, or
// anything else.
const (
	lineError  = 1.5  // degrees, one standard deviation, of an edge's direction
	acrossEdge = 0.28 // chance of an edge to be of one of the table's two directions,
	standing   = 0.04 // of a standing thing,
	otherEdge  = 1 - 2*acrossEdge - standing
	wholeEdge  = 0.12 // of the picture's width: an edge so long counts as one, a shorter one less, none for more than two
	besides    = 0.03 // of the width: parallel edges nearer than that are of one thing,
	sameThing  = 1.5  // and all together count as no more than so many
	leastEdges = 4    // fewer tell nothing
)

// lineTrust is the chance that the edges are those of a table at all.
const lineTrust = 0.9

// usualFocals are 35 mm equivalents that food is photographed with, for
// pictures that don't give theirs: phones, and bodies with short and normal
// lenses. Common practice, no source.
var usualFocals = []float64{26, 38, 55}

const (
	lineStep = 3 // degrees between the elevations that are tried
	lineTurn = 2 // degrees between the turns of the table
)

// edge is a line around the middle of the picture, its direction a unit vector.
type edge struct{ x, y, dx, dy, weight float64 }

// edgesOf weighs the lines of a picture of the given height in shares of its
// width.
func edgesOf(lines []catalogue.Line, height float64) []edge {
	var edges []edge
	for _, l := range lines {
		dx, dy := l.X2-l.X1, l.Y2-l.Y1
		n := math.Hypot(dx, dy)
		if !(n > 0) || n > 3 {
			continue // no line
		}
		edges = append(edges, edge{(l.X1+l.X2)/2 - 0.5, (l.Y1 + l.Y2 - height) / 2, dx / n, dy / n, min(2, n/wholeEdge)})
	}
	weights := make([]float64, len(edges))
	for i, a := range edges {
		alike := 0.0
		for _, b := range edges {
			if math.Abs(a.dx*b.dy-a.dy*b.dx) < 0.08 && math.Abs((b.x-a.x)*a.dy-(b.y-a.y)*a.dx) < besides {
				alike += b.weight
			}
		}
		weights[i] = a.weight * min(1, sameThing/alike)
	}
	for i := range edges {
		edges[i].weight = weights[i]
	}
	return edges
}

// lines is what the straight edges tell of the elevation, nothing where there
// are few.
func (w Weights) lines(s sight) (b belief, ok bool) {
	edges := edgesOf(s.frame.Look.Lines, s.height)
	if len(edges) < leastEdges || w.Lines == 0 {
		return b, false
	}
	focals := usualFocals
	if s.posed {
		focals = []float64{s.frame.Exposure.Focal35}
	}
	var like [90 / lineStep]float64
	most := math.Inf(-1)
	for i := range like {
		e := (float64(i) + 0.5) * lineStep
		like[i] = w.edgesAt(edges, e, focals, s.height)
		most = max(most, like[i])
	}
	sum := 0.0
	for i := range like {
		like[i] = math.Exp(like[i] - most)
		sum += like[i]
	}
	for i := range b {
		// Between the elevations that were tried it runs straight.
		at := min(float64(len(like)-1), max(0, elevationAt(i)/lineStep-0.5))
		k := min(len(like)-2, int(at))
		p := like[k] + (like[k+1]-like[k])*(at-float64(k))
		b[i] = math.Log(lineTrust*p*float64(len(like))/sum + 1 - lineTrust)
	}
	return b, true
}

// turns are how many turns of the table are tried: a quarter turn brings its two
// directions onto each other.
const turns = 90 / lineTurn

// bearings are the sines and cosines of half a turn by lineTurn, from −45° on.
var bearings = func() (b [2 * turns][2]float64) {
	for i := range b {
		b[i][0], b[i][1] = math.Sincos(float64(i*lineTurn-45) * math.Pi / 180)
	}
	return b
}()

// edgesAt is the logarithm of how likely the edges are seen from elevation e,
// over all turns of the table and the focal lengths.
func (w Weights) edgesAt(edges []edge, e float64, focals []float64, height float64) float64 {
	sin, cos := math.Sincos(e * math.Pi / 180)
	most := math.Inf(-1)
	all := make([][turns]float64, len(focals))
	for k, focal35 := range focals {
		f := focalOf(focal35, height)
		for _, q := range edges {
			q.vote(&all[k], f, sin, cos)
		}
		for i := range all[k] {
			all[k][i] *= w.Lines
			most = max(most, all[k][i])
		}
	}
	sum := 0.0
	for k := range all {
		for _, l := range all[k] {
			sum += math.Exp(l - most)
		}
	}
	return most + math.Log(sum/float64(len(focals)*turns))
}

// vote adds to each turn of the table the logarithm of how much likelier the
// edge is there than any edge anywhere. sin and cos are those of the elevation.
//
// A direction of the table at the bearing t vanishes at (f sin t, −f cos t sin,
// cos t cos), and the edge runs towards it where that is square to the edge's
// line: at one bearing, around which the turns are walked for as far as the
// edge's error reaches.
func (q edge) vote(turn *[turns]float64, f, sin, cos float64) {
	const (
		s    = lineError * math.Pi / 180
		far  = 16 * s * s             // four standard deviations
		norm = 1.2533141373155003 / s // of the density, in shares of the even one over half a turn: π/√2π
	)
	// strays is the square of the angle between the edge and the way from its
	// middle to v.
	strays := func(v vector) float64 {
		ax, ay := v[0]-q.x*v[2], v[1]-q.y*v[2]
		cross := ax*q.dy - ay*q.dx
		return cross * cross / (ax*ax + ay*ay + 1e-12)
	}
	base := otherEdge
	if r := strays(vector{0, -f * cos, -sin}); r < far {
		base += standing * norm * math.Exp(-r/(2*s*s))
	}
	if base > otherEdge {
		l := q.weight * math.Log(base/otherEdge)
		for i := range turn {
			turn[i] += l
		}
	}
	bearing := math.Atan2((q.x*q.dy-q.y*q.dx)*cos-f*sin*q.dx, f*q.dy) * 180 / math.Pi
	middle := int(math.Floor((bearing+45)/lineTurn + 0.5))
	for _, way := range [2]int{1, -1} {
		for k := (1 - way) / 2; k <= turns/2; k++ {
			at := (middle + way*k + 4*turns) % (2 * turns)
			b := &bearings[at]
			r := strays(vector{f * b[0], -f * b[1] * sin, b[1] * cos})
			if r >= far {
				break
			}
			turn[at%turns] += q.weight * math.Log1p(acrossEdge*norm*math.Exp(-r/(2*s*s))/base)
		}
	}
}
