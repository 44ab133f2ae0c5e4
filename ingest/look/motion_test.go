package look

import (
	"math"
	"testing"

	"coverplate/audit"
)

// Grain that is left of a picture out of focus is no motion: it runs any way.
// A blur of a Gaussian is none either.
func TestGrainIsNoMotion(t *testing.T) {
	mark := audit.DefaultRules().MotionShare
	for seed := 1; seed <= 3; seed++ {
		g := texture(720, 480, seed)
		for _, sigma := range []float64{2.5, 4} {
			soft := blur{sigma: sigma}.of(g)
			for _, noise := range []float64{0, 0.04} {
				if f := measured(soft, noise, 3*seed).Focus; f == nil || !(f.Motion < mark) {
					t.Errorf("texture %d, σ %v, noise %v: %+v", seed, sigma, noise, f)
				}
			}
		}
	}
}

// A movement of the camera is told, and along which line.
func TestMotionIsToldWithItsDirection(t *testing.T) {
	mark := audit.DefaultRules().MotionShare
	g := texture(720, 480, 2)
	for _, angle := range []float64{0, 35, 90, 145} {
		moved := blur{length: 9, angle: angle}.of(g)
		for _, noise := range []float64{0, 0.01} {
			f := measured(moved, noise, int(angle)+1).Focus
			if f == nil {
				t.Fatalf("along %v°: nothing told", angle)
			}
			off := math.Abs(f.Direction - angle)
			// A ninth of a half turn: what a person would call along this edge
			// of the table.
			if off = min(off, 180-off); !(f.Motion >= mark) || !(off <= 20) {
				t.Errorf("along %v°, noise %v: %.2f along %.0f°", angle, noise, f.Motion, f.Direction)
			}
		}
	}
}
