package colour

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"
)

// table reads a CSV of testdata by its header; it fails unless it has want rows.
func table(t testing.TB, name string, want int) []map[string]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	lines, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(lines) != want+1 {
		t.Fatalf("%s: %d rows, want %d", name, len(lines)-1, want)
	}
	var rows []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, h := range lines[0] {
			row[h] = line[i]
		}
		rows = append(rows, row)
	}
	return rows
}

func number(t testing.TB, row map[string]string, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(row[column], 64)
	if err != nil {
		t.Fatalf("column %q: %v in %v", column, err, row)
	}
	return v
}

func numbers(t testing.TB, row map[string]string, columns ...string) [3]float64 {
	t.Helper()
	return [3]float64{number(t, row, columns[0]), number(t, row, columns[1]), number(t, row, columns[2])}
}

// near fails unless got is within tol of want in each member; a NaN fails.
func near(t *testing.T, what string, got, want [3]float64, tol float64) {
	t.Helper()
	for i := range got {
		if !(math.Abs(got[i]-want[i]) <= tol) {
			t.Errorf("%s = %.9f, want %.9f", what, got, want)
			return
		}
	}
}

var bySheetName = map[string]*Space{"sRGB": SRGB, "AdobeRGB": AdobeRGB, "DisplayP3": DisplayP3}

func TestTheNinetySixReferenceColours(t *testing.T) {
	const tol = 1e-6 // the file's own advice; it prints eight decimals
	for _, row := range table(t, "02_rgb_xyz_lab.csv", 96) {
		s := bySheetName[row["space"]]
		if s == nil {
			t.Fatalf("no space %q", row["space"])
		}
		rgb := numbers(t, row, "R", "G", "B")
		id := row["space"] + " " + row["name"]
		linear := s.Linearise(Encoded{rgb[0] / 255, rgb[1] / 255, rgb[2] / 255})

		under65 := s.toWhite.times(vector{linear.R, linear.G, linear.B})
		near(t, id+": XYZ D65", under65, numbers(t, row, "X_D65", "Y_D65", "Z_D65"), tol)

		xyz := s.ToXYZ(linear)
		near(t, id+": XYZ D50", [3]float64{xyz.X, xyz.Y, xyz.Z}, numbers(t, row, "X_D50", "Y_D50", "Z_D50"), tol)
		lab := xyz.Lab()
		wantLab := numbers(t, row, "L_D50", "a_D50", "b_D50")
		near(t, id+": Lab D50", [3]float64{lab.L, lab.A, lab.B}, wantLab, tol)
		quick := s.Lab8(uint8(rgb[0]), uint8(rgb[1]), uint8(rgb[2]))
		near(t, id+": Lab8", [3]float64{quick.L, quick.A, quick.B}, wantLab, tol)

		back := s.Encode(s.FromXYZ(lab.XYZ()))
		near(t, id+": there and back", [3]float64{back.R * 255, back.G * 255, back.B * 255}, rgb, 1e-4) // Adobe's curve is endlessly steep at 0
	}
}

func TestTheTwentyFourChartPatches(t *testing.T) {
	const tol = 0.6e-3 // codes are printed with three decimals
	inGamut := 0
	for _, row := range table(t, "02_colorchecker24.csv", 24) {
		v := numbers(t, row, "L_2005", "a_2005", "b_2005")
		lab := Lab{v[0], v[1], v[2]}
		for _, c := range []struct {
			space  *Space
			suffix string
		}{{SRGB, "_from_Lab"}, {AdobeRGB, "_adobe_from_Lab"}} {
			linear := c.space.FromXYZ(lab.XYZ())
			e := c.space.Encode(linear)
			if linear.R < 0 { // of cyan, which the file continues along sRGB's straight toe
				e.R = linear.R * 12.92
			}
			want := numbers(t, row, "R"+c.suffix, "G"+c.suffix, "B"+c.suffix)
			near(t, row["name"]+" in "+c.space.Name(), [3]float64{e.R * 255, e.G * 255, e.B * 255}, want, tol)
		}
		rgb := numbers(t, row, "R_from_Lab", "G_from_Lab", "B_from_Lab")
		if row["in_sRGB"] == "1" {
			inGamut++
			want := fmt.Sprintf("#%02x%02x%02x", int(math.Round(rgb[0])), int(math.Round(rgb[1])), int(math.Round(rgb[2])))
			if got := lab.Hex(); got != want {
				t.Errorf("%s: Hex = %s, want %s", row["name"], got, want)
			}
		}
		vendor := SRGB.Lab8(uint8(number(t, row, "R_vendor")), uint8(number(t, row, "G_vendor")), uint8(number(t, row, "B_vendor")))
		if got, want := DeltaE2000(vendor, lab), number(t, row, "dE00_vendor"); !(math.Abs(got-want) <= 0.6e-3) {
			t.Errorf("%s: vendor's codes are %.4f from its Lab, want %.3f", row["name"], got, want)
		}
	}
	if inGamut != 23 {
		t.Errorf("%d patches in sRGB, want 23: all but cyan", inGamut)
	}
}

// The five digits that the Adobe RGB (1998) encoding and the four that
// IEC 61966-2-1 print, as 02_rgb_spaces.json of shared/reference quotes them.
func TestMatricesAsTheStandardsPrintThem(t *testing.T) {
	for _, c := range []struct {
		space *Space
		tol   float64
		want  matrix
	}{
		{SRGB, 0.5e-4, matrix{{0.4124, 0.3576, 0.1805}, {0.2126, 0.7152, 0.0722}, {0.0193, 0.1192, 0.9505}}},
		{AdobeRGB, 0.6e-5, matrix{{0.57667, 0.18556, 0.18823}, {0.29734, 0.62736, 0.07529}, {0.02703, 0.07069, 0.99134}}},
		// Of P3 the full precision of colour-science's derivation is quoted.
		{DisplayP3, 1e-12, matrix{{0.486570948648, 0.265667693169, 0.198217285234}, {0.22897456407, 0.691738521837, 0.079286914094}, {0, 0.045113381859, 1.043944368901}}},
	} {
		for i := range c.want {
			near(t, fmt.Sprintf("%s row %d", c.space.Name(), i), c.space.toWhite[i], c.want[i], c.tol)
		}
	}
}

// CAT_D65_to_D50_ICC of 02_rgb_spaces.json, which reproduces the colorants of
// three ArgyllCMS profiles and of LittleCMS's sRGB.
func TestAdaptationToTheICCsD50(t *testing.T) {
	got := adaptation(d65.tristimulus(), d50)
	want := matrix{
		{1.047886003223, 0.022918765175, -0.050216095312},
		{0.029581782498, 0.990483518491, -0.017078707704},
		{-0.009251880839, 0.015072607487, 0.751678133618},
	}
	for i := range want {
		near(t, fmt.Sprintf("row %d", i), got[i], want[i], 1e-12)
	}
}

func TestSharmasThirtyFourPairs(t *testing.T) {
	const tol = 0.5e-4 // the paper prints four decimals
	edges := 0
	for _, row := range table(t, "01_ciede2000_sharma34.csv", 34) {
		p, q := numbers(t, row, "L1", "a1", "b1"), numbers(t, row, "L2", "a2", "b2")
		a, b := Lab{p[0], p[1], p[2]}, Lab{q[0], q[1], q[2]}
		there, back := DeltaE2000(a, b), DeltaE2000(b, a)
		want := number(t, row, "dE00_published")
		if !(math.Abs(there-want) <= tol) || !(math.Abs(back-want) <= tol) {
			t.Errorf("pair %s: DeltaE2000 = %.5f there, %.5f back, want %.4f", row["pair"], there, back, want)
		}
		// The same equations at 50 digits.
		if want := number(t, row, "exact_snapped"); !(math.Abs(there-want) <= 1e-9) {
			t.Errorf("pair %s: DeltaE2000 = %.11f, want %.10f", row["pair"], there, want)
		}
		if row["edge"] == "1" {
			edges++
		}
	}
	if edges != 2 {
		t.Errorf("%d pairs with hues exactly 180° apart, want 2 (10 and 14)", edges)
	}
}

// distanceCase is one entry of "emd" in 03_palette_distance_cases.json.
type distanceCase struct {
	ID     string
	Metric string
	A, B   [][3]float64
	WA, WB []float64
	Cost   [][]float64
	EMD    float64
}

// TestEarthMoversDistances drives the flow itself, which also moves unequal
// masses and any ground distance; a case is divided by the mass it moves, as
// Rubner has it.
func TestEarthMoversDistances(t *testing.T) {
	text, err := os.ReadFile("testdata/03_palette_distance_cases.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct{ EMD []distanceCase }
	if err := json.Unmarshal(text, &file); err != nil {
		t.Fatal(err)
	}
	if len(file.EMD) != 14 {
		t.Fatalf("%d cases, want 14", len(file.EMD))
	}
	for _, c := range file.EMD {
		cost := flatCost(t, c)
		const parts = 1 << 40
		whole := func(ws []float64) (out []int64, sum int64) {
			for _, w := range ws {
				out = append(out, int64(math.Round(w*parts)))
				sum += out[len(out)-1]
			}
			return out, sum
		}
		supply, s := whole(c.WA)
		demand, d := whole(c.WB)
		got := transport(supply, demand, cost) / float64(min(s, d))
		if !(math.Abs(got-c.EMD) <= 1e-8) { // printed with nine decimals, three before the point
			t.Errorf("%s: %.10f, want %.9f", c.ID, got, c.EMD)
		}
		if c.Metric != "ciede2000" {
			continue
		}
		if got := PaletteDistance(swatchesOf(c.A, c.WA), swatchesOf(c.B, c.WB)); !(math.Abs(got-c.EMD) <= 1e-8) {
			t.Errorf("%s: PaletteDistance = %.10f, want %.9f", c.ID, got, c.EMD)
		}
	}
}

func flatCost(t *testing.T, c distanceCase) []float64 {
	t.Helper()
	var cost []float64
	for _, row := range c.Cost {
		cost = append(cost, row...)
	}
	for _, p := range c.A {
		for _, q := range c.B {
			switch c.Metric {
			case "euclid":
				cost = append(cost, math.Sqrt((p[0]-q[0])*(p[0]-q[0])+(p[1]-q[1])*(p[1]-q[1])+(p[2]-q[2])*(p[2]-q[2])))
			case "ciede2000":
				cost = append(cost, DeltaE2000(Lab{p[0], p[1], p[2]}, Lab{q[0], q[1], q[2]}))
			default:
				t.Fatalf("%s: metric %q", c.ID, c.Metric)
			}
		}
	}
	return cost
}

func swatchesOf(labs [][3]float64, shares []float64) []Swatch {
	var out []Swatch
	for i, l := range labs {
		out = append(out, Swatch{Lab: Lab{l[0], l[1], l[2]}, Share: shares[i]})
	}
	return out
}
