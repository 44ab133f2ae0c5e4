package look

import (
	"cmp"
	"errors"
	"fmt"
	"strings"

	"coverplate/colour"
	"coverplate/colour/icc"
	"coverplate/ingest/camera"
)

// meaning is what the codes of some pixels mean, and how that is known in the
// words of catalogue.Look.Profile.
type meaning struct {
	space *colour.Space
	words string
}

// inks is the number of channels of a picture in CMYK.
const inks = 4

// meaningOf tells what the codes of a picture of so many channels mean (0: of
// three, as all but JPEG and PNG) by what camera.Read found in it: the embedded
// profile; else what Exif or the container declares; else sRGB, which is how
// viewers take a picture that says nothing.
func meaningOf(shot camera.Shot, channels int) meaning {
	profile := shot.Profile
	why := ""
	switch {
	case profile == nil:
	case profile.Space == nil:
		why = reason(profile.Fault)
	case channels == inks:
		why = "it is of no inks, and the picture is"
	case profile.Channels == 1 && channels != 1:
		why = "it is of greys, and the picture is in colour"
	default:
		m := meaning{profile.Space, shot.ColourSpace + ", embedded profile"}
		if profile.Tables {
			m.words += ", its matrix and not its tables"
		}
		return m
	}
	m := meaning{colour.SRGB, ""}
	declared, known := colour.SpaceNamed(shot.ColourSpace)
	switch {
	case channels == inks:
		m.words = "sRGB, made of inks by the plain rule"
	case known && shot.SpaceBy == "embedded profile": // by its name, where it is of no use itself
		m = meaning{declared, shot.ColourSpace + ", as the embedded profile is called"}
	case known:
		m = meaning{declared, shot.ColourSpace + ", by " + cmp.Or(shot.SpaceBy, "what was written")}
	case shot.ColourSpace == "uncalibrated" && shot.SpaceBy == "Exif":
		m.words = "sRGB, Exif says uncalibrated"
	default:
		m.words = "sRGB, nothing was written"
	}
	if why != "" {
		m.words += "; the embedded profile was not used: " + why
	}
	return m
}

// meaningOfPreview is meaningOf for a JPEG that is embedded in the photo of
// whole. Its own profile goes first and its own Exif next; where it has
// neither, it is in the space of the photo.
func meaningOfPreview(own, whole camera.Shot, channels int) meaning {
	_, known := colour.SpaceNamed(own.ColourSpace)
	if own.Profile != nil && own.Profile.Space != nil || known {
		return meaningOf(own, channels)
	}
	return meaningOf(whole, channels)
}

// reason says why a profile can't be used, without repeating that it is one.
func reason(fault error) string {
	var unsupported *icc.UnsupportedError
	if errors.As(fault, &unsupported) {
		return "it is " + unsupported.What
	}
	return strings.TrimPrefix(fmt.Sprint(fault), "ICC profile: ")
}
