package audit

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"coverplate/colour"
)

// The pictures of the third family, as photographs differ: the means and mean
// square differences, swatch by swatch from the darkest, of the 247 photographs
// of shared/photos/food (its MANIFEST.csv names the sources); scaled so that
// distances of palettes and of surfaces lie where theirs do (TestThirdLooks).

// look is what a set or an arrangement shows.
type look struct {
	swatches [6]colour.Lab
	shares   [6]float64 // logarithms, not normalised
	surface  colour.Lab
}

// pictures are the looks of one book.
type pictures struct {
	rand     *rand.Rand
	surfaces [10]colour.Lab
	dishes   map[int]look
}

// Means of photographs' swatches by rank of L, and how two dishes of one cook
// differ, divided by the root of 2.
var (
	rankMean = [6]colour.Lab{{L: 18, A: 5, B: 7}, {L: 34, A: 12, B: 17}, {L: 45, A: 10, B: 20}, {L: 57, A: 8, B: 25}, {L: 69, A: 5, B: 21}, {L: 82, A: 0, B: 7}}
	rankOff  = [6]colour.Lab{{L: 9, A: 7, B: 10}, {L: 10, A: 13, B: 19}, {L: 9, A: 14, B: 20}, {L: 9, A: 14, B: 21}, {L: 8, A: 9, B: 19}, {L: 7, A: 6, B: 14}}
	byShare  = [6]float64{0.326, 0.226, 0.171, 0.129, 0.095, 0.053} // mean shares, the largest first
)

func newPictures(r *rand.Rand) pictures {
	p := pictures{rand: r, dishes: map[int]look{}}
	for i := range p.surfaces {
		p.surfaces[i] = p.surface()
	}
	return p
}

// surface is dark slate and wood, or light cloth and stone: photographs' have L
// 51 ± 26 from 6 to 86, a 4 ± 7, b 9 ± 13.
func (p pictures) surface() colour.Lab {
	c := colour.Lab{L: 48 + 40*p.rand.Float64(), A: 4 + 7*p.rand.NormFloat64(), B: 9 + 13*p.rand.NormFloat64()}
	if p.rand.Float64() < 0.4 {
		c.L = 5 + 30*p.rand.Float64()
	}
	return c
}

// stray moves all of a look's swatches, together and each.
func (p pictures) stray(l look, by float64) look {
	light := p.rand.NormFloat64() * 0.7 * by
	for i := range l.swatches {
		c, off := &l.swatches[i], rankOff[i]
		c.L = min(max(c.L+off.L*(light+0.7*by*p.rand.NormFloat64()), 0), 100)
		c.A += off.A * by * p.rand.NormFloat64()
		c.B += off.B * by * p.rand.NormFloat64()
		l.shares[i] += by * p.rand.NormFloat64()
	}
	return l
}

// of is how a dish looks; one in four stands on what the last one stood on.
func (p pictures) of(dish int) look {
	if l, ok := p.dishes[dish]; ok {
		return l
	}
	l := look{swatches: rankMean, surface: p.surfaces[p.rand.IntN(len(p.surfaces))]}
	if last, ok := p.dishes[-1]; ok && p.rand.Float64() < 0.25 {
		l.surface = last.surface
	}
	for i, k := range p.rand.Perm(6) {
		l.shares[i] = math.Log(byShare[k])
	}
	l = p.stray(l, dishStray)
	p.dishes[dish], p.dishes[-1] = l, l
	return l
}

// How far looks stray, in what two dishes differ by; wide is the spread of the
// logarithm, since most arrangements are near the first and some are far.
const (
	dishStray  = 0.55
	setupStray = 0.36
	frameStray = 0.13
	wide       = 0.4
)

func (p pictures) arrange(l look, by float64) look {
	by *= math.Exp(wide * p.rand.NormFloat64())
	l = p.stray(l, setupStray*by)
	l.surface = p.near(l.surface, 5*by)
	return l
}

// again is the next frame of an arrangement.
func (p pictures) again(l look) look {
	by := math.Exp(wide * p.rand.NormFloat64())
	l = p.stray(l, frameStray*by)
	l.surface = p.near(l.surface, 1.5*by)
	return l
}

func (p pictures) near(c colour.Lab, by float64) colour.Lab {
	return colour.Lab{L: min(max(c.L+by*p.rand.NormFloat64(), 0), 100), A: c.A + 0.5*by*p.rand.NormFloat64(), B: c.B + 0.7*by*p.rand.NormFloat64()}
}

// anything is of no dish.
func (p pictures) anything() look {
	l := p.stray(look{swatches: rankMean}, 1.2)
	l.surface = p.surface()
	return l
}

// card is paper before the set.
func (p pictures) card() look {
	l := p.anything()
	for i := range l.swatches {
		l.swatches[i] = p.near(colour.Lab{L: 20 + 14*float64(i), B: 3}, 2)
	}
	l.shares[5] = 3
	return l
}

// seen is what a frame measures. The border of one in eight is not the surface:
// a plate that leaves the picture, a cloth.
func (p pictures) seen(l look) ([]colour.Swatch, *colour.Swatch) {
	sum := 0.0
	for _, s := range l.shares {
		sum += math.Exp(s)
	}
	var palette []colour.Swatch
	for i, c := range l.swatches {
		palette = append(palette, colour.Swatch{Lab: c, Share: math.Exp(l.shares[i]) / sum})
	}
	slices.SortStableFunc(palette, func(a, b colour.Swatch) int {
		if a.Share > b.Share {
			return -1
		}
		return 1
	})
	surface := l.surface
	if p.rand.Float64() < 0.125 {
		surface = palette[p.rand.IntN(3)].Lab
	}
	return palette, &colour.Swatch{Lab: surface, Share: 0.6}
}

// Distances of palettes and surfaces are those of photographs: of near twins,
// of two shots of one dish, of two dishes of one cook (DEVELOPERS.md, "How far
// palettes lie apart"; surfaces measured likewise, no twins were made of them).
func TestThirdLooks(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	type kind struct {
		name            string
		palette, colour []float64
		want, wantOf    [3]float64 // 1 %, half, 99 % of palettes; 25 %, half, 75 % of surfaces
	}
	kinds := []kind{
		{name: "near twins", want: [3]float64{0.2, 4.5, 8.9}},
		{name: "one dish", want: [3]float64{2.9, 12.4, 23.4}, wantOf: [3]float64{5.0, 9.8, 18.6}},
		{name: "two dishes", want: [3]float64{9.4, 17.6, 34.2}, wantOf: [3]float64{19.2, 34.0, 51.5}},
	}
	for range 60 {
		p := newPictures(r)
		for n := range 8 {
			l := p.of(n)
			a, b, c := p.arrange(l, 1), p.arrange(l, 1), p.arrange(p.of(20+n), 1)
			shots := [4]look{p.again(a), p.again(a), p.again(b), p.again(c)}
			one, of := p.seen(shots[0])
			for k := range kinds {
				other, its := p.seen(shots[k+1])
				kinds[k].palette = append(kinds[k].palette, colour.PaletteDistance(one, other))
				kinds[k].colour = append(kinds[k].colour, math.Sqrt(math.Pow(of.Lab.L-its.Lab.L, 2)+math.Pow(of.Lab.A-its.Lab.A, 2)+math.Pow(of.Lab.B-its.Lab.B, 2)))
			}
		}
	}
	for _, k := range kinds {
		slices.Sort(k.palette)
		slices.Sort(k.colour)
		t.Logf("%s: palettes %.1f %.1f %.1f, photographs %v; surfaces %.1f %.1f %.1f, photographs %v", k.name, quantile(k.palette, .01), quantile(k.palette, .5), quantile(k.palette, .99), k.want,
			quantile(k.colour, .25), quantile(k.colour, .5), quantile(k.colour, .75), k.wantOf)
		if half, far := quantile(k.palette, .5), quantile(k.palette, .99); !(math.Abs(half/k.want[1]-1) <= 0.12 && math.Abs(far/k.want[2]-1) <= 0.15) {
			t.Errorf("%s: palettes %.1f and %.1f apart, photographs %v", k.name, half, far, k.want)
		}
		if half := quantile(k.colour, .5); k.wantOf[1] > 0 && !(math.Abs(half/k.wantOf[1]-1) <= 0.15) {
			t.Errorf("%s: surfaces %.1f apart, photographs %v", k.name, half, k.wantOf)
		}
	}
}
