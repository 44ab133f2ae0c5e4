package camera

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// samplesDir is where the goexif module keeps its camera JPEGs.
func samplesDir(t *testing.T) string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/rwcarlsen/goexif").Output()
	dir := filepath.Join(strings.TrimSpace(string(out)), "exif", "samples")
	if _, statErr := os.Stat(dir); err != nil || statErr != nil {
		t.Skipf("the goexif module is not in the module cache (%v): its samples can't be read", err)
	}
	return dir
}

func readFile(t *testing.T, path string) (Shot, []Preview, error) {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	s, err := Read(f, st.Size(), KindOf(path))
	if err != nil {
		if _, again := Previews(f, st.Size(), KindOf(path)); again == nil {
			t.Errorf("%s: Read refuses it (%v), Previews does not", filepath.Base(path), err)
		}
		return s, nil, err
	}
	p, err := Previews(f, st.Size(), KindOf(path))
	if err != nil {
		t.Errorf("%s: Read takes it, Previews says %v", filepath.Base(path), err)
	}
	return s, p, nil
}

// refused tells whether err is one of the two that this package refuses with.
func refused(err error) bool {
	var f *FormatError
	var u *UnsupportedError
	return errors.As(err, &f) || errors.As(err, &u)
}

// reading is what an independent reader says of one file, as text.
type reading map[string]string

// agreement counts by field how often the two readers agree.
type agreement struct {
	t           *testing.T
	fields      []string
	agree, from map[string]int
	explained   map[string]string // "file field": why we read otherwise
	used        map[string]bool
}

func newAgreement(t *testing.T, explained map[string]string) *agreement {
	return &agreement{t: t, agree: map[string]int{}, from: map[string]int{}, explained: explained, used: map[string]bool{}}
}

func (a *agreement) field(file, name, want, got string) {
	if want == "" && got == "" {
		return
	}
	if a.from[name] == 0 {
		a.fields = append(a.fields, name)
	}
	a.from[name]++
	if want == got {
		a.agree[name]++
		return
	}
	for _, key := range []string{file + " " + name, "* " + name + " " + want} {
		if _, ok := a.explained[key]; ok {
			a.used[key] = true
			return
		}
	}
	a.t.Errorf("%s: %s %q, the independent reader says %q", file, name, got, want)
}

func (a *agreement) report(what string) {
	for key, why := range a.explained {
		if !a.used[key] {
			a.t.Errorf("%s is explained (%s), but the readers agree on it", key, why)
		}
	}
	var out []string
	for _, f := range a.fields {
		out = append(out, fmt.Sprintf("%s %d/%d", f, a.agree[f], a.from[f]))
	}
	a.t.Logf("%s: %s", what, strings.Join(out, ", "))
	if len(out) == 0 {
		a.t.Errorf("%s: nothing was compared", what)
	}
}

// figure writes a number with the digits that the independent reader prints;
// 0 is not written.
func figure(v float64) string {
	if v == 0 {
		return ""
	}
	return strconv.FormatFloat(v, 'g', 10, 64)
}

// sameFigure brings the reader's number into the same form; a 0 or a word is
// not written.
func sameFigure(s string) string {
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsInf(v, 0) {
		return ""
	}
	return figure(v)
}

// moment is a wall clock as the independent reader prints it.
func moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("2006:01:02 15:04:05")
}

// written takes the reader's date if it is one.
func written(dates ...string) string {
	for _, s := range dates {
		if t, err := time.Parse("2006:01:02 15:04:05", strings.TrimSpace(s)); err == nil && t.Year() > 0 {
			return strings.TrimSpace(s)
		}
	}
	return ""
}

// subSecond is the fraction of both readers as nanoseconds.
func subSecond(s string) string {
	s = strings.TrimSpace(s)
	if _, err := strconv.ParseUint(s, 10, 64); err != nil {
		return ""
	}
	v, _ := strconv.ParseFloat("0."+s, 64)
	return nanoseconds(int(math.Round(v * 1e9)))
}

func nanoseconds(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

func compareSample(a *agreement, file string, s Shot, r reading) {
	a.field(file, "time", written(r["DateTimeOriginal"], r["CreateDate"]), moment(s.Taken))
	a.field(file, "focal length", sameFigure(r["FocalLength"]), figure(s.Exposure.FocalLength))
	if r["FNumber"] != "" {
		a.field(file, "f-number", sameFigure(r["FNumber"]), figure(s.Exposure.FNumber))
	} else { // from APEX, which we round to the two decimals that it can carry
		a.field(file, "f-number", hundredths(sameFigure(r["ApertureValue"])), figure(s.Exposure.FNumber))
	}
	a.field(file, "sub-seconds", subSecond(r["SubSecTimeOriginal"]), nanoseconds(s.Taken.Nanosecond()))
	if r["ExposureTime"] != "" {
		a.field(file, "shutter", sameFigure(r["ExposureTime"]), figure(s.Exposure.Seconds))
	} else {
		a.field(file, "shutter", sameFigure(r["ShutterSpeedValue"]), figure(s.Exposure.Seconds))
	}
	a.field(file, "ISO", sameFigure(r["ISO"]), figure(s.Exposure.ISO))
	a.field(file, "orientation", sameFigure(r["Orientation"]), figure(float64(s.Orientation)))
	a.field(file, "make", words(r["Make"]), s.Camera.Make)
	a.field(file, "model", words(r["Model"]), s.Camera.Model)
}

func hundredths(s string) string {
	v, _ := strconv.ParseFloat(s, 64)
	return figure(rounded(v, 2))
}

// onSamples says why we read otherwise than exiftool does, by file and field.
var onSamples = map[string]string{
	"geodegrees_as_string.jpg make": "IFD0 has an empty make, the Exif directory one that is written",
}

func pinnedSamples(t *testing.T) map[string]reading {
	t.Helper()
	f, err := os.Open("testdata/goexif_samples.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	c := csv.NewReader(f)
	c.Comment = '#'
	rows, err := c.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]reading{}
	for _, row := range rows[1:] {
		r := reading{}
		for i, v := range row {
			r[rows[0][i]] = v
		}
		out[r["file"]] = r
	}
	if len(out) != 57 {
		t.Fatalf("%d pinned samples, want 57", len(out))
	}
	return out
}

func TestGoexifSamplesAgreeWithAnIndependentReader(t *testing.T) {
	dir, pinned := samplesDir(t), pinnedSamples(t)
	files, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	a, seen := newAgreement(t, onSamples), 0
	for _, f := range files {
		s, _, err := readFile(t, filepath.Join(dir, f.Name()))
		if filepath.Ext(f.Name()) != ".jpg" {
			if !refused(err) {
				t.Errorf("%s: %v, want it refused: it is a bare Exif block", f.Name(), err)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", f.Name(), err)
			continue
		}
		if pinned[f.Name()] == nil {
			t.Errorf("%s is not in the pinned table", f.Name())
		}
		seen++
		compareSample(a, f.Name(), s, pinned[f.Name()])
	}
	if seen != 57 {
		t.Errorf("%d samples read, want 57", seen)
	}
	a.report("goexif samples, pinned")
}

// Where exiftool is installed it is asked anew, so that the pinned table can't
// drift from its source.
func TestGoexifSamplesAgreeWithExiftoolAsItRuns(t *testing.T) {
	tool, err := exec.LookPath("exiftool")
	if err != nil {
		t.Skip("exiftool (Debian libimage-exiftool-perl) is not installed; the pinned table stands for it")
	}
	dir := samplesDir(t)
	cut := t.TempDir()
	files, _ := filepath.Glob(filepath.Join(dir, "*.jpg"))
	args := []string{"-j", "-n"}
	for _, tag := range []string{"DateTimeOriginal", "SubSecTimeOriginal", "CreateDate", "FocalLength", "FNumber", "ApertureValue", "ExposureTime", "ShutterSpeedValue", "ISO", "Orientation", "Make", "Model"} {
		args = append(args, "-EXIF:"+tag)
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		_, block, _ := bytes.Cut(b, []byte("Exif\x00\x00")) // exiftool refuses a head alone as a JPEG
		to := filepath.Join(cut, filepath.Base(f)+".tif")
		if err := os.WriteFile(to, block, 0o644); err != nil {
			t.Fatal(err)
		}
		args = append(args, to)
	}
	out, err := exec.Command(tool, args...).Output()
	if len(out) == 0 {
		t.Fatalf("exiftool: %v", err)
	}
	a := newAgreement(t, onSamples)
	all := readings(t, out)
	for _, file := range slices.Sorted(maps.Keys(all)) {
		r := all[file]
		name := strings.TrimSuffix(filepath.Base(file), ".tif")
		s, _, err := readFile(t, filepath.Join(dir, name))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		compareSample(a, name, s, r)
	}
	a.report("goexif samples, exiftool as it runs")
}

// readings decodes exiftool's JSON with every number as it is printed.
func readings(t *testing.T, b []byte) map[string]reading {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(b))
	d.UseNumber()
	var list []map[string]any
	if err := d.Decode(&list); err != nil {
		t.Fatal(err)
	}
	out := map[string]reading{}
	for _, m := range list {
		r := reading{}
		for k, v := range m {
			switch v := v.(type) {
			case []any:
				var s []string
				for _, x := range v {
					s = append(s, fmt.Sprint(x))
				}
				r[k] = strings.Join(s, "|")
			default:
				r[k] = fmt.Sprint(v)
			}
		}
		out[r["SourceFile"]] = r
	}
	return out
}
