package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestCameraSamples takes the camera files that goexif carries for its own
// tests through the real commands: each is a frame of the shoot, or is refused
// by name with a reason.
func TestCameraSamples(t *testing.T) {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/rwcarlsen/goexif").Output()
	if err != nil || strings.TrimSpace(string(out)) == "" {
		t.Fatalf("goexif is not in the module cache, and this program rests on it: %v", err)
	}
	samples := filepath.Join(strings.TrimSpace(string(out)), "exif", "samples")
	entries, err := os.ReadDir(samples)
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) < 50 {
		t.Fatalf("%d samples in %s, want the 50 or more there were in 2019", len(entries), samples)
	}
	shoot := filepath.Join(t.TempDir(), "samples")
	if code, _, errs := called(t, "new", shoot, "--title", "Samples", "--trim", "189x246", "--days", "2026-03-02"); code != 0 {
		t.Fatal(errs)
	}
	code, said, errs := called(t, "ingest", samples, "--shoot", shoot)
	if code != 0 && code != 3 {
		t.Fatalf("ingest: exit code %d: %s", code, errs)
	}
	code, listed, errs := called(t, "frames", "--json", "--shoot", shoot)
	if code != 0 {
		t.Fatalf("frames: exit code %d: %s", code, errs)
	}
	var frames []struct {
		Files []struct{ Source string }
		Taken *string
		Error *string
	}
	if err := json.Unmarshal([]byte(listed), &frames); err != nil {
		t.Fatal(err)
	}
	inFrames := map[string]bool{}
	dated := 0
	for _, f := range frames {
		for _, file := range f.Files {
			inFrames[filepath.Base(file.Source)] = true
		}
		if f.Taken != nil {
			dated++
		}
		if f.Error != nil && len(f.Files) > 0 && !strings.Contains(said, filepath.Base(f.Files[0].Source)) {
			t.Errorf("%s could not be read whole, and ingest did not name it", f.Files[0].Source)
		}
	}
	for _, e := range entries {
		if !inFrames[e.Name()] && !strings.Contains(said, e.Name()) {
			t.Errorf("%s is neither a frame nor named", e.Name())
		}
	}
	if dated < 45 {
		t.Errorf("%d of %d frames have a time, want 45 or more: nearly all of these cameras wrote one", dated, len(frames))
	}
}

// TestCorruptFiles holds that broken files end in a line each, exit code 3.
func TestCorruptFiles(t *testing.T) {
	if testing.Short() {
		t.Skip("measures many files; what goes on at once in that, the script measure shows")
	}
	files, err := filepath.Glob("../../../shared/photos/corrupt/*.*")
	if err != nil || len(files) == 0 {
		t.Skip("shared/photos/corrupt is not beside the repository: broken files of other projects are not measured")
	}
	code, said, errs := called(t, append([]string{"measure", "--json"}, files...)...)
	if code != 3 || errs != "" {
		t.Fatalf("exit code %d, want 3; stderr %q", code, errs)
	}
	var all []facts
	if err := json.Unmarshal([]byte(said), &all); err != nil {
		t.Fatal(err)
	}
	if len(all) != len(files) {
		t.Fatalf("%d members, want %d, one a file", len(all), len(files))
	}
	wrong := 0
	for i, f := range all {
		if f.File != files[i] {
			t.Errorf("member %d is %s, want %s", i, f.File, files[i])
		}
		if f.Error != nil {
			wrong++
			if strings.TrimSpace(*f.Error) == "" || strings.Contains(*f.Error, "panic") || strings.Contains(*f.Error, "runtime error") {
				t.Errorf("%s: %q is no reason for people", f.File, *f.Error)
			}
		}
	}
	if wrong < len(files)/2 {
		t.Errorf("%d of %d files are called broken; this folder holds broken files", wrong, len(files))
	}
}
