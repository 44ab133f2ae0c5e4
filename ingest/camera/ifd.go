package camera

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math"

	"github.com/rwcarlsen/goexif/tiff"
)

// Bounds of the directories of one file.
const (
	maxEntries     = 1000     // of one directory; real ones have under 200
	maxDirectories = 64       // of one block
	maxValue       = 64 << 10 // bytes of a value that is decoded; larger ones are only placed
)

// block is a TIFF structure in the file: an Exif block, a raw, an MPF index.
type block struct {
	src   *source
	base  int64 // offset of its byte order mark in the file
	size  int64 // bytes, at most to the end of the file
	order binary.ByteOrder
	first uint32 // offset of its first directory

	seen map[uint32]bool // directories walked, so that a loop ends
}

// place is where a value lies, in the file.
type place struct{ off, size int64 }

// directory is one IFD: small values decoded, all values placed.
type directory struct {
	tags    map[uint16]*tiff.Tag
	places  map[uint16]place
	next    uint32
	damaged int  // entries that no reader could read
	cut     bool // the file ends within the directory
}

// openBlock reads the header of the TIFF structure of size bytes at base.
// Which numbers stand after the byte order mark is the caller's to check.
func openBlock(src *source, base, size int64) (*block, error) {
	size = min(size, src.size-base)
	h, err := src.piece(base, 8)
	if err != nil || size < 8 {
		return nil, errors.New("too short for a TIFF header")
	}
	b := &block{src: src, base: base, size: size, seen: map[uint32]bool{}}
	switch string(h[:2]) {
	case "II":
		b.order = binary.LittleEndian
	case "MM":
		b.order = binary.BigEndian
	default:
		return nil, errors.New("no byte order mark")
	}
	b.first = b.order.Uint32(h[4:])
	return b, nil
}

// typeSize is the bytes of one value of a TIFF type (TIFF 6.0 section 2; 13 is
// the IFD type of its supplement 1, 129 the UTF-8 of Exif 3.0); 0 is no type.
func typeSize(t uint16) int64 {
	switch t {
	case 1, 2, 6, 7, 129:
		return 1
	case 3, 8:
		return 2
	case 4, 9, 11, 13:
		return 4
	case 5, 10, 12:
		return 8
	}
	return 0
}

// directory reads the directory at off and decodes those of its values that
// wanted names.
func (b *block) directory(off uint32, wanted func(id uint16) bool) (directory, error) {
	d := directory{tags: map[uint16]*tiff.Tag{}, places: map[uint16]place{}}
	if b.seen[off] {
		return d, errors.New("a directory that leads back to itself")
	}
	if len(b.seen) >= maxDirectories {
		return d, errors.New("too many directories")
	}
	b.seen[off] = true
	at := int64(off)
	if at < 8 || at+2 > b.size {
		return d, errors.New("a directory outside the file")
	}
	h, err := b.src.piece(b.base+at, 2)
	if err != nil {
		return d, err
	}
	n := int64(b.order.Uint16(h))
	if n == 0 || n > maxEntries {
		return d, errors.New("a directory with an impossible number of entries")
	}
	if room := (b.size - at - 2) / 12; n > room {
		n, d.cut = room, true
	}
	raw, err := b.src.piece(b.base+at+2, 12*n)
	if err != nil {
		return d, err
	}
	if !d.cut {
		if t, err := b.src.piece(b.base+at+2+12*n, 4); err == nil && at+2+12*n+4 <= b.size {
			d.next = b.order.Uint32(t)
		}
	}
	for ; len(raw) >= 12; raw = raw[12:] {
		b.entry(&d, raw[:12], wanted)
	}
	return d, nil
}

// entry takes one line of a directory into d. The first of two lines with the
// same tag counts.
func (b *block) entry(d *directory, e []byte, wanted func(uint16) bool) {
	id, typ, count := b.order.Uint16(e), b.order.Uint16(e[2:]), b.order.Uint32(e[4:])
	if _, twice := d.places[id]; twice {
		return
	}
	size := typeSize(typ) * int64(count)
	val := e[8:12]
	switch {
	case size == 0:
		if wanted(id) && typeSize(typ) == 0 {
			d.damaged++
		}
		return
	case size <= 4:
		d.places[id] = place{-1, size}
	default:
		off := int64(b.order.Uint32(e[8:]))
		d.places[id] = place{b.base + off, size}
		if !wanted(id) {
			return
		}
		err := errOutside
		if off+size <= b.size {
			if size > maxValue { // a long list of strips, of which nothing is needed
				return
			}
			val, err = b.src.piece(b.base+off, size)
		}
		if err != nil {
			delete(d.places, id)
			d.damaged++
			return
		}
	}
	if !wanted(id) {
		return
	}
	if t := decodeEntry(b.order, id, typ, count, val); t != nil {
		d.tags[id] = t
	} else {
		d.damaged++
	}
}

// decodeEntry is the only door to goexif. It hands it one entry with its value
// right behind it, so that no offset, count or loop of the file's choosing
// ever reaches it; the value is at most maxValue bytes.
func decodeEntry(order binary.ByteOrder, id, typ uint16, count uint32, val []byte) *tiff.Tag {
	switch typ {
	case 13: // goexif knows neither of the later types
		typ = uint16(tiff.DTLong)
	case 129:
		typ = uint16(tiff.DTAscii)
	}
	buf := make([]byte, 12, 12+len(val))
	order.PutUint16(buf, id)
	order.PutUint16(buf[2:], typ)
	order.PutUint32(buf[4:], count)
	if len(val) <= 4 {
		copy(buf[8:], val)
	} else {
		order.PutUint32(buf[8:], 12)
		buf = append(buf, val...)
	}
	t, err := tiff.DecodeTag(bytes.NewReader(buf), order)
	if err != nil {
		return nil
	}
	return t
}

// text returns a tag of text as it stands, up to its first NUL.
func (d directory) text(id uint16) string {
	t := d.tags[id]
	if t == nil {
		return ""
	}
	if t.Type == tiff.DTUndefined || t.Type == tiff.DTByte { // some writers' notion of text
		s, _, _ := bytes.Cut(t.Val, []byte{0})
		return string(s)
	}
	s, err := t.StringVal()
	if err != nil {
		return ""
	}
	return s
}

// ints returns up to 64 whole numbers of a tag.
func (d directory) ints(id uint16) []int64 {
	t := d.tags[id]
	if t == nil || t.Format() != tiff.IntVal {
		return nil
	}
	var out []int64
	for i := 0; i < int(min(t.Count, 64)); i++ {
		v, err := t.Int64(i)
		if err != nil {
			return nil
		}
		out = append(out, v)
	}
	return out
}

// int returns the first whole number of a tag.
func (d directory) int(id uint16) (int64, bool) {
	v := d.ints(id)
	if len(v) == 0 {
		return 0, false
	}
	return v[0], true
}

// offset returns the first whole number of a tag if a directory can lie there.
func (d directory) offset(id uint16) (uint32, bool) {
	v, ok := d.int(id)
	return uint32(v), ok && v > 0 && v <= math.MaxUint32
}

// has tells whether the tag stands in the directory, sound or not.
func (d directory) has(id uint16) bool {
	_, ok := d.places[id]
	return ok
}

// rational returns numerator and denominator of the i-th value of a tag.
func (d directory) rational(id uint16, i int) (num, den int64, ok bool) {
	t := d.tags[id]
	if t == nil || t.Format() != tiff.RatVal || i >= int(t.Count) {
		return 0, 0, false
	}
	num, den, err := t.Rat2(i)
	return num, den, err == nil
}

// number returns the i-th value of a tag of any numeric type. A rational of
// denominator 0, one whose denominator or unsigned numerator is FFFFFFFF (the
// standard's unknown and infinity), a NaN and an infinity are no numbers.
func (d directory) number(id uint16, i int) (float64, bool) {
	t := d.tags[id]
	if t == nil || i >= int(t.Count) {
		return 0, false
	}
	switch t.Format() {
	case tiff.IntVal:
		v, err := t.Int64(i)
		return float64(v), err == nil
	case tiff.FloatVal:
		v, err := t.Float(i)
		return v, err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
	case tiff.RatVal:
		num, den, ok := d.rational(id, i)
		if !ok || den == 0 || den == math.MaxUint32 || t.Type == tiff.DTSRational && den == -1 {
			return 0, false
		}
		if t.Type == tiff.DTRational && num == math.MaxUint32 {
			return 0, false
		}
		return float64(num) / float64(den), true
	}
	return 0, false
}
