package catalogue

import (
	"database/sql"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// oldCatalogue makes a file as script 1 alone left it, with one frame in it
// whose columns are those of that script.
func oldCatalogue(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "catalogue.db")
	db, err := sql.Open("sqlite", dsn(path))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	script, err := scripts.ReadFile("migrations/0001.sql")
	if err != nil {
		t.Fatal(err)
	}
	row := func(n int, elevation string) string {
		return fmt.Sprintf(`
INSERT INTO frame VALUES ('%064d', '2026-03-04T17:41:09.12', '+01:00', 'Maker', 'Model', '0042', 'Lens 50', 50, 75, 5.6, 0.5, 100,
    0.85, %s, 6, 'sRGB', NULL, 'Rye', '', '[]', 4000, 6000, 'mpf', 'previews/00/x.jpg', '[]', NULL, '');
INSERT INTO file VALUES ('originals/%d.jpg', 'originals/%d.jpg', '%064d', 0, 'jpeg', '%d.jpg', '%d', 7, '%064d', 'A001', 'x', NULL, NULL);`,
			n, elevation, n, n, n, n, n, n)
	}
	for _, text := range []string{string(script), row(1, "-84.5"), row(2, "NULL"),
		`INSERT INTO decision (at, who, kind, frame, recipe, need, why) VALUES ('2026-03-04T18:00:00Z', '', 'assign', 'x', 'R01', '', '')`,
		fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = 1", applicationID)} {
		if _, err := db.Exec(text); err != nil {
			t.Fatalf("%v\n%s", err, text)
		}
	}
	return path
}

func TestAnOldCatalogueIsCarriedOver(t *testing.T) {
	s := open(t, oldCatalogue(t))
	all, err := s.Frames(t.Context())
	if err != nil || len(all) != 2 {
		t.Fatalf("%d frames, %v; want 2", len(all), err)
	}
	want := Exposure{FocalLength: 50, Focal35: 75, FNumber: 5.6, Seconds: 0.5, ISO: 100, SubjectDistance: 0.85, Elevation: ptr(-84.5), ElevationFrom: ByExif}
	if d := cmp.Diff(want, all[0].Exposure); d != "" {
		t.Errorf("the frame with an elevation (-want +got):\n%s", d)
	}
	if e := all[1].Exposure; e.Elevation != nil || e.ElevationFrom != "" {
		t.Errorf("the frame without has %v from %q", e.Elevation, e.ElevationFrom)
	}
	if all[0].Title != "Rye" || all[0].Look.Picture != "previews/00/x.jpg" || len(all[0].Files) != 1 {
		t.Errorf("an old fact was lost: %+v", all[0])
	}
	for _, f := range all {
		if l := f.Look; f.Measured != 0 || l.Focus != nil || l.Light != nil || l.Rims != nil || l.Matters != nil || l.Profile != "" {
			t.Errorf("what was never measured is there: %+v", f)
		}
	}
	if d, err := s.Decisions(t.Context()); err != nil || len(d) != 1 {
		t.Errorf("%d decisions, %v; want 1", len(d), err)
	}
	// They are what is to be measured anew; one that was, no longer.
	anew := all[0]
	anew.Measured, anew.Look.Focus = 2, full(1).Look.Focus
	if err := s.Put(t.Context(), anew); err != nil {
		t.Fatal(err)
	}
	for version, n := range map[int]int{0: 0, 1: 1, 2: 1, 3: 2} {
		if got, err := s.MeasuredBefore(t.Context(), version); err != nil || len(got) != n {
			t.Errorf("MeasuredBefore(%d): %d frames, %v; want %d", version, len(got), err, n)
		}
	}
}

func TestNoMeasureThatIsNone(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "catalogue.db"))
	nan, inf := math.NaN(), math.Inf(-1)
	for name, spoil := range map[string]func(*Look){
		"focus NaN":           func(l *Look) { l.Focus.Motion = nan },
		"focus at 1:1 is NaN": func(l *Look) { l.Focus.Full = &nan },
		"a grid short of one": func(l *Look) { l.Focus.Grid = l.Focus.Grid[1:] },
		"a grid without rows": func(l *Look) { l.Focus.Rows = 0 },
		"a grid turned over":  func(l *Look) { l.Focus.Columns, l.Focus.Rows = -l.Focus.Columns, -l.Focus.Rows },
		"fine one too few":    func(l *Look) { l.Focus.Fine = l.Focus.Fine[1:] },
		"far NaN":             func(l *Look) { l.Focus.Far[0] = FloatOf(float32(nan)) },
		"stops one too few":   func(l *Look) { l.Light.Stops[1] = l.Light.Stops[1][1:] },
		"stops infinite":      func(l *Look) { l.Light.Stops[2][0] = FloatOf(float32(inf)) },
		"light infinite":      func(l *Look) { l.Light.Level = inf },
		"rims all NaN":        func(l *Look) { l.Rims[0].X, l.Rims[1].Score = nan, nan },
		"one rim of two":      func(l *Look) { l.Rims[0].Turn = inf },
		"matters NaN":         func(l *Look) { l.Matters.Regions[0].Share = nan },
		"weights one too few": func(l *Look) { l.Matters.Weight = l.Matters.Weight[1:] },
		"no grid, no weights": func(l *Look) { l.Focus.Grid, l.Matters.Weight = nil, nil },
	} {
		f := full(1)
		spoil(&f.Look)
		if err := s.Put(t.Context(), f); err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		got, err := s.Frame(t.Context(), f.ID)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		whole := full(1).Look
		lost := ""
		if got.Look.Focus == nil {
			lost += "focus "
		}
		if got.Look.Light == nil {
			lost += "light "
		}
		if len(got.Look.Rims) < len(whole.Rims) {
			lost += fmt.Sprintf("rims to %d ", len(got.Look.Rims))
		}
		if got.Look.Matters == nil {
			lost += "matters "
		}
		want := map[string]string{"light infinite": "light ", "rims all NaN": "rims to 0 ", "one rim of two": "rims to 1 ", "matters NaN": "matters ",
			"weights one too few": "matters ", "no grid, no weights": "focus matters "}[name]
		if strings.HasPrefix(name, "stops") {
			want = "light "
		}
		if want == "" {
			want = "focus "
		}
		if lost != want {
			t.Errorf("%s: lost %q, want %q", name, lost, want)
		}
	}
}

func TestSetFull(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "catalogue.db"))
	want, bare := full(1), full(2)
	bare.Look.Focus = nil
	for _, f := range []Frame{want, bare} {
		if err := s.Put(t.Context(), f); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.SetFull(t.Context(), want.ID, 0.25); err != nil {
		t.Fatal(err)
	}
	want.Look.Focus.Full = ptr(0.25)
	got, err := s.Frame(t.Context(), want.ID)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("nothing else changes (-want +got):\n%s", d)
	}
	if err := s.SetNotFull(t.Context(), want.ID, "no pixels of full size"); err != nil {
		t.Fatal(err)
	}
	want.Look.Focus.Full, want.Look.Focus.NotFull = nil, "no pixels of full size"
	if got, err = s.Frame(t.Context(), want.ID); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("what can't be told (-want +got):\n%s", d)
	}
	for _, unknown := range []FrameID{bare.ID, id(3)} {
		if err := s.SetFull(t.Context(), unknown, 0.5); !errors.Is(err, ErrNotFound) {
			t.Errorf("SetFull of %s: %v, want ErrNotFound", unknown, err)
		}
	}
	if err := s.SetFull(t.Context(), want.ID, math.NaN()); err == nil {
		t.Error("NaN was stored")
	}
}

// TestSizeOfAFrame holds what a frame with grids as large as the product
// measures costs on the disk, so that 10,000 stay an ordinary file.
func TestSizeOfAFrame(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s := open(t, path)
	const frames = 200
	err := s.write(t.Context(), func(tx *sql.Tx) error {
		for n := range frames {
			if err := putFrameTx(t.Context(), tx, large(n+1)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.db.Exec("PRAGMA wal_checkpoint(TRUNCATE)"); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	per := info.Size() / frames
	t.Logf("%d bytes a frame: 10,000 frames take %d MB", per, per*10_000/1e6)
	if per > 12_000 {
		t.Errorf("%d bytes a frame, want at most 12,000", per)
	}
}

// large is a frame with a grid of 48 × 32 of each kind, eight regions and
// eight rims, all with numbers of full length.
func large(n int) Frame {
	f := full(n)
	cells := make([]uint8, 48*32)
	for i := range cells {
		cells[i] = uint8(i*n + i*i/7)
	}
	third := 1.0 / 3
	f.Look.Focus = &Focus{Score: third, Motion: third, Direction: third, Columns: 48, Rows: 32, Grid: cells}
	f.Look.Matters = &Matters{Columns: 48, Rows: 32, Weight: cells}
	f.Look.Rims = nil
	for range 8 {
		f.Look.Rims = append(f.Look.Rims, Rim{third, third, third, third, -third, third, third, third})
		f.Look.Matters.Regions = append(f.Look.Matters.Regions, Region{third, third, third, third, third})
	}
	return f
}
