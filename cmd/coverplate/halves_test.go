package main

import (
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"coverplate/audit"
	"coverplate/audit/crop"
	"coverplate/ingest"
)

// TestHalvesAgreeWithTheEye holds the judgement of halves against what one
// person saw in real food photographs before it was made
// (testdata/halves_by_eye.csv). The costly mistake is a half that is called
// good and is not. Size in pixels is set aside: the photographs are small.
func TestHalvesAgreeWithTheEye(t *testing.T) {
	if testing.Short() {
		t.Skip("measures some ninety photographs")
	}
	dir := filepath.Join("..", "..", "..", "shared", "photos", "food")
	if _, err := os.Stat(dir); err != nil {
		t.Skipf("the photographs to measure on are not here: %v", err)
	}
	f, err := os.Open(filepath.Join("..", "..", "testdata", "halves_by_eye.csv"))
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
	shapes := []crop.Shape{{Name: "4:5", Width: 4, Height: 5}, {Name: "1:1", Width: 5, Height: 5}, {Name: "3:4", Width: 3, Height: 4}}
	sides := []crop.Side{crop.Left, crop.Right, crop.Top, crop.Bottom}
	table := map[string]int{}
	for _, row := range rows[1:] {
		frame, err := ingest.Measure(filepath.Join(dir, row[0]))
		if err != nil {
			t.Errorf("%s: %v", row[0], err)
			continue
		}
		best := map[crop.Side]crop.Standing{}
		for _, s := range crop.Stand(audit.SceneOf(frame.Look), shapes) {
			if b, ok := best[s.Side]; !ok || rankOf(s.Works) > rankOf(b.Works) {
				best[s.Side] = s
			}
		}
		for i, side := range sides {
			eye, got := row[i+1], string(best[side].Works)
			table[eye+" "+got]++
			if eye == "no" && got == "yes" || eye == "yes" && got == "no" || eye == "unsure" && got == "yes" {
				t.Logf("%s %s: the eye says %s, the tool %s (%s)", row[0], side, eye, got, best[side].Why())
			}
		}
	}
	t.Log("eye \\ tool      yes  look    no")
	for _, eye := range []string{"yes", "unsure", "no"} {
		t.Log(fmt.Sprintf("%-12s %6d %5d %5d", eye, table[eye+" yes"], table[eye+" look"], table[eye+" no"]))
	}
	wrong, called := table["no yes"], table["no yes"]+table["unsure yes"]+table["yes yes"]
	t.Logf("called good and not good: %d of %d; all halves that are not good: %d", wrong, called, table["no yes"]+table["no look"]+table["no no"])
}

func rankOf(w crop.Works) int { return map[crop.Works]int{crop.No: 0, crop.Look: 1, crop.Yes: 2}[w] }
