package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"coverplate/audit"
	"coverplate/cmd/coverplate/paper"
	"coverplate/ingest/look"
)

// drawingSide is the long side of a drawing, pixels.
const drawingSide = 1024

// draw writes the drawing of one measured picture to the file out, or into the
// folder out where there are several. A file that is there already is never
// written over, so no source can be.
func draw(at surroundings, m measurement, f facts, cuts []audit.Cut, out string, several bool) error {
	file := f.File
	if m.preview == nil {
		fmt.Fprintf(at.Stderr, "%s: nothing to draw on: no pixels but a thumbnail's could be had\n", plain(file))
		return nil
	}
	if several {
		if err := os.MkdirAll(out, 0o755); err != nil {
			return fmt.Errorf("draw: %w", err)
		}
		base := filepath.Base(file)
		out = filepath.Join(out, strings.TrimSuffix(base, filepath.Ext(base))+"-seen.jpg")
	}
	b, err := look.Draw(m.preview, m.frame.Look, look.Drawing{Side: drawingSide, Says: append(f.drawn(), cutsSay(cuts)...), Boxes: boxesOf(cuts, m.frame.Look.Width, m.frame.Look.Height)})
	if err != nil {
		return fmt.Errorf("draw %s: %w", file, err)
	}
	w, err := os.OpenFile(out, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	switch {
	case errors.Is(err, fs.ErrExist):
		return misused("give another name, or move it away", "%s is there already, and nothing is written over", plain(out))
	case err != nil:
		return fmt.Errorf("draw: %w", err)
	}
	if _, err = w.Write(b); err == nil {
		err = w.Sync()
	}
	if err = errors.Join(err, w.Close()); err != nil {
		return errors.Join(fmt.Errorf("draw: %w", err), os.Remove(out)) // half a drawing is none
	}
	return nil
}

// cutsSay names the cuts that are drawn by their letters.
func cutsSay(cuts []audit.Cut) []string {
	var out []string
	for i, c := range cuts {
		out = append(out, fmt.Sprintf("%s %s: %s, %s", paper.Letter(i), c.For, c.Works, c.Says))
	}
	return out
}

// drawn is what stands below a drawing: a line a matter.
func (f facts) drawn() []string {
	says := []string{filepath.Base(f.File)}
	for _, line := range f.lines() {
		for _, matter := range []string{"angle", "focus", "light"} {
			if rest, ok := strings.CutPrefix(line, matter+" "); ok {
				says = append(says, matter+": "+strings.TrimSpace(rest))
			}
		}
	}
	return says
}
