package angle

import (
	"bufio"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"coverplate/ingest/catalogue"
)

// circleRow is a row of reference file 11_circle_perspective.csv: a circle of
// radius r whose centre lies right and away of the aim of a camera at distance
// d and elevation e, and the ellipse it becomes at a focal length of 1.
type circleRow struct {
	line                      int
	e, d, r, right, away      float64
	ratio, major, tilt, shift float64
	hasShift                  bool
}

func circleRows(t *testing.T) []circleRow {
	t.Helper()
	f, err := os.Open("testdata/11_circle_perspective.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var rows []circleRow
	sc := bufio.NewScanner(f)
	for n := 1; sc.Scan(); n++ {
		line := sc.Text()
		if strings.HasPrefix(line, "#") || strings.HasPrefix(line, "e_deg") {
			continue
		}
		c := strings.Split(line, ",")
		num := func(i int) float64 {
			v, err := strconv.ParseFloat(c[i], 64)
			if err != nil {
				t.Fatalf("line %d column %d: %v", n, i+1, err)
			}
			return v
		}
		row := circleRow{line: n, e: num(0), d: num(1), r: num(2), right: num(3), away: num(4),
			ratio: num(6), major: num(7), tilt: -num(12)} // the file's y goes up, ours down
		if row.e == 35.2644 {
			row.e = math.Asin(1/math.Sqrt(3)) * 180 / math.Pi // as the file's head has it
		}
		if c[9] != "" {
			row.shift, row.hasShift = num(9), true
		}
		rows = append(rows, row)
	}
	if len(rows) < 90 {
		t.Fatalf("%d rows of circles, want the 96 and more of the file", len(rows))
	}
	return rows
}

// projected is the exact image of the row's circle as a rim in a picture whose
// width is the focal length: its dual conic is carried through the camera
// (Hartley and Zisserman, Multiple View Geometry, from memory).
func (c circleRow) projected() catalogue.Rim {
	sin, cos := math.Sincos(c.e * math.Pi / 180)
	// The table's axes and the circle's centre as the camera sees them, x right,
	// y down, z forward; the camera looks at the aim from distance d.
	right := [3]float64{1, 0, 0}
	away := [3]float64{0, -sin, cos}
	var h [3][3]float64 // columns: right, away, centre
	for i := range 3 {
		centre := c.right*right[i] + c.away*away[i]
		if i == 2 {
			centre += c.d
		}
		h[i] = [3]float64{right[i], away[i], centre}
	}
	// Dual conic of the circle: diag(r², r², −1).
	var q [3][3]float64
	for i := range 3 {
		for j := range 3 {
			q[i][j] = c.r*c.r*(h[i][0]*h[j][0]+h[i][1]*h[j][1]) - h[i][2]*h[j][2]
		}
	}
	// An ellipse's dual conic, scaled to −1 in the corner, has its centre in the
	// last column and its covariance in the rest.
	x, y := q[0][2]/q[2][2], q[1][2]/q[2][2]
	k := -1 / q[2][2]
	sxx, sxy, syy := k*q[0][0]+x*x, k*q[0][1]+x*y, k*q[1][1]+y*y
	mean, diff := (sxx+syy)/2, math.Hypot((sxx-syy)/2, sxy)
	return catalogue.Rim{X: x + 0.5, Y: y + 0.5, A: math.Sqrt(mean + diff), B: math.Sqrt(mean - diff),
		Turn: math.Atan2(2*sxy, sxx-syy) / 2 * 180 / math.Pi, Score: 1, Cover: 1, Support: 1}
}

// Every row of the reference file, on the axis and off it: the projection has
// its figures, and the pose gives its elevation back.
func TestElevationOfReferenceCircles(t *testing.T) {
	for _, c := range circleRows(t) {
		rim := c.projected()
		if got := rim.B / rim.A; !(math.Abs(got-c.ratio) <= 1e-6) {
			t.Errorf("line %d: ratio %.7f, want %.6f", c.line, got, c.ratio)
		}
		if !(math.Abs(rim.A-c.major) <= 1e-8) {
			t.Errorf("line %d: semi-major %.9f, want %.8f", c.line, rim.A, c.major)
		}
		if c.e < 90 && c.right != 0 && !(math.Abs(rim.Turn-c.tilt) <= 1e-4) {
			t.Errorf("line %d: tilt %.5f, want %.4f", c.line, rim.Turn, c.tilt)
		}
		got, roll, ok := elevationOf(rim, 1, 1)
		// Near 90° the sine is flat: rounding of the 16th digit of a ratio
		// costs its root.
		tol := 1e-4
		if c.r < 0.01 { // a millionth of the distance
			tol = 0.01
		}
		if !ok || !(math.Abs(got-c.e) <= tol) {
			t.Errorf("line %d: elevation %.6f (%v), want %g", c.line, got, ok, c.e)
		}
		if c.e < 85 && !(math.Abs(roll) <= 0.01) {
			t.Errorf("line %d: roll %.4f, want 0", c.line, roll)
		}
		if !c.hasShift {
			continue
		}
		// And from the printed figures alone.
		printed := catalogue.Rim{X: 0.5, Y: 0.5 + c.shift, A: c.major, B: c.major * c.ratio}
		got, _, ok = elevationOf(printed, 1, 1)
		const digit = 0.5e-6 // the ratio has six decimals
		tol = min(digit/math.Cos(c.e*math.Pi/180), math.Sqrt(2*digit)) * 180 / math.Pi * 2
		if c.r < 0.01 { // eight decimals of a millionth
			tol = max(tol, 0.01)
		}
		if !ok || !(math.Abs(got-c.e) <= tol) {
			t.Errorf("line %d: elevation %.6f of the printed figures, want %g ± %g", c.line, got, c.e, tol)
		}
	}
}

// Off the axis the ratio alone errs by as much as the issue says: the pose is
// not a refinement.
func TestAsinErrsOffAxis(t *testing.T) {
	worst := 0.0
	for _, c := range circleRows(t) {
		rim := c.projected()
		worst = max(worst, math.Abs(math.Asin(rim.B/rim.A)*180/math.Pi-c.e))
	}
	if !(math.Abs(worst-18.7066) <= 1e-3) { // the file's largest naive_error_deg
		t.Errorf("asin errs by %.4f° at worst, want 18.7066", worst)
	}
}
