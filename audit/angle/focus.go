package angle

import (
	"math"
	"slices"

	"coverplate/audit/optics"
	"coverplate/ingest/catalogue"
)

// Focus runs out towards the far edge of a table that is seen aslant, and stays
// even across one that is seen from above. fall is how much sharper the near
// edge is than the far one: the slope, over the height of the picture, of the
// logarithm of the sharpness that a fifth of the cells of each eighth of the
// rows exceed. ok is false where focus was not measured, or nothing has an edge.
func fall(f *catalogue.Focus) (slope float64, ok bool) {
	if f == nil || f.Columns < 1 || f.Rows < focusBands || len(f.Grid) != f.Columns*f.Rows {
		return 0, false
	}
	var along, square float64
	most := uint8(0)
	for k := range focusBands {
		from, to := k*f.Rows/focusBands, (k+1)*f.Rows/focusBands
		band := slices.Clone(f.Grid[from*f.Columns : to*f.Columns])
		slices.Sort(band)
		y := (float64(k) - (focusBands-1)/2.0) / (focusBands - 1)
		// Two steps of the grid's 255, so that a plain cloth is no abyss.
		v := band[len(band)*4/5]
		along += y * math.Log(float64(v)+2)
		square += y * y
		most = max(most, v)
	}
	return along / square, most >= leastHeld
}

const focusBands = 8

// What fall is to be expected: aslant it grows with the cosine of the
// elevation, and so does its scatter, which is far from normal (Laplace).
// Fitted by likelihood on shared/photos/food; the weight is learnt held out.
const (
	fallMean    = 0.15 // times the cosine of the elevation
	fallScatter = 0.18 // times that cosine,
	fallLeast   = 0.03 // and so much besides
)

// shallow is how much the fall of focus can tell by what lens, aperture and
// distance allow: 1 where the far edge of a table seen at 45° would be blurred
// for all to see, 0 where the depth of field holds it whole and evenness proves
// nothing. known is false where the camera wrote too little; then it counts as
// it did in the photographs that its weight was learnt on, most of which give no
// lens.
func (s *sight) shallow() (share float64, known bool) {
	px, ok := s.farBlur(45)
	if !ok {
		return 1, false
	}
	return min(1, max(0, (px-unseenBlur)/(plainBlur-unseenBlur))), true
}

// Diameters of blur in pixels of a picture of 768 on its long side, on which
// sharpness is measured: below the first a disc is no larger than a pixel, from
// the second its deviation, a quarter of the diameter, is one. And the usual
// plate, millimetres: common practice, no source.
const (
	unseenBlur = 1.0
	plainBlur  = 4.0
	focusSide  = 768

	largePlate = 300 // 200 … 300; the larger one stands farther away, and there all is sharper
)

// farBlur is the diameter of the blur, in pixels as above, of the table at the
// far edge of the picture, were it seen from elevation e degrees and focused on
// in the middle. The distance is what the camera wrote, else that from which a
// large plate is as large as the surest rim, or half of the picture where there
// is none. ok is false where the lens or its aperture is not known, or the picture
// was cut.
func (s *sight) farBlur(e float64) (px float64, ok bool) {
	x := s.frame.Exposure
	if !(x.FocalLength > 0 && x.Focal35 > 0 && x.FNumber > 0) || s.height == 0 || cut(s.frame) {
		return 0, false
	}
	f := focalOf(x.Focal35, s.height)
	distance := 1000 * x.SubjectDistance
	if !(distance >= 100 && distance <= 5000) { // no distance of a dish
		across := 0.5 * max(1, s.height)
		if len(s.views) > 0 && s.views[0].trust >= 0.5 {
			across = 2 * s.views[0].rim.A
		}
		distance = largePlate / across * f
	}
	lens := optics.Lens{Focal: x.FocalLength, FNumber: x.FNumber}
	long := optics.Full.Diagonal() * x.FocalLength / x.Focal35 * max(1, s.height) / math.Hypot(1, s.height) // of the sensor
	d, err := lens.At(distance, long/focusSide)
	if err != nil {
		return 0, false
	}
	// A ray t of the focal length above the axis meets the table so many
	// distances away, measured along the axis.
	sin, cos := math.Sincos(e * math.Pi / 180)
	t := s.height / 2 / f
	beyond := 1.0 // of what is at infinity
	if sin > t*cos {
		away := sin / (sin - t*cos)
		beyond = 1 - 1/away
	}
	return d.Infinity * beyond / long * focusSide, true
}

// focusFall is what the fall of focus tells of the elevation.
func (w Weights) focusFall(s *sight) (b belief, ok bool) {
	slope, ok := fall(s.frame.Look.Focus)
	share, _ := s.shallow()
	if !ok || w.Focus*share == 0 {
		return b, false
	}
	for i := range b {
		cos := math.Sqrt(1 - sines[i]*sines[i])
		scatter := fallLeast + fallScatter*cos
		b[i] = w.Focus * share * (-math.Abs(slope-fallMean*cos)/scatter - math.Log(scatter))
	}
	return b, true
}
