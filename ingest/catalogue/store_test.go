package catalogue

import (
	"database/sql"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"coverplate/colour"
)

func open(t *testing.T, path string) *Store {
	t.Helper()
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func id(n int) FrameID { return FrameID(fmt.Sprintf("%064x", n)) }

func ptr(x float64) *float64 { return &x }

// full is a frame with every field set.
func full(n int) Frame {
	lab := colour.Lab{L: 48.25, A: 21, B: 40.5}
	return Frame{
		ID: id(n),
		Files: []File{
			{Kind: JPEG, Path: fmt.Sprintf("originals/2026-03-04/M-1/DSC_%04d.JPG", n), Name: fmt.Sprintf("DSC_%04d.JPG", n), Size: 7,
				SHA256: string(id(n)), Card: "A001", Source: fmt.Sprintf("DCIM/100ABCDE/DSC_%04d.JPG", n),
				Modified: time.Date(2026, 3, 4, 16, 0, 2, 0, time.UTC), Verified: time.Date(2026, 3, 4, 17, 0, 0, 123456789, time.UTC)},
			{Kind: Sidecar, Path: fmt.Sprintf("originals/2026-03-04/M-1/DSC_%04d.NEF.xmp", n), Name: fmt.Sprintf("DSC_%04d.NEF.xmp", n),
				Size: 1, SHA256: string(id(n + 5000)), Card: "A001", Source: "x"},
		},
		Taken: time.Date(2026, 3, 4, 17, 41, 9, 120000000, time.UTC), Offset: "+01:00",
		Camera: Camera{"Maker", "Model", "0042", "Lens 50"},
		Exposure: Exposure{FocalLength: 50, Focal35: 75, FNumber: 5.6, Seconds: 0.5, ISO: 100, SubjectDistance: 0.85,
			Elevation: ptr(0), ElevationFrom: ByGravity, Cut: true}, // level is a fact, not "unknown"
		Orientation: 6, ColourSpace: "Adobe RGB (1998)", Rating: ptr(-1), Title: "Rye", Headline: "Røkt ørret", Subjects: []string{"a", "b;c"},
		Look: Look{Width: 4000, Height: 6000, Preview: "mpf", Picture: "previews/00/x.jpg",
			Palette: []colour.Swatch{{Hex: "#b5651d", Lab: lab, Share: 0.41, Name: "strong brown", Accent: true}},
			Surface: &colour.Swatch{Hex: "#112233", Lab: lab, Share: 1, Name: "x"},
			Profile: "Display P3, embedded",
			Focus: &Focus{Score: 0.82, Full: ptr(0.5), Motion: 0.05, Direction: 30, Columns: 3, Rows: 2, Grid: []uint8{0, 1, 2, 127, 128, 255},
				Fine: FloatsOf(0.015625, -0.5), Far: FloatsOf(1, 0)},
			Light: &Light{High: [3]float64{0.1, 0.2, 0.3}, Low: [3]float64{0.01, 0.02, 0.03}, MattersHigh: 0.4, MattersLow: 0.5, Level: -2.47,
				MattersBy: [3]float64{0.4, 0.3, 0.1}, Columns: 2, Rows: 1, Stops: [3]Floats{FloatsOf(-1.5, Untold), FloatsOf(-2, -0.25), FloatsOf(0.125, 0)}},
			Lines:   []Line{{X1: 0.25, Y1: 0.5, X2: 0.75, Y2: 0.125}},
			Rims:    []Rim{{X: 0.5, Y: 0.7, A: 0.25, B: 0.2, Turn: -12, Cover: 0.97, Support: 0.98, Score: 0.9}, {X: 0.25, Y: 0.25, A: 0.125, B: 0.125}},
			Matters: &Matters{Columns: 2, Rows: 1, Weight: []uint8{255, 0}, Regions: []Region{{X: 0.25, Y: 0.25, Width: 0.5, Height: 0.5, Share: 1}}},
			Slate:   &Slate{Text: "a dish", Shoot: "skerry", Recipe: "R07", Shown: time.Date(2026, 3, 4, 10, 42, 7, 5e8, time.FixedZone("", 3600))}},
		Unread: "because", Measured: 2,
	}
}

func TestPutAndRead(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "catalogue.db"))
	want := full(1)
	if err := s.Put(t.Context(), want); err != nil {
		t.Fatal(err)
	}
	got, err := s.Frame(t.Context(), want.ID)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("every fact is read back (-want +got):\n%s", d)
	}
	// All facts are replaced, also by "not written".
	bare := Frame{ID: want.ID, Files: want.Files[:1]}
	if err := s.Put(t.Context(), bare); err != nil {
		t.Fatal(err)
	}
	if got, err = s.Frame(t.Context(), want.ID); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(bare, got); d != "" {
		t.Errorf("a second Put replaces (-want +got):\n%s", d)
	}
	if _, err := s.Frame(t.Context(), id(2)); !errors.Is(err, ErrNotFound) {
		t.Errorf("Frame of an unknown ID: %v, want ErrNotFound", err)
	}
	if err := s.Put(t.Context(), Frame{ID: id(3)}); err == nil {
		t.Error("a frame without a file was stored")
	}
}

func TestFramesComeInCaptureOrder(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "catalogue.db"))
	base := time.Date(2026, 3, 4, 12, 0, 5, 0, time.UTC)
	for _, f := range []struct {
		n     int
		path  string
		taken time.Time
	}{
		{1, "b", time.Time{}}, {2, "a", time.Time{}}, {3, "z", base.Add(250 * time.Millisecond)}, {4, "c", base},
		{5, "d", base.Add(500 * time.Millisecond)}, {6, "y", base}, {7, "e", base.Add(time.Second)},
	} {
		err := s.Put(t.Context(), Frame{ID: id(f.n), Taken: f.taken, Files: []File{{Path: f.path, Name: f.path, SHA256: string(id(f.n))}}})
		if err != nil {
			t.Fatal(err)
		}
	}
	all, err := s.Frames(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, f := range all {
		got = append(got, f.Path())
	}
	if want := "c y z d e a b"; strings.Join(got, " ") != want {
		t.Errorf("order %v, want %s", got, want)
	}
}

func TestNoNumberThatIsNone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	s := open(t, path)
	f := full(1)
	nan, inf := math.NaN(), math.Inf(1)
	f.Exposure = Exposure{nan, inf, math.Inf(-1), nan, inf, nan, &nan, ByExif, false}
	f.Rating = &inf
	f.Look.Palette[0].Share = nan
	if err := s.Put(t.Context(), f); err != nil {
		t.Fatal(err)
	}
	got, err := s.Frame(t.Context(), f.ID)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(Exposure{}, got.Exposure); d != "" || got.Rating != nil || got.Look.Palette != nil || got.Look.Surface != nil {
		t.Errorf("NaN and infinities were kept: %+v, rating %v, palette %v", got.Exposure, got.Rating, got.Look.Palette)
	}
}

func TestFilesAndSources(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "catalogue.db"))
	f := full(1)
	when := time.Date(2026, 3, 4, 16, 0, 2, 10, time.UTC)
	name := "DCIM/100ABCDE/DSC\n\xff_0001.JPG" // bytes that are no UTF-8 are kept as they are
	src := Source{Card: "A001", Path: name, Size: 7, Modified: when, Quick: "q", File: f.Files[0].Path}
	clip := File{Kind: Other, Path: "originals/other/A001/C.MP4", Name: "C.MP4", Size: 3, SHA256: string(id(77))}
	if err := s.Record(t.Context(), Entry{Frame: &f, Others: []File{clip}, Sources: []Source{src}}); err != nil {
		t.Fatal(err)
	}
	got, err := s.SeenAs(t.Context(), []string{"other", name, "DCIM/100ABCDE/DSC\n\xfe_0001.JPG"})
	if err != nil || len(got) != 1 || len(got[name]) != 1 {
		t.Fatalf("SeenAs = %+v, %v; want the one file of that path", got, err)
	}
	want := Frame{ID: f.ID, Unread: f.Unread, Measured: f.Measured, Look: Look{Preview: f.Look.Preview, Picture: f.Look.Picture}}
	seen := got[name][0]
	if seen.Source != src || seen.Held.Path != f.Files[0].Path || seen.Held.SHA256 != f.Files[0].SHA256 || seen.Held.Frame != f.ID || seen.Frame == nil || !cmp.Equal(*seen.Frame, want) {
		t.Errorf("SeenAs = %+v with frame %+v; want %+v, the JPEG and %+v", seen, seen.Frame, src, want)
	}
	if err := s.Record(t.Context(), Entry{Sources: []Source{{Card: "A001", Path: name, Size: 3, Quick: "r", File: clip.Path}}}); err != nil {
		t.Fatal(err)
	}
	many := make([]string, mostPaths)
	for i := range many {
		many[i] = fmt.Sprint(i)
	}
	if got, err := s.SeenAs(t.Context(), append(many, name)); err != nil || len(got[name]) != 2 || got[name][0].Frame != nil || got[name][0].Held.File != clip {
		t.Errorf("SeenAs of %d paths = %+v, %v; want the clip, of no frame, and the JPEG", mostPaths+1, got, err)
	}
	if others, err := s.Others(t.Context()); err != nil || len(others) != 1 || others[0] != clip {
		t.Errorf("Others = %+v, %v", others, err)
	}
	if at, err := s.AtPath(t.Context(), "ORIGINALS/2026-03-04/m-1/dsc_0001.jpg"); err != nil || len(at) != 1 {
		t.Errorf("AtPath ignores case: %+v, %v", at, err)
	}
	for _, name := range []string{"dsc_0001.NEF", "DSC_0001.wav", "DSC_0001.CR3.XMP"} {
		if named, err := s.Named(t.Context(), name); err != nil || len(named) != 1 {
			t.Errorf("Named(%q) = %d frames, %v; want 1", name, len(named), err)
		}
	}
	// A source must lead to a file that is there.
	if err := s.Record(t.Context(), Entry{Sources: []Source{{Path: "y", File: "nowhere"}}}); err == nil {
		t.Error("a source without its file was stored: foreign keys are off")
	}
	// A file that leaves its frame takes what leads to it along.
	f.Files = f.Files[1:]
	if err := s.Put(t.Context(), f); err != nil {
		t.Fatal(err)
	}
	if got, err := s.SeenAs(t.Context(), []string{name}); err != nil || len(got[name]) != 1 || got[name][0].Held.Frame != "" {
		t.Errorf("SeenAs after its file left: %+v, %v, want the clip alone", got, err)
	}
}

func TestRecordIsAllOrNothing(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "catalogue.db"))
	f := full(1)
	if err := s.Record(t.Context(), Entry{Frame: &f, Sources: []Source{{Path: "y", File: "nowhere"}}}); err == nil {
		t.Fatal("want an error")
	}
	if _, err := s.Frame(t.Context(), f.ID); !errors.Is(err, ErrNotFound) {
		t.Errorf("half an entry was kept: %v", err)
	}
}

func TestCards(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "catalogue.db"))
	first := Card{Name: "A001", Volume: "A001", Root: "/m/A001", Files: 3, Bytes: 9, FirstRead: time.Unix(1000, 0).UTC(), LastRead: time.Unix(1000, 0).UTC(), Whole: true,
		Marks: []Mark{{"DCIM/100ABCDE/DSC_0001.JPG", 3, time.Unix(900, 5).UTC()}}}
	again := first
	again.Marks = append(again.Marks, Mark{Path: "DCIM/100ABCDE/DSC_0002.JPG", Size: 1 << 40})
	again.Files, again.FirstRead, again.LastRead, again.Whole = 4, time.Unix(2000, 0).UTC(), time.Unix(2000, 0).UTC(), false
	for _, c := range []Card{first, again} {
		if err := s.PutCard(t.Context(), c); err != nil {
			t.Fatal(err)
		}
	}
	want := again
	want.FirstRead = first.FirstRead
	got, err := s.Cards(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]Card{want}, got); d != "" {
		t.Error(d)
	}
}

func TestPragmas(t *testing.T) {
	s := open(t, filepath.Join(t.TempDir(), "a ?#%20b", "..", "c%d?e#f.db"))
	// Each connection of the pool has them, not only the first. Held until the
	// last is asked, and all but one of the four, so that one is left for below.
	var c *sql.Conn
	for range 3 {
		var err error
		if c, err = s.db.Conn(t.Context()); err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		for pragma, want := range map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1", "busy_timeout": "10000"} {
			var got string
			if err := c.QueryRowContext(t.Context(), "PRAGMA "+pragma).Scan(&got); err != nil || got != want {
				t.Errorf("%s = %q, %v; want %q", pragma, got, err, want)
			}
		}
	}
	if _, err := os.Stat(s.path); err != nil {
		t.Errorf("a name with ? # %% is not the file's own: %v", err)
	}
	var strict int
	err := s.db.QueryRow(`SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND name NOT LIKE 'sqlite_%' AND NOT strict`).Scan(&strict)
	if err != nil || strict != 0 {
		t.Errorf("%d tables are not STRICT, %v", strict, err)
	}
}

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	newer := filepath.Join(dir, "newer.db")
	s := open(t, newer)
	if _, err := s.db.Exec("PRAGMA user_version = 9999"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	foreign := filepath.Join(dir, "foreign.db")
	db, err := sql.Open("sqlite", dsn(foreign))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec("CREATE TABLE theirs (x)"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	text := filepath.Join(dir, "text.db")
	if err := os.WriteFile(text, []byte(strings.Repeat("no database at all\n", 300)), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		path string
		want error
	}{{newer, ErrNewer}, {foreign, ErrForeign}, {text, ErrForeign}, {filepath.Join(dir, "none", "c.db"), nil}} {
		before, _ := os.ReadFile(c.path)
		s, err := Open(c.path)
		if err == nil {
			s.Close()
			t.Errorf("%s was opened", c.path)
			continue
		}
		if c.want != nil && !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", filepath.Base(c.path), err, c.want)
		}
		if !strings.Contains(err.Error(), c.path) {
			t.Errorf("%q does not name the file", err)
		}
		if after, _ := os.ReadFile(c.path); filepath.Base(c.path) != "foreign.db" && string(after) != string(before) {
			t.Errorf("%s was changed", c.path)
		}
	}
}

func TestManyOpenAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "catalogue.db")
	var wg sync.WaitGroup
	for n := range 6 {
		wg.Go(func() {
			s, err := Open(path) // one of them makes it
			if err != nil {
				t.Error(err)
				return
			}
			defer s.Close()
			for i := range 5 {
				if err := s.Put(t.Context(), full(100*n+i+1)); err != nil {
					t.Error(err)
				}
				if _, err := s.Decide(t.Context(), Decision{Kind: Assign, Frame: id(100*n + i + 1), Recipe: "R01"}); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	s := open(t, path)
	frames, err := s.Frames(t.Context())
	if err != nil || len(frames) != 30 {
		t.Errorf("%d frames, %v; want 30", len(frames), err)
	}
	decisions, err := s.Decisions(t.Context())
	if err != nil || len(decisions) != 30 || decisions[29].ID != 30 {
		t.Errorf("%d decisions, %v; want 30 numbered 1 to 30", len(decisions), err)
	}
}

func BenchmarkFrames(b *testing.B) {
	s, err := Open(filepath.Join(b.TempDir(), "catalogue.db"))
	if err != nil {
		b.Fatal(err)
	}
	defer s.Close()
	err = s.write(b.Context(), func(tx *sql.Tx) error {
		for n := range 2000 {
			if err := putFrameTx(b.Context(), tx, large(n+1)); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if all, err := s.Frames(b.Context()); err != nil || len(all) != 2000 {
			b.Fatal(len(all), err)
		}
	}
}

func TestBody(t *testing.T) {
	for _, c := range []struct {
		camera Camera
		card   string
		want   string
	}{
		{Camera{Make: "Veldt", Model: "M2", Serial: "4711"}, "A001", "Veldt M2 #4711"},
		{Camera{Make: "VELDT", Model: "Veldt M2"}, "A001", "Veldt M2, card A001"},
		{Camera{}, "A001", "unnamed body, card A001"},
		{Camera{Model: "M2"}, "", "M2"},
	} {
		f := Frame{Camera: c.camera, Files: []File{{Card: c.card}}}
		if got := f.Body(); got != c.want {
			t.Errorf("%+v on %q: %q, want %q", c.camera, c.card, got, c.want)
		}
	}
}
