package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"coverplate/audit/angle"
	"coverplate/audit/plan"
	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

// foodPhotos holds 247 food photographs with the angle that people gave them,
// each by the repository of the cook it comes from; it is no part of the
// project.
const foodPhotos = "../../../shared/photos/food"

// foodPhoto is one of them. Its elevation is asin of the rim's axes, as the
// label's is: perspective is left out on both sides, and so is the focal
// length that some of the files give.
type foodPhoto struct {
	file, source string
	angle        plan.Angle // "unclear" where people could not tell
	elevation    float64    // degrees; 0 where the label has none
	rim          string     // visible: "yes", "partial" or "no"
	frame        catalogue.Frame
	exposure     catalogue.Exposure // what the file gives of its lens; most give nothing
}

// elevation is that of the surest rim alone.
func surestRim(f catalogue.Frame) (score, elevation float64, ok bool) {
	if len(f.Look.Rims) == 0 {
		return 0, 0, false
	}
	r := f.Look.Rims[0]
	return r.Score, math.Asin(r.B/r.A) * 180 / math.Pi, true
}

// readFoodPhotos reads one photograph in step, in the order of their names.
func readFoodPhotos(t *testing.T, step int) []foodPhoto {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(foodPhotos, "labels.csv"))
	if err != nil {
		t.Skip("no labelled food photographs: ", err)
	}
	rows, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	rows = rows[1:]
	slices.SortFunc(rows, func(a, b []string) int { return strings.Compare(a[column["file"]], b[column["file"]]) })
	var photos []foodPhoto
	for i, r := range rows {
		if i%step != 0 {
			continue
		}
		p := foodPhoto{file: r[column["file"]], source: r[column["source"]], angle: plan.Angle(r[column["angle"]]), rim: r[column["rim_visible"]]}
		if s := r[column["elev_deg"]]; s != "" {
			if p.elevation, err = strconv.ParseFloat(s, 64); err != nil {
				t.Fatalf("labels.csv, %s: %v", p.file, err)
			}
		}
		photos = append(photos, p)
	}
	inPairs(len(photos), func(i int) {
		seen, exposure, err := lookAndRead(filepath.Join(foodPhotos, photos[i].file))
		if err != nil {
			t.Errorf("%s: %v", photos[i].file, err)
		}
		photos[i].frame.Look, photos[i].exposure = seen, exposure
	})
	return photos
}

// lookedAt holds what tests have looked at already: several judge the same
// photographs, and a look costs far more than a judgement.
var lookedAt sync.Map // path to looked

type looked struct {
	look     catalogue.Look
	exposure catalogue.Exposure
	err      error
}

func lookAtFile(path string) (catalogue.Look, error) {
	seen, _, err := lookAndRead(path)
	return seen, err
}

// lookAndRead also gives what the camera wrote of the exposure, its level or
// gravity left out.
func lookAndRead(path string) (catalogue.Look, catalogue.Exposure, error) {
	if l, ok := lookedAt.Load(path); ok {
		l := l.(looked)
		return l.look, l.exposure, l.err
	}
	f, err := os.Open(path)
	if err != nil {
		return catalogue.Look{}, catalogue.Exposure{}, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return catalogue.Look{}, catalogue.Exposure{}, err
	}
	shot, err := camera.Read(f, info.Size(), catalogue.JPEG)
	if err != nil {
		shot = camera.Shot{Orientation: 1}
	}
	seen, err := look.At(f, info.Size(), catalogue.JPEG, shot)
	shot.Exposure.Elevation = nil
	lookedAt.Store(path, looked{seen.Look, shot.Exposure, err})
	return seen.Look, shot.Exposure, err
}

// learn chooses the weights by a fixed rule on the given photographs: the
// trust in a score by logistic regression of whether the surest rim is within
// 6° of the label (or in its class, where the label has no degrees); the mark
// of an overhead as one step above the lowest of 0.50, 0.55 … 0.95 at which none
// is called that is labelled otherwise, "unclear" among them; the other mark as
// the lowest at which seven of eight of the other classes are right. How much
// straight edges and focus count is not learnt here: see DEVELOPERS.md.
func learn(photos []foodPhoto) angle.Weights {
	var scores []float64
	var right []bool
	for _, p := range photos {
		s, e, ok := surestRim(p.frame)
		if !ok || p.angle == "unclear" {
			continue
		}
		good := plan.AngleOf(e) == p.angle
		if p.elevation != 0 {
			good = math.Abs(e-p.elevation) <= 6
		}
		scores, right = append(scores, s), append(right, good)
	}
	w := angle.DefaultWeights()
	w.Intercept, w.Slope = logistic(scores, right)
	type call struct {
		overhead, right bool
		confidence      float64
	}
	var calls []call
	for _, p := range photos {
		all := w
		all.Overhead, all.Named = 0.5, 0.5
		r := all.Of(p.frame)
		if r.Class != plan.UnknownAngle {
			calls = append(calls, call{r.Class == plan.Overhead, r.Class == p.angle, r.Confidence})
		}
	}
	lowest := func(overhead bool, enough float64) float64 {
		for step := range 10 {
			mark := float64(50+5*step) / 100
			called, good := 0, 0
			for _, c := range calls {
				if c.overhead == overhead && c.confidence >= mark {
					called++
					if c.right {
						good++
					}
				}
			}
			if float64(good) >= enough*float64(called) {
				return mark
			}
		}
		return 0.95
	}
	w.Overhead, w.Named = min(0.95, lowest(true, 1)+0.05), lowest(false, 0.875)
	return w
}

// logistic fits the chance of right by 1/(1+exp(−a−b·x)) by Newton's method,
// with a hundredth of a count of ridge so that it ends whatever the data.
func logistic(x []float64, right []bool) (a, b float64) {
	for range 50 {
		ga, gb, haa, hab, hbb := -0.01*a, -0.01*b, 0.01, 0.0, 0.01
		for i, v := range x {
			p := 1 / (1 + math.Exp(-a-b*v))
			d := -p
			if right[i] {
				d = 1 - p
			}
			q := p * (1 - p)
			ga, gb = ga+d, gb+d*v
			haa, hab, hbb = haa+q, hab+q*v, hbb+q*v*v
		}
		det := haa*hbb - hab*hab
		a, b = a+(hbb*ga-hab*gb)/det, b+(haa*gb-hab*ga)/det
	}
	return a, b
}

// wilson is the 95 % score interval of k of n (Wilson 1927).
func wilson(k, n int) string {
	if n == 0 {
		return "none"
	}
	least, most := wilsonOf(k, n)
	return fmt.Sprintf("%d of %d = %.3f (%.3f … %.3f)", k, n, float64(k)/float64(n), least, most)
}

func wilsonOf(k, n int) (least, most float64) {
	const z = 1.959964
	p, m := float64(k)/float64(n), float64(n)
	mid := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return max(0, mid-half), min(1, mid+half)
}

// TestAngleOfFoodPhotographs measures the angle on photographs of cooks whose
// other photographs chose nothing: each repository is judged by weights that
// were learnt on all the others, and the judgements are pooled. That is done
// with COVERPLATE_ALL_PHOTOS=1; else one photograph in three is judged, by the
// product's weights: too few to learn from, and too few to hold a share to
// more than its 95 % interval.
func TestAngleOfFoodPhotographs(t *testing.T) {
	if testing.Short() {
		t.Skip("decodes photographs")
	}
	step := every(3)
	photos := readFoodPhotos(t, step)
	var sources []string
	for _, p := range photos {
		if !slices.Contains(sources, p.source) {
			sources = append(sources, p.source)
		}
	}
	classes := []plan.Angle{plan.Overhead, plan.High, plan.ThreeQuarter, plan.Low}
	said := map[plan.Angle]map[plan.Angle]int{}
	var lensed, lensedFlags, lensedRight, lensedClasses int // with what files give of the lens
	var flags, flagsRight, overheads, seen, seenRight, answered, answeredRight int
	var errors []float64
	var table strings.Builder
	fmt.Fprintf(&table, "%-42s %5s %9s %7s %13s %13s  weights of the others\n", "held out", "n", "answered", "right", "flags right", "recall")
	for _, held := range sources {
		var others []foodPhoto
		for _, p := range photos {
			if p.source != held {
				others = append(others, p)
			}
		}
		w := angle.DefaultWeights()
		if step == 1 {
			w = learn(others)
		}
		var n, a, ar, fl, fr, ov int
		for _, p := range photos {
			if p.source != held {
				continue
			}
			r := w.Of(p.frame)
			n++
			if p.exposure.Focal35 > 0 {
				withLens := p.frame
				withLens.Exposure = p.exposure
				q := w.Of(withLens)
				lensed++
				if q.Class == p.angle {
					lensedClasses++
				}
				if q.Class == plan.Overhead {
					lensedFlags++
					if q.Class == p.angle {
						lensedRight++
					} else {
						t.Logf("%s, its lens known, is called overhead (%.2f, %s), its label is %s %.1f", p.file, q.Overhead, q.Why, p.angle, p.elevation)
					}
				}
			}
			if said[p.angle] == nil {
				said[p.angle] = map[plan.Angle]int{}
			}
			said[p.angle][r.Class]++
			right := r.Class == p.angle
			if r.Class != plan.UnknownAngle {
				a++
				if right {
					ar++
				}
			}
			if p.angle == plan.Overhead {
				ov++
				if p.rim == "yes" {
					seen++
					if right {
						seenRight++
					}
				}
			}
			if r.Class == plan.Overhead {
				fl++
				if right {
					fr++
				} else {
					t.Logf("%s is called overhead (%.2f, %s), its label is %s %.1f", p.file, r.Overhead, r.Why, p.angle, p.elevation)
				}
			}
			if p.rim == "yes" && p.elevation != 0 && r.Known {
				errors = append(errors, math.Abs(r.Elevation-p.elevation))
			}
		}
		fmt.Fprintf(&table, "%-42s %5d %9d %7d %6d of %3d %6d of %3d  trust %.2f%+.2f·s, overhead %.2f, others %.2f\n", held, n, a, ar, fr, fl, fr, ov, w.Intercept, w.Slope, w.Overhead, w.Named)
		flags, flagsRight, overheads, answered, answeredRight = flags+fl, flagsRight+fr, overheads+ov, answered+a, answeredRight+ar
	}
	fmt.Fprintf(&table, "\n%-14s", "label \\ said")
	columns := append(slices.Clone(classes), plan.UnknownAngle)
	for _, c := range columns {
		fmt.Fprintf(&table, "%14s", c)
	}
	for _, c := range append(slices.Clone(classes), "unclear") {
		fmt.Fprintf(&table, "\n%-14s", c)
		for _, s := range columns {
			fmt.Fprintf(&table, "%14d", said[c][s])
		}
	}
	slices.Sort(errors)
	within := func(d float64) float64 {
		k, _ := slices.BinarySearch(errors, d)
		return 100 * float64(k) / float64(len(errors))
	}
	fmt.Fprintf(&table, "\n\noverhead precision          %s\noverhead recall             %s\noverhead recall, rim seen   %s\nanswered                    %s\nclass right of answered     %s\n",
		wilson(flagsRight, flags), wilson(flagsRight, overheads), wilson(seenRight, seen), wilson(answered, len(photos)), wilson(answeredRight, answered))
	median, p90 := errors[len(errors)/2], errors[len(errors)*9/10]
	fmt.Fprintf(&table, "elevation, rim seen (%d)   median error %.1f°, nine of ten within %.1f°; within 3° %.0f %%, 5° %.0f %%, 10° %.0f %%\n",
		len(errors), median, p90, within(3), within(5), within(10))
	fmt.Fprintf(&table, "of %d whose file gives the focal length, judged with it: %d of %d overhead flags right, %d of all\n", lensed, lensedRight, lensedFlags, lensedClasses)
	t.Logf("one photograph in %d; of all of them each repository is judged by weights learnt on the others:\n%s", step, table.String())

	// What the issue asks for. Reached were 67 of 67, 67 of 81 and 47 of 49: one
	// wrong call, six more misses and none are the margins.
	if !(float64(flagsRight) >= 0.98*float64(flags)) {
		t.Errorf("overhead precision %s, want 0.98", wilson(flagsRight, flags))
	}
	enough := func(k, n int, share float64) bool {
		if step > 1 {
			_, most := wilsonOf(k, n)
			return most >= share
		}
		return float64(k) >= share*float64(n)
	}
	if !enough(flagsRight, overheads, 0.75) {
		t.Errorf("overhead recall %s, want 0.75", wilson(flagsRight, overheads))
	}
	if !enough(seenRight, seen, 0.95) {
		t.Errorf("overhead recall where a rim is seen %s, want 0.95", wilson(seenRight, seen))
	}
	if !(median <= 1.5) {
		t.Errorf("median error of elevation %.1f°, want 1.5° or less", median)
	}
	if step > 1 {
		return
	}
	// What the product uses is what the rule learns on all.
	d, all := angle.DefaultWeights(), learn(photos)
	t.Logf("learnt on all: trust %.2f%+.2f·s, overhead %.2f, others %.2f", all.Intercept, all.Slope, all.Overhead, all.Named)
	if math.Abs(d.Intercept-all.Intercept) > 0.1 || math.Abs(d.Slope-all.Slope) > 0.2 || math.Abs(d.Overhead-all.Overhead) > 0.051 || math.Abs(d.Named-all.Named) > 0.051 {
		t.Errorf("DefaultWeights %+v are not what the rule learns on all photographs, %+v", d, all)
	}
}
