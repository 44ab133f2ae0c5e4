package camera

import (
	"bytes"
	"encoding/binary"
	"errors"
	"slices"
)

// What of a JPEG's Exif says how a picture was taken and is to be shown, and
// neither where, nor by whose body or lens. Only what is named here is kept: a
// list of what to leave out would be short of the next maker's tag. The maker's
// own note, which holds serial numbers at places of its own, is never kept.
var (
	bareImage = []uint16{0x010F, 0x0110, 0x0112, 0x011A, 0x011B, 0x0128, 0x0132, 0x013E, 0x013F, 0x0211, 0x0213}
	bareExif  = []uint16{0x829A, 0x829D, 0x8822, 0x8827, 0x8830, 0x8831, 0x8832, 0x9000, 0x9003, 0x9004, 0x9010, 0x9011, 0x9012, 0x9101,
		0x9201, 0x9202, 0x9203, 0x9204, 0x9205, 0x9206, 0x9207, 0x9208, 0x9209, 0x920A, 0x9290, 0x9291, 0x9292, 0xA000, 0xA001, 0xA002, 0xA003,
		0xA20E, 0xA20F, 0xA210, 0xA217, 0xA402, 0xA403, 0xA404, 0xA405, 0xA406, 0xA432, 0xA433, 0xA434, 0xA500}
	bareInterop = []uint16{0x0001, 0x0002}
)

// Bared is a JPEG without the place where it was taken, serial numbers, names
// of people, the maker's note, thumbnails and whatever stands behind its
// picture (a preview, a gain map). Tables and coded pixels are the same bytes
// as before; kept are JFIF, the colour profile, Adobe's colour transform and
// those tags of Exif that say how it was taken. packet, where it is not nil, is
// the XMP that it gets instead of its own, at most 64 KB. Errors: a *FormatError
// where it is no whole JPEG.
func Bared(b, packet []byte) ([]byte, error) {
	return withBeside(b, packet, bareTIFF)
}

// withBeside is Bared; beside makes the Exif block that the JPEG gets of the one
// it has, which is nil where it has none.
func withBeside(b, packet []byte, beside func(block []byte) []byte) ([]byte, error) {
	if len(b) < 4 || b[0] != 0xFF || b[1] != 0xD8 {
		return nil, &FormatError{"JPEG", "it does not begin as one"}
	}
	const mostPacket = 0xFFFF - 2 - len(xmpMark)
	if len(packet) > mostPacket {
		return nil, errors.New("the words are more than a JPEG holds in one piece (64 KB)")
	}
	var kept bytes.Buffer
	var block []byte
	end, jfif := -1, []byte(nil)
	for pos, scans := 2, 0; end < 0; {
		for pos < len(b) && b[pos] == 0xFF && pos+1 < len(b) && b[pos+1] == 0xFF { // fill
			pos++
		}
		if pos+2 > len(b) || b[pos] != 0xFF {
			return nil, &FormatError{"JPEG", "it ends, or breaks, within its picture"}
		}
		m := b[pos+1]
		if m == 0xD9 {
			if scans == 0 {
				return nil, &FormatError{"JPEG", "it holds no picture"}
			}
			end = pos
			continue
		}
		if pos+4 > len(b) {
			return nil, &FormatError{"JPEG", "it ends within its picture"}
		}
		size := int(binary.BigEndian.Uint16(b[pos+2:]))
		if size < 2 || pos+2+size > len(b) {
			return nil, &FormatError{"JPEG", "it ends within its picture"}
		}
		seg, body := b[pos:pos+2+size], b[pos+4:pos+2+size]
		pos += len(seg)
		switch {
		case m == 0xE0:
			if bytes.HasPrefix(body, []byte("JFIF\x00")) && len(body) >= 14 && jfif == nil {
				jfif = slices.Clone(body[:14])
				jfif[12], jfif[13] = 0, 0 // no thumbnail
			}
		case m == 0xE1:
			if block == nil && bytes.HasPrefix(body, []byte(exifMark)) && len(body) > 6 {
				block = body[6:]
			}
		case m == 0xE2 && bytes.HasPrefix(body, []byte(iccMark)), m == 0xEE && bytes.HasPrefix(body, []byte("Adobe")):
			kept.Write(seg)
		case m >= 0xE0 && m <= 0xEF, m == 0xFE: // of a maker, or a comment
		case m == 0xDA:
			scans++
			kept.Write(seg)
			from := pos
			for pos+1 < len(b) && (b[pos] != 0xFF || b[pos+1] == 0 || b[pos+1] >= 0xD0 && b[pos+1] <= 0xD7) {
				pos++
			}
			kept.Write(b[from:pos])
		default:
			kept.Write(seg)
		}
	}
	out := bytes.NewBuffer([]byte{0xFF, 0xD8})
	add := func(marker byte, parts ...[]byte) {
		body := bytes.Join(parts, nil)
		out.Write([]byte{0xFF, marker, byte((len(body) + 2) >> 8), byte(len(body) + 2)})
		out.Write(body)
	}
	if jfif != nil {
		add(0xE0, jfif)
	}
	if exif := beside(block); exif != nil {
		add(0xE1, []byte(exifMark+"\x00"), exif)
	}
	if packet != nil {
		add(0xE1, []byte(xmpMark), packet)
	}
	kept.WriteTo(out)
	out.Write([]byte{0xFF, 0xD9})
	return out.Bytes(), nil
}

// bareEntry is a line of a directory: its value in the order of its block.
type bareEntry struct {
	id, typ uint16
	count   uint32
	val     []byte
}

// bareTIFF is an Exif block with the tags that are kept alone; nil where there
// is nothing to keep.
func bareTIFF(b []byte) []byte {
	if b == nil {
		return nil
	}
	src, err := newSource(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return nil
	}
	in, err := openBlock(src, 0, int64(len(b)))
	if err != nil {
		return nil
	}
	entries := func(off uint32, tags []uint16, more ...uint16) (out []bareEntry, d directory) {
		all := append(slices.Clone(tags), more...)
		d, err := in.directory(off, func(id uint16) bool { return slices.Contains(all, id) })
		if err != nil {
			return nil, d
		}
		for _, id := range tags {
			if t := d.tags[id]; t != nil && len(t.Val) < 1024 {
				out = append(out, bareEntry{id, uint16(t.Type), t.Count, t.Val})
			}
		}
		return out, d
	}
	first, d := entries(in.first, bareImage, tagExifIFD)
	var exif, interop []bareEntry
	if off, ok := d.offset(tagExifIFD); ok {
		exif, d = entries(off, bareExif, tagInteropIFD)
		if off, ok := d.offset(tagInteropIFD); ok {
			interop, _ = entries(off, bareInterop)
		}
	}
	if len(first)+len(exif) == 0 {
		return nil
	}
	return laidOut(in.order, first, exif, interop)
}

// laidOut is an Exif block of three directories, those that are empty left out.
func laidOut(by binary.ByteOrder, first, exif, interop []bareEntry) []byte {
	order := by.(interface {
		binary.ByteOrder
		binary.AppendByteOrder
	})
	out := []byte("II")
	if by == binary.ByteOrder(binary.BigEndian) {
		out = []byte("MM")
	}
	out = order.AppendUint16(out, 42)
	out = order.AppendUint32(out, 8)
	// The directories stand one behind the other, each with its long values.
	pointer := func(id uint16, to int) bareEntry { return bareEntry{id, 4, 1, order.AppendUint32(nil, uint32(to))} }
	size := func(all []bareEntry) int { // with a pointer besides
		n := 2 + 12*(len(all)+1) + 4
		for _, e := range all {
			if len(e.val) > 4 {
				n += len(e.val) + len(e.val)%2
			}
		}
		return n
	}
	at := 8 + size(first)
	if len(interop) > 0 {
		exif = append(exif, pointer(tagInteropIFD, at+size(exif)))
	}
	if len(exif) > 0 {
		first = append(first, pointer(tagExifIFD, at))
	}
	for _, all := range [][]bareEntry{first, exif, interop} {
		if len(all) == 0 {
			continue
		}
		slices.SortFunc(all, func(a, b bareEntry) int { return int(a.id) - int(b.id) })
		at := len(out) + 2 + 12*len(all) + 4
		out = order.AppendUint16(out, uint16(len(all)))
		var long []byte
		for _, e := range all {
			out = order.AppendUint16(out, e.id)
			out = order.AppendUint16(out, e.typ)
			out = order.AppendUint32(out, e.count)
			if len(e.val) <= 4 {
				out = append(out, e.val...)
				out = append(out, make([]byte, 4-len(e.val))...)
				continue
			}
			out = order.AppendUint32(out, uint32(at+len(long)))
			long = append(long, e.val...)
			long = append(long, make([]byte, len(e.val)%2)...)
		}
		out = append(order.AppendUint32(out, 0), long...)
	}
	return out
}

// Shown is the JPEG b with nothing beside its picture but what it takes to show
// it right: JFIF, its colour profile, Adobe's colour transform, how it is turned
// (orientation, 1 … 8 as Exif has it) and, where adobeRGB says so, that it is in
// Adobe RGB (1998). Tables and coded pixels are the same bytes as before, and
// what stands behind the picture is left out. Errors: a *FormatError where b is
// no whole JPEG.
func Shown(b []byte, orientation int, adobeRGB bool) ([]byte, error) {
	return withBeside(b, nil, func([]byte) []byte {
		short := func(v uint16) []byte { return binary.LittleEndian.AppendUint16(nil, v) }
		var first, exif, interop []bareEntry
		if orientation > 1 && orientation <= 8 {
			first = []bareEntry{{tagOrientation, 3, 1, short(uint16(orientation))}}
		}
		if adobeRGB { // as DCF 2.0 marks it
			exif = []bareEntry{{tagColourSpace, 3, 1, short(0xFFFF)}}
			interop = []bareEntry{{tagInteropIndex, 2, 4, []byte("R03\x00")}}
		}
		if len(first)+len(exif) == 0 {
			return nil
		}
		return laidOut(binary.LittleEndian, first, exif, interop)
	})
}
