package audit

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"path"
	"regexp"
	"slices"
	"strings"
	"testing"

	"coverplate/colour"
)

const cooks = "../../shared/photos/food/"

// print is a photograph of shared/photos/food with its palette, and those of
// its near twins: the same picture framed a tenth closer, a third of a stop
// lighter and darker, and compressed again at quality 75.
type print struct {
	source  string // repository: one cook, or one circle of cooks
	dish    string // the same for shots of one dish
	own     []colour.Swatch
	surface *colour.Swatch
	twins   [][]colour.Swatch
}

// numbered is how the sources number the shots of a dish.
var numbered = regexp.MustCompile(`-?\d+$`)

// prints reads the photographs, and makes the twins of one in step.
func prints(t *testing.T, step int) []print {
	t.Helper()
	f, err := os.Open(cooks + "MANIFEST.csv")
	if err != nil {
		t.Skipf("the distribution can't be measured here: %v", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var all []print
	for i, row := range rows[1:] { // file, source, path
		p := print{source: row[1], dish: path.Dir(row[2])}
		if strings.HasPrefix(path.Base(p.dish), "images") || strings.HasPrefix(path.Base(p.dish), "pix") { // one folder for all
			p.dish = numbered.ReplaceAllString(strings.TrimSuffix(row[2], path.Ext(row[2])), "")
		}
		file, err := os.ReadFile(cooks + row[0])
		if err != nil {
			t.Fatal(err)
		}
		m, err := jpeg.Decode(bytes.NewReader(file))
		if err != nil {
			t.Fatalf("%s: %v", row[0], err)
		}
		r := thumbnail(m)
		p.own, p.surface = paletteOf(t, r)
		if all = append(all, p); i%step != 0 {
			continue
		}
		var again bytes.Buffer
		if err := jpeg.Encode(&again, m, &jpeg.Options{Quality: 75}); err != nil {
			t.Fatal(err)
		}
		n, err := jpeg.Decode(&again)
		if err != nil {
			t.Fatal(err)
		}
		for _, twin := range []colour.Raster{closer(r), lit(r, 1.26), lit(r, 1/1.26), thumbnail(n)} {
			palette, _ := paletteOf(t, twin)
			all[i].twins = append(all[i].twins, palette)
		}
	}
	return all
}

func paletteOf(t *testing.T, r colour.Raster) ([]colour.Swatch, *colour.Swatch) {
	t.Helper()
	p, surface, err := colour.Extract(r)
	if err != nil {
		t.Fatal(err)
	}
	return p, surface
}

// thumbnail averages m, read as sRGB, in linear light to 160 pixels, from every
// second pixel of every second row.
func thumbnail(m image.Image) colour.Raster {
	b := m.Bounds()
	long := max(b.Dx(), b.Dy())
	w, h := max(1, 160*b.Dx()/long), max(1, 160*b.Dy()/long)
	r := colour.Raster{Width: w, Height: h, Pix: make([]colour.XYZ, w*h)}
	count := make([]float64, w*h)
	code := func(x, y int) (uint8, uint8, uint8) {
		c := color.RGBAModel.Convert(m.At(b.Min.X+x, b.Min.Y+y)).(color.RGBA)
		return c.R, c.G, c.B
	}
	if m, ok := m.(*image.YCbCr); ok { // the same, without an interface a pixel
		code = func(x, y int) (uint8, uint8, uint8) {
			c := m.YCbCrAt(b.Min.X+x, b.Min.Y+y)
			return color.YCbCrToRGB(c.Y, c.Cb, c.Cr)
		}
	}
	for y := 0; y < b.Dy(); y += 2 {
		for x := 0; x < b.Dx(); x += 2 {
			red, green, blue := code(x, y)
			p, i := colour.SRGB.XYZ8(red, green, blue), y*h/b.Dy()*w+x*w/b.Dx()
			q := &r.Pix[i]
			q.X, q.Y, q.Z = q.X+p.X, q.Y+p.Y, q.Z+p.Z
			count[i]++
		}
	}
	for i, n := range count {
		p := &r.Pix[i]
		p.X, p.Y, p.Z = p.X/n, p.Y/n, p.Z/n
	}
	return r
}

// closer is r without the last tenth of its width and of its height.
func closer(r colour.Raster) colour.Raster {
	out := colour.Raster{Width: max(1, r.Width*9/10), Height: max(1, r.Height*9/10)}
	for y := range out.Height {
		out.Pix = append(out.Pix, r.Pix[y*r.Width:y*r.Width+out.Width]...)
	}
	return out
}

// lit is r in gain times the light, clipped where sRGB ends.
func lit(r colour.Raster, gain float64) colour.Raster {
	out := colour.Raster{Width: r.Width, Height: r.Height}
	clip := func(v float64) float64 { return min(max(v*gain, 0), 1) }
	for _, p := range r.Pix {
		l := colour.SRGB.FromXYZ(p)
		out.Pix = append(out.Pix, colour.SRGB.ToXYZ(colour.Linear{R: clip(l.R), G: clip(l.G), B: clip(l.B)}))
	}
	return out
}

// shareUnder is the share of the distances of sorted that are less than x, and quantile
// its inverse.
func shareUnder(sorted []float64, x float64) float64 {
	n, _ := slices.BinarySearch(sorted, x)
	return float64(n) / float64(len(sorted))
}

func quantile(sorted []float64, s float64) float64 {
	return sorted[int(s*float64(len(sorted)-1))]
}

// TestDefaultThresholdsAgainstPhotographs holds tooAlike and jarring to the
// rule that they were chosen by, which their comment states, on the cook that
// they were chosen on and on the others apart. Twins are made of one photograph
// in four, of all with COVERPLATE_ALL_PHOTOS=1. With -v it prints the chart of
// DEVELOPERS.md.
func TestDefaultThresholdsAgainstPhotographs(t *testing.T) {
	if testing.Short() {
		t.Skip("short: reads photographs")
	}
	step := 4
	if os.Getenv("COVERPLATE_ALL_PHOTOS") != "" {
		step = 1
	}
	all := prints(t, step)
	const chosenOn = "Anduin2017/HowToCook"
	twins, strangers := map[bool][]float64{}, map[bool][]float64{} // by whether of chosenOn
	var dishes, cook, others []float64
	for i, p := range all {
		for _, twin := range p.twins {
			twins[p.source == chosenOn] = append(twins[p.source == chosenOn], colour.PaletteDistance(p.own, twin))
		}
		for _, q := range all[:i] {
			x := colour.PaletteDistance(p.own, q.own)
			switch {
			case p.source == q.source && p.dish == q.dish:
				dishes = append(dishes, x)
				continue
			case p.source == q.source:
				cook = append(cook, x)
			default:
				others = append(others, x)
			}
			if here := p.source == chosenOn; here == (q.source == chosenOn) {
				strangers[here] = append(strangers[here], x)
			}
		}
	}
	rules := DefaultRules()
	for _, here := range []bool{true, false} {
		slices.Sort(twins[here])
		slices.Sort(strangers[here])
	}
	if want := 5 * math.Ceil(quantile(twins[true], 0.99)/5); rules.TooAlike != want {
		t.Errorf("TooAlike %g: the rule gives %g on %s", rules.TooAlike, want, chosenOn)
	}
	if want := 5 * math.Ceil(quantile(strangers[true], 0.95)/5); rules.Jarring != want {
		t.Errorf("Jarring %g: the rule gives %g on %s", rules.Jarring, want, chosenOn)
	}
	for _, here := range []bool{true, false} {
		name := map[bool]string{true: "chosen on " + chosenOn, false: "held out, the seven others"}[here]
		alike, chance, jump := shareUnder(twins[here], rules.TooAlike), shareUnder(strangers[here], rules.TooAlike), 1-shareUnder(strangers[here], rules.Jarring)
		t.Logf("%s: of %d near twins %.1f %% under %g; of %d pairs of dishes %.1f %% under it, and %.1f %% over %g",
			name, len(twins[here]), 100*alike, rules.TooAlike, len(strangers[here]), 100*chance, 100*jump, rules.Jarring)
		if alike < 0.98 || chance > 0.03 || jump < 0.005 || jump > 0.06 {
			t.Errorf("%s: want 98 %% of near twins under TooAlike and 3 %% of other pairs at most, and 0.5 to 6 %% over Jarring", name)
		}
	}
	near := slices.Sorted(slices.Values(append(slices.Clone(twins[true]), twins[false]...)))
	groups := []struct {
		name string
		x    []float64
	}{{"near twins", near}, {"one dish", dishes}, {"one cook", cook}, {"two cooks", others}}
	for _, g := range groups {
		slices.Sort(g.x)
		t.Logf("%-10s %6d pairs: 1 %% %4.1f, 5 %% %4.1f, half %4.1f, 95 %% %4.1f, 99 %% %4.1f", g.name, len(g.x), quantile(g.x, .01), quantile(g.x, .05), quantile(g.x, .5), quantile(g.x, .95), quantile(g.x, .99))
	}
	var chart strings.Builder
	fmt.Fprintf(&chart, "\nΔE00    near twins        one dish          two cooks\n")
	for low := 0.0; low < 40; low += 2 {
		fmt.Fprintf(&chart, "%2g…%-2g ", low, low+2)
		for _, g := range []int{0, 1, 3} {
			x := groups[g].x
			fmt.Fprintf(&chart, "  %-16s", strings.Repeat("#", int(50*(shareUnder(x, low+2)-shareUnder(x, low))+0.5)))
		}
		s := strings.TrimRight(chart.String(), " ")
		chart.Reset()
		chart.WriteString(s + "\n")
	}
	t.Log(chart.String())
}
