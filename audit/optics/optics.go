// Package optics is the geometry of a lens at the table: how deep the picture
// is sharp, how much of the table it shows, how high props may stand under a
// camera that looks straight down. Lengths are in millimetres throughout.
//
// It is that of a thin lens, with the pupils where their ratio puts them. What
// is sharp is what a point spreads over no more than the circle of confusion,
// which is a choice and not a law: every result is worth as much as it is.
package optics

import (
	"errors"
	"fmt"
	"math"
)

var (
	// ErrFocal: the focal length is no positive number.
	ErrFocal = errors.New("the focal length must be more than 0 mm")
	// ErrFNumber: the f-number is no positive number.
	ErrFNumber = errors.New("the f-number must be more than 0")
	// ErrConfusion: the circle of confusion is no positive number.
	ErrConfusion = errors.New("the circle of confusion must be more than 0 mm")
	// ErrPupil: the pupil ratio is no positive number.
	ErrPupil = errors.New("the pupil ratio must be more than 0; 1 is a symmetric lens")
	// ErrTooNear: the subject stands where the lens cannot focus.
	ErrTooNear = errors.New("too near to be focused on")
)

// Lens is a lens at an aperture.
type Lens struct {
	Focal   float64 // millimetres
	FNumber float64 // as marked, that is at infinity
	Pupil   float64 // diameter of the exit pupil over that of the entrance pupil; 0 stands for 1, a symmetric lens
}

// Sensor is the size of the picture in the camera, millimetres.
type Sensor struct {
	Name          string
	Width, Height float64
}

// Full is the frame of 35 mm film, ISO 1007. The other sizes are those that
// makers state, rounded; from memory.
var Full = Sensor{"full", 36, 24}

// Sensors are the sizes that are known by name.
func Sensors() []Sensor {
	return []Sensor{Full, {"aps-c", 23.6, 15.7}, {"mft", 17.3, 13}, {"1-inch", 13.2, 8.8}, {"medium", 43.8, 32.9}}
}

// Cropped is the sensor whose diagonal is so many times shorter than Full's,
// of the shape of Full, since a factor says nothing of the shape.
func Cropped(factor float64) Sensor {
	return Sensor{fmt.Sprintf("crop %.4g", factor), Full.Width / factor, Full.Height / factor}
}

// Diagonal is the sensor's, millimetres.
func (s Sensor) Diagonal() float64 { return math.Hypot(s.Width, s.Height) }

// Crop is how many times shorter the diagonal is than Full's.
func (s Sensor) Crop() float64 { return Full.Diagonal() / s.Diagonal() }

// fullConfusion is the usual circle of confusion of Full, millimetres: 43 mm /
// 1500, rounded up as the tables of lens makers do (Camera Lens News 01_07,
// 2007; the same text names 1/1000 of the diagonal as the general standard, and
// an army course of 1980 takes 0.0508 mm: the depth grows with it).
const fullConfusion = 0.030

// Confusion is the usual circle of confusion for the sensor, millimetres: the
// same share of the diagonal as for Full, so that prints of one size compare.
func (s Sensor) Confusion() float64 { return fullConfusion / s.Crop() }

// AngleOfView is the angle, in degrees, that a side of the sensor sees, by a
// rectilinear lens at infinity: 2 atan(side / 2 focal).
func AngleOfView(focal, side float64) float64 { return 2 * math.Atan(side/(2*focal)) * 180 / math.Pi }

// Depth is how a lens draws a subject, all in millimetres. Distances are from
// the front principal plane of the lens.
type Depth struct {
	Distance      float64 // to what is focused on
	FromSensor    float64 // the same from the sensor, as focus scales count it
	Magnification float64 // size on the sensor over true size
	Near, Far     float64 // limits of what is sharp; Far may be infinite
	Hyperfocal    float64 // the nearest distance to focus on at which Far is infinite
	CloseUp       float64 // the depth by the close-up rule 2Nc(1+m/P)/m², which Far − Near nears for large m
	Infinity      float64 // diameter on the sensor of a point at infinity
	Airy          float64 // diameter on the sensor of the disc that diffraction draws of a point, at 550 nm
}

// Total is the depth that is sharp; it may be infinite.
func (d Depth) Total() float64 { return d.Far - d.Near }

// Front is how much of it lies before what is focused on.
func (d Depth) Front() float64 { return d.Distance - d.Near }

// Behind is how much of it lies behind what is focused on.
func (d Depth) Behind() float64 { return d.Far - d.Distance }

// check returns the lens with its pupil ratio, or why there is no such lens.
func (l Lens) check(confusion float64) (Lens, error) {
	if l.Pupil == 0 {
		l.Pupil = 1
	}
	for _, c := range []struct {
		value float64
		err   error
	}{{l.Focal, ErrFocal}, {l.FNumber, ErrFNumber}, {confusion, ErrConfusion}, {l.Pupil, ErrPupil}} {
		if !(c.value > 0) || math.IsInf(c.value, 0) {
			return l, fmt.Errorf("%w; it is %g", c.err, c.value)
		}
	}
	return l, nil
}

// At is how the lens draws what stands at distance, confusion being the circle
// of confusion, both in millimetres.
//
// The blur of a point at depth x before or behind the plane of focus, seen in
// that plane, is the shadow that the entrance pupil of diameter D = f/N throws
// from it: D·x/(s ∓ x), s the distance of the plane from the pupil. It may be
// c/m. The pupil of a lens of pupil ratio P stands f(1 − 1/P) before the
// principal plane, so that s = f(1/m + 1/P). For P = 1 the limits are
// u f²/(f² ± N c (u − f)), and the total is 2Nc(1 + m/P)/(m² − (Nc/f)²).
//
// Errors: ErrFocal, ErrFNumber, ErrConfusion, ErrPupil, and ErrTooNear where
// distance is not beyond the focal length.
func (l Lens) At(distance, confusion float64) (Depth, error) {
	l, err := l.check(confusion)
	if err != nil {
		return Depth{}, err
	}
	if !(distance > l.Focal) || math.IsInf(distance, 0) {
		return Depth{}, fmt.Errorf("%g mm from a lens of %g mm focal length: %w: nothing within the focal length is", distance, l.Focal, ErrTooNear)
	}
	m := l.Focal / (distance - l.Focal)
	pupil := l.Focal / l.FNumber
	blur := confusion / m // in the plane of focus
	s := l.Focal * (1/m + 1/l.Pupil)
	d := Depth{
		Distance: distance, Magnification: m,
		FromSensor: distance + l.Focal*(1+m),
		Near:       distance - blur*s/(pupil+blur),
		Far:        math.Inf(1),
		Hyperfocal: l.Focal*l.Focal/(l.FNumber*confusion) + l.Focal,
		CloseUp:    2 * l.FNumber * confusion * (1 + m/l.Pupil) / (m * m),
		Infinity:   pupil * m,
		// 2.44 λ times the f-number at work; the first dark ring.
		Airy: 2.44 * 550e-6 * l.FNumber * (1 + m/l.Pupil),
	}
	if pupil > blur {
		d.Far = distance + blur*s/(pupil-blur)
	}
	return d, nil
}

// FromSensor is the distance from the front principal plane of what stands at
// fromSensor from the sensor, the lens being focused on it: of the two places
// where a thin lens throws it onto the sensor, the one that makes it smaller.
// ErrTooNear within four focal lengths, where there is none.
func (l Lens) FromSensor(fromSensor float64) (float64, error) {
	if !(l.Focal > 0) || math.IsInf(l.Focal, 0) {
		return 0, fmt.Errorf("%w; it is %g", ErrFocal, l.Focal)
	}
	if !(fromSensor >= 4*l.Focal) || math.IsInf(fromSensor, 0) {
		return 0, fmt.Errorf("%g mm from the sensor with a lens of %g mm: %w: a thin lens needs four focal lengths, %g mm", fromSensor, l.Focal, ErrTooNear, 4*l.Focal)
	}
	return (fromSensor + math.Sqrt(fromSensor*(fromSensor-4*l.Focal))) / 2, nil
}

// Above is what stays sharp under a camera that looks straight down on a
// table. Heights are above the table, millimetres.
type Above struct {
	Table float64 // the lens on the table itself: props this high are sharp
	Rim   Span    // the lens on a rim: what is sharp, below the table as negative heights
	Focus float64 // to focus on so that the table is just sharp
	Most  float64 // props this high are then sharp, table and all: nothing is wasted below it
}

// Span is a part of the heights above a table, millimetres.
type Span struct {
	From, To float64 // From may be −Inf
}

// Above is what stays sharp with the table at distance from the lens, and the
// rim of a plate so much above it. Errors are those of At; ErrTooNear also
// where the rim is.
func (l Lens) Above(table, rim, confusion float64) (Above, error) {
	onTable, err := l.At(table, confusion)
	if err != nil {
		return Above{}, err
	}
	onRim, err := l.At(table-rim, confusion)
	if err != nil {
		return Above{}, err
	}
	a := Above{Table: onTable.Front(), Rim: Span{table - onRim.Far, table - onRim.Near}}
	// The distance whose far limit is the table, from At's equation of Far.
	l, _ = l.check(confusion) // with its pupil; At has found no fault
	pupil := l.Focal * l.Focal / l.FNumber
	beyond := table - l.Focal
	q := beyond * pupil / (pupil + confusion*beyond + confusion*l.Focal/l.Pupil)
	best, err := l.At(q+l.Focal, confusion)
	if err != nil {
		return Above{}, err
	}
	a.Focus, a.Most = table-best.Distance, table-best.Near
	return a, nil
}
