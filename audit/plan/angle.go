package plan

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// AngleOf names the angle of a camera elevation above the table in degrees:
// 90 looks straight down, 0 along the table. From 75 it is overhead, from 50
// high, from 25 three-quarter, and low below that, down to −90. What is no
// such elevation is UnknownAngle. The bounds are the project's own choice.
func AngleOf(elevation float64) Angle {
	switch {
	case math.IsNaN(elevation) || elevation > 90 || elevation < -90:
		return UnknownAngle
	case elevation >= 75:
		return Overhead
	case elevation >= 50:
		return High
	case elevation >= 25:
		return ThreeQuarter
	}
	return Low
}

const knownAngles = "overhead, high, three-quarter, low, any"

var angleWords = []word[Angle]{
	{"overhead", Overhead}, {"over head", Overhead}, {"top down", Overhead}, {"top", Overhead}, {"flat lay", Overhead},
	{"bird's eye", Overhead}, {"from above", Overhead}, {"from the top", Overhead}, {"straight down", Overhead},
	{"high", High},
	{"three-quarter", ThreeQuarter}, {"three quarters", ThreeQuarter}, {"3/4", ThreeQuarter}, {"¾", ThreeQuarter},
	{"diner's", ThreeQuarter}, {"diner's eye", ThreeQuarter},
	{"low", Low}, {"eye level", Low}, {"side", Low}, {"side on", Low}, {"straight on", Low}, {"head on", Low},
	{"any", AnyAngle}, {"either", AnyAngle}, {"open", AnyAngle}, {"no preference", AnyAngle}, {"all", AnyAngle},
}

var degrees = regexp.MustCompile(`^(\d{1,2}(?:[.,]\d+)?) ?(?:°|º|deg\.?|degrees?)?$`)

// ParseAngle reads the angle that a plan asks for; an empty one is AnyAngle.
//
// Taken as overhead: top down, flat lay, bird's eye, from above, straight
// down; as three-quarter: 3/4, ¾, diner's eye; as low: eye level, side on,
// straight on; as any: either, open. Degrees above the table ("45°", "45")
// are named by AngleOf, and "04-Mar" is 3/4 that a spreadsheet took for a
// date. The error is a *ValueError.
func ParseAngle(s string) (Angle, error) {
	t := Tidy(s)
	if isBlank(t) {
		return AnyAngle, nil
	}
	if a, b, ok := turnedDate(t); ok && a == 3 && b == 4 {
		return ThreeQuarter, nil
	}
	if a, ok := find(angleWords, t); ok {
		return a, nil
	}
	if m := degrees.FindStringSubmatch(strings.ToLower(t)); m != nil {
		n, err := strconv.ParseFloat(strings.ReplaceAll(m[1], ",", "."), 64)
		if a := AngleOf(n); err == nil && a != UnknownAngle {
			return a, nil
		}
		return AnyAngle, &ValueError{s, "is no elevation above the table", "write degrees from 0 to 90, or one of " + knownAngles}
	}
	if isSeveral(t, func(part string) bool { _, ok := find(angleWords, part); return ok }) {
		return AnyAngle, &ValueError{s, "names more than one angle", "write the one that the printed picture has, or any"}
	}
	return AnyAngle, unknownWord(angleWords, s, "a known angle", knownAngles)
}

const knownOrientations = "portrait, landscape, square, or nothing"

var orientationWords = []word[Orientation]{
	{"portrait", Portrait}, {"p", Portrait}, {"upright", Portrait}, {"vertical", Portrait}, {"tall", Portrait},
	{"landscape", Landscape}, {"l", Landscape}, {"horizontal", Landscape}, {"wide", Landscape},
	{"square", Square}, {"1:1", Square},
	{"any", AnyOrientation}, {"either", AnyOrientation}, {"open", AnyOrientation}, {"no preference", AnyOrientation},
}

// ParseOrientation reads the way a picture stands; an empty one leaves it
// open, as do any, either and open.
//
// Taken as portrait: upright, vertical, tall, p; as landscape: horizontal,
// wide, l; as square: 1:1. The error is a *ValueError.
func ParseOrientation(s string) (Orientation, error) {
	t := Tidy(s)
	if isBlank(t) {
		return AnyOrientation, nil
	}
	if o, ok := find(orientationWords, t); ok {
		return o, nil
	}
	both := isSeveral(t, func(part string) bool { _, ok := find(orientationWords, part); return ok })
	if both || key(t) == "both" {
		return AnyOrientation, &ValueError{s, "names more than one orientation",
			"leave it empty, and write portrait; landscape among the needs where both must be shot"}
	}
	return AnyOrientation, unknownWord(orientationWords, s, "a known orientation", knownOrientations)
}

// isBlank tells whether a tidy cell says nothing: people put a dash there.
func isBlank(t string) bool {
	switch strings.ToLower(plainDashes(t)) {
	case "", "-", "--", "n/a", "na":
		return true
	}
	return false
}

var severalJoint = regexp.MustCompile(`(?i)\s*(?:[;,/&+|]|\bor\b|\band\b)\s*`)

// isSeveral tells whether s joins two or more values that are each known.
func isSeveral(s string, known func(string) bool) bool {
	parts := severalJoint.Split(s, -1)
	for _, p := range parts {
		if !known(p) {
			return false
		}
	}
	return len(parts) > 1
}
