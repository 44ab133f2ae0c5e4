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
	glare bool    // a bright spot over a part of the code
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
	back := inverse(to)
	paper, ink := 0.75, 0.05
	reach := side * 0.9
	const fine = 5 // samples a pixel each way
	for y := max(0, int(cy-reach)); y < min(height, int(cy+reach)); y++ {
		for x := max(0, int(cx-reach)); x < min(width, int(cx+reach)); x++ {
			sum, in := 0.0, 0
			for i := range fine * fine {
				u, v := back.at(float64(x)+(float64(i%fine)+0.5)/fine, float64(y)+(float64(i/fine)+0.5)/fine)
				if u < -border || v < -border || u >= n+border || v >= n+border {
					continue
				}
				in++
				l := paper
				if u >= 0 && v >= 0 && u < n && v < n && code[int(v)][int(u)] {
					l = ink
				}
				if s.glare {
					l += 1.2 * math.Exp(-(math.Pow(u-0.62*n, 2)+math.Pow(v-0.55*n, 2))/(0.012*n*n))
				}
				if s.shade && u+0.4*v > 0.75*n {
					l *= 0.25
				}
				sum += l
			}
			i := y*width + x
			light[i] = (sum + light[i]*float64(fine*fine-in)) / (fine * fine)
		}
	}
	light = blurred(light, width, height, s.blur)
	p := Picture{Width: width, Height: height, Pix: make([]uint8, width*height)}
	dim := s.dim
	if dim == 0 {
		dim = 1
	}
	for i, l := range light {
		l *= dim * (0.8 + 0.4*float64(i%width)/float64(width))
		p.Pix[i] = uint8(min(255, max(0, 255*math.Pow(min(1, max(0, l)), 1/2.2)+s.grain*r.NormFloat64())))
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
				if d := math.Pow((float64(x)-cx)/a, 2) + math.Pow((float64(y)-cy)/b, 2); d < 1 {
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
	pass := func(in []float64, n, lines, step, next int) []float64 {
		out := make([]float64, len(in))
		for l := range lines {
			for x := range n {
				s := 0.0
				for i, wi := range w {
					s += wi * in[l*next+min(n-1, max(0, x+i-k))*step]
				}
				out[l*next+x*step] = s / all
			}
		}
		return out
	}
	return pass(pass(light, width, height, 1, width), height, width, width, 1)
}

// inverse is the perspective back, by cofactors.
func inverse(m perspective) perspective {
	return perspective{
		m[4]*m[8] - m[5]*m[7], m[2]*m[7] - m[1]*m[8], m[1]*m[5] - m[2]*m[4],
		m[5]*m[6] - m[3]*m[8], m[0]*m[8] - m[2]*m[6], m[2]*m[3] - m[0]*m[5],
		m[3]*m[7] - m[4]*m[6], m[1]*m[6] - m[0]*m[7], m[0]*m[4] - m[1]*m[3],
	}
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
	for _, s := range []shot{{glare: true}, {shade: true}, {glare: true, shade: true}, {dim: 0.08}, {dim: 0.02}} {
		for _, tilt := range tilts[:3] {
			s.unit, s.blur, s.grain, s.tilt = 5, 1.5, 5, tilt
			fmt.Printf("%+v: %d\n", s, rate(t, s, tries, 7))
		}
	}
}
