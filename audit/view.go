package audit

import (
	"fmt"
	"math"
	"slices"

	"coverplate/audit/angle"
	"coverplate/audit/plan"
)

// view is from where the camera looked at one frame.
type view struct{ angle.Reading }

// What counts as seen and not only as likely. The project's own choices.
const (
	sureView = 0.9  // the chance from which a class that is not the wanted one is a fault
	sureNone = 0.02 // the chance of 75° or more up to which a frame is no overhead, for certain
	farther  = 2.0  // of the error bar, what a class must be away to be ruled out
)

// named reports whether the view has a class.
func (v view) named() bool { return v.Known && v.Class != "" && v.Class != plan.UnknownAngle }

// bySensor reports whether a level measured it, in this frame or in another
// from the same spot.
func (v view) bySensor() bool {
	return slices.Contains(v.Sources, angle.Sensor)
}

// isNot reports whether the view is of another class for certain.
func (v view) isNot(class plan.Angle) bool {
	if !v.named() || v.Class == class || v.Confidence < sureView {
		return false
	}
	for _, e := range []float64{v.Elevation - farther*v.PlusMinus, v.Elevation + farther*v.PlusMinus} {
		if plan.AngleOf(min(max(e, -90), 90)) == class {
			return false
		}
	}
	return true
}

// degrees says an elevation: "84° ± 3".
func (v view) degrees() string {
	says := below(v.Elevation, 75, 50, 25) + "°"
	if v.bySensor() {
		return says
	}
	return says + fmt.Sprintf(" ± %.0f", math.Ceil(v.PlusMinus))
}

// because is what a view rests on, in brackets; "" for the camera's own level,
// which says no more than its figure.
func (v view) because() string {
	if v.bySensor() || v.Why == "" {
		return ""
	}
	return " (" + v.Why + ")"
}

// seenFrom tests the planned angle, which is a wish: what lies near the bound
// of it is left to eyes.
func (f *fit) seenFrom(want plan.Angle, v view) {
	switch {
	case want == "" || want == plan.AnyAngle || want == plan.UnknownAngle:
	case v.named() && v.Class == want:
		f.pass("angle", fmt.Sprintf("seen at %s (%s)", v.degrees(), want))
	case v.isNot(want):
		f.fail("angle", fmt.Sprintf("the camera looked down at %s (%s), the plan wants %s%s", v.degrees(), v.Class, want, v.because()))
	case v.Known:
		f.ask("angle", fmt.Sprintf("whether it is seen %s, as planned: it looks like %s%s", want, v.degrees(), v.because()))
	default:
		f.ask("angle", fmt.Sprintf("whether it is seen %s, as planned", want))
	}
}

// above tells an overhead. What is called one and is none costs the picture,
// so it must be called overhead at the operating point of package angle, its
// error bar included; what may be one is looked at.
func (f *fit) above(v view) {
	switch {
	case v.named() && v.Class == plan.Overhead && v.Elevation-v.PlusMinus >= 75:
		f.pass("angle", "taken from "+v.degrees())
	case v.Known && v.Overhead <= sureNone:
		f.role = fmt.Sprintf("it looks down at %s, an overhead is from 75°%s", v.degrees(), v.because())
		f.ppi = v.Elevation // the steepest is the one to speak of
		f.evidence = append(f.evidence, Evidence{"angle", testFailed, f.role})
	case v.Known && math.Abs(v.Elevation-75) <= farther*v.PlusMinus:
		f.ask("angle", fmt.Sprintf("whether it is seen from above: it looks like %s, too near 75°, where an overhead begins%s", v.degrees(), v.because()))
	case v.Known:
		f.ask("angle", fmt.Sprintf("whether it is seen from above: it looks like %s, an overhead is from 75°%s", v.degrees(), v.because()))
	default:
		f.ask("angle", "whether it is seen from above: "+v.Why)
	}
}
