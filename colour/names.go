package colour

// Name says a colour in plain words: the ISCC-NBS category, such as "strong
// brown" or "light olive gray", whose centroid is nearest to c by DeltaE2000.
// The spelling is the standard's. A colour that is not finite has no name: "".
//
// The system is that of K. L. Kelly and D. B. Judd, "Color: Universal Language
// and Dictionary of Names", National Bureau of Standards Special Publication
// 440 (1976), and NBS Circular 553 (1955): works of the United States
// government, in the public domain. The sRGB codes of the 267 centroids are
// those of the npm package color-name-lists 3.33.2, which gives this list
// under CC0 1.0; Debian's libcolor-library-perl 0.021 has the same codes but
// for one (deep yellowish pink e66721, which is an orange). A centroid is not
// a boundary: near the edge of a category the standard itself, which draws
// blocks in Munsell notation, may give the neighbouring name. Centroids that
// sRGB can't show stand clipped in the list, so the most vivid names are
// approximate.
func Name(c Lab) string {
	if !c.finite() {
		return ""
	}
	best, least := 0, DeltaE2000(c, centroidLabs[0])
	for i, centroid := range centroidLabs[1:] {
		if byLightness(c, centroid) >= least {
			continue
		}
		if d := DeltaE2000(c, centroid); d < least {
			best, least = i+1, d
		}
	}
	return centroids[best].name
}

var centroidLabs = func() []Lab {
	labs := make([]Lab, len(centroids))
	for i, c := range centroids {
		labs[i] = SRGB.Lab8(uint8(c.code>>16), uint8(c.code>>8), uint8(c.code))
	}
	return labs
}()
