package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"image/color"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestJSONShapes holds the names and kinds of all that is printed as JSON, for
// other people's programs rest on them. The golden files list every path with
// its kind; run with -update to remake them, and read what changed.
func TestJSONShapes(t *testing.T) {
	shoot := smallShoot(t)
	picture := filepath.Join(filepath.Dir(shoot), "A001", "DCIM", "100LOMVI", "LOMV0001.JPG")
	// In this order: audit reads frames at 1:1 and stores what it found, which
	// frames then tells.
	for _, c := range []struct {
		name string
		args []string
	}{
		{"audit", []string{"audit", "--json", "--shoot", shoot}},
		{"frames", []string{"frames", "--json", "--shoot", shoot}},
		{"measure", []string{"measure", "--json", picture}},
		{"plan", []string{"plan", "show", "--json", "--shoot", shoot}},
		{"book", []string{"flatplan", "--json", "--shoot", shoot}},
		{"suggest", []string{"flatplan", "--suggest", "--json", "--shoot", shoot}},
	} {
		name, args := c.name, c.args
		t.Run(name, func(t *testing.T) {
			_, out, errs := called(t, args...)
			var doc any
			if err := json.Unmarshal([]byte(out), &doc); err != nil {
				t.Fatalf("%v: %v, %s", args, err, errs)
			}
			seen := map[string]bool{}
			shapeOf("", doc, seen)
			var lines []string
			for l := range seen {
				lines = append(lines, l)
			}
			slices.Sort(lines)
			got := strings.Join(lines, "\n") + "\n"
			golden := filepath.Join("testdata", "shape_"+name+".txt")
			if *update {
				if err := os.WriteFile(golden, []byte(got), 0o666); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(want, []byte(got)) {
				t.Errorf("the shape of %v is now\n%s\nand was\n%s", args, got, want)
			}
		})
	}
}

// shapeOf notes each path of a JSON value with its kind.
func shapeOf(at string, v any, seen map[string]bool) {
	switch x := v.(type) {
	case map[string]any:
		for k, below := range x {
			shapeOf(at+"."+k, below, seen)
		}
	case []any:
		seen[at+"[] list"] = true
		for _, below := range x {
			shapeOf(at+"[]", below, seen)
		}
	case nil:
		seen[at+" null"] = true
	default:
		seen[fmt.Sprintf("%s %T", at, x)] = true
	}
}

// smallShoot is a shoot of two recipes with a frame each, and one frame that
// nobody can place.
func smallShoot(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	shoot, card := filepath.Join(dir, "s"), filepath.Join(dir, "A001")
	plan := "recipe,title,chapter,pages,size,angle,needs,props,surface,day,Mum says\n" +
		"R01,Rye flatbread,Shore,12,full,overhead,hero; overhead; palette,grey bowl,slate,2026-03-02,no salt\n" +
		"R02,Barley broth,Field,15,full,any,hero; half; palette,grey bowl,oak,2026-03-03,\n"
	down := -84
	files := map[string][]byte{
		filepath.Join(shoot, "plan.csv"):                        []byte(plan),
		filepath.Join(card, "DCIM", "100LOMVI", "LOMV0001.JPG"): pictureOf(1600, 2200, color.RGBA{180, 60, 40, 255}, "2026:03:02 09:00:00", &down),
		filepath.Join(card, "DCIM", "100LOMVI", "LOMV0002.JPG"): pictureOf(1600, 2200, color.RGBA{60, 120, 40, 255}, "2026:03:03 09:00:00", nil),
		filepath.Join(card, "DCIM", "100LOMVI", "LOMV0003.JPG"): pictureOf(1600, 2200, color.RGBA{60, 60, 140, 255}, "2026:03:03 15:00:00", nil),
	}
	for path, b := range files {
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	for _, args := range [][]string{
		{"new", shoot, "--title", "Skerry Table", "--trim", "100x150", "--days", "2026-03-02..2026-03-04"},
		{"ingest", card, "--shoot", shoot},
		{"assign", "LOMV0001.JPG", "R01", "--shoot", shoot},
		{"assign", "LOMV0002.JPG", "R02", "--shoot", shoot},
		{"choose", "LOMV0001.JPG", "hero", "--shoot", shoot},
	} {
		if code, _, errs := called(t, args...); code != 0 {
			t.Fatalf("%v: exit code %d: %s", args, code, errs)
		}
	}
	return shoot
}
