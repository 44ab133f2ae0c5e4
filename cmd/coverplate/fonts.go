package main

import (
	"cmp"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"coverplate/cmd/coverplate/sheet"
)

// mostFonts is how many fonts of this machine a document borrows.
const mostFonts = 6

// fontKinds are the endings of files of fonts.
var fontKinds = []string{".ttf", ".otf", ".ttc", ".otc"}

func readFonts(paths []string) ([][]byte, error) {
	var out [][]byte
	for _, p := range paths {
		b, err := os.ReadFile(p)
		if err != nil {
			return nil, fmt.Errorf("read font: %w", err)
		}
		out = append(out, b)
	}
	return out, nil
}

// withFonts sets a document in the fonts given; where these lack characters, again
// with fonts of this machine that have them.
func withFonts(at surroundings, given [][]byte, set func(fonts ...[]byte) (*sheet.Sheet, error)) (*sheet.Sheet, error) {
	doc, err := set(given...)
	if err != nil || len(doc.Missing()) == 0 {
		return doc, err
	}
	borrowed := given
	for _, path := range fontsFor(at, doc.Missing()) {
		if b, err := os.ReadFile(path); err == nil {
			borrowed = append(borrowed[:len(borrowed):len(borrowed)], b)
		}
	}
	if len(borrowed) == len(given) {
		return doc, nil
	}
	if better, err := set(borrowed...); err == nil && better.Fault() == nil {
		return better, nil
	}
	return doc, nil // a font of the machine is broken
}

// fontsFor are the files of the machine's fonts that have the characters
// wanted between them, that with the most first.
func fontsFor(at surroundings, wanted []rune) []string {
	type font struct {
		path  string
		style int // 0 upright and regular
		has   []rune
	}
	var found []font
	for _, dir := range fontFolders(at, runtime.GOOS) {
		filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() || !slices.Contains(fontKinds, strings.ToLower(filepath.Ext(path))) {
				return nil
			}
			f, err := os.Open(path)
			if err != nil {
				return nil
			}
			defer f.Close()
			if has := sheet.Held(f, wanted); len(has) > 0 {
				name := strings.ToLower(filepath.Base(path))
				style := 0
				for _, word := range []string{"bold", "italic", "oblique", "light", "thin", "black", "mono", "condensed"} {
					if strings.Contains(name, word) {
						style++
					}
				}
				found = append(found, font{path, style, has})
			}
			return nil
		})
	}
	var paths []string
	for len(wanted) > 0 && len(paths) < mostFonts {
		held := func(f font) int {
			n := 0
			for _, r := range f.has {
				if slices.Contains(wanted, r) {
					n++
				}
			}
			return n
		}
		if len(found) == 0 {
			break
		}
		best := slices.MaxFunc(found, func(a, b font) int {
			return cmp.Or(cmp.Compare(held(a), held(b)), cmp.Compare(b.style, a.style), cmp.Compare(b.path, a.path))
		})
		if held(best) == 0 {
			break
		}
		paths = append(paths, best.path)
		wanted = slices.DeleteFunc(slices.Clone(wanted), func(r rune) bool { return slices.Contains(best.has, r) })
	}
	return paths
}

// fontFolders are where a system keeps its fonts: those of the XDG Base Directory
// Specification, or those that macOS and Windows have (from memory).
func fontFolders(at surroundings, system string) []string {
	home := at.Getenv("HOME")
	var all []string
	add := func(parts ...string) {
		if parts[0] != "" {
			all = append(all, filepath.Join(parts...))
		}
	}
	switch system {
	case "windows":
		add(at.Getenv("SystemRoot"), "Fonts")
		add(at.Getenv("LOCALAPPDATA"), "Microsoft", "Windows", "Fonts")
	case "darwin":
		add(home, "Library", "Fonts")
		add("/Library/Fonts")
		add("/System/Library/Fonts")
	default:
		if data := at.Getenv("XDG_DATA_HOME"); data != "" {
			add(data, "fonts")
		} else {
			add(home, ".local", "share", "fonts")
		}
		add(home, ".fonts")
		for _, data := range filepath.SplitList(cmp.Or(at.Getenv("XDG_DATA_DIRS"), "/usr/local/share:/usr/share")) {
			add(data, "fonts")
		}
	}
	return all
}
