package main

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"coverplate/audit/angle"
	"coverplate/audit/plan"
	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
)

// TestRimsAgainstPhones holds the elevation of rims against the gravity that
// phones wrote into the same files: absolute truth, where labels are only eyes.
// The sensor is hidden from the judgement. Nothing was chosen on these figures;
// some of the files are among those that the weights were learnt on, by label.
func TestRimsAgainstPhones(t *testing.T) {
	if testing.Short() {
		t.Skip("decodes photographs")
	}
	var files []string
	for _, dir := range []string{"food", "exif"} {
		found, _ := filepath.Glob(filepath.Join(foodPhotos, "..", dir, "*.jp*g"))
		files = append(files, found...)
	}
	if len(files) == 0 {
		t.Skip("no photographs beside the repository")
	}
	var errors []float64
	with, called, wrong := 0, 0, 0
	for _, path := range files {
		e, ok := sensedExposure(path)
		if !ok {
			continue
		}
		with++
		seen, err := lookAtFile(path)
		if err != nil {
			continue
		}
		if long, short := max(seen.Width, seen.Height), min(seen.Width, seen.Height); math.Abs(float64(long)/float64(short)-4.0/3) > 0.01 {
			t.Logf("%s: %d × %d was cut: its axis is not the phone's", filepath.Base(path), long, short)
			continue // all these phones write 4:3
		}
		truth := -*e.Elevation
		e.Elevation = nil
		r := angle.Of(catalogue.Frame{Look: seen, Exposure: e})
		if r.Class == plan.UnknownAngle {
			t.Logf("%s: sensor %.1f°, %.0f mm: unknown; %s", filepath.Base(path), truth, e.Focal35, r.Why)
			continue
		}
		errors = append(errors, math.Abs(r.Elevation-truth))
		t.Logf("%s: sensor %.1f°, %.0f mm: %s %.1f ± %.1f", filepath.Base(path), truth, e.Focal35, r.Class, r.Elevation, r.PlusMinus)
		if r.Class == plan.Overhead {
			called++
			if truth < 73 { // a phone's level errs by a degree or so
				wrong++
				t.Errorf("%s: called overhead, the phone says %.1f°", filepath.Base(path), truth)
			}
		}
	}
	if len(errors) == 0 {
		t.Skip("no photograph with a sensor and a rim")
	}
	slices.Sort(errors)
	near, _ := slices.BinarySearch(errors, 3.0)
	t.Logf("%d photographs with gravity and focal length, %d judged: median error %.1f°, %d within 3°; %d called overhead, %d wrongly",
		with, len(errors), errors[len(errors)/2], near, called, wrong)
	if median := errors[len(errors)/2]; !(median <= 3) {
		t.Errorf("median error %.1f°, want 3° or less", median)
	}
}

// sensedExposure is the exposure of a file that gives gravity and focal length.
func sensedExposure(path string) (catalogue.Exposure, bool) {
	f, err := os.Open(path)
	if err != nil {
		return catalogue.Exposure{}, false
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return catalogue.Exposure{}, false
	}
	shot, err := camera.Read(f, info.Size(), catalogue.JPEG)
	if err != nil || shot.Exposure.Elevation == nil || shot.Exposure.ElevationFrom != catalogue.ByGravity || shot.Exposure.Focal35 == 0 {
		return catalogue.Exposure{}, false
	}
	return shot.Exposure, true
}
