package optics

import (
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// rows reads a reference file: its rows by the names of its columns.
func rows(t *testing.T, name string, want int) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range all[1:] {
		m := map[string]string{}
		for i, v := range row {
			m[all[0][i]] = v
		}
		out = append(out, m)
	}
	if len(out) != want {
		t.Fatalf("%s: %d rows, want %d", name, len(out), want)
	}
	return out
}

// near reports whether got is the printed figure, to its last digit.
func near(got float64, printed string) bool {
	if printed == "inf" {
		return math.IsInf(got, 1)
	}
	want, err := strconv.ParseFloat(printed, 64)
	if err != nil {
		return false
	}
	_, decimals, _ := strings.Cut(printed, ".")
	half := 0.5 * math.Pow10(-len(decimals))
	return math.Abs(got-want) <= half*(1+1e-6)
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Every row of shared/reference/04_dof.csv: computed there, and found a second
// time by tracing blur discs.
func TestDepthOfField(t *testing.T) {
	for _, r := range rows(t, "04_dof.csv", 26) {
		l := Lens{Focal: number(t, r["f_mm"]), FNumber: number(t, r["N"])}
		u := number(t, r["u_mm"])
		d, err := l.At(u, number(t, r["c_mm"]))
		if err != nil {
			t.Errorf("%v: %v", r, err)
			continue
		}
		for column, got := range map[string]float64{
			"near_mm": d.Near, "far_mm": d.Far, "total_mm": d.Total(), "front_mm": d.Front(), "behind_mm": d.Behind(), "H_mm": d.Hyperfocal,
			"m": d.Magnification, "total_by_m_mm": d.Total(), "total_by_m_approx_mm": d.CloseUp, "sensor_dist_mm": d.FromSensor,
			"blur_at_infinity_mm": d.Infinity, "airy_diam_550nm_mm": d.Airy,
		} {
			if !near(got, r[column]) {
				t.Errorf("f=%s N=%s c=%s u=%s: %s = %v, want %s", r["f_mm"], r["N"], r["c_mm"], r["u_mm"], column, got, r[column])
			}
		}
		if back, err := l.FromSensor(d.FromSensor); err != nil || !(math.Abs(back-u) <= 1e-6*u) {
			t.Errorf("f=%s: %v mm from the sensor is %v from the lens, %v; want %v", r["f_mm"], d.FromSensor, back, err, u)
		}
	}
}

// Every figure of 04_dof_magnification.csv: the close-up rule.
func TestDepthByMagnification(t *testing.T) {
	for _, r := range rows(t, "04_dof_magnification.csv", 13) {
		m := number(t, r["m"])
		if r["m"] == "0.333333" { // a third, cut
			m = 1.0 / 3
		}
		for column, printed := range r {
			stop, ok := strings.CutPrefix(column, "f")
			n, err := strconv.ParseFloat(stop, 64)
			if !ok || err != nil {
				continue
			}
			l := Lens{Focal: 100, FNumber: n}
			d, err := l.At(l.Focal*(1+1/m), 0.030)
			if err != nil || !near(d.CloseUp, printed) {
				t.Errorf("m=%v f/%v: %v, %v; want %s", m, n, d.CloseUp, err, printed)
			}
		}
		if got := Full.Width / m; !near(got, r["field_w_mm"]) {
			t.Errorf("m=%v: field of %v mm, want %s", m, got, r["field_w_mm"])
		}
	}
}

const inch, foot = 25.4, 304.8 // mm

// Every row of 04_dof_published.csv: what others printed. Where a row differs
// it is by its circle of confusion: an army and a navy course take 0.002 inch
// (0.0508 mm), 1.69 times the 0.030 mm of this package, so that their
// hyperfocal distances are 1.69 times shorter; both leave + f out of H, 0.16 ft
// of 20.8; and the mailing list's 1996 figures, off by 0.9 and 2 inches, hide
// the circle that they were rounded with.
func TestPublishedExamples(t *testing.T) {
	at := func(f, n, u, c float64) Depth {
		d, err := Lens{Focal: f, FNumber: n}.At(u, c)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	army := at(2*inch, 8, 10_000, 0.002*inch)
	armyH := army.Hyperfocal - 2*inch // without + f
	navy := at(6.1*inch, 2.8, 10*foot, 0.002*inch)
	list := at(50, 2.8, 30*foot, 0.025)
	check := map[int]struct {
		got float64 // in the row's unit
		tol float64 // against "recomputed": half its last digit, and what their formula leaves out
	}{
		0:  {armyH / foot, 0.5e-4},
		1:  {at(2*inch, 8, army.Hyperfocal, 0.002*inch).Near / foot, 1.0/12 + 0.5e-4}, // half of an H that is f = 2 inches longer
		2:  {(navy.Hyperfocal - 6.1*inch) / foot, 0.005},
		3:  {navy.Near / foot, 10 * 6.1 / 12 / 553.72}, // HD/(H+D) leaves f out: D f/H
		4:  {navy.Far / foot, 10 * 6.1 / 12 / 553.72 * 1.04},
		5:  {2 * 10.2 * 9.8 / (10.2 + 9.8), 0.5e-4},
		6:  {at(50, 8, 1000, 0.03).Hyperfocal, 0.005},
		7:  {list.Near / foot, 0.5e-4},
		8:  {list.Far / foot, 0.5e-4},
		9:  {at(20, 11, 1000, 0.03).Hyperfocal - 20, 0.005},
		10: {50.0 / 8 / math.Tan(math.Pi/180/30), 0.005},
		11: {Full.Diagonal() / 1500, 0.5e-4},
	}
	agree := 0
	for i, r := range rows(t, "04_dof_published.csv", 12) {
		c := check[i]
		again, _, _ := strings.Cut(r["recomputed"], " ")
		if want := number(t, again); !(math.Abs(c.got-want) <= c.tol) {
			t.Errorf("%s %s: %v %s, recomputed there as %s", r["inputs"], r["quantity"], c.got, r["unit"], r["recomputed"])
		}
		if r["published"] == "" {
			continue
		}
		differs := c.got - number(t, r["published"])
		_, decimals, _ := strings.Cut(r["published"], ".")
		if r["agrees"] != "yes" {
			t.Logf("%s: printed %s %s, off by %+.3f: %s", r["source"], r["published"], r["unit"], differs, r["agrees"])
		} else if agree++; !(math.Abs(differs) <= c.tol+0.5*math.Pow10(-len(decimals))) {
			t.Errorf("%s %s: %v, printed %s", r["inputs"], r["quantity"], c.got, r["published"])
		}
		if off := math.Abs(differs) * 12; i == 7 && !(off > 0.8 && off < 1.0) || i == 8 && !(off > 1.9 && off < 2.1) {
			t.Errorf("row %d is off by %.2f inches, and its note says %s", i, off, r["agrees"])
		}
	}
	if agree != 8 {
		t.Errorf("%d rows agree, want 8", agree)
	}
	if ratio := 0.002 * inch / Full.Confusion(); !(math.Abs(ratio-1.69) <= 0.005) {
		t.Errorf("the army's circle is %.3f of ours, want 1.69", ratio)
	}
}

// Every angle of 04_angle_of_view.csv, published to one decimal.
func TestAngleOfView(t *testing.T) {
	for _, r := range rows(t, "04_angle_of_view.csv", 28) {
		f := number(t, r["focal_mm"])
		for side, mm := range map[string]float64{"h": Full.Width, "v": Full.Height, "d": Full.Diagonal()} {
			if got := AngleOfView(f, mm); !near(got, r[side+"_calc"]) || !near(got, r[side+"_pub"]) {
				t.Errorf("%v mm, %s: %v, want %s, published %s", f, side, got, r[side+"_calc"], r[side+"_pub"])
			}
		}
	}
}

func TestSensors(t *testing.T) {
	// Crop factors as the trade rounds them; from memory.
	for name, crop := range map[string]float64{"full": 1, "aps-c": 1.5, "mft": 2, "1-inch": 2.7, "medium": 0.79} {
		i := slices.IndexFunc(Sensors(), func(s Sensor) bool { return s.Name == name })
		if i < 0 {
			t.Errorf("no sensor %q", name)
			continue
		}
		s := Sensors()[i]
		if !(math.Abs(s.Crop()-crop) <= 0.035*crop) || !(math.Abs(s.Confusion()*s.Crop()-0.030) <= 1e-12) {
			t.Errorf("%s: crop %.3f, confusion %.4f; want %v and 0.030 over it", name, s.Crop(), s.Confusion(), crop)
		}
	}
	if c := Cropped(1.5); !(math.Abs(c.Crop()-1.5) <= 1e-12) || !(math.Abs(c.Width-24) <= 1e-12) {
		t.Errorf("crop 1.5: %+v", c)
	}
}

// traced is the blur disc on the sensor, millimetres, of a point at v from the
// front principal plane of a lens focused at u: by tracing two rays through the
// edges of the entrance pupil, as an independent way to the limits.
func traced(l Lens, u, v float64) float64 {
	m := l.Focal / (u - l.Focal)
	pupilAt := l.Focal * (1 - 1/l.Pupil) // before the principal plane
	edge := l.Focal / l.FNumber / 2
	// Where the ray from (v, 0) through (pupilAt, edge) meets the plane u.
	y := edge * (v - u) / (v - pupilAt)
	return 2 * math.Abs(y) * m
}

func TestLimitsByTracing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := Lens{Focal: rapid.Float64Range(10, 200).Draw(t, "focal"), FNumber: rapid.Float64Range(1, 32).Draw(t, "stop"), Pupil: rapid.Float64Range(0.5, 2).Draw(t, "pupil")}
		u := l.Focal * rapid.Float64Range(1.5, 100).Draw(t, "distance")
		c := rapid.Float64Range(0.005, 0.05).Draw(t, "circle")
		d, err := l.At(u, c)
		if err != nil {
			t.Fatal(err)
		}
		if got := traced(l, u, d.Near); !(math.Abs(got-c) <= 1e-6*c) {
			t.Errorf("a point at the near limit %v is spread over %v, want %v", d.Near, got, c)
		}
		if !math.IsInf(d.Far, 1) && d.Far < 1e6*u {
			if got := traced(l, u, d.Far); !(math.Abs(got-c) <= 1e-5*c) {
				t.Errorf("a point at the far limit %v is spread over %v, want %v", d.Far, got, c)
			}
		}
		if !(d.Near < u && u < d.Far) || math.IsInf(d.Far, 1) != (u >= d.Hyperfocal*(1-1e-12)) && math.Abs(u/d.Hyperfocal-1) > 1e-9 {
			t.Errorf("%+v", d)
		}
		// More of the light shut out is more depth, and so is a larger circle.
		l.FNumber *= 1.1
		if more, err := l.At(u, c); err != nil || !(more.Near < d.Near) || !(more.Far >= d.Far) {
			t.Errorf("stopped down: %+v, was %+v", more, d)
		}
	})
}

func TestAbove(t *testing.T) {
	l, c := Lens{Focal: 50, FNumber: 5.6}, Full.Confusion()
	// The row "50,4,0.03,600" of 04_dof.csv: from 584.5674 to 616.2695.
	a, err := Lens{Focal: 50, FNumber: 4}.Above(600, 0, c)
	if err != nil || !near(a.Table, "15.4326") || !near(a.Rim.To, "15.4326") || !near(-a.Rim.From, "16.2695") {
		t.Errorf("%+v, %v", a, err)
	}
	rapid.Check(t, func(t *rapid.T) {
		l := Lens{Focal: 50, FNumber: rapid.Float64Range(1.4, 22).Draw(t, "stop"), Pupil: rapid.Float64Range(0.6, 1.8).Draw(t, "pupil")}
		table := rapid.Float64Range(300, 2000).Draw(t, "table")
		rim := rapid.Float64Range(0, 100).Draw(t, "rim")
		a, err := l.Above(table, rim, c)
		if err != nil {
			t.Fatal(err)
		}
		best, err := l.At(table-a.Focus, c)
		if err != nil {
			t.Fatal(err)
		}
		if !(math.Abs(best.Far-table) <= 1e-6*table) || !(math.Abs(table-best.Near-a.Most) <= 1e-9*table) || !(a.Most > a.Table) || !(a.Focus > 0) {
			t.Errorf("table %v: %+v; its far limit is %v", table, a, best.Far)
		}
		onRim, err := l.At(table-rim, c)
		if err != nil || !(math.Abs(a.Rim.To-a.Rim.From-onRim.Total()) <= 1e-9*onRim.Total()) && !math.IsInf(onRim.Far, 1) || !(a.Rim.From < rim && rim < a.Rim.To) {
			t.Errorf("rim %v: %+v, %v", rim, a.Rim, err)
		}
	})
	for rim, want := range map[float64]error{560: ErrTooNear, 550: ErrTooNear, 549: nil} {
		if _, err := l.Above(600, rim, c); !errors.Is(err, want) {
			t.Errorf("a rim at %v mm: %v, want %v", rim, err, want)
		}
	}
}

func TestNoSuchLens(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	good := Lens{Focal: 50, FNumber: 8}
	for name, c := range map[string]struct {
		l    Lens
		u, c float64
		want error
	}{
		"no focal length":              {Lens{FNumber: 8}, 900, 0.03, ErrFocal},
		"focal length below 0":         {Lens{Focal: -50, FNumber: 8}, 900, 0.03, ErrFocal},
		"focal length NaN":             {Lens{Focal: nan, FNumber: 8}, 900, 0.03, ErrFocal},
		"focal length infinite":        {Lens{Focal: inf, FNumber: 8}, 900, 0.03, ErrFocal},
		"no aperture":                  {Lens{Focal: 50}, 900, 0.03, ErrFNumber},
		"aperture NaN":                 {Lens{Focal: 50, FNumber: nan}, 900, 0.03, ErrFNumber},
		"circle 0":                     {good, 900, 0, ErrConfusion},
		"circle NaN":                   {good, 900, nan, ErrConfusion},
		"pupil below 0":                {Lens{Focal: 50, FNumber: 8, Pupil: -1}, 900, 0.03, ErrPupil},
		"at the focal length":          {good, 50, 0.03, ErrTooNear},
		"within the focal length":      {good, 49, 0.03, ErrTooNear},
		"distance 0":                   {good, 0, 0.03, ErrTooNear},
		"distance NaN":                 {good, nan, 0.03, ErrTooNear},
		"distance infinite":            {good, inf, 0.03, ErrTooNear},
		"just beyond the focal length": {good, 50.001, 0.03, nil},
	} {
		d, err := c.l.At(c.u, c.c)
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
		if err == nil && strings.Contains(fmt.Sprint(d), "NaN") {
			t.Errorf("%s: %+v", name, d)
		}
	}
	for from, want := range map[float64]error{199: ErrTooNear, 200: nil, nan: ErrTooNear, inf: ErrTooNear} {
		if _, err := good.FromSensor(from); !errors.Is(err, want) {
			t.Errorf("%v mm from the sensor: %v, want %v", from, err, want)
		}
	}
}
