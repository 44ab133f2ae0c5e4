package camera

import (
	"encoding/binary"
	"math"
	"strings"
)

// What is read of Apple's maker note: ExifTool 12.57 (Image::ExifTool::Apple)
// names the tag AccelerationVector, and describes the layout: "Apple iOS", NUL,
// a version of two bytes, a byte order mark, then at once a directory whose
// offsets count from the note's first byte.
const (
	appleHead       = "Apple iOS\x00"
	appleDirectory  = 14
	tagAcceleration = 0x0008
)

// A phone at rest feels the earth's pull alone, 1 g. One that is moved while it
// exposes feels more or less, and then the direction tells little: a tenth of
// a g across the pull turns it by 6°. The 23 phone pictures in shared/photos
// felt 0.985 … 1.028 g.
const (
	leastPull = 0.9 // g
	mostPull  = 1.1 // g
)

// readMakerNote reads what a phone's maker note tells of gravity. Other makers
// write angles too; none of them is read, as no photographs whose angle is
// known are at hand to tell what their signs mean.
func (p *picture) readMakerNote(src *source) {
	at, ok := p.exif.places[tagMakerNote]
	if !ok || at.off < 0 || at.size < appleDirectory+2 {
		return
	}
	head, err := src.piece(at.off, appleDirectory)
	if err != nil || string(head[:len(appleHead)]) != appleHead {
		return
	}
	b := &block{src: src, base: at.off, size: min(at.size, src.size-at.off), seen: map[uint32]bool{}}
	switch string(head[12:]) {
	case "MM":
		b.order = binary.BigEndian
	case "II":
		b.order = binary.LittleEndian
	default:
		return
	}
	// A damaged note costs what it tells and no more: it is not the standard's.
	if d, err := b.directory(appleDirectory, func(id uint16) bool { return id == tagAcceleration }); err == nil {
		p.note = d
	}
}

// gravity returns the elevation of the optical axis as Exif counts it, degrees,
// −90 straight down, from the direction in which the phone felt the earth's
// pull: its third axis comes out of the screen, against the way the camera on
// its back looks, so that a phone that lies on its back feels −1 there. Checked
// against the rims of plates (shared/ANGLE.md: a median error of 1.1° on 16
// pictures). What the camera beside the screen took looks the other way; which
// one it was is told by the lens's name alone, so its pictures tell nothing.
func (p *picture) gravity() (float64, bool) {
	var a [3]float64
	for i := range a {
		v, ok := p.note.number(tagAcceleration, i)
		if !ok {
			return 0, false
		}
		a[i] = v
	}
	pull := math.Sqrt(float64(a[0]*a[0]) + float64(a[1]*a[1]) + float64(a[2]*a[2]))
	if !(pull >= leastPull && pull <= mostPull) || strings.Contains(strings.ToLower(p.lens()), "front") {
		return 0, false
	}
	sine := math.Max(-1, math.Min(1, a[2]/pull))
	return rounded(math.Asin(sine)*180/math.Pi, 2) + 0, true // + 0: no −0
}
