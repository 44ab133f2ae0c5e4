package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "coverplate"

// rooms says which rooms of the house a package may look into. A package not
// named here has no place in the house.
var rooms = map[string][]string{
	"colour":               {},
	"colour/icc":           {"colour"},
	"ingest/catalogue":     {"colour"},
	"ingest/camera":        {"colour", "colour/icc", "ingest/catalogue"},
	"ingest/look/rims":     {},
	"ingest/slate":         {},
	"ingest/look/scaled":   {},
	"ingest/look/heif":     {},
	"ingest/look":          {"colour", "colour/icc", "ingest/camera", "ingest/catalogue", "ingest/look/rims", "ingest/look/heif", "ingest/look/scaled", "ingest/slate"},
	"ingest/rehearsal":     {},
	"ingest/fixity":        {},
	"ingest":               {"colour", "ingest/camera", "ingest/catalogue", "ingest/fixity", "ingest/look"},
	"ingest/xmp":           {},
	"audit/delivery":       {"audit", "audit/crop", "audit/plan", "ingest/catalogue"},
	"audit/plan":           {},
	"audit/plansheet":      {"audit/plan"},
	"audit/crop":           {},
	"audit/optics":         {},
	"audit/pace":           {},
	"audit/odds":           {},
	"audit/angle":          {"audit/optics", "audit/plan", "ingest/catalogue"},
	"audit/clock":          {},
	"audit":                {"audit/angle", "audit/clock", "audit/crop", "audit/odds", "audit/pace", "audit/plan", "colour", "ingest/catalogue"},
	"cmd/coverplate/sheet": {},
	"cmd/coverplate/paper": {"audit", "audit/angle", "audit/crop", "audit/plan", "colour", "ingest/catalogue"},
	"cmd/coverplate/desk":  {"audit", "audit/angle", "audit/clock", "audit/crop", "audit/plan", "cmd/coverplate/paper", "ingest", "ingest/catalogue", "ingest/look", "ingest/slate"},
	"cmd/coverplate":       {"cmd/coverplate/desk", "cmd/coverplate/paper", "cmd/coverplate/sheet", "audit", "audit/delivery", "ingest/xmp", "audit/angle", "audit/clock", "audit/crop", "audit/optics", "audit/plan", "audit/plansheet", "colour", "ingest", "ingest/camera", "ingest/catalogue", "ingest/fixity", "ingest/look", "ingest/rehearsal", "ingest/slate"},
}

// owners says which one package may name a third party's code.
var owners = map[string]string{
	"github.com/rwcarlsen/goexif":           "ingest/camera",
	"github.com/disintegration/imaging":     "ingest/look",
	"golang.org/x/image":                    "ingest/look",
	"github.com/gen2brain/heic":             "ingest/look/heif",
	"github.com/makiuchi-d/gozxing":         "ingest/slate",
	"modernc.org/sqlite":                    "ingest/catalogue",
	"database/sql":                          "ingest/catalogue",
	"golang.org/x/sys":                      "ingest",
	"github.com/xuri/excelize":              "audit/plansheet",
	"codeberg.org/go-pdf/fpdf":              "cmd/coverplate/sheet",
	"github.com/go-fonts/dejavu":            "cmd/coverplate/sheet",
	"github.com/rivo/uniseg":                "cmd/coverplate/sheet",
	"github.com/go-text/typesetting":        "cmd/coverplate/sheet",
	"golang.org/x/text/unicode/bidi":        "cmd/coverplate/sheet",
	"golang.org/x/text":                     "audit/plansheet",
	"golang.org/x/text/unicode/norm":        "ingest/fixity",
	"github.com/spf13/cobra":                "cmd/coverplate",
	"github.com/spf13/pflag":                "cmd/coverplate",
	"github.com/pelletier/go-toml":          "cmd/coverplate",
	"charm.land/lipgloss":                   "cmd/coverplate",
	"github.com/charmbracelet/colorprofile": "cmd/coverplate",
	"github.com/vbauerster/mpb":             "cmd/coverplate",
	"golang.org/x/term":                     "cmd/coverplate",
}

// forbidden says what a room may never name: audit has no disk, no clock, no
// database and no context; rehearsal and colour rest on the standard library.
var forbidden = map[string][]string{
	"audit":           {"os", "io/fs", "path/filepath", "context", "database/sql", "net", "net/http", "image", "math/rand", "math/rand/v2"},
	"audit/plan":      {"os", "io", "io/fs", "path/filepath", "context", "net/http"},
	"audit/delivery":  {"os", "io", "io/fs", "path/filepath", "context", "database/sql", "net/http", "image", "math/rand", "math/rand/v2"},
	"audit/plansheet": {"os", "io/fs", "path/filepath", "context", "net/http"},
	"audit/angle":     {"os", "io", "io/fs", "path/filepath", "context", "database/sql", "image", "net/http", "time", "math/rand", "math/rand/v2"},
	"audit/clock":     {"os", "io", "io/fs", "path/filepath", "context", "database/sql", "image", "net/http", "math/rand", "math/rand/v2"},
	"audit/optics":    {"os", "io", "context", "image", "net/http"},
	"audit/pace":      {"os", "io", "context", "time", "image", "net/http", "math/rand", "math/rand/v2"},
	"audit/crop":      {"os", "io", "context", "image", "net/http"},
	"colour/icc":      {"os", "io", "io/fs", "context", "time", "image", "math/rand", "math/rand/v2"},
	"colour":          {"os", "io/fs", "context", "time", "image", "math/rand", "math/rand/v2"},
}

// TestHouse holds who may import whom; DEVELOPERS.md tells why.
func TestHouse(t *testing.T) {
	root := filepath.Join("..", "..")
	seen := map[string]bool{}
	comments := map[string]int{}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (strings.HasPrefix(d.Name(), ".") && path != root || d.Name() == "testdata") {
			return filepath.SkipDir
		}
		if !strings.HasSuffix(path, ".go") {
			return nil
		}
		rel, err := filepath.Rel(root, filepath.Dir(path))
		if err != nil {
			return err
		}
		room := filepath.ToSlash(rel)
		allowed, known := rooms[room]
		if !known {
			t.Errorf("%s: %s is no room of the house: put it into one, or change this test and DEVELOPERS.md", path, room)
			return nil
		}
		seen[room] = true
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly|parser.ParseComments)
		if err != nil {
			return err
		}
		if strings.HasSuffix(path, "_test.go") {
			return nil
		}
		if f.Doc != nil && strings.HasPrefix(f.Doc.Text(), "Package ") || room == "cmd/coverplate" && f.Doc != nil && strings.HasPrefix(f.Doc.Text(), "Command ") {
			comments[room]++
		}
		for _, spec := range f.Imports {
			name, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			if ours, ok := strings.CutPrefix(name, module+"/"); ok {
				if !slices.Contains(allowed, ours) {
					t.Errorf("%s imports %s: %s may look into %v only", path, name, room, allowed)
				}
				continue
			}
			if slices.Contains(forbidden[room], name) {
				t.Errorf("%s imports %s, which has no business in %s", path, name, room)
			}
			third := strings.Contains(strings.SplitN(name, "/", 2)[0], ".")
			owner, longest := "", ""
			for prefix, o := range owners {
				if (name == prefix || strings.HasPrefix(name, prefix+"/")) && len(prefix) > len(longest) {
					owner, longest = o, prefix
				}
			}
			owned := longest != ""
			if owned && owner != room || third && !owned {
				t.Errorf("%s imports %s: one package names it, and that is %q", path, name, owner)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for room := range rooms {
		if !seen[room] {
			t.Errorf("the room %s is empty: build it, or take it out of this test", room)
		}
		if seen[room] && comments[room] != 1 {
			t.Errorf("%d files of %s open with the package's promise, want exactly 1", comments[room], room)
		}
	}
}
