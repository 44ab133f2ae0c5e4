package audit

import (
	"fmt"
	"math"

	"coverplate/audit/plan"
)

// view is from where the camera looked at one frame.
type view struct {
	class      plan.Angle // "" or UnknownAngle: not known
	elevation  float64    // degrees above the table
	plusMinus  float64    // degrees
	confidence float64    // 0 … 1
	why        string
}

// sureView is the confidence from which an angle that is not the wanted one
// counts as seen, and not only as likely. The project's own choice.
const sureView = 0.9

func (v view) known() bool { return v.class != "" && v.class != plan.UnknownAngle }

// within reports whether the elevation may lie in a class, its error bar
// taken in.
func (v view) within(class plan.Angle) bool {
	for _, e := range []float64{v.elevation - v.plusMinus, v.elevation, v.elevation + v.plusMinus} {
		if plan.AngleOf(min(max(e, -90), 90)) == class {
			return true
		}
	}
	return false
}

// is reports whether the view is of a class for certain: it is called so, and
// its error bar does not reach another class.
func (v view) is(class plan.Angle) bool {
	return v.class == class &&
		plan.AngleOf(min(v.elevation+v.plusMinus, 90)) == class &&
		plan.AngleOf(max(v.elevation-v.plusMinus, -90)) == class
}

// isNot reports whether the view is of another class for certain.
func (v view) isNot(class plan.Angle) bool {
	return v.known() && v.class != class && v.confidence >= sureView && !v.within(class)
}

// degrees says an elevation: "62°", "84° ± 3".
func (v view) degrees() string {
	says := below(v.elevation, 75, 50, 25) + "°"
	if pm := math.Round(v.plusMinus); pm > 0 {
		says += fmt.Sprintf(" ± %.0f", pm)
	}
	return says
}

// because is the source of a view, in brackets; "" where it is the camera's
// own sensor and says no more.
func (v view) because() string {
	if v.why == "" {
		return ""
	}
	return " (" + v.why + ")"
}

// look finds the views of all frames.
func (d *sheet) look() {
	d.views = make([]view, len(d.frames))
	for i, f := range d.frames {
		if e := f.Exposure.Elevation; e != nil {
			above := -*e // Exif counts upwards; the camera looks down
			d.views[i] = view{class: plan.AngleOf(above), elevation: above, confidence: 1}
		}
	}
}

// seenFrom tests the planned angle. The plan's angle is a wish: what lies on
// the bound of it is no fault.
func (f *fit) seenFrom(want plan.Angle, v view) {
	switch {
	case want == "" || want == plan.AnyAngle || want == plan.UnknownAngle:
	case v.class == want:
		f.pass("angle", fmt.Sprintf("seen at %s (%s)", v.degrees(), want))
	case !v.known():
		f.ask("angle", fmt.Sprintf("whether it is seen %s, as planned", want))
	case v.isNot(want):
		f.fail("angle", fmt.Sprintf("the camera looked down at %s (%s), the plan wants %s%s", v.degrees(), v.class, want, v.because()))
	default:
		f.ask("angle", fmt.Sprintf("whether it is seen %s, as planned: it looks like %s, %s%s", want, v.degrees(), v.class, v.because()))
	}
}

// above tells an overhead. What is called overhead and is not costs the
// picture, so only what is sure counts, and whatever else may be one is looked
// at.
func (f *fit) above(v view) {
	switch {
	case v.is(plan.Overhead):
		f.pass("angle", "taken from "+v.degrees())
	case v.isNot(plan.Overhead):
		f.role = fmt.Sprintf("it looks down at %s, an overhead is from 75°%s", v.degrees(), v.because())
		f.ppi = v.elevation // the steepest is the one to speak of
	case !v.known():
		why := v.why
		if why == "" {
			why = "the camera did not write its elevation"
		}
		f.ask("angle", "whether it is seen from above: "+why)
	default:
		f.ask("angle", fmt.Sprintf("whether it is seen from above: it looks like %s, an overhead is from 75°%s", v.degrees(), v.because()))
	}
}
