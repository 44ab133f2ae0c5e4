package slate

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"syscall"
	"testing"
	"time"

	"github.com/makiuchi-d/gozxing/qrcode/decoder"
	"github.com/makiuchi-d/gozxing/qrcode/encoder"
)

// drawn is a code drawn flat, unit pixels a module.
func drawn(code [][]bool, unit int) Picture {
	n := len(code) * unit
	p := Picture{Width: n, Height: n, Pix: make([]uint8, n*n)}
	for i := range p.Pix {
		if !code[i/n/unit][i%n/unit] {
			p.Pix[i] = 255
		}
	}
	return p
}

// TestGeneralReaderReads: what we draw is read by ZBar, whose readers are not
// ours. zbarimg is Debian's package zbar-tools.
func TestGeneralReaderReads(t *testing.T) {
	zbar, err := exec.LookPath("zbarimg")
	if err != nil {
		t.Skip("zbarimg is not installed")
	}
	for i, p := range []Payload{
		{Kind: Dish, Shoot: "K7Q2M", Recipe: "R07"},
		{Kind: Dish, Shoot: "K7Q2M", Recipe: "leek-tart"},
		{Kind: Dish, Shoot: "K7Q2M", Recipe: "餃子 №7"},
		{Kind: Dish, Shoot: "ZZZZZZZZZZZZ", Recipe: "a recipe whose id somebody made as long as ever was possible"},
		{Kind: Clock, Shoot: "K7Q2M", Shown: time.Date(2026, 11, 28, 10, 15, 2, 300e6, time.FixedZone("", 3600))},
	} {
		code, err := Make(p)
		if err != nil {
			t.Fatal(err)
		}
		pic := drawn(code, 4)
		file := filepath.Join(t.TempDir(), fmt.Sprint(i, ".pgm"))
		if err := os.WriteFile(file, append(fmt.Appendf(nil, "P5 %d %d 255\n", pic.Width, pic.Height), pic.Pix...), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(zbar, "-q", "--raw", "-Sdisable", "-Sqrcode.enable", file).Output()
		if got := string(bytes.TrimSuffix(out, []byte("\n"))); err != nil || got != p.String() {
			t.Errorf("%+v: zbarimg reads %q, %v, want %q", p, got, err, p.String())
		}
		if got := Read(pic); len(got) != 1 || got[0] != p.String() {
			t.Errorf("%+v: Read %q, want %q", p, got, p.String())
		}
	}
}

// Some kinds of photograph, of which four of five must be read; the whole
// table is TestTable's.
func TestPhotographsOfOurs(t *testing.T) {
	for name, s := range map[string]shot{
		"plain":                 {unit: 5, blur: 1, grain: 4},
		"small":                 {unit: 2, blur: 0.5, grain: 4},
		"tilted":                {unit: 5, tilt: 45, blur: 1, grain: 4},
		"tilted far":            {unit: 5, tilt: 60, blur: 0.8, grain: 4},
		"half a module of blur": {unit: 5, blur: 2.5, grain: 4},
		"that and tilted":       {unit: 5, tilt: 30, blur: 2.5, grain: 4},
		"more, and large":       {unit: 9, blur: 5.4, grain: 4},
		"soft":                  {unit: 5, blur: 2, grain: 4},
		"dark":                  {unit: 5, blur: 1, grain: 3, dim: 0.08},
		"half in shadow":        {unit: 5, blur: 1, grain: 4, shade: true},
		"with a bright spot":    {unit: 5, blur: 1, grain: 4, glare: 1},
		"with a larger one":     {unit: 5, blur: 1.5, grain: 5, glare: 1.3},
		"as large as it gets":   {unit: 16, blur: 1, grain: 4},
		"tilted in the shadow":  {unit: 5, tilt: 30, blur: 1, grain: 4, shade: true},
	} {
		t.Run(name, func(t *testing.T) {
			const tries = 5
			if got := rate(t, s, tries, 11); got < tries-1 {
				t.Errorf("%d of %d read", got, tries)
			}
		})
	}
}

// Of each code one mark is burnt out: the other two and the check tell where it
// was. One who prints others' codes is told nothing.
func TestAMarkInGlare(t *testing.T) {
	for flash := 1; flash <= 3; flash++ {
		for _, tilt := range []float64{0, 45} {
			s := shot{unit: 5, tilt: tilt, blur: 1.5, grain: 5, flash: flash}
			if got := rate(t, s, 2, 7); got < 2 {
				t.Errorf("mark %d burnt out, %.0f°: %d of 2 read", flash, tilt, got)
			}
		}
	}
	other, err := encoder.Encoder_encode("HTTPS://EXAMPLE", decoder.ErrorCorrectionLevel_Q, nil)
	if err != nil {
		t.Fatal(err)
	}
	code := framed(other.GetMatrix())
	whole := photograph(code, shot{unit: 5, blur: 1.5, grain: 5}, 320, 320, rand.New(rand.NewPCG(1, 1)))
	if got := Read(whole); len(got) != 1 || got[0] != "HTTPS://EXAMPLE" {
		t.Errorf("another's code: read %q", got)
	}
	burnt := photograph(code, shot{unit: 5, blur: 1.5, grain: 5, flash: 2}, 320, 320, rand.New(rand.NewPCG(1, 1)))
	if got := Read(burnt); got != nil {
		t.Errorf("another's code with a mark burnt out: read %q", got)
	}
}

// The perspective that two marks' squares tell is the one that they were seen
// under: the third corner comes within a third of a module of its place.
func TestTwoMarksTellAPerspective(t *testing.T) {
	code, err := Make(Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "R07", Title: "ZA9"})
	if err != nil {
		t.Fatal(err)
	}
	n := len(code) - 2*QuietZone
	for i, c := range []corners{
		{{60, 60}, {186, 60}, {186, 186}, {60, 186}},   // facing the lens
		{{60, 70}, {190, 50}, {200, 190}, {50, 170}},   // away to the left
		{{120, 40}, {200, 130}, {110, 220}, {30, 130}}, // on its corner
	} {
		truth := c.perspective(n)
		back := truth.inverse()
		pic := Picture{Width: 260, Height: 260, Pix: make([]uint8, 260*260)}
		for k := range pic.Pix {
			sum := 0
			for s := range 16 {
				u, v := back.at(float64(k%260)+(float64(s%4)+0.5)/4, float64(k/260)+(float64(s/4)+0.5)/4)
				if x, y := int(math.Floor(u))+QuietZone, int(math.Floor(v))+QuietZone; x < 0 || y < 0 || x >= len(code) || y >= len(code) || !code[y][x] {
					sum += 230
				} else {
					sum += 20
				}
			}
			pic.Pix[k] = uint8(sum / 16)
		}
		r := reading{levels: []Picture{pic}, room: new(room)}
		s := &seeker{p: pic, t: blocksOf(pic, 1, nil).threshold(way{reach: 2}, nil)}
		s.seek(1)
		for _, m := range s.marks {
			r.keep(s, m, 1)
		}
		role := roles[0] // the corner and the mark to its right
		var seen []sighting
		for _, at := range role[:2] {
			x, y := truth.at(middle+at[0]*float64(n-7), middle+at[1]*float64(n-7))
			for _, m := range r.marks {
				if math.Hypot(m.x-x, m.y-y) < 3 {
					seen = append(seen, m)
					break
				}
			}
		}
		if len(seen) != 2 {
			t.Fatalf("code %d: of the two marks %d are seen", i, len(seen))
		}
		p := pair{a: seen[0], b: seen[1], size: n}
		to, ok := p.perspective(append(p.a.edges(false), p.b.edges(true)...), role)
		if !ok {
			t.Fatalf("code %d: no perspective", i)
		}
		for k, at := range to.corners(n) {
			if off := math.Hypot(at[0]-c[k][0], at[1]-c[k][1]); !(off < 2) { // a third of 6 pixels
				t.Errorf("code %d: corner %d at %.1f, want %.1f", i, k, at, c[k])
			}
		}
	}
}

func TestAllFourWaysUpAndMirrored(t *testing.T) {
	p := Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "R07"}
	code, err := Make(p)
	if err != nil {
		t.Fatal(err)
	}
	pic := photograph(code, shot{unit: 5, blur: 0.8, grain: 3}, 320, 240, rand.New(rand.NewPCG(1, 1)))
	for turn := range 4 {
		if got := Read(pic); len(got) != 1 || got[0] != p.String() {
			t.Errorf("turned %d°: read %q", 90*turn, got)
		}
		next := Picture{Width: pic.Height, Height: pic.Width, Pix: make([]uint8, len(pic.Pix))}
		for i, v := range pic.Pix {
			x, y := i%pic.Width, i/pic.Width
			next.Pix[x*next.Width+next.Width-1-y] = v
		}
		pic = next
	}
	for y := range pic.Height {
		slices.Reverse(pic.Pix[y*pic.Width:][:pic.Width])
	}
	if got := Read(pic); len(got) != 1 || got[0] != p.String() { // gozxing turns it over
		t.Errorf("mirrored: read %q", got)
	}
}

func TestTwoCodesInOnePicture(t *testing.T) {
	dish := Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "R07"}
	clock := Payload{Kind: Clock, Shoot: "K7Q2M", Shown: time.Date(2026, 3, 4, 9, 0, 0, 0, time.FixedZone("", 3600))}
	pic := Picture{Width: 400, Height: 200, Pix: bytes.Repeat([]byte{200}, 400*200)}
	for i, p := range []Payload{dish, clock} {
		code, err := Make(p)
		if err != nil {
			t.Fatal(err)
		}
		part := drawn(code, 4)
		for y := range part.Height {
			copy(pic.Pix[(y+20)*400+20+200*i:][:part.Width], part.Pix[y*part.Width:])
		}
	}
	got := Read(pic)
	want := map[string]bool{dish.String(): true, clock.String(): true}
	if len(got) != 2 || !want[got[0]] || !want[got[1]] || got[0] == got[1] {
		t.Errorf("read %q, want %q and %q", got, dish, clock)
	}
}

// Bad pictures end, and say nothing.
func TestNoPicture(t *testing.T) {
	for _, p := range []Picture{{}, {Width: 100, Height: 100}, {Width: -5, Height: 100, Pix: make([]uint8, 10)}, {Width: 1, Height: 1, Pix: []uint8{1}}, {Width: 40, Height: 40, Pix: make([]uint8, 1600)}} {
		if got := Read(p); got != nil {
			t.Errorf("%d × %d: read %q", p.Width, p.Height, got)
		}
	}
}

// Whatever the modules of a damaged code, or of none, say: it is what the code
// said or none of ours. The bound of chance: ours are one of some 10¹⁰ texts.
func TestNoDamageMakesAnotherPayload(t *testing.T) {
	const side = 21
	r := rand.New(rand.NewPCG(5, 12))
	right := 0
	for i := range 3000 {
		p := Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: fmt.Sprintf("R%02d", i%100), Title: fmt.Sprintf("%03d", i%1000)}
		code, err := Make(p)
		if err != nil {
			t.Fatal(err)
		}
		modules := make([]bool, side*side)
		damage := 0.3 * r.Float64()
		for k := range modules {
			modules[k] = code[QuietZone+k/side][QuietZone+k%side]
			if r.Float64() < damage || i%10 == 0 {
				modules[k] = r.IntN(2) == 0
			}
		}
		got, err := Parse(textOf(modules, side))
		switch {
		case err == nil && !same(got, p):
			t.Errorf("try %d, %.0f %% damaged: read %+v, want %+v", i, 100*damage, got, p)
		case err == nil:
			right++
		}
	}
	if right < 250 {
		t.Errorf("only %d were read at all", right)
	}
}

// FuzzRead reads pictures made of any bytes.
func FuzzRead(f *testing.F) {
	code, err := Make(Payload{Kind: Dish, Shoot: "K7Q2M", Recipe: "R07"})
	if err != nil {
		f.Fatal(err)
	}
	pic := drawn(code, 2)
	f.Add(uint8(pic.Width), pic.Pix)
	f.Add(uint8(50), bytes.Repeat([]byte{0, 255}, 2000))
	f.Fuzz(func(t *testing.T, width uint8, pix []byte) {
		if width == 0 {
			return
		}
		for _, text := range Read(Picture{Width: int(width), Height: len(pix) / int(width), Pix: pix}) {
			if p, err := Parse(text); err == nil && p.String() != text {
				t.Errorf("%q", text)
			}
		}
	})
}

// A wall of corner marks without a code among them ends soon: what is looked at
// closely is bounded. The bound here is of triples, not of time.
func TestAWallOfMarksEnds(t *testing.T) {
	const side, unit, pitch = 900, 4, 56
	pic := Picture{Width: side, Height: side, Pix: bytes.Repeat([]byte{230}, side*side)}
	for i := range pic.Pix {
		x, y := (i%side)%pitch/unit-5, (i/side)%pitch/unit-5
		if r := max(x, -x, y, -y); r <= 3 && r != 2 {
			pic.Pix[i] = 20
		}
	}
	r := reading{levels: []Picture{pic}, room: new(room)}
	r.glance(0, 0)
	for _, w := range passes[1:] {
		r.look(0, w)
	}
	if text := r.readPairs(); text != "" {
		t.Errorf("read %q of two marks", text)
	}
	if len(r.marks) > maxMarks || len(r.tried) > triesAll || len(r.texts) > 0 {
		t.Errorf("%d marks, %d tried, read %q", len(r.marks), len(r.tried), r.texts)
	}
	if len(r.marks) < 20 {
		t.Errorf("%d marks seen of some two hundred", len(r.marks))
	}
}

// BenchmarkRead is the cost of pictures of some 1600 × 1067 without a code, in
// processor time too; the reference is the loop of ingest/look's benchmark, 10
// million steps.
func BenchmarkRead(b *testing.B) {
	b.Run("Reference", func(b *testing.B) {
		seed, from, n := uint32(1), spent(b), 0
		for b.Loop() {
			n++
			for range 10_000_000 {
				seed = seed*1664525 + 1013904223
			}
		}
		b.ReportMetric(float64(spent(b)-from)/float64(n), "cpu-ns/op")
		runtime.KeepAlive(seed)
	})
	none := make([][]bool, 2)
	for i := range none {
		none[i] = make([]bool, 2)
	}
	var crumbs, food []Picture
	for _, c := range []struct {
		name string
		make func() []Picture
	}{
		{"Crumbs", func() []Picture { // and grain
			for seed := uint64(1); len(crumbs) < 4; seed++ {
				crumbs = append(crumbs, photograph(none, shot{unit: 1, blur: 0.5 * float64(seed), grain: 5}, 1600, 1067, rand.New(rand.NewPCG(seed, 1))))
			}
			return crumbs
		}},
		{"Food", func() []Picture {
			files, _ := filepath.Glob(filepath.Join(photos, "food", "*.jpg"))
			for i := 10 * len(food); i < len(files); i += 10 {
				food = append(food, grey(b, files[i], 1600))
			}
			return food
		}},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			all := c.make()
			pixels, from := 0, spent(b)
			for b.Loop() {
				for _, p := range all {
					if Read(p) != nil {
						b.Fatal("a code was read")
					}
					pixels += p.Width * p.Height
				}
			}
			b.ReportMetric(float64(spent(b)-from)*1600*1067/float64(pixels), "cpu-ns/frame")
		})
	}
}

// spent is the processor time that the test has used.
func spent(b *testing.B) time.Duration {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
