package look

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"
)

// The rows say where a stored pixel is displayed; the source is in the head of
// testdata/orientation.csv (JEITA CP-3451 p.18).
func TestUprightAgainstExif(t *testing.T) {
	f, err := os.Open("testdata/orientation.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	const w, h = 24, 16
	stored := make([]int, w*h)
	for i := range stored {
		stored[i] = i
	}
	n := 0
	for _, row := range rows[1:] {
		o, err := strconv.Atoi(row[0])
		if err != nil {
			t.Fatal(err)
		}
		n++
		got, gw, gh := upright(stored, w, h, o)
		if size := strconv.Itoa(gw) + "x" + strconv.Itoa(gh); size != row[4] {
			t.Errorf("orientation %d: 24x16 becomes %s, want %s", o, size, row[4])
			continue
		}
		for y := range h {
			for x := range w {
				ux, uy := displayed(t, row[3], x, y, w, h)
				if g := got[uy*gw+ux]; g != y*w+x {
					t.Fatalf("orientation %d (%s): stored (%d,%d) is not displayed at (%d,%d)", o, row[3], x, y, ux, uy)
				}
			}
		}
		// The corner that the white block lands in, by the words of the row.
		ux, uy := displayed(t, row[3], 0, 0, w, h)
		corner := map[bool]string{true: "top", false: "bottom"}[uy == 0] + "-" + map[bool]string{true: "left", false: "right"}[ux == 0]
		if corner != row[5] {
			t.Errorf("orientation %d: corner %s, want %s", o, corner, row[5])
		}
	}
	if n != 8 {
		t.Errorf("%d orientations checked, want 8", n)
	}
	for _, o := range []int{-1, 0, 9, 65535} {
		if got, gw, gh := upright(stored, w, h, o); gw != w || gh != h || got[1] != 1 {
			t.Errorf("reserved orientation %d turned the picture", o)
		}
	}
}

// displayed evaluates a map such as "(h-1-y,x)".
func displayed(t *testing.T, m string, x, y, w, h int) (int, int) {
	t.Helper()
	values := map[string]int{"x": x, "y": y, "w-1-x": w - 1 - x, "h-1-y": h - 1 - y}
	a, b, ok := strings.Cut(strings.Trim(m, "()"), ",")
	if _, known := values[a]; !ok || !known {
		t.Fatalf("map %q", m)
	}
	if _, known := values[b]; !known {
		t.Fatalf("map %q", m)
	}
	return values[a], values[b]
}
