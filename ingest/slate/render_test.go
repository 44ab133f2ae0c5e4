package slate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
)

// shot is how a card is photographed.
type shot struct {
	unit  float64 // pixels a module, before the tilt
	turn  float64 // degrees in the plane of the card
	tilt  float64 // degrees away from the lens, about an axis of the picture
	blur  float64 // σ, pixels
	grain float64 // σ, codes
	glare float64 // a bright spot over a part of the code: how strong and how large; 0 none
	flash int     // a light that burns out a whole mark: 1 the code's corner, 2 that to the right, 3 that below
	shade bool    // the edge of a shadow across the code
	dim   float64 // share of the light, 1 all
}

// photograph renders a card with a code in a scene of soft shapes, stripes and
// crumbs, width × height, in linear light from far away enough: the lens is 6
// card's widths off.
func photograph(code [][]bool, s shot, width, height int, r *rand.Rand) Picture {
	light := make([]float64, width*height)
	scene(light, width, height, r)
	n := float64(len(code))
	side := n * s.unit
	cx, cy := float64(width)/2+(r.Float64()-0.5)*20, float64(height)/2+(r.Float64()-0.5)*20
	turn, tilt, axis := s.turn*math.Pi/180, s.tilt*math.Pi/180, r.Float64()*2*math.Pi
	far := 6 * side
	at := func(u, v float64) [2]float64 { // of the card, −½ … ½
		x, y := u*side, v*side
		x, y = x*math.Cos(turn)-y*math.Sin(turn), x*math.Sin(turn)+y*math.Cos(turn)
		a, b := x*math.Cos(axis)+y*math.Sin(axis), -x*math.Sin(axis)+y*math.Cos(axis)
		z := b * math.Sin(tilt)
		b *= math.Cos(tilt)
		k := far / (far + z)
		x, y = a*math.Cos(axis)-b*math.Sin(axis), a*math.Sin(axis)+b*math.Cos(axis)
		return [2]float64{cx + x*k, cy + y*k}
	}
	// The card is the code with a border of two more modules of paper.
	const border = 2
	c := corners{at(-0.5, -0.5), at(0.5, -0.5), at(0.5, 0.5), at(-0.5, 0.5)}
	to := c.perspective(len(code))
	back := to.inverse()
	paper, ink := 0.75, 0.05
	reach := side * 0.9
	shining := func(u, v float64) float64 { // of a place on the card
		l := paper
		if u >= 0 && v >= 0 && u < n && v < n && code[int(v)][int(u)] {
			l = ink
		}
		if s.glare > 0 {
			du, dv := u-0.62*n, v-0.55*n
			l += 1.2 * s.glare * math.Exp(-(du*du+dv*dv)/(0.012*s.glare*n*n))
		}
		if s.flash > 0 {
			at := [4][2]float64{1: {middle, middle}, 2: {n - 2*QuietZone - middle, middle}, 3: {middle, n - 2*QuietZone - middle}}[s.flash]
			du, dv := u-QuietZone-at[0], v-QuietZone-at[1]
			l += 3 * math.Exp(-(du*du+dv*dv)/14)
		}
		if s.shade && u+0.4*v > 0.75*n {
			l *= 0.25
		}
		return l
	}
	// A pixel whose corners lie in one module, and on one side of the shadow, is
	// what its middle is; others are sampled.
	type spot struct{ u, v float64 }
	one := func(a, b spot) bool {
		return math.Floor(a.u) == math.Floor(b.u) && math.Floor(a.v) == math.Floor(b.v) && (a.u+0.4*a.v > 0.75*n) == (b.u+0.4*b.v > 0.75*n)
	}
	const fine = 5 // samples a pixel each way
	x0, x1 := max(0, int(cx-reach)), min(width, int(cx+reach))
	above, below := make([]spot, width+1), make([]spot, width+1)
	for y := max(0, int(cy-reach)); y < min(height, int(cy+reach)); y++ {
		for x := x0; x <= x1; x++ {
			above[x].u, above[x].v = back.at(float64(x), float64(y))
			below[x].u, below[x].v = back.at(float64(x), float64(y+1))
		}
		for x := x0; x < x1; x++ {
			samples := fine
			if one(above[x], above[x+1]) && one(above[x], below[x]) && one(above[x], below[x+1]) {
				samples = 1
			}
			sum, in := 0.0, 0
			for i := range samples * samples {
				u, v := back.at(float64(x)+(float64(i%samples)+0.5)/float64(samples), float64(y)+(float64(i/samples)+0.5)/float64(samples))
				if u >= -border && v >= -border && u < n+border && v < n+border {
					in++
					sum += shining(u, v)
				}
			}
			i := y*width + x
			light[i] = (sum + light[i]*float64(samples*samples-in)) / float64(samples*samples)
		}
	}
	light = blurred(light, width, height, s.blur)
	p := Picture{Width: width, Height: height, Pix: make([]uint8, width*height)}
	dim := s.dim
	if dim == 0 {
		dim = 1
	}
	// The curve as a table by the root of light, in whose steps it is all but straight.
	const steps = 1024
	var curve [steps + 1]float64
	for i := range curve {
		curve[i] = 255 * math.Pow(float64(i)/steps, 2/2.2)
	}
	for i, l := range light {
		l *= dim * (0.8 + 0.4*float64(i%width)/float64(width))
		at := int(steps*math.Sqrt(min(1, max(0, l))) + 0.5)
		p.Pix[i] = uint8(min(255, max(0, curve[at]+s.grain*r.NormFloat64())))
	}
	return p
}

func scene(light []float64, width, height int, r *rand.Rand) {
	base := 0.1 + 0.3*r.Float64()
	for i := range light {
		x, y := float64(i%width), float64(i/width)
		light[i] = base * (1 + 0.3*math.Sin(x/110+y/190))
	}
	for range 14 {
		cx, cy, a, b, v := r.Float64()*float64(width), r.Float64()*float64(height), 20+150*r.Float64(), 20+120*r.Float64(), r.Float64()
		for y := max(0, int(cy-b)); y < min(height, int(cy+b)); y++ {
			for x := max(0, int(cx-a)); x < min(width, int(cx+a)); x++ {
				dx, dy := (float64(x)-cx)/a, (float64(y)-cy)/b
				if d := dx*dx + dy*dy; d < 1 {
					light[y*width+x] = 0.3*light[y*width+x] + 0.7*v*(1-0.4*d)
				}
			}
		}
	}
	for range 600 {
		x, y, k, v := r.IntN(width-5), r.IntN(height-5), 1+r.IntN(4), r.Float64()
		for i := range k * k {
			light[(y+i/k)*width+x+i%k] = v
		}
	}
}

func blurred(light []float64, width, height int, sigma float64) []float64 {
	if sigma <= 0 {
		return light
	}
	k := int(3*sigma) + 1
	w := make([]float64, 2*k+1)
	all := 0.0
	for i := range w {
		w[i] = math.Exp(-float64((i-k)*(i-k)) / (2 * sigma * sigma))
		all += w[i]
	}
	for i := range w {
		w[i] /= all
	}
	// Row by row: along each, then each the mean of those about it.
	along, out := make([]float64, len(light)), make([]float64, len(light))
	wide := make([]float64, width+2*k) // the ends go on
	for y := range height {
		row := light[y*width:][:width]
		for x := range wide {
			wide[x] = row[min(width-1, max(0, x-k))]
		}
		to := along[y*width:][:width]
		for i, wi := range w {
			for x, v := range wide[i:][:width] {
				to[x] += wi * v
			}
		}
	}
	for y := range height {
		to := out[y*width:][:width]
		for i, wi := range w {
			for x, v := range along[min(height-1, max(0, y+i-k))*width:][:width] {
				to[x] += wi * v
			}
		}
	}
	return out
}

// rate tells how many of so many photographs of a code are read, and fails the
// test where one is read as something else.
func rate(t testing.TB, s shot, tries int, seed uint64) (read int) {
	t.Helper()
	r := rand.New(rand.NewPCG(seed, 1))
	for i := range tries {
		p := Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: fmt.Sprintf("R%02d", r.IntN(100)), Title: "ZA9"}
		code, err := Make(p)
		if err != nil {
			t.Fatal(err)
		}
		s.turn = 360 * r.Float64()
		pic := photograph(code, s, 480, 480, r)
		got := Read(pic)
		if len(got) == 1 && got[0] == p.String() {
			read++
		} else if len(got) > 0 {
			t.Errorf("%+v, try %d: read %q, want %q", s, i, got, p.String())
		}
	}
	return read
}

// TestTable prints the table of DEVELOPERS.md.
func TestTable(t *testing.T) {
	if os.Getenv("COVERPLATE_TABLES") == "" {
		t.Skip("COVERPLATE_TABLES=1 prints read rates over size, tilt and blur; it takes minutes")
	}
	const tries = 10
	tilts := []float64{0, 30, 45, 60}
	for _, blur := range []float64{0.2, 0.4, 0.5, 0.6} { // σ, modules
		fmt.Printf("\nblur σ %.1f module\n\n| px a module | %s |\n", blur, strings.Trim(strings.Replace(fmt.Sprint(tilts), " ", "° | ", -1), "[]"))
		for _, unit := range []float64{1.5, 2, 3, 5, 9} {
			fmt.Printf("| %.1f |", unit)
			for _, tilt := range tilts {
				fmt.Printf(" %d |", rate(t, shot{unit: unit, tilt: tilt, blur: blur * unit, grain: 5}, tries, uint64(unit*1000+tilt)))
			}
			fmt.Println()
		}
	}
	for _, s := range []shot{{glare: 1}, {glare: 1.3}, {shade: true}, {glare: 1, shade: true}, {dim: 0.08}, {dim: 0.02}} {
		for _, tilt := range tilts[:3] {
			s.unit, s.blur, s.grain, s.tilt = 5, 1.5, 5, tilt
			fmt.Printf("%+v: %d\n", s, rate(t, s, tries, 7))
		}
	}
}
