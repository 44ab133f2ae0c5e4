package main

import (
	"bytes"
	"encoding/csv"
	"image/jpeg"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"coverplate/audit"
	"coverplate/audit/crop"
	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

// The protocol of halves: all was tuned on the photographs of three
// repositories; those of the others were only ever counted.
var tunedOn = map[string]bool{"htc": true, "chd": true, "tim": true}

// byEyeShapes are the shapes of a post, size in pixels set aside: the
// photographs are small.
var byEyeShapes = []crop.Shape{{Name: "4:5", Width: 4, Height: 5}, {Name: "1:1", Width: 5, Height: 5}, {Name: "3:4", Width: 3, Height: 4}}

// bestHalves is the best answer for each half, over the shapes.
func bestHalves(l catalogue.Look) map[crop.Side]crop.Standing {
	best := map[crop.Side]crop.Standing{}
	for _, s := range crop.Stand(audit.SceneOf(l), byEyeShapes) {
		if b, ok := best[s.Side]; !ok || s.Works.Rank() > b.Works.Rank() || s.Works == b.Works && s.Score > b.Score {
			best[s.Side] = s
		}
	}
	return best
}

// halfTally counts answers by what is true.
type halfTally map[string]map[crop.Works]int

func (h halfTally) add(truth string, got crop.Works) {
	if h[truth] == nil {
		h[truth] = map[crop.Works]int{}
	}
	h[truth][got]++
}

func (h halfTally) log(t *testing.T, what string) {
	t.Helper()
	t.Logf("%s: truth \\ tool   yes  look    no", what)
	for _, truth := range []string{"yes", "unsure", "no"} {
		t.Logf("%26s %5d %5d %5d", truth, h[truth][crop.Yes], h[truth][crop.Look], h[truth][crop.No])
	}
	bad := h["no"][crop.Yes] + h["no"][crop.Look] + h["no"][crop.No]
	called := h["yes"][crop.Yes] + h["unsure"][crop.Yes] + h["no"][crop.Yes]
	good := h["yes"][crop.Yes] + h["yes"][crop.Look] + h["yes"][crop.No]
	t.Logf("  not good and called good: of those called %s; of those that are not good %s", wilson(h["no"][crop.Yes], called), wilson(h["no"][crop.Yes], bad))
	t.Logf("  good and called good: %s", wilson(h["yes"][crop.Yes], good))
}

func splitOf(name string) string {
	if tunedOn[name[:3]] {
		return "tuned on"
	}
	return "kept back"
}

// every picks photographs: all with COVERPLATE_ALL_PHOTOS=1, else one in n.
func every(n int) int {
	if os.Getenv("COVERPLATE_ALL_PHOTOS") != "" {
		return 1
	}
	return n
}

// inPairs calls f with 0 … n−1, two at a time.
func inPairs(n int, f func(i int)) {
	work := make(chan int)
	var wg sync.WaitGroup
	for range 2 {
		wg.Go(func() {
			for i := range work {
				f(i)
			}
		})
	}
	for i := range n {
		work <- i
	}
	close(work)
	wg.Wait()
}

// readNotes reads a CSV file of testdata, its head left out.
func readNotes(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", name))
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
	return rows[1:]
}

// TestHalvesAgreeWithTheEye holds the judgement of halves against what one
// person saw in real food photographs before it was made
// (testdata/halves_by_eye.csv). The costly mistake is a half that is called
// good and is not.
func TestHalvesAgreeWithTheEye(t *testing.T) {
	if testing.Short() {
		t.Skip("measures photographs")
	}
	if _, err := os.Stat(foodPhotos); err != nil {
		t.Skipf("the photographs to measure on are not here: %v", err)
	}
	rows := readNotes(t, "halves_by_eye.csv")
	if len(rows) != 247 {
		t.Fatalf("%d photographs are judged, want 247", len(rows))
	}
	step := every(6)
	tallies := map[string]halfTally{"tuned on": {}, "kept back": {}}
	var one sync.Mutex
	inPairs((len(rows)+step-1)/step, func(i int) {
		row := rows[i*step]
		seen, err := lookAtFile(filepath.Join(foodPhotos, row[0]))
		if err != nil {
			t.Errorf("%s: %v", row[0], err)
			return
		}
		best := bestHalves(seen)
		one.Lock()
		defer one.Unlock()
		for i, side := range []crop.Side{crop.Left, crop.Right, crop.Top, crop.Bottom} {
			eye, got := row[i+1], best[side].Works
			tallies[splitOf(row[0])].add(eye, got)
			if eye != string(got) && (eye == "yes" || got == crop.Yes) {
				t.Logf("%s %s: the eye says %s, the tool %s (%s)", row[0], side, eye, got, best[side].Why())
			}
		}
	})
	wrong, bad := 0, 0
	for split, h := range tallies {
		h.log(t, split)
		wrong, bad = wrong+h["no"][crop.Yes], bad+h["no"][crop.Yes]+h["no"][crop.Look]+h["no"][crop.No]
	}
	if bad < 100 || wrong*100 > bad {
		t.Errorf("%d of %d halves that are not good are called good", wrong, bad)
	}
}

// TestHalvesOfComposedFrames composes frames of which it is known which half
// holds a dish: see compose_test.go. The rims were marked by hand (labels.csv),
// and frames in which one person could not say what stands alone are left out
// (testdata/halves_composed.csv).
func TestHalvesOfComposedFrames(t *testing.T) {
	if testing.Short() {
		t.Skip("measures pictures")
	}
	unclear := map[[2]string]bool{}
	for _, row := range readNotes(t, "halves_composed.csv") {
		unclear[[2]string{row[0], row[1]}] = true
	}
	type frame struct {
		marked
		how string
	}
	var all []frame
	for i, m := range markedPhotos(t) {
		for _, how := range [][]string{{layLeft, layTop}, {layMiddle, layTop}, {layTwice}}[i%3] {
			if !unclear[[2]string{m.name, how}] {
				all = append(all, frame{m, how})
			}
		}
	}
	step := every(5)
	tallies := map[string]halfTally{"tuned on": {}, "kept back": {}}
	var one sync.Mutex
	inPairs((len(all)+step-1)/step, func(i int) {
		f := all[i*step]
		var buf bytes.Buffer
		if err := jpeg.Encode(&buf, composed(f.marked, f.how), &jpeg.Options{Quality: 90}); err != nil {
			t.Error(err)
			return
		}
		seen, err := look.At(bytes.NewReader(buf.Bytes()), int64(buf.Len()), catalogue.JPEG, camera.Shot{Orientation: 1})
		if err != nil {
			t.Errorf("%s %s: %v", f.name, f.how, err)
			return
		}
		best := bestHalves(seen.Look)
		one.Lock()
		defer one.Unlock()
		for side, good := range f.truth(f.how, byEyeShapes) {
			truth := "no"
			if good {
				truth = "yes"
			}
			got := best[side].Works
			tallies[splitOf(f.name)].add(truth, got)
			if good != (got == crop.Yes) && (good || got == crop.Yes) {
				t.Logf("%s %s, %s: truly %s, the tool says %s (%s)", f.name, f.how, side, truth, got, best[side].Why())
			}
		}
	})
	var good, found, bad, wrong int
	for split, h := range tallies {
		h.log(t, split)
		good, found = good+h["yes"][crop.Yes]+h["yes"][crop.Look]+h["yes"][crop.No], found+h["yes"][crop.Yes]
		bad, wrong = bad+h["no"][crop.Yes]+h["no"][crop.Look]+h["no"][crop.No], wrong+h["no"][crop.Yes]
	}
	// At most one in twenty that are called good may be bad, and of the good
	// ones well over half must be found.
	if good < 10 || bad < 30 || wrong*20 > found+wrong || found*3 < good*2 {
		t.Errorf("of %d good halves %d are called good, of %d bad ones %d", good, found, bad, wrong)
	}
}
