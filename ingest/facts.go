package ingest

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"coverplate/ingest/camera"
	"coverplate/ingest/catalogue"
	"coverplate/ingest/look"
)

// located is a file of a frame and where its bytes can be read.
type located struct {
	kind     catalogue.FileKind
	name     string // to be shown
	path     string // on the disk
	modified time.Time
}

// measured is what the files of a frame say.
type measured struct {
	shot    camera.Shot
	look    catalogue.Look // Picture is not set
	picture []byte         // preview for people, JPEG; nil none
	shots   []camera.Shot  // of each of the files
	faults  []error        // why facts or pixels could not be read
}

// measure reads the facts of the frame that files make up, the leading one
// first, and looks at its pixels where pixels is true. What the leading file
// does not tell is taken from the next; what a sidecar tells counts over both,
// the one written last over the others.
func measure(files []located, pixels bool) measured {
	var m measured
	m.shots = make([]camera.Shot, len(files))
	first := true
	for i, f := range files {
		if !pictorial(f.kind) {
			continue
		}
		shot, err := readShot(f)
		if err != nil {
			m.fault(f, err)
			continue
		}
		m.shots[i] = shot
		if first {
			m.shot, first = shot, false
		} else {
			fill(&m.shot, shot)
		}
		if shot.Taken.IsZero() && shot.Damaged {
			m.fault(f, errors.New(strings.Join(shot.Warnings, "; ")))
		}
	}
	m.readSidecars(files)
	if pixels {
		m.lookAt(files)
	}
	return m
}

func (m *measured) fault(f located, err error) {
	for _, old := range m.faults { // the header and the pixels often share one fault
		if strings.HasSuffix(old.Error(), err.Error()) {
			return
		}
	}
	m.faults = append(m.faults, fmt.Errorf("%s: %w", f.name, err))
}

func readShot(f located) (shot camera.Shot, err error) {
	err = guarded(f.path, func(r io.ReaderAt, size int64) error {
		shot, err = camera.Read(r, size, f.kind)
		return err
	})
	return shot, err
}

// guarded opens the file at name for do. A panic of a reader is our mistake,
// but must not cost the rest of the card: it becomes an error.
func guarded(name string, do func(r io.ReaderAt, size int64) error) (err error) {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the reader gave up: %v", p)
		}
	}()
	return do(f, info.Size())
}

// fill gives to what it lacks and more has.
func fill(to *camera.Shot, more camera.Shot) {
	if to.Taken.IsZero() {
		to.Taken, to.Offset = more.Taken, more.Offset
	}
	to.Offset = cmp.Or(to.Offset, more.Offset)
	c := &to.Camera
	c.Make, c.Model = cmp.Or(c.Make, more.Camera.Make), cmp.Or(c.Model, more.Camera.Model)
	c.Serial, c.Lens = cmp.Or(c.Serial, more.Camera.Serial), cmp.Or(c.Lens, more.Camera.Lens)
	e, n := &to.Exposure, more.Exposure
	e.FocalLength, e.Focal35 = cmp.Or(e.FocalLength, n.FocalLength), cmp.Or(e.Focal35, n.Focal35)
	e.FNumber, e.Seconds, e.ISO = cmp.Or(e.FNumber, n.FNumber), cmp.Or(e.Seconds, n.Seconds), cmp.Or(e.ISO, n.ISO)
	e.SubjectDistance = cmp.Or(e.SubjectDistance, n.SubjectDistance)
	if e.Elevation == nil {
		e.Elevation, e.ElevationFrom = n.Elevation, n.ElevationFrom
	}
	to.Orientation = cmp.Or(to.Orientation, more.Orientation)
	to.ColourSpace = cmp.Or(to.ColourSpace, more.ColourSpace)
	to.Rating = cmp.Or(to.Rating, more.Rating)
	to.Title, to.Headline = cmp.Or(to.Title, more.Title), cmp.Or(to.Headline, more.Headline)
	if len(to.Subjects) == 0 {
		to.Subjects = more.Subjects
	}
}

// maxSidecar is more than any sidecar of one frame holds, bytes.
const maxSidecar = 8 << 20

func (m *measured) readSidecars(files []located) {
	var sidecars []located
	for _, f := range files {
		if f.kind == catalogue.Sidecar {
			sidecars = append(sidecars, f)
		}
	}
	slices.SortStableFunc(sidecars, func(a, b located) int { return a.modified.Compare(b.modified) })
	for _, f := range sidecars {
		var said camera.Sidecar
		err := guarded(f.path, func(r io.ReaderAt, size int64) error {
			if size > maxSidecar {
				return fmt.Errorf("a sidecar of %d bytes is not read (at most %d)", size, maxSidecar)
			}
			b, err := io.ReadAll(io.NewSectionReader(r, 0, size))
			if err != nil {
				return err
			}
			said, err = camera.ReadSidecar(b)
			return err
		})
		if err != nil {
			m.fault(f, err)
			continue
		}
		m.shot.Rating = cmp.Or(said.Rating, m.shot.Rating)
		m.shot.Title = cmp.Or(said.Title, m.shot.Title)
		m.shot.Headline = cmp.Or(said.Headline, m.shot.Headline)
		if len(said.Subjects) > 0 {
			m.shot.Subjects = said.Subjects
		}
	}
}

// lookAt looks at the first picture that shows itself whole; where none does,
// the first that shows anything counts, and the faults of all are told.
func (m *measured) lookAt(files []located) {
	for i, f := range files {
		if !pictorial(f.kind) {
			continue
		}
		var seen look.Seen
		err := guarded(f.path, func(r io.ReaderAt, size int64) error {
			var err error
			seen, err = look.At(r, size, f.kind, m.shots[i])
			return err
		})
		if m.look.Preview == "" || err == nil {
			width, height := m.look.Width, m.look.Height
			m.look, m.picture = seen.Look, seen.JPEG
			if m.look.Width == 0 || m.look.Height == 0 {
				m.look.Width, m.look.Height = width, height
			}
		}
		if err == nil {
			return
		}
		m.fault(f, err)
	}
}

// embedded takes the preview that the camera embedded in the first of files
// that has one to show. What can't be read is told when pixels are measured.
func (m *measured) embedded(files []located) {
	for i, f := range files {
		if !pictorial(f.kind) {
			continue
		}
		err := guarded(f.path, func(r io.ReaderAt, size int64) (err error) {
			m.picture, err = look.Embedded(r, size, f.kind, m.shots[i])
			return err
		})
		if err == nil && m.picture != nil {
			return
		}
	}
	m.picture = nil
}

// show makes the preview of the first of files that shows itself whole.
func (m *measured) show(files []located) {
	for i, f := range files {
		if !pictorial(f.kind) {
			continue
		}
		var jpeg []byte
		err := guarded(f.path, func(r io.ReaderAt, size int64) (err error) {
			jpeg, err = look.Show(r, size, f.kind, m.shots[i])
			return err
		})
		if m.picture == nil || err == nil {
			m.picture = jpeg
		}
		if err == nil {
			return
		}
		m.fault(f, err)
	}
}

// unread is the faults as the catalogue holds them.
func (m measured) unread() string {
	if err := errors.Join(m.faults...); err != nil {
		return strings.ReplaceAll(err.Error(), "\n", "; ")
	}
	return ""
}

// facts gives f what the files say, apart from the look.
func (m measured) facts(f *catalogue.Frame) {
	s := m.shot
	f.Taken, f.Offset, f.Camera, f.Exposure = s.Taken, s.Offset, s.Camera, s.Exposure
	f.Orientation, f.ColourSpace = s.Orientation, s.ColourSpace
	f.Rating, f.Title, f.Headline, f.Subjects = s.Rating, s.Title, s.Headline, s.Subjects
	if f.Rating != nil && (math.IsNaN(*f.Rating) || math.IsInf(*f.Rating, 0)) {
		f.Rating = nil
	}
}

// Facts returns what the camera wrote of the one loose picture at path, without
// a look at its pixels; ID, Look and Measured stay empty. What could not be
// read is told in Frame.Unread. Errors are those of Measure.
func Facts(path string) (catalogue.Frame, error) {
	kind, info, err := loose(path)
	if err != nil {
		return catalogue.Frame{}, err
	}
	m := measure([]located{{kind, filepath.Base(path), path, info.ModTime()}}, false)
	f := catalogue.Frame{
		Files:  []catalogue.File{{Kind: kind, Path: path, Name: filepath.Base(path), Size: info.Size(), Modified: info.ModTime().UTC()}},
		Unread: m.unread(),
	}
	m.facts(&f)
	return f, nil
}

// loose makes sure that path is a picture's file.
func loose(path string) (catalogue.FileKind, os.FileInfo, error) {
	kind := kindOf(filepath.Base(path))
	if !pictorial(kind) {
		return "", nil, fmt.Errorf("measure %s: %w", path, &camera.UnsupportedError{
			Format: fmt.Sprintf("a file named %q", filepath.Ext(path)), Reason: "give a JPEG, HEIC, PNG, TIFF, WebP or raw",
		})
	}
	info, err := os.Stat(path)
	if err != nil {
		return "", nil, fmt.Errorf("measure: %w", err)
	}
	if !info.Mode().IsRegular() {
		return "", nil, fmt.Errorf("measure %s: it is no file", path)
	}
	if info.Size() == 0 {
		return "", nil, fmt.Errorf("measure %s: %w", path, ErrEmpty)
	}
	return kind, info, nil
}

// Measure returns the facts and the look of the one loose picture at path;
// nothing is stored, and a sidecar beside it is not read. What could not be
// read of it is told in Frame.Unread. The error is for a file that can't be
// opened or is no picture by its name (*camera.UnsupportedError).
func Measure(path string) (catalogue.Frame, error) {
	f, _, err := MeasureSeen(path)
	return f, err
}

// MeasureSeen is Measure with the upright preview that was measured, an sRGB
// JPEG; nil where no pixels but a thumbnail's could be had.
func MeasureSeen(path string) (catalogue.Frame, []byte, error) {
	kind, info, err := loose(path)
	if err != nil {
		return catalogue.Frame{}, nil, err
	}
	in, err := os.Open(path)
	if err != nil {
		return catalogue.Frame{}, nil, fmt.Errorf("measure: %w", err)
	}
	defer in.Close()
	sum, err := copyHashed(context.Background(), nil, in, make([]byte, chunk), func(int) {})
	if err != nil {
		return catalogue.Frame{}, nil, fmt.Errorf("measure %s: %w", path, err)
	}
	m := measure([]located{{kind, filepath.Base(path), path, info.ModTime()}}, true)
	f := catalogue.Frame{
		ID: catalogue.FrameID(sum),
		Files: []catalogue.File{{
			Kind: kind, Path: path, Name: filepath.Base(path), Size: info.Size(), SHA256: sum, Modified: info.ModTime().UTC(),
		}},
		Look: m.look, Unread: m.unread(), Measured: Measures,
	}
	m.facts(&f)
	return f, m.picture, nil
}
