package rehearsal

import (
	"context"
	"crypto/sha256"
	"encoding/csv"
	"errors"
	"fmt"
	"image"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

// script is the rehearsal of March 2026, on the wall clock of a studio that is
// an hour ahead of UTC.
func script(longSide int) Script {
	return Script{LongSide: longSide, First: time.Date(2026, 3, 4, 0, 0, 0, 0, time.FixedZone("Skerry", 3600))}
}

// sums is a line a file below dir: path and SHA-256.
func sums(t *testing.T, dir string) []string {
	t.Helper()
	var all []string
	err := filepath.WalkDir(dir, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(p)
		rel, _ := filepath.Rel(dir, p)
		all = append(all, fmt.Sprintf("%s %x", filepath.ToSlash(rel), sha256.Sum256(b)))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func TestTheSameCallWritesTheSameBytes(t *testing.T) {
	a, b := t.TempDir(), t.TempDir()
	s, err := Write(t.Context(), a, script(240))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Write(t.Context(), b, script(240)); err != nil {
		t.Fatal(err)
	}
	one, two := sums(t, a), sums(t, b)
	if !slices.Equal(one, two) {
		t.Error("two runs differ")
	}
	for _, name := range append(append([]string{}, s.Unread...), s.Unplaced...) {
		if !slices.ContainsFunc(one, func(l string) bool { return strings.HasPrefix(l, name+" ") }) {
			t.Errorf("%s was not written", name)
		}
	}
	if len(s.Truths) < 50 || len(s.Truths) > 70 {
		t.Errorf("%d frames, want 50 to 70", len(s.Truths))
	}
}

func TestNamesAreThoseOfDCF(t *testing.T) {
	// Three digits and five characters, four characters and four digits:
	// reference/07_dcf_cases.csv.
	good := regexp.MustCompile(`^DCIM/[1-9][0-9]{2}[0-9A-Z_]{5}/[0-9A-Z_]{4}[0-9]{4}\.JPG$`)
	stems := map[string]map[string]bool{}
	seen := map[string]bool{}
	for _, e := range script(LongSide).exposures() {
		if seen[e.file()] {
			t.Errorf("%s is written twice", e.file())
		}
		seen[e.file()] = true
		name := e.dir + "/" + e.name
		if strings.HasPrefix(name, "DCIM") && !good.MatchString(name) || strings.HasSuffix(e.name, "0000.JPG") {
			t.Errorf("%s is no DCF name", name)
		}
		if stems[e.name] == nil {
			stems[e.name] = map[string]bool{}
		}
		stems[e.name][e.cam.card] = true
	}
	shared := 0
	for _, cards := range stems {
		if len(cards) == 2 {
			shared++
		}
	}
	if shared == 0 {
		t.Error("the two bodies share no file name")
	}
}

func TestPlanAndTruthsAgree(t *testing.T) {
	s := script(LongSide).bookOf(script(LongSide).exposures())
	rows, err := csv.NewReader(strings.NewReader(string(s.Plan))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	needs := map[string][]string{}
	for _, r := range rows[1:] {
		for _, n := range strings.Split(r[7], ";") {
			needs[r[0]] = append(needs[r[0]], strings.TrimSpace(n))
		}
	}
	if len(needs) != 12 {
		t.Fatalf("%d recipes, want a dozen", len(needs))
	}
	// Every need but palettes is either chosen once or a gap, never neither.
	chosen := map[[2]string]int{}
	for _, c := range s.Choices {
		chosen[[2]string{c.Recipe, c.Need}]++
		if !slices.Contains(needs[c.Recipe], c.Need) {
			t.Errorf("%v is chosen and not wanted", c)
		}
	}
	gap := map[[2]string]string{}
	for _, g := range s.Gaps {
		gap[[2]string{g.Recipe, g.Need}] = g.Verdict
		if !slices.Contains(needs[g.Recipe], g.Need) {
			t.Errorf("gap %v is of no need", g)
		}
	}
	for id, ns := range needs {
		for _, n := range ns {
			k := [2]string{id, n}
			wantChoice := gap[k] == "" || gap[k] == "reshoot"
			if gap[k] == "look" { // nobody has chosen, or what was chosen is not fit and another may serve
				continue
			}
			if n != "palette" && (chosen[k] == 1) != wantChoice {
				t.Errorf("%v: chosen %d times, gap %q", k, chosen[k], gap[k])
			}
		}
	}
	for _, tr := range s.Truths {
		if tr.Recipe == "R02" && tr.Elevation >= 75 {
			t.Errorf("%s: R02 has an overhead, the gap is none", tr.File)
		}
		if tr.Recipe == "R04" && tr.Height > tr.Width {
			t.Errorf("%s: R04 stands, the gap is that all lie", tr.File)
		}
	}
}

func TestProjectionByHand(t *testing.T) {
	// Straight down from 800 mm with 55 mm on 36 mm: 100 mm on a plane 15 mm
	// above the table is 100·55/800 = 6.875 mm of the sensor, 550 of 2880 px.
	e := exposure{shot: shot{elevation: 90, focal: 55, dist: 800, fnum: 5.6}, aimZ: 15}
	l := lensOf(e, 2880, 1920)
	x, y, inv := l.project(vec{100, 0, 15})
	if !(math.Abs(x-(1440+550)) < 1e-6 && math.Abs(y-960) < 1e-6 && math.Abs(1/inv-800) < 1e-9) {
		t.Errorf("projected to %g, %g at %g", x, y, 1/inv)
	}
	// A point nearer than the table's middle is lower in the frame, also from
	// the side.
	e.elevation = 35
	l = lensOf(e, 2880, 1920)
	if _, y, _ := l.project(vec{0, -50, 15}); y <= 960 {
		t.Errorf("the near side is at row %g, above the middle", y)
	}
}

func TestCircleOfConfusion(t *testing.T) {
	// c = f²/(N(s−f)) · |d−s|/d, the thin-lens formula of any optics text; by
	// hand: 50²/(2·950) · 500/1500 = 0.43860 mm for s = 1 m, d = 1.5 m, f/2.
	l := lensOf(exposure{shot: shot{elevation: 90, focal: 50, dist: 1000, fnum: 2}}, 3600, 2400)
	if got := l.circle(1500) / 100; !(math.Abs(got-0.43860) < 5e-6) {
		t.Errorf("circle %g mm, want 0.43860", got)
	}
}

func TestQuarterTurnIsUndoneByOrientationSix(t *testing.T) {
	img := image.NewYCbCr(image.Rect(0, 0, 4, 6), image.YCbCrSubsampleRatio420)
	for i := range img.Y {
		img.Y[i] = uint8(i)
	}
	got := quarterTurn(img)
	// Exif orientation 6: the stored row 0 is the right-hand side of what is
	// seen, the stored column 0 its top (CP-3451 p. 18).
	for y := range 6 {
		if got.Y[got.YOffset(y, 0)] != img.Y[img.YOffset(3, y)] {
			t.Errorf("stored row 0, column %d is not the right-hand side's", y)
		}
	}
	for x := range 4 {
		if got.Y[got.YOffset(0, 3-x)] != img.Y[img.YOffset(x, 0)] {
			t.Errorf("stored column 0, row %d is not the top's", 3-x)
		}
	}
}

func TestALowRimShadesItsLeeAndNotItsWindward(t *testing.T) {
	s := &scene{}
	s.stamp(0)
	s.lay(func() {
		s.revolve(&material{}, on(0, 0, 0), 48, [][2]float64{{40, 0}, {40, 60}, {0, 60}})
	})
	lee, _ := s.relief.light(vec{55, -22, 0}, vec{0, 0, 1})
	windward, _ := s.relief.light(vec{-55, 22, 0}, vec{0, 0, 1})
	far, sky := s.relief.light(vec{330, -300, 0}, vec{0, 0, 1})
	if !(lee < 0.2 && windward > 0.95 && far > 0.99 && sky > 0.99) {
		t.Errorf("lee %g, windward %g, far %g and %g", lee, windward, far, sky)
	}
}

func TestStopsWhenToldTo(t *testing.T) {
	why := errors.New("the light went")
	ctx, cancel := context.WithCancelCause(t.Context())
	cancel(why)
	if _, err := Write(ctx, t.TempDir(), script(240)); !errors.Is(err, why) {
		t.Errorf("got %v, want %v", err, why)
	}
	if _, err := Write(t.Context(), t.TempDir(), script(100)); err == nil {
		t.Error("a long side of 100 was taken")
	}
}
