package icc

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"coverplate/colour"
)

// ours is how far from LittleCMS we may be, in ΔE2000, as issue 3 asks.
const ours = 0.02

// needs finds a tool that a test cannot do without. In CI it must be there.
func needs(t *testing.T, tool string) string {
	t.Helper()
	path, err := exec.LookPath(tool)
	if err != nil && os.Getenv("CI") == "true" {
		t.Fatalf("%s is not installed, and CI must have it: see .ci/run", tool)
	} else if err != nil {
		t.Skipf("%s is not installed (Debian: liblcms2-utils)", tool)
	}
	return path
}

// debian is the profiles that Debian's icc-profiles-free, colord-data and
// argyll-ref install.
func debian(t *testing.T) []string {
	t.Helper()
	var found []string
	filepath.WalkDir("/usr/share/color", func(path string, d fs.DirEntry, err error) error {
		if ext := filepath.Ext(path); err == nil && !d.IsDir() && (ext == ".icc" || ext == ".icm") {
			found = append(found, path)
		}
		return nil
	})
	if len(found) == 0 && os.Getenv("CI") == "true" {
		t.Fatal("no profiles below /usr/share/color, and CI must have them: see .ci/run")
	} else if len(found) == 0 {
		t.Skip("no profiles below /usr/share/color (Debian: icc-profiles-free, colord-data, argyll-ref)")
	}
	return found
}

// grid is the codes of the pixels that are compared: 9 × 9 × 9, or 256 greys.
func grid(channels int) []colour.Encoded {
	var g []colour.Encoded
	if channels == 1 {
		for i := range 256 {
			v := float64(i) / 255
			g = append(g, colour.Encoded{R: v, G: v, B: v})
		}
		return g
	}
	for i := range 9 * 9 * 9 {
		g = append(g, colour.Encoded{R: float64(i/81) / 8, G: float64(i/9%9) / 8, B: float64(i%9) / 8})
	}
	return g
}

// transicc converts codes by LittleCMS: relative colorimetric, in floating
// point throughout (-c0 keeps it from tables of its own), into Lab under the
// ICC's D50.
func transicc(t *testing.T, tool, profile string, channels int, codes []colour.Encoded) []colour.Lab {
	t.Helper()
	var in bytes.Buffer
	for _, e := range codes {
		if channels == 1 {
			fmt.Fprintf(&in, "%.6f\n", 255*e.R)
		} else {
			fmt.Fprintf(&in, "%.6f %.6f %.6f\n", 255*e.R, 255*e.G, 255*e.B)
		}
	}
	cmd := exec.Command(tool, "-i"+profile, "-o*Lab4", "-t1", "-c0", "-n")
	cmd.Stdin = &in
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("transicc -i%s: %v\n%s", profile, err, out)
	}
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	if len(lines) != len(codes) {
		t.Fatalf("transicc -i%s: %d lines for %d colours, the first %q", profile, len(lines), len(codes), lines[0])
	}
	labs := make([]colour.Lab, len(lines))
	for i, l := range lines {
		if _, err := fmt.Sscan(l, &labs[i].L, &labs[i].A, &labs[i].B); err != nil {
			t.Fatalf("transicc -i%s: line %q: %v", profile, l, err)
		}
	}
	return labs
}

// against returns the largest ΔE2000 between LittleCMS and us.
func against(t *testing.T, tool, path string, p Profile) (worst float64, at colour.Encoded) {
	t.Helper()
	codes := grid(p.Channels)
	for i, want := range transicc(t, tool, path, p.Channels, codes) {
		got := p.Space.ToXYZ(p.Space.Linearise(codes[i])).Lab()
		d := colour.DeltaE2000(got, want)
		if math.IsNaN(d) {
			return d, codes[i]
		}
		if d > worst {
			worst, at = d, codes[i]
		}
	}
	return worst, at
}

// TestAgainstLittleCMS compares with LittleCMS 2's transicc on each profile
// that Debian has, and lists those that are refused.
func TestAgainstLittleCMS(t *testing.T) {
	tool := needs(t, "transicc")
	var refused []string
	compared := 0
	for _, path := range debian(t) {
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		p, err := Parse(b)
		var unsupported *UnsupportedError
		if errors.As(err, &unsupported) {
			refused = append(refused, filepath.Base(path))
			t.Logf("%-32s %v", filepath.Base(path), err)
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", path, err)
			continue
		}
		compared++
		worst, at := against(t, tool, path, p)
		t.Logf("%-32s v%s %d, ΔE2000 %.5f at most, %q", filepath.Base(path), p.Version, p.Channels, worst, p.Description)
		if !(worst <= ours) {
			t.Errorf("%s: ΔE2000 %.4f from LittleCMS at %.3f, want at most %v", path, worst, at, ours)
		}
	}
	// Debian 12 has 47: those refused are an abstract one, two lists of named
	// colours, and two of Lab; where Ghostscript is installed, its three of CMYK
	// or to it, and its Lab.
	known := []string{"CineLogCurve.icc", "Crayons.icc", "ITULab.icc", "lab2lab.icm", "x11-colors.icc",
		"default_cmyk.icc", "gray_to_k.icc", "ps_cmyk.icc", "lab.icc"}
	for _, name := range refused {
		if !slices.Contains(known, name) {
			t.Errorf("%s is refused", name)
		}
	}
	if compared < 10 {
		t.Errorf("%d profiles compared, want 10 at least", compared)
	}
}
