package angle

import (
	"fmt"
	"math"
	"strings"

	"coverplate/audit/plan"
)

func sprintf(format string, a ...any) string { return fmt.Sprintf(format, a...) }

// degrees writes an elevation to the degree, or finer where rounding would
// lift it over a class boundary that it does not reach.
func degrees(e float64) string {
	for digits := range 6 {
		s := fmt.Sprintf("%.*f", digits, e)
		var got float64
		fmt.Sscan(s, &got)
		if plan.AngleOf(got) == plan.AngleOf(e) {
			return strings.TrimPrefix(s, "-") + side(e)
		}
	}
	return fmt.Sprint(e) + "°"
}

// side names the side of the table's plane where it must be said.
func side(e float64) string {
	if e <= -0.5 {
		return "° from below"
	}
	return "°"
}

// why says what an elevation that rests on rims rests on.
func (s sight) why(r Reading, alike int) string {
	agree := 0
	for _, v := range r.Rims {
		if v.Agrees {
			agree++
		}
	}
	var parts []string
	var best view
	if len(s.views) > 0 {
		best = s.views[0]
	}
	switch {
	case len(s.views) == 0 || best.trust < 0.5 && math.Abs(best.elevation-r.Elevation) > max(3, r.PlusMinus):
		parts = append(parts, fmt.Sprintf("no round rim to go by; straight edges and focus point to %s ± %.0f", degrees(r.Elevation), r.PlusMinus))
	case agree >= 2:
		parts = append(parts, fmt.Sprintf("%s rims agree on %s ± %.0f", count(agree), degrees(r.Elevation), r.PlusMinus))
	default:
		parts = append(parts, fmt.Sprintf("a rim %.0f %% as tall as it is wide, traced over %.0f %% of its edge: %s ± %.0f",
			100*best.rim.B/best.rim.A, 100*best.rim.Cover, degrees(r.Elevation), r.PlusMinus))
	}
	if best.empty {
		parts = append(parts, "nothing is seen inside of it, it may be a mere disc")
	}
	parts = append(parts, s.besides(r)...)
	switch {
	case s.posed:
	case s.frame.Exposure.Focal35 > 0 && cut(s.frame):
		parts = append(parts, "the picture is cut from a larger one, so the lens does not tell more")
	default:
		parts = append(parts, "focal length not known")
	}
	if alike > 0 {
		parts = append(parts, fmt.Sprintf("the same in %s of the set", frames(alike)))
	}
	if e := s.frame.Exposure; e.FocalLength > 0 && e.FNumber > 0 {
		lens := fmt.Sprintf("%g mm f/%g", e.FocalLength, e.FNumber)
		switch u := usage(e); {
		case u > 0:
			lens += ", stopped down as overheads are"
		case u < 0:
			lens += ", as angles are taken"
		}
		parts = append(parts, lens)
	}
	if r.Class == plan.UnknownAngle {
		parts = append(parts, unsure(r))
	}
	return strings.Join(parts, "; ")
}

// besides says what straight edges and focus add to a class, where they are
// clear about it.
func (s sight) besides(r Reading) (says []string) {
	if s.lined && r.Class != plan.UnknownAngle {
		switch share := s.straight.share(r.Class); {
		case share >= 0.5 && r.Class == plan.Overhead:
			says = append(says, "straight edges stay parallel, as from above")
		case share >= 0.5:
			says = append(says, "straight edges converge as they do from there")
		case share <= 0.1:
			says = append(says, "straight edges speak against it")
		}
	}
	if slope, ok := fall(s.frame.Look.Focus); ok {
		share, known := s.shallow()
		even := r.Class == plan.Overhead && math.Abs(slope) <= evenFocus
		switch {
		case even && known && share < 0.25:
			says = append(says, fmt.Sprintf("focus even across the frame, as f/%g makes it at any angle", s.frame.Exposure.FNumber))
		case even:
			says = append(says, "focus even across the frame")
		case r.Class != plan.Overhead && slope >= 3*evenFocus && share > 0:
			says = append(says, "focus falls off towards the far edge")
		}
	}
	return says
}

// evenFocus is how little focus falls across a frame that is called even: three
// of four overheads fall less, one of four three-quarter views (shared/photos/food).
const evenFocus = 0.04

// unsure says why no class is named: the elevation lies on the line between
// two, or too little speaks for it.
func unsure(r Reading) string {
	for i, band := range bands[1:] {
		if r.PlusMinus <= 5 && math.Abs(r.Elevation-band.low) <= r.PlusMinus {
			return fmt.Sprintf("on the line between %s and %s: look", bands[i].class, band.class)
		}
	}
	return "not sure enough: look"
}

func count(n int) string {
	words := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight"}
	if n < len(words) {
		return words[n]
	}
	return fmt.Sprint(n)
}

func frames(n int) string {
	if n == 1 {
		return "one other frame"
	}
	return count(n) + " other frames"
}
